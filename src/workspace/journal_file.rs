//! The journal on disk: appended to, never rewritten in place.

use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::error::{WorkspaceError, WorkspaceWarning};
use super::paths::readable_path;
use crate::decision::journal::{Entry, VERSION};

#[derive(Debug, Clone)]
pub(crate) struct JournalFile {
    path: PathBuf,
}

/// What a stretch of the journal holds.
#[derive(Debug, Default)]
pub(crate) struct Stretch {
    /// Each entry with the number of its line.
    pub(crate) entries: Vec<(usize, Entry)>,
    pub(crate) skipped: Vec<WorkspaceWarning>,
    /// Length of the journal at its end, in bytes.
    pub(crate) end: u64,
}

impl JournalFile {
    pub(crate) fn new(path: PathBuf) -> Self {
        Self { path }
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    fn failed(&self, tried: &'static str) -> impl FnOnce(std::io::Error) -> WorkspaceError {
        let path = readable_path(&self.path);
        move |source| WorkspaceError::File {
            path,
            tried,
            source,
        }
    }

    /// Length in bytes; 0 where there is none.
    pub(crate) fn len(&self) -> Result<u64, WorkspaceError> {
        match std::fs::metadata(&self.path) {
            Ok(meta) => Ok(meta.len()),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(0),
            Err(e) => Err(self.failed("read")(e)),
        }
    }

    /// Adds the entries, makes sure that they are on the disk, and says how long the journal is
    /// then. A last line that a crash left without its end is closed first.
    pub(crate) fn append(&self, entries: &[Entry]) -> Result<u64, WorkspaceError> {
        let mut file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(&self.path)
            .map_err(self.failed("opened"))?;
        let mut text = String::new();
        let len = file.seek(SeekFrom::End(0)).map_err(self.failed("read"))?;
        if len == 0 {
            text += &Entry::Journal(VERSION).to_line();
            text.push('\n');
        } else if self.last_byte(&mut file)? != b'\n' {
            text.push('\n');
        }
        for entry in entries {
            text += &entry.to_line();
            text.push('\n');
        }
        file.write_all(text.as_bytes())
            .and_then(|()| file.sync_data())
            .map_err(self.failed("written"))?;
        Ok(len + text.len() as u64)
    }

    fn last_byte(&self, file: &mut File) -> Result<u8, WorkspaceError> {
        let mut last = [0];
        file.seek(SeekFrom::End(-1))
            .and_then(|_| file.read_exact(&mut last))
            .map_err(self.failed("read"))?;
        Ok(last[0])
    }

    /// Reads what follows the first `from` bytes. Lines that are no entries are skipped and told.
    ///
    /// # Errors
    /// Where the file cannot be read, does not begin as a journal, or is of a newer version.
    pub(crate) fn read_from(&self, from: u64) -> Result<Stretch, WorkspaceError> {
        let bytes = std::fs::read(&self.path).map_err(self.failed("read"))?;
        self.check_head(&bytes)?;
        let from = usize::try_from(from).unwrap_or(usize::MAX).min(bytes.len());
        let lines_before = bytes[..from].iter().filter(|&&b| b == b'\n').count();
        let mut stretch = Stretch {
            end: bytes.len() as u64,
            ..Stretch::default()
        };
        for (at, line) in bytes[from..].split(|&b| b == b'\n').enumerate() {
            if line.trim_ascii().is_empty() {
                continue;
            }
            let number = lines_before + at + 1;
            let read = std::str::from_utf8(line)
                .map_err(|e| e.to_string())
                .and_then(|text| Entry::from_line(text).map_err(|e| e.to_string()));
            match read {
                Ok(Entry::Journal(_)) => {}
                Ok(entry) => stretch.entries.push((number, entry)),
                Err(why) => stretch.skipped.push(self.skipped(number, why)),
            }
        }
        Ok(stretch)
    }

    pub(crate) fn skipped(&self, line: usize, why: String) -> WorkspaceWarning {
        WorkspaceWarning::LineSkipped {
            path: self.path.clone(),
            line,
            why,
        }
    }

    fn check_head(&self, bytes: &[u8]) -> Result<(), WorkspaceError> {
        let head = bytes.split(|&b| b == b'\n').next().unwrap_or_default();
        let path = readable_path(&self.path);
        match std::str::from_utf8(head).map(Entry::from_line) {
            Ok(Ok(Entry::Journal(VERSION))) => Ok(()),
            Ok(Ok(Entry::Journal(found))) if found > VERSION => Err(WorkspaceError::NewerJournal {
                path,
                found,
                known: VERSION,
            }),
            _ => Err(WorkspaceError::NotAJournal { path }),
        }
    }
}
