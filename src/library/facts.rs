//! What a person knows of a line's or a maker's pieces: forms, borrowed bodies, pairs, decorations.
//!
//! None of it is shipped as general knowledge: a rule holds for the line or maker in whose file it
//! stands, and says where it comes from.

use std::fmt;

use super::edtf::Edtf;

/// Keys of a maker's or a line's file that hold such facts.
pub(super) const FACT_KEYS: [&str; 4] = ["forms", "borrows", "pairs_with", "decorations"];

/// Facts of one line, or of a maker's pieces of any line.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facts {
    pub forms: Vec<FormFact>,
    pub borrows: Vec<BorrowFact>,
    pub pairs: Vec<PairFact>,
    pub decorations: Vec<DecorationFact>,
}

/// How often a form carried its mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Habit {
    Always,
    Generally,
    Seldom,
    Never,
}

impl Habit {
    pub const ALL: [Self; 4] = [Self::Always, Self::Generally, Self::Seldom, Self::Never];

    pub fn word(self) -> &'static str {
        match self {
            Self::Always => "always",
            Self::Generally => "generally",
            Self::Seldom => "seldom",
            Self::Never => "never",
        }
    }

    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|habit| habit.word() == word)
    }
}

/// A form that the line had. `handle`, `foot` and `finial` narrow it to pieces with that type.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct FormFact {
    pub form: String,
    pub made: Option<Edtf>,
    pub marked: Option<Habit>,
    /// What the habit does not hold for.
    pub except: Option<String>,
    /// The line whose body it is.
    pub borrowed_from: Option<String>,
    pub handle: Option<String>,
    pub foot: Option<String>,
    pub finial: Option<String>,
    pub source: Option<String>,
    /// Line of the entry in its file, from 1.
    pub(super) at: Option<usize>,
}

/// When a rule holds. What is not given holds for all.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Conditions {
    pub form: Option<String>,
    pub glaze: Option<String>,
    pub decoration: Option<String>,
    pub customer: Option<String>,
    pub years: Option<Edtf>,
}

/// The line used bodies of another line: "this body in this glaze was made for that line".
#[derive(Debug, Clone, PartialEq)]
pub struct BorrowFact {
    /// The line whose body it is, `line` of the same maker or `maker/line`.
    pub body: String,
    pub when: Conditions,
    pub source: Option<String>,
    pub(super) at: Option<usize>,
}

/// Pieces of this line went out together with pieces of another, as a cup with its saucer.
#[derive(Debug, Clone, PartialEq)]
pub struct PairFact {
    /// The other line, `line` of the same maker or `maker/line`.
    pub line: String,
    pub when: Conditions,
    pub source: Option<String>,
    pub(super) at: Option<usize>,
}

/// A decoration, or one colourway of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DecorationFact {
    pub name: String,
    pub made: Option<Edtf>,
    pub colourway: Option<String>,
    /// Its numbers: see [`number_fits`].
    pub number: Option<String>,
    /// Whom it was made for.
    pub customer: Option<String>,
    /// Who put it on, where that was not the maker.
    pub decorated_by: Option<String>,
    pub source: Option<String>,
}

/// Whether a number fits a pattern: `#` stands for one digit, a `*` at the end for whatever follows,
/// all else for itself. Blanks and case do not count.
pub fn number_fits(pattern: &str, number: &str) -> bool {
    let plain = |text: &str| -> Vec<char> {
        let text = text.chars().filter(|c| !c.is_whitespace());
        text.flat_map(char::to_lowercase).collect()
    };
    let (pattern, number) = (plain(pattern), plain(number));
    let (pattern, open) = match pattern.split_last() {
        Some(('*', before)) => (before.to_vec(), true),
        _ => (pattern, false),
    };
    let long_enough = match open {
        true => number.len() >= pattern.len(),
        false => number.len() == pattern.len(),
    };
    let fits = |(p, n): (&char, &char)| match p {
        '#' => n.is_ascii_digit(),
        p => p == n,
    };
    long_enough && pattern.iter().zip(&number).all(fits)
}

impl Facts {
    /// The lines that it speaks of: key, name as written, line of the file.
    pub(super) fn lines_named(&self) -> impl Iterator<Item = (&'static str, &str, Option<usize>)> {
        let forms = self
            .forms
            .iter()
            .filter_map(|f| Some(("forms", f.borrowed_from.as_deref()?, f.at)));
        let borrows = self
            .borrows
            .iter()
            .map(|b| ("borrows", b.body.as_str(), b.at));
        let pairs = self
            .pairs
            .iter()
            .map(|p| ("pairs_with", p.line.as_str(), p.at));
        forms.chain(borrows).chain(pairs)
    }
}

/// The conditions in words: `in celadon, for Norvast Hotel, 1929/1931`; empty where there are none.
impl fmt::Display for Conditions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts = [
            self.form.as_ref().map(|form| format!("as {form}")),
            self.glaze.as_ref().map(|glaze| format!("in {glaze}")),
            self.decoration.as_ref().map(|d| format!("with {d}")),
            self.customer.as_ref().map(|c| format!("for {c}")),
            self.years.as_ref().map(ToString::to_string),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        f.write_str(&parts.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_fit_their_patterns() {
        for (pattern, number, fits) in [
            ("H####", "H 1042", true),
            ("H####", "h1042", true),
            ("H####", "H104", false),
            ("H####", "H1042a", false),
            ("HB*", "HB 7/203", true),
            ("HB*", "H7", false),
            ("*", "anything", true),
            ("12/3", "12/3", true),
            ("#", "x", false),
        ] {
            assert_eq!(number_fits(pattern, number), fits, "{pattern} {number}");
        }
    }
}
