//! What the person says: decisions on marks and date codes, and taking them back.
//!
//! Every decision carries the number of the one that its page showed, 0 for none. Where another one holds by
//! then, made in another tab or by another program, nothing is written and the page is told what holds.

use std::sync::PoisonError;

use serde::{Deserialize, Serialize};

use super::mark_id::MarkId;
use super::marks::listed;
use super::room::{Act, Open, Room};
use crate::answer::MarkAnswer;
use crate::decision::blind::{self, suggestion};
use crate::decision::{
    About, Attachment, Certainty, Decision, History, Region, Statement, Topic, about_photo, attach,
};
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::library::FamilyId;
use crate::report::say_decision;
use crate::service::codes::LONGEST;
use crate::service::opened::now;
use crate::service::subject::Subject;
use crate::workspace::{Said, readable};

/// A mark with the number of the decision that the page showed.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Seen {
    pub(super) id: String,
    pub(super) saw: i64,
}

/// What to decide on all of `marks`.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Decide {
    pub(super) marks: Vec<Seen>,
    /// `family`, `unknown`, `no-mark`, `again`, or of a date code `code`, `no-code`, `illegible`.
    pub(super) what: String,
    /// The family, or the code as typed.
    #[serde(default)]
    pub(super) value: Option<String>,
    #[serde(default)]
    pub(super) probably: bool,
    /// The page kept back what the program says.
    #[serde(default)]
    pub(super) unprompted: bool,
}

/// Most marks in one decision: more than any lot of a day has.
const MOST_AT_ONCE: usize = 2000;

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Done {
    pub(super) id: String,
    pub(super) number: i64,
}

/// A mark on which nothing was written, because something else holds by now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Refused {
    pub(super) id: String,
    /// Number of the decision that holds, 0 for none.
    pub(super) number: i64,
    pub(super) told: String,
}

#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub(super) struct Decided {
    pub(super) done: Vec<Done>,
    pub(super) refused: Vec<Refused>,
    pub(super) told: String,
}

/// A mark that something is said about.
struct Target {
    id: MarkId,
    name: String,
    quads: Vec<Quad<Photo>>,
    answer: Option<MarkAnswer>,
    about: About,
    saw: i64,
}

impl Target {
    fn of(open: &Open, seen: &Seen) -> Result<Self, Failure> {
        let id = MarkId::parse(&seen.id).ok_or_else(|| wrong("this names no mark"))?;
        if open.opened.workspace.sightings_of(&id.photo)?.is_empty() {
            return Err(wrong("no lot has this photo"));
        }
        let subject = Subject::of_key(&open.opened, id.photo.clone(), &open.key)?;
        let quads = subject.quads();
        let about = match id.mark {
            None => About::Photo(id.photo.clone()),
            Some(at) => {
                let quad = quads
                    .get(at)
                    .ok_or_else(|| wrong("this mark is not found any more: load the page again"))?;
                About::Mark(id.photo.clone(), Region::new(quad))
            }
        };
        let answer = id.mark.and_then(|at| subject.marks.get(at).cloned());
        Ok(Self {
            id,
            name: subject.name,
            quads,
            answer,
            about,
            saw: seen.saw,
        })
    }

    /// What counts for the mark on a topic, as its page shows it.
    fn holds<'a>(&self, topic: &Topic, history: &'a History) -> Option<&'a Decision> {
        let (own, attachment) = self.own(history);
        match self.id.mark {
            Some(at) => attachment.of_mark_on(at, topic, &own),
            None => attachment.of_photo_on(topic, &own),
        }
    }

    fn own<'a>(&self, history: &'a History) -> (Vec<&'a Decision>, Attachment) {
        let own = about_photo(history.holding(), &self.id.photo);
        let attachment = attach(&own, &self.quads);
        (own, attachment)
    }

    /// The decision on the same subject that a new one takes the place of.
    fn replaced(&self, topic: &Topic, history: &History) -> Option<i64> {
        let (own, attachment) = self.own(history);
        let numbers = match self.id.mark {
            Some(at) => attachment.of_mark.get(at)?,
            None => &attachment.of_photo,
        };
        let same = |d: &&&Decision| {
            numbers.contains(&d.number) && d.statement.topic().as_ref() == Some(topic)
        };
        own.iter().filter(same).map(|d| d.number).max()
    }

    /// What the program says of a clear mark, written before the person's word so that both can be compared; what was
    /// once written of a mark stays.
    fn note(&self, unprompted: bool, history: &History) -> Option<Said> {
        if self.replaced(&Topic::Suggestion, history).is_some() {
            return None;
        }
        Some(Said {
            about: self.about.clone(),
            statement: suggestion(self.answer.as_ref()?, !unprompted)?,
            certainty: Certainty::Sure,
            replaces: None,
        })
    }

    fn still_seen(&self, topic: &Topic, history: &History) -> bool {
        self.holds(topic, history).map_or(0, |d| d.number) == self.saw
    }
}

pub(super) fn wrong(what: &str) -> Failure {
    Failure::new(&what, None)
}

