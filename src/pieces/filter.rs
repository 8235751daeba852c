//! Pieces chosen, and what a collection has twice, lacks and costs.

use std::collections::{BTreeMap, BTreeSet};

use super::Known;
use super::book::{Book, Piece};
use super::clues::date;
use super::form::{form, same_form};
use super::marks::Stamp;
use super::origin::{Origin, origin};
use super::values::{Lid, Money, join_list};
use crate::dating::Span;
use crate::decision::PieceFact;
use crate::library::{FormFact, Library};

/// Which pieces to take. What is not given takes all.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Filter {
    pub lot: Option<String>,
    pub form: Option<String>,
    /// A maker's name or folder, of whatever of the three questions.
    pub maker: Option<String>,
    /// A line's id or name.
    pub line: Option<String>,
    /// `marked`, `attributed` or `unknown`: how the maker is known.
    pub known_by: Option<String>,
    pub set: Option<String>,
    pub decoration: Option<String>,
    pub glaze: Option<String>,
    /// May have been made in this stretch of time.
    pub made: Option<Span>,
    /// Says this anywhere; case does not count.
    pub text: Option<String>,
    pub unmarked: bool,
    pub lid_missing: bool,
    pub numbers: BTreeSet<i64>,
}

impl Filter {
    /// Whether a piece is taken.
    pub fn takes(&self, piece: &Piece, book: &Book, known: &Known<'_>) -> bool {
        let same = |fact, wanted: &Option<String>| {
            let has = piece.text(fact).map(str::to_lowercase);
            wanted.is_none() || has == wanted.as_ref().map(|w| w.to_lowercase())
        };
        let plain = self.lot.as_ref().is_none_or(|lot| piece.lot == *lot)
            && (self.numbers.is_empty() || self.numbers.contains(&piece.number))
            && self
                .form
                .as_ref()
                .is_none_or(|f| piece.form().is_some_and(|own| is_kind_of(own, f)))
            && same(PieceFact::Set, &self.set)
            && same(PieceFact::Decoration, &self.decoration)
            && same(PieceFact::Glaze, &self.glaze)
            && (!self.unmarked || piece.stamp == Stamp::Bare)
            && (!self.lid_missing || piece.lid() == Some(Lid::Missing))
            && self.text.as_ref().is_none_or(|text| says(piece, text));
        plain && self.takes_origin(piece, book, known) && self.takes_date(piece, book, known)
    }

    fn takes_origin(&self, piece: &Piece, book: &Book, known: &Known<'_>) -> bool {
        if self.maker.is_none() && self.line.is_none() && self.known_by.is_none() {
            return true;
        }
        let origin = origin(piece, book, known.library);
        let maker = self.maker.as_ref().is_none_or(|wanted| {
            let wanted = super::origin::maker_folder(known.library, wanted)
                .map_or_else(|| wanted.clone(), |folder| known.library.maker_name(folder));
            let all = [&origin.made_by, &origin.decorated_by, &origin.made_for];
            let is = |who: &str| who.to_lowercase() == wanted.to_lowercase();
            all.iter().any(|opinion| opinion.says.who().is_some_and(is))
        });
        let line = self.line.as_ref().is_none_or(|wanted| {
            let is = |id: &str| {
                let name = known.library.line_name(id).to_lowercase();
                id == wanted || name == wanted.to_lowercase()
            };
            origin.line.as_ref().is_some_and(|line| is(&line.id))
        });
        let by = self.known_by.as_ref();
        maker && line && by.is_none_or(|word| origin.made_by.says.word() == word)
    }

    fn takes_date(&self, piece: &Piece, book: &Book, known: &Known<'_>) -> bool {
        self.made.is_none_or(|wanted| {
            let span = date(piece, book, known, Vec::new()).span();
            span.is_some_and(|s| !s.is_always() && s.and(wanted).is_some())
        })
    }
}

fn says(piece: &Piece, text: &str) -> bool {
    let text = text.to_lowercase();
    let facts = piece.facts().filter(|(fact, _)| *fact != PieceFact::Photos);
    facts
        .map(|(_, told)| told.text.to_lowercase())
        .chain([piece.lot.to_lowercase()])
        .any(|own| own.contains(&text))
}

/// Whether `own` is `wanted` or a kind of it: a side plate is a plate.
fn is_kind_of(own: &str, wanted: &str) -> bool {
    let (own_words, wanted_words) = (own.to_lowercase(), wanted.to_lowercase());
    let last: Vec<&str> = wanted_words.split_whitespace().collect();
    let words: Vec<&str> = own_words.split_whitespace().collect();
    same_form(own, wanted) || (!last.is_empty() && words.ends_with(&last))
}

/// Several of one kind: form, line and decoration alike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Duplicates {
    /// What they have in common, in words.
    pub kind: String,
    pub pieces: Vec<i64>,
}

