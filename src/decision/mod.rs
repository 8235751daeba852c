//! What the person has said about photos and marks: append-only records, and what holds now.
//!
//! Nothing here reads a clock, a file or a database; the moment of a decision is handed in.

mod attach;
pub mod blind;
mod history;
pub mod journal;
mod piece_fact;
mod written;

pub use attach::{Attachment, MIN_OVERLAP, attach};
pub use history::{History, about_photo};
pub use piece_fact::{PhotoRole, PieceFact, PiecePhoto, read_photos, write_photos};
pub use written::{ContentHash, Moment, Region};

/// What a decision is about.
#[derive(Debug, Clone, PartialEq)]
pub enum About {
    /// A whole photo.
    Photo(ContentHash),
    /// One mark of a photo, by where it lies.
    Mark(ContentHash, Region),
    /// One piece of a lot, by its number.
    Piece(i64),
}

impl About {
    pub fn photo(&self) -> Option<&ContentHash> {
        match self {
            Self::Photo(hash) | Self::Mark(hash, _) => Some(hash),
            Self::Piece(_) => None,
        }
    }

    pub fn region(&self) -> Option<&Region> {
        match self {
            Self::Mark(_, region) => Some(region),
            Self::Photo(_) | Self::Piece(_) => None,
        }
    }
}

/// What was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Statement {
    /// The mark is of this family, `<maker>/<family>`.
    Family(String),
    /// The mark is of no family in the library.
    Unknown,
    /// There is no mark here.
    NoMark,
    /// The photo is to be taken again.
    Again,
    /// The date code, as typed.
    DateCode(String),
    /// There is no date code where one could be.
    NoDateCode,
    /// There is a date code and nobody can read it.
    IllegibleDateCode,
    /// A fact of a piece; no value where the person does not know, or no longer says so.
    Piece {
        fact: PieceFact,
        value: Option<String>,
    },
    /// The photo is somebody else's: what it shows is no piece of the person's.
    NotMine,
    /// Two points of the photo and the length between them, as `sizes::Span` writes it.
    Scale(String),
    /// What the program said of the mark when the person decided on it; nothing that the person said.
    Suggested(String),
    /// The same where they did not see it.
    Withheld(String),
    /// The decision named by `replaces` no longer holds.
    Undo,
    /// A kind that this version does not know; kept word for word and never acted on.
    NotStated { kind: String, value: Option<String> },
}

/// Decisions on one topic exclude each other; decisions on different topics stand side by side.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Topic {
    /// Which mark it is, if any.
    Identity,
    /// Which date code it carries, if any.
    DateCode,
    /// What the program said.
    Suggestion,
    /// Whose photo it is.
    Owner,
    /// How large things are in it.
    Scale,
    /// One fact of a piece.
    Piece(PieceFact),
    /// A kind of a later version, by its word.
    Other(String),
}

impl Statement {
    /// The word of the kind in the database and the journal. These words are lasting.
    pub fn kind(&self) -> &str {
        match self {
            Self::Family(_) => "family",
            Self::Unknown => "unknown",
            Self::NoMark => "no-mark",
            Self::Again => "again",
            Self::DateCode(_) => "date-code",
            Self::NoDateCode => "no-date-code",
            Self::IllegibleDateCode => "illegible-date-code",
            Self::Piece { fact, .. } => fact.kind(),
            Self::NotMine => "not-mine",
            Self::Scale(_) => "scale",
            Self::Suggested(_) => "suggested",
            Self::Withheld(_) => "withheld",
            Self::Undo => "undo",
            Self::NotStated { kind, .. } => kind,
        }
    }

    pub fn value(&self) -> Option<&str> {
        match self {
            Self::Family(text) | Self::DateCode(text) => Some(text),
            Self::Suggested(text) | Self::Withheld(text) | Self::Scale(text) => Some(text),
            Self::NotStated { value, .. } | Self::Piece { value, .. } => value.as_deref(),
            Self::Unknown | Self::NoMark | Self::Again | Self::NotMine | Self::Undo => None,
            Self::NoDateCode | Self::IllegibleDateCode => None,
        }
    }

