//! Photo after photo looked at and kept, under the eyes of whoever watches.

use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Mutex;

use super::carried::carry;
use super::look::{Look, Seeing, look};
use super::opened::{Opened, now};
use super::remarks::told_codes;
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::identify::Settings;
use crate::in_order::in_order;
use crate::workspace::{CacheKey, Seen, Sighted, WorkspaceError, readable_file_name};

/// What became of the files.
#[derive(Debug, Default)]
pub(crate) struct Tally {
    new: usize,
    known: usize,
    moved: usize,
    copies: usize,
    pub(crate) looked_at: usize,
    pub(crate) unreadable: usize,
    /// The new ones, with their files' names.
    pub(crate) arrived: Vec<(ContentHash, String)>,
}

/// Whoever watches work on many photos; called from all threads of the work.
pub(crate) trait Watch: Sync {
    /// How many steps there are.
    fn total(&self, steps: usize);
    /// Asked on the working thread before each photo; may wait. False where nothing new may be begun.
    fn may_begin(&self) -> bool;
    /// A photo was looked at.
    fn looked(&self, looked: &Look);
    /// A step of another kind was done.
    fn step(&self);
    /// Something that a person should hear of.
    fn trouble(&self, told: &str);
}

impl Tally {
    /// What there is to tell, each with its number.
    pub(crate) fn told(&self) -> Vec<String> {
        let counted = [
            ("new", self.new),
            ("known before", self.known),
            ("found at a new place", self.moved),
            ("copies left out", self.copies),
            ("not opened", self.unreadable),
            ("looked at", self.looked_at),
        ];
        let some = counted.iter().filter(|(_, n)| *n > 0);
        some.map(|(what, n)| format!("{what}: {n}")).collect()
    }
}

/// One a core unless told otherwise.
pub(crate) fn jobs(told: Option<NonZeroUsize>) -> usize {
    told.or_else(|| std::thread::available_parallelism().ok())
        .map_or(1, NonZeroUsize::get)
}

/// Which lot photos are looked at for, and how.
pub(crate) struct Each<'a> {
    pub(crate) lot: &'a str,
    pub(crate) key: &'a CacheKey,
    pub(crate) jobs: usize,
}

/// Looks at each photo and keeps what was found, one after the other; true where it was stopped.
pub(crate) fn each_photo(
    opened: &mut Opened,
    each: &Each<'_>,
    photos: Vec<PathBuf>,
    tally: &mut Tally,
    watch: &dyn Watch,
) -> Result<bool, Failure> {
    let references = opened.references(each.jobs);
    let own = opened.workspace.photos(each.lot)?.into_iter();
    let own = own.map(|s| s.hash).collect();
    carry(opened, &references, each.key, each.jobs, Some(&own))?;
    let answered = Mutex::new(opened.cache.answered(each.key)?);
    let (codes, lost) = told_codes(&opened.library);
    opened.gaps |= lost;
    let settings = Settings {
        crops: true,
        codes,
        ..Settings::default()
    };
    let seeing = Seeing {
        references: &references,
        settings: &settings,
        answered: &answered,
    };
    watch.total(photos.len());
    // What was not begun when the person asked to stop is left for the next run.
    let work = |path: PathBuf| watch.may_begin().then(|| look(&path, &seeing));
    let stopped = in_order(photos, each.jobs, work, |result| {
        let looked = match result {
            Ok(Some(looked)) => looked,
            Ok(None) => return ControlFlow::Break(Ok(())),
            // `look` guards what may panic, so this is a fault of our own.
            Err(panicked) => {
                watch.trouble(&panicked.message);
                tally.unreadable += 1;
                return ControlFlow::Continue(());
            }
        };
        let kept = keep(opened, each.lot, each.key, &looked, tally);
        watch.looked(&looked);
        match kept {
            Ok(()) => ControlFlow::Continue(()),
            Err(failed) => ControlFlow::Break(Err(failed)),
        }
    })
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))?;
    match stopped {
        None => Ok(false),
        Some(Ok(())) => Ok(true),
        Some(Err(failed)) => Err(failed.into()),
    }
}

/// Keeps one photo: its answer first, so that a photo in the lot is never without one.
fn keep(
    opened: &mut Opened,
    lot: &str,
    key: &CacheKey,
    looked: &Look,
    tally: &mut Tally,
) -> Result<(), WorkspaceError> {
    let Some(hash) = &looked.hash else {
        tally.unreadable += 1;
        return Ok(());
    };
    if let Some(fresh) = &looked.fresh {
        tally.looked_at += 1;
        opened.cache.keep(
            hash,
            key,
            &fresh.answer,
            &fresh.crops,
            fresh.thumbnail.as_deref(),
        )?;
    }
    let seen = Seen {
        hash: hash.clone(),
        path: looked.path.clone(),
        taken: looked.taken.clone(),
    };
    match opened.workspace.sight(now(), lot, &seen)? {
        Sighted::New => {
            tally.new += 1;
            let name = readable_file_name(&looked.path);
            tally.arrived.push((hash.clone(), name));
        }
        Sighted::Known => tally.known += 1,
        Sighted::Moved => tally.moved += 1,
        Sighted::Copy => tally.copies += 1,
    }
    Ok(())
}
