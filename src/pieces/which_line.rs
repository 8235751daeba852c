//! The line of a piece: by its stamp, by its body and glaze, by its body, by a partner.

use super::bodies::{Holds, rule_holds};
use super::book::{Book, Piece};
use super::marks::Stamp;
use super::origin::{family, marks_of, weaker};
use crate::decision::{Certainty, PieceFact};
use crate::library::{BorrowFact, Library, StampRole};

/// The line of a piece, and how that is known.
#[derive(Debug, Clone, PartialEq)]
pub struct WhichLine {
    /// `maker/line`.
    pub id: String,
    pub how: LineOf,
    pub certainty: Certainty,
}

/// How a line is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineOf {
    /// A stamp of that line alone is on the piece.
    Stamp,
    /// A rule says that its body in its glaze was made for that line.
    BodyAndGlaze { source: Option<String> },
    /// Its body is of that line.
    Body,
    /// A marked piece that belongs with it is of that line.
    Partner(i64),
}

impl LineOf {
    /// `marked`, or `attributed` and by what.
    pub fn say(&self) -> String {
        match self {
            Self::Stamp => "marked".to_owned(),
            Self::BodyAndGlaze { source } => {
                let source = source.as_ref().map(|s| format!(" ({s})"));
                let source = source.unwrap_or_default();
                format!("attributed by its body in this glaze{source}")
            }
            Self::Body => "attributed by its body".to_owned(),
            Self::Partner(number) => format!("attributed by its partner, piece {number}"),
        }
    }
}

/// The line that the maker's stamp names, where it names one alone.
pub(super) fn stamped_line(piece: &Piece, library: &Library) -> Option<WhichLine> {
    let marks = marks_of(piece, library, StampRole::Maker);
    let named = marks.iter().filter_map(|mark| {
        let family = family(library, &mark.family)?;
        match family.record.lines.as_slice() {
            [line] => Some((library.line_id(family.id.maker(), line), mark.certainty)),
            _ => None,
        }
    });
    let named: Vec<(String, Certainty)> = named.collect();
    let (id, certainty) = named.first()?.clone();
    named
        .iter()
        .all(|(other, _)| *other == id)
        .then_some(WhichLine {
            id,
            how: LineOf::Stamp,
            certainty,
        })
}

/// The line of the body, where the person named one of the library.
pub(super) fn body_line<'p>(piece: &'p Piece, library: &Library) -> Option<&'p str> {
    let body = piece.text(PieceFact::Body)?;
    library.line(body).is_some().then_some(body)
}

/// The one line for which this body was made in this glaze. A rule without a glaze names no line: a
/// body alone was used for many, and a decoration alone proves nothing of who made the piece.
pub(super) fn by_body_and_glaze<'l>(
    piece: &Piece,
    library: &'l Library,
) -> Option<(String, &'l BorrowFact)> {
    let body = body_line(piece, library)?;
    let mut found: Vec<(String, &BorrowFact)> = Vec::new();
    for (maker, record) in &library.makers {
        for (line, of_line) in &record.lines {
            let rules = of_line.facts.borrows.iter();
            let fitting = rules.filter(|rule| {
                rule.when.glaze.is_some()
                    && library.line_id(maker, &rule.body) == body
                    && rule_holds(&rule.when, piece, library, None) == Holds::Yes
            });
            found.extend(fitting.map(|rule| (library.line_id(maker, line), rule)));
        }
    }
    let (first, _) = found.first()?;
    let one = found.iter().all(|(line, _)| line == first);
    one.then(|| found.swap_remove(0))
}

/// The line: by the stamp, else by body and glaze, else by the body, else by a marked partner.
pub(super) fn line(piece: &Piece, book: &Book, library: &Library) -> Option<WhichLine> {
    if let Some(stamped) = stamped_line(piece, library) {
        return Some(stamped);
    }
    let body = piece.told(PieceFact::Body);
    let certainty = body.map_or(Certainty::Sure, |told| told.certainty);
    if piece.stamp != Stamp::Stranger
        && let Some((id, rule)) = by_body_and_glaze(piece, library)
    {
        let source = rule.source.clone();
        return Some(WhichLine {
            id,
            how: LineOf::BodyAndGlaze { source },
            certainty,
        });
    }
    if let Some(id) = body_line(piece, library) {
        return Some(WhichLine {
            id: id.to_owned(),
            how: LineOf::Body,
            certainty,
        });
    }
    let own = piece.told(PieceFact::Set)?.certainty;
    if piece.stamp == Stamp::Stranger || !marks_of(piece, library, StampRole::Maker).is_empty() {
        return None;
    }
    let partners = book.partners(piece);
    let lines: Vec<(i64, WhichLine)> = partners
        .iter()
        .filter_map(|p| Some((p.number, stamped_line(p, library)?)))
        .collect();
    let (number, first) = lines.first()?;
    let one = lines.iter().all(|(_, line)| line.id == first.id);
    one.then(|| WhichLine {
        id: first.id.clone(),
        how: LineOf::Partner(*number),
        certainty: weaker(own, first.certainty),
    })
}
