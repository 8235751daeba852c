//! Values that are more than free words: money, sizes, lids, lists, what a set needs.

use std::collections::BTreeMap;
use std::fmt;

use super::attribution::Attribution;
use super::form::{form, same_form};
use crate::dating::split_clue;
use crate::decision::{PieceFact, read_photos};

/// Why a value cannot be kept.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{fact}: {why}", fact = fact.word())]
pub struct NotAValue {
    pub fact: PieceFact,
    pub why: String,
}

/// Most characters of a value; longer texts belong into files of one's own.
const LONGEST: usize = 2000;

/// Checks a value before it is kept, and gives it as it is kept.
///
/// # Errors
/// What is wrong with it, in words for the person.
pub fn check(fact: PieceFact, text: &str) -> Result<String, NotAValue> {
    let text = text.trim();
    let bad = |why: String| Err(NotAValue { fact, why });
    if text.is_empty() {
        return bad("the value is empty; `--forget` takes a fact back".to_owned());
    }
    if text.chars().count() > LONGEST {
        return bad(format!("longer than {LONGEST} characters"));
    }
    if text.chars().any(char::is_control) {
        return bad("holds control characters".to_owned());
    }
    let wrong = match fact {
        PieceFact::Photos => read_photos(text).err().map(|e| e.to_string()),
        PieceFact::Lid => Lid::read(text).is_none().then(|| {
            format!("`{text}` is none of `present`, `missing`, `never` (made without a lid)")
        }),
        PieceFact::MadeBy | PieceFact::DecoratedBy | PieceFact::MadeFor => {
            Attribution::read(text).err().map(|e| e.to_string())
        }
        PieceFact::Size => Size::read(text).is_none().then(|| {
            format!("`{text}` is no size: write millimetres, as in `diameter 152, height 21`")
        }),
        PieceFact::Cost | PieceFact::Asked => Money::read(text)
            .is_none()
            .then(|| format!("`{text}` is no sum: write `12.50` or `EUR 12.50`")),
        PieceFact::Clues => split_list(text)
            .into_iter()
            .find_map(|clue| split_clue(clue).err())
            .map(|e| e.to_string()),
        PieceFact::SetNeeds => Needs::read(text).is_none().then(|| {
            format!("`{text}` does not say how many of what: write `6 cup, 6 saucer, 1 teapot`")
        }),
        _ => None,
    };
    match wrong {
        Some(why) => bad(why),
        None => Ok(text.to_owned()),
    }
}

/// The parts of a list, which are kept with `; ` between them.
pub fn split_list(text: &str) -> Vec<&str> {
    let parts = text.split(';').map(str::trim);
    parts.filter(|part| !part.is_empty()).collect()
}

/// A list as it is kept.
pub fn join_list(parts: &[String]) -> String {
    let parts: Vec<&str> = parts.iter().flat_map(|p| split_list(p)).collect();
    parts.join("; ")
}

/// Whether a piece has its lid. A piece that was made without one lacks nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lid {
    Present,
    Missing,
    /// It was made without a lid.
    Never,
}

impl Lid {
    pub fn read(text: &str) -> Option<Self> {
        match text {
            "present" => Some(Self::Present),
            "missing" => Some(Self::Missing),
            "never" => Some(Self::Never),
            _ => None,
        }
    }
}

/// A sum of money: a currency as written, and hundredths.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Money {
    /// Empty where none was written.
    pub currency: String,
    pub hundredths: i64,
}

/// Largest sum taken, in hundredths: sums of a million pieces stay far below what an `i64` holds.
const MOST_HUNDREDTHS: i64 = 1_000_000_000_000;

impl Money {
    /// `12.50`, `12`, `EUR 12.50`, `12.50 EUR`, `£12.5`.
    pub fn read(text: &str) -> Option<Self> {
        let first = text.find(|c: char| c.is_ascii_digit())?;
        let last = text.rfind(|c: char| c.is_ascii_digit())?;
        let (before, after) = (text[..first].trim(), text[last + 1..].trim());
        let currency = match (before, after) {
            (currency, "") | ("", currency) => currency,
            _ => return None,
        };
        let is_sign = |c: char| c.is_alphabetic() || "$£€¥".contains(c);
        if !currency.chars().all(is_sign) || currency.chars().count() > 4 {
            return None;
        }
        let number = &text[first..=last];
        let (whole, part) = number.split_once('.').unwrap_or((number, ""));
        let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        if !digits(whole) || !digits(part) || part.len() > 2 {
            return None;
        }
        let whole: i64 = whole.parse().ok()?;
        let part: i64 = format!("{part:0<2}").parse().ok()?;
        let hundredths = whole.checked_mul(100)?.checked_add(part)?;
        (hundredths <= MOST_HUNDREDTHS).then(|| Self {
            currency: currency.to_owned(),
            hundredths,
        })
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.currency.is_empty() {
            write!(f, "{} ", self.currency)?;
        }
        let sign = if self.hundredths < 0 { "-" } else { "" };
        let all = self.hundredths.unsigned_abs();
        write!(f, "{sign}{}.{:02}", all / 100, all % 100)
    }
}

/// Which way a measure goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dimension {
    Height,
    Diameter,
    Length,
    Width,
    Depth,
}

impl Dimension {
    pub const ALL: [Self; 5] = [
        Self::Height,
        Self::Diameter,
        Self::Length,
        Self::Width,
        Self::Depth,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Self::Height => "height",
            Self::Diameter => "diameter",
            Self::Length => "length",
            Self::Width => "width",
            Self::Depth => "depth",
        }
    }

    fn read(word: &str) -> Option<Self> {
        let by_letter = |d: &Self| d.word() == word || d.word()[..1] == *word;
        Self::ALL.into_iter().find(by_letter)
    }
}

