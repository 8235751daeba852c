//! Pieces: what the photos suggest, what there is, and what the person says of them.

use std::sync::PoisonError;

use serde::{Deserialize, Serialize};

use super::acts::{Done, Refused, wrong};
use super::mark_id::MarkId;
use super::room::{Act, Open, Room};
use crate::dating::words::say;
use crate::decision::{
    About, Certainty, ContentHash, PhotoRole, PieceFact, PiecePhoto, Region, write_photos,
};
use crate::failure::Failure;
use crate::pieces::{Book, Piece, Stamp, check, date, origin, say_opinion, say_set, sets};
use crate::same_piece::Judged;
use crate::service::alike;
use crate::service::collection::{Collection, named};
use crate::service::opened::now;
use crate::service::pictured::shown;
use crate::service::proposed::proposed;
use crate::service::subject::Subject;
use crate::workspace::{NewPiece, readable};

/// A piece that may be made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Suggestion {
    pub(super) lot: String,
    /// Content, with the number of the mark where only one is meant, and role's word of each photo, the underside
    /// first, as they are sent back.
    pub(super) photos: Vec<(String, &'static str)>,
    pub(super) file: String,
    pub(super) says: String,
    /// How many marks the first photo has of which each may be another piece's; 0 where that is no question.
    pub(super) marks: usize,
    /// Taken for a piece unless the person says otherwise.
    pub(super) likely: bool,
}

/// A piece as a page lists it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tile {
    pub(super) number: i64,
    pub(super) name: String,
    pub(super) photo: Option<String>,
    pub(super) made_by: String,
    pub(super) dated: String,
    pub(super) set: Option<String>,
    /// Number of the decision that put it into its set, 0 for none.
    pub(super) saw: i64,
    pub(super) unmarked: bool,
}

/// A set in one line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SetLine {
    pub(super) name: String,
    pub(super) says: String,
    pub(super) members: Vec<Tile>,
    /// What it needs to be complete, as typed.
    pub(super) needs: String,
    /// On which member that was said, and the number of that decision; the first member and 0 for none.
    pub(super) needs_on: (i64, i64),
}

/// All that the page of pieces shows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Overview {
    pub(super) suggestions: Vec<Suggestion>,
    pub(super) sets: Vec<SetLine>,
    /// Pieces in no set.
    pub(super) alone: Vec<Tile>,
    /// A name that no set has yet.
    pub(super) free_name: String,
    /// Pieces that were left out: number, name, and why.
    pub(super) withdrawn: Vec<(i64, String, String)>,
}

pub(super) fn collection(room: &Room) -> Result<Collection, Failure> {
    Collection::open(Some(&room.root))
}

pub(super) fn overview(room: &Room) -> Result<Overview, Failure> {
    let collection = collection(room)?;
    let mut suggestions = Vec::new();
    let mut open = room.open();
    for lot in open.opened.workspace.lots()? {
        let sheet = open.sheet(&lot.name)?;
        let alike = alike::kept(&open.opened, &sheet)?;
        let found = proposed(&open.opened, &sheet, &collection.book, &alike)?;
        suggestions.extend(found.into_iter().map(|one| {
            let marked = |hash: &ContentHash| match one.mark {
                Some(at) => format!("{hash}-{}", at + 1),
                None => hash.to_string(),
            };
            let holds = match (&one.family, one.again) {
                (Some(family), _) => readable(&sheet.family_name(family)),
                (None, true) => "photo to take again".to_owned(),
                (None, false) => "mark still open, or none".to_owned(),
            };
            let says = match one.by_evidence {
                Some(Judged::Asked) => format!("perhaps one piece: {holds}"),
                Some(_) => format!("one piece by its base and strike: {holds}"),
                None => holds,
            };
            Suggestion {
                file: match one.mark {
                    Some(at) => format!("{}, mark {}", collection.file(&one.photos[0].0), at + 1),
                    None => collection.file(&one.photos[0].0),
                },
                marks: match one.mark {
                    None if one.marks > 1 => one.marks,
                    _ => 0,
                },
                photos: one
                    .photos
                    .iter()
                    .map(|(hash, role)| (marked(hash), role.word()))
                    .collect(),
                likely: !one.again && one.by_evidence != Some(Judged::Asked),
                lot: one.lot,
                says,
            }
        }));
    }
    drop(open);
    let known = collection.known();
    let in_sets = sets(&collection.book, &known).into_iter().map(|set| {
        let told = set
            .members
            .iter()
            .filter_map(|p| Some((p.number, p.told(PieceFact::SetNeeds)?)))
            .max_by_key(|(_, told)| told.number);
        SetLine {
            says: readable(&say_set(&set)),
            needs: told.map(|(_, t)| t.text.clone()).unwrap_or_default(),
            needs_on: match told {
                Some((piece, told)) => (piece, told.number),
                None => (set.members.first().map_or(0, |p| p.number), 0),
            },
            members: set.members.iter().map(|p| tile(p, &collection)).collect(),
            name: set.name,
        }
    });
    let in_sets: Vec<SetLine> = in_sets.collect();
    let alone = collection
        .book
        .pieces()
        .filter(|p| p.told(PieceFact::Set).is_none());
    let withdrawn = collection.book.withdrawn().map(|piece| {
        let why = piece.text(PieceFact::Withdrawn).unwrap_or_default();
        (piece.number, named(piece), readable(why))
    });
    Ok(Overview {
        suggestions,
        withdrawn: withdrawn.collect(),
        alone: alone.map(|p| tile(p, &collection)).collect(),
        free_name: free_name(&collection.book),
        sets: in_sets,
    })
}

