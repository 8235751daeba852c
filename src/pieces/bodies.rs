//! Body and stamp may disagree, and legitimately: a borrowed cup, a pair mixed for a shop.
//!
//! Rules of the person's library explain it. Without one it is an odd pairing; the same one in pieces
//! of several independent lots proposes a rule, and never makes it.

use std::collections::BTreeMap;

use super::book::{Book, Piece};
use super::form::{form, same_form};
use super::origin::{customer, origin};
use super::which_line::{body_line, stamped_line};
use crate::dating::Span;
use crate::dating::reach::reach;
use crate::decision::PieceFact;
use crate::library::{Conditions, Library};

/// Lots in which an odd pairing must have turned up before a rule is proposed. Two may be one
/// household that was split; three that know nothing of each other are how the trade comes to
/// believe in a pairing (our choice).
pub const INDEPENDENT_LOTS: usize = 3;

/// How body and stamp of a piece go together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fit {
    /// Nothing can be said: no body, or no stamp of one line.
    NotTold,
    /// Both are of one line.
    Same,
    /// A rule of the library explains it, in words.
    Explained(String),
    /// A rule would explain it if something held that was not said, in words.
    Unsettled(String),
    /// No rule explains it.
    Odd,
}

/// Whether a rule's conditions hold for a piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Holds {
    Yes,
    /// These facts were not said.
    NotSaid(Vec<&'static str>),
    No,
}

/// Whether conditions hold. `span` is when the piece was made, where that is known.
pub fn rule_holds(
    when: &Conditions,
    piece: &Piece,
    library: &Library,
    span: Option<Span>,
) -> Holds {
    let mut missing = Vec::new();
    let mut check = |name, wanted: Option<bool>| match wanted {
        None => {
            missing.push(name);
            true
        }
        Some(holds) => holds,
    };
    let same = |fact: PieceFact, wanted: &str| {
        let has = piece.text(fact)?;
        Some(has.to_lowercase() == wanted.to_lowercase())
    };
    let customer = |wanted: &str| {
        let has = customer(piece, library)?;
        Some(has.to_lowercase() == wanted.to_lowercase())
    };
    let holds = [
        when.form
            .as_ref()
            .is_none_or(|f| check("form", piece.form().map(|own| same_form(own, f)))),
        when.glaze
            .as_ref()
            .is_none_or(|g| check("glaze", same(PieceFact::Glaze, g))),
        when.decoration
            .as_ref()
            .is_none_or(|d| check("decoration", same(PieceFact::Decoration, d))),
        when.customer
            .as_ref()
            .is_none_or(|c| check("customer", customer(c))),
        when.years.as_ref().is_none_or(|years| {
            let span = span.filter(|s| !s.is_always());
            check("date", span.map(|s| s.and(reach(years.value())).is_some()))
        }),
    ];
    match (holds.contains(&false), missing.is_empty()) {
        (true, _) => Holds::No,
        (false, true) => Holds::Yes,
        (false, false) => Holds::NotSaid(missing),
    }
}

/// The outcome of several rules: one that holds explains it, else one that lacks a word.
fn settle(rules: impl IntoIterator<Item = (String, Holds)>) -> Fit {
    let mut unsettled = None;
    for (rule, holds) in rules {
        match holds {
            Holds::Yes => return Fit::Explained(rule),
            Holds::NotSaid(missing) => {
                let lacking = missing.join(" and ");
                unsettled = Some(format!("{rule}; its {lacking} is not said"));
            }
            Holds::No => {}
        }
    }
    unsettled.map_or(Fit::Odd, Fit::Unsettled)
}

fn told(rule: &str, when: &Conditions, source: Option<&String>) -> String {
    let when = match when.to_string() {
        when if when.is_empty() => when,
        when => format!(", {when}"),
    };
    let source = source.map_or_else(String::new, |s| format!(" ({s})"));
    format!("{rule}{when}{source}")
}

