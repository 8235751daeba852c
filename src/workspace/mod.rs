//! The person's folder: their library, their lots and decisions, and a cache.
//!
//! Truth and cache are kept apart. `footring.db` and `journal.txt` hold what a person would miss;
//! each can be made from the other. `cache.db` holds what can be computed again.

mod backup;
mod cache;
mod error;
mod journal_file;
mod paths;
mod pieces;
mod read;
mod rebuild;
mod store;
mod synchronised;

#[cfg(test)]
mod tests;

use std::path::{Path, PathBuf};

pub use backup::{Kept, backup, restore};
pub use cache::{Answered, Cache, CacheKey, Earlier, KeptCrop};
pub use error::{WorkspaceError, WorkspaceWarning};
pub use paths::{readable, readable_file_name, readable_path};
pub use pieces::NewPiece;
pub use read::{Lot, Sighting};
pub use rebuild::{Rebuilt, rebuild};
pub use synchronised::{other_journals, synchronised};

use journal_file::JournalFile;
use store::Store;

use crate::decision::journal::{Entry, LotEntry, PhotoEntry, SightingEntry};
use crate::decision::{About, Certainty, ContentHash, Decision, History, Moment, Statement};

/// The folder of marks inside a workspace.
pub const LIBRARY: &str = "library";
/// What the person would miss.
pub const DATABASE: &str = "footring.db";
/// The same in plain text.
pub const JOURNAL: &str = "journal.txt";
/// What can be computed again.
pub const CACHE: &str = "cache.db";
/// Tells the person what lies here.
pub const README: &str = "README.txt";

/// What the person's README says.
const README_TEXT: &str = include_str!("readme.txt");

/// An open workspace.
#[derive(Debug)]
pub struct Workspace {
    root: PathBuf,
    store: Store,
    journal: JournalFile,
}

/// What a new decision says; number and `replaces` are found when it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    pub about: About,
    pub statement: Statement,
    pub certainty: Certainty,
    pub replaces: Option<i64>,
}

/// A photo as intake found it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    pub hash: ContentHash,
    /// Absolute.
    pub path: PathBuf,
    pub taken: Option<String>,
}

/// What [`Workspace::sight`] did with a photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sighted {
    /// The lot did not have it.
    New,
    /// The lot had it, at this place.
    Known,
    /// The lot had it at a place where it no longer lies; the new place is kept.
    Moved,
    /// The lot has it at another place, where it still lies: this file is a copy.
    Copy,
}

impl Workspace {
    /// Makes the parts of a workspace that `root` lacks and opens it. What is there stays.
    ///
    /// # Errors
    /// Where the folder cannot be made or something else is in the way.
    pub fn init(root: &Path) -> Result<(Self, Vec<WorkspaceWarning>), WorkspaceError> {
        for folder in [root.to_owned(), root.join(LIBRARY)] {
            if folder.exists() && !folder.is_dir() {
                let path = readable_path(&folder);
                return Err(WorkspaceError::InTheWay { path });
            }
            std::fs::create_dir_all(&folder).map_err(|e| file_error(&folder, "made", e))?;
        }
        let readme = root.join(README);
        if !readme.exists() {
            std::fs::write(&readme, README_TEXT).map_err(|e| file_error(&readme, "written", e))?;
        }
        drop(Store::open(&root.join(DATABASE))?);
        Self::open(root)
    }

    /// The nearest folder, from `from` upward, that is a workspace.
    ///
    /// # Errors
    /// `NotFound` where there is none.
    pub fn find(from: &Path) -> Result<PathBuf, WorkspaceError> {
        let from = std::path::absolute(from).unwrap_or_else(|_| from.to_owned());
        from.ancestors()
            .find(|folder| folder.join(DATABASE).is_file())
            .map(Path::to_owned)
            .ok_or_else(|| WorkspaceError::NotFound {
                from: readable_path(&from),
            })
    }

    /// Opens the workspace at `root` and brings database and journal to the same state.
    ///
    /// # Errors
    /// Where there is none, or it is damaged, foreign or newer.
    pub fn open(root: &Path) -> Result<(Self, Vec<WorkspaceWarning>), WorkspaceError> {
        let root = std::path::absolute(root).unwrap_or_else(|_| root.to_owned());
        let database = root.join(DATABASE);
        if !database.is_file() {
            let path = readable_path(&root);
            return Err(WorkspaceError::NotHere { path });
        }
        let mut workspace = Self {
            store: Store::open(&database)?,
            journal: JournalFile::new(root.join(JOURNAL)),
            root,
        };
        let warnings = workspace.reconcile()?;
        Ok((workspace, warnings))
    }

    pub fn root(&self) -> &Path {
        &self.root
    }

    pub fn library(&self) -> PathBuf {
        self.root.join(LIBRARY)
    }

    pub fn cache(&self) -> PathBuf {
        self.root.join(CACHE)
    }