/// What is held more than once, the largest group first. Pieces without a form or without a line and
/// a maker are too little known to be alike.
pub fn duplicates(pieces: &[&Piece], book: &Book, library: &Library) -> Vec<Duplicates> {
    let mut groups: BTreeMap<String, Vec<i64>> = BTreeMap::new();
    for piece in pieces {
        let Some(own) = piece.form() else { continue };
        let Origin { made_by, line, .. } = origin(piece, book, library);
        let of = line.map(|line| library.line_name(&line.id));
        let Some(of) = of.or(made_by.says.who().map(str::to_owned)) else {
            continue;
        };
        let mut kind = vec![own.to_lowercase(), of];
        for fact in [
            PieceFact::Decoration,
            PieceFact::Colourway,
            PieceFact::Glaze,
        ] {
            kind.extend(piece.text(fact).map(str::to_lowercase));
        }
        groups
            .entry(kind.join(", "))
            .or_default()
            .push(piece.number);
    }
    let several = groups.into_iter().filter(|(_, pieces)| pieces.len() > 1);
    let mut found: Vec<Duplicates> = several
        .map(|(kind, pieces)| Duplicates { kind, pieces })
        .collect();
    found.sort_by_key(|d| std::cmp::Reverse(d.pieces.len()));
    found
}

/// What the pieces of a lot cost and are to bring, a currency at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotMoney {
    pub lot: String,
    pub pieces: usize,
    pub cost: Vec<Money>,
    /// How many pieces have a cost.
    pub costed: usize,
    pub asked: Vec<Money>,
    pub priced: usize,
}

/// Cost against asked, lot by lot.
pub fn lot_money(pieces: &[&Piece]) -> Vec<LotMoney> {
    let mut lots: BTreeMap<&str, Vec<&Piece>> = BTreeMap::new();
    for piece in pieces {
        lots.entry(&piece.lot).or_default().push(piece);
    }
    let sum = |pieces: &[&Piece], fact| {
        let sums: Vec<Money> = pieces.iter().filter_map(|p| p.money(fact)).collect();
        let mut by_currency: BTreeMap<String, i64> = BTreeMap::new();
        for money in &sums {
            let so_far = by_currency.entry(money.currency.clone()).or_default();
            *so_far = so_far.saturating_add(money.hundredths);
        }
        let total = by_currency.into_iter().map(|(currency, hundredths)| Money {
            currency,
            hundredths,
        });
        (total.collect::<Vec<Money>>(), sums.len())
    };
    lots.into_iter()
        .map(|(lot, pieces)| {
            let (cost, costed) = sum(&pieces, PieceFact::Cost);
            let (asked, priced) = sum(&pieces, PieceFact::Asked);
            LotMoney {
                lot: lot.to_owned(),
                pieces: pieces.len(),
                cost,
                costed,
                asked,
                priced,
            }
        })
        .collect()
}

/// What is known of one form in one line, beside the pieces held.
#[derive(Debug, Clone, PartialEq)]
pub struct Across<'l> {
    /// `maker/line`.
    pub line: String,
    /// `None` where the line's record does not list the form.
    pub fact: Option<&'l FormFact>,
    pub pieces: Vec<i64>,
    /// The years of pieces held whose own date is known, EDTF.
    pub dated: Vec<String>,
}

/// One form across all lines of the library: which had it, borrowed it, marked it.
pub fn across<'l>(wanted: &str, book: &Book, known: &Known<'l>) -> Vec<Across<'l>> {
    let library = known.library;
    let mut held: BTreeMap<String, Vec<&Piece>> = BTreeMap::new();
    for piece in book.pieces() {
        if piece.form().is_some_and(|f| same_form(f, wanted))
            && let Some(line) = origin(piece, book, library).line
        {
            held.entry(line.id).or_default().push(piece);
        }
    }
    let mut found = Vec::new();
    for (maker, record) in &library.makers {
        for (line, of_line) in &record.lines {
            let id = library.line_id(maker, line);
            let pieces = held.remove(&id).unwrap_or_default();
            let edtf = |p: &&Piece| date(p, book, known, Vec::new()).edtf();
            found.push(Across {
                fact: of_line
                    .facts
                    .forms
                    .iter()
                    .find(|f| same_form(&f.form, wanted)),
                dated: pieces
                    .iter()
                    .filter_map(edtf)
                    .map(|e| e.to_string())
                    .collect(),
                pieces: pieces.iter().map(|p| p.number).collect(),
                line: id,
            });
        }
    }
    found
}

/// A form as the table of forms calls it, or as typed.
pub fn general_form(text: &str) -> String {
    form(text).map_or_else(|| text.to_lowercase(), |known| known.name.to_owned())
}

/// Sums in words: `EUR 12.00 and 3.00`; `nothing` where there is none.
pub fn say_sums(sums: &[Money]) -> String {
    let sums: Vec<String> = sums.iter().map(ToString::to_string).collect();
    match sums.is_empty() {
        true => "nothing".to_owned(),
        false => join_list(&sums).replace("; ", " and "),
    }
}
