//! The library as its owner changes it.

use crate::failure::Failure;
use crate::library::change::ChangeError;

impl From<ChangeError> for Failure {
    fn from(error: ChangeError) -> Self {
        let next = match &error {
            ChangeError::NoFamily { .. } => Some("`footring library list` tells the families"),
            ChangeError::Taken { .. } => Some(
                "choose another id; `footring library add` brings more pictures into a family, \
                 `footring library merge` makes two families one",
            ),
            ChangeError::WasTaken { .. } => Some("choose another id"),
            ChangeError::NothingLeft { .. } => Some("`footring library rename` gives another id"),
            _ => None,
        };
        Self::new(&error, next.map(str::to_owned))
    }
}
