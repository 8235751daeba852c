//! Taking back what one key did, in the order in which it was done.

use std::sync::PoisonError;

use serde::{Deserialize, Serialize};

use super::acts::wrong;
use super::room::{Act, Open, Room};
use crate::decision::{About, Certainty, ContentHash, Decision, History, PieceFact, Statement};
use crate::failure::Failure;
use crate::library::change;
use crate::report::say_decision;
use crate::service::opened::now;
use crate::workspace::Said;

#[derive(Debug, Clone, Default, Deserialize)]
pub(super) struct Undo {
    /// A decision to take back; else the latest act of this start, else the latest decision of all.
    #[serde(default)]
    pub(super) number: Option<i64>,
}

#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub(super) struct Undone {
    pub(super) told: String,
    /// Photos whose decisions were taken back.
    pub(super) photos: Vec<String>,
    /// Whether anything was.
    pub(super) any: bool,
}

/// Takes back what one key did. What another decision has taken the place of since stays as it is.
pub(super) fn undo(room: &Room, asked: &Undo) -> Result<Undone, Failure> {
    let mut open = room.open();
    let history = open.opened.workspace.history()?;
    let act = match asked.number {
        Some(number) => Some(Act::Said(vec![number])),
        None => latest(room, &history),
    };
    match act {
        Some(Act::Said(numbers)) => unsay(&mut open, &history, &numbers),
        Some(Act::Made(pieces)) => unmake(&mut open, &pieces),
        Some(Act::Shelf(number)) => {
            drop(open);
            unshelve(room, number)
        }
        None => Ok(nothing()),
    }
}

fn nothing() -> Undone {
    Undone {
        told: "there is nothing to take back".to_owned(),
        ..Undone::default()
    }
}

/// The latest act of this start of which anything holds still, else the latest decision of all. Which photos a piece
/// was made of is taken back by taking the piece back; what the program said of a mark is no word of the person's.
fn latest(room: &Room, history: &History) -> Option<Act> {
    let mut acts = room.acts.lock().unwrap_or_else(PoisonError::into_inner);
    while let Some(act) = acts.pop() {
        match &act {
            // An act of which nothing holds any more was taken back one by one.
            Act::Said(numbers) if !numbers.iter().any(|n| history.is_holding(*n)) => {}
            _ => return Some(act),
        }
    }
    let is_word = |d: &&Decision| {
        !matches!(
            d.statement,
            Statement::Suggested(_)
                | Statement::Withheld(_)
                | Statement::Piece {
                    fact: PieceFact::Photos,
                    ..
                }
        )
    };
    let latest = history.holding().filter(is_word).max_by_key(|d| d.number)?;
    Some(Act::Said(vec![latest.number]))
}

fn unsay(open: &mut Open, history: &History, numbers: &[i64]) -> Result<Undone, Failure> {
    let holding: Vec<&Decision> = numbers
        .iter()
        .filter(|n| history.is_holding(**n))
        .filter_map(|n| history.get(*n))
        .collect();
    let Some(first) = holding.first() else {
        return Ok(nothing());
    };
    let said = say_decision(first);
    let all = holding.iter().map(|d| Said {
        about: d.about.clone(),
        statement: Statement::Undo,
        certainty: Certainty::Sure,
        replaces: Some(d.number),
    });
    let all: Vec<Said> = all.collect();
    let numbers: Vec<i64> = holding.iter().map(|d| d.number).collect();
    let photos: Vec<ContentHash> = holding
        .iter()
        .filter_map(|d| d.about.photo().cloned())
        .collect();
    let still = |at: usize, history: &History| history.is_holding(numbers[at]);
    let made = open.opened.workspace.decide_where(now(), all, still)?;
    open.changed();
    let count = made.iter().flatten().count();
    Ok(Undone {
        told: match count {
            1 => format!("taken back: {said}"),
            n => format!("taken back: {said}, {n} times"),
        },
        photos: photos.iter().map(ToString::to_string).collect(),
        any: count > 0,
    })
}

/// Pieces that were made by mistake are left out from now on; their photos are free again.
fn unmake(open: &mut Open, pieces: &[i64]) -> Result<Undone, Failure> {
    let all = pieces.iter().map(|&number| Said {
        about: About::Piece(number),
        statement: Statement::Piece {
            fact: PieceFact::Withdrawn,
            value: Some("taken back at once".to_owned()),
        },
        certainty: Certainty::Sure,
        replaces: None,
    });
    open.opened.workspace.decide_all(now(), all.collect())?;
    open.changed();
    Ok(Undone {
        told: match pieces {
            [one] => format!("taken back: piece {one}"),
            some => format!("taken back: {} pieces", some.len()),
        },
        photos: Vec::new(),
        any: true,
    })
}

/// A change of the library is taken back where no later one stands on it.
fn unshelve(room: &Room, number: u32) -> Result<Undone, Failure> {
    let root = room.open().opened.workspace.library();
    let next = change::next_undo(&root)?;
    if next.is_none_or(|next| next.number != number) {
        return Err(wrong(
            "the library was changed again since: take that back first",
        ));
    }
    let undone = change::undo(&root)?;
    room.reopen()?;
    Ok(Undone {
        told: format!("taken back: {}", undone.change.what),
        photos: Vec::new(),
        any: true,
    })
}