    /// The statement of the two stored words. What does not fit together is `NotStated`.
    pub fn from_words(kind: &str, value: Option<String>) -> Self {
        match (kind, value) {
            ("family", Some(family)) => Self::Family(family),
            ("unknown", None) => Self::Unknown,
            ("no-mark", None) => Self::NoMark,
            ("again", None) => Self::Again,
            ("date-code", Some(code)) => Self::DateCode(code),
            ("no-date-code", None) => Self::NoDateCode,
            ("illegible-date-code", None) => Self::IllegibleDateCode,
            ("not-mine", None) => Self::NotMine,
            ("scale", Some(span)) => Self::Scale(span),
            ("suggested", Some(family)) => Self::Suggested(family),
            ("withheld", Some(family)) => Self::Withheld(family),
            ("undo", None) => Self::Undo,
            (kind, value) => match PieceFact::from_kind(kind) {
                Some(fact) => Self::Piece { fact, value },
                None => Self::NotStated {
                    kind: kind.to_owned(),
                    value,
                },
            },
        }
    }

    /// `None` for an undo, which has no topic of its own.
    pub fn topic(&self) -> Option<Topic> {
        match self {
            Self::Family(_) | Self::Unknown | Self::NoMark | Self::Again => Some(Topic::Identity),
            Self::DateCode(_) | Self::NoDateCode | Self::IllegibleDateCode => Some(Topic::DateCode),
            Self::Suggested(_) | Self::Withheld(_) => Some(Topic::Suggestion),
            Self::NotMine => Some(Topic::Owner),
            Self::Scale(_) => Some(Topic::Scale),
            Self::Piece { fact, .. } => Some(Topic::Piece(*fact)),
            Self::Undo => None,
            Self::NotStated { kind, .. } => Some(Topic::Other(kind.clone())),
        }
    }
}

/// How sure the person was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Certainty {
    Sure,
    Probably,
    /// A word that this version does not know.
    NotStated,
}

impl Certainty {
    /// The lasting word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Sure => "sure",
            Self::Probably => "probably",
            Self::NotStated => "not-stated",
        }
    }

    pub fn from_word(word: &str) -> Self {
        match word {
            "sure" => Self::Sure,
            "probably" => Self::Probably,
            _ => Self::NotStated,
        }
    }
}

/// One thing said, once. Records are never changed and never removed.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// Counts from 1 within a workspace.
    pub number: i64,
    pub time: Moment,
    pub about: About,
    pub statement: Statement,
    pub certainty: Certainty,
    /// The decision that this one takes the place of (or, for an undo, takes back).
    pub replaces: Option<i64>,
}

/// Stored text that is not what it should be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` is not {wanted}")]
pub struct Malformed {
    wanted: &'static str,
    found: String,
}

impl Malformed {
    fn new(wanted: &'static str, found: &str) -> Self {
        Self {
            wanted,
            found: found.chars().take(80).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lasting_words_are_pinned() {
        let said = [
            (
                Statement::Family("mill/crown".into()),
                "family",
                Some("mill/crown"),
            ),
            (Statement::Unknown, "unknown", None),
            (Statement::NoMark, "no-mark", None),
            (Statement::Again, "again", None),
            (
                Statement::DateCode("7 C 52".into()),
                "date-code",
                Some("7 C 52"),
            ),
            (Statement::NoDateCode, "no-date-code", None),
            (Statement::IllegibleDateCode, "illegible-date-code", None),
            (
                Statement::Suggested("mill/crown".into()),
                "suggested",
                Some("mill/crown"),
            ),
            (
                Statement::Withheld("mill/crown".into()),
                "withheld",
                Some("mill/crown"),
            ),
            (Statement::NotMine, "not-mine", None),
            (
                Statement::Scale("1,2 3,4 30 ± 0.2".into()),
                "scale",
                Some("1,2 3,4 30 ± 0.2"),
            ),
            (Statement::Undo, "undo", None),
        ];
        for (statement, kind, value) in said {
            assert_eq!((statement.kind(), statement.value()), (kind, value));
            assert_eq!(
                Statement::from_words(kind, value.map(str::to_owned)),
                statement
            );
        }
        assert_eq!(Certainty::Sure.word(), "sure");
        assert_eq!(Certainty::Probably.word(), "probably");
        assert_eq!(Certainty::from_word("perhaps"), Certainty::NotStated);
    }

    #[test]
    fn a_kind_of_a_later_version_is_kept_and_not_acted_on() {
        let said = Statement::from_words("foot-wear", Some("three spurs".into()));
        assert_eq!(
            (said.kind(), said.value()),
            ("foot-wear", Some("three spurs"))
        );
        assert_eq!(said.topic(), Some(Topic::Other("foot-wear".into())));
    }
}
