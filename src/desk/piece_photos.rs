//! The photos of a piece: which there are, which may be added, and how that is said.

use serde::Deserialize;

use super::acts::{Done, Refused, wrong};
use super::pieces::{Changed, collection, piece_photo, remember};
use super::room::{Act, Room};
use super::saying::holds;
use crate::decision::{
    About, Certainty, History, MIN_OVERLAP, PieceFact, PiecePhoto, Region, Statement, write_photos,
};
use crate::failure::Failure;
use crate::geometry::Quad;
use crate::pieces::Piece;
use crate::service::collection::Collection;
use crate::service::opened::now;
use crate::workspace::Said;

/// A photo of a piece as its page shows it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shown {
    /// Content, with the number of the mark where only one is the piece's.
    pub(super) id: String,
    pub(super) photo: String,
    pub(super) file: String,
    pub(super) role: &'static str,
    /// Number of the mark, and how many the photo has.
    pub(super) mark: Option<(usize, usize)>,
    /// Other pieces that it shows.
    pub(super) others: Vec<i64>,
}

/// A photo, or one mark of it, that may be added.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Choice {
    pub(super) id: String,
    pub(super) says: String,
}

/// The photos of a piece, and those of its lot that may be added: those of no piece first.
pub(super) fn photos(
    room: &Room,
    piece: &Piece,
    collection: &Collection,
) -> Result<(Vec<Shown>, Vec<Choice>), Failure> {
    let mut open = room.open();
    let sheet = open.sheet(&piece.lot)?;
    drop(open);
    let regions = |photo: &PiecePhoto| -> Vec<Region> {
        let shot = sheet.shots.iter().find(|s| s.hash == photo.photo);
        let answer = shot.and_then(|s| s.answer.as_ref());
        let marks = answer.map_or(&[][..], |a| a.marks.as_slice());
        let region = |m: &crate::answer::MarkAnswer| Region::new(&Quad::from_array(m.quad));
        marks.iter().map(region).collect()
    };
    let own = piece.photos.iter().map(|photo| {
        let marks = regions(photo);
        let at = photo.mark.as_ref().and_then(|own| {
            let overlap = |m: &Region| own.quad().overlap(&m.quad());
            let best = (0..marks.len()).max_by(|&a, &b| {
                let (a, b) = (overlap(&marks[a]), overlap(&marks[b]));
                a.total_cmp(&b)
            });
            best.filter(|&at| overlap(&marks[at]) >= MIN_OVERLAP)
        });
        let others = collection.book.of_photo(&photo.photo);
        let others = others.iter().map(|p| p.number);
        Shown {
            id: match at {
                Some(at) => format!("{}-{}", photo.photo, at + 1),
                None => photo.photo.to_string(),
            },
            photo: photo.photo.to_string(),
            file: collection.file(&photo.photo),
            role: photo.role.word(),
            mark: at.map(|at| (at + 1, marks.len())),
            others: others.filter(|n| *n != piece.number).collect(),
        }
    });
    let own: Vec<Shown> = own.collect();
    let mut choices = Vec::new();
    for shot in &sheet.shots {
        let marks = shot.answer.as_ref().map_or(0, |a| a.marks.len());
        let numbers = (0..=marks).filter(|n| marks > 1 || *n == 0);
        for number in numbers {
            let (id, name) = match number {
                0 => (shot.hash.to_string(), shot.name.clone()),
                n => (
                    format!("{}-{n}", shot.hash),
                    format!("{}, mark {n} of {marks}", shot.name),
                ),
            };
            let region = shot.answer.as_ref().filter(|_| number > 0);
            let region = region.map(|a| Region::new(&Quad::from_array(a.marks[number - 1].quad)));
            let of: Vec<i64> = match &region {
                Some(region) => collection.book.of_mark(&shot.hash, Some(region)),
                None => collection.book.of_photo(&shot.hash),
            }
            .iter()
            .map(|p| p.number)
            .collect();
            if of.contains(&piece.number) {
                continue;
            }
            let says = match of.first() {
                None => name,
                Some(other) => format!("{name} (piece {other})"),
            };
            choices.push((!of.is_empty(), Choice { id, says }));
        }
    }
    choices.sort_by_key(|(taken, _)| *taken);
    let choices = choices.into_iter().map(|(_, choice)| choice).collect();
    Ok((own, choices))
}

/// A photo to add to a piece, or one to take out of it.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Change {
    piece: i64,
    /// Number of the decision on its photos that the page showed.
    saw: i64,
    /// Content, with the number of a mark where only that is meant.
    #[serde(default)]
    add: Option<String>,
    #[serde(default)]
    role: Option<String>,
    /// Place of the photo among the piece's own, from 0.
    #[serde(default)]
    leave: Option<usize>,
}

/// Says anew which photos a piece has.
pub(super) fn change(room: &Room, asked: &Change) -> Result<Changed, Failure> {
    let mut open = room.open();
    let collection = collection(room)?;
    let piece = collection.piece(asked.piece)?;
    let mut photos = piece.photos.clone();
    match (&asked.add, asked.leave) {
        (Some(id), None) => {
            let role = asked.role.as_deref().unwrap_or("not-said");
            let photo = piece_photo(&open, id, role)?;
            let lots = open.opened.workspace.sightings_of(&photo.photo)?;
            if !lots.iter().any(|s| s.lot == piece.lot) {
                return Err(wrong("the lot of the piece has no such photo"));
            }
            photos.retain(|p| {
                p.photo != photo.photo
                    || (p.mark.is_some() && photo.mark.is_some() && p.mark != photo.mark)
            });
            photos.push(photo);
        }
        (None, Some(at)) if at < photos.len() && photos.len() > 1 => drop(photos.remove(at)),
        (None, Some(_)) => {
            return Err(wrong(
                "a piece has at least one photo: add another one first, or withdraw the piece",
            ));
        }
        _ => return Err(wrong("name one photo to add, or one to take out")),
    }
    let said = Said {
        about: About::Piece(piece.number),
        statement: Statement::Piece {
            fact: PieceFact::Photos,
            value: Some(write_photos(&photos)),
        },
        certainty: Certainty::Sure,
        replaces: piece.told(PieceFact::Photos).map(|told| told.number),
    };
    let number = piece.number;
    let still =
        |_: usize, history: &History| holds(history, number, PieceFact::Photos) == asked.saw;
    let made = open
        .opened
        .workspace
        .decide_where(now(), vec![said], still)?;
    open.changed();
    let mut changed = Changed::default();
    match made.into_iter().flatten().next() {
        Some(made) => {
            changed.told = format!("piece {number}: its photos are kept");
            changed.done.push(Done {
                id: number.to_string(),
                number: made.number,
            });
            remember(room, Act::Said(vec![made.number]));
        }
        None => changed.refused.push(Refused {
            id: number.to_string(),
            number: 0,
            told: format!(
                "piece {number}: its photos were changed elsewhere meanwhile. Load the page again"
            ),
        }),
    }
    Ok(changed)
}
