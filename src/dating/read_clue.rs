//! Clues as a person types them: `used=1921/1935`, `country-wording=Made in Ardmoria`.

use super::Span;
use super::clue::{Clue, ClueKind, Source, Standing};
use super::edtf::{Date, EdtfError, End, Expression, Interval, Within};
use super::published::Published;
use super::reach::{APPROXIMATE_YEARS, UNCERTAIN_YEARS, has_gaps, is_doubtful};
use super::registered::{DiamondError, RdNumberError, read_diamond, read_rd_number};
use super::spoken::SpokenTable;
use super::wordings::{Subject, Wording, find_wording, wordings};
use super::words::{edtf_of, say};

/// Why a clue cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ClueError {
    #[error("`{0}` is no clue: write KIND=VALUE, such as `used=1921/1935`")]
    NoKind(String),
    #[error("there is no kind of clue `{given}`: the nearest is `{nearest}`")]
    UnknownKind {
        given: String,
        nearest: &'static str,
    },
    #[error("`{}` has no value: write it behind the `=`", .0.word())]
    Empty(ClueKind),
    #[error("clue `{}`: {why}", kind.word())]
    NotADate { kind: ClueKind, why: EdtfError },
    #[error("clue `{}`: no published bound is known for `{typed}`", kind.word())]
    UnknownWording { kind: ClueKind, typed: String },
    #[error("clue `diamond`: {0}")]
    Diamond(#[from] DiamondError),
    #[error("clue `rd-number`: {0}")]
    RdNumber(#[from] RdNumberError),
}

impl ClueError {
    /// What the person can do.
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::UnknownKind { .. } => {
                let kinds = ClueKind::ALL.map(ClueKind::word);
                Some(format!("kinds: {}", kinds.join(", ")))
            }
            Self::NotADate { why, .. } if why.instead.is_none() => Some(
                "write a date of the Extended Date/Time Format (`1931`, `193X`, `1925/1932`, \
                 `1910~`) or as it is said (`late 1920s`, `about 1910`)"
                    .to_owned(),
            ),
            Self::UnknownWording { kind, .. } => {
                let subject = subject_of(*kind)?;
                let known = wordings().iter().filter(|w| w.subject == subject);
                let says: Vec<&str> = known
                    .filter_map(|w| Some(w.say.first()?.as_str()))
                    .collect();
                let kind = kind.word();
                let says = says.join("`, `");
                Some(format!(
                    "known: `{says}`; or give the date, as in `{kind}=1955`"
                ))
            }
            _ => None,
        }
    }
}

/// Kind and value of `KIND=VALUE`.
///
/// # Errors
/// Where there is no such kind, or no value.
pub fn split_clue(text: &str) -> Result<(ClueKind, &str), ClueError> {
    let (word, value) = text
        .split_once('=')
        .ok_or_else(|| ClueError::NoKind(text.to_owned()))?;
    let word = word.trim().to_lowercase();
    let nearest = || {
        let distance = |kind: &ClueKind| strsim::damerau_levenshtein(&word, kind.word());
        let nearest = ClueKind::ALL.into_iter().min_by_key(distance);
        nearest.map_or("used", ClueKind::word)
    };
    let kind = ClueKind::from_word(&word).ok_or_else(|| ClueError::UnknownKind {
        given: word.clone(),
        nearest: nearest(),
    })?;
    match value.trim() {
        "" => Err(ClueError::Empty(kind)),
        value => Ok((kind, value)),
    }
}

/// Reads the value of a clue. Wording, diamonds and numbers go to the published tables; everything
/// else is a date of the Extended Date/Time Format, or one as people say it. Wording may be given
/// as a date too, for what the tables do not know.
///
/// # Errors
/// Where the value is nothing that its kind can take.
pub fn read_clue(
    kind: ClueKind,
    value: &str,
    standing: Standing,
    spoken: &SpokenTable,
) -> Result<Clue, ClueError> {
    let own = || Source::Own("as given".to_owned());
    let published = match kind {
        ClueKind::Absence => Some(Clue::absence(value, own())),
        ClueKind::Diamond => Some(of_diamond(value)?),
        ClueKind::RdNumber => Some(of_number(value)?),
        ClueKind::CountryWording | ClueKind::CareWording => subject_of(kind)
            .and_then(|subject| find_wording(subject, value))
            .map(|wording| of_wording(kind, value, wording)),
        _ => None,
    };
    let clue = match published {
        Some(clue) => clue,
        None => of_date(kind, value, own(), spoken)?,
    };
    Ok(with_notes(clue).standing(standing))
}

