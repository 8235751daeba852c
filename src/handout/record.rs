//! A piece as a record for programs: the lines of `footring list --jsonl`, schema 1.

use std::collections::BTreeMap;

use serde::Serialize;

use super::With;
use crate::dating::tell::tell_answer;
use crate::decision::{Certainty, ContentHash, PieceFact};
use crate::pieces::{
    Attribution, Book, Fit, Known, LineOf, Opinion, Piece, Stamp, body_and_stamp, date, form,
    notable, origin,
};

/// Version of the record; a changed meaning raises it, a new field does not.
pub const SCHEMA: u32 = 1;

/// What is known of a lot.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LotTold {
    pub date: Option<String>,
    pub place: Option<String>,
}

/// Who, and how that is known.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OpinionRecord {
    /// `marked`, `attributed` or `unknown`.
    pub status: &'static str,
    pub who: Option<String>,
    /// The mark's name, or what the attribution rests on.
    pub by: Option<String>,
    pub certainty: &'static str,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineRecord {
    /// `maker/line`.
    pub id: String,
    pub name: String,
    /// `marked` or `attributed`.
    pub status: &'static str,
    pub by: String,
    pub certainty: &'static str,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarkRecord {
    pub family: String,
    pub name: String,
    pub certainty: &'static str,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DateRecord {
    pub text: String,
    /// EDTF; null where there is none.
    pub edtf: Option<String>,
    /// First and last day; null is no limit.
    pub earliest: Option<String>,
    pub latest: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhotoRecord {
    pub role: &'static str,
    /// BLAKE3 of the file, hex.
    pub hash: String,
    pub file: Option<String>,
}

/// One piece. What was not said is null or empty; what was not asked for is absent.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PieceRecord {
    pub schema: u32,
    pub piece: i64,
    pub lot: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot_date: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot_place: Option<String>,
    pub form: Option<String>,
    /// Id in the Art & Architecture Thesaurus.
    pub form_aat: Option<&'static str>,
    pub handle: Option<String>,
    pub foot: Option<String>,
    pub finial: Option<String>,
    /// `present`, `missing` or `never`.
    pub lid: Option<String>,
    /// `known`, `stranger`, `bare` or `not-said`.
    pub mark: &'static str,
    pub marks: Vec<MarkRecord>,
    pub codes: Vec<String>,
    pub made_by: OpinionRecord,
    pub decorated_by: OpinionRecord,
    pub made_for: OpinionRecord,
    pub line: Option<LineRecord>,
    pub body: Option<String>,
    /// `same`, `explained`, `unsettled` or `odd`; null where nothing can be said.
    pub body_and_stamp: Option<&'static str>,
    pub techniques: Vec<String>,
    pub decoration: Option<String>,
    pub colourway: Option<String>,
    pub numbers: Vec<String>,
    pub glaze: Option<String>,
    /// In mm, by the name of the measure.
    pub size: BTreeMap<&'static str, u32>,
    pub condition: Option<String>,
    pub set: Option<String>,
    pub date: DateRecord,
    pub photos: Vec<PhotoRecord>,
    pub asked: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub notes: Option<String>,
    /// Facts that the person is not sure of, by their words.
    pub probably: Vec<&'static str>,
    /// What is worth a second look, in words.
    pub notable: Vec<String>,
}

fn opinion(opinion: &Opinion) -> OpinionRecord {
    let by = match &opinion.says {
        Attribution::Marked { mark, .. } => mark.clone(),
        Attribution::Attributed { by, .. } => Some(by.to_string()),
        Attribution::Unknown => None,
    };
    OpinionRecord {
        status: opinion.says.word(),
        who: opinion.says.who().map(str::to_owned),
        by,
        certainty: opinion.certainty.word(),
    }
}

