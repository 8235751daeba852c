//! Ctrl-C. Before work has begun it ends the program; afterwards the first one asks for an orderly
//! end and the second ends it at once.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::failure::Outcome;

static INTERRUPTED: AtomicBool = AtomicBool::new(false);
static IN_ORDER: AtomicBool = AtomicBool::new(false);

/// Begins to listen for the interrupt and termination signals. Where that is not possible, the
/// system's default stays: they end the program.
pub(crate) fn listen() {
    static LISTENING: OnceLock<bool> = OnceLock::new();
    LISTENING.get_or_init(|| ctrlc::set_handler(on_signal).is_ok());
}

/// From here on the program looks at [`interrupted`] often enough to end by itself.
pub(crate) fn end_in_order() {
    IN_ORDER.store(true, Ordering::SeqCst);
}

#[expect(
    clippy::exit,
    reason = "nothing is half-written, or the person asked twice"
)]
fn on_signal() {
    let again = INTERRUPTED.swap(true, Ordering::SeqCst);
    if again || !IN_ORDER.load(Ordering::SeqCst) {
        std::process::exit(Outcome::Interrupted as i32);
    }
}

/// Whether the person asked to stop.
pub(crate) fn interrupted() -> bool {
    INTERRUPTED.load(Ordering::SeqCst)
}
