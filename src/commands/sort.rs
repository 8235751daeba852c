//! `sort`: piles of photos by what is to be done with them; the photos stay where they are.

use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;

use super::args::MatchArgs;
use super::each::each_answer;
use super::matching::Ready;
use super::opened::{Opened, Remarks, now};
use super::piles::{check_empty, file_away, write_json, write_piles};
use super::reporting::write;
use super::{Failure, Outcome, hint, interrupt, print, warning};
use crate::answer::{PhotoAnswer, Verdict};
use crate::report::{Figure, Obstacles, Pile, again_page, photos};
use crate::service::again::{Sorted, again_rows, fills, of_lot, photo_again, thumbnail};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring sort sale/ --library marks
      How many photos are named, need your eye, are to be taken again, are bare, and which.
  footring sort sale/ --library marks --into piles
      The same as folders of links, and again.html: what to take again, and why, to print.
  footring sort sale/ --library marks --into piles --copy
      Copies in place of links, for a memory stick.
  footring sort --lot 'Mill fair' --into piles
      The piles of a lot that was taken in, without looking again; your decisions count first.

Photos are only read: nothing is moved, and the folder for the piles must be new or empty.";

/// What `sort` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct SortArgs {
    /// Photos, and folders of photos
    #[arg(value_name = "PATH", required_unless_present = "lot")]
    paths: Vec<PathBuf>,

    /// The library: a folder of makers
    #[arg(long, value_name = "DIR", required_unless_present = "lot")]
    library: Option<PathBuf>,

    /// A lot of the workspace in place of photos: what is kept of it is sorted
    #[arg(long, value_name = "NAME", conflicts_with_all = ["paths", "library", "jobs"])]
    lot: Option<String>,

    /// The workspace of the lot [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR", requires = "lot")]
    workspace: Option<PathBuf>,

    /// Make a folder of links for each pile in this new folder, and the page of photos to take again
    #[arg(long, value_name = "DIR")]
    into: Option<PathBuf>,

    /// Copy the photos there in place of linking them
    #[arg(long, requires = "into")]
    copy: bool,

    /// Print one JSON object a photo and line instead of the piles
    #[arg(long)]
    json: bool,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

pub(super) fn run(args: &SortArgs) -> Result<Outcome, Failure> {
    interrupt::listen();
    if let Some(into) = &args.into {
        check_empty(into)?;
    }
    match (&args.lot, &args.library) {
        (Some(lot), _) => lot_sorted(args, lot),
        (None, Some(library)) => folder_sorted(args, library),
        // The command line asks for one of the two.
        (None, None) => Err(Failure::new(&"name photos and a library, or a lot", None)),
    }
}

fn folder_sorted(args: &SortArgs, library: &Path) -> Result<Outcome, Failure> {
    let as_match = MatchArgs::plain(&args.paths, library, NonZeroUsize::MIN, args.jobs);
    let ready = Ready::new(&as_match)?;
    let mut sorted: Vec<Sorted> = Vec::new();
    let outcome = each_answer(&as_match, &ready, |path, answer| {
        sorted.push(matched(path, answer));
        match (args.json, sorted.last()) {
            (true, Some(one)) => print(|out| write_json(one, out)),
            _ => Ok(()),
        }
    })?;
    if outcome == Outcome::Interrupted {
        return Ok(outcome);
    }
    if !args.json {
        print(|out| write_piles(&sorted, out))?;
    }
    let picture = |one: &Sorted| photo_again(one.original.as_deref()?);
    make_folders(args, &sorted, "this folder", &picture)?;
    Ok(outcome)
}

fn matched(path: &Path, answer: &PhotoAnswer) -> Sorted {
    let best = answer.marks.first().and_then(|m| m.candidates.first());
    let pile = Pile::of_answer(answer);
    Sorted {
        path: path.to_owned(),
        original: (pile != Pile::Unread).then(|| path.to_owned()),
        pile,
        family: best
            .filter(|_| answer.verdict == Verdict::Named)
            .map(|c| c.family.clone()),
        reasons: Obstacles::of(&answer.reasons, fills(path, answer)),
        decided: None,
    }
}

fn lot_sorted(args: &SortArgs, lot: &str) -> Result<Outcome, Failure> {
    let opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let sheet = opened.sheet(lot, &opened.key())?;
    let (sorted, places, unlooked) = of_lot(&opened, &sheet)?;
    if unlooked > 0 {
        warning(&format!(
            "{} not looked at yet, in no pile",
            photos(unlooked)
        ));
        hint(&"run the intake again");
    }
    print(|out| match args.json {
        true => sorted.iter().try_for_each(|one| write_json(one, out)),
        false => write_piles(&sorted, out),
    })?;
    let thumbnail = |one: &Sorted| thumbnail(&opened, &places, one);
    make_folders(args, &sorted, &readable(lot), &thumbnail)?;
    let lost = args.into.is_some() && tell_lost(&sorted);
    Ok(match lost || opened.gaps || unlooked > 0 {
        true => Outcome::Gaps,
        false => Outcome::Done,
    })
}

/// Names the photos that could not be filed because their files have gone.
fn tell_lost(sorted: &[Sorted]) -> bool {
    let lost: Vec<String> = sorted
        .iter()
        .filter(|s| s.original.is_none() && s.pile != Pile::Unread)
        .map(|s| readable_path(&s.path))
        .collect();
    if lost.is_empty() {
        return false;
    }
    warning(&format!(
        "{} not where last seen, so in no folder: {}",
        photos(lost.len()),
        lost.join(", ")
    ));
    hint(&"bring them back and run the intake again: photos that moved are found by their content");
    true
}

fn make_folders(
    args: &SortArgs,
    sorted: &[Sorted],
    whole: &str,
    picture: &dyn Fn(&Sorted) -> Option<Figure>,
) -> Result<(), Failure> {
    let Some(into) = &args.into else {
        return Ok(());
    };
    file_away(sorted, into, args.copy)?;
    let rows = again_rows(sorted, whole, picture);
    write(
        &into.join("again.html"),
        again_page(&rows, &now().day()).as_bytes(),
    )?;
    match args.json {
        true => Ok(()),
        false => print(|out| writeln!(out, "piles: {}", readable_path(into))),
    }
}
