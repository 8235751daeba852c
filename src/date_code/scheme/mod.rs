//! Which codes a maker, plant, line, family or variant used, where they sit and what they mean.

mod keys;
mod meaning;
mod numbers;
mod read;
mod remark;
#[cfg(test)]
mod tests;

pub use meaning::{Fit, fits};
pub use read::read_schemes;
pub use remark::{SchemeRemark, SchemeTrouble};

use std::collections::BTreeMap;

use numbers::{Count, Numbers};

pub use crate::answer::Dates;

use super::automaton::Automaton;
use super::made::Years;
use crate::geometry::{Photo, Quad};

/// What a scheme belongs to, below the maker in whose folder its file lies. A scheme that names
/// nothing holds for the whole maker.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Applies {
    pub plant: Option<String>,
    pub line: Option<String>,
    pub family: Option<String>,
    pub variant: Option<String>,
}

/// How often the pieces of a run carry a code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Usual {
    /// No code on a clear, complete mark is itself a clue.
    Always,
    Mostly,
    Sometimes,
    Never,
}

impl Usual {
    pub const ALL: [Self; 4] = [Self::Always, Self::Mostly, Self::Sometimes, Self::Never];

    /// The word of the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Always => "always",
            Self::Mostly => "mostly",
            Self::Sometimes => "sometimes",
            Self::Never => "never",
        }
    }
}

/// Where a code sits.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// Inside these corners of an exemplar's picture, in its upright pixels; of the family's
    /// first picture where none is named.
    Inside {
        quad: Quad<Photo>,
        image: Option<String>,
    },
    Below,
    Beside,
    Near,
    /// Anywhere on the base, turned by itself.
    Elsewhere,
}

impl Place {
    /// The words of the file for places without corners.
    pub const WORDS: [&'static str; 4] = ["below", "beside", "near", "elsewhere"];
}

/// A sign that is no letter, figure or point: taught by a crop of it, and written in patterns and
/// typed codes as one ASCII character.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Symbol {
    pub name: String,
    pub sign: char,
    /// A picture of it, beside the scheme's file.
    pub crop: Option<String>,
}

/// One way of dating, from one `[[scheme]]` of a file.
#[derive(Debug, Clone)]
pub struct Scheme {
    pub name: String,
    pub applies: Applies,
    pub dates: Dates,
    pub place: Place,
    /// The code's turn against its mark, in degrees clockwise; `None` where it varies.
    pub turn: Option<f64>,
    pub symbols: Vec<Symbol>,
    /// Whether small letters differ from capitals. Where not, codes are spelled in capitals.
    pub small_letters: bool,
    /// Years that a code of this scheme can name.
    pub valid: Option<Years>,
    /// Years in which pieces of the run carry codes.
    pub codes: Option<Years>,
    pub codes_usual: Option<Usual>,
    pub notes: Vec<String>,
    pub sources: Vec<String>,
    /// False where a table of the scheme could not be checked against its source; what is read by
    /// it is said to be unverified.
    pub verified: bool,
    pub(super) patterns: Vec<String>,
    pub(super) regexes: Vec<regex::Regex>,
    pub(super) numbers: BTreeMap<String, Numbers>,
    pub(super) counts: BTreeMap<String, Count>,
    pub(super) automaton: Automaton,
}

impl Scheme {
    /// The automaton of the codes of this scheme.
    pub fn automaton(&self) -> &Automaton {
        &self.automaton
    }

    /// The regular expressions, as written.
    pub fn patterns(&self) -> &[String] {
        &self.patterns
    }

    /// A code of the scheme with a meaning in time where there is one.
    pub fn example(&self) -> Option<String> {
        let codes = self.automaton.codes(read::TRIED);
        let dated = |code: &&String| self.parse(code).is_some_and(|fit| !fit.made.is_empty());
        codes.iter().find(dated).or_else(|| codes.first()).cloned()
    }

    /// Whether the scheme speaks of such a mark: every name it gives must agree, and a name that
    /// is not known of the mark is no contradiction.
    pub fn speaks_of(&self, mark: &Applies) -> bool {
        let agrees = |own: &Option<String>, known: &Option<String>| {
            own.as_ref().zip(known.as_ref()).is_none_or(|(a, b)| a == b)
        };
        agrees(&self.applies.plant, &mark.plant)
            && agrees(&self.applies.line, &mark.line)
            && agrees(&self.applies.family, &mark.family)
            && agrees(&self.applies.variant, &mark.variant)
    }
}