/// The record of a piece. `file` names a photo, where it is known.
pub fn record(
    piece: &Piece,
    book: &Book,
    known: &Known<'_>,
    lot: &LotTold,
    file: &dyn Fn(&ContentHash) -> Option<String>,
    with: With,
) -> PieceRecord {
    let library = known.library;
    let origin = origin(piece, book, library);
    let dating = date(piece, book, known, Vec::new());
    let span = dating.span().unwrap_or_default();
    let text = |fact| piece.text(fact).map(str::to_owned);
    let list = |fact| piece.list(fact).into_iter().map(str::to_owned).collect();
    let fit = match body_and_stamp(piece, library, dating.span()) {
        Fit::NotTold => None,
        Fit::Same => Some("same"),
        Fit::Explained(_) => Some("explained"),
        Fit::Unsettled(_) => Some("unsettled"),
        Fit::Odd => Some("odd"),
    };
    let when = |asked: bool, fact| text(fact).filter(|_| asked);
    let unsure = piece
        .facts()
        .filter(|(_, t)| t.certainty != Certainty::Sure);
    PieceRecord {
        schema: SCHEMA,
        piece: piece.number,
        lot: piece.lot.clone(),
        lot_date: lot.date.clone().filter(|_| with.lot_place),
        lot_place: lot.place.clone().filter(|_| with.lot_place),
        form: text(PieceFact::Form),
        form_aat: piece.form().and_then(form).and_then(|f| f.aat()),
        handle: text(PieceFact::Handle),
        foot: text(PieceFact::Foot),
        finial: text(PieceFact::Finial),
        lid: text(PieceFact::Lid),
        mark: match piece.stamp {
            Stamp::Known => "known",
            Stamp::Stranger => "stranger",
            Stamp::Bare => "bare",
            Stamp::NotSaid => "not-said",
        },
        marks: piece
            .marks
            .iter()
            .map(|mark| MarkRecord {
                family: mark.family.clone(),
                name: library.name_of(&mark.family),
                certainty: mark.certainty.word(),
            })
            .collect(),
        codes: piece.codes.iter().map(|c| c.code.clone()).collect(),
        made_by: opinion(&origin.made_by),
        decorated_by: opinion(&origin.decorated_by),
        made_for: opinion(&origin.made_for),
        line: origin.line.as_ref().map(|line| LineRecord {
            id: line.id.clone(),
            name: library.line_name(&line.id),
            status: match line.how {
                LineOf::Stamp => "marked",
                _ => "attributed",
            },
            by: line.how.say(),
            certainty: line.certainty.word(),
        }),
        body: text(PieceFact::Body),
        body_and_stamp: fit,
        techniques: list(PieceFact::Techniques),
        decoration: text(PieceFact::Decoration),
        colourway: text(PieceFact::Colourway),
        numbers: list(PieceFact::Numbers),
        glaze: text(PieceFact::Glaze),
        size: piece
            .size()
            .unwrap_or_default()
            .0
            .iter()
            .map(|(d, mm)| (d.word(), *mm))
            .collect(),
        condition: text(PieceFact::Condition),
        set: text(PieceFact::Set),
        date: DateRecord {
            text: tell_answer(&dating),
            edtf: dating.edtf().map(|e| e.to_string()),
            earliest: span.not_before.map(|d| d.to_string()),
            latest: span.not_after.map(|d| d.to_string()),
        },
        photos: piece
            .photos
            .iter()
            .map(|p| PhotoRecord {
                role: p.role.word(),
                hash: p.photo.to_string(),
                file: file(&p.photo),
            })
            .collect(),
        asked: text(PieceFact::Asked),
        cost: when(with.cost, PieceFact::Cost),
        owner: when(with.owner, PieceFact::Owner),
        place: when(with.place, PieceFact::Place),
        notes: when(with.notes, PieceFact::Notes),
        probably: unsure.map(|(fact, _)| fact.word()).collect(),
        notable: notable(piece, &origin, library)
            .iter()
            .map(|n| n.text().to_owned())
            .collect(),
    }
}
