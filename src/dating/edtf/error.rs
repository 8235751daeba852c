//! Why a text is not of the format.

use std::fmt;

/// Where a text leaves the format, and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EdtfError {
    /// The whole text.
    pub text: String,
    /// Where reading stopped, in characters from 1; one behind the last where the text is too
    /// short.
    pub column: usize,
    /// What stands there; `None` at the end of the text.
    pub found: Option<String>,
    /// What would have to stand there.
    pub expected: &'static str,
    /// What was probably meant, as the format writes it.
    pub instead: Option<String>,
}

impl fmt::Display for EdtfError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}`, column {}: ", self.text, self.column)?;
        match &self.found {
            Some(found) => write!(f, "`{found}` where {} belongs", self.expected)?,
            None => write!(f, "ends where {} belongs", self.expected)?,
        }
        match &self.instead {
            Some(instead) => write!(f, "; write `{instead}`"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for EdtfError {}
