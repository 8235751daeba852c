//! What the library tells of a piece's line and maker, and of its form.

use super::attribution::Opinion;
use super::book::Piece;
use super::form::same_form;
use super::origin::maker_folder;
use super::which_line::WhichLine;
use crate::decision::PieceFact;
use crate::library::{Facts, FormFact, Library};

/// The facts that speak of a piece's line and maker, the line's first, each with whose they are.
pub(super) fn facts_of<'l>(
    made_by: &Opinion,
    line: Option<&WhichLine>,
    library: &'l Library,
) -> Vec<(String, &'l Facts)> {
    let mut found = Vec::new();
    if let Some((line, record)) = line.and_then(|l| Some((l, library.line(&l.id)?))) {
        found.push((library.line_name(&line.id), &record.facts));
    }
    let by_line = line.and_then(|l| l.id.split_once('/')).map(|(m, _)| m);
    let by_name = || maker_folder(library, made_by.says.who()?);
    if let Some(folder) = by_line.or_else(by_name) {
        let maker = library.makers.get(folder);
        found.extend(maker.map(|m| (library.maker_name(folder), &m.record.facts)));
    }
    found
}

/// Whether a fact about a form speaks of a piece: the form is the same, and so are handle, foot and
/// finial where the fact names them.
pub(super) fn speaks_of(fact: &FormFact, piece: &Piece) -> bool {
    let same = |wanted: &Option<String>, has: PieceFact| {
        let has = piece.text(has).map(str::to_lowercase);
        wanted.is_none() || has == wanted.as_ref().map(|w| w.to_lowercase())
    };
    piece.form().is_some_and(|form| same_form(form, &fact.form))
        && same(&fact.handle, PieceFact::Handle)
        && same(&fact.foot, PieceFact::Foot)
        && same(&fact.finial, PieceFact::Finial)
}

/// The facts about a piece's form, the most particular first, each with whose they are.
pub(super) fn form_facts<'l>(
    piece: &Piece,
    facts: &[(String, &'l Facts)],
) -> Vec<(String, &'l FormFact)> {
    let mut found: Vec<(String, &FormFact)> = Vec::new();
    for (whose, facts) in facts {
        let own = facts.forms.iter().filter(|fact| speaks_of(fact, piece));
        found.extend(own.map(|fact| (whose.clone(), fact)));
    }
    let particular = |fact: &FormFact| {
        let details = [&fact.handle, &fact.foot, &fact.finial];
        details.into_iter().flatten().count()
    };
    found.sort_by_key(|(_, fact)| std::cmp::Reverse(particular(fact)));
    found
}
