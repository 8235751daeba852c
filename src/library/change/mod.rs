//! Changes to a library that are made whole or not at all, and can be taken back.
//!
//! A change is a list of steps that move things. What is new is first written into a folder of the change's own,
//! `.changes/<number>/new`; then the list is written beside it, and only then the steps are made. Nothing is deleted:
//! what goes away is moved to `.changes/<number>/old`. A program that dies before the list is written has changed
//! nothing; one that dies later leaves a list that the next load brings to its end. Taking a change back is the same
//! list from its end. (Write-ahead logging, Gray 1978.)

mod carry;
mod cite;
mod disk;
mod facts;
mod feasible;
mod gather;
mod merge;
mod pictures;
mod receive;
mod record;
mod rename;
mod settle;
mod split;
mod written;

#[cfg(test)]
mod tests;

use std::io;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::edit::EditError;
use super::id::FamilyId;
pub use carry::{Done, carry_out, carry_out_watched};
pub use cite::{Citation, cite, measure};
pub use facts::{MarkFacts, edit_facts};
pub use gather::{Arrival, gather};
pub use merge::merge;
pub use pictures::{
    Content, NewExemplar, add_pictures, new_family, remove_family, remove_pictures,
};
pub use receive::{Received, receive};
pub use record::{Change, Hold, changes, hold};
pub use rename::rename;
pub use settle::{Settled, Undone, next_undo, settle, undo, undo_watched};
pub use split::split;
pub use written::{Edited, RecordFile, RecordId};

/// The folder of changes inside a library. Whoever empties it loses what was taken away, and the undo; never
/// anything of the library.
pub const CHANGES: &str = ".changes";

/// What sort of change it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    New,
    Add,
    Remove,
    Rename,
    Merge,
    Split,
    Adopt,
    Edit,
    Cite,
    Size,
    Receive,
}

/// One step; paths are relative to the library, with `/` between folders. Each can be told from the disk to be made
/// or not, and can be made backwards.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Step {
    /// What lies in `new` under this number goes to its place; `hash` is that of its bytes.
    Put {
        new: usize,
        at: String,
        hash: String,
    },
    /// What lies here goes to `old` under this number.
    Away { from: String, old: usize },
    /// A file or folder goes from place to place. No other step of the change makes anything at `from`.
    Move { from: String, to: String },
    /// A folder is made where there is none.
    Folder { at: String },
    /// A folder is removed where it is empty.
    Drop { at: String },
}

/// A change that is planned and not yet made.
#[derive(Debug)]
pub struct Draft {
    kind: Kind,
    what: String,
    /// Ids that lead to no family without the change.
    brings: Vec<String>,
    steps: Vec<Step>,
    /// What is to be written, by the numbers of the steps that put it.
    new: Vec<Content>,
    old: usize,
}

impl Draft {
    fn of(kind: Kind, what: String) -> Self {
        Self {
            kind,
            what,
            brings: Vec::new(),
            steps: Vec::new(),
            new: Vec::new(),
            old: 0,
        }
    }

    /// What the change does, in a few words.
    pub fn what(&self) -> &str {
        &self.what
    }

    fn put(&mut self, at: String, content: Content) {
        let (new, hash) = (self.new.len(), String::new());
        self.steps.push(Step::Put { new, at, hash });
        self.new.push(content);
    }

    fn away(&mut self, from: String) {
        let old = self.old;
        self.steps.push(Step::Away { from, old });
        self.old += 1;
    }

    fn go(&mut self, from: String, to: String) {
        self.steps.push(Step::Move { from, to });
    }

    fn folder(&mut self, at: String) {
        let step = Step::Folder { at };
        if !self.steps.contains(&step) {
            self.steps.push(step);
        }
    }

    fn drop_empty(&mut self, at: String) {
        self.steps.push(Step::Drop { at });
    }
}

/// Why a change was not made or not taken back. Unless `Cut` or `Stuck`, the library is as it was.
#[derive(Debug, thiserror::Error)]
pub enum ChangeError {
    #[error("the library has no family `{id}`")]
    NoFamily { id: FamilyId },
    #[error("the library has a family `{id}` already")]
    Taken { id: FamilyId },
    #[error("`{id}` is what the family `{now}` was called before")]
    WasTaken { id: FamilyId, now: FamilyId },
    #[error("{} is there already and is no family: move it away first", .path.display())]
    InTheWay { path: PathBuf },
    #[error("the family `{id}` has no picture `{file}`{}", has(.known))]
    NoPicture {
        id: FamilyId,
        file: String,
        known: Vec<String>,
    },
    #[error("`{id}` has no variant `{variant}`")]
    NoVariant { id: FamilyId, variant: String },
    #[error("both families are one and the same, `{id}`")]
    Same { id: FamilyId },
    #[error("all pictures of `{id}` were named: that is a new name, no split")]
    NothingLeft { id: FamilyId },
    #[error("`{from}` and `{into}` both have {what}: rename or remove one of the two first")]
    Both {
        from: FamilyId,
        into: FamilyId,
        what: String,
    },
    #[error("the name of {} is not UTF-8: rename the file first", .path.display())]
    BadName { path: PathBuf },
    #[error(transparent)]
    Edit(#[from] EditError),
    #[error("{} could not be {tried} ({source})", .path.display())]
    Disk {
        path: PathBuf,
        tried: &'static str,
        source: io::Error,
    },
    #[error("there is nothing to take back")]
    NothingToUndo,
    #[error("`{what}` cannot be taken back: {why}")]
    LaterChange { what: String, why: String },
    #[error("the library was changed at the same time ({why}): try again")]
    MovedOn { why: String },
    #[error(
        "`{what}` was cut short and can be neither finished nor taken back ({why}): move that away, then try again"
    )]
    Stuck { what: String, why: String },
    #[error("stopped before write {point}")]
    Cut { point: usize },
}

fn has(files: &[String]) -> String {
    match files {
        [] => ": it has none".to_owned(),
        some => format!("; it has {}", some.join(", ")),
    }
}

/// Told the number of every write before it is made, counted from 0; to answer `Err` leaves everything as a program
/// that dies there would.
pub type Watch<'a> = &'a mut dyn FnMut(usize) -> Result<(), Cut>;

/// The answer of a watch that wants the work to end there.
#[derive(Debug, Clone, Copy)]
pub struct Cut;

/// The writes of one piece of work, as they are counted.
struct Points<'a> {
    next: usize,
    watch: Watch<'a>,
}

impl<'a> Points<'a> {
    fn new(watch: Watch<'a>) -> Self {
        Self { next: 0, watch }
    }

    fn reach(&mut self) -> Result<(), ChangeError> {
        let point = self.next;
        self.next += 1;
        (self.watch)(point).map_err(|Cut| ChangeError::Cut { point })
    }
}
