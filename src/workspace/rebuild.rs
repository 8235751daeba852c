//! Making footring.db anew from the journal.

use std::path::{Path, PathBuf};

use super::error::{WorkspaceError, WorkspaceWarning};
use super::journal_file::JournalFile;
use super::store::{self, Store};
use super::{DATABASE, JOURNAL, file_error};

/// What a rebuild did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rebuilt {
    /// Journal entries taken in.
    pub entries: usize,
    /// Lines that could not be taken in.
    pub skipped: Vec<WorkspaceWarning>,
    /// Where the database that was there is kept now.
    pub kept: Option<PathBuf>,
}

/// Makes the database of the workspace at `root` from its journal. The one that was there is set
/// aside, not removed; where anything fails before that, it stays in place.
///
/// # Errors
/// Where the journal cannot be read or the new database cannot be written.
pub fn rebuild(root: &Path) -> Result<Rebuilt, WorkspaceError> {
    let journal = JournalFile::new(root.join(JOURNAL));
    let stretch = journal.read_from(0)?;
    let folder = tempfile::Builder::new()
        .prefix(".rebuild-")
        .tempdir_in(root)
        .map_err(|e| file_error(root, "written to", e))?;
    let fresh = folder.path().join(DATABASE);
    let mut skipped = stretch.skipped;
    let mut entries = 0;
    {
        let mut new = Store::open(&fresh)?;
        let failed = new.failed();
        let transaction = new.write()?;
        for (line, entry) in &stretch.entries {
            match store::apply(&transaction, entry) {
                Ok(()) => entries += 1,
                Err(why) => skipped.push(journal.skipped(*line, why.to_string())),
            }
        }
        store::set_journal_bytes(&transaction, stretch.end).map_err(&failed)?;
        transaction.commit().map_err(&failed)?;
        // One file, so that it can be renamed as a whole.
        new.connection
            .pragma_update(None, "journal_mode", "DELETE")
            .map_err(&failed)?;
    }
    let kept = set_aside(&root.join(DATABASE))?;
    std::fs::rename(&fresh, root.join(DATABASE)).map_err(|e| file_error(&fresh, "moved", e))?;
    Ok(Rebuilt {
        entries,
        skipped,
        kept,
    })
}

/// Moves a database and what SQLite keeps beside it to a free name.
fn set_aside(database: &Path) -> Result<Option<PathBuf>, WorkspaceError> {
    if !database.exists() {
        return Ok(None);
    }
    let kept = free_name(database, "before-rebuild");
    for beside in ["", "-wal", "-shm"] {
        let (from, to) = (with_end(database, beside), with_end(&kept, beside));
        if from.exists() {
            std::fs::rename(&from, &to).map_err(|e| file_error(&from, "set aside", e))?;
        }
    }
    Ok(Some(kept))
}

/// `<path>.<word>`, or the first of `<path>.<word>-2`, `-3`, … that is free.
pub(super) fn free_name(path: &Path, word: &str) -> PathBuf {
    let first = with_end(path, &format!(".{word}"));
    if !first.exists() {
        return first;
    }
    (2_u32..)
        .map(|n| with_end(path, &format!(".{word}-{n}")))
        .find(|p| !p.exists())
        .unwrap_or(first)
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}
