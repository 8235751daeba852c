//! What a catalogue tells of a piece, with its pictures.

use super::collection::Collection;
use crate::decision::{Certainty, PhotoRole, PieceFact, PiecePhoto};
use crate::handout::{Entry, Sentence, With, of_vessel, say_limits, sentences};
use crate::photo::{DecodeLimits, read_photo};
use crate::pieces::{Attribution, LineOf, Piece, WhichLine, form, origin, say_set, set};
use crate::report::Figure;
use crate::report::frame::{jpeg, small};
use crate::workspace::readable;

/// Whether what is asked for a piece is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Prices {
    Shown,
    LeftOut,
}

/// Longest side of a picture, in pixels: 46 mm of paper at 170 dots an inch, or a phone's width.
const PICTURE: u32 = 320;

/// JPEG quality of a picture, 1 to 100: at this size artefacts stay below a print's own grain.
const QUALITY: u8 = 82;

/// Pictures of one piece: what it looks like, and its mark.
const PICTURES: usize = 2;

/// `missing` grows with each photo that is out of reach.
pub(crate) fn entry(
    piece: &Piece,
    prices: Prices,
    with: With,
    collection: &Collection,
    missing: &mut usize,
) -> Entry {
    let (book, known) = (&collection.book, collection.known());
    let origin = origin(piece, book, known.library);
    let what = match (piece.form(), piece.sure(PieceFact::Form)) {
        (Some(form), None) => format!("possibly {form}"),
        (form, _) => form.unwrap_or("piece").to_owned(),
    };
    let who = origin.made_by.says.who().map(str::to_owned);
    // Only a line that a mark names stands in the title; the sentences tell how any other is known.
    let stamped =
        |line: &&WhichLine| line.how == LineOf::Stamp && line.certainty == Certainty::Sure;
    let line = origin.line.as_ref().filter(stamped);
    let line = line.map(|l| known.library.line_name(&l.id));
    let title: Vec<String> = [Some(what), line].into_iter().flatten().collect();
    let probably = match origin.made_by.certainty {
        Certainty::Sure => "",
        _ => "possibly ",
    };
    let standing = match (&origin.made_by.says, who) {
        (Attribution::Marked { .. }, Some(who)) => format!("{probably}marked {who}"),
        (Attribution::Attributed { by, .. }, Some(who)) => {
            format!("{probably}attributed to {who}, {by}")
        }
        _ => "maker unknown".to_owned(),
    };
    let mut figures = Vec::new();
    for photo in shown(piece) {
        match figure(photo, collection) {
            Some(figure) => figures.push((caption(photo.role).to_owned(), figure)),
            None => *missing += 1,
        }
    }
    let mut told = sentences(piece, book, &known);
    for sentence in &mut told {
        sentence.text = readable(&sentence.text);
    }
    let vessel = piece.form().and_then(form).map(|f| f.vessel);
    Entry {
        number: piece.number,
        title: capital(&readable(&title.join(", "))),
        standing: readable(&standing),
        sentences: told.into_iter().skip(1).collect::<Vec<Sentence>>(),
        more: more(piece, prices, with, collection),
        limit: vessel.and_then(|v| say_limits(&of_vessel(v))),
        figures,
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().collect::<String>());
    first.unwrap_or_default() + chars.as_str()
}

fn caption(role: PhotoRole) -> &'static str {
    match role {
        PhotoRole::NotSaid => "photo",
        role => role.word(),
    }
}

/// The photos that are printed: what it looks like first, then the underside.
pub(crate) fn shown(piece: &Piece) -> Vec<&PiecePhoto> {
    let order = |p: &&PiecePhoto| match p.role {
        PhotoRole::Side => 0,
        PhotoRole::Top => 1,
        PhotoRole::NotSaid => 2,
        PhotoRole::Underside => 3,
        PhotoRole::Inside => 4,
        PhotoRole::Detail => 5,
        PhotoRole::Damage => 6,
        PhotoRole::Paper => 7,
    };
    let mut photos: Vec<&PiecePhoto> = piece.photos.iter().collect();
    photos.retain(|p| p.role != PhotoRole::Paper);
    photos.sort_by_key(order);
    photos.truncate(PICTURES);
    photos
}

fn figure(photo: &PiecePhoto, collection: &Collection) -> Option<Figure> {
    let bytes = collection.opened.original(&photo.photo)?;
    let picture = read_photo(&bytes, &DecodeLimits::default()).ok()?;
    let picture = small(&picture.pixels, PICTURE);
    Some(Figure {
        jpeg: jpeg(&picture, QUALITY)?,
        width: picture.width(),
        height: picture.height(),
    })
}

/// Set, price, and what else was asked for.
fn more(
    piece: &Piece,
    prices: Prices,
    with: With,
    collection: &Collection,
) -> Vec<(String, String)> {
    let record = collection.record(piece, with);
    let of_set = piece.text(PieceFact::Set).map(|name| {
        let set = set(name, &collection.book, &collection.known());
        format!("{name}: {} pieces; {}", set.members.len(), say_set(&set))
    });
    let lot = [record.lot_date.clone(), record.lot_place.clone()];
    let lot: Vec<String> = lot.into_iter().flatten().collect();
    let lot = with
        .lot_place
        .then(|| [vec![record.lot.clone()], lot].concat().join(", "));
    let all = [
        ("set", of_set),
        (
            "asked",
            record.asked.clone().filter(|_| prices == Prices::Shown),
        ),
        ("cost", record.cost),
        ("owner", record.owner),
        ("stands", record.place),
        ("lot", lot),
        ("notes", record.notes),
    ];
    let said = all
        .into_iter()
        .filter_map(|(label, text)| Some((label, text?)));
    said.map(|(label, text)| (label.to_owned(), readable(&text)))
        .collect()
}
