//! Work that takes minutes: taking a folder in, comparing strangers, looking again after a new family.
//!
//! One piece of work at a time, on threads of its own and of lower rank than those that answer. What is under
//! way is written to a file of the workspace, so that a restart goes on with it.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};

use crate::report::heading;
use crate::service::intake::Watch;
use crate::service::look::Look;
use crate::workspace::readable_path;

/// A folder to take in, as it is kept over a restart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Folder {
    pub(super) folder: PathBuf,
    pub(super) lot: String,
    #[serde(default)]
    pub(super) date: Option<String>,
    #[serde(default)]
    pub(super) place: Option<String>,
    #[serde(default)]
    pub(super) paused: bool,
}

/// What is to be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Work {
    Intake(Folder),
    Strangers,
    /// Open marks are looked at again with this new family.
    LookAgain(String),
}

/// How far it is, as pages show it.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub(super) struct Progress {
    /// `idle`, `running`, `paused`, `done` or `failed`.
    pub(super) state: &'static str,
    /// What is being done, in words.
    pub(super) what: String,
    pub(super) lot: Option<String>,
    pub(super) done: usize,
    /// 0 where it is not known yet.
    pub(super) total: usize,
    /// Photos a second of late.
    pub(super) rate: Option<f64>,
    pub(super) seconds_left: Option<f64>,
    /// How it ended, or why it failed.
    pub(super) told: Option<String>,
    /// What was found in this run, each pile with its number.
    pub(super) piles: Vec<(&'static str, usize)>,
    /// Files that could not be read, the latest last.
    pub(super) troubles: Vec<String>,
    /// Further work that waits.
    pub(super) waiting: usize,
    /// Grows with everything that ends, so that a page knows when to look anew.
    pub(super) ended: u64,
}

/// Troubles that are kept for the page.
const TROUBLES_KEPT: usize = 20;
/// The rate is that of so many last photos: the first ones of a run are slower.
const RATE_OVER: usize = 20;

#[derive(Debug, Default)]
struct State {
    progress: Progress,
    queue: VecDeque<Work>,
    paused: bool,
    ending: bool,
    /// When each of the last photos was done.
    times: VecDeque<Instant>,
}

/// The queue of work and what pages may know of it.
#[derive(Debug, Default)]
pub(super) struct Jobs {
    state: Mutex<State>,
    changed: Condvar,
}

