//! Whether all steps of a change can be made, before the first one is.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::Step;
use super::disk::is_there;
use super::record::Place;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Direction {
    Forwards,
    Backwards,
}

/// The disk as it will be after some steps.
struct Ahead<'p> {
    place: &'p Place,
    told: BTreeMap<PathBuf, bool>,
}

impl Ahead<'_> {
    fn is_there(&self, path: &Path) -> bool {
        self.told
            .get(path)
            .copied()
            .unwrap_or_else(|| is_there(path))
    }

    fn shift(&mut self, from: PathBuf, to: PathBuf) -> Result<(), String> {
        if !self.is_there(&from) {
            return Err(format!("{} is gone", from.display()));
        }
        if self.is_there(&to) {
            return Err(format!("{} is there already", to.display()));
        }
        self.told.insert(from, false);
        self.told.insert(to, true);
        Ok(())
    }
}

/// Says what stands in the way, if anything.
pub(super) fn feasible(place: &Place, steps: &[Step], direction: Direction) -> Result<(), String> {
    let mut ahead = Ahead {
        place,
        told: BTreeMap::new(),
    };
    match direction {
        Direction::Forwards => steps.iter().try_for_each(|step| ahead.make(step)),
        Direction::Backwards => {
            steps.iter().try_for_each(|s| ahead.untouched(s, steps))?;
            steps.iter().rev().try_for_each(|s| ahead.take_back(s))
        }
    }
}

impl Ahead<'_> {
    fn make(&mut self, step: &Step) -> Result<(), String> {
        let place = self.place;
        match step {
            Step::Put { new, at, .. } => self.shift(place.put(*new), place.at(at)),
            Step::Away { from, old } => self.shift(place.at(from), place.old(*old)),
            Step::Move { from, to } => self.shift(place.at(from), place.at(to)),
            Step::Folder { at } => {
                self.told.insert(place.at(at), true);
                Ok(())
            }
            Step::Drop { .. } => Ok(()),
        }
    }

    fn take_back(&mut self, step: &Step) -> Result<(), String> {
        let place = self.place;
        match step {
            Step::Put { new, at, .. } => self.shift(place.at(at), place.put(*new)),
            Step::Away { from, old } => self.shift(place.old(*old), place.at(from)),
            Step::Move { from, to } => self.shift(place.at(to), place.at(from)),
            Step::Folder { .. } | Step::Drop { .. } => Ok(()),
        }
    }

    /// What was put there is still what was put there, and nothing was laid beside it in a family's new folder.
    fn untouched(&self, step: &Step, steps: &[Step]) -> Result<(), String> {
        match step {
            Step::Put { at, hash, .. } => {
                let path = self.place.at(at);
                let bytes = std::fs::read(&path).map_err(|e| format!("{}: {e}", path.display()))?;
                match blake3::hash(&bytes).to_hex().as_str() == hash {
                    true => Ok(()),
                    false => Err(format!("{} was changed since", path.display())),
                }
            }
            Step::Folder { at } if at.contains('/') => self.nothing_more(at, steps),
            _ => Ok(()),
        }
    }

    fn nothing_more(&self, folder: &str, steps: &[Step]) -> Result<(), String> {
        let own = |path: &str| {
            steps.iter().any(|s| match s {
                Step::Put { at, .. } | Step::Folder { at } => at == path,
                Step::Move { to, .. } => to == path,
                Step::Away { .. } | Step::Drop { .. } => false,
            })
        };
        let entries = std::fs::read_dir(self.place.at(folder));
        for entry in entries.into_iter().flatten().flatten() {
            let name = entry.file_name();
            let name = name.to_string_lossy();
            if !name.starts_with('.') && !own(&format!("{folder}/{name}")) {
                let path = entry.path();
                return Err(format!("{} was put there since", path.display()));
            }
        }
        Ok(())
    }
}
