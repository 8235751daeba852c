//! How requests name a mark.

use crate::decision::ContentHash;
use crate::report::{Row, Sheet};

/// A mark, or a photo without one, named by content: 64 digits, and behind a dash the mark counted from 1.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct MarkId {
    pub(super) photo: ContentHash,
    pub(super) mark: Option<usize>,
}

impl MarkId {
    pub(super) fn parse(text: &str) -> Option<Self> {
        let Some((photo, mark)) = text.split_once('-') else {
            return Some(Self {
                photo: text.parse().ok()?,
                mark: None,
            });
        };
        let mark: usize = mark.parse().ok()?;
        Some(Self {
            photo: photo.parse().ok()?,
            mark: Some(mark.checked_sub(1)?),
        })
    }

    pub(super) fn of(sheet: &Sheet, row: &Row) -> Self {
        Self {
            photo: sheet.shot(row).hash.clone(),
            mark: row.mark,
        }
    }
}

impl std::fmt::Display for MarkId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.mark {
            Some(mark) => write!(f, "{}-{}", self.photo, mark + 1),
            None => write!(f, "{}", self.photo),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_reads_back_and_nothing_else_is_one() {
        let hash = ContentHash::of(b"photo");
        for mark in [None, Some(0), Some(11)] {
            let id = MarkId {
                photo: hash.clone(),
                mark,
            };
            assert_eq!(MarkId::parse(&id.to_string()), Some(id));
        }
        for bad in [
            "",
            "../../etc/passwd",
            "abc-1",
            &format!("{hash}-0"),
            &format!("{hash}-x"),
        ] {
            assert_eq!(MarkId::parse(bad), None, "{bad}");
        }
    }
}
