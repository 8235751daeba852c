//! What a crash left is brought to its end, and changes are taken back.

use std::fs;
use std::path::Path;

use super::carry::{drop_folder, forwards, is_made, make_folder, shift};
use super::disk::fail;
use super::feasible::{Direction, feasible};
use super::record::{Change, Place, Record, State, changes, hold, places};
use super::{CHANGES, ChangeError, Cut, Points, Step, Watch};

/// A change that was cut short and is settled now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settled {
    pub what: String,
    /// It was made; else it was taken back.
    pub made: bool,
}

/// Brings what was cut short to its end: forwards where all was written down, or else backwards. A program that is at
/// work on the library is waited for.
///
/// # Errors
/// `Stuck` where something stands in the way both ways, and where the disk refuses.
pub fn settle(root: &Path, watch: Watch<'_>) -> Result<Vec<Settled>, ChangeError> {
    if !is_open(root)? {
        return Ok(Vec::new());
    }
    let _turn = hold(root)?;
    settle_locked(root, &mut Points::new(watch))
}

fn is_open(root: &Path) -> Result<bool, ChangeError> {
    let open = |p: &Place| !matches!(p.state(), Some(State::Made | State::Undone));
    Ok(root.join(CHANGES).is_dir() && places(root)?.iter().any(open))
}

pub(super) fn settle_locked(
    root: &Path,
    points: &mut Points<'_>,
) -> Result<Vec<Settled>, ChangeError> {
    let mut settled = Vec::new();
    for place in places(root)? {
        match place.state() {
            Some(State::Made | State::Undone) => {}
            // The list was never written, so nothing of the library was touched.
            None => {
                points.reach()?;
                fs::remove_dir_all(&place.folder).map_err(fail(&place.folder, "removed"))?;
            }
            Some(State::Begun) => settled.push(finish(&place, points)?),
            Some(State::Undoing) => {
                let record = place.read(State::Undoing)?;
                take_back(&place, &record, points)?;
                let what = record.what;
                settled.push(Settled { what, made: false });
            }
        }
    }
    Ok(settled)
}

fn finish(place: &Place, points: &mut Points<'_>) -> Result<Settled, ChangeError> {
    let record = place.read(State::Begun)?;
    match forwards(place, &record, points) {
        Ok(()) => {
            place.pass(State::Begun, State::Made, points)?;
            let what = record.what;
            Ok(Settled { what, made: true })
        }
        Err(cut @ ChangeError::Cut { .. }) => Err(cut),
        Err(_) => {
            place.pass(State::Begun, State::Undoing, points)?;
            take_back(place, &record, points)?;
            let what = record.what;
            Ok(Settled { what, made: false })
        }
    }
}

fn take_back(place: &Place, record: &Record, points: &mut Points<'_>) -> Result<(), ChangeError> {
    backwards(place, record, points).map_err(|why| match why {
        ChangeError::MovedOn { why } => ChangeError::Stuck {
            what: record.what.clone(),
            why,
        },
        other => other,
    })?;
    place.pass(State::Undoing, State::Undone, points)
}

/// Takes the steps back that are made, the last one first.
pub(super) fn backwards(
    place: &Place,
    record: &Record,
    points: &mut Points<'_>,
) -> Result<(), ChangeError> {
    for step in record.steps.iter().rev() {
        let still = match step {
            // Of these two it cannot be told that they are taken back already; to do it again does no harm.
            Step::Folder { .. } | Step::Drop { .. } => true,
            _ => is_made(place, step),
        };
        if !still {
            continue;
        }
        points.reach()?;
        match step {
            Step::Put { new, at, .. } => shift(&place.at(at), &place.put(*new))?,
            Step::Away { from, old } => shift(&place.old(*old), &place.at(from))?,
            Step::Move { from, to } => shift(&place.at(to), &place.at(from))?,
            Step::Folder { at } => drop_folder(&place.at(at))?,
            Step::Drop { at } => make_folder(&place.at(at))?,
        }
    }
    Ok(())
}

/// A change that was taken back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undone {
    pub change: Change,
    /// How many writes it took.
    pub writes: usize,
}

/// The change that [`undo`] would take back: the last one that was not yet.
///
/// # Errors
/// Where the records cannot be read.
pub fn next_undo(root: &Path) -> Result<Option<Change>, ChangeError> {
    Ok(changes(root)?.into_iter().rev().find(|c| !c.undone))
}

/// Takes the last change back that was not yet.
///
/// # Errors
/// `NothingToUndo`; `LaterChange` where what it made was changed by hand since; where the disk refuses.
pub fn undo(root: &Path) -> Result<Undone, ChangeError> {
    undo_watched(root, &mut |_| Ok::<(), Cut>(()))
}

/// The same, with a watch on the writes.
///
/// # Errors
/// As [`undo`], and `Cut` where the watch wants it.
pub fn undo_watched(root: &Path, watch: Watch<'_>) -> Result<Undone, ChangeError> {
    let _turn = hold(root)?;
    settle_locked(root, &mut Points::new(&mut |_| Ok(())))?;
    let change = next_undo(root)?.ok_or(ChangeError::NothingToUndo)?;
    let number = |p: &Place| p.number == change.number;
    let place = places(root)?.into_iter().find(number);
    let place = place.ok_or(ChangeError::NothingToUndo)?;
    let record = place.read(State::Made)?;
    feasible(&place, &record.steps, Direction::Backwards).map_err(|why| {
        let what = record.what.clone();
        ChangeError::LaterChange { what, why }
    })?;
    let mut points = Points::new(watch);
    place.pass(State::Made, State::Undoing, &mut points)?;
    backwards(&place, &record, &mut points)?;
    place.pass(State::Undoing, State::Undone, &mut points)?;
    Ok(Undone {
        change,
        writes: points.next,
    })
}
