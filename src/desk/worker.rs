//! The one thread that does what takes minutes, one piece of work after the other.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use super::job::{self, Folder, Jobs, Work};
use super::room::Room;
use crate::failure::Failure;
use crate::folder;
use crate::report::{self, family_name};
use crate::service::gathered::Gathered;
use crate::service::intake::{Each, Tally, Watch, each_photo};
use crate::service::look_again::look_again;
use crate::service::opened::{Opened, Remarks, now};
use crate::workspace::{readable, readable_path};

/// Works until the desk ends.
pub(super) fn run(room: &Arc<Room>, jobs: &Arc<Jobs>) {
    while let Some(work) = jobs.next() {
        let done = match &work {
            Work::Intake(folder) => intake(room, jobs, folder),
            Work::Strangers => strangers(room, jobs),
            Work::LookAgain(family) => again(room, jobs, family),
        };
        // Before it is told, so that a page that looks anew sees what has changed.
        refresh(room);
        match done {
            Ok(told) => jobs.finish("done", told),
            Err(failure) => {
                let hint = failure.hint.as_ref().map(|h| format!(": {h}"));
                jobs.finish("failed", format!("{failure}{}", hint.unwrap_or_default()));
            }
        }
    }
}

/// Reads the library anew where work has found it changed.
fn refresh(room: &Room) {
    let known = room.open().key.clone();
    let now = Opened::new(Some(&room.root), Remarks::Errors).map(|o| o.key());
    if now.is_ok_and(|now| now != known)
        && let Err(failure) = room.reopen()
    {
        crate::console::warning(&failure);
    }
}

fn intake(room: &Room, jobs: &Jobs, work: &Folder) -> Result<String, Failure> {
    jobs.begin(
        format!("Taking in {}", readable_path(&work.folder)),
        Some(readable(&work.lot)),
    );
    job::note(&room.root, work);
    let mut opened = Opened::new(Some(&room.root), Remarks::Errors)?;
    let photos = match photos_in(&room.root, &work.folder, jobs) {
        Ok(photos) => photos,
        Err(failure) => {
            job::unnote(&room.root, work);
            return Err(failure);
        }
    };
    let (date, place) = (work.date.as_deref(), work.place.as_deref());
    opened.workspace.add_lot(now(), &work.lot, date, place)?;
    let key = opened.key();
    let mut tally = Tally::default();
    let each = Each {
        lot: &work.lot,
        key: &key,
        jobs: job::engine_jobs(),
    };
    let stopped = each_photo(&mut opened, &each, photos, &mut tally, jobs)?;
    if stopped {
        return Ok("stopped; it goes on with the next start".to_owned());
    }
    job::unnote(&room.root, work);
    let told = tally.told().join(", ");
    Ok(match told.is_empty() {
        true => "no photos found".to_owned(),
        false => told,
    })
}

/// The photos of the folder, without those of the workspace's own library.
fn photos_in(root: &Path, folder: &Path, jobs: &Jobs) -> Result<Vec<std::path::PathBuf>, Failure> {
    if !folder.is_dir() {
        return Err(Failure::new(
            &format!("there is no folder {}", readable_path(folder)),
            None,
        ));
    }
    let mut listing = folder::list(&[folder.to_owned()]);
    for obstacle in &listing.obstacles {
        jobs.trouble(&say_obstacle(obstacle));
    }
    let library = root.join(crate::workspace::LIBRARY);
    listing.photos.retain(|path| !path.starts_with(&library));
    Ok(listing.photos)
}

fn say_obstacle(obstacle: &folder::Obstacle) -> String {
    use folder::Obstacle;
    match obstacle {
        Obstacle::Closed { path, detail } => format!("{}: {detail}", readable_path(path)),
        Obstacle::Loop { path, .. } => {
            format!("{}: a link back to a folder above it", readable_path(path))
        }
        Obstacle::Mislabelled { path } => {
            format!(
                "{}: called like a photo, and by its content none",
                readable_path(path)
            )
        }
        Obstacle::SameShot { path, .. } => {
            format!(
                "{}: left out, its shot is here as a JPEG",
                readable_path(path)
            )
        }
    }
}

fn strangers(room: &Room, jobs: &Jobs) -> Result<String, Failure> {
    jobs.begin(
        "Comparing the marks that the library does not know".to_owned(),
        None,
    );
    let mut opened = Opened::new(Some(&room.root), Remarks::Errors)?;
    let gathered = Gathered::watched(&mut opened, &[], job::engine_jobs(), jobs)?;
    let groups = gathered
        .grouping
        .groups
        .iter()
        .filter(|g| g.marks.len() > 1)
        .count();
    Ok(format!(
        "{} marks compared, {groups} groups of several",
        gathered.marks.len()
    ))
}

fn again(room: &Room, jobs: &Jobs, family: &str) -> Result<String, Failure> {
    let mut opened = Opened::new(Some(&room.root), Remarks::Errors)?;
    let name = opened.library.name_of(family);
    jobs.begin(
        format!("Looking for {} among the open marks", readable(&name)),
        None,
    );
    let looked = look_again(&mut opened, &BTreeSet::new(), job::engine_jobs(), jobs)?;
    if looked.stopped {
        return Ok("stopped; the intakes, run again, look at the rest".to_owned());
    }
    let named = named(&opened, family)?;
    let away = match looked.away {
        0 => String::new(),
        n => format!("; not where they were: {}", report::photos(n)),
    };
    Ok(format!(
        "{} names {} more; looked again at {}{away}",
        readable(&family_name(
            &crate::service::opened::names(&opened.library),
            family
        )),
        report::photos(named),
        report::photos(looked.looked_at)
    ))
}

/// Marks that the program names by a family and nobody has decided on.
fn named(opened: &Opened, family: &str) -> Result<usize, Failure> {
    let (key, mut count) = (opened.key(), 0);
    for lot in opened.workspace.lots()? {
        let sheet = opened.sheet(&lot.name, &key)?;
        let rows = sheet.rows.iter();
        let by = |r: &&report::Row| {
            r.decision.is_none()
                && r.holds == crate::answer::Verdict::Named
                && r.family.as_deref() == Some(family)
        };
        count += rows.filter(by).count();
    }
    Ok(count)
}
