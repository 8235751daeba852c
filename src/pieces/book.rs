//! All pieces, with what holds of each.

use std::collections::BTreeMap;

use super::attribution::{Attribution, Opinion};
use super::marks::{Seen, SeenCode, SeenMark, Stamp, seen};
use super::values::{Lid, Money, Size, split_list};
use crate::decision::journal::PieceEntry;
use crate::decision::{
    About, Certainty, ContentHash, Decision, History, MIN_OVERLAP, Moment, PieceFact, PiecePhoto,
    Region, Statement, read_photos,
};

/// What the person said on one fact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    pub text: String,
    pub certainty: Certainty,
    /// Number of the decision.
    pub number: i64,
}

/// One piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    pub number: i64,
    pub lot: String,
    pub added: Moment,
    /// One a fact, in the order of the facts.
    facts: Vec<(PieceFact, Told)>,
    pub photos: Vec<PiecePhoto>,
    /// Confirmed on its photos, one a family.
    pub marks: Vec<SeenMark>,
    pub codes: Vec<SeenCode>,
    pub stamp: Stamp,
}

impl Piece {
    pub fn told(&self, fact: PieceFact) -> Option<&Told> {
        find(&self.facts, fact)
    }

    /// All that was said, in the order of the facts.
    pub fn facts(&self) -> impl Iterator<Item = (PieceFact, &Told)> {
        self.facts.iter().map(|(fact, told)| (*fact, told))
    }

    pub fn text(&self, fact: PieceFact) -> Option<&str> {
        self.told(fact).map(|told| told.text.as_str())
    }

    /// The same where the person is sure of it.
    pub fn sure(&self, fact: PieceFact) -> Option<&str> {
        let told = self.told(fact)?;
        (told.certainty == Certainty::Sure).then_some(told.text.as_str())
    }

    pub fn list(&self, fact: PieceFact) -> Vec<&str> {
        self.text(fact).map_or_else(Vec::new, split_list)
    }

    pub fn form(&self) -> Option<&str> {
        self.text(PieceFact::Form)
    }

    pub fn lid(&self) -> Option<Lid> {
        Lid::read(self.text(PieceFact::Lid)?)
    }

    pub fn size(&self) -> Option<Size> {
        Size::read(self.text(PieceFact::Size)?)
    }

    pub fn money(&self, fact: PieceFact) -> Option<Money> {
        Money::read(self.text(fact)?)
    }

    /// What the person said themselves on one of the three questions.
    pub fn said(&self, fact: PieceFact) -> Option<Opinion> {
        let told = self.told(fact)?;
        Some(Opinion {
            says: Attribution::read(&told.text).ok()?,
            certainty: told.certainty,
        })
    }

    pub fn is_withdrawn(&self) -> bool {
        self.told(PieceFact::Withdrawn).is_some()
    }
}

/// All pieces by number, and the sets that they form.
#[derive(Debug, Clone, Default)]
pub struct Book {
    pieces: Vec<Piece>,
    at: BTreeMap<i64, usize>,
    /// Members of each set, in order of their numbers, without withdrawn pieces.
    sets: BTreeMap<String, Vec<usize>>,
}

impl Book {
    /// `entries` in any order; `follow` gives the id that a family has now.
    pub fn new(
        entries: Vec<PieceEntry>,
        history: &History,
        follow: &dyn Fn(&str) -> String,
    ) -> Self {
        let mut of_photo: BTreeMap<&ContentHash, Vec<&Decision>> = BTreeMap::new();
        let mut of_piece: BTreeMap<i64, Vec<&Decision>> = BTreeMap::new();
        for decision in history.holding() {
            match &decision.about {
                About::Photo(hash) | About::Mark(hash, _) => {
                    of_photo.entry(hash).or_default().push(decision);
                }
                About::Piece(number) => of_piece.entry(*number).or_default().push(decision),
            }
        }
        let photo = |hash: &ContentHash| of_photo.get(hash).map_or(&[][..], Vec::as_slice);
        let mut pieces: Vec<Piece> = entries
            .into_iter()
            .map(|entry| {
                let said = of_piece.get(&entry.number).map_or(&[][..], Vec::as_slice);
                let facts = facts(said);
                let photos = find(&facts, PieceFact::Photos);
                let photos = photos.and_then(|told| read_photos(&told.text).ok());
                let photos = photos.unwrap_or_default();
                let Seen {
                    marks,
                    codes,
                    stamp,
                } = seen(&photos, photo, follow);
                Piece {
                    number: entry.number,
                    lot: entry.lot,
                    added: entry.time,
                    facts,
                    photos,
                    marks,
                    codes,
                    stamp,
                }
            })
            .collect();
        pieces.sort_by_key(|p| p.number);
        let at = pieces.iter().enumerate().map(|(at, p)| (p.number, at));
        let mut sets: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (at, piece) in pieces.iter().enumerate() {
            if let Some(set) = piece.text(PieceFact::Set).filter(|_| !piece.is_withdrawn()) {
                sets.entry(set.to_owned()).or_default().push(at);
            }
        }
        Self {
            at: at.collect(),
            sets,
            pieces,
        }
    }

