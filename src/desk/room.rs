//! The open workspace that requests share, and what is kept in memory between them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError, RwLock};
use std::thread::JoinHandle;

use super::job::{self, Jobs, Work};
use super::pictures::Store;
use super::worker;
use crate::failure::Failure;
use crate::library::{self, CodeSchemes, FileCache, Library};
use crate::references::References;
use crate::report::Sheet;
use crate::service::opened::{Opened, Remarks};
use crate::workspace::{CacheKey, Lot};

/// The desk, with a workspace or still without one.
pub(super) struct Desk {
    /// Where the workspace is, or would be made.
    pub(super) root: PathBuf,
    pub(super) jobs: Arc<Jobs>,
    room: RwLock<Option<Arc<Room>>>,
    worker: Mutex<Option<JoinHandle<()>>>,
}

impl Desk {
    pub(super) fn new(root: PathBuf) -> Arc<Self> {
        Arc::new(Self {
            root,
            jobs: Jobs::new(),
            room: RwLock::new(None),
            worker: Mutex::new(None),
        })
    }

    /// The room, where there is a workspace.
    pub(super) fn room(&self) -> Option<Arc<Room>> {
        self.room
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// Opens the workspace and begins to work: reads the exemplars, goes on with what was under way.
    pub(super) fn open(&self) -> Result<Arc<Room>, Failure> {
        let room = Arc::new(Room::new(&self.root)?);
        *self.room.write().unwrap_or_else(PoisonError::into_inner) = Some(room.clone());
        let folders = job::unfinished(&room.root);
        self.jobs.pause(folders.iter().any(|f| f.paused));
        for folder in folders {
            self.jobs.add(Work::Intake(folder));
        }
        let reader = room.clone();
        std::thread::spawn(move || reader.read_exemplars());
        let (worker, jobs) = (room.clone(), self.jobs.clone());
        let worker = std::thread::spawn(move || worker::run(&worker, &jobs));
        *self.worker.lock().unwrap_or_else(PoisonError::into_inner) = Some(worker);
        Ok(room)
    }

    /// Waits until what is under way has come to an orderly end.
    pub(super) fn wait(&self) {
        let worker = self
            .worker
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        if let Some(worker) = worker {
            let _ = worker.join();
        }
    }
}

/// The library with its exemplars, as pictures are made from.
#[derive(Debug)]
pub(super) struct Shelf {
    pub(super) library: Library,
    pub(super) references: References,
    pub(super) schemes: CodeSchemes,
}

/// An open workspace, shared by all requests.
pub(super) struct Room {
    pub(super) root: PathBuf,
    /// For pages and decisions: held for moments.
    open: Mutex<Open>,
    /// For what pictures are made of, so that no page waits for a picture.
    sources: Mutex<Opened>,
    shelf: Mutex<Option<Arc<Shelf>>>,
    shelved: Condvar,
    pub(super) store: Store,
    /// What was done in this start, for undo, the latest last.
    pub(super) acts: Mutex<Vec<Act>>,
}

/// What was done with one key, as it is taken back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Act {
    /// Decisions, by their numbers.
    Said(Vec<i64>),
    /// Pieces that were made.
    Made(Vec<i64>),
    /// A change of the library, by its number.
    Shelf(u32),
}

/// The workspace as pages see it.
pub(super) struct Open {
    pub(super) opened: Opened,
    pub(super) key: CacheKey,
    sheets: BTreeMap<String, Kept>,
    /// Grows with each change of our own.
    changes: u64,
}

#[derive(Debug)]
struct Kept {
    stamp: (i64, i64, u64),
    sheet: Arc<Sheet>,
}

impl Room {
    fn new(root: &Path) -> Result<Self, Failure> {
        let opened = Opened::new(Some(root), Remarks::Errors)?;
        Ok(Self {
            root: opened.workspace.root().to_owned(),
            open: Mutex::new(Open::new(opened)),
            sources: Mutex::new(Opened::new(Some(root), Remarks::Errors)?),
            shelf: Mutex::new(None),
            shelved: Condvar::new(),
            store: Store::default(),
            acts: Mutex::new(Vec::new()),
        })
    }

    pub(super) fn open(&self) -> MutexGuard<'_, Open> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn sources(&self) -> MutexGuard<'_, Opened> {
        self.sources.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The library with its exemplars; waits until they are read.
    pub(super) fn shelf(&self) -> Arc<Shelf> {
        let mut shelf = self.shelf.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            match &*shelf {
                Some(shelf) => return shelf.clone(),
                None => {
                    shelf = self
                        .shelved
                        .wait(shelf)
                        .unwrap_or_else(PoisonError::into_inner);
                }
            }
        }
    }

    /// Reads the library as it is now, for pictures.
    pub(super) fn read_exemplars(&self) {
        let library = library::load(&self.root.join(crate::workspace::LIBRARY));
        // An unreadable library was told of when the desk was opened.
        let library = library.map(|(library, _)| library).unwrap_or_default();
        let kept = FileCache::of_user();
        let (references, _) = library::prepare(&library, kept.as_ref(), job::engine_jobs());
        let (schemes, _) = library::load_code_schemes(&library);
        let shelf = Shelf {
            library,
            references,
            schemes,
        };
        *self.shelf.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(shelf));
        self.shelved.notify_all();
    }

    /// Another connection, for work that takes seconds.
    pub(super) fn fresh(&self) -> Result<Opened, Failure> {
        Opened::new(Some(&self.root), Remarks::Errors)
    }

    /// After the library has changed: everything is read anew.
    pub(super) fn reopen(&self) -> Result<(), Failure> {
        let fresh = Open::new(Opened::new(Some(&self.root), Remarks::Errors)?);
        let sources = Opened::new(Some(&self.root), Remarks::Errors)?;
        *self.open() = fresh;
        *self.sources() = sources;
        self.read_exemplars();
        self.store.forget();
        Ok(())
    }
}

impl Open {
    fn new(opened: Opened) -> Self {
        Self {
            key: opened.key(),
            opened,
            sheets: BTreeMap::new(),
            changes: 0,
        }
    }

    /// To be called after each change through this connection.
    pub(super) fn changed(&mut self) {
        self.changes += 1;
    }

    /// The lot of this number, counted from 1 in the order in which lots were made.
    pub(super) fn lot(&self, number: usize) -> Result<Option<Lot>, Failure> {
        let lots = self.opened.workspace.lots()?;
        Ok(number
            .checked_sub(1)
            .and_then(|at| lots.into_iter().nth(at)))
    }

    /// The lot with all that is known of it, made anew where anything has changed.
    pub(super) fn sheet(&mut self, lot: &str) -> Result<Arc<Sheet>, Failure> {
        let stamp = (
            self.opened.workspace.data_version()?,
            self.opened.cache.data_version()?,
            self.changes,
        );
        if let Some(kept) = self.sheets.get(lot).filter(|k| k.stamp == stamp) {
            return Ok(kept.sheet.clone());
        }
        let sheet = Arc::new(self.opened.sheet(lot, &self.key)?);
        let kept = Kept {
            stamp,
            sheet: sheet.clone(),
        };
        self.sheets.insert(lot.to_owned(), kept);
        Ok(sheet)
    }
}
