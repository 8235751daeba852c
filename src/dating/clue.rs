//! Clues to a piece's date, and which ends of it each kind can bound.

use super::Span;
use super::edtf::Expression;
use super::published::Checked;
use super::reach::reach;

/// What kind of evidence a clue is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ClueKind {
    /// The run of the line.
    Line,
    /// When the stamp was in use, which is not the line's run.
    Used,
    /// When this variant of the stamp was in use.
    Variant,
    /// A date code.
    Code,
    /// The run of the form.
    Form,
    /// The run of the decoration.
    Decoration,
    /// A piece that belongs with it: the saucer of a cup, the rest of a set.
    Partner,
    /// Wording of an occupation, or of a state that ended.
    LapsedWording,
    /// A registered design.
    Registration,
    /// The diamond of a British registered design.
    Diamond,
    /// An "Rd No." of a British registered design.
    RdNumber,
    Patent,
    /// Wording of the country of origin.
    CountryWording,
    /// Wording on the care of the ware.
    CareWording,
    /// A dated receipt, gift or picture that shows the piece.
    Seen,
    /// Something that is not there.
    Absence,
}

/// Which ends of the date of making a kind of clue bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limits {
    Both,
    /// A design, a patent or a wording may stay in use long after.
    NotBefore,
    /// The piece may be much older.
    NotAfter,
    Neither,
}

impl Limits {
    /// What is left of a span.
    pub fn of(self, span: Span) -> Span {
        let not_before = span
            .not_before
            .filter(|_| matches!(self, Self::Both | Self::NotBefore));
        let not_after = span
            .not_after
            .filter(|_| matches!(self, Self::Both | Self::NotAfter));
        Span {
            not_before,
            not_after,
        }
    }
}

impl ClueKind {
    pub const ALL: [Self; 16] = [
        Self::Line,
        Self::Used,
        Self::Variant,
        Self::Code,
        Self::Form,
        Self::Decoration,
        Self::Partner,
        Self::LapsedWording,
        Self::Registration,
        Self::Diamond,
        Self::RdNumber,
        Self::Patent,
        Self::CountryWording,
        Self::CareWording,
        Self::Seen,
        Self::Absence,
    ];

    /// As the command line and JSON write it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Line => "line",
            Self::Used => "used",
            Self::Variant => "variant",
            Self::Code => "code",
            Self::Form => "form",
            Self::Decoration => "decoration",
            Self::Partner => "partner",
            Self::LapsedWording => "lapsed-wording",
            Self::Registration => "registration",
            Self::Diamond => "diamond",
            Self::RdNumber => "rd-number",
            Self::Patent => "patent",
            Self::CountryWording => "country-wording",
            Self::CareWording => "care-wording",
            Self::Seen => "seen",
            Self::Absence => "absence",
        }
    }

    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    pub fn limits(self) -> Limits {
        match self {
            Self::Line
            | Self::Used
            | Self::Variant
            | Self::Code
            | Self::Form
            | Self::Decoration
            | Self::Partner
            | Self::LapsedWording => Limits::Both,
            Self::Registration
            | Self::Diamond
            | Self::RdNumber
            | Self::Patent
            | Self::CountryWording
            | Self::CareWording => Limits::NotBefore,
            Self::Seen => Limits::NotAfter,
            Self::Absence => Limits::Neither,
        }
    }
}

/// How far the person stands behind a clue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    Sure,
    /// The person said `probably`.
    Probably,
    /// Read by the program, and not yet confirmed by the person.
    Unconfirmed,
}

impl Standing {
    pub fn word(self) -> &'static str {
        match self {
            Self::Sure => "sure",
            Self::Probably => "probably",
            Self::Unconfirmed => "unconfirmed",
        }
    }
}

/// Where a clue's dates come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// The person's own word or record, named for a person to find again.
    Own(String),
    Published {
        text: String,
        state: Checked,
    },
}

/// One piece of evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Clue {
    pub kind: ClueKind,
    /// As typed, or as it stands in its record.
    pub typed: String,
    /// The dates in it; `None` where it holds none.
    pub meaning: Option<Expression>,
    pub standing: Standing,
    /// One for each date at least.
    pub sources: Vec<Source>,
    /// What a person should know about how it was read or what it does not prove.
    pub notes: Vec<String>,
}

impl Clue {
    /// A sure clue with one date or run.
    pub fn new(kind: ClueKind, typed: &str, meaning: Expression, source: Source) -> Self {
        Self {
            kind,
            typed: typed.to_owned(),
            meaning: Some(meaning),
            standing: Standing::Sure,
            sources: vec![source],
            notes: Vec::new(),
        }
    }

    /// That something is not there. It is listed and bounds nothing.
    pub fn absence(typed: &str, source: Source) -> Self {
        Self {
            kind: ClueKind::Absence,
            typed: typed.to_owned(),
            meaning: None,
            standing: Standing::Sure,
            sources: vec![source],
            notes: Vec::new(),
        }
    }

    #[must_use]
    pub fn standing(mut self, standing: Standing) -> Self {
        self.standing = standing;
        self
    }

    #[must_use]
    pub fn note(mut self, note: impl Into<String>) -> Self {
        self.notes.push(note.into());
        self
    }

    /// What it says about the making: its dates with their doubt, at the ends that its kind bounds.
    pub fn bounds(&self) -> Span {
        let reach = self.meaning.as_ref().map_or(Span::ALWAYS, reach);
        self.kind.limits().of(reach)
    }

    /// Whether a value in it was not seen in the source that is named with it.
    pub fn is_unverified(&self) -> bool {
        self.sources.iter().any(|source| {
            matches!(source, Source::Published { state, .. } if *state == Checked::Unverified)
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn bounds(kind: ClueKind, text: &str) -> (bool, bool) {
        let meaning = Expression::parse(text).unwrap();
        let bounds = Clue::new(kind, text, meaning, Source::Own("test".to_owned())).bounds();
        (bounds.not_before.is_some(), bounds.not_after.is_some())
    }

    /// Before: the clue bounds the beginning. After: the end. The end that a kind must not bound
    /// is the one that leads a person astray.
    #[test]
    fn each_kind_bounds_the_ends_that_it_can_and_no_other() {
        for (word, before, after) in [
            ("line", true, true),
            ("used", true, true),
            ("variant", true, true),
            ("code", true, true),
            ("form", true, true),
            ("decoration", true, true),
            ("partner", true, true),
            ("lapsed-wording", true, true),
            ("registration", true, false),
            ("diamond", true, false),
            ("rd-number", true, false),
            ("patent", true, false),
            ("country-wording", true, false),
            ("care-wording", true, false),
            ("seen", false, true),
            ("absence", false, false),
        ] {
            let kind = ClueKind::from_word(word).unwrap();
            assert_eq!(bounds(kind, "1921/1935"), (before, after), "{word}");
            assert_eq!(bounds(kind, "1921"), (before, after), "{word}");
            assert_eq!(bounds(kind, "1921/.."), (before, false), "{word}");
            assert_eq!(bounds(kind, "1921/"), (before, false), "{word}");
            assert_eq!(bounds(kind, "../1921"), (false, after), "{word}");
            assert_eq!(bounds(kind, "[..1921]"), (false, after), "{word}");
        }
    }

    #[test]
    fn words_of_kinds_are_their_own() {
        for kind in ClueKind::ALL {
            assert_eq!(ClueKind::from_word(kind.word()), Some(kind));
        }
        assert_eq!(ClueKind::from_word("hunch"), None);
    }
}