    /// All pieces but withdrawn ones, by number.
    pub fn pieces(&self) -> impl Iterator<Item = &Piece> {
        self.pieces.iter().filter(|p| !p.is_withdrawn())
    }

    /// A piece by its number, withdrawn or not.
    pub fn get(&self, number: i64) -> Option<&Piece> {
        self.at.get(&number).map(|at| &self.pieces[*at])
    }

    /// The pieces of a set, by number.
    pub fn set(&self, name: &str) -> Vec<&Piece> {
        let members = self.sets.get(name).map_or(&[][..], Vec::as_slice);
        members.iter().map(|at| &self.pieces[*at]).collect()
    }

    pub fn set_names(&self) -> impl Iterator<Item = &str> {
        self.sets.keys().map(String::as_str)
    }

    /// The other pieces of a piece's set.
    pub fn partners(&self, piece: &Piece) -> Vec<&Piece> {
        let Some(set) = piece.text(PieceFact::Set) else {
            return Vec::new();
        };
        let mut others = self.set(set);
        others.retain(|p| p.number != piece.number);
        others
    }

    /// Pieces that were left out, by number.
    pub fn withdrawn(&self) -> impl Iterator<Item = &Piece> {
        self.pieces.iter().filter(|p| p.is_withdrawn())
    }

    /// The pieces to which this mark of a photo belongs, or any of the photo where no mark is given. A piece that has
    /// the whole photo has every mark of it.
    pub fn of_mark(&self, photo: &ContentHash, mark: Option<&Region>) -> Vec<&Piece> {
        let same = |own: &PiecePhoto| match (&own.mark, mark) {
            (Some(own), Some(mark)) => own.quad().overlap(&mark.quad()) >= MIN_OVERLAP,
            _ => true,
        };
        let has = |own: &PiecePhoto| own.photo == *photo && same(own);
        self.pieces().filter(|p| p.photos.iter().any(has)).collect()
    }

    /// The pieces that a photo belongs to.
    pub fn of_photo(&self, photo: &ContentHash) -> Vec<&Piece> {
        self.of_mark(photo, None)
    }
}

fn find(facts: &[(PieceFact, Told)], fact: PieceFact) -> Option<&Told> {
    let at = facts.binary_search_by_key(&fact, |(fact, _)| *fact).ok()?;
    Some(&facts[at].1)
}

/// The latest word on each fact; a word without a value takes the fact back.
fn facts(said: &[&Decision]) -> Vec<(PieceFact, Told)> {
    let mut facts: Vec<(PieceFact, Told)> = Vec::with_capacity(said.len());
    for decision in said {
        let Statement::Piece { fact, value } = &decision.statement else {
            continue;
        };
        let told = value.as_ref().map(|text| Told {
            text: text.clone(),
            certainty: decision.certainty,
            number: decision.number,
        });
        match (facts.binary_search_by_key(fact, |(fact, _)| *fact), told) {
            (Ok(at), Some(told)) => facts[at].1 = told,
            (Ok(at), None) => drop(facts.remove(at)),
            (Err(at), Some(told)) => facts.insert(at, (*fact, told)),
            (Err(_), None) => {}
        }
    }
    facts
}
