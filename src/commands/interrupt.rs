//! Ctrl-C: the first asks for an orderly end, the second ends at once.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

use super::Outcome;

static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Begins to listen for the interrupt and termination signals. Where that is not possible, the
/// system's default stays: they end the program.
pub(super) fn listen() {
    static LISTENING: OnceLock<bool> = OnceLock::new();
    LISTENING.get_or_init(|| ctrlc::set_handler(on_signal).is_ok());
}

#[expect(
    clippy::exit,
    reason = "the person asked twice, and nothing is half-written to a file"
)]
fn on_signal() {
    if INTERRUPTED.swap(true, Ordering::SeqCst) {
        std::process::exit(Outcome::Interrupted as i32);
    }
}

/// Whether the person asked to stop.
pub fn interrupted() -> bool {
    INTERRUPTED.load(Ordering::SeqCst)
}
