//! The marks of a lot as the desk lists them.

use serde::Serialize;

use crate::answer::{Candidate, Verdict};
use crate::date_code::DateReading;
use crate::decision::ContentHash;
use crate::report::{
    Row, Sheet, heading, per_cent, readings, say_against, say_decision, say_evidence, say_look,
    say_made, what_next,
};
use crate::workspace::readable;

/// A mark, or a photo without one, named by content: 64 digits, and behind a dash the mark counted from 1.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct MarkId {
    pub(super) photo: ContentHash,
    pub(super) mark: Option<usize>,
}

impl MarkId {
    pub(super) fn parse(text: &str) -> Option<Self> {
        let Some((photo, mark)) = text.split_once('-') else {
            return Some(Self {
                photo: text.parse().ok()?,
                mark: None,
            });
        };
        let mark: usize = mark.parse().ok()?;
        Some(Self {
            photo: photo.parse().ok()?,
            mark: Some(mark.checked_sub(1)?),
        })
    }

    pub(super) fn of(sheet: &Sheet, row: &Row) -> Self {
        Self {
            photo: sheet.shot(row).hash.clone(),
            mark: row.mark,
        }
    }
}

impl std::fmt::Display for MarkId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.mark {
            Some(mark) => write!(f, "{}-{}", self.photo, mark + 1),
            None => write!(f, "{}", self.photo),
        }
    }
}

/// The order of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// What needs the eye most first.
    Doubt,
    /// As the photos were taken in.
    Taken,
    Family,
}

impl Order {
    pub(super) const ALL: [Self; 3] = [Self::Doubt, Self::Taken, Self::Family];

    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Doubt => "doubt",
            Self::Taken => "taken",
            Self::Family => "family",
        }
    }

    pub(super) fn says(self) -> &'static str {
        match self {
            Self::Doubt => "most doubtful first",
            Self::Taken => "as photographed",
            Self::Family => "by family",
        }
    }

    pub(super) fn of_word(word: Option<&str>) -> Self {
        let found = Self::ALL.into_iter().find(|o| Some(o.word()) == word);
        found.unwrap_or(Self::Doubt)
    }
}

/// A family that a mark may be of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Choice {
    pub(super) family: String,
    pub(super) name: String,
    /// `97 %`.
    pub(super) likely: String,
    /// What tells a near-twin apart, where the library says so.
    pub(super) tell: Option<String>,
}

/// One reading of a date code.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Reading {
    pub(super) text: String,
    pub(super) likely: String,
    /// What it would mean.
    pub(super) means: String,
    /// What speaks against it; empty where nothing does.
    pub(super) against: String,
    /// Places of doubtful signs in `text`.
    pub(super) doubt: Vec<usize>,
    pub(super) verified: bool,
}

/// A place of a date code.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Code {
    /// Counted from 0, as its picture is asked for.
    pub(super) at: usize,
    pub(super) family: String,
    pub(super) says: String,
    pub(super) has_picture: bool,
    pub(super) readings: Vec<Reading>,
}

/// A mark as a page lists it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Listed {
    pub(super) id: String,
    pub(super) photo: String,
    /// Counted from 1; 0 where the photo has none.
    pub(super) mark: usize,
    pub(super) of: usize,
    pub(super) taken: Option<String>,
    /// Place of the photo in the lot, from 1.
    pub(super) place: usize,
    pub(super) verdict: &'static str,
    /// The verdict in words.
    pub(super) heading: &'static str,
    pub(super) next: &'static str,
    /// What holds: the person's word, else the program's.
    pub(super) holds: &'static str,
    /// The family that holds.
    pub(super) family: Option<String>,
    pub(super) family_name: Option<String>,
    /// What the person said; null where nothing.
    pub(super) decided: Option<String>,
    pub(super) decided_on: Option<String>,
    /// Number of that decision, 0 for none: to be sent along with the next.
    pub(super) saw: i64,
    pub(super) choices: Vec<Choice>,
    pub(super) none: String,
    /// Whether the first of them is likelier than that the library has none of it: only then is it proposed.
    pub(super) leads: bool,
    pub(super) reasons: Vec<String>,
    pub(super) evidence: Vec<String>,
    pub(super) codes: Vec<Code>,
    /// What the person said of the date code.
    pub(super) code_decided: Option<String>,
    pub(super) code_saw: i64,
    pub(super) current: bool,
}

/// Families that a digit key can choose.
pub(super) const CHOICES: usize = 9;

