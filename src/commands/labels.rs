//! `labels`: labels with a code to print, and photos in which such a label lies.

use std::collections::BTreeSet;
use std::path::PathBuf;

use clap::{ArgGroup, Args};

use super::chosen::Chosen;
use super::collection::{Collection, named};
use super::opened::Opened;
use super::{Failure, Outcome, print, warning};
use crate::decision::ContentHash;
use crate::handout::{Key, Label, dated, keys_in, labels, standing, title};
use crate::pieces::Piece;
use crate::service::pictured::pixels;
use crate::workspace::{WorkspaceError, readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring labels --html fair.html --lot \"Mill fair\"       sheets of labels to print
  footring labels --html fair.html --form cup --prices
  footring labels --read                                   photos of no piece in which a label lies
  footring labels --read --lot \"Mill fair\"

Photograph a piece with its label beside it: `footring intake` says of which piece the label is, and so
does `--read`. Nothing is kept until you say it, with `footring piece set 12 --photo PHOTO`. A label has
the piece's number and eight digits by which those of another workspace are told apart.";

/// What `labels` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("as").required(true))]
pub(super) struct LabelsArgs {
    /// The page of labels to write
    #[arg(long, value_name = "FILE", group = "as")]
    html: Option<PathBuf>,

    /// Look for labels in photos that belong to no piece yet; `--lot` says in which
    #[arg(long, group = "as")]
    read: bool,

    /// Print what you ask for each piece
    #[arg(long)]
    prices: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    chosen: Chosen,
}

pub(super) fn run(args: &LabelsArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let Some(path) = &args.html else {
        return read(args, &collection);
    };
    let pieces = args.chosen.pieces(&collection)?;
    if pieces.is_empty() {
        let next = "`footring list` with the same choice shows what there is";
        return Err(Failure::new(&"no pieces to label", Some(next.to_owned())));
    }
    let all: Vec<Label> = pieces
        .into_iter()
        .map(|piece| label(piece, args, &collection))
        .collect();
    let page = labels(&all).unwrap_or_default();
    std::fs::write(path, page).map_err(|e| {
        let path = readable_path(path);
        Failure::new(&format!("{path} could not be written: {e}"), None)
    })?;
    print(|out| writeln!(out, "labels: {}", readable_path(path)))?;
    Ok(Outcome::Done)
}

fn label(piece: &Piece, args: &LabelsArgs, collection: &Collection) -> Label {
    let (book, known) = (&collection.book, collection.known());
    let asked = piece.text(crate::decision::PieceFact::Asked);
    let lines = [
        Some(standing(piece, book, &known)),
        dated(piece, book, &known).map(|s| s.text),
    ];
    let lines = lines.into_iter().flatten();
    Label {
        key: Key::of(piece.number, piece.added, &piece.lot),
        title: readable(&title(piece, book, &known)),
        lines: lines.map(|line| readable(&line)).collect(),
        price: asked.filter(|_| args.prices).map(readable),
    }
}

/// Looks through the photos that belong to no piece.
fn read(args: &LabelsArgs, collection: &Collection) -> Result<Outcome, Failure> {
    let lot = args.chosen.lot();
    if let Some(name) = lot {
        collection.opened.workspace.lot(name)?;
    }
    let mut seen = BTreeSet::new();
    let mut photos = Vec::new();
    for sighting in collection.opened.workspace.sightings()? {
        if lot.is_none_or(|name| *name == sighting.lot) && seen.insert(sighting.hash.clone()) {
            photos.push(sighting.hash);
        }
    }
    photos.retain(|photo| collection.book.of_photo(photo).is_empty());
    let (mut lines, mut gaps) = (Vec::new(), 0);
    for photo in &photos {
        match pixels(photo, &collection.opened) {
            Some(pixels) => {
                let file = collection.file(photo);
                for key in keys_in(&pixels) {
                    let piece = collection.book.get(key.piece);
                    let own = piece.filter(|p| Key::of(p.number, p.added, &p.lot) == key);
                    let called = own.map(named);
                    lines.push(offer(&collection.opened, &file, &key, called.as_deref()));
                }
            }
            None => gaps += 1,
        }
    }
    let looked = photos.len() - gaps;
    print(|out| {
        for line in &lines {
            writeln!(out, "{line}")?;
        }
        let some = if looked == 1 { "photo" } else { "photos" };
        match lines.is_empty() {
            true => writeln!(out, "no label lies in the {looked} {some} of no piece"),
            false => Ok(()),
        }
    })?;
    if gaps == 0 {
        return Ok(Outcome::Done);
    }
    warning(&format!(
        "{gaps} photos are out of reach or cannot be read and were left out"
    ));
    Ok(Outcome::Gaps)
}

/// What a label in a photo proposes; `called` is its piece, `None` where it is no piece of the workspace.
fn offer(opened: &Opened, file: &str, key: &Key, called: Option<&str>) -> String {
    match called {
        Some(piece) => {
            let number = key.piece.to_string();
            let next = opened.command(&["piece", "set", &number, "--photo", file]);
            format!("{file}: the label of {piece}: {next}")
        }
        None => format!("{file}: a label of no piece of this workspace ({key})"),
    }
}

/// The same for photos that have just come in, each with its file's name: what their labels propose.
pub(super) fn offers(
    opened: &Opened,
    photos: &[(ContentHash, String)],
) -> Result<Vec<String>, WorkspaceError> {
    let pieces = opened.workspace.pieces()?;
    if pieces.is_empty() {
        return Ok(Vec::new());
    }
    let mut lines = Vec::new();
    for (photo, file) in photos {
        for key in pixels(photo, opened).map_or_else(Vec::new, |p| keys_in(&p)) {
            let piece = pieces.iter().find(|p| p.number == key.piece);
            let own = piece.filter(|p| Key::of(p.number, p.time, &p.lot) == key);
            let called = own.map(|p| format!("piece {}", p.number));
            lines.push(offer(opened, file, &key, called.as_deref()));
        }
    }
    Ok(lines)
}
