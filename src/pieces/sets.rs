//! Sets: a cup with its saucer, services, parts of services.

use super::Known;
use super::bodies::{Fit, line_in_set, pair_fits};
use super::book::{Book, Piece};
use super::clues::date_alone;
use super::values::Needs;
use crate::dating::Span;
use crate::decision::PieceFact;
use crate::library::Library;

/// Whether a set has all that it needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Completeness {
    /// Nobody said what it needs.
    NotSaid,
    Complete,
    /// What is lacking: how many of which form.
    Part(Vec<(usize, String)>),
}

/// Whether the pieces of a set belong together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Togetherness {
    /// Too little is known of them.
    NotTold,
    /// All are of one line, in one decoration.
    One,
    /// Of several lines, as a rule of the library explains; in words.
    Mixed(Vec<String>),
    /// Something does not go together, and no rule explains it; in words.
    Mismatched(Vec<String>),
}

/// A set.
#[derive(Debug, Clone, PartialEq)]
pub struct Set<'b> {
    pub name: String,
    pub members: Vec<&'b Piece>,
    pub needs: Option<Needs>,
    pub completeness: Completeness,
    pub togetherness: Togetherness,
    /// From the earliest to the latest of its pieces that are dated; `None` where none is.
    pub span: Option<Span>,
}

/// All sets, by name.
pub fn sets<'b>(book: &'b Book, known: &Known<'_>) -> Vec<Set<'b>> {
    book.set_names()
        .map(|name| set(name, book, known))
        .collect()
}

/// One set; without members where there is none of that name.
pub fn set<'b>(name: &str, book: &'b Book, known: &Known<'_>) -> Set<'b> {
    let members = book.set(name);
    let needs = needs(&members);
    let forms: Vec<&str> = members.iter().filter_map(|p| p.form()).collect();
    let completeness = match needs.as_ref().map(|needs| needs.lacking(&forms)) {
        None => Completeness::NotSaid,
        Some(lacking) if lacking.is_empty() => Completeness::Complete,
        Some(lacking) => Completeness::Part(lacking),
    };
    let spans = members
        .iter()
        .filter_map(|p| date_alone(p, book, known).span())
        .filter(|span| !span.is_always());
    Set {
        name: name.to_owned(),
        span: spans.reduce(Span::or),
        togetherness: togetherness(&members, book, known.library),
        members,
        needs,
        completeness,
    }
}

/// What the set needs: the latest word of any member.
fn needs(members: &[&Piece]) -> Option<Needs> {
    let told = members.iter().filter_map(|p| p.told(PieceFact::SetNeeds));
    let latest = told.max_by_key(|told| told.number)?;
    Needs::read(&latest.text)
}

/// Whether pieces belong together, two by two.
pub(super) fn togetherness(members: &[&Piece], book: &Book, library: &Library) -> Togetherness {
    let lines: Vec<Option<String>> = members
        .iter()
        .map(|p| line_in_set(p, book, library))
        .collect();
    let (mut odd, mut explained, mut same) = (Vec::new(), Vec::new(), false);
    for (at, one) in members.iter().enumerate() {
        for (beyond, other) in members.iter().enumerate().skip(at + 1) {
            if let (Some(a), Some(b)) = (&lines[at], &lines[beyond]) {
                match pair(one, a, other, b, library) {
                    Ok(None) => same = true,
                    Ok(Some(rule)) => push_new(&mut explained, rule),
                    Err(why) => push_new(&mut odd, why),
                }
            }
            for fact in [PieceFact::Decoration, PieceFact::Colourway] {
                if let (Some(a), Some(b)) = (one.text(fact), other.text(fact))
                    && a.to_lowercase() != b.to_lowercase()
                {
                    push_new(&mut odd, format!("{} {a} beside {b}", fact.word()));
                }
            }
        }
    }
    match (odd.is_empty(), explained.is_empty(), same) {
        (false, ..) => Togetherness::Mismatched(odd),
        (_, false, _) => Togetherness::Mixed(explained),
        (_, _, true) => Togetherness::One,
        _ => Togetherness::NotTold,
    }
}

/// Nothing where both are of one line, the rule that explains them, or why they do not go together.
fn pair(
    one: &Piece,
    a: &str,
    other: &Piece,
    b: &str,
    library: &Library,
) -> Result<Option<String>, String> {
    if a == b {
        return Ok(None);
    }
    let (name_a, name_b) = (library.line_name(a), library.line_name(b));
    match pair_fits((one, a), (other, b), library) {
        Fit::Explained(rule) => Ok(Some(rule)),
        Fit::Unsettled(rule) => Err(format!("{name_a} beside {name_b}, unless {rule}")),
        _ => Err(format!("{name_a} beside {name_b}, and no rule explains it")),
    }
}

fn push_new(list: &mut Vec<String>, text: String) {
    if !list.contains(&text) {
        list.push(text);
    }
}