    /// Takes in what a crash left in the journal only, and writes the journal anew where it lost
    /// lines that the database still has.
    fn reconcile(&mut self) -> Result<Vec<WorkspaceWarning>, WorkspaceError> {
        let failed = self.store.failed();
        let transaction = self.store.write()?;
        let taken_in = store::journal_bytes(&transaction).map_err(&failed)?;
        let len = self.journal.len()?;
        let mut warnings = Vec::new();
        if len > taken_in {
            let stretch = self.journal.read_from(taken_in)?;
            warnings.extend(stretch.skipped);
            let mut entries = 0;
            for (line, entry) in &stretch.entries {
                match store::apply(&transaction, entry) {
                    Ok(()) => entries += 1,
                    Err(why) => warnings.push(self.journal.skipped(*line, why.to_string())),
                }
            }
            if entries > 0 {
                warnings.push(WorkspaceWarning::CaughtUp { entries });
            }
            store::set_journal_bytes(&transaction, stretch.end).map_err(&failed)?;
        } else if len < taken_in {
            let entries = read::export(&transaction).map_err(&failed)?;
            let (kept, bytes) = write_anew(&self.journal, &entries)?;
            store::set_journal_bytes(&transaction, bytes).map_err(&failed)?;
            warnings.push(WorkspaceWarning::JournalWrittenAnew { kept });
        }
        transaction.commit().map_err(&failed)?;
        Ok(warnings)
    }

    /// Writes entries: to the journal first, then to the database, as one step. `make` sees the
    /// state that no other process can change until the entries are written.
    fn record<T>(
        &mut self,
        make: impl FnOnce(&rusqlite::Connection) -> rusqlite::Result<(Vec<Entry>, T)>,
    ) -> Result<T, WorkspaceError> {
        // Another process may have written since, or died between its two writes.
        if self.is_behind()? {
            self.reconcile()?;
        }
        let failed = self.store.failed();
        let transaction = self.store.write()?;
        let (entries, made) = make(&transaction).map_err(&failed)?;
        if entries.is_empty() {
            return Ok(made);
        }
        for entry in &entries {
            store::apply(&transaction, entry)?;
        }
        let bytes = self.journal.append(&entries)?;
        store::set_journal_bytes(&transaction, bytes).map_err(&failed)?;
        transaction.commit().map_err(&failed)?;
        Ok(made)
    }

    fn is_behind(&self) -> Result<bool, WorkspaceError> {
        let taken_in = store::journal_bytes(&self.store.connection).map_err(self.store.failed())?;
        Ok(self.journal.len()? != taken_in)
    }

    /// Makes the lot, or tells date and place anew where given.
    ///
    /// # Errors
    /// Where it cannot be written.
    pub fn add_lot(
        &mut self,
        time: Moment,
        name: &str,
        date: Option<&str>,
        place: Option<&str>,
    ) -> Result<(), WorkspaceError> {
        self.record(|connection| {
            let known = read::lots(connection)?.into_iter().find(|l| l.name == name);
            let told = |now: Option<&str>, before: &Option<String>| {
                now.is_none() || now == before.as_deref()
            };
            if known.is_some_and(|l| told(date, &l.date) && told(place, &l.place)) {
                return Ok((Vec::new(), ()));
            }
            let lot = Entry::Lot(LotEntry {
                time,
                name: name.to_owned(),
                date: date.map(str::to_owned),
                place: place.map(str::to_owned),
            });
            Ok((vec![lot], ()))
        })
    }

    /// Records that a photo of a lot lies at a place. Other lots that have the photo at a place
    /// where it no longer lies are told the new place too.
    ///
    /// # Errors
    /// Where it cannot be written.
    pub fn sight(
        &mut self,
        time: Moment,
        lot: &str,
        seen: &Seen,
    ) -> Result<Sighted, WorkspaceError> {
        self.record(|connection| {
            let known = read::sightings_of_photo(connection, &seen.hash)?;
            let mut entries = Vec::new();
            if !read::has_photo(connection, &seen.hash)? {
                entries.push(Entry::Photo(PhotoEntry {
                    time,
                    hash: seen.hash.clone(),
                    taken: seen.taken.clone(),
                }));
            }
            let mut place = |lot: &str, position: i64| {
                entries.push(Entry::Sighting(SightingEntry {
                    lot: lot.to_owned(),
                    hash: seen.hash.clone(),
                    path: paths::to_bytes(&seen.path),
                    position,
                }));
            };
            let mut what = None;
            for old in known {
                let moved = old.path != seen.path && !old.path.is_file();
                if moved {
                    place(&old.lot, old.position);
                }
                if old.lot == lot {
                    what = Some(match (old.path == seen.path, moved) {
                        (true, _) => Sighted::Known,
                        (false, true) => Sighted::Moved,
                        (false, false) => Sighted::Copy,
                    });
                }
            }
            if what.is_none() {
                place(lot, read::next_position(connection, lot)?);
            }
            Ok((entries, what.unwrap_or(Sighted::New)))
        })
    }

    /// Adds a decision and gives it back as written.
    ///
    /// # Errors
    /// Where it cannot be written.
    pub fn decide(&mut self, time: Moment, said: Said) -> Result<Decision, WorkspaceError> {
        self.record(|connection| {
            let decision = Decision {
                number: read::next_decision(connection)?,
                time,
                about: said.about,
                statement: said.statement,
                certainty: said.certainty,
                replaces: said.replaces,
            };
            Ok((vec![Entry::Decision(decision.clone())], decision))
        })
    }