impl Jobs {
    pub(super) fn new() -> Arc<Self> {
        let jobs = Self::default();
        jobs.lock().progress.state = "idle";
        Arc::new(jobs)
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn progress(&self) -> Progress {
        let state = self.lock();
        let mut progress = state.progress.clone();
        progress.waiting = state.queue.len();
        if state.paused && progress.state == "running" {
            progress.state = "paused";
        }
        progress
    }

    /// Adds work unless the same is waiting.
    pub(super) fn add(&self, work: Work) {
        let mut state = self.lock();
        if !state.queue.contains(&work) {
            state.queue.push_back(work);
        }
        self.changed.notify_all();
    }

    pub(super) fn pause(&self, paused: bool) {
        self.lock().paused = paused;
        self.changed.notify_all();
    }

    pub(super) fn is_paused(&self) -> bool {
        self.lock().paused
    }

    /// From here on nothing is begun.
    pub(super) fn end(&self) {
        self.lock().ending = true;
        self.changed.notify_all();
    }

    /// Waits for work; `None` at the end.
    pub(super) fn next(&self) -> Option<Work> {
        let mut state = self.lock();
        loop {
            if state.ending {
                return None;
            }
            if let Some(work) = state.queue.pop_front() {
                return Some(work);
            }
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }

    pub(super) fn begin(&self, what: String, lot: Option<String>) {
        let mut state = self.lock();
        state.times.clear();
        state.progress = Progress {
            state: "running",
            what,
            lot,
            ended: state.progress.ended,
            ..Progress::default()
        };
    }

    pub(super) fn finish(&self, state_word: &'static str, told: String) {
        let mut state = self.lock();
        state.progress.state = state_word;
        state.progress.told = Some(told);
        state.progress.seconds_left = None;
        state.progress.ended += 1;
    }
}

impl Watch for Jobs {
    fn total(&self, photos: usize) {
        self.lock().progress.total = photos;
    }

    /// Waits while the person has paused; false at the end.
    fn may_begin(&self) -> bool {
        lower_rank();
        let mut state = self.lock();
        while state.paused && !state.ending {
            state.times.clear();
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
        !state.ending
    }

    fn looked(&self, looked: &Look) {
        let mut state = self.lock();
        state.progress.done += 1;
        let now = Instant::now();
        state.times.push_back(now);
        while state.times.len() > RATE_OVER + 1 {
            state.times.pop_front();
        }
        let span = state
            .times
            .front()
            .map_or(Duration::ZERO, |first| now - *first)
            .as_secs_f64();
        let rate =
            (state.times.len() > 2 && span > 0.0).then(|| (state.times.len() - 1) as f64 / span);
        let left = state.progress.total.saturating_sub(state.progress.done) as f64;
        state.progress.rate = rate;
        state.progress.seconds_left = rate.map(|r| left / r);
        if let Some(fresh) = &looked.fresh {
            let pile = heading(fresh.answer.verdict);
            let piles = &mut state.progress.piles;
            match piles.iter_mut().find(|p| p.0 == pile) {
                Some(known) => known.1 += 1,
                None => piles.push((pile, 1)),
            }
        }
        if let Some(failure) = &looked.failure {
            trouble(
                &mut state,
                format!("{}: {failure}", readable_path(&looked.path)),
            );
        }
    }

    fn step(&self) {
        self.lock().progress.done += 1;
    }

    fn trouble(&self, told: &str) {
        trouble(&mut self.lock(), told.to_owned());
    }
}

fn trouble(state: &mut State, told: String) {
    let troubles = &mut state.progress.troubles;
    troubles.push(told);
    if troubles.len() > TROUBLES_KEPT {
        troubles.remove(0);
    }
}

/// How far below the threads that answer those of the engine rank (nice value on Linux): at 10 the scheduler
/// gives an answering thread about ten times the share of an engine's, and one that was asleep runs at once.
#[cfg(target_os = "linux")]
const RANK_BELOW: i32 = 10;

/// Lets the present thread give way to those that answer. Elsewhere than on Linux rank is a matter of the
/// whole process, and the engine leaves one core alone instead.
fn lower_rank() {
    #[cfg(target_os = "linux")]
    {
        use std::cell::Cell;
        thread_local!(static LOWERED: Cell<bool> = const { Cell::new(false) });
        if !LOWERED.get() {
            // The calling thread only: Linux counts threads as processes here. A refusal costs speed, no more.
            let _ = rustix::process::setpriority_process(None, RANK_BELOW);
            LOWERED.set(true);
        }
    }
}

/// Threads for the engine.
pub(super) fn engine_jobs() -> usize {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get);
    match cfg!(target_os = "linux") {
        true => cores,
        false => cores.saturating_sub(1).max(1),
    }
}

/// The file of what is under way.
const FILE: &str = "desk.json";

/// The folders that a former start had not finished.
pub(super) fn unfinished(root: &Path) -> Vec<Folder> {
    let text = std::fs::read(root.join(FILE)).unwrap_or_default();
    serde_json::from_slice(&text).unwrap_or_default()
}

/// Writes down that a folder is to be taken in.
pub(super) fn note(root: &Path, work: &Folder) {
    let mut folders = unfinished(root);
    if !folders
        .iter()
        .any(|f| f.folder == work.folder && f.lot == work.lot)
    {
        folders.push(work.clone());
        write_unfinished(root, &folders);
    }
}

/// Writes down that it was.
pub(super) fn unnote(root: &Path, work: &Folder) {
    let mut folders = unfinished(root);
    folders.retain(|f| f.folder != work.folder || f.lot != work.lot);
    write_unfinished(root, &folders);
}

/// Writes down whether the person has paused.
pub(super) fn note_paused(root: &Path, paused: bool) {
    let mut folders = unfinished(root);
    folders.iter_mut().for_each(|f| f.paused = paused);
    write_unfinished(root, &folders);
}

/// Writes down which folders are not finished. A failure is no reason to stop: photos that were answered are
/// not looked at again anyway.
pub(super) fn write_unfinished(root: &Path, folders: &[Folder]) {
    let file = root.join(FILE);
    if folders.is_empty() {
        let _ = std::fs::remove_file(file);
        return;
    }
    let Ok(text) = serde_json::to_vec_pretty(folders) else {
        return;
    };
    let written = tempfile::NamedTempFile::new_in(root).and_then(|mut f| {
        std::io::Write::write_all(&mut f, &text)?;
        f.persist(&file).map_err(|e| e.error)
    });
    if let Err(e) = written {
        crate::console::warning(&format!("{}: not written ({e})", readable_path(&file)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_waits_its_turn_and_the_same_is_not_queued_twice() {
        let jobs = Jobs::new();
        jobs.add(Work::Strangers);
        jobs.add(Work::Strangers);
        assert_eq!(jobs.progress().waiting, 1);
        assert_eq!(jobs.next(), Some(Work::Strangers));
        jobs.begin("comparing".into(), None);
        assert_eq!(jobs.progress().state, "running");
        jobs.pause(true);
        assert_eq!(jobs.progress().state, "paused");
        jobs.end();
        assert_eq!(jobs.next(), None);
        assert!(!jobs.may_begin());
    }

    #[test]
    fn what_is_under_way_outlives_a_restart() {
        let dir = tempfile::tempdir().expect("a folder");
        let folder = Folder {
            folder: "/photos/<b>".into(),
            lot: "Mill fair".into(),
            date: None,
            place: None,
            paused: true,
        };
        write_unfinished(dir.path(), std::slice::from_ref(&folder));
        assert_eq!(unfinished(dir.path()), [folder]);
        write_unfinished(dir.path(), &[]);
        assert_eq!(unfinished(dir.path()), []);
    }
}
