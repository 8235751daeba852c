//! `match`: names the marks on photos, and keeps nothing.

use std::collections::BTreeMap;
use std::io::{self, IsTerminal, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::time::Instant;

use super::args::MatchArgs;
use super::table::Table;
use super::{Failure, Outcome, error, hint, interrupt, interrupted, warning};
use crate::answer::{PhotoAnswer, StageTime, Verdict};
use crate::folder::{self, Listing, Obstacle};
use crate::identify::{self, Settings};
use crate::in_order::in_order;
use crate::library::{self, FileCache, Library};
use crate::photo::{self, DecodeLimits, PhotoError};
use crate::references::References;
use crate::service::look::blank;
pub(super) use crate::service::look::raw_name;
use crate::service::remarks::{tell_remarks, told_codes};
use crate::service::rounding::rounded;

/// Why the loop over the photos ended early.
enum Stop {
    Interrupted,
    /// Whoever read the results has gone.
    PipeClosed,
    Write(io::Error),
}

pub(super) fn run(args: &MatchArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    let ready = Ready::new(args)?;
    let mut gaps = ready.gaps;
    let listing = folder::list(&args.paths);
    gaps |= tell_obstacles(&listing.obstacles);
    if listing.photos.is_empty() {
        warning(&"no pictures found");
    }
    interrupt::end_in_order();
    let mut printer = Printer::new(args.json, &listing, &ready.library);
    let stopped = match_all(args, &listing, &ready, |answer, failure| {
        if let Some(failure) = failure {
            gaps = true;
            error(&format!("{}: {failure}", answer.photo));
        }
        printer.print(answer)
    })?;
    match stopped {
        Some(Stop::Interrupted) => return Ok(Outcome::Interrupted),
        Some(Stop::PipeClosed) => return Ok(Outcome::Done),
        Some(Stop::Write(e)) => {
            return Err(Failure::new(&format!("results not written: {e}"), None));
        }
        None => {}
    }
    match printer.finish() {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            return Err(Failure::new(&format!("results not written: {e}"), None));
        }
        _ => {}
    }
    tell_skipped(listing.skipped);
    Ok(if gaps { Outcome::Gaps } else { Outcome::Done })
}

/// What photos are matched with.
pub(super) struct Ready {
    pub(super) library: Library,
    pub(super) references: References,
    pub(super) settings: Settings,
    /// Something of the library is lost.
    pub(super) gaps: bool,
}

impl Ready {
    /// Loads the library, prepares its exemplars, and tells what is wrong with it.
    pub(super) fn new(args: &MatchArgs) -> Result<Self, Failure> {
        let (library, lost) = open_library(args)?;
        let (references, more_lost) = prepare(&library, args);
        let (codes, codes_lost) = told_codes(&library);
        Ok(Self {
            library,
            references,
            settings: Settings {
                top: args.top.get(),
                codes,
                ..Settings::default()
            },
            gaps: lost | more_lost | codes_lost,
        })
    }
}

/// Loads the library and tells what is wrong with it; true where something of it is lost.
fn open_library(args: &MatchArgs) -> Result<(Library, bool), Failure> {
    let (library, remarks) = library::load(&args.library).map_err(|e| {
        let next = "name the folder that holds your makers' folders: --library DIR";
        Failure::new(&e, Some(next.to_owned()))
    })?;
    let lost = tell_remarks(&remarks);
    if library.families.is_empty() {
        warning(&format!(
            "the library {} has no stamp families yet, so every mark is unknown",
            args.library.display()
        ));
        hint(&format!(
            "copy a photo of a mark you know to {}",
            args.library.join("MAKER").join("FAMILY").display()
        ));
    }
    Ok((library, lost))
}

fn prepare(library: &Library, args: &MatchArgs) -> (References, bool) {
    let cache = (!args.no_cache).then(FileCache::of_user).flatten();
    let (references, remarks) = library::prepare(library, cache.as_ref(), args.jobs());
    (references, tell_remarks(&remarks))
}

/// Tells what stood in the way in folders; true where pictures may have been missed.
pub(super) fn tell_obstacles(obstacles: &[Obstacle]) -> bool {
    let mut missed = false;
    for obstacle in obstacles {
        match obstacle {
            Obstacle::Closed { path, detail } => {
                missed = true;
                error(&format!(
                    "{}: cannot be read ({detail}): check that it exists and may be read",
                    path.display()
                ));
            }
            Obstacle::Loop { path, above } => warning(&format!(
                "{}: the link leads back to {}, so it is not followed",
                path.display(),
                above.display()
            )),
            Obstacle::Mislabelled { path } => warning(&format!(
                "{}: called like a photo, but its content is none: skipped",
                path.display()
            )),
            Obstacle::SameShot { path, kept } => warning(&format!(
                "{}: the same shot as {}: counted once",
                path.display(),
                kept.display()
            )),
        }
    }
    missed
}

pub(super) fn tell_skipped(skipped: usize) {
    match skipped {
        0 => {}
        1 => warning(&"1 file is no picture by its content and was skipped"),
        n => warning(&format!(
            "{n} files are no pictures by their content and were skipped"
        )),
    }
}