fn free_name(book: &Book) -> String {
    let taken: Vec<&str> = book.set_names().collect();
    let mut names = (1..).map(|n| format!("set {n}"));
    names
        .find(|name| !taken.contains(&name.as_str()))
        .unwrap_or_default()
}

fn tile(piece: &Piece, collection: &Collection) -> Tile {
    let known = collection.known();
    let origin = origin(piece, &collection.book, known.library);
    let dating = date(piece, &collection.book, &known, Vec::new());
    let set = piece.told(PieceFact::Set);
    Tile {
        number: piece.number,
        name: named(piece),
        photo: shown(piece).first().map(|photo| id_of(photo, collection)),
        made_by: readable(&say_opinion(&origin.made_by)),
        dated: dating
            .span()
            .map_or_else(|| "clues contradict each other".to_owned(), say),
        set: set.map(|told| told.text.clone()),
        saw: set.map_or(0, |told| told.number),
        unmarked: piece.stamp == Stamp::Bare,
    }
}

/// The photo, with the number of its mark where only that is the piece's.
fn id_of(photo: &PiecePhoto, collection: &Collection) -> String {
    let mark = photo.mark.as_ref().and_then(|region| {
        let about = About::Mark(photo.photo.clone(), *region);
        let subject = Subject::of(&collection.opened, photo.photo.clone());
        subject.ok()?.mark_of(&about)
    });
    match mark {
        Some(at) => format!("{}-{}", photo.photo, at + 1),
        None => photo.photo.to_string(),
    }
}

/// A piece to make of photos.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Make {
    lot: String,
    /// Content and role of each.
    photos: Vec<(String, String)>,
    #[serde(default)]
    form: String,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Approve {
    pieces: Vec<Make>,
}

/// What became of a change of pieces.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub(super) struct Changed {
    pub(super) done: Vec<Done>,
    pub(super) refused: Vec<Refused>,
    pub(super) told: String,
}

/// Most pieces or words at once.
pub(super) const MOST_AT_ONCE: usize = 500;

/// Makes pieces of photos. One whose photo belongs to a piece by now is left out, and told.
pub(super) fn approve(room: &Room, asked: &Approve) -> Result<Changed, Failure> {
    if asked.pieces.is_empty() || asked.pieces.len() > MOST_AT_ONCE {
        return Err(wrong("between 1 and 500 pieces can be made at once"));
    }
    let mut open = room.open();
    let collection = collection(room)?;
    let (mut changed, mut make) = (Changed::default(), Vec::new());
    for one in &asked.pieces {
        let photos = one.photos.iter();
        let photos = photos.map(|(id, role)| piece_photo(&open, id, role));
        let photos: Vec<PiecePhoto> = photos.collect::<Result<_, Failure>>()?;
        if photos.is_empty() {
            return Err(wrong("this names no photo"));
        }
        let lot = collection.opened.workspace.lot(&one.lot)?.name;
        for photo in &photos {
            let lots = collection.opened.workspace.sightings_of(&photo.photo)?;
            if !lots.iter().any(|s| s.lot == lot) {
                return Err(wrong("the lot has no such photo"));
            }
        }
        let first = &photos[0].photo;
        let others = collection.book.of_mark(first, photos[0].mark.as_ref());
        if let Some(known) = others.first() {
            changed.refused.push(Refused {
                id: one.photos[0].0.clone(),
                number: known.number,
                told: format!(
                    "{} belongs to piece {} by now, made elsewhere",
                    collection.file(first),
                    known.number
                ),
            });
            continue;
        }
        let mut facts = vec![(PieceFact::Photos, write_photos(&photos), Certainty::Sure)];
        if !one.form.trim().is_empty() {
            facts.push((
                PieceFact::Form,
                checked(PieceFact::Form, &one.form)?,
                Certainty::Sure,
            ));
        }
        make.push((one.photos[0].0.clone(), NewPiece { lot, facts }));
    }
    let (ids, pieces): (Vec<String>, Vec<NewPiece>) = make.into_iter().unzip();
    let numbers = match pieces.is_empty() {
        true => Vec::new(),
        false => open.opened.workspace.add_pieces(now(), pieces)?,
    };
    open.changed();
    changed.told = match numbers.as_slice() {
        [] => String::new(),
        [one] => format!("piece {one} is made"),
        [first, .., last] => format!("{} pieces are made: {first} to {last}", numbers.len()),
    };
    changed.done = ids
        .into_iter()
        .zip(&numbers)
        .map(|(id, &number)| Done { id, number })
        .collect();
    if !numbers.is_empty() {
        remember(room, Act::Made(numbers));
    }
    Ok(changed)
}

pub(super) fn remember(room: &Room, act: Act) {
    let mut acts = room.acts.lock().unwrap_or_else(PoisonError::into_inner);
    acts.push(act);
}

/// A photo of a piece, or one mark of it, as a page names it.
pub(super) fn piece_photo(open: &Open, id: &str, role: &str) -> Result<PiecePhoto, Failure> {
    let none = || wrong("this names no photo");
    let id = MarkId::parse(id).ok_or_else(none)?;
    let mark = match id.mark {
        None => None,
        Some(at) => {
            let subject = Subject::of_key(&open.opened, id.photo.clone(), &open.key)?;
            let quads = subject.quads();
            let gone = "this mark is not found any more: load the page again";
            Some(Region::new(quads.get(at).ok_or_else(|| wrong(gone))?))
        }
    };
    Ok(PiecePhoto {
        role: PhotoRole::from_word(role).ok_or_else(none)?,
        photo: id.photo,
        mark,
    })
}

pub(super) fn checked(fact: PieceFact, text: &str) -> Result<String, Failure> {
    check(fact, text).map_err(|e| Failure::new(&e.why, None))
}
