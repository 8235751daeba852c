//! Dates as people say them: "late 1920s", "about 1910", "before the war".
//!
//! What each wording means is no knowledge of this code but of a table that a person can read and
//! change: `src/dating/tables/spoken.toml`, and a file of their own over it.

mod figures;
mod table;
mod wording;

use std::sync::OnceLock;

pub use table::TableError;
use table::{Phrase, Words};

use super::Span;
use super::edtf::{Doubt, Expression};
use super::words::doubted_edtf_of;
use wording::plain;

const SHIPPED: &str = include_str!("../tables/spoken.toml");

/// What a person said, and what it was read as.
#[derive(Debug, Clone, PartialEq)]
pub struct Spoken {
    /// As typed.
    pub typed: String,
    /// The wording of the table that fits, such as `late {decade}`.
    pub wording: String,
    /// What it means. Doubt is written on it, and widens nothing yet.
    pub meaning: Expression,
    /// The table's own word on the reckoning.
    pub why: Option<String>,
}

/// Wordings and what they mean; the first that fits counts.
#[derive(Debug, Clone)]
pub struct SpokenTable {
    words: Words,
    phrases: Vec<Phrase>,
}

impl SpokenTable {
    /// The table inside the program.
    ///
    /// # Panics
    /// Never: a test reads it.
    pub fn shipped() -> &'static Self {
        static TABLE: OnceLock<SpokenTable> = OnceLock::new();
        TABLE.get_or_init(|| {
            Self::read(SHIPPED).expect("the shipped table reads, as a test makes sure")
        })
    }

    /// Reads a table of its own.
    ///
    /// # Errors
    /// Where it is not TOML, or a phrase says nothing that can be used; with the line.
    pub fn read(text: &str) -> Result<Self, TableError> {
        let (words, phrases) = table::read(text, Words::default())?;
        Ok(Self { words, phrases })
    }

    /// This table with a person's own `text` over it: what that says comes first.
    ///
    /// # Errors
    /// As [`SpokenTable::read`].
    pub fn with(&self, text: &str) -> Result<Self, TableError> {
        let (words, mut phrases) = table::read(text, self.words.clone())?;
        phrases.extend(self.phrases.iter().cloned());
        Ok(Self { words, phrases })
    }

    /// What `typed` means; `None` where no wording of the table fits, or it says that a later time
    /// ended before an earlier one began.
    pub fn understand(&self, typed: &str) -> Option<Spoken> {
        let said = plain(typed);
        self.phrases.iter().find_map(|phrase| {
            let (wording, span) = phrase.fits(&said, &self.words)?;
            Some(Spoken {
                typed: typed.to_owned(),
                wording: wording.to_owned(),
                meaning: doubted_edtf_of(span, phrase.doubt)?,
                why: phrase.why.clone(),
            })
        })
    }

    /// Every wording, in the order in which they are tried.
    pub fn wordings(&self) -> impl Iterator<Item = &str> {
        self.phrases
            .iter()
            .flat_map(|p| &p.say)
            .map(wording::Wording::as_str)
    }
}

impl Phrase {
    /// The wording that fits and the years meant.
    fn fits(&self, said: &str, words: &Words) -> Option<(&str, Span)> {
        self.say.iter().find_map(|wording| {
            let years = wording.years_in(said, words)?;
            let span = self.span(&years)?;
            Some((wording.as_str(), span))
        })
    }

    /// The span, for the years named; `None` where it would end before it begins.
    fn span(&self, years: &[i64]) -> Option<Span> {
        let from = match &self.from {
            None => Span::ALWAYS,
            Some(edge) => edge.span(years.first().copied())?,
        };
        let to = match &self.to {
            None => Span::ALWAYS,
            Some(edge) => edge.span(years.last().copied())?,
        };
        let begin = Span {
            not_after: None,
            ..from
        };
        let end = Span {
            not_before: None,
            ..to
        };
        begin.and(end)
    }
}

/// Doubt as the two keys of a phrase say it.
fn doubt_of(about: Option<bool>, uncertain: Option<bool>) -> Doubt {
    Doubt {
        approximate: about.unwrap_or_default(),
        uncertain: uncertain.unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests;
