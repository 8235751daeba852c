//! Which marks of a lot come first, which are clear, and how far the lot is.

use serde::Serialize;

use crate::answer::Verdict;
use crate::decision::blind::is_blind;
use crate::report::{Row, Sheet};

/// The order of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// What needs the eye most first.
    Doubt,
    /// As the photos were taken in.
    Taken,
    Family,
    /// As taken in, and about one clear mark in twenty without what the program says of it.
    Unprompted,
}

impl Order {
    pub(super) const ALL: [Self; 4] = [Self::Doubt, Self::Taken, Self::Family, Self::Unprompted];

    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Doubt => "doubt",
            Self::Taken => "taken",
            Self::Family => "family",
            Self::Unprompted => "unprompted",
        }
    }

    pub(super) fn says(self) -> &'static str {
        match self {
            Self::Doubt => "most doubtful first",
            Self::Taken => "as photographed",
            Self::Family => "by family",
            Self::Unprompted => "a few without a hint",
        }
    }

    pub(super) fn of_word(word: Option<&str>) -> Self {
        let found = Self::ALL.into_iter().find(|o| Some(o.word()) == word);
        found.unwrap_or(Self::Doubt)
    }
}

/// The rows of a lot in an order; those that the person has decided come last by doubt.
pub(super) fn ordered(sheet: &Sheet, order: Order) -> Vec<&Row> {
    let mut rows: Vec<&Row> = sheet.rows.iter().collect();
    rows.sort_by_key(|r| (r.shot, r.mark));
    match order {
        Order::Taken | Order::Unprompted => {}
        Order::Family => rows.sort_by(|a, b| {
            let key = |r: &Row| (r.family.is_none(), r.family.clone(), group(r.holds));
            key(a).cmp(&key(b))
        }),
        Order::Doubt => rows.sort_by(|a, b| {
            let key = |r: &Row| (r.decision.is_some(), group(r.holds));
            let likely = |r: &Row| {
                sheet
                    .mark(r)
                    .and_then(|m| m.candidates.first())
                    .map_or(0.0, |c| c.probability)
            };
            key(a)
                .cmp(&key(b))
                .then_with(|| likely(a).total_cmp(&likely(b)))
        }),
    }
    rows
}

/// Where the eye is needed first: a choice, then what fits nothing, then what is clear, then what asks for no
/// decision on a mark.
fn group(verdict: Verdict) -> usize {
    match verdict {
        Verdict::Choose => 0,
        Verdict::Unknown => 1,
        Verdict::Reshoot => 2,
        Verdict::Named => 3,
        Verdict::NoMark => 4,
        Verdict::NotUnderside => 5,
        Verdict::NotAPicture => 6,
    }
}

/// Whether the program names one family and the person has said nothing yet.
pub(super) fn is_clear(row: &Row) -> bool {
    row.verdict == Some(Verdict::Named) && row.decision.is_none()
}

/// Whether a clear mark is one of those that are put without a hint.
pub(super) fn is_unprompted(sheet: &Sheet, row: &Row) -> bool {
    let drawn = row
        .mark
        .is_some_and(|at| is_blind(&sheet.shot(row).hash, at));
    drawn && is_clear(row)
}

/// The families with clear marks, most marks first.
pub(super) fn clear_families(sheet: &Sheet) -> Vec<(String, usize)> {
    let mut counts: std::collections::BTreeMap<&str, usize> = std::collections::BTreeMap::new();
    for family in sheet
        .rows
        .iter()
        .filter(|r| is_clear(r))
        .filter_map(|r| r.family.as_deref())
    {
        *counts.entry(family).or_default() += 1;
    }
    let mut families: Vec<(String, usize)> =
        counts.into_iter().map(|(f, n)| (f.to_owned(), n)).collect();
    families.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    families
}

/// The clear marks of a family, the odd ones first: those of which the program is least sure, and at equal
/// surety those whose ink lines up worst.
pub(super) fn clear_of<'a>(sheet: &'a Sheet, family: &str) -> Vec<&'a Row> {
    let clear = |r: &&Row| is_clear(r) && r.family.as_deref() == Some(family);
    let mut rows: Vec<&Row> = sheet.rows.iter().filter(clear).collect();
    let odd = |r: &Row| {
        let best = sheet.mark(r).and_then(|m| m.candidates.first());
        let evidence = best.and_then(|c| c.evidence);
        (
            best.map_or(0.0, |c| c.probability),
            evidence.map_or(0.0, |e| e.correlation),
        )
    };
    rows.sort_by(|a, b| {
        let (a, b) = (odd(a), odd(b));
        a.0.total_cmp(&b.0).then_with(|| a.1.total_cmp(&b.1))
    });
    rows
}

/// Whether the date code of a mark waits for the person: one was seen or looked for in vain, the mark is of the
/// family whose scheme was used, and nothing was said yet.
pub(super) fn code_waits(sheet: &Sheet, row: &Row) -> bool {
    use crate::answer::Look;
    let Some(mark) = sheet.mark(row) else {
        return false;
    };
    let own = |d: &crate::answer::DateAnswer| {
        d.state != Look::NotLookedFor && row.family.as_deref() == Some(d.family.as_str())
    };
    row.code.is_none() && row.holds == Verdict::Named && mark.dates.iter().any(own)
}

/// How far a lot is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub(super) struct Standing {
    pub(super) marks: usize,
    pub(super) decided: usize,
    /// Named by the program, not decided.
    pub(super) clear: usize,
    /// Open, and not clear.
    pub(super) look: usize,
    /// Need no decision on a mark: bare, tops, unreadable.
    pub(super) aside: usize,
    pub(super) codes: usize,
}

pub(super) fn standing(sheet: &Sheet) -> Standing {
    let mut s = Standing::default();
    for row in &sheet.rows {
        s.marks += 1;
        s.codes += usize::from(code_waits(sheet, row));
        let of = match (row.decision.is_some(), row.verdict) {
            (true, _) => &mut s.decided,
            (_, Some(Verdict::Named)) => &mut s.clear,
            (_, Some(Verdict::Choose | Verdict::Unknown | Verdict::Reshoot)) => &mut s.look,
            (_, _) => &mut s.aside,
        };
        *of += 1;
    }
    s
}
