//! Reads the table of spoken dates.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::wording::Wording;
use super::{Span, doubt_of};
use crate::dating::edtf::{Doubt, EdtfError, Expression};

/// Why a table of spoken dates cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum TableError {
    #[error("not a table of spoken dates: {0}")]
    Malformed(String),
    #[error("phrase {number} (`{wording}`): {wrong}")]
    Phrase {
        /// From 1.
        number: usize,
        wording: String,
        wrong: WrongPhrase,
    },
}

/// What is wrong with a phrase.
#[derive(Debug, thiserror::Error)]
pub enum WrongPhrase {
    #[error("`say` is empty: write the wording, such as `late {{decade}}`")]
    NoWording,
    #[error("there is no figure `{0}`: write {{year}}, {{decade}}, {{hundred}} or {{century}}")]
    NoSuchFigure(String),
    #[error("it has neither `from` nor `to`: give one of them, or both")]
    NoEnds,
    #[error(
        "`from` and `to` count from a year, and the wording names none: write a date in quotes"
    )]
    NothingToCountFrom,
    #[error("{0}")]
    NotADate(Box<EdtfError>),
    #[error("it ends before it begins")]
    Reversed,
}

/// Words for figures, and the century of short ones.
#[derive(Debug, Clone, Default)]
pub(super) struct Words {
    pub(super) short_decades_in: i64,
    pub(super) decades: BTreeMap<String, i64>,
    pub(super) centuries: BTreeMap<String, i64>,
}

/// Wordings that mean the same.
#[derive(Debug, Clone)]
pub(super) struct Phrase {
    pub(super) say: Vec<Wording>,
    pub(super) from: Option<Edge>,
    pub(super) to: Option<Edge>,
    pub(super) doubt: Doubt,
    pub(super) why: Option<String>,
}

/// An end of what a phrase means.
#[derive(Debug, Clone)]
pub(super) enum Edge {
    /// Years after the one named.
    Years(i64),
    Fixed(Span),
}

impl Edge {
    /// The year or the fixed days; `None` where there is no year to count from.
    pub(super) fn span(&self, named: Option<i64>) -> Option<Span> {
        match self {
            Self::Years(offset) => named.map(|y| Span::of_years(y + offset, y + offset)),
            Self::Fixed(span) => Some(*span),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    short_decades_in: Option<i64>,
    #[serde(default)]
    decades: BTreeMap<String, i64>,
    #[serde(default)]
    centuries: BTreeMap<String, i64>,
    #[serde(default)]
    phrase: Vec<PhraseKeys>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PhraseKeys {
    say: OneOrMore,
    from: Option<EdgeKey>,
    to: Option<EdgeKey>,
    about: Option<bool>,
    uncertain: Option<bool>,
    why: Option<String>,
}

#[derive(Deserialize)]
#[serde(untagged, expecting = "a text, or a list of texts")]
enum OneOrMore {
    One(String),
    More(Vec<String>),
}

#[derive(Deserialize)]
#[serde(untagged, expecting = "a number of years, or a date in quotes")]
enum EdgeKey {
    Years(i16),
    Date(String),
}

/// The table's own words over `words`, and its phrases.
pub(super) fn read(text: &str, mut words: Words) -> Result<(Words, Vec<Phrase>), TableError> {
    let file: File = toml_edit::de::from_str(text)
        .map_err(|e| TableError::Malformed(e.to_string().trim().to_owned()))?;
    words.short_decades_in = file.short_decades_in.unwrap_or(words.short_decades_in);
    words.decades.extend(file.decades);
    words.centuries.extend(file.centuries);
    let phrases = file.phrase.into_iter().enumerate().map(|(at, keys)| {
        let say = match &keys.say {
            OneOrMore::One(one) => vec![one.clone()],
            OneOrMore::More(more) => more.clone(),
        };
        phrase(&say, keys).map_err(|wrong| TableError::Phrase {
            number: at + 1,
            wording: say.first().cloned().unwrap_or_default(),
            wrong,
        })
    });
    let phrases = phrases.collect::<Result<Vec<_>, _>>()?;
    Ok((words, phrases))
}

fn phrase(say: &[String], keys: PhraseKeys) -> Result<Phrase, WrongPhrase> {
    let say = say
        .iter()
        .map(|text| Wording::read(text).map_err(WrongPhrase::NoSuchFigure))
        .collect::<Result<Vec<_>, _>>()?;
    if say.is_empty() || say.iter().any(|w| w.as_str().trim().is_empty()) {
        return Err(WrongPhrase::NoWording);
    }
    let edge = |key: Option<EdgeKey>| match key {
        None => Ok(None),
        Some(EdgeKey::Years(years)) => Ok(Some(Edge::Years(years.into()))),
        Some(EdgeKey::Date(text)) => Expression::parse(&text)
            .map(|date| Some(Edge::Fixed(date.span())))
            .map_err(|why| WrongPhrase::NotADate(Box::new(why))),
    };
    let read = Phrase {
        say,
        from: edge(keys.from)?,
        to: edge(keys.to)?,
        doubt: doubt_of(keys.about, keys.uncertain),
        why: keys.why,
    };
    check(&read)?;
    Ok(read)
}

fn check(phrase: &Phrase) -> Result<(), WrongPhrase> {
    let edges = [&phrase.from, &phrase.to];
    if edges.iter().all(|edge| edge.is_none()) {
        return Err(WrongPhrase::NoEnds);
    }
    let counts = edges.iter().any(|e| matches!(e, Some(Edge::Years(_))));
    if counts && phrase.say.iter().any(|wording| !wording.has_figure()) {
        return Err(WrongPhrase::NothingToCountFrom);
    }
    if !counts && phrase.span(&[]).is_none() {
        return Err(WrongPhrase::Reversed);
    }
    Ok(())
}
