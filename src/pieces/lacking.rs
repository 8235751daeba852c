//! What a run or a set lacks, by what the library knows of a line's forms.

use std::collections::BTreeMap;

use super::book::{Book, Piece};
use super::origin::origin;
use super::sets::Set;
use super::told_of::speaks_of;
use crate::dating::Span;
use crate::dating::reach::reach;
use crate::library::{FormFact, Library};

/// What one holds of a line's forms.
#[derive(Debug, Clone, PartialEq)]
pub struct Runs<'l> {
    /// `maker/line`.
    pub line: String,
    /// Each form of the line's record, and the pieces held.
    pub forms: Vec<(&'l FormFact, Vec<i64>)>,
}

impl<'l> Runs<'l> {
    /// The forms of which no piece is held.
    pub fn lacking(&self) -> impl Iterator<Item = &'l FormFact> {
        let none = self.forms.iter().filter(|(_, held)| held.is_empty());
        none.map(|(fact, _)| *fact)
    }
}

/// Which lines and years are asked after.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RunAsked {
    /// A line that is told also where nothing of it is held, `maker/line`; no other is.
    pub line: Option<String>,
    /// Forms that were certainly not made then are left out.
    pub made: Option<Span>,
}

/// For every line of which anything is held, or for the one asked after, where its forms are known:
/// what is held and what lacks.
pub fn runs<'l>(
    pieces: &[&Piece],
    book: &Book,
    library: &'l Library,
    asked: &RunAsked,
) -> Vec<Runs<'l>> {
    let mut held: BTreeMap<String, Vec<&Piece>> = BTreeMap::new();
    if let Some(line) = &asked.line {
        held.insert(line.clone(), Vec::new());
    }
    for piece in pieces {
        if let Some(line) = origin(piece, book, library).line {
            held.entry(line.id).or_default().push(piece);
        }
    }
    held.retain(|line, _| asked.line.as_ref().is_none_or(|asked| asked == line));
    let of_line = |(line, pieces): (String, Vec<&Piece>)| {
        let forms = forms_of(&line, library, asked.made);
        let forms: Vec<_> = forms.map(|fact| (fact, of_form(fact, &pieces))).collect();
        (!forms.is_empty()).then_some(Runs { line, forms })
    };
    held.into_iter().filter_map(of_line).collect()
}

/// What the line of a set had beside what is in it, as far as it may have been made when the set was.
/// `None` where its pieces are of no known line, or of several.
pub fn beyond_set<'l>(set: &Set<'_>, book: &Book, library: &'l Library) -> Option<Runs<'l>> {
    let lines = set
        .members
        .iter()
        .filter_map(|p| origin(p, book, library).line);
    let mut lines: Vec<String> = lines.map(|line| line.id).collect();
    lines.dedup();
    let [line] = lines.as_slice() else {
        return None;
    };
    let forms = forms_of(line, library, set.span);
    let forms: Vec<_> = forms
        .map(|fact| (fact, of_form(fact, &set.members)))
        .collect();
    (!forms.is_empty()).then(|| Runs {
        line: line.clone(),
        forms,
    })
}

/// The forms that a line's record lists, but for those that were not made within `made`.
fn forms_of<'l>(
    line: &str,
    library: &'l Library,
    made: Option<Span>,
) -> impl Iterator<Item = &'l FormFact> {
    let record = library.line(line);
    let listed = record.into_iter().flat_map(|r| &r.facts.forms);
    listed.filter(move |fact| match (&fact.made, made) {
        (Some(own), Some(wanted)) => reach(own.value()).and(wanted).is_some(),
        _ => true,
    })
}

fn of_form(fact: &FormFact, pieces: &[&Piece]) -> Vec<i64> {
    let own = pieces.iter().filter(|p| speaks_of(fact, p));
    own.map(|p| p.number).collect()
}

/// A form with the types that its record narrows it to, and its run: `teapot (acorn, made 1928/1930)`.
pub fn say_form(fact: &FormFact) -> String {
    let details = [&fact.handle, &fact.foot, &fact.finial];
    let mut details: Vec<String> = details.into_iter().flatten().cloned().collect();
    details.extend(fact.made.as_ref().map(|made| format!("made {made}")));
    match details.is_empty() {
        true => fact.form.clone(),
        false => format!("{} ({})", fact.form, details.join(", ")),
    }
}

/// Several of them, or `nothing`.
pub fn say_forms<'l>(facts: impl Iterator<Item = &'l FormFact>) -> String {
    let forms: Vec<String> = facts.map(say_form).collect();
    match forms.is_empty() {
        true => "nothing".to_owned(),
        false => forms.join(", "),
    }
}
