//! `limits.toml` at the top of a library: how sure the program must be to name a family, and how common strangers are,
//! where the person's own photos have told.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use toml_edit::{DocumentMut, value};

const FILE: &str = "limits.toml";
const NAMED_AT: &str = "named_at";
const STRANGERS: &str = "strangers";

/// The probability from which on a family is named, where one is set; 0.5 to 1, anything else counts as none.
pub fn named_at(root: &Path) -> Option<f64> {
    number(root, NAMED_AT).filter(|limit| (0.5..1.0).contains(limit))
}

/// The share of marks that the library does not have, where one is set.
pub fn strangers(root: &Path) -> Option<f64> {
    number(root, STRANGERS)
}

fn number(root: &Path, key: &str) -> Option<f64> {
    let document: DocumentMut = fs::read_to_string(root.join(FILE)).ok()?.parse().ok()?;
    document.get(key)?.as_float()
}

/// Sets the probability from which on a family is named; `why` stands above it as a comment.
///
/// # Errors
/// Where the file cannot be written.
pub fn set_named_at(root: &Path, limit: f64, why: &str) -> io::Result<()> {
    set(root, NAMED_AT, limit, why)
}

/// Sets the share of marks that the library does not have; `why` stands above it as a comment.
///
/// # Errors
/// Where the file cannot be written.
pub fn set_strangers(root: &Path, share: f64, why: &str) -> io::Result<()> {
    set(root, STRANGERS, share, why)
}

/// The other number keeps its line and its comment; a file that is no TOML is written anew.
fn set(root: &Path, key: &str, to: f64, why: &str) -> io::Result<()> {
    let text = fs::read_to_string(root.join(FILE)).unwrap_or_default();
    let mut document: DocumentMut = text.parse().unwrap_or_default();
    document.remove(key);
    document[key] = value(to);
    let comment: String = why.lines().map(|line| format!("# {line}\n")).collect();
    if let Some(mut key) = document.key_mut(key) {
        key.leaf_decor_mut().set_prefix(comment);
    }
    let mut file = tempfile::NamedTempFile::new_in(root)?;
    file.write_all(document.to_string().as_bytes())?;
    file.as_file().sync_all()?;
    file.persist(root.join(FILE)).map_err(|e| e.error)?;
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_reads_back_and_a_strange_one_is_none() {
        let root = tempfile::tempdir().unwrap();
        assert_eq!(named_at(root.path()), None);
        set_named_at(root.path(), 0.935, "from 240 photos\non a day").unwrap();
        assert_eq!(named_at(root.path()), Some(0.935));
        for odd in ["named_at = 7.0", "named_at = \"x\"", "no toml ="] {
            fs::write(root.path().join(FILE), odd).unwrap();
            assert_eq!(named_at(root.path()), None, "{odd}");
        }
    }

    #[test]
    fn one_number_leaves_the_other_and_its_comment() {
        let root = tempfile::tempdir().unwrap();
        set_named_at(root.path(), 0.9, "by 240 marks").unwrap();
        set_strangers(root.path(), 0.3, "from three lots").unwrap();
        set_strangers(root.path(), 0.25, "from four lots").unwrap();
        assert_eq!(named_at(root.path()), Some(0.9));
        assert_eq!(strangers(root.path()), Some(0.25));
        let text = fs::read_to_string(root.path().join(FILE)).unwrap();
        assert_eq!(
            text,
            "# by 240 marks\nnamed_at = 0.9\n# from four lots\nstrangers = 0.25\n"
        );
    }
}
