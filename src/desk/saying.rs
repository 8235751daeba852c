//! What the person says of pieces, and what is worded of it while they type.

use serde::Deserialize;

use super::acts::{Done, Refused, wrong};
use super::pieces::{Changed, MOST_AT_ONCE, checked, collection, remember};
use super::room::{Act, Room};
use crate::decision::{About, Certainty, History, PieceFact, Statement};
use crate::failure::Failure;
use crate::pieces::{Attribution, Ground, Opinion, say_opinion};
use crate::report::say_decision;
use crate::service::collection::Collection;
use crate::service::opened::now;
use crate::workspace::{Said, readable};

/// A word on a fact of a piece; without a value the fact is taken back.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Word {
    pub(super) piece: i64,
    pub(super) fact: String,
    #[serde(default)]
    pub(super) value: Option<String>,
    /// Number of the decision that the page showed, 0 for none.
    pub(super) saw: i64,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Say {
    pub(super) words: Vec<Word>,
    #[serde(default)]
    pub(super) probably: bool,
}

/// Number of the word that holds on a fact of a piece, 0 for none.
pub(super) fn holds(history: &History, piece: i64, wanted: PieceFact) -> i64 {
    let own = history.holding().filter(|d| d.about == About::Piece(piece));
    let of_fact =
        own.filter(|d| matches!(&d.statement, Statement::Piece { fact, .. } if *fact == wanted));
    let latest = of_fact.max_by_key(|d| d.number);
    latest
        .filter(|d| d.statement.value().is_some())
        .map_or(0, |d| d.number)
}

/// Keeps each word of which the page still shows what holds.
pub(super) fn say_of(room: &Room, asked: &Say) -> Result<Changed, Failure> {
    if asked.words.is_empty() || asked.words.len() > MOST_AT_ONCE {
        return Err(wrong("between 1 and 500 things can be said at once"));
    }
    let mut open = room.open();
    let collection = collection(room)?;
    let certainty = match asked.probably {
        true => Certainty::Probably,
        false => Certainty::Sure,
    };
    let mut said = Vec::new();
    let mut facts = Vec::new();
    for word in &asked.words {
        let piece = collection.piece(word.piece)?;
        let fact = PieceFact::from_word(&word.fact).filter(|f| *f != PieceFact::Photos);
        let fact = fact.ok_or_else(|| wrong("this is nothing that can be said of a piece"))?;
        let value = word
            .value
            .as_deref()
            .map(|v| checked(fact, v))
            .transpose()?;
        let value = value
            .map(|value| kept(fact, value, &collection))
            .transpose()?;
        let before = piece.told(fact);
        facts.push((word.piece, fact, word.saw));
        said.push(Said {
            about: About::Piece(word.piece),
            statement: Statement::Piece { fact, value },
            certainty,
            replaces: before.map(|told| told.number),
        });
    }
    let still = |at: usize, history: &History| {
        let (piece, fact, saw) = facts[at];
        holds(history, piece, fact) == saw
    };
    let made = open.opened.workspace.decide_where(now(), said, still)?;
    open.changed();
    let history = open.opened.workspace.history()?;
    let mut changed = Changed::default();
    for (made, (piece, fact, _)) in made.iter().zip(&facts) {
        let id = piece.to_string();
        match made {
            Some(d) => {
                changed.told = format!("piece {piece}: {}", say_decision(d));
                changed.done.push(Done {
                    id,
                    number: d.number,
                });
            }
            None => {
                let number = holds(&history, *piece, *fact);
                let now = history.get(number).filter(|_| number > 0);
                let now = now.map_or("nothing".to_owned(), say_decision);
                changed.refused.push(Refused {
                    id,
                    number,
                    told: format!(
                        "piece {piece}: said elsewhere meanwhile: {now}. Yours was not kept"
                    ),
                });
            }
        }
    }
    if changed.done.len() > 1 {
        changed.told = format!("{} things are said of pieces", changed.done.len());
    }
    if !changed.done.is_empty() {
        let numbers = changed.done.iter().map(|d| d.number).collect();
        remember(room, Act::Said(numbers));
    }
    Ok(changed)
}

/// A value as it is kept: a body by its line, a partner that is there.
fn kept(fact: PieceFact, value: String, collection: &Collection) -> Result<String, Failure> {
    if fact == PieceFact::Body {
        return Ok(collection.line(&value).unwrap_or(value));
    }
    if let Some(Attribution::Attributed {
        by: Ground::Partner(number),
        ..
    }) = attribution(fact, &value)
    {
        collection.piece(number)?;
    }
    Ok(value)
}

/// What a value says on one of the three questions.
pub(super) fn attribution(fact: PieceFact, value: &str) -> Option<Attribution> {
    let asks = matches!(
        fact,
        PieceFact::MadeBy | PieceFact::DecoratedBy | PieceFact::MadeFor
    );
    Attribution::read(value).ok().filter(|_| asks)
}

/// How an attribution that is being typed would be worded.
pub(super) fn wording(text: &str, probably: bool) -> String {
    match Attribution::read(text) {
        Ok(says) => {
            let certainty = match probably {
                true => Certainty::Probably,
                false => Certainty::Sure,
            };
            readable(&say_opinion(&Opinion { says, certainty }))
        }
        Err(_) => String::new(),
    }
}
