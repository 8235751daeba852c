//! What a person knows of a line's or a maker's pieces: forms, borrowed bodies, pairs, decorations.
//!
//! None of it is shipped as general knowledge: a rule holds for the line or maker in whose file it
//! stands, and says where it comes from.

use std::fmt;
use std::ops::Range;

use toml_edit::{Item, TableLike, Value};

use super::edtf::Edtf;
use super::keys::{Keys, line_of};
use super::remark::Trouble;

/// Keys of a maker's or a line's file that hold such facts.
pub(super) const FACT_KEYS: [&str; 4] = ["forms", "borrows", "pairs_with", "decorations"];

const FORM_KEYS: &[&str] = &[
    "form",
    "made",
    "marked",
    "except",
    "borrowed_from",
    "handle",
    "foot",
    "finial",
    "source",
];
const BORROW_KEYS: &[&str] = &[
    "body",
    "form",
    "glaze",
    "decoration",
    "customer",
    "years",
    "source",
];
const PAIR_KEYS: &[&str] = &[
    "line",
    "form",
    "glaze",
    "decoration",
    "customer",
    "years",
    "source",
];
const DECORATION_KEYS: &[&str] = &[
    "name",
    "made",
    "colourway",
    "number",
    "customer",
    "decorated_by",
    "source",
];

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
    /// Reads the facts that stand in a maker's or a line's file.
    pub(super) fn read(keys: &mut Keys<'_>, table: &dyn TableLike) -> Self {
        Self {
            forms: forms(keys, table),
            borrows: borrows(keys, table),
            pairs: pairs(keys, table),
            decorations: decorations(keys, table),
        }
    }

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

type At = Option<Range<usize>>;

/// The text at `key`, which must be there.
fn named(
    keys: &mut Keys<'_>,
    table: &dyn TableLike,
    key: &'static str,
    at: &At,
    wanted: &'static str,
) -> Option<String> {
    if !table.contains_key(key) {
        keys.remark(key, at.clone(), Trouble::WrongKind { wanted });
        return None;
    }
    keys.text(table, key)
}

fn line(keys: &Keys<'_>, at: &At) -> Option<usize> {
    at.as_ref().map(|span| line_of(keys.text, span.start))
}

/// A list of names, or of tables.
fn forms(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<FormFact> {
    let plain = match table.get("forms") {
        None => return Vec::new(),
        Some(Item::Value(Value::Array(list))) => list.iter().all(Value::is_str),
        Some(item) => item.is_str(),
    };
    if plain {
        let names = keys.texts(table, "forms").into_iter();
        return names
            .map(|form| FormFact {
                form,
                ..FormFact::default()
            })
            .collect();
    }
    let mut out = Vec::new();
    for (form, at) in keys.tables(table, "forms") {
        keys.only(form, FORM_KEYS);
        let wanted = "tables with the `form` that they speak of, or a list of names";
        let Some(name) = named(keys, form, "form", &at, wanted) else {
            continue;
        };
        out.push(FormFact {
            form: name,
            made: keys.date(form, "made"),
            marked: habit(keys, form, &at),
            except: keys.text(form, "except"),
            borrowed_from: keys.text(form, "borrowed_from"),
            handle: keys.text(form, "handle"),
            foot: keys.text(form, "foot"),
            finial: keys.text(form, "finial"),
            source: keys.text(form, "source"),
            at: line(keys, &at),
        });
    }
    out
}

fn habit(keys: &mut Keys<'_>, table: &dyn TableLike, at: &At) -> Option<Habit> {
    let word = keys.text(table, "marked")?;
    let habit = Habit::from_word(&word);
    if habit.is_none() {
        let wanted = "`always`, `generally`, `seldom` or `never`";
        keys.remark("marked", at.clone(), Trouble::WrongKind { wanted });
    }
    habit
}

fn conditions(keys: &mut Keys<'_>, table: &dyn TableLike) -> Conditions {
    Conditions {
        form: keys.text(table, "form"),
        glaze: keys.text(table, "glaze"),
        decoration: keys.text(table, "decoration"),
        customer: keys.text(table, "customer"),
        years: keys.date(table, "years"),
    }
}

fn borrows(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<BorrowFact> {
    let mut out = Vec::new();
    for (borrow, at) in keys.tables(table, "borrows") {
        keys.only(borrow, BORROW_KEYS);
        let wanted = "tables with the line whose `body` it is";
        if let Some(body) = named(keys, borrow, "body", &at, wanted) {
            out.push(BorrowFact {
                body,
                when: conditions(keys, borrow),
                source: keys.text(borrow, "source"),
                at: line(keys, &at),
            });
        }
    }
    out
}

fn pairs(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<PairFact> {
    let mut out = Vec::new();
    for (pair, at) in keys.tables(table, "pairs_with") {
        keys.only(pair, PAIR_KEYS);
        let wanted = "tables with the other `line`";
        if let Some(other) = named(keys, pair, "line", &at, wanted) {
            out.push(PairFact {
                line: other,
                when: conditions(keys, pair),
                source: keys.text(pair, "source"),
                at: line(keys, &at),
            });
        }
    }
    out
}

fn decorations(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<DecorationFact> {
    let mut out = Vec::new();
    for (decoration, at) in keys.tables(table, "decorations") {
        keys.only(decoration, DECORATION_KEYS);
        let wanted = "tables with the decoration's `name`";
        if let Some(name) = named(keys, decoration, "name", &at, wanted) {
            out.push(DecorationFact {
                name,
                made: keys.date(decoration, "made"),
                colourway: keys.text(decoration, "colourway"),
                number: keys.text(decoration, "number"),
                customer: keys.text(decoration, "customer"),
                decorated_by: keys.text(decoration, "decorated_by"),
                source: keys.text(decoration, "source"),
            });
        }
    }
    out
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
