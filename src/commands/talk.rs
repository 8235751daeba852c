//! `talk`: pieces to show to people, on paper and on a wall.

use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};

use super::collection::Collection;
use super::opened::now;
use super::{Failure, Outcome, print, warning};
use crate::handout::{Slide, Written, read_talk, talk, two_lines, write_talk};
use crate::service::talk::slide;
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring talk 12 7 30 --html talk.html --title \"Green stamps\"   in this order
  footring talk 12 7 30 --draft talk.txt                          a text to write your own lines into
  footring talk --from talk.txt --html talk.html                  the order and the lines of that text

Each piece has its picture, its mark, its confirmed codes and two lines. Lines come from confirmed facts
unless the text has your own: `piece 12`, and up to two lines below it. The page prints two pieces to a
sheet; F shows it full-screen, and the arrow keys step. Pictures are drawn anew; cost, owner, places and
notes are never in it.";

/// What `talk` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("order").required(true))]
#[command(group = ArgGroup::new("as").required(true))]
pub(super) struct TalkArgs {
    /// The pieces, in the order of the talk
    #[arg(value_name = "PIECE", group = "order")]
    pieces: Vec<i64>,

    /// A text with the order and your own lines, as `--draft` writes it
    #[arg(long, value_name = "FILE", group = "order")]
    from: Option<PathBuf>,

    /// The page to write
    #[arg(long, value_name = "FILE", group = "as")]
    html: Option<PathBuf>,

    /// Write a text to edit, with the lines that come from confirmed facts
    #[arg(long, value_name = "FILE", group = "as")]
    draft: Option<PathBuf>,

    /// What stands at its head
    #[arg(long, value_name = "TEXT", default_value = "A talk")]
    title: String,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

pub(super) fn run(args: &TalkArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let written = written(args)?;
    let mut order = Vec::new();
    for (number, lines) in written {
        let piece = collection.piece(number)?;
        let lines = match lines.is_empty() {
            true => two_lines(piece, &collection.book, &collection.known()),
            false => lines,
        };
        let lines: Vec<String> = lines.iter().map(|line| readable(line)).collect();
        order.push((piece, lines));
    }
    if let Some(path) = &args.draft {
        let numbered = order.into_iter().map(|(p, lines)| (p.number, lines));
        return draft(path, &numbered.collect());
    }
    let mut missing = 0;
    let slides: Vec<Slide> = order
        .into_iter()
        .map(|(piece, lines)| slide(piece, lines, &collection, &mut missing))
        .collect();
    if let Some(path) = &args.html {
        let page = talk(&readable(&args.title), &now().day(), &slides);
        write(path, &page)?;
        print(|out| writeln!(out, "talk: {}", readable_path(path)))?;
    }
    if missing == 0 {
        return Ok(Outcome::Done);
    }
    warning(&format!(
        "{missing} photos are out of reach or cannot be read and were left out"
    ));
    Ok(Outcome::Gaps)
}

/// The order, and the lines where the person wrote any.
fn written(args: &TalkArgs) -> Result<Written, Failure> {
    let Some(path) = &args.from else {
        return Ok(args.pieces.iter().map(|n| (*n, Vec::new())).collect());
    };
    let shown = readable_path(path);
    let text = std::fs::read_to_string(path).map_err(|e| {
        let next = "`footring talk PIECE … --draft FILE` writes such a text";
        Failure::new(
            &format!("{shown} could not be read: {e}"),
            Some(next.to_owned()),
        )
    })?;
    read_talk(&text).map_err(|e| Failure::new(&format!("{shown}: {e}"), None))
}

/// Writes the text to edit; one that is there may hold a person's lines and stays.
fn draft(path: &Path, talk: &Written) -> Result<Outcome, Failure> {
    let shown = readable_path(path);
    if path.exists() {
        let next = "name another file, or remove it";
        return Err(Failure::new(
            &format!("{shown} is there already"),
            Some(next.to_owned()),
        ));
    }
    write(path, &write_talk(talk))?;
    print(|out| writeln!(out, "text: {shown}"))?;
    Ok(Outcome::Done)
}

fn write(path: &Path, text: &str) -> Result<(), Failure> {
    std::fs::write(path, text).map_err(|e| {
        let path = readable_path(path);
        Failure::new(&format!("{path} could not be written: {e}"), None)
    })
}
