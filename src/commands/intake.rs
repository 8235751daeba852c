//! `intake`: takes a folder of photos into a lot.

use std::collections::BTreeSet;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::look::Look;
use super::matching::{tell_obstacles, tell_skipped};
use super::opened::{Opened, Remarks, now};
use super::{Failure, Outcome, error, hint, interrupt, interrupted, labels, print, warning};
use crate::answer::Verdict;
use crate::decision::{About, Certainty, ContentHash, Statement};
use crate::folder;
use crate::photo::{self, DecodeLimits};
use crate::report::copies::{Glimpse, copies};
use crate::report::{self, Row, Sheet, Shot, heading, what_next};
pub(super) use crate::service::intake::{Each, Tally, Watch, each_photo, jobs};
use crate::workspace::{Said, readable_file_name, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring intake sale/ --lot 'Mill fair'
      Looks at every photo in the folder and keeps what was found.
  footring intake sale/ --lot 'Mill fair' --date 2026-05 --place 'north hall'
      The same, with when and where it came from.
  footring intake pages/ --lot 'Seen in May' --seen
      Photos of others, to learn from: they are named like any other.

Run it again after an interruption, after adding photos, or after adding marks to the library:
photos that were answered by the same library are not looked at again. Photos that moved are found
by their content. Photos are only read, never written.";

/// What `intake` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct IntakeArgs {
    /// The folder of photos
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,

    /// The lot that the photos belong to; it is made where there is none of that name
    #[arg(long, value_name = "NAME")]
    lot: String,

    /// The photos are of others: sale pages, friends. None is asked to be taken again, and none counts as a piece
    /// of yours
    #[arg(long)]
    seen: bool,

    /// When the lot was bought, in your own words
    #[arg(long, value_name = "D")]
    date: Option<String>,

    /// Where it came from
    #[arg(long, value_name = "P")]
    place: Option<String>,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

/// A bar on the terminal, and messages above it.
pub(super) struct Bar(ProgressBar);

impl Bar {
    pub(super) fn new() -> Self {
        let bar = progress(0);
        // Without a number of steps there is nothing to show.
        bar.set_draw_target(ProgressDrawTarget::hidden());
        Self(bar)
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

impl Watch for Bar {
    fn total(&self, steps: usize) {
        self.0.set_draw_target(ProgressDrawTarget::stderr());
        self.0.set_position(0);
        self.0.set_length(steps as u64);
    }

    fn may_begin(&self) -> bool {
        !interrupted()
    }

    fn looked(&self, looked: &Look) {
        self.0.inc(1);
        if let Some(failure) = &looked.failure {
            let name = readable_path(&looked.path);
            self.0.suspend(|| error(&format!("{name}: {failure}")));
        }
    }

    fn step(&self) {
        self.0.inc(1);
    }

    fn trouble(&self, told: &str) {
        self.0.suspend(|| error(&told));
    }
}

pub(super) fn run(args: &IntakeArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::All)?;
    take_in(
        &mut opened,
        &Intake {
            folder: &args.folder,
            lot: &args.lot,
            date: args.date.as_deref(),
            place: args.place.as_deref(),
            jobs: jobs(args.jobs),
            seen: args.seen,
        },
    )
}

/// A folder to take in, and into which lot.
pub(super) struct Intake<'a> {
    pub(super) folder: &'a Path,
    pub(super) lot: &'a str,
    pub(super) date: Option<&'a str>,
    pub(super) place: Option<&'a str>,
    pub(super) jobs: usize,
    /// The photos are of others.
    pub(super) seen: bool,
}

/// Takes the folder in and prints the summary.
pub(super) fn take_in(opened: &mut Opened, intake: &Intake<'_>) -> Result<Outcome, Failure> {
    if intake.lot.trim().is_empty() {
        return Err(Failure::new(&"a lot needs a name", None));
    }
    if !intake.folder.exists() {
        let folder = readable_path(intake.folder);
        return Err(Failure::new(&format!("there is no {folder}"), None));
    }
    let photos = photos_in(opened, intake)?;
    opened
        .workspace
        .add_lot(now(), intake.lot, intake.date, intake.place)?;
    let key = opened.key();
    let mut tally = Tally::default();
    interrupt::end_in_order();
    let each = Each {
        lot: intake.lot,
        key: &key,
        jobs: intake.jobs,
    };
    let stopped = each_photo(opened, &each, photos.clone(), &mut tally, &Bar::new())?;
    if intake.seen {
        note_foreign(opened, intake.lot, &photos)?;
    }
    let sheet = opened.sheet(intake.lot, &key)?;
    summary(opened, intake, &tally, &sheet)?;
    if stopped {
        let again = [
            "intake",
            &intake.folder.to_string_lossy(),
            "--lot",
            intake.lot,
        ];
        hint(&format!(
            "stopped; this goes on: {}",
            opened.command(&again)
        ));
        return Ok(Outcome::Interrupted);
    }
    let damaged = sheet
        .rows
        .iter()
        .any(|r| r.verdict == Some(Verdict::NotAPicture));
    Ok(match opened.gaps || tally.unreadable > 0 || damaged {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

/// Writes down that the photos of this lot that lie at these places are somebody else's, each once.
fn note_foreign(opened: &mut Opened, lot: &str, paths: &[PathBuf]) -> Result<(), Failure> {
    let places: BTreeSet<&PathBuf> = paths.iter().collect();
    let known = opened.foreign()?;
    let mut all = Vec::new();
    for sighting in opened.workspace.photos(lot)? {
        if places.contains(&sighting.path) && !known.contains(&sighting.hash) {
            all.push(Said {
                about: About::Photo(sighting.hash),
                statement: Statement::NotMine,
                certainty: Certainty::Sure,
                replaces: None,
            });
        }
    }
    opened.workspace.decide_where(now(), all, |_, _| true)?;
    Ok(())
}

/// The photos of the folder, by absolute path, without those of the workspace's own library.
fn photos_in(opened: &mut Opened, intake: &Intake<'_>) -> Result<Vec<PathBuf>, Failure> {
    let folder = std::path::absolute(intake.folder).map_err(|e| Failure::new(&e, None))?;
    let mut listing = folder::list(&[folder]);
    opened.gaps |= tell_obstacles(&listing.obstacles);
    tell_skipped(listing.skipped);
    let library = opened.workspace.library();
    listing.photos.retain(|path| !path.starts_with(&library));
    if listing.photos.is_empty() {
        warning(&format!(
            "no pictures found in {}",
            readable_path(intake.folder)
        ));
    }
    Ok(listing.photos)
}

pub(super) fn progress(photos: usize) -> ProgressBar {
    let bar = ProgressBar::new(photos as u64);
    let style = "{pos}/{len} photos  {wide_bar}  {per_sec}, {eta} left";
    if let Ok(style) = ProgressStyle::with_template(style) {
        bar.set_style(style);
    }
    bar.enable_steady_tick(std::time::Duration::from_millis(250));
    bar
}

/// Says what came in, what was found, and what to do with it.
fn summary(
    opened: &Opened,
    intake: &Intake<'_>,
    tally: &Tally,
    sheet: &Sheet,
) -> Result<(), Failure> {
    let told = tally.told().join(", ");
    let repeats = repeats(opened, sheet);
    let labelled = labels::offers(opened, &tally.arrived)?;
    print(|out| {
        writeln!(
            out,
            "{}: {} ({told})",
            sheet.lot,
            report::photos(sheet.shots.len()),
        )?;
        for (verdict, count) in sheet.counts() {
            writeln!(
                out,
                "  {count:>5}  {:<18}  {}",
                heading(verdict),
                what_next(verdict)
            )?;
        }
        for line in told_repeats(&repeats, sheet) {
            writeln!(out, "  {line}")?;
        }
        for line in &labelled {
            writeln!(out, "  {line}")?;
        }
        writeln!(out, "next:")?;
        for line in next_steps(opened, intake, sheet) {
            writeln!(out, "  {line}")?;
        }
        Ok(())
    })?;
    if opened.library.families.is_empty() {
        warning(&"the library is empty, so every mark is unknown");
        hint(&empty_library_step(opened, sheet));
    }
    Ok(())
}

/// Repeated shots that are listed by name.
const REPEATS_LISTED: usize = 8;

/// Photos of the lot that are an earlier one saved again: places among its shots.
fn repeats(opened: &Opened, sheet: &Sheet) -> Vec<(usize, usize)> {
    let glimpse = |shot: &Shot| {
        let jpeg = opened.cache.thumbnail(&shot.hash).ok().flatten()?;
        let small = photo::read_photo(&jpeg, &DecodeLimits::default()).ok()?;
        Some(Glimpse::of(&small.pixels))
    };
    let glimpses: Vec<Option<Glimpse>> = sheet.shots.iter().map(glimpse).collect();
    copies(&glimpses)
}

fn told_repeats(repeats: &[(usize, usize)], sheet: &Sheet) -> Vec<String> {
    let mut lines = Vec::new();
    if !repeats.is_empty() {
        let number = report::photos(repeats.len());
        lines.push(format!("sent or saved again, and so here twice: {number}"));
    }
    let named = repeats.iter().take(REPEATS_LISTED).map(|&(copy, first)| {
        format!(
            "  {} repeats {}",
            sheet.shots[copy].name, sheet.shots[first].name
        )
    });
    lines.extend(named);
    if repeats.len() > REPEATS_LISTED {
        lines.push(format!("  and {} more", repeats.len() - REPEATS_LISTED));
    }
    lines
}

fn next_steps(opened: &Opened, intake: &Intake<'_>, sheet: &Sheet) -> Vec<String> {
    let page = format!("{}.html", report::file_stem(intake.lot));
    let mut steps = vec![opened.command(&["report", intake.lot, "--html", &page])];
    let to_look_at = |row| report::Task::of(sheet, row).is_some();
    if !opened.library.families.is_empty() && sheet.rows.iter().any(to_look_at) {
        steps.push(opened.command(&["sheet", intake.lot]));
    }
    let unknown = sheet.rows.iter().filter(|r| r.holds == Verdict::Unknown);
    if unknown.count() > 1 {
        steps.push(opened.command(&["strangers", "--html", "strangers.html"]));
    }
    let open = sheet.rows.iter().find(|r| r.holds == Verdict::Choose);
    if let Some((row, family)) = open.and_then(|r| Some((r, r.family.as_deref()?))) {
        let shot = sheet.shot(row);
        let photo = match is_only_one(opened, &shot.name) {
            true => &shot.name,
            false => shot.hash.short(),
        };
        steps.push(opened.command(&["show", photo]));
        steps.push(opened.command(&["decide", photo, "--family", family]));
    }
    steps
}

/// Whether no other photo of any lot is called so.
fn is_only_one(opened: &Opened, name: &str) -> bool {
    let lots = opened.workspace.lots().unwrap_or_default();
    let photos = lots
        .iter()
        .filter_map(|l| opened.workspace.photos(&l.name).ok());
    let called = photos
        .flatten()
        .filter(|s| readable_file_name(&s.path) == name);
    let hashes: BTreeSet<ContentHash> = called.map(|s| s.hash).collect();
    hashes.len() == 1
}

/// The command that makes a family of the sharpest unknown mark; without one, where a picture goes.
fn empty_library_step(opened: &Opened, sheet: &Sheet) -> String {
    let unknown = sheet.rows.iter().filter(|r| r.holds == Verdict::Unknown);
    let blur = |row: &&Row| {
        let quality = sheet.quality(row).filter(|q| q.scale > 0.0);
        quality.map_or(f64::INFINITY, |q| q.sharpness / q.scale)
    };
    let sharpest = unknown.min_by(|a, b| blur(a).total_cmp(&blur(b)));
    match sharpest {
        Some(row) => {
            let name = &sheet.shot(row).name;
            let command = opened.command(&["library", "new", "MAKER/MARK", "--from", name]);
            format!("give a mark that you know a name, here that of {name}: {command}")
        }
        None => {
            let folder = opened.workspace.library().join("MAKER").join("MARK");
            format!(
                "put a picture of a mark that you know into {}",
                super::opened::quoted(&folder.to_string_lossy())
            )
        }
    }
}
