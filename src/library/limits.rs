//! `limits.toml` at the top of a library: how sure the program must be to name a family, where the person's own photos
//! have told.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use toml_edit::{DocumentMut, value};

const FILE: &str = "limits.toml";
const KEY: &str = "named_at";

/// The probability from which on a family is named, where one is set; 0.5 to 1, anything else counts as none.
pub fn named_at(root: &Path) -> Option<f64> {
    let text = fs::read_to_string(root.join(FILE)).ok()?;
    let document: DocumentMut = text.parse().ok()?;
    let limit = document.get(KEY)?.as_float()?;
    (0.5..1.0).contains(&limit).then_some(limit)
}

/// Sets it; `why` stands above it as a comment.
///
/// # Errors
/// Where the file cannot be written.
pub fn set_named_at(root: &Path, limit: f64, why: &str) -> io::Result<()> {
    let mut document = DocumentMut::new();
    document[KEY] = value(limit);
    let comment: String = why.lines().map(|line| format!("# {line}\n")).collect();
    let mut file = tempfile::NamedTempFile::new_in(root)?;
    file.write_all(format!("{comment}{document}").as_bytes())?;
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
}