    /// Adds those decisions of which `still` holds in the state that nobody else can change meanwhile;
    /// `still` sees all that was ever decided before any of these. Gives them back in order, `None` for each
    /// that was left out.
    ///
    /// # Errors
    /// Where they cannot be written; then none of them is.
    pub fn decide_where(
        &mut self,
        time: Moment,
        all: Vec<Said>,
        still: impl Fn(usize, &History) -> bool,
    ) -> Result<Vec<Option<Decision>>, WorkspaceError> {
        self.record(|connection| {
            let history = read::history(connection)?;
            let mut number = history.next_number();
            let mut made = Vec::with_capacity(all.len());
            for (at, said) in all.into_iter().enumerate() {
                made.push(still(at, &history).then(|| {
                    number += 1;
                    Decision {
                        number: number - 1,
                        time,
                        about: said.about,
                        statement: said.statement,
                        certainty: said.certainty,
                        replaces: said.replaces,
                    }
                }));
            }
            let entries = made.iter().flatten().cloned();
            Ok((entries.map(Entry::Decision).collect(), made))
        })
    }

    /// A number that changes when another connection writes to the database.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn data_version(&self) -> Result<i64, WorkspaceError> {
        store::data_version(&self.store.connection).map_err(self.store.failed())
    }

    /// All lots, oldest first.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn lots(&self) -> Result<Vec<Lot>, WorkspaceError> {
        read::lots(&self.store.connection).map_err(self.store.failed())
    }

    /// One lot by its name.
    ///
    /// # Errors
    /// `NoLot`, with the names that there are.
    pub fn lot(&self, name: &str) -> Result<Lot, WorkspaceError> {
        let lots = self.lots()?;
        let known: Vec<String> = lots.iter().map(|l| readable(&l.name)).collect();
        lots.into_iter()
            .find(|l| l.name == name)
            .ok_or_else(|| WorkspaceError::NoLot {
                name: readable(name),
                known,
            })
    }

    /// The photos of a lot, in its order.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn photos(&self, lot: &str) -> Result<Vec<Sighting>, WorkspaceError> {
        read::sightings_of_lot(&self.store.connection, lot).map_err(self.store.failed())
    }

    /// Every place where a photo was seen.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn sightings_of(&self, photo: &ContentHash) -> Result<Vec<Sighting>, WorkspaceError> {
        read::sightings_of_photo(&self.store.connection, photo).map_err(self.store.failed())
    }

    /// Photos that show the same piece as this one, as far as the person has said.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn same_piece(&self, photo: &ContentHash) -> Result<Vec<ContentHash>, WorkspaceError> {
        read::same_piece(&self.store.connection, photo).map_err(self.store.failed())
    }

    /// Every decision ever made.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn history(&self) -> Result<History, WorkspaceError> {
        read::history(&self.store.connection).map_err(self.store.failed())
    }

    /// The photo meant by a path, a file name in a lot, or at least four digits of a hash.
    ///
    /// # Errors
    /// `NoPhoto`, `NotTakenIn`, or `Ambiguous` with what it could be.
    pub fn find_photo(&self, text: &Path) -> Result<ContentHash, WorkspaceError> {
        let content = match text.is_file() {
            true => {
                let bytes = std::fs::read(text).map_err(|e| file_error(text, "read", e))?;
                Some(ContentHash::of(&bytes))
            }
            false => None,
        };
        let sightings = read::all_sightings(&self.store.connection).map_err(self.store.failed())?;
        read::find_photo(&sightings, text, content.as_ref())
    }

    /// Copies the database, whole, to a file that is not there yet.
    fn copy_database(&self, to: &Path) -> Result<(), WorkspaceError> {
        let bytes = paths::readable_path(to);
        self.store
            .connection
            .execute("VACUUM INTO ?1", [to.to_str().unwrap_or(&bytes)])
            .map(drop)
            .map_err(self.store.failed())
    }

    /// All that the workspace's database holds, as journal entries in a fixed order.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn export(&self) -> Result<Vec<Entry>, WorkspaceError> {
        read::export(&self.store.connection).map_err(self.store.failed())
    }
}

pub(crate) fn file_error(
    path: &Path,
    tried: &'static str,
    source: std::io::Error,
) -> WorkspaceError {
    WorkspaceError::File {
        path: readable_path(path),
        tried,
        source,
    }
}

/// Sets the journal aside and writes one that says what `entries` say. Gives the place of the old
/// one and the length of the new one.
fn write_anew(journal: &JournalFile, entries: &[Entry]) -> Result<(PathBuf, u64), WorkspaceError> {
    let kept = rebuild::free_name(journal.path(), "short");
    if journal.path().exists() {
        std::fs::rename(journal.path(), &kept)
            .map_err(|e| file_error(journal.path(), "set aside", e))?;
    }
    let bytes = journal.append(entries)?;
    Ok((kept, bytes))
}
