//! What stands above a piece, and the few words of a label or a slide.

use super::describe::{Sentence, dated, sentences};
use crate::decision::{Certainty, PieceFact};
use crate::pieces::{Attribution, Book, Known, LineOf, Piece, WhichLine, origin};

/// Form and line. Only a line that a mark names stands here; the sentences tell how any other is known.
pub fn title(piece: &Piece, book: &Book, known: &Known<'_>) -> String {
    let what = match (piece.form(), piece.sure(PieceFact::Form)) {
        (Some(form), None) => format!("possibly {form}"),
        (form, _) => form.unwrap_or("piece").to_owned(),
    };
    let stamped = |line: &WhichLine| line.how == LineOf::Stamp && line.certainty == Certainty::Sure;
    let line = origin(piece, book, known.library).line.filter(stamped);
    let line = line.map(|l| known.library.line_name(&l.id));
    let parts: Vec<String> = [Some(what), line].into_iter().flatten().collect();
    capital(&parts.join(", "))
}

/// What the maker's name rests on: `marked …`, `attributed to …, by …`, `maker unknown`.
pub fn standing(piece: &Piece, book: &Book, known: &Known<'_>) -> String {
    let made_by = origin(piece, book, known.library).made_by;
    let probably = match made_by.certainty {
        Certainty::Sure => "",
        _ => "possibly ",
    };
    match &made_by.says {
        Attribution::Marked { who, .. } => format!("{probably}marked {who}"),
        Attribution::Attributed { who, by } => format!("{probably}attributed to {who}, {by}"),
        Attribution::Unknown => "maker unknown".to_owned(),
    }
}

/// Confirmed sentences that go into one line of a slide.
const IN_A_LINE: usize = 2;

/// Two lines, at most, of confirmed facts: what it is marked with or attributed to and by what, and when
/// it was made; without a date, what else is sure.
pub fn two_lines(piece: &Piece, book: &Book, known: &Known<'_>) -> Vec<String> {
    let confirmed = |s: &Sentence| s.confirmed;
    let date = dated(piece, book, known).filter(confirmed).map(|s| s.text);
    // The first tells the form, which stands in the title.
    let told = sentences(piece, book, known).into_iter().skip(1);
    let told = told.filter(confirmed).map(|s| s.text);
    let told: Vec<String> = told.filter(|text| date.as_ref() != Some(text)).collect();
    let mut lines = told.chunks(IN_A_LINE).map(|some| some.join(" "));
    let first = lines.next();
    [first, date.or_else(|| lines.next())]
        .into_iter()
        .flatten()
        .collect()
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().collect::<String>());
    first.unwrap_or_default() + chars.as_str()
}
