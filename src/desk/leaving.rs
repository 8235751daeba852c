//! What leaves the desk: pages, tables and records of lots and pieces.

use super::pieces::collection;
use super::room::Room;
use crate::failure::Failure;
use crate::handout::{
    Entry, Heading, VOLUME, With, catalogue as volume_of, talk as talk_of, two_lines, volumes,
    write_csv,
};
use crate::pieces::Piece;
use crate::report::Pile;
use crate::service::catalogue::{Prices, entry};
use crate::service::collection::Collection;
use crate::service::opened::now;
use crate::service::talk::slide;
use crate::workspace::readable;

/// A lot, and how many of its photos are to be taken again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct LotOut {
    /// Counted from 1, as its pages are asked for.
    pub(super) number: usize,
    pub(super) name: String,
    pub(super) again: usize,
}

/// What there is to hand out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Out {
    pub(super) lots: Vec<LotOut>,
    pub(super) pieces: usize,
    pub(super) volumes: usize,
}

pub(super) fn what_there_is(room: &Room) -> Result<Out, Failure> {
    let pieces = collection(room)?.book.pieces().count();
    let mut open = room.open();
    let mut lots = Vec::new();
    for (at, lot) in open.opened.workspace.lots()?.into_iter().enumerate() {
        let sheet = open.sheet(&lot.name)?;
        let shots = 0..sheet.shots.len();
        let again = shots.filter(|&s| Pile::of_shot(&sheet, s) == Some(Pile::Again));
        lots.push(LotOut {
            number: at + 1,
            again: again.count(),
            name: lot.name,
        });
    }
    Ok(Out {
        lots,
        volumes: volumes(pieces),
        pieces,
    })
}

/// A volume of the catalogue of all pieces, counted from 1; `None` where there is none of that number. Nothing that
/// leaves only when asked for is in it.
pub(super) fn catalogue(room: &Room, volume: usize) -> Result<Option<String>, Failure> {
    let collection = collection(room)?;
    let pieces: Vec<&Piece> = collection.book.pieces().collect();
    let of = volume
        .checked_sub(1)
        .and_then(|at| pieces.chunks(VOLUME).nth(at));
    let Some(of) = of else {
        return Ok(None);
    };
    let mut missing = 0;
    let one = |piece: &&Piece| {
        entry(
            piece,
            Prices::LeftOut,
            With::default(),
            &collection,
            &mut missing,
        )
    };
    let entries: Vec<Entry> = of.iter().map(one).collect();
    let heading = Heading {
        title: "Catalogue".to_owned(),
        day: now().day(),
        pieces: pieces.len(),
    };
    Ok(Some(volume_of(&heading, volume, &entries)))
}

/// Most pieces of a talk: their pictures are large, and more would take minutes to show.
const TALK_MOST: usize = 60;

/// A talk about pieces in an order, by numbers as a person types them; of all where none is typed.
pub(super) fn talk(room: &Room, typed: &str) -> Result<String, Failure> {
    let collection = collection(room)?;
    let words = typed.split(|c: char| c == ',' || c.is_whitespace());
    let words: Vec<&str> = words.filter(|w| !w.is_empty()).collect();
    let number = |word: &&str| {
        word.parse::<i64>()
            .map_err(|_| Failure::new(&format!("`{}` is no piece's number", readable(word)), None))
    };
    let numbers: Vec<i64> = match words.is_empty() {
        true => collection
            .book
            .pieces()
            .map(|p| p.number)
            .take(TALK_MOST)
            .collect(),
        false => words
            .iter()
            .take(TALK_MOST)
            .map(number)
            .collect::<Result<_, _>>()?,
    };
    let mut missing = 0;
    let mut slides = Vec::new();
    for number in numbers {
        let piece = collection.piece(number)?;
        let lines = two_lines(piece, &collection.book, &collection.known());
        let lines = lines.iter().map(|line| readable(line)).collect();
        slides.push(slide(piece, lines, &collection, &mut missing));
    }
    Ok(talk_of("A talk", &now().day(), &slides))
}

/// All pieces as a table.
pub(super) fn table(room: &Room) -> Result<Vec<u8>, Failure> {
    let collection = collection(room)?;
    let mut bytes = Vec::new();
    let records = all(&collection);
    write_csv(records, With::default(), &mut bytes).map_err(|e| Failure::new(&e, None))?;
    Ok(bytes)
}

/// All pieces, one JSON object a line.
pub(super) fn records(room: &Room) -> Result<Vec<u8>, Failure> {
    let collection = collection(room)?;
    let mut text = String::new();
    for record in all(&collection) {
        text += &serde_json::to_string(&record).map_err(|e| Failure::new(&e, None))?;
        text.push('\n');
    }
    Ok(text.into_bytes())
}

fn all(collection: &Collection) -> impl Iterator<Item = crate::handout::PieceRecord> {
    let pieces = collection.book.pieces();
    pieces.map(|piece| collection.record(piece, With::default()))
}
