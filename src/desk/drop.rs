//! Photos dropped into the page: each is written into a folder of the workspace, then that folder is taken in.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::acts::wrong;
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::report::file_stem;
use crate::workspace::{readable, readable_path};

/// Largest dropped file in bytes: a photo of 200 megapixels as a phone writes it has about 80 MB. Larger ones
/// are taken in by naming their folder.
pub(super) const MOST_BYTES: usize = 120 << 20;

/// Where dropped photos lie inside the workspace.
const FOLDER: &str = "photos";

/// Longest file name that is kept, in characters: file systems allow 255 bytes.
const LONGEST_NAME: usize = 60;

/// The folder of a lot's dropped photos.
pub(super) fn folder(root: &Path, lot: &str) -> PathBuf {
    root.join(FOLDER).join(file_stem(lot))
}

/// A file name without anything but letters, digits, dots, dashes and underscores: no path, nothing hidden.
fn plain_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_');
    let kept: Vec<char> = last
        .chars()
        .map(|c| if plain(c) { c } else { '-' })
        .collect();
    // The end of a long name tells more: number and kind.
    let from = kept.len().saturating_sub(LONGEST_NAME);
    let kept: String = kept[from..].iter().collect();
    match kept.trim_start_matches(['.', '-']) {
        "" => "photo".to_owned(),
        name => name.to_owned(),
    }
}

/// Writes one dropped file. One with the same content that is there already is left as it is; another one of its
/// name gets a number.
pub(super) fn keep(root: &Path, lot: &str, name: &str, bytes: &[u8]) -> Result<(), Failure> {
    if lot.trim().is_empty() {
        return Err(wrong("a lot needs a name"));
    }
    if bytes.is_empty() {
        return Err(wrong(&format!("{} is empty", readable(name))));
    }
    let folder = folder(root, lot);
    let failed = |e: std::io::Error| {
        Failure::new(
            &format!("{} could not be written: {e}", readable_path(&folder)),
            None,
        )
    };
    std::fs::create_dir_all(&folder).map_err(failed)?;
    let name = plain_name(name);
    let Some(path) = free_place(&folder, &name, bytes) else {
        return Ok(());
    };
    let mut file = tempfile::NamedTempFile::new_in(&folder).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.persist_noclobber(path).map_err(|e| failed(e.error))?;
    Ok(())
}

/// Where the file goes; `None` where it is there already.
fn free_place(folder: &Path, name: &str, bytes: &[u8]) -> Option<PathBuf> {
    let (stem, ending) = name.rsplit_once('.').unwrap_or((name, ""));
    let hash = ContentHash::of(bytes);
    for n in 1.. {
        let name = match (n, ending) {
            (1, _) => name.to_owned(),
            (n, "") => format!("{stem}-{n}"),
            (n, ending) => format!("{stem}-{n}.{ending}"),
        };
        let path = folder.join(name);
        let Ok(there) = std::fs::read(&path) else {
            return Some(path);
        };
        if ContentHash::of(&there) == hash {
            return None;
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_leads_out_of_the_folder() {
        for (given, kept) in [
            ("IMG_2031.jpg", "IMG_2031.jpg"),
            ("../../etc/passwd", "passwd"),
            ("..\\..\\boot.ini", "boot.ini"),
            (".hidden.jpg", "hidden.jpg"),
            ("<img src=x onerror=1>.jpg", "img-src-x-onerror-1-.jpg"),
            ("..", "photo"),
            ("", "photo"),
        ] {
            assert_eq!(plain_name(given), kept);
        }
        assert!(plain_name(&"ü".repeat(300)).chars().count() <= LONGEST_NAME);
    }

    #[test]
    fn the_same_photo_is_kept_once_and_another_of_its_name_gets_a_number() {
        let dir = tempfile::tempdir().expect("a folder");
        for bytes in [b"one".as_slice(), b"two", b"one"] {
            keep(dir.path(), "Mill fair", "a.jpg", bytes).expect("kept");
        }
        let mut names: Vec<_> = std::fs::read_dir(dir.path().join("photos/mill-fair"))
            .expect("the folder")
            .map(|e| e.expect("entry").file_name().into_string().expect("text"))
            .collect();
        names.sort();
        assert_eq!(names, ["a-2.jpg", "a.jpg"]);
        assert!(keep(dir.path(), " ", "a.jpg", b"x").is_err());
    }
}