/// Measures in whole millimetres. `d` is the diameter; depth is written out.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Size(pub BTreeMap<Dimension, u32>);

/// Longest measure taken, in mm: two metres is more than any dish has.
const LONGEST_MM: u32 = 2000;

impl Size {
    /// `diameter 152, height 21`, `d 152 h 21`, `152 mm high` is not read.
    pub fn read(text: &str) -> Option<Self> {
        let text = text.to_lowercase().replace([',', ';', '='], " ");
        let mut words = text.split_whitespace().filter(|w| *w != "mm");
        let mut size = Self::default();
        while let Some(word) = words.next() {
            let dimension = Dimension::read(word)?;
            let number = words.next()?.trim_end_matches("mm");
            let mm: u32 = number.parse().ok()?;
            if !(1..=LONGEST_MM).contains(&mm) || size.0.insert(dimension, mm).is_some() {
                return None;
            }
        }
        (!size.0.is_empty()).then_some(size)
    }
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts = self.0.iter().map(|(d, mm)| format!("{} {mm} mm", d.word()));
        f.write_str(&parts.collect::<Vec<_>>().join(", "))
    }
}

/// What makes a set complete: how many of which form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Needs(pub Vec<(usize, String)>);

impl Needs {
    /// `6 cup, 6 saucer, teapot`.
    pub fn read(text: &str) -> Option<Self> {
        let one = |part: &str| {
            let part = part.trim();
            let digits = part.bytes().take_while(u8::is_ascii_digit).count();
            let (count, form) = part.split_at(digits);
            let count: usize = match count {
                "" => 1,
                count => count.parse().ok().filter(|n| (1..=999).contains(n))?,
            };
            let form = form.trim();
            (!form.is_empty() && form.chars().any(char::is_alphabetic))
                .then(|| (count, form.to_owned()))
        };
        text.split(',')
            .map(one)
            .collect::<Option<Vec<_>>>()
            .map(Self)
    }

    /// What of it is lacking, given the forms that are there. Each piece fills one need, the closest
    /// word first.
    pub fn lacking(&self, there: &[&str]) -> Vec<(usize, String)> {
        let mut left: Vec<&str> = there.to_vec();
        let mut open = self.0.clone();
        let mut take = |fills: &dyn Fn(&str, &str) -> bool| {
            for (count, need) in &mut open {
                let mut keep = Vec::new();
                for form in left.drain(..) {
                    if *count > 0 && fills(form, need) {
                        *count -= 1;
                    } else {
                        keep.push(form);
                    }
                }
                left = keep;
            }
        };
        take(&|form, need| form == need);
        take(&same_form);
        let broad = |one: &str, other: &str| match (form(one), form(other)) {
            (Some(one), Some(other)) => one == other,
            _ => false,
        };
        take(&broad);
        open.retain(|(count, _)| *count > 0);
        open
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn sums_are_read_and_written() {
        for (text, written) in [
            ("12", "12.00"),
            ("12.5", "12.50"),
            ("EUR 12.50", "EUR 12.50"),
            ("12.50 EUR", "EUR 12.50"),
            ("£7", "£ 7.00"),
            ("0.05", "0.05"),
        ] {
            assert_eq!(Money::read(text).unwrap().to_string(), written, "{text}");
        }
        for bad in [
            "",
            "cheap",
            "12,50",
            "12.505",
            "1 EUR 2",
            "-4",
            "99999999999999",
        ] {
            assert_eq!(Money::read(bad), None, "{bad}");
        }
    }

    #[test]
    fn sizes_are_millimetres() {
        let size = |text| Size::read(text).map(|s| s.to_string());
        let plate = Some("height 21 mm, diameter 152 mm".to_owned());
        assert_eq!(size("diameter 152, height 21"), plate);
        assert_eq!(size("d 152mm h 21 mm"), plate);
        for bad in ["", "152", "d x", "d 0", "d 15200", "d 1 d 2", "girth 4"] {
            assert_eq!(size(bad), None, "{bad}");
        }
    }

    #[test]
    fn needs_are_counted_against_what_is_there() {
        let needs = Needs::read("2 cup, 2 saucer, teapot").unwrap();
        let lacking = needs.lacking(&["coffee cup", "saucer", "saucers", "plate"]);
        assert_eq!(lacking, [(1, "cup".to_owned()), (1, "teapot".to_owned())]);
        assert_eq!(Needs::read("0 cups"), None);
        assert_eq!(Needs::read("6"), None);
    }

    #[test]
    fn values_are_checked_before_they_are_kept() {
        for (fact, text) in [
            (PieceFact::Lid, "lost"),
            (PieceFact::MadeBy, "Mill Lane"),
            (PieceFact::Size, "big"),
            (PieceFact::Cost, "12,50"),
            (PieceFact::Clues, "patent"),
            (PieceFact::SetNeeds, "0 cups"),
            (PieceFact::Form, "  "),
            (PieceFact::Notes, "two\nlines"),
        ] {
            assert!(check(fact, text).is_err(), "{text}");
        }
        assert_eq!(check(PieceFact::Form, " cup ").unwrap(), "cup");
        assert_eq!(split_list("a; b;;c"), ["a", "b", "c"]);
        assert_eq!(join_list(&["a".into(), "b; c".into()]), "a; b; c");
    }
}
