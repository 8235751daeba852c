//! Writes that are on the disk when they return, and that stand there whole or not at all.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use super::ChangeError;

pub(super) fn fail<'p>(
    path: &'p Path,
    tried: &'static str,
) -> impl FnOnce(io::Error) -> ChangeError + use<'p> {
    move |source| ChangeError::Disk {
        path: path.to_owned(),
        tried,
        source,
    }
}

/// Whether something has this name, be it a link that leads nowhere.
pub(super) fn is_there(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

/// Whether a folder holds nothing but names that begin with a dot.
pub(super) fn is_bare(folder: &Path) -> bool {
    fs::read_dir(folder).is_ok_and(|entries| {
        entries
            .flatten()
            .all(|e| e.file_name().as_encoded_bytes().starts_with(b"."))
    })
}

/// A new file.
pub(super) fn create(path: &Path, bytes: &[u8]) -> Result<(), ChangeError> {
    let write = || {
        let mut file = File::create_new(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    };
    write().map_err(fail(path, "written"))
}

/// A file written beside its place and moved there, so that it is there whole or not at all.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), ChangeError> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(".part");
    let beside = Path::new(&beside);
    // One that a crash left is of no use to anybody.
    let _ = fs::remove_file(beside);
    create(beside, bytes)?;
    rename(beside, path)
}

/// A move within the library. The names are on the disk when it returns.
pub(super) fn rename(from: &Path, to: &Path) -> Result<(), ChangeError> {
    fs::rename(from, to).map_err(fail(from, "moved"))?;
    sync_folder_of(from);
    sync_folder_of(to);
    Ok(())
}

/// Brings the names in the folder of `path` to the disk, where the system has a way to.
pub(super) fn sync_folder_of(path: &Path) {
    #[cfg(unix)]
    if let Some(folder) = path.parent()
        && let Ok(folder) = File::open(folder)
    {
        // Some file systems refuse this for folders; they keep their names in order by themselves.
        let _ = folder.sync_all();
    }
    let _ = path;
}
