//! `timeline`: runs of lines, and pieces, along a line of time.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::Args;

use super::chosen::Chosen;
use super::collection::Collection;
use super::{Failure, Outcome, print};
use crate::dating::reach::reach;
use crate::handout::{Bar, BarKind, timeline};
use crate::pieces::{Piece, date, origin};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring timeline --svg all.svg
  footring timeline --svg harebell.svg --line harebell --title \"Harebell\"

Pieces stand below the line that they are of, with that line's run above them. Pale bars are open at an
end. Pieces without any date are left out.";

/// What `timeline` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct TimelineArgs {
    /// The drawing to write
    #[arg(long, value_name = "FILE")]
    svg: PathBuf,

    /// What stands above it
    #[arg(long, value_name = "TEXT", default_value = "Pieces in time")]
    title: String,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    chosen: Chosen,
}

pub(super) fn run(args: &TimelineArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let pieces = args.chosen.pieces(&collection)?;
    let bars = bars(&pieces, &collection);
    let Some(svg) = timeline(&readable(&args.title), &bars) else {
        let next = "`footring date PIECE` tells which clues a piece has";
        return Err(Failure::new(
            &"no piece of these has a date",
            Some(next.to_owned()),
        ));
    };
    std::fs::write(&args.svg, svg).map_err(|e| {
        let path = readable_path(&args.svg);
        Failure::new(&format!("{path} could not be written: {e}"), None)
    })?;
    print(|out| writeln!(out, "timeline: {}", readable_path(&args.svg)))?;
    Ok(Outcome::Done)
}

/// Line after line by id, each with its run and its pieces, the earliest first; pieces of no line last.
fn bars(pieces: &[&Piece], collection: &Collection) -> Vec<Bar> {
    let known = collection.known();
    let mut lines: BTreeMap<(bool, String), Vec<Bar>> = BTreeMap::new();
    for piece in pieces {
        let span = date(piece, &collection.book, &known, Vec::new()).span();
        let Some(span) = span.filter(|s| !s.is_always()) else {
            continue;
        };
        let line = origin(piece, &collection.book, known.library).line;
        let form = piece.form().unwrap_or("piece");
        let of_line = if line.is_some() {
            ""
        } else {
            " (line unknown)"
        };
        let key = line.map_or((true, String::new()), |line| (false, line.id));
        lines.entry(key).or_default().push(Bar {
            label: readable(&format!("{} {form}{of_line}", piece.number)),
            span,
            kind: BarKind::Piece,
        });
    }
    let mut bars = Vec::new();
    for ((_, line), mut own) in lines {
        let made = known.library.line(&line).and_then(|l| l.made.as_ref());
        bars.extend(made.map(|made| Bar {
            label: readable(&known.library.line_name(&line)),
            span: reach(made.value()),
            kind: BarKind::Run,
        }));
        own.sort_by_key(|bar| (bar.span.not_before, bar.span.not_after));
        bars.extend(own);
    }
    bars
}