fn subject_of(kind: ClueKind) -> Option<Subject> {
    match kind {
        ClueKind::CountryWording => Some(Subject::Country),
        ClueKind::CareWording => Some(Subject::Care),
        _ => None,
    }
}

fn of_date(
    kind: ClueKind,
    value: &str,
    source: Source,
    spoken: &SpokenTable,
) -> Result<Clue, ClueError> {
    let why = match Expression::parse(value) {
        Ok(meaning) => return Ok(noting_season(Clue::new(kind, value, meaning, source))),
        Err(why) => why,
    };
    if let Some(said) = spoken.understand(value) {
        let read = format!("read as `{}`: {}", said.wording, said.meaning);
        let reckoning = said.why.map_or_else(String::new, |why| format!(" ({why})"));
        let clue = Clue::new(kind, value, said.meaning, source);
        return Ok(clue.note(read + &reckoning));
    }
    Err(match subject_of(kind) {
        Some(_) => ClueError::UnknownWording {
            kind,
            typed: value.to_owned(),
        },
        None => ClueError::NotADate { kind, why },
    })
}

/// Lapsed wording bounds both ends: it becomes a clue of that kind.
fn of_wording(kind: ClueKind, value: &str, wording: &Wording) -> Clue {
    let end = |published: &Published| match &published.date {
        Expression::Date(date) => End::Date(*date),
        _ => End::Unknown,
    };
    let kind = match wording.not_after {
        Some(_) => ClueKind::LapsedWording,
        None => kind,
    };
    let meaning = Expression::Interval(Interval {
        start: end(&wording.not_before),
        end: wording.not_after.as_ref().map_or(End::Open, end),
    });
    let values = [Some(&wording.not_before), wording.not_after.as_ref()];
    let sources = values.into_iter().flatten().map(|value| Source::Published {
        text: value.source.clone(),
        state: value.state,
    });
    Clue {
        kind,
        typed: value.to_owned(),
        meaning: Some(meaning),
        standing: Standing::Sure,
        sources: sources.collect(),
        notes: vec![wording.note.clone()],
    }
}

fn of_diamond(value: &str) -> Result<Clue, ClueError> {
    let diamond = read_diamond(value)?;
    let spans = diamond.readings.iter().map(|r| r.date.span());
    let all = spans.reduce(Span::or).unwrap_or_default();
    let readings: Vec<String> = diamond
        .readings
        .iter()
        .map(|r| r.date.to_string())
        .collect();
    let layout = diamond.readings.first().map_or("", |r| r.layout);
    let source = Source::Published {
        text: diamond.source.to_owned(),
        state: diamond.state,
    };
    Ok(Clue {
        kind: ClueKind::Diamond,
        typed: value.to_owned(),
        meaning: edtf_of(all),
        standing: Standing::Sure,
        sources: vec![source],
        notes: vec![
            format!("layout of {layout}, registered {}", readings.join(" or ")),
            diamond.note.to_owned(),
        ],
    })
}

fn of_number(value: &str) -> Result<Clue, ClueError> {
    let number = read_rd_number(value)?;
    let source = Source::Published {
        text: number.source.to_owned(),
        state: number.state,
    };
    Ok(Clue {
        kind: ClueKind::RdNumber,
        typed: value.to_owned(),
        meaning: edtf_of(number.registered),
        standing: Standing::Sure,
        sources: vec![source],
        notes: vec![
            format!("registered {}", say(number.registered)),
            number.note.to_owned(),
        ],
    })
}

/// `1921-35` is a quarter of 1921 by the format, and was perhaps not meant so.
fn noting_season(clue: Clue) -> Clue {
    let Some(Expression::Date(date)) = &clue.meaning else {
        return clue;
    };
    let Some((year, code)) = season_of(date) else {
        return clue;
    };
    if i64::from(code) <= year.rem_euclid(100) {
        return clue;
    }
    let last = year - year.rem_euclid(100) + i64::from(code);
    let season = say(date_span(date));
    clue.note(format!(
        "read as a season or part of the year, {season}; for the years write `{year}/{last}`"
    ))
}

fn date_span(date: &Date) -> Span {
    Expression::Date(*date).span()
}

fn season_of(date: &Date) -> Option<(i64, u8)> {
    match date.within()? {
        Within::Season(season) => Some((date.year().range().0, season.code())),
        Within::Month(_) => None,
    }
}