/// How body and stamp go together. `span` is when the piece was made, where that is known.
pub fn body_and_stamp(piece: &Piece, library: &Library, span: Option<Span>) -> Fit {
    let (Some(stamp), Some(body)) = (stamped_line(piece, library), body_line(piece, library))
    else {
        return Fit::NotTold;
    };
    if stamp.id == body {
        return Fit::Same;
    }
    let (Some(record), Some((maker, _))) = (library.line(&stamp.id), stamp.id.split_once('/'))
    else {
        return Fit::Odd;
    };
    let (line, of_body) = (library.line_name(&stamp.id), library.line_name(body));
    let own = library.makers.get(maker).map(|m| &m.record.facts);
    let facts: Vec<_> = [Some(&record.facts), own].into_iter().flatten().collect();
    let is_body = |name: &str| library.line_id(maker, name) == body;
    let mut rules = Vec::new();
    for fact in facts.iter().flat_map(|f| &f.forms) {
        let from = fact.borrowed_from.as_deref();
        if from.is_some_and(is_body) && piece.form().is_some_and(|f| same_form(f, &fact.form)) {
            let rule = format!("{line} borrowed its {} from {of_body}", fact.form);
            let rule = told(&rule, &Conditions::default(), fact.source.as_ref());
            rules.push((rule, Holds::Yes));
        }
    }
    for fact in facts.iter().flat_map(|f| &f.borrows) {
        if is_body(&fact.body) {
            let rule = format!("{line} used bodies of {of_body}");
            let rule = told(&rule, &fact.when, fact.source.as_ref());
            rules.push((rule, rule_holds(&fact.when, piece, library, span)));
        }
    }
    settle(rules)
}

/// Whether two pieces of different lines went out together by a rule of either line. The rule's form
/// is that of the piece of the other line; the rest may hold for either piece.
pub(super) fn pair_fits(one: (&Piece, &str), other: (&Piece, &str), library: &Library) -> Fit {
    let mut rules = Vec::new();
    for ((piece, line), (with, with_line)) in [(one, other), (other, one)] {
        let Some((record, (maker, _))) = library.line(line).zip(line.split_once('/')) else {
            continue;
        };
        for fact in &record.facts.pairs {
            if library.line_id(maker, &fact.line) != with_line {
                continue;
            }
            let names = (library.line_name(line), library.line_name(with_line));
            let rule = format!("{} went out with {}", names.0, names.1);
            let rule = told(&rule, &fact.when, fact.source.as_ref());
            let of_own = Conditions {
                form: None,
                ..fact.when.clone()
            };
            let holds = match rule_holds(&fact.when, with, library, None) {
                Holds::Yes => Holds::Yes,
                of_other => match (rule_holds(&of_own, piece, library, None), of_other) {
                    (_, Holds::No) if fact.when.form.is_some() => Holds::No,
                    (Holds::Yes, _) => Holds::Yes,
                    (_, of_other) => of_other,
                },
            };
            rules.push((rule, holds));
        }
    }
    settle(rules)
}

/// An odd pairing that turned up in a piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OddPairing {
    pub piece: i64,
    pub lot: String,
    pub key: OddKind,
}

/// What does not go together, by ids of lines.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum OddKind {
    /// A stamp of one line on a body of another.
    BodyAndStamp {
        stamp: String,
        body: String,
        form: Option<String>,
    },
    /// Pieces of two lines in one set; the smaller id first.
    Partners { one: String, other: String },
}

/// All odd pairings, in order of the pieces.
pub fn odd_pairings(
    book: &Book,
    library: &Library,
    span: &dyn Fn(&Piece) -> Option<Span>,
) -> Vec<OddPairing> {
    let mut found = Vec::new();
    for piece in book.pieces() {
        if body_and_stamp(piece, library, None) != Fit::NotTold
            && body_and_stamp(piece, library, span(piece)) == Fit::Odd
            && let (Some(stamp), Some(body)) =
                (stamped_line(piece, library), body_line(piece, library))
        {
            let plain = piece.form().map(|f| form(f).map_or(f, |known| known.name));
            found.push(OddPairing {
                piece: piece.number,
                lot: piece.lot.clone(),
                key: OddKind::BodyAndStamp {
                    stamp: stamp.id,
                    body: body.to_owned(),
                    form: plain.map(str::to_owned),
                },
            });
        }
        found.extend(odd_partners(piece, book, library));
    }
    found
}

