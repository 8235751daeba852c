//! `xmp`: what is known of pieces beside their photos, for photo managers.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};

use super::chosen::Chosen;
use super::collection::Collection;
use super::{Failure, Outcome, print, warning};
use crate::decision::{ContentHash, PhotoRole, PieceFact, PiecePhoto};
use crate::handout::{Sidecar, describe, is_ours, sidecar, title};
use crate::pieces::{Piece, form, origin};
use crate::report::frame::jpeg;
use crate::service::pictured::{caption, pixels};
use crate::workspace::{readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring xmp --into for-the-club --lot \"Mill fair\"     copies of the photos, each with a sidecar
  footring xmp --beside-originals 12 13                  sidecars beside your own photos

A sidecar is a file PHOTO.xmp that photo managers read: title, description, key words, and what the photo
shows. Copies are drawn anew, so that where and with what they were taken does not leave with them. Photos
themselves are never written; a sidecar that another program wrote stays as it is. Cost, owner, places and
notes are never in one.";

/// What `xmp` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
#[command(group = ArgGroup::new("where").required(true))]
pub(super) struct XmpArgs {
    /// Write copies of the photos into this folder, each with its sidecar
    #[arg(long, value_name = "DIR", group = "where")]
    into: Option<PathBuf>,

    /// Write sidecars into the folders of the photos themselves
    #[arg(long, group = "where")]
    beside_originals: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    #[command(flatten)]
    chosen: Chosen,
}

/// JPEG quality of a copy, 1 to 100: it may be all that a club or a buyer keeps.
const QUALITY: u8 = 92;

/// What was done.
#[derive(Debug, Default)]
struct Tally {
    written: usize,
    /// Sidecars of other programs that were left alone.
    foreign: Vec<PathBuf>,
    out_of_reach: usize,
}

pub(super) fn run(args: &XmpArgs) -> Result<Outcome, Failure> {
    let collection = Collection::open(args.workspace.as_deref())?;
    let pieces = args.chosen.pieces(&collection)?;
    let mut tally = Tally::default();
    match &args.into {
        Some(folder) => copies(folder, &pieces, &collection, &mut tally)?,
        None => beside(&pieces, &collection, &mut tally)?,
    }
    let some = if tally.written == 1 {
        "sidecar"
    } else {
        "sidecars"
    };
    print(|out| writeln!(out, "{} {some} written", tally.written))?;
    for path in &tally.foreign {
        let path = readable_path(path);
        warning(&format!("{path} is another program's and stays as it is"));
    }
    if tally.out_of_reach > 0 {
        warning(&format!(
            "{} photos are out of reach or cannot be read and were left out",
            tally.out_of_reach
        ));
    }
    Ok(match tally.foreign.is_empty() && tally.out_of_reach == 0 {
        true => Outcome::Done,
        false => Outcome::Gaps,
    })
}

/// A copy of each photo of each piece, `0012-1-underside.jpg`, and its sidecar.
fn copies(
    folder: &Path,
    pieces: &[&Piece],
    collection: &Collection,
    tally: &mut Tally,
) -> Result<(), Failure> {
    std::fs::create_dir_all(folder).map_err(|e| failed(folder, &e))?;
    for piece in pieces {
        for (at, photo) in (1..).zip(&piece.photos) {
            let picture = pixels(&photo.photo, &collection.opened);
            let Some(bytes) = picture.and_then(|p| jpeg(&p, QUALITY)) else {
                tally.out_of_reach += 1;
                continue;
            };
            let stem = format!("{:04}-{at}-{}", piece.number, caption(photo.role));
            let path = folder.join(format!("{stem}.jpg"));
            std::fs::write(&path, bytes).map_err(|e| failed(&path, &e))?;
            let words = words(&[(piece, photo.role)], collection);
            write(&folder.join(format!("{stem}.xmp")), &words, tally)?;
        }
    }
    Ok(())
}

/// A sidecar beside each photo, about all the chosen pieces that it shows.
fn beside(pieces: &[&Piece], collection: &Collection, tally: &mut Tally) -> Result<(), Failure> {
    let mut photos: BTreeMap<&ContentHash, Vec<(&Piece, PhotoRole)>> = BTreeMap::new();
    for piece in pieces {
        for PiecePhoto { photo, role, .. } in &piece.photos {
            photos.entry(photo).or_default().push((piece, *role));
        }
    }
    // Photos that differ by the end of their name alone would share one sidecar.
    let mut taken: BTreeMap<PathBuf, PathBuf> = BTreeMap::new();
    for (photo, shown) in photos {
        let Some(original) = collection.opened.original_path(photo) else {
            tally.out_of_reach += 1;
            continue;
        };
        let path = original.with_extension("xmp");
        if let Some(other) = taken.insert(path.clone(), original.clone()) {
            let (one, other) = (readable_path(&original), readable_path(&other));
            let both = format!("{one} and {other} would share one sidecar");
            let next =
                "give one of them another name, take it in again, or write copies: `--into DIR`";
            return Err(Failure::new(&both, Some(next.to_owned())));
        }
        write(&path, &words(&shown, collection), tally)?;
    }
    Ok(())
}

fn failed(path: &Path, error: &std::io::Error) -> Failure {
    let path = readable_path(path);
    Failure::new(&format!("{path} could not be written: {error}"), None)
}

/// Writes a sidecar where there is none, or one of ours.
fn write(path: &Path, words: &Sidecar, tally: &mut Tally) -> Result<(), Failure> {
    let before = std::fs::read(path).ok();
    if before.is_some_and(|bytes| !is_ours(&String::from_utf8_lossy(&bytes))) {
        tally.foreign.push(path.to_owned());
        return Ok(());
    }
    std::fs::write(path, sidecar(words)).map_err(|e| failed(path, &e))?;
    tally.written += 1;
    Ok(())
}

/// What a photo of these pieces says of them.
fn words(shown: &[(&Piece, PhotoRole)], collection: &Collection) -> Sidecar {
    let (book, known) = (&collection.book, collection.known());
    let mut words = Sidecar::default();
    let (mut titles, mut texts, mut seen) = (Vec::new(), Vec::new(), Vec::new());
    for (piece, role) in shown {
        let title = readable(&title(piece, book, &known));
        let what = match role {
            PhotoRole::NotSaid => "Photo".to_owned(),
            role => format!("Photo of the {}", role.word()),
        };
        seen.push(format!("{what}: {title}"));
        titles.push(title);
        let text: Vec<String> = describe(piece, book, &known)
            .split_whitespace()
            .map(readable)
            .collect();
        texts.push(text.join(" "));
        for subject in subjects(piece, collection) {
            if !words.subjects.contains(&subject) {
                words.subjects.push(subject);
            }
        }
    }
    words.title = titles.join("; ");
    words.description = texts.join("\n\n");
    words.shows = seen.join("; ");
    words
}

/// Key words of what the person is sure of: form, maker with how it is known, line, decoration, number.
fn subjects(piece: &Piece, collection: &Collection) -> Vec<String> {
    let known = collection.known();
    let origin = origin(piece, &collection.book, known.library);
    let sure = crate::decision::Certainty::Sure;
    let said = piece.sure(PieceFact::Form);
    let maker = origin
        .made_by
        .says
        .who()
        .map(|who| match origin.made_by.says.word() {
            "marked" => who.to_owned(),
            how => format!("{who} ({how})"),
        });
    let line = origin.line.filter(|line| line.certainty == sure);
    let all = [
        said.map(str::to_owned),
        said.and_then(form).map(|form| form.term.to_owned()),
        maker.filter(|_| origin.made_by.certainty == sure),
        line.map(|line| known.library.line_name(&line.id)),
        piece.sure(PieceFact::Decoration).map(str::to_owned),
        piece.sure(PieceFact::Glaze).map(str::to_owned),
        Some(format!("piece {}", piece.number)),
    ];
    let words = all.into_iter().flatten().filter(|word| !word.is_empty());
    words.map(|word| readable(&word)).collect()
}