fn with_notes(mut clue: Clue) -> Clue {
    let Some(meaning) = clue.meaning.clone() else {
        return clue;
    };
    if is_doubtful(&meaning) {
        clue = clue.note(format!(
            "`~` counts as {APPROXIMATE_YEARS} years either way, `?` as {UNCERTAIN_YEARS}, \
             doubt of a month as its year, of a day as its month"
        ));
    }
    if has_gaps(&meaning) {
        clue = clue.note("of a set of dates only the first and the last count here");
    }
    clue
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::dating::words::say_limits;

    fn read(text: &str) -> Result<Clue, ClueError> {
        let (kind, value) = split_clue(text)?;
        read_clue(kind, value, Standing::Sure, SpokenTable::shipped())
    }

    fn limits(text: &str) -> String {
        say_limits(read(text).unwrap().bounds())
    }

    #[test]
    fn a_clue_bounds_what_its_kind_and_its_table_allow() {
        for (text, bounds) in [
            ("used=1921/1935", "not before 1921, not after 1935"),
            ("line = late 1920s", "not before 1926, not after 1929"),
            ("code=194X", "not before 1940, not after 1949"),
            ("form=about 1910", "not before 1905, not after 1915"),
            ("registration=1885/1888", "not before 1885"),
            ("patent=1931-06", "not before June 1931"),
            ("country-wording=Made in Ardmoria", "not before 1882"),
            ("country-wording=1955", "not before 1955"),
            ("country-wording=country-name-us", "not before March 1886"),
            (
                "country-wording=Made in Occupied Japan",
                "not before 20 February 1947, not after 28 April 1952",
            ),
            (
                "country-wording=Germany, U.S. Zone",
                "not before 1945, not after 1954",
            ),
            (
                "country-wording=West Germany",
                "not before 1949, not after 1995",
            ),
            ("care-wording=Not for food use", "not before 13 July 1994"),
            (
                "lapsed-wording=1945/1949",
                "not before 1945, not after 1949",
            ),
            (
                "diamond=top Z, right 4, left K",
                "not before 4 November 1860",
            ),
            (
                "diamond=top 6, right W, bottom G",
                "not before 6 March 1878",
            ),
            ("rd-number=Rd No 630190", "not before 1914"),
            ("rd-number=385200", "not before 1901"),
            ("seen=1934-06-02", "not after 2 June 1934"),
            ("absence=country name", "bounds nothing"),
        ] {
            assert_eq!(limits(text), bounds, "{text}");
        }
    }

    #[test]
    fn wording_that_lapsed_is_a_kind_of_its_own() {
        let kind = |text| read(text).unwrap().kind;
        let lapsed = kind("country-wording=Made in Occupied Japan");
        assert_eq!(lapsed, ClueKind::LapsedWording);
        let lasting = kind("country-wording=Made in Ardmoria");
        assert_eq!(lasting, ClueKind::CountryWording);
    }

    #[test]
    fn what_was_not_checked_is_marked() {
        let unverified = |text| read(text).unwrap().is_unverified();
        assert!(unverified("diamond=right K"));
        assert!(unverified("rd-number=630190"));
        assert!(unverified("country-wording=Made in Occupied Japan"));
        assert!(!unverified("country-wording=Made in Ardmoria"));
        assert!(!unverified("care-wording=not for food use"));
        assert!(!unverified("used=1921/1935"));
    }

    #[test]
    fn readings_that_may_surprise_are_noted() {
        let notes = |text| read(text).unwrap().notes.join("; ");
        assert!(notes("used=1921-35").contains("write `1921/1935`"));
        assert!(notes("used=1931-21").is_empty());
        assert!(notes("line=late 1920s").contains("read as `late {decade}`"));
        assert!(notes("line=1921~").contains("5 years"));
        assert!(notes("line=[1921,1935]").contains("first and the last"));
    }

    #[test]
    fn what_is_no_clue_says_what_to_write() {
        for (text, told) in [
            ("1921", "write KIND=VALUE"),
            ("usd=1921", "the nearest is `used`"),
            ("used=", "has no value"),
            ("used=1921-13", "column 6"),
            ("used=1931/6/2", "write `1931-06-02`"),
            ("country-wording=Best china", "no published bound"),
            ("diamond=lozenge", "write its corners"),
            ("rd-number=none", "no registered number"),
        ] {
            let error = read(text).unwrap_err().to_string();
            assert!(error.contains(told), "{text}: {error}");
        }
        let hint = read("country-wording=Best china")
            .unwrap_err()
            .hint()
            .unwrap();
        assert!(hint.contains("made in {country}") && hint.contains("country-wording=1955"));
        assert!(
            read("usd=1")
                .unwrap_err()
                .hint()
                .unwrap()
                .contains("absence")
        );
        assert!(read("used=yesterday").unwrap_err().hint().is_some());
    }
}
