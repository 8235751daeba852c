//! A wall around decoders: their panics become errors, and say nothing on the terminal.

use std::any::Any;
use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// Something inside [`guarded`] panicked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Panicked {
    /// What the panic said, on one line.
    pub message: String,
}

/// Runs `work` and turns a panic into an error. `work` must leave nothing half-changed behind that
/// is looked at later.
pub fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, Panicked> {
    let outer = GUARDED.replace(true);
    let result = catch_unwind(AssertUnwindSafe(work));
    GUARDED.set(outer);
    result.map_err(|payload| Panicked {
        message: message_of(payload.as_ref()),
    })
}

fn message_of(payload: &(dyn Any + Send)) -> String {
    let text = payload
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| payload.downcast_ref::<String>().map(String::as_str))
        .unwrap_or("the decoder stopped");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Keeps panics inside [`guarded`] off the terminal; all others are printed as before. Call once
/// at the start of a program.
pub fn silence_guarded_panics() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        if !GUARDED.get() {
            before(info);
        }
    }));
}
