//! `timeline`: runs of lines, and pieces, along a line of time.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};
use image::ImageFormat;

use super::chosen::Chosen;
use super::collection::Collection;
use super::{Failure, Outcome, print};
use crate::dating::reach::reach;
use crate::handout::{Bar, BarKind, Drawing, LONGEST, timeline};
use crate::library::{Edtf, Library};
use crate::pieces::{Piece, date, origin};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring timeline --svg all.svg
  footring timeline --svg harebell.svg --line harebell --title \"Harebell\"
  footring timeline --png shelf.png --lot \"Mill fair\"      for a page or a message; about 660 bars at most

Pieces stand below the line that they are of, with that line's run above them; with `--line` also when its
marks, forms and decorations ran, by your library, and nothing of it need be held. Pale bars are open at an
end. Pieces without any date are left out.";

/// What `timeline` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("as").required(true).multiple(true))]
pub(super) struct TimelineArgs {
    /// Write a drawing that can be enlarged; a pointer on a bar tells its dates
    #[arg(long, value_name = "FILE", group = "as")]
    svg: Option<PathBuf>,

    /// Write a picture
    #[arg(long, value_name = "FILE", group = "as")]
    png: Option<PathBuf>,

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
    let asked = args.chosen.run_asked(&collection)?;
    let bars = bars(&pieces, asked.line.as_ref(), &collection);
    let Some(drawing) = timeline(&readable(&args.title), &bars) else {
        let next = "`footring date PIECE` tells which clues a piece has";
        return Err(Failure::new(
            &"no piece of these has a date",
            Some(next.to_owned()),
        ));
    };
    if let Some(path) = &args.svg {
        write(path, drawing.svg().as_bytes())?;
    }
    if let Some(path) = &args.png {
        write(path, &png(&drawing)?)?;
    }
    Ok(Outcome::Done)
}

fn png(drawing: &Drawing) -> Result<Vec<u8>, Failure> {
    let Some(picture) = drawing.pixels() else {
        let next = "choose fewer pieces, or write `--svg`";
        let long = format!("a picture of it would be longer than {LONGEST} pixels");
        return Err(Failure::new(&long, Some(next.to_owned())));
    };
    let mut bytes = Cursor::new(Vec::new());
    let failed = |e| Failure::new(&format!("the picture could not be written: {e}"), None);
    picture
        .write_to(&mut bytes, ImageFormat::Png)
        .map_err(failed)?;
    Ok(bytes.into_inner())
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    std::fs::write(path, bytes).map_err(|e| {
        let path = readable_path(path);
        Failure::new(&format!("{path} could not be written: {e}"), None)
    })?;
    print(|out| writeln!(out, "timeline: {}", readable_path(path)))
}

/// Line after line by id, each with its run and its pieces, the earliest first; pieces of no line last. Of a
/// line that is asked after, what else its files date stands between run and pieces.
fn bars(pieces: &[&Piece], asked: Option<&String>, collection: &Collection) -> Vec<Bar> {
    let known = collection.known();
    let mut lines: BTreeMap<(bool, String), Vec<Bar>> = BTreeMap::new();
    if let Some(line) = asked {
        lines.insert((false, line.clone()), Vec::new());
    }
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
        if asked == Some(&line) {
            bars.extend(parts(&line, known.library));
        }
        own.sort_by_key(|bar| (bar.span.not_before, bar.span.not_after));
        bars.extend(own);
    }
    bars
}

/// The stamps of a line, its forms and its decorations, as far as the library dates them.
fn parts(line: &str, library: &Library) -> Vec<Bar> {
    let bar = |label: String, made: &Edtf| Bar {
        label: readable(&label),
        span: reach(made.value()),
        kind: BarKind::Part,
    };
    let mut bars = Vec::new();
    for (id, family) in &library.families {
        let own = |name: &String| library.line_id(id.maker(), name) == line;
        if let Some(used) = family.record.used.as_ref()
            && family.record.lines.iter().any(own)
        {
            bars.push(bar(format!("mark: {}", family.name), used));
        }
    }
    let Some(record) = library.line(line) else {
        return bars;
    };
    for fact in &record.facts.forms {
        let details = [&fact.handle, &fact.foot, &fact.finial];
        let details = details.into_iter().flatten().map(|d| format!(", {d}"));
        let label = fact.form.clone() + &details.collect::<String>();
        bars.extend(fact.made.as_ref().map(|made| bar(label, made)));
    }
    for fact in &record.facts.decorations {
        let colour = fact.colourway.as_ref().map(|c| format!(", {c}"));
        let label = fact.name.clone() + &colour.unwrap_or_default();
        bars.extend(fact.made.as_ref().map(|made| bar(label, made)));
    }
    bars
}
