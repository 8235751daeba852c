//! The folder of a change, its record, and what state it is in.

use std::fs::{self, File};
use std::path::{Component, Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::disk::{fail, is_there, rename, write_whole};
use super::{CHANGES, ChangeError, Kind, Points, Step};

/// What is written down of a change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Record {
    pub(super) version: u32,
    pub(super) kind: Kind,
    pub(super) what: String,
    pub(super) time: String,
    /// Ids that lead to no family without the change.
    pub(super) brings: Vec<String>,
    pub(super) steps: Vec<Step>,
}

/// The version of the record that this program writes, and the latest that it reads.
pub(super) const VERSION: u32 = 1;

/// Where a change stands. The record's file is called so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Begun,
    Made,
    Undoing,
    Undone,
}

impl State {
    const ALL: [Self; 4] = [Self::Begun, Self::Made, Self::Undoing, Self::Undone];

    fn file(self) -> &'static str {
        match self {
            Self::Begun => "begun.json",
            Self::Made => "made.json",
            Self::Undoing => "undoing.json",
            Self::Undone => "undone.json",
        }
    }
}

/// The folder of one change.
#[derive(Debug, Clone)]
pub(super) struct Place {
    pub(super) root: PathBuf,
    pub(super) folder: PathBuf,
    pub(super) number: u32,
}

impl Place {
    fn of(root: &Path, number: u32) -> Self {
        Self {
            root: root.to_owned(),
            folder: root.join(CHANGES).join(format!("{number:06}")),
            number,
        }
    }

    pub(super) fn put(&self, number: usize) -> PathBuf {
        self.folder.join("new").join(number.to_string())
    }

    pub(super) fn old(&self, number: usize) -> PathBuf {
        self.folder.join("old").join(number.to_string())
    }

    pub(super) fn at(&self, path: &str) -> PathBuf {
        self.root.join(path)
    }

    pub(super) fn state(&self) -> Option<State> {
        State::ALL
            .into_iter()
            .find(|s| is_there(&self.folder.join(s.file())))
    }

    /// Makes the folders of a change.
    pub(super) fn make(&self, points: &mut Points<'_>) -> Result<(), ChangeError> {
        for folder in [
            &self.folder,
            &self.folder.join("new"),
            &self.folder.join("old"),
        ] {
            points.reach()?;
            fs::create_dir(folder).map_err(fail(folder, "made"))?;
        }
        Ok(())
    }

    /// Writes the record: from here on the change is going to be made.
    pub(super) fn begin(
        &self,
        record: &Record,
        points: &mut Points<'_>,
    ) -> Result<(), ChangeError> {
        let path = self.folder.join(State::Begun.file());
        let text = serde_json::to_vec_pretty(record).map_err(|e| ChangeError::Disk {
            path: path.clone(),
            tried: "written",
            source: e.into(),
        })?;
        points.reach()?;
        write_whole(&path, &text)
    }

    pub(super) fn pass(
        &self,
        from: State,
        to: State,
        points: &mut Points<'_>,
    ) -> Result<(), ChangeError> {
        points.reach()?;
        rename(&self.folder.join(from.file()), &self.folder.join(to.file()))
    }

    /// Reads the record of a change in this state.
    pub(super) fn read(&self, state: State) -> Result<Record, ChangeError> {
        let path = self.folder.join(state.file());
        let stuck = |why: String| ChangeError::Stuck {
            what: path.display().to_string(),
            why,
        };
        let bytes = fs::read(&path).map_err(fail(&path, "read"))?;
        let record: Record = serde_json::from_slice(&bytes).map_err(|e| stuck(e.to_string()))?;
        if record.version > VERSION {
            return Err(stuck(
                "it was written by a newer Footring: use that one".to_owned(),
            ));
        }
        match record.steps.iter().all(Step::is_inside) {
            true => Ok(record),
            false => Err(stuck("it names a place outside the library".to_owned())),
        }
    }
}

impl Step {
    /// Whether every place lies inside the library and is none of the hidden ones.
    fn is_inside(&self) -> bool {
        let places: Vec<&str> = match self {
            Self::Put { at, .. } | Self::Folder { at } | Self::Drop { at } => vec![at],
            Self::Away { from, .. } => vec![from],
            Self::Move { from, to } => vec![from, to],
        };
        let plain = |part: Component<'_>| match part {
            Component::Normal(name) => !name.as_encoded_bytes().starts_with(b"."),
            _ => false,
        };
        let inside = |place: &&str| !place.is_empty() && Path::new(place).components().all(plain);
        places.iter().all(inside)
    }
}

/// The changes of a library, oldest first.
pub(super) fn places(root: &Path) -> Result<Vec<Place>, ChangeError> {
    let folder = root.join(CHANGES);
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let entries = fs::read_dir(&folder).map_err(fail(&folder, "read"))?;
    let mut numbers: Vec<u32> = entries
        .flatten()
        .filter_map(|e| e.file_name().to_str()?.parse().ok())
        .collect();
    numbers.sort_unstable();
    Ok(numbers.into_iter().map(|n| Place::of(root, n)).collect())
}

/// The folder that the next change gets.
pub(super) fn next_place(root: &Path) -> Result<Place, ChangeError> {
    let last = places(root)?.last().map_or(0, |p| p.number);
    Ok(Place::of(root, last + 1))
}

/// Held by the one program that changes a library; the system frees it when that program dies.
#[derive(Debug)]
pub struct Hold(#[expect(dead_code, reason = "it is held, not read")] File);

/// Waits for its turn to change the library; as long as it is held, nobody else does.
///
/// # Errors
/// Where the disk refuses.
pub fn hold(root: &Path) -> Result<Hold, ChangeError> {
    let folder = root.join(CHANGES);
    fs::create_dir_all(&folder).map_err(fail(&folder, "made"))?;
    let path = folder.join("lock");
    let file = File::options()
        .write(true)
        .create(true)
        .truncate(false)
        .open(&path)
        .map_err(fail(&path, "opened"))?;
    file.lock().map_err(fail(&path, "locked"))?;
    Ok(Hold(file))
}

/// A change that was made, for a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    pub number: u32,
    pub kind: Kind,
    /// In a few words.
    pub what: String,
    /// When it was made, as handed in.
    pub time: String,
    /// Ids that lead to no family without it.
    pub brings: Vec<String>,
    /// It was taken back.
    pub undone: bool,
}

/// All changes of a library that are on record, oldest first.
///
/// # Errors
/// Where the records cannot be read.
pub fn changes(root: &Path) -> Result<Vec<Change>, ChangeError> {
    let mut found = Vec::new();
    for place in places(root)? {
        let Some(state) = place.state() else { continue };
        let record = place.read(state)?;
        found.push(Change {
            number: place.number,
            kind: record.kind,
            what: record.what,
            time: record.time,
            brings: record.brings,
            undone: matches!(state, State::Undone | State::Undoing),
        });
    }
    Ok(found)
}
