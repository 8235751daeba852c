//! What a catalogue tells of a piece, with its pictures.

use super::collection::Collection;
use super::pictured::pictures;
use crate::decision::PieceFact;
use crate::handout::{Entry, Sentence, With, of_vessel, say_limits, sentences, standing, title};
use crate::pieces::{Piece, form, say_set, set};
use crate::workspace::readable;

/// Whether what is asked for a piece is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Prices {
    Shown,
    LeftOut,
}

/// Longest side of a picture, in pixels: 46 mm of paper at 170 dots an inch, or a phone's width.
const PICTURE: u32 = 320;

/// `missing` grows with each photo that is out of reach.
pub(crate) fn entry(
    piece: &Piece,
    prices: Prices,
    with: With,
    collection: &Collection,
    missing: &mut usize,
) -> Entry {
    let (book, known) = (&collection.book, collection.known());
    let pictures = pictures(piece, PICTURE, collection);
    *missing += pictures.iter().filter(|(_, f)| f.is_none()).count();
    let figures = pictures.into_iter();
    let figures = figures.filter_map(|(caption, figure)| Some((caption, figure?)));
    let mut told = sentences(piece, book, &known);
    for sentence in &mut told {
        sentence.text = readable(&sentence.text);
    }
    let vessel = piece.form().and_then(form).map(|f| f.vessel);
    Entry {
        number: piece.number,
        title: readable(&title(piece, book, &known)),
        standing: readable(&standing(piece, book, &known)),
        sentences: told.into_iter().skip(1).collect::<Vec<Sentence>>(),
        more: more(piece, prices, with, collection),
        limit: vessel.and_then(|v| say_limits(&of_vessel(v))),
        figures: figures.collect(),
    }
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
