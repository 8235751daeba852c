//! Making a planned change.

use std::fs;
use std::path::Path;

use super::disk::{create, fail, is_bare, is_there, rename, sync_folder_of};
use super::feasible::{Direction, feasible};
use super::record::{Place, Record, State, VERSION, hold, next_place};
use super::settle::{backwards, settle_locked};
use super::{ChangeError, Content, Cut, Draft, Points, Step, Watch};

/// A change that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Done {
    pub number: u32,
    /// How many writes it took.
    pub writes: usize,
}

/// Makes the change; `time` is written into its record.
///
/// # Errors
/// Where the disk refuses or the library is no longer as it was when the change was planned. The library is then as
/// it was before.
pub fn carry_out(root: &Path, draft: Draft, time: &str) -> Result<Done, ChangeError> {
    carry_out_watched(root, draft, time, &mut |_| Ok::<(), Cut>(()))
}

/// The same, with a watch on the writes.
///
/// # Errors
/// As [`carry_out`], and `Cut` where the watch wants it.
pub fn carry_out_watched(
    root: &Path,
    draft: Draft,
    time: &str,
    watch: Watch<'_>,
) -> Result<Done, ChangeError> {
    let _turn = hold(root)?;
    settle_locked(root, &mut Points::new(&mut |_| Ok(())))?;
    let place = next_place(root)?;
    let mut points = Points::new(watch);
    let record = prepare(&place, draft, time, &mut points).inspect_err(|why| {
        // Nothing of the library has been touched. A cut stands for a death, which tidies nothing up.
        if !matches!(why, ChangeError::Cut { .. }) {
            let _ = fs::remove_dir_all(&place.folder);
        }
    })?;
    let made = forwards(&place, &record, &mut points)
        .and_then(|()| place.pass(State::Begun, State::Made, &mut points));
    match made {
        Ok(()) => Ok(Done {
            number: place.number,
            writes: points.next,
        }),
        Err(cut @ ChangeError::Cut { .. }) => Err(cut),
        Err(why) => {
            place.pass(State::Begun, State::Undoing, &mut points)?;
            backwards(&place, &record, &mut points)?;
            place.pass(State::Undoing, State::Undone, &mut points)?;
            Err(why)
        }
    }
}

/// Writes all that is new, and then the record.
fn prepare(
    place: &Place,
    draft: Draft,
    time: &str,
    points: &mut Points<'_>,
) -> Result<Record, ChangeError> {
    let mut record = Record {
        version: VERSION,
        kind: draft.kind,
        what: draft.what,
        time: time.to_owned(),
        brings: draft.brings,
        steps: draft.steps,
    };
    place.make(points)?;
    for (number, content) in draft.new.into_iter().enumerate() {
        points.reach()?;
        let bytes = match content {
            Content::Bytes(bytes) => bytes,
            Content::CopyOf(path) => fs::read(&path).map_err(fail(&path, "read"))?,
        };
        create(&place.put(number), &bytes)?;
        let own = |step: &&mut Step| matches!(step, Step::Put { new, .. } if *new == number);
        if let Some(Step::Put { hash, .. }) = record.steps.iter_mut().find(own) {
            *hash = blake3::hash(&bytes).to_hex().to_string();
        }
    }
    sync_folder_of(&place.put(0));
    feasible(place, &record.steps, Direction::Forwards)
        .map_err(|why| ChangeError::MovedOn { why })?;
    place.begin(&record, points)?;
    Ok(record)
}

/// Makes the steps that are not made yet.
pub(super) fn forwards(
    place: &Place,
    record: &Record,
    points: &mut Points<'_>,
) -> Result<(), ChangeError> {
    for step in &record.steps {
        if is_made(place, step) {
            continue;
        }
        points.reach()?;
        match step {
            Step::Put { new, at, .. } => shift(&place.put(*new), &place.at(at))?,
            Step::Away { from, old } => shift(&place.at(from), &place.old(*old))?,
            Step::Move { from, to } => shift(&place.at(from), &place.at(to))?,
            Step::Folder { at } => make_folder(&place.at(at))?,
            Step::Drop { at } => drop_folder(&place.at(at))?,
        }
    }
    Ok(())
}

/// Whether a step is made. A folder that cannot be dropped any more, since something lies in it, need not be.
pub(super) fn is_made(place: &Place, step: &Step) -> bool {
    match step {
        Step::Put { new, .. } => !is_there(&place.put(*new)),
        Step::Away { old, .. } => is_there(&place.old(*old)),
        Step::Move { from, to } => is_there(&place.at(to)) && !is_there(&place.at(from)),
        Step::Folder { at } => place.at(at).is_dir(),
        Step::Drop { at } => !is_bare(&place.at(at)),
    }
}

/// Moves something to a place that must be free.
pub(super) fn shift(from: &Path, to: &Path) -> Result<(), ChangeError> {
    if is_there(to) {
        return Err(ChangeError::MovedOn {
            why: format!("{} is there already", to.display()),
        });
    }
    if let Some(folder) = to.parent() {
        fs::create_dir_all(folder).map_err(fail(folder, "made"))?;
    }
    rename(from, to)
}

pub(super) fn make_folder(folder: &Path) -> Result<(), ChangeError> {
    fs::create_dir_all(folder).map_err(fail(folder, "made"))?;
    sync_folder_of(folder);
    Ok(())
}

/// Removes a folder in which nothing lies. Notes of other programs, which begin with a dot, keep it.
pub(super) fn drop_folder(folder: &Path) -> Result<(), ChangeError> {
    let _ = fs::remove_dir(folder);
    sync_folder_of(folder);
    Ok(())
}
