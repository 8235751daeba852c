//! What can go wrong with a workspace, and what to do then.

use std::fmt;
use std::path::PathBuf;

/// Why a workspace cannot be made, opened or written.
#[derive(Debug, thiserror::Error)]
pub enum WorkspaceError {
    #[error("there is no workspace in {from} or above it")]
    NotFound { from: String },
    #[error("{path} is no workspace")]
    NotHere { path: String },
    #[error("{path} is there already and is no folder")]
    InTheWay { path: String },
    #[error("{path} could not be {tried}: {source}")]
    File {
        path: String,
        tried: &'static str,
        source: std::io::Error,
    },
    #[error("{path} could not be read as a database: {source}")]
    Database {
        path: String,
        source: rusqlite::Error,
    },
    #[error(
        "{path} was written by a newer Footring (its version is {found}, this program reads up to \
         {known}) and was left untouched: use the newer program"
    )]
    Newer {
        path: String,
        found: i64,
        known: i64,
    },
    #[error("{path} is a database of another program and was left untouched")]
    Foreign { path: String },
    #[error(
        "{path} was written by a newer Footring (its version is {found}, this program reads up to \
         {known}): use the newer program"
    )]
    NewerJournal {
        path: String,
        found: u32,
        known: u32,
    },
    #[error("{path} does not begin as a Footring journal does")]
    NotAJournal { path: String },
    #[error("there is no lot `{name}`{}", known_lots(.known))]
    NoLot { name: String, known: Vec<String> },
    #[error("no photo of this workspace is meant by `{text}`{}", nearest(.near))]
    NoPhoto { text: String, near: Vec<String> },
    #[error("{path} is in no lot yet")]
    NotTakenIn { path: String },
    #[error("`{text}` could mean {} photos: {}", .could_be.len(), .could_be.join(", "))]
    Ambiguous { text: String, could_be: Vec<String> },
    #[error("{path}: {why}")]
    Backup { path: String, why: String },
    #[error("an entry could not be stored: {0}")]
    Refused(String),
}

impl WorkspaceError {
    /// What to do next, where the message does not say it.
    pub fn hint(&self) -> Option<String> {
        let next = match self {
            Self::NotFound { .. } | Self::NotHere { .. } => {
                "`footring init DIR` makes a workspace; `--workspace DIR` names one"
            }
            Self::Database { .. } => "`footring rebuild` makes footring.db anew from journal.txt",
            Self::NotTakenIn { .. } | Self::NoLot { .. } => {
                "`footring intake FOLDER --lot NAME` takes a folder of photos in"
            }
            Self::NoPhoto { .. } => {
                "name a photo by its path, its file name in a lot, or the first digits of its hash"
            }
            Self::Ambiguous { .. } => "name the photo by the first digits of its hash",
            _ => return None,
        };
        Some(next.to_owned())
    }
}

fn known_lots(known: &[String]) -> String {
    if known.is_empty() {
        ", nor any other yet".to_owned()
    } else {
        format!("; there are: {}", known.join(", "))
    }
}

fn nearest(near: &[String]) -> String {
    if near.is_empty() {
        String::new()
    } else {
        format!("; nearest: {}", near.join(", "))
    }
}

/// What a person should know though the work went on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WorkspaceWarning {
    /// Entries of the journal that the database had not taken in yet (a crash, or a journal
    /// brought from elsewhere).
    CaughtUp { entries: usize },
    /// A line of the journal that is no entry.
    LineSkipped {
        path: PathBuf,
        line: usize,
        why: String,
    },
    /// The journal was shorter than the database remembers.
    JournalWrittenAnew { kept: PathBuf },
    /// The cache was damaged or of another version.
    CacheEmptied { path: PathBuf },
}

impl fmt::Display for WorkspaceWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CaughtUp { entries } => write!(
                f,
                "the journal held {entries} entries that the database lacked; they were taken in"
            ),
            Self::LineSkipped { path, line, why } => {
                write!(f, "{}, line {line}: skipped: {why}", path.display())
            }
            Self::JournalWrittenAnew { kept } => write!(
                f,
                "the journal was shorter than the database remembers; it was written anew from \
                 the database, the short one is kept as {}",
                kept.display()
            ),
            Self::CacheEmptied { path } => write!(
                f,
                "{} could not be read and was emptied; photos will be looked at again",
                path.display()
            ),
        }
    }
}
