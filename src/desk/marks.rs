//! The marks of a lot as the desk lists them.

use serde::Serialize;

use super::mark_id::MarkId;

use crate::answer::{Candidate, Verdict};
use crate::date_code::DateReading;
use crate::report::{
    Row, Sheet, heading, per_cent, readings, say_against, say_decision, say_evidence, say_look,
    say_made, what_next,
};
use crate::workspace::readable;

/// A family that a mark may be of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Choice {
    pub(super) family: String,
    pub(super) name: String,
    /// `97 %`.
    pub(super) likely: String,
    /// What tells a near-twin apart, where the library says so.
    pub(super) tell: Option<String>,
    /// Content of the exemplar that was laid over the mark, where one was.
    pub(super) exemplar: Option<String>,
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
    /// What the program says of it is kept back until the person has spoken.
    pub(super) unprompted: bool,
}

impl Listed {
    /// The same without a hint: its families by name, none of them proposed.
    pub(super) fn without_hint(mut self) -> Self {
        self.choices.sort_by(|a, b| a.name.cmp(&b.name));
        for choice in &mut self.choices {
            choice.likely = String::new();
            choice.tell = None;
        }
        self.heading = "Without a hint";
        self.next = "say what you see";
        self.holds = Verdict::Unknown.word();
        (self.family, self.family_name) = (None, None);
        (self.reasons, self.evidence, self.codes) = (Vec::new(), Vec::new(), Vec::new());
        self.none = String::new();
        self.leads = false;
        self.unprompted = true;
        self
    }
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
        unprompted: false,
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
        exemplar: Some(c.exemplar.clone()),
        family: c.family.clone(),
    };
    let mut all: Vec<Choice> = mark.candidates.iter().take(CHOICES).map(choice).collect();
    for twin in &mark.twins {
        if all.len() < CHOICES && !all.iter().any(|c| c.family == twin.family) {
            all.push(Choice {
                name: readable(&sheet.family_name(&twin.family)),
                likely: "a near-twin".to_owned(),
                tell: twin.tell.as_deref().map(readable),
                exemplar: None,
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
                    exemplar: None,
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