fn match_all(
    args: &MatchArgs,
    listing: &Listing,
    ready: &Ready,
    mut hand_on: impl FnMut(&PhotoAnswer, Option<PhotoError>) -> io::Result<()>,
) -> Result<Option<Stop>, Failure> {
    in_order(
        &listing.photos,
        args.jobs(),
        |path: &PathBuf| examine(path, ready, args.timings),
        |result| {
            if interrupted() {
                return ControlFlow::Break(Stop::Interrupted);
            }
            // `examine` guards what may panic, so there is always an answer.
            let Ok((answer, failure)) = result else {
                return ControlFlow::Continue(());
            };
            match hand_on(&answer, failure) {
                Ok(()) => ControlFlow::Continue(()),
                Err(e) if e.kind() == io::ErrorKind::BrokenPipe => {
                    ControlFlow::Break(Stop::PipeClosed)
                }
                Err(e) => ControlFlow::Break(Stop::Write(e)),
            }
        },
    )
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))
}

/// Everything that is said of one file, and why it could not be read where it could not.
pub(super) fn examine(
    path: &Path,
    ready: &Ready,
    timings: bool,
) -> (PhotoAnswer, Option<PhotoError>) {
    let begun = Instant::now();
    let mut stages = Vec::new();
    let mut answer = blank(path);
    let failure = fill(
        &mut answer,
        &mut stages,
        path,
        &ready.references,
        &ready.settings,
    )
    .err();
    ready.library.tell_of(&mut answer);
    if let Some(error) = &failure {
        answer.verdict = Verdict::NotAPicture;
        answer.reasons = vec![error.reason()];
    }
    if timings {
        answer.elapsed_ms = Some(milliseconds(begun.elapsed()));
        answer.stages = Some(stages);
    }
    (rounded(answer), failure)
}

fn fill(
    answer: &mut PhotoAnswer,
    stages: &mut Vec<StageTime>,
    path: &Path,
    references: &References,
    settings: &Settings,
) -> Result<(), PhotoError> {
    let limits = DecodeLimits::default();
    let bytes = timed(stages, "read", || folder::read_bytes(path, &limits))?;
    answer.hash = Some(blake3::hash(&bytes).to_hex().to_string());
    let photo = timed(stages, "decode", || photo::read_photo(&bytes, &limits))?;
    drop(bytes);
    let mut observe = |stage: &'static str, took| {
        stages.push(StageTime {
            stage: stage.to_owned(),
            ms: milliseconds(took),
        });
    };
    let findings =
        photo::guarded(|| identify::identify(&photo, references, settings, &mut observe)).map_err(
            |panicked| PhotoError::Internal {
                detail: panicked.message,
            },
        )?;
    answer.verdict = findings.verdict;
    answer.reasons = findings.reasons;
    answer.quality = findings.quality;
    answer.marks = findings.marks;
    Ok(())
}

fn timed<T>(stages: &mut Vec<StageTime>, stage: &str, work: impl FnOnce() -> T) -> T {
    let begun = Instant::now();
    let result = work();
    stages.push(StageTime {
        stage: stage.to_owned(),
        ms: milliseconds(begun.elapsed()),
    });
    result
}

/// To a hundredth: the clock's own noise is larger.
fn milliseconds(took: std::time::Duration) -> f64 {
    (took.as_secs_f64() * 1e5).round() / 100.0
}

/// Writes answers to standard output as they come.
enum Printer {
    Json(io::Stdout),
    Table {
        out: anstream::AutoStream<io::Stdout>,
        table: Table,
        counts: BTreeMap<Verdict, usize>,
    },
}

impl Printer {
    fn new(json: bool, listing: &Listing, library: &Library) -> Self {
        if json {
            return Self::Json(io::stdout());
        }
        let width = io::stdout()
            .is_terminal()
            .then(terminal_size::terminal_size)
            .flatten()
            .map(|(width, _)| usize::from(width.0));
        let names: Vec<_> = listing
            .photos
            .iter()
            .map(|path| path.to_string_lossy())
            .collect();
        let table = Table::fit(
            names.iter().map(AsRef::as_ref),
            library.families.keys().map(library::FamilyId::as_str),
            width,
        );
        Self::Table {
            out: anstream::stdout(),
            table,
            counts: BTreeMap::new(),
        }
    }

    fn print(&mut self, answer: &PhotoAnswer) -> io::Result<()> {
        match self {
            Self::Json(out) => {
                let mut line = serde_json::to_vec(answer)?;
                line.push(b'\n');
                out.write_all(&line)?;
                out.flush()
            }
            Self::Table { out, table, counts } => {
                if counts.is_empty() {
                    table.head(out)?;
                }
                *counts.entry(answer.verdict).or_default() += 1;
                table.photo(out, answer)?;
                out.flush()
            }
        }
    }

    /// The last line of the table: how many photos got which verdict.
    fn finish(&mut self) -> io::Result<()> {
        let Self::Table { out, counts, .. } = self else {
            return Ok(());
        };
        let total: usize = counts.values().sum();
        if total == 0 {
            return Ok(());
        }
        let parts: Vec<String> = counts
            .iter()
            .map(|(verdict, n)| format!("{n} {}", verdict.word()))
            .collect();
        let photos = if total == 1 { "photo" } else { "photos" };
        writeln!(out, "\n{total} {photos}: {}", parts.join(", "))
    }
}
