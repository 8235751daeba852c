//! Pieces in words. *Marked*, *attributed* and *unknown* are never mixed.

use super::Known;
use super::attribution::{Attribution, Opinion};
use super::bodies::{Fit, body_and_stamp};
use super::book::{Book, Piece, Told};
use super::clues::date;
use super::form::form;
use super::marks::Stamp;
use super::notable::{Notable, notable};
use super::origin::origin;
use super::sets::{Completeness, Set, Togetherness};
use super::values::Lid;
use crate::dating::tell::tell_answer;
use crate::dating::words::say;
use crate::decision::{Certainty, PieceFact};

/// `marked: Mill Lane Pottery (Crown over ribbon)`, `attributed: Mill Lane Pottery, by its partner,
/// piece 4`, `unknown`; what the person is not sure of is said to be probable.
pub fn say_opinion(opinion: &Opinion) -> String {
    let probably = match opinion.certainty {
        Certainty::Sure => "",
        Certainty::Probably | Certainty::NotStated => "probably ",
    };
    match &opinion.says {
        Attribution::Unknown => "unknown".to_owned(),
        Attribution::Marked { who, mark: None } => format!("{probably}marked: {who}"),
        Attribution::Marked {
            who,
            mark: Some(mark),
        } => format!("{probably}marked: {who} ({mark})"),
        Attribution::Attributed { who, by } => format!("{probably}attributed: {who}, {by}"),
    }
}

/// What the person said, with `probably` before what they are not sure of.
pub fn say_fact(told: &Told) -> String {
    match told.certainty {
        Certainty::Sure => told.text.clone(),
        Certainty::Probably | Certainty::NotStated => format!("probably {}", told.text),
    }
}

pub fn say_lid(lid: Lid) -> &'static str {
    match lid {
        Lid::Present => "with its lid",
        Lid::Missing => "lid missing",
        Lid::Never => "made without a lid",
    }
}

/// How a fact is called before a person.
fn label(fact: PieceFact) -> &'static str {
    match fact {
        PieceFact::MadeBy => "made by",
        PieceFact::DecoratedBy => "decorated by",
        PieceFact::MadeFor => "made for",
        PieceFact::SetNeeds => "the set needs",
        PieceFact::Place => "stands",
        PieceFact::Clues => "clues by hand",
        fact => fact.word(),
    }
}

/// Facts that [`tell_piece`] tells in its own words.
const TOLD_APART: [PieceFact; 7] = [
    PieceFact::Photos,
    PieceFact::Form,
    PieceFact::Lid,
    PieceFact::Body,
    PieceFact::MadeBy,
    PieceFact::DecoratedBy,
    PieceFact::MadeFor,
];

/// All that is known of a piece, label and text a line.
pub fn tell_piece(piece: &Piece, book: &Book, known: &Known<'_>) -> Vec<(String, String)> {
    let library = known.library;
    let origin = origin(piece, book, library);
    let dating = date(piece, book, known, Vec::new());
    let mut lines: Vec<(String, String)> = Vec::new();
    let mut line = |label: &str, text: String| lines.push((label.to_owned(), text));
    if let Some(told) = piece.told(PieceFact::Form) {
        let aat = form(&told.text).and_then(|f| Some(format!(" (AAT {}, {})", f.aat()?, f.term)));
        line("form", say_fact(told) + &aat.unwrap_or_default());
    }
    if let Some(lid) = piece.lid() {
        line("lid", say_lid(lid).to_owned());
    }
    line("mark", say_stamp(piece, known));
    line("made by", say_opinion(&origin.made_by));
    line("decorated by", say_opinion(&origin.decorated_by));
    line("made for", say_opinion(&origin.made_for));
    match &origin.line {
        Some(which) => {
            let probably = match which.certainty {
                Certainty::Sure => "",
                _ => "probably ",
            };
            let name = library.line_name(&which.id);
            line("line", format!("{name} ({probably}{})", which.how.say()));
        }
        None => line("line", "unknown".to_owned()),
    }
    if let Some(told) = piece.told(PieceFact::Body) {
        let name = library.line_name(&told.text);
        let fit = match body_and_stamp(piece, library, dating.span()) {
            Fit::NotTold | Fit::Same => String::new(),
            Fit::Explained(rule) => format!("; another line than the stamp's: {rule}"),
            Fit::Unsettled(rule) => format!("; another line than the stamp's, perhaps as {rule}"),
            Fit::Odd => {
                "; odd pairing: another line than the stamp's, and no rule explains it".to_owned()
            }
        };
        line("body", format!("{name}{fit}"));
    }
    for (fact, told) in piece.facts().filter(|(f, _)| !TOLD_APART.contains(f)) {
        line(label(fact), say_fact(told));
    }
    line("date", tell_answer(&dating));
    for noted in notable(piece, &origin, library) {
        let label = match noted {
            Notable::Look(_) => "look",
            Notable::Explained(_) => "note",
        };
        line(label, noted.text().to_owned());
    }
    lines
}

/// The marks and codes confirmed on a piece, or that it has none.
pub fn say_stamp(piece: &Piece, known: &Known<'_>) -> String {
    let probably = |certainty| match certainty {
        Certainty::Sure => "",
        Certainty::Probably | Certainty::NotStated => "probably ",
    };
    let marks = piece.marks.iter().map(|m| {
        format!(
            "{}{}",
            probably(m.certainty),
            known.library.name_of(&m.family)
        )
    });
    let codes = piece
        .codes
        .iter()
        .map(|c| format!("{}code {}", probably(c.certainty), c.code));
    let all: Vec<String> = marks.chain(codes).collect();
    let bare = match piece.stamp {
        Stamp::Known => return all.join("; "),
        Stamp::Stranger => "a mark that the library does not have",
        Stamp::Bare => "unmarked",
        Stamp::NotSaid => "nothing said yet",
    };
    match all.is_empty() {
        true => bare.to_owned(),
        false => format!("{bare}; {}", all.join("; ")),
    }
}

/// A set in one line: `complete, of one line, between 1928 and 1933`.
pub fn say_set(set: &Set<'_>) -> String {
    let complete = match &set.completeness {
        Completeness::NotSaid => "nobody said what it needs".to_owned(),
        Completeness::Complete => "complete".to_owned(),
        Completeness::Part(lacking) => format!("a part: lacks {}", say_needs(lacking)),
    };
    let together = match &set.togetherness {
        Togetherness::NotTold => "too little known to say whether it belongs together".to_owned(),
        Togetherness::One => "of one line".to_owned(),
        Togetherness::Mixed(rules) => format!("mixed, as known: {}", rules.join("; ")),
        Togetherness::Mismatched(why) => format!("mismatched: {}", why.join("; ")),
    };
    let dated = set.span.map_or_else(|| "undated".to_owned(), say);
    format!("{complete}; {together}; {dated}")
}

/// `2 cup, 1 teapot`.
pub fn say_needs(needs: &[(usize, String)]) -> String {
    let parts: Vec<String> = needs
        .iter()
        .map(|(n, form)| format!("{n} {form}"))
        .collect();
    parts.join(", ")
}
