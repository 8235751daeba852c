//! Who made a piece, decorated it, or had it made: marked, attributed or unknown, and never mixed.

use std::fmt;

use crate::decision::Certainty;

/// An answer to one of the three questions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Attribution {
    /// A mark on the piece says so.
    Marked {
        who: String,
        /// The mark, for a person to find again; `None` where only the person says that there is one.
        mark: Option<String>,
    },
    /// Something else says so.
    Attributed { who: String, by: Ground },
    /// Nobody knows, or nobody has said.
    Unknown,
}

/// What an attribution rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ground {
    /// The person's own judgement, and why.
    Judgement(Option<String>),
    /// It is like a piece that is known.
    Likeness(Option<String>),
    /// A marked piece that belongs with it, by its number.
    Partner(i64),
    /// Its body is of a line of that maker.
    Body(String),
    /// A rule of the library about its body in its glaze.
    BodyAndGlaze {
        line: String,
        source: Option<String>,
    },
    /// A number on it that fits a pattern of the library.
    Number {
        number: String,
        source: Option<String>,
    },
}

/// An answer, and whether the person is sure of what it rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opinion {
    pub says: Attribution,
    pub certainty: Certainty,
}

impl Opinion {
    pub const UNKNOWN: Self = Self {
        says: Attribution::Unknown,
        certainty: Certainty::Sure,
    };
}

/// Why a text is no attribution.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{0}` does not say how you know: write `marked: NAME`, `judgement: NAME: why`, \
     `likeness: NAME: to what`, `partner 12: NAME`, or `unknown`"
)]
pub struct NotAnAttribution(pub String);

impl Attribution {
    /// Reads what a person typed, which is also how it is kept.
    ///
    /// # Errors
    /// Where it does not say how it is known.
    pub fn read(text: &str) -> Result<Self, NotAnAttribution> {
        let bad = || NotAnAttribution(text.to_owned());
        if text.trim() == "unknown" {
            return Ok(Self::Unknown);
        }
        let (how, rest) = text.split_once(':').ok_or_else(bad)?;
        let (who, why) = match rest.split_once(": ") {
            Some((who, why)) => (who, Some(why.trim())),
            None => (rest, None),
        };
        let who = who.trim().to_owned();
        if who.is_empty() {
            return Err(bad());
        }
        let why = why.filter(|w| !w.is_empty()).map(str::to_owned);
        let by = match how.trim().split_once(' ') {
            None if how.trim() == "marked" => return Ok(Self::Marked { who, mark: why }),
            None if how.trim() == "judgement" => Ground::Judgement(why),
            None if how.trim() == "likeness" => Ground::Likeness(why),
            Some(("partner", number)) => Ground::Partner(number.trim().parse().map_err(|_| bad())?),
            _ => return Err(bad()),
        };
        Ok(Self::Attributed { who, by })
    }

    /// The name, where there is one.
    pub fn who(&self) -> Option<&str> {
        match self {
            Self::Marked { who, .. } | Self::Attributed { who, .. } => Some(who),
            Self::Unknown => None,
        }
    }

    /// `marked`, `attributed` or `unknown`.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Marked { .. } => "marked",
            Self::Attributed { .. } => "attributed",
            Self::Unknown => "unknown",
        }
    }
}

impl Ground {
    /// The kind of ground, for tables.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Judgement(_) => "judgement",
            Self::Likeness(_) => "likeness",
            Self::Partner(_) => "partner",
            Self::Body(_) => "body",
            Self::BodyAndGlaze { .. } => "body-and-glaze",
            Self::Number { .. } => "number",
        }
    }
}

/// What it rests on, in words that follow "attributed": `by its partner, piece 12`.
impl fmt::Display for Ground {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let source = |source: &Option<String>| {
            let text = source.as_ref().map(|s| format!(" ({s})"));
            text.unwrap_or_default()
        };
        match self {
            Self::Judgement(None) => f.write_str("by judgement"),
            Self::Judgement(Some(why)) => write!(f, "by judgement: {why}"),
            Self::Likeness(None) => f.write_str("by likeness"),
            Self::Likeness(Some(to)) => write!(f, "by likeness to {to}"),
            Self::Partner(number) => write!(f, "by its partner, piece {number}"),
            Self::Body(line) => write!(f, "by its body, {line}"),
            Self::BodyAndGlaze { line, source: from } => {
                write!(
                    f,
                    "by its body in this glaze, made for {line}{}",
                    source(from)
                )
            }
            Self::Number {
                number,
                source: from,
            } => write!(f, "by its number {number}{}", source(from)),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn what_a_person_types_says_how_they_know() {
        let read = |text| Attribution::read(text).unwrap();
        assert_eq!(
            read("marked: Mill Lane"),
            Attribution::Marked {
                who: "Mill Lane".into(),
                mark: None
            }
        );
        assert_eq!(
            read("judgement: Mill Lane: the foot ring"),
            Attribution::Attributed {
                who: "Mill Lane".into(),
                by: Ground::Judgement(Some("the foot ring".into()))
            }
        );
        assert_eq!(
            read("partner 12: mill-lane"),
            Attribution::Attributed {
                who: "mill-lane".into(),
                by: Ground::Partner(12)
            }
        );
        assert_eq!(read("unknown"), Attribution::Unknown);
        for bad in [
            "Mill Lane",
            "marked:",
            "decoration: Mill Lane",
            "partner x: Mill Lane",
            "",
        ] {
            assert!(Attribution::read(bad).is_err(), "{bad}");
        }
    }

    /// A decoration alone never attributes a piece to a maker: there is no ground for it.
    #[test]
    fn grounds_are_told_apart_in_words() {
        let all = [
            Ground::Judgement(None),
            Ground::Likeness(Some("piece 3".into())),
            Ground::Partner(4),
            Ground::Body("Round".into()),
            Ground::BodyAndGlaze {
                line: "Fern".into(),
                source: Some("price list".into()),
            },
            Ground::Number {
                number: "H12".into(),
                source: None,
            },
        ];
        let words: Vec<String> = all.iter().map(ToString::to_string).collect();
        assert_eq!(
            words,
            [
                "by judgement",
                "by likeness to piece 3",
                "by its partner, piece 4",
                "by its body, Round",
                "by its body in this glaze, made for Fern (price list)",
                "by its number H12",
            ]
        );
        assert!(all.iter().all(|g| g.word() != "decoration"));
    }
}
