//! Whether a workspace lies where another program copies files between computers behind our back.
//!
//! In turn that is safe: the journal is only ever added to, and what the database lacks of it is taken in when it is
//! opened. At the same time it is not: the program that copies keeps one of two journals, and lays the other one beside.

use std::fs;
use std::path::{Path, PathBuf};

use super::JOURNAL;

/// Names of folders whose contents are copied, in lower case, and of files and folders by which such a one is known.
const FOLDERS: [&str; 9] = [
    "dropbox",
    "onedrive",
    "google drive",
    "googledrive",
    "icloud drive",
    "mobile documents",
    "nextcloud",
    "owncloud",
    "syncthing",
];
const SIGNS: [&str; 4] = [
    ".dropbox",
    ".stfolder",
    ".owncloudsync.log",
    ".nextcloudsync.log",
];

/// The folder at or above `root` that is copied between computers, as far as its name or a sign in it tells.
pub fn synchronised(root: &Path) -> Option<PathBuf> {
    let root = std::path::absolute(root).ok()?;
    let copied = |folder: &&Path| {
        let name = folder
            .file_name()
            .map(|n| n.to_string_lossy().to_lowercase());
        let named = name.is_some_and(|n| {
            FOLDERS.iter().any(|f| {
                n == *f
                    || n.strip_prefix(f)
                        .is_some_and(|more| more.starts_with([' ', '-']))
            })
        });
        named || SIGNS.iter().any(|sign| folder.join(sign).exists())
    };
    root.ancestors().find(copied).map(Path::to_owned)
}

/// Other journals that lie beside the workspace's own: left by a program that found two.
pub fn other_journals(root: &Path) -> Vec<PathBuf> {
    let stem = JOURNAL.split('.').next().unwrap_or(JOURNAL);
    let entries = fs::read_dir(root).into_iter().flatten().flatten();
    let mut found: Vec<PathBuf> = entries
        .filter(|e| {
            let name = e.file_name().to_string_lossy().into_owned();
            name != JOURNAL && name.starts_with(stem) && name.ends_with(".txt")
        })
        .map(|e| e.path())
        .collect();
    found.sort();
    found
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn copied_folders_and_second_journals_are_seen() {
        let dir = tempfile::tempdir().unwrap();
        let plain = dir.path().join("ceramics");
        let copied = dir.path().join("OneDrive - Wren").join("ceramics");
        for folder in [&plain, &copied] {
            fs::create_dir_all(folder).unwrap();
        }
        assert_eq!(synchronised(&plain), None);
        assert_eq!(synchronised(&copied).as_deref(), copied.parent());
        fs::create_dir(dir.path().join(".stfolder")).unwrap();
        assert_eq!(synchronised(&plain).as_deref(), Some(dir.path()));
        assert!(other_journals(&plain).is_empty());
        fs::write(plain.join(JOURNAL), "").unwrap();
        fs::write(plain.join("journal (of the other computer).txt"), "").unwrap();
        assert_eq!(other_journals(&plain).len(), 1);
    }
}
