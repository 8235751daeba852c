//! How work ended, or why it could not be done, in words for the person.

use std::fmt::Display;

/// How a command ended; the numbers are the tool's exit codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Everything was read. Unknown marks are answers too.
    Done = 0,
    /// A named file or a picture could not be read; the rest was done.
    Gaps = 1,
    /// Interrupted by the person.
    Interrupted = 130,
}

/// Why a command could not begin, or not go on: exit code 2.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub struct Failure {
    message: String,
    /// The next step, where one is known.
    pub(crate) hint: Option<String>,
}

impl Failure {
    pub fn new(message: &dyn Display, hint: Option<String>) -> Self {
        Self {
            message: message.to_string(),
            hint,
        }
    }
}