/// Writes the person's word on each of the marks that still stands as the page showed it.
pub(super) fn decide(room: &Room, asked: &Decide) -> Result<Decided, Failure> {
    if asked.marks.is_empty() || asked.marks.len() > MOST_AT_ONCE {
        return Err(wrong("between 1 and 2000 marks can be decided at once"));
    }
    let mut open = room.open();
    let statement = statement(&open, asked)?;
    let topic = statement.topic().unwrap_or(Topic::Identity);
    let targets = asked
        .marks
        .iter()
        .map(|seen| Target::of(&open, seen))
        .collect::<Result<Vec<Target>, Failure>>()?;
    let history = open.opened.workspace.history()?;
    let certainty = match asked.probably {
        true => Certainty::Probably,
        false => Certainty::Sure,
    };
    if topic == Topic::Identity {
        let notes = targets
            .iter()
            .filter_map(|t| t.note(asked.unprompted, &history));
        let notes: Vec<Said> = notes.collect();
        open.opened
            .workspace
            .decide_where(now(), notes, |_, _| true)?;
    }
    let all = targets.iter().map(|t| Said {
        about: t.about.clone(),
        statement: statement.clone(),
        certainty,
        replaces: t.replaced(&topic, &history),
    });
    let all = all.collect();
    let still = |at: usize, history: &History| targets[at].still_seen(&topic, history);
    let made = open.opened.workspace.decide_where(now(), all, still)?;
    open.changed();
    let history = open.opened.workspace.history()?;
    let mut decided = Decided::default();
    for (target, made) in targets.iter().zip(&made) {
        let id = target.id.to_string();
        match made {
            Some(d) => decided.done.push(Done {
                id,
                number: d.number,
            }),
            None => decided
                .refused
                .push(refused(target, id, target.holds(&topic, &history))),
        }
    }
    decided.told = told(&decided, &targets, made.iter().flatten().next());
    let numbers: Vec<i64> = decided.done.iter().map(|d| d.number).collect();
    if !numbers.is_empty() {
        let mut acts = room.acts.lock().unwrap_or_else(PoisonError::into_inner);
        acts.push(Act::Said(numbers));
    }
    Ok(decided)
}

fn refused(target: &Target, id: String, holds: Option<&Decision>) -> Refused {
    let now = holds.map_or("nothing".to_owned(), |d| {
        format!("{} (number {})", say_decision(d), d.number)
    });
    Refused {
        id,
        number: holds.map_or(0, |d| d.number),
        told: format!(
            "{}: decided elsewhere meanwhile: {now}. Yours was not kept",
            target.name
        ),
    }
}

fn told(decided: &Decided, targets: &[Target], first: Option<&Decision>) -> String {
    let said = first.map(say_decision).unwrap_or_default();
    match (decided.done.len(), decided.refused.len()) {
        (0, _) => String::new(),
        (1, 0) => format!("{}: {said}", targets[0].name),
        (n, 0) => format!("{n} marks: {said}"),
        (n, r) => format!("{n} marks: {said}; {r} not, as they were decided elsewhere"),
    }
}

fn statement(open: &Open, asked: &Decide) -> Result<Statement, Failure> {
    let value = asked.value.as_deref();
    Ok(match (asked.what.as_str(), value) {
        ("family", Some(id)) => {
            let id = FamilyId::parse(id).map_err(|e| Failure::new(&e, None))?;
            let family = open.opened.library.find(&id);
            let family = family.ok_or_else(|| {
                wrong(&format!(
                    "the library has no family `{}`",
                    readable(id.as_str())
                ))
            })?;
            Statement::Family(family.id.to_string())
        }
        ("unknown", None) => Statement::Unknown,
        ("no-mark", None) => Statement::NoMark,
        ("again", None) => Statement::Again,
        ("code", Some(code)) => Statement::DateCode(checked_code(code)?),
        ("no-code", None) => Statement::NoDateCode,
        ("illegible", None) => Statement::IllegibleDateCode,
        _ => return Err(wrong("this is nothing that can be decided")),
    })
}

fn checked_code(code: &str) -> Result<String, Failure> {
    let code = code.trim();
    match code.chars().count() {
        0 => Err(wrong(
            "the code is empty: type it, or say that there is none",
        )),
        n if n > LONGEST => Err(wrong(&format!("a code of {n} characters is none"))),
        _ if code.chars().any(char::is_control) => Err(wrong("the code holds control characters")),
        _ => Ok(code.to_owned()),
    }
}

/// How the program's clear answers fared before the person, in one sentence.
pub(super) fn fared(room: &Room) -> Result<String, Failure> {
    let open = room.open();
    let history = open.opened.workspace.history()?;
    let told = blind::fared(&history, &|id| open.opened.follow(id)).to_string();
    let mut letters = told.chars();
    let first: String = letters
        .by_ref()
        .take(1)
        .flat_map(char::to_uppercase)
        .collect();
    Ok(format!("{first}{}.", letters.as_str()))
}

/// One mark of a lot as it stands now.
pub(super) fn one(
    open: &mut Open,
    lot: &str,
    id: &MarkId,
) -> Result<Option<super::marks::Listed>, Failure> {
    let sheet = open.sheet(lot)?;
    let row = sheet.rows.iter().find(|r| MarkId::of(&sheet, r) == *id);
    Ok(row.map(|row| listed(&sheet, row)))
}