/// Odd partners of higher number, so that each pair is told once.
fn odd_partners(piece: &Piece, book: &Book, library: &Library) -> Vec<OddPairing> {
    let line = |piece: &Piece| stamped_line(piece, library).map(|line| line.id);
    let Some(own) = line(piece) else {
        return Vec::new();
    };
    let mut keys: Vec<OddKind> = Vec::new();
    for partner in book.partners(piece) {
        let Some(other) = line(partner).filter(|l| partner.number > piece.number && *l != own)
        else {
            continue;
        };
        if pair_fits((piece, &own), (partner, &other), library) == Fit::Odd {
            let mut lines = [own.clone(), other];
            lines.sort();
            let [one, other] = lines;
            let key = OddKind::Partners { one, other };
            if !keys.contains(&key) {
                keys.push(key);
            }
        }
    }
    let odd = |key| OddPairing {
        piece: piece.number,
        lot: piece.lot.clone(),
        key,
    };
    keys.into_iter().map(odd).collect()
}

/// A rule that the person may want to write down, with its evidence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proposal {
    pub key: OddKind,
    pub pieces: Vec<i64>,
    pub lots: Vec<String>,
}

/// Odd pairings that turned up in pieces of enough lots.
pub fn proposals(odd: &[OddPairing]) -> Vec<Proposal> {
    let mut by_key: BTreeMap<&OddKind, Vec<&OddPairing>> = BTreeMap::new();
    for pairing in odd {
        by_key.entry(&pairing.key).or_default().push(pairing);
    }
    let proposal = |(key, found): (&OddKind, Vec<&OddPairing>)| {
        let mut lots: Vec<String> = found.iter().map(|o| o.lot.clone()).collect();
        lots.sort();
        lots.dedup();
        (lots.len() >= INDEPENDENT_LOTS).then(|| Proposal {
            key: key.clone(),
            pieces: found.iter().map(|o| o.piece).collect(),
            lots,
        })
    };
    by_key.into_iter().filter_map(proposal).collect()
}

impl OddKind {
    /// `stamp Fern on a body of Round (cup)`.
    pub fn say(&self, library: &Library) -> String {
        match self {
            Self::BodyAndStamp { stamp, body, form } => {
                let form = form.as_ref().map(|f| format!(" ({f})")).unwrap_or_default();
                let (stamp, body) = (library.line_name(stamp), library.line_name(body));
                format!("stamp of {stamp} on a body of {body}{form}")
            }
            Self::Partners { one, other } => {
                let (one, other) = (library.line_name(one), library.line_name(other));
                format!("{one} together with {other}")
            }
        }
    }
}

impl Proposal {
    /// File of the library and line to add to it.
    pub fn rule(&self) -> (String, String) {
        let numbers: Vec<String> = self.pieces.iter().map(ToString::to_string).collect();
        let source = format!(
            "own pieces {} of {} lots",
            numbers.join(", "),
            self.lots.len()
        );
        let (line, rule) = match &self.key {
            OddKind::BodyAndStamp { stamp, body, form } => {
                let form = form.as_ref().map(|f| format!(", form = {f:?}"));
                let form = form.unwrap_or_default();
                (
                    stamp,
                    format!("borrows = [{{ body = {body:?}{form}, source = {source:?} }}]"),
                )
            }
            OddKind::Partners { one, other } => (
                one,
                format!("pairs_with = [{{ line = {other:?}, source = {source:?} }}]"),
            ),
        };
        let (maker, name) = line.split_once('/').unwrap_or(("", line));
        (format!("library/{maker}/lines/{name}.toml"), rule)
    }
}

/// The line by which a piece is counted in its set: of its stamp, or attributed otherwise.
pub(super) fn line_in_set(piece: &Piece, book: &Book, library: &Library) -> Option<String> {
    origin(piece, book, library).line.map(|line| line.id)
}