pub(super) fn listed(sheet: &Sheet, row: &Row) -> Listed {
    let (shot, mark) = (sheet.shot(row), sheet.mark(row));
    let dates = mark.map_or(&[][..], |m| m.dates.as_slice());
    let name = |id: &str| readable(&sheet.family_name(id));
    Listed {
        id: MarkId::of(sheet, row).to_string(),
        photo: shot.name.clone(),
        mark: row.mark.map_or(0, |m| m + 1),
        of: row.marks_in_photo,
        taken: shot
            .taken
            .as_deref()
            .map(|t| readable(&t.replace('T', " "))),
        place: row.shot + 1,
        verdict: row.verdict.map_or("not-looked-at", Verdict::word),
        heading: row.verdict.map_or("Not looked at yet", heading),
        next: row.verdict.map_or("run the intake again", what_next),
        holds: row.holds.word(),
        family_name: row.family.as_deref().map(name),
        family: row.family.clone(),
        decided: row.decision.as_ref().map(|d| say_of(sheet, d)),
        decided_on: row.decision.as_ref().map(|d| d.time.day()),
        saw: row.decision.as_ref().map_or(0, |d| d.number),
        choices: choices(sheet, row),
        leads: row.holds == Verdict::Named
            || mark.is_some_and(|m| m.candidates.first().is_some_and(|c| c.probability > m.none)),
        none: mark.map(|m| per_cent(m.none)).unwrap_or_default(),
        reasons: sheet
            .reasons(row)
            .iter()
            .map(|r| readable(&r.text))
            .collect(),
        evidence: mark.map(say_evidence).unwrap_or_default(),
        codes: dates
            .iter()
            .enumerate()
            .map(|(at, date)| Code {
                at,
                family: date.family.clone(),
                says: say_look(date),
                has_picture: date.quad.is_some(),
                readings: readings(date).map(reading).collect(),
            })
            .collect(),
        code_decided: row.code.as_ref().map(say_decision),
        code_saw: row.code.as_ref().map_or(0, |d| d.number),
        current: shot.current,
    }
}

/// A decision with the family's name in place of its id.
fn say_of(sheet: &Sheet, decision: &crate::decision::Decision) -> String {
    use crate::decision::{Certainty, Statement};
    match &decision.statement {
        Statement::Family(id) => {
            let name = readable(&sheet.family_name(id));
            match decision.certainty {
                Certainty::Probably => format!("probably {name}"),
                _ => name,
            }
        }
        _ => say_decision(decision),
    }
}

fn choices(sheet: &Sheet, row: &Row) -> Vec<Choice> {
    let Some(mark) = sheet.mark(row) else {
        return Vec::new();
    };
    let choice = |c: &Candidate| Choice {
        name: readable(&sheet.family_name(&c.family)),
        likely: per_cent(c.probability),
        tell: mark
            .twins
            .iter()
            .find(|t| t.family == c.family)
            .and_then(|t| t.tell.as_deref())
            .map(readable),
        family: c.family.clone(),
    };
    let mut all: Vec<Choice> = mark.candidates.iter().take(CHOICES).map(choice).collect();
    for twin in &mark.twins {
        if all.len() < CHOICES && !all.iter().any(|c| c.family == twin.family) {
            all.push(Choice {
                name: readable(&sheet.family_name(&twin.family)),
                likely: "a near-twin".to_owned(),
                tell: twin.tell.as_deref().map(readable),
                family: twin.family.clone(),
            });
        }
    }
    // What the person decided stands first, so that it is what one sees.
    if let (true, Some(family)) = (row.decision.is_some(), &row.family) {
        match all.iter().position(|c| c.family == *family) {
            Some(at) => all[..=at].rotate_right(1),
            None => all.insert(
                0,
                Choice {
                    name: readable(&sheet.family_name(family)),
                    likely: "as you said".to_owned(),
                    tell: None,
                    family: family.clone(),
                },
            ),
        }
        all.truncate(CHOICES);
    }
    all
}

fn reading(reading: &DateReading) -> Reading {
    let times: Vec<String> = reading.made.iter().map(|m| say_made(m)).collect();
    Reading {
        text: readable(&reading.text),
        likely: per_cent(reading.probability),
        means: match times.is_empty() {
            true => "tells no time of the scheme".to_owned(),
            false => format!("would mean {}", times.join(" or ")),
        },
        against: say_against(&reading.against)
            .trim_start_matches("; ")
            .to_owned(),
        doubt: reading.doubt.clone(),
        verified: reading.verified,
    }
}

/// The rows of a lot in an order; those that the person has decided come last by doubt.
pub(super) fn ordered(sheet: &Sheet, order: Order) -> Vec<&Row> {
    let mut rows: Vec<&Row> = sheet.rows.iter().collect();
    rows.sort_by_key(|r| (r.shot, r.mark));
    match order {
        Order::Taken => {}
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_reads_back_and_nothing_else_is_one() {
        let hash = ContentHash::of(b"photo");
        for mark in [None, Some(0), Some(11)] {
            let id = MarkId {
                photo: hash.clone(),
                mark,
            };
            assert_eq!(MarkId::parse(&id.to_string()), Some(id));
        }
        for bad in [
            "",
            "../../etc/passwd",
            "abc-1",
            &format!("{hash}-0"),
            &format!("{hash}-x"),
        ] {
            assert_eq!(MarkId::parse(bad), None, "{bad}");
        }
    }
}
