//! The invented sale and its library of marks that the binary carries, and how they are written.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::workspace::readable_path;

/// A file of the demo.
#[derive(Debug, Clone, Copy)]
pub struct DemoFile {
    /// Parts joined by `/`.
    pub path: &'static str,
    pub bytes: &'static [u8],
}

mod embedded {
    use super::DemoFile;

    include!(concat!(env!("OUT_DIR"), "/demo_files.rs"));
}

/// What a demo folder is filled with.
#[derive(Debug, Clone, Copy)]
pub struct Demo<'a> {
    /// Goes to `library/`.
    pub library: &'a [DemoFile],
    /// Goes to `sale/`.
    pub sale: &'a [DemoFile],
}

/// The demo inside this binary.
pub const DEMO: Demo<'static> = Demo {
    library: embedded::LIBRARY,
    sale: embedded::SALE,
};

/// The folder of photos inside a demo folder.
pub const SALE: &str = "sale";

/// Marks a folder as a demo's own, and tells the person so.
pub const NOTE: &str = "DEMO.txt";

const NOTE_TEXT: &str = "\
This folder was written by `footring demo`.

The potteries, marks and photos in it are invented. Change what you like: running the demo again
writes only what is missing. Delete the folder when you have seen enough.
";

/// Why the demo could not be written.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    #[error("{path} is not empty and no demo folder: it was left as it is")]
    Foreign { path: String },
    #[error("this program was built without its demo pictures")]
    NotCarried,
    #[error("{path} could not be written: {source}")]
    Write { path: String, source: io::Error },
}

impl Demo<'_> {
    /// Writes the demo's files under `root`; what is there already stays. Gives the folder of
    /// photos.
    ///
    /// # Errors
    /// Where `root` holds anything that is not a demo's, or cannot be written.
    pub fn write(&self, root: &Path) -> Result<PathBuf, DemoError> {
        if !is_empty(root) && !root.join(NOTE).is_file() {
            return Err(DemoError::Foreign {
                path: readable_path(root),
            });
        }
        if self.sale.is_empty() {
            return Err(DemoError::NotCarried);
        }
        add(&root.join(NOTE), NOTE_TEXT.as_bytes())?;
        let folders = [(crate::workspace::LIBRARY, self.library), (SALE, self.sale)];
        for (folder, files) in folders {
            for file in files {
                let path = file
                    .path
                    .split('/')
                    .fold(root.join(folder), |p, n| p.join(n));
                add(&path, file.bytes)?;
            }
        }
        Ok(root.join(SALE))
    }
}

fn is_empty(folder: &Path) -> bool {
    match fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_none(),
        Err(e) => e.kind() == io::ErrorKind::NotFound,
    }
}

/// Writes the file where there is none.
fn add(path: &Path, bytes: &[u8]) -> Result<(), DemoError> {
    let failed = |source| DemoError::Write {
        path: readable_path(path),
        source,
    };
    if path.exists() {
        return Ok(());
    }
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(failed)?;
    }
    fs::write(path, bytes).map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILES: &[DemoFile] = &[DemoFile {
        path: "a/b.txt",
        bytes: b"inside",
    }];

    #[test]
    fn a_foreign_folder_is_left_and_an_own_one_completed() {
        let demo = Demo {
            library: FILES,
            sale: FILES,
        };
        let dir = tempfile::tempdir().expect("folder");
        let root = dir.path().join("demo");
        demo.write(&root).expect("new");
        let file = root.join("library/a/b.txt");
        fs::write(&file, "changed").expect("change");
        fs::remove_file(root.join("sale/a/b.txt")).expect("remove");
        let sale = demo.write(&root).expect("again");
        assert_eq!(fs::read(&file).expect("library"), b"changed");
        assert_eq!(fs::read(sale.join("a/b.txt")).expect("sale"), b"inside");
        let error = demo.write(dir.path()).expect_err("foreign");
        assert!(matches!(error, DemoError::Foreign { .. }));
    }
}
