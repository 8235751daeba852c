//! Marks and codes that the person has confirmed on the photos of a piece.

use crate::decision::{
    About, Certainty, ContentHash, Decision, MIN_OVERLAP, PiecePhoto, Region, Statement, Topic,
};

/// A mark of a family, confirmed by the person.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenMark {
    pub family: String,
    pub certainty: Certainty,
    pub photo: ContentHash,
    /// Where it is in the photo, where that was said.
    pub region: Option<Region>,
}

/// A date code, confirmed by the person.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenCode {
    pub code: String,
    pub certainty: Certainty,
    pub photo: ContentHash,
    /// The family of the mark that it stands with, where that was decided.
    pub family: Option<String>,
}

/// What is known of a piece's mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stamp {
    /// It carries a mark of a known family.
    Known,
    /// It carries one that the library does not have.
    Stranger,
    /// It carries none, as the person said.
    Bare,
    /// Nobody has said.
    NotSaid,
}

/// What was seen on the photos of one piece.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seen {
    pub(super) marks: Vec<SeenMark>,
    pub(super) codes: Vec<SeenCode>,
    pub(super) stamp: Stamp,
}

/// Collects what holds of the photos. `of` gives the decisions that hold for a photo, oldest first.
pub(super) fn seen<'a>(
    photos: &[PiecePhoto],
    of: impl Fn(&ContentHash) -> &'a [&'a Decision],
    follow: &dyn Fn(&str) -> String,
) -> Seen {
    let mut all = Seen {
        marks: Vec::new(),
        codes: Vec::new(),
        stamp: Stamp::NotSaid,
    };
    let (mut stranger, mut bare) = (false, false);
    for photo in photos.iter().filter(|p| p.role.shows_marks()) {
        let own = holding(photo, of(&photo.photo));
        let families = families(&own);
        for decision in &own {
            match &decision.statement {
                Statement::Family(id) => keep_mark(&mut all.marks, decision, photo, follow(id)),
                Statement::Unknown => stranger = true,
                Statement::NoMark => bare = true,
                Statement::DateCode(code) => all.codes.push(SeenCode {
                    code: code.clone(),
                    certainty: decision.certainty,
                    photo: photo.photo.clone(),
                    family: beside(decision, &families).map(follow),
                }),
                _ => {}
            }
        }
    }
    all.stamp = match (all.marks.is_empty(), stranger, bare) {
        (false, ..) => Stamp::Known,
        (_, true, _) => Stamp::Stranger,
        (_, _, true) => Stamp::Bare,
        _ => Stamp::NotSaid,
    };
    all
}

/// A family seen twice counts once, as surely as the surer of the two.
fn keep_mark(marks: &mut Vec<SeenMark>, decision: &Decision, photo: &PiecePhoto, family: String) {
    match marks.iter_mut().find(|m| m.family == family) {
        Some(known) if decision.certainty == Certainty::Sure => known.certainty = Certainty::Sure,
        Some(_) => {}
        None => marks.push(SeenMark {
            family,
            certainty: decision.certainty,
            photo: photo.photo.clone(),
            region: decision.about.region().or(photo.mark.as_ref()).copied(),
        }),
    }
}

/// The decisions that hold for the piece's part of a photo. What was said of the whole photo holds
/// for a mark of it only where nothing later was said of the mark, and the other way round.
fn holding<'a>(photo: &PiecePhoto, of: &[&'a Decision]) -> Vec<&'a Decision> {
    let mine = |decision: &&&Decision| match (&photo.mark, decision.about.region()) {
        (Some(mark), Some(region)) => overlap(mark, region) >= MIN_OVERLAP,
        (Some(_), None) | (None, _) => true,
    };
    let own: Vec<&Decision> = of.iter().filter(mine).copied().collect();
    let of_whole = |topic: &Topic| {
        let whole = own.iter().filter(|d| matches!(d.about, About::Photo(_)));
        let same = whole.filter(|d| d.statement.topic().as_ref() == Some(topic));
        same.map(|d| d.number).max()
    };
    let of_marks = |topic: &Topic| {
        let marks = own.iter().filter(|d| d.about.region().is_some());
        let same = marks.filter(|d| d.statement.topic().as_ref() == Some(topic));
        same.map(|d| d.number).max()
    };
    let stands = |d: &&&Decision| match (d.statement.topic(), &d.about) {
        (Some(topic), About::Photo(_)) => of_marks(&topic) <= Some(d.number),
        (Some(topic), About::Mark(..)) => of_whole(&topic) <= Some(d.number),
        _ => false,
    };
    own.iter().filter(stands).copied().collect()
}

fn overlap(one: &Region, other: &Region) -> f64 {
    one.quad().overlap(&other.quad())
}

/// Families decided in a photo, and where.
fn families<'a>(own: &[&'a Decision]) -> Vec<(&'a str, Option<&'a Region>)> {
    let family = |d: &&'a Decision| match &d.statement {
        Statement::Family(id) => Some((id.as_str(), d.about.region())),
        _ => None,
    };
    own.iter().filter_map(family).collect()
}

/// The family whose mark a code stands with: the one at the same place, or the only one.
fn beside<'a>(code: &Decision, families: &[(&'a str, Option<&'a Region>)]) -> Option<&'a str> {
    let at = code.about.region();
    let there = families.iter().find(|(_, region)| match (at, region) {
        (Some(at), Some(region)) => overlap(at, region) >= MIN_OVERLAP,
        _ => false,
    });
    match (there, families) {
        (Some((family, _)), _) | (None, [(family, _)]) => Some(family),
        _ => None,
    }
}
