//! A point in time as the Extended Date/Time Format writes it (ISO 8601-2:2019, annex A), as
//! exactly as a code tells it.

use std::fmt;

/// When a code says that a piece was made: a month, a quarter, a year or a decade.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Made {
    text: String,
    years: Years,
}

/// A run of years, both ends included; an end may be open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Years {
    pub first: Option<i32>,
    pub last: Option<i32>,
}

/// The number by which EDTF (level 2) writes the first quarter of a year; 36 is the fourth.
const FIRST_QUARTER: i32 = 33;

impl Made {
    /// `1946`; `None` for a year that has not four digits.
    pub fn year(year: i32) -> Option<Self> {
        Self::within(year, year, format!("{year:04}"))
    }

    /// `1946-08`; `None` for no month.
    pub fn month(year: i32, month: i32) -> Option<Self> {
        let real = (1..=12).contains(&month);
        real.then(|| Self::within(year, year, format!("{year:04}-{month:02}")))?
    }

    /// `1946-35` for the third quarter; `None` for no quarter.
    pub fn quarter(year: i32, quarter: i32) -> Option<Self> {
        let code = FIRST_QUARTER - 1 + quarter;
        let real = (1..=4).contains(&quarter);
        real.then(|| Self::within(year, year, format!("{year:04}-{code}")))?
    }

    /// `194X` for the decade that a year lies in.
    pub fn decade(year: i32) -> Option<Self> {
        let tens = year.div_euclid(10);
        Self::within(tens * 10, tens * 10 + 9, format!("{tens:03}X"))
    }

    fn within(first: i32, last: i32, text: String) -> Option<Self> {
        let written = (0..=9999).contains(&first);
        written.then_some(Self {
            text,
            years: Years {
                first: Some(first),
                last: Some(last),
            },
        })
    }

    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The years that it may lie in.
    pub fn years(&self) -> Years {
        self.years
    }
}

impl fmt::Display for Made {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl Years {
    /// Reads `1946`, `1946/1958`, `1946/..`, `../1958` or `194X`; `None` for anything else, and
    /// for a run that ends before it begins.
    pub fn parse(text: &str) -> Option<Self> {
        let (from, to) = text.split_once('/').unwrap_or((text, text));
        let (first, last) = (Self::end(from)?, Self::end(to)?);
        let years = Self {
            first: first.map(|y| y.0),
            last: last.map(|y| y.1),
        };
        let forward = years.first.zip(years.last).is_none_or(|(a, b)| a <= b);
        let told = years.first.is_some() || years.last.is_some();
        (forward && told).then_some(years)
    }

    /// First and last year of one end; the inner `None` is an open end.
    fn end(text: &str) -> Option<Option<(i32, i32)>> {
        if text == ".." {
            return Some(None);
        }
        let digits = text.strip_suffix('X').unwrap_or(text);
        let wanted = 4 - (text.len() - digits.len());
        if digits.len() != wanted || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let year: i32 = digits.parse().ok()?;
        Some(Some(match wanted {
            4 => (year, year),
            _ => (year * 10, year * 10 + 9),
        }))
    }

    pub fn contains(&self, year: i32) -> bool {
        self.first.is_none_or(|first| first <= year) && self.last.is_none_or(|last| year <= last)
    }

    /// Whether the two have a year in common.
    pub fn meets(&self, other: &Self) -> bool {
        let before = |a: Option<i32>, b: Option<i32>| a.zip(b).is_some_and(|(a, b)| a < b);
        !before(self.last, other.first) && !before(other.last, self.first)
    }
}

impl fmt::Display for Years {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let end = |year: Option<i32>| year.map_or("..".to_owned(), |y| format!("{y:04}"));
        match (self.first, self.last) {
            (Some(a), Some(b)) if a == b => write!(f, "{a:04}"),
            (a, b) => write!(f, "{}/{}", end(a), end(b)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The forms are those of the Library of Congress's EDTF page (level 0 to 2; quarters 33-36).
    #[test]
    fn times_are_written_as_edtf_writes_them() {
        let said = [
            (Made::year(1946), "1946"),
            (Made::month(1946, 8), "1946-08"),
            (Made::quarter(1946, 1), "1946-33"),
            (Made::quarter(2001, 2), "2001-34"),
            (Made::decade(1946), "194X"),
            (Made::year(987), "0987"),
        ];
        for (made, text) in said {
            assert_eq!(made.as_ref().map(Made::as_str), Some(text));
        }
        assert_eq!(Made::month(1946, 13), None);
        assert_eq!(Made::quarter(1946, 5), None);
        assert_eq!(Made::year(19460), None);
    }

    #[test]
    fn runs_of_years_read_back() {
        for text in ["1946", "1946/1958", "1946/..", "../1958"] {
            assert_eq!(Years::parse(text).expect(text).to_string(), text);
        }
        assert_eq!(
            Years::parse("194X").expect("a decade").to_string(),
            "1940/1949"
        );
        for bad in [
            "",
            "46",
            "1958/1946",
            "../..",
            "1946/",
            "c. 1946",
            "1946-08",
            "19XX",
            "194XX",
        ] {
            assert_eq!(Years::parse(bad), None, "{bad}");
        }
    }

    #[test]
    fn runs_meet_where_they_share_a_year() {
        let years = |text| Years::parse(text).expect("years");
        assert!(years("1946/1958").meets(&years("1958/..")));
        assert!(!years("1946/1958").meets(&years("1959/..")));
        assert!(years("../1946").meets(&Made::decade(1946).expect("a decade").years()));
        assert!(years("1946").contains(1946) && !years("../1945").contains(1946));
    }
}
