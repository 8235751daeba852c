//! What a person should look at, or what explains what looks odd, about the marks of a piece.

use super::book::Piece;
use super::marks::Stamp;
use super::origin::{Origin, by_mark, marks_of, named};
use super::told_of::{facts_of, form_facts};
use crate::decision::PieceFact;
use crate::library::{FamilyId, Habit, Library, StampRole};

/// Something that a person should look at, or that explains what looks odd.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notable {
    /// Worth a second look.
    Look(String),
    /// It looks odd and is known.
    Explained(String),
}

impl Notable {
    pub fn text(&self) -> &str {
        match self {
            Self::Look(text) | Self::Explained(text) => text,
        }
    }
}

/// What is notable about the marks of a piece, apart from its body: see
/// [`body_and_stamp`](super::body_and_stamp).
pub fn notable(piece: &Piece, origin: &Origin, library: &Library) -> Vec<Notable> {
    let mut all = Vec::new();
    let marks = marks_of(piece, library, StampRole::Maker);
    let makers = marks.iter().filter_map(|m| FamilyId::parse(&m.family).ok());
    let makers: Vec<String> = makers.map(|id| library.maker_name(id.maker())).collect();
    if let Some(other) = makers.iter().find(|m| **m != makers[0]) {
        let first = &makers[0];
        all.push(Notable::Look(format!(
            "it carries marks of two makers, {first} and {other}: is one the decorator's or the customer's?"
        )));
    }
    if let (Some(said), Some(marked)) = (
        piece.said(PieceFact::MadeBy),
        by_mark(piece, library, StampRole::Maker),
    ) {
        let (said, marked) = (named(said, library), marked);
        if said.says.who() != marked.says.who() {
            let (said, marked) = (said.says.who(), marked.says.who().unwrap_or_default());
            let said = said.unwrap_or("unknown");
            all.push(Notable::Look(format!(
                "you say that its maker is {said}, its mark says {marked}"
            )));
        }
    }
    all.extend(of_habit(piece, origin, library));
    all
}

/// What the habit of marking this form says of a piece that carries a mark, or carries none.
fn of_habit(piece: &Piece, origin: &Origin, library: &Library) -> Option<Notable> {
    let facts = facts_of(&origin.made_by, origin.line.as_ref(), library);
    let known = form_facts(piece, &facts);
    let (whose, fact) = known.iter().find(|(_, fact)| fact.marked.is_some())?;
    let habit = fact.marked?;
    let source = fact.source.as_ref().map(|s| format!(" ({s})"));
    let except = fact.except.as_ref().map(|e| format!(", except {e}"));
    let rule = format!(
        "{whose} {} marked its form \"{}\"{}{}",
        habit.word(),
        fact.form,
        except.unwrap_or_default(),
        source.unwrap_or_default()
    );
    match (piece.stamp, habit) {
        (Stamp::Known, Habit::Never) => Some(Notable::Look(format!(
            "marked, though {rule}: worth a note, and no error"
        ))),
        (Stamp::Bare, Habit::Always) => Some(Notable::Look(format!(
            "unmarked, though {rule}: look again"
        ))),
        (Stamp::Bare, Habit::Seldom | Habit::Never) => {
            Some(Notable::Explained(format!("unmarked as expected: {rule}")))
        }
        _ => None,
    }
}
