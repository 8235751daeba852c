//! Names of families: `<maker>/<family>`, the folder names on disk.

use std::fmt;
use std::path::{Path, PathBuf};

/// The folder of a maker that holds its lines; no family may have this name.
pub const LINES: &str = "lines";

/// `<maker>/<family>`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FamilyId {
    text: String,
    slash: usize,
}

/// Why a text is no family id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{0}` is no family id: write `maker/family`, two folder names that do not begin with a dot, \
     the second not `lines`"
)]
pub struct NotAnId(pub String);

impl FamilyId {
    pub fn parse(text: &str) -> Result<Self, NotAnId> {
        let parts = text.split_once('/').filter(|(maker, family)| {
            is_folder_name(maker) && is_folder_name(family) && *family != LINES
        });
        match parts {
            Some((maker, _)) => Ok(Self {
                text: text.to_owned(),
                slash: maker.len(),
            }),
            None => Err(NotAnId(text.to_owned())),
        }
    }

    pub(super) fn of(maker: &str, family: &str) -> Result<Self, NotAnId> {
        Self::parse(&format!("{maker}/{family}"))
    }

    pub fn as_str(&self) -> &str {
        &self.text
    }

    pub fn maker(&self) -> &str {
        &self.text[..self.slash]
    }

    pub fn family(&self) -> &str {
        &self.text[self.slash + 1..]
    }

    /// What to call the family where nobody named it: `crown-over-bird` as `Crown over bird`.
    pub fn plain_name(&self) -> String {
        plain_name(self.family())
    }

    /// The family's folder in the library at `root`.
    pub fn folder(&self, root: &Path) -> PathBuf {
        root.join(self.maker()).join(self.family())
    }
}

impl fmt::Display for FamilyId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

pub(super) fn is_folder_name(name: &str) -> bool {
    !name.is_empty()
        && !name.starts_with('.')
        && !name
            .chars()
            .any(|c| matches!(c, '/' | '\\') || c.is_control())
}

/// A folder's name in plain words.
pub(super) fn plain_name(folder: &str) -> String {
    let words = folder.replace('-', " ");
    let mut letters = words.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_two_plain_folder_names() {
        let id = FamilyId::parse("unattributed/crown-over-bird").expect("legal");
        assert_eq!(
            (id.maker(), id.family()),
            ("unattributed", "crown-over-bird")
        );
        for bad in [
            "", "a", "a/", "/b", "a/b/c", "../b", "a/..", "a/lines", ".a/b", "a/b\n",
        ] {
            assert!(FamilyId::parse(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn a_plain_name_is_made_of_the_folder() {
        let id = FamilyId::parse("unattributed/crown-over-bird").expect("legal");
        assert_eq!(id.plain_name(), "Crown over bird");
    }
}
