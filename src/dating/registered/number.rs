//! The series of "Rd No." from 1884 on.

use std::sync::OnceLock;

use serde::Deserialize;

use crate::dating::Span;
use crate::dating::published::{Checked, table};

const TABLE: &str = include_str!("../tables/rd_numbers.toml");

/// What a number says.
#[derive(Debug, Clone, PartialEq)]
pub struct RdNumber {
    pub number: u32,
    /// Year of registration; two where printed tables differ, without end beyond the last number.
    pub registered: Span,
    pub state: Checked,
    pub source: &'static str,
    pub note: &'static str,
}

/// Why a text is no "Rd No.".
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no registered number: write it as `Rd No 612431` or `612431`")]
pub struct RdNumberError(String);

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    first_year: i64,
    source: String,
    state: Checked,
    note: String,
    first_numbers: Vec<u32>,
    slack: Vec<Slack>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Slack {
    from: i64,
    to: i64,
    numbers: u32,
}

impl Table {
    /// The year in which a number was given, by this table alone.
    fn year(&self, number: u32) -> i64 {
        let begun = self.first_numbers.partition_point(|first| *first <= number);
        self.first_year + begun.saturating_sub(1) as i64
    }

    /// By how much the first number of this year may be another in another printed table.
    fn slack(&self, year: i64) -> u32 {
        let here = self
            .slack
            .iter()
            .filter(|s| (s.from..=s.to).contains(&year));
        here.map(|s| s.numbers).max().unwrap_or(0)
    }

    /// The first number of a year of the table.
    fn first(&self, year: i64) -> Option<u32> {
        let place = usize::try_from(year - self.first_year).ok()?;
        self.first_numbers.get(place).copied()
    }

    /// The year, or the two on either side of a first number that tables differ about.
    fn registered(&self, number: u32) -> Span {
        let year = self.year(number);
        let near = |first: u32, slack: u32| number.abs_diff(first) < slack;
        let begun_before = self.first(year).is_some_and(|f| near(f, self.slack(year)));
        let next = self.first(year + 1);
        let ended_after = next.is_some_and(|f| near(f, self.slack(year + 1)));
        let years = Span::of_years(
            year - i64::from(begun_before),
            year + i64::from(ended_after),
        );
        match next {
            Some(_) => years,
            None => Span {
                not_after: None,
                ..years
            },
        }
    }
}

fn series() -> &'static Table {
    static SERIES: OnceLock<Table> = OnceLock::new();
    SERIES.get_or_init(|| table(TABLE))
}

/// Reads `Rd No. 612,431`, `Rd 612431` or the bare number.
///
/// # Errors
/// Where there is no number from 1 on.
pub fn read_rd_number(text: &str) -> Result<RdNumber, RdNumberError> {
    let wrong = || RdNumberError(text.to_owned());
    let lower = text.to_lowercase();
    let figures = lower
        .trim()
        .trim_start_matches("rd")
        .trim_start_matches(['.', ' '])
        .trim_start_matches("no")
        .trim_start_matches(['.', ' '])
        .replace([',', ' '], "");
    let plain = figures.bytes().all(|b| b.is_ascii_digit());
    let number = figures.parse().ok().filter(|n| plain && *n > 0);
    let number: u32 = number.ok_or_else(wrong)?;
    let series = series();
    Ok(RdNumber {
        number,
        registered: series.registered(number),
        state: series.state,
        source: &series.source,
        note: &series.note,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An invented series: 10 numbers in the first year, 20 in the second, 30 in the third.
    fn invented() -> Table {
        Table {
            first_year: 2100,
            source: String::new(),
            state: Checked::Unverified,
            note: String::new(),
            first_numbers: vec![1, 11, 31, 61],
            slack: vec![Slack {
                from: 2102,
                to: 2102,
                numbers: 3,
            }],
        }
    }

    #[test]
    fn a_number_lies_in_the_year_that_had_begun() {
        let table = invented();
        for (number, first, last) in [
            (1, 2100, 2100),
            (10, 2100, 2100),
            (11, 2101, 2101),
            (28, 2101, 2101),
            (29, 2101, 2102),
            (31, 2101, 2102),
            (33, 2101, 2102),
            (34, 2102, 2102),
        ] {
            let got = table.registered(number);
            assert_eq!(got, Span::of_years(first, last), "{number}");
        }
        let beyond = table.registered(5000);
        assert_eq!(beyond.not_before, Span::of_years(2103, 2103).not_before);
        assert_eq!(beyond.not_after, None);
    }

    #[test]
    fn the_series_rises_and_is_marked_as_unchecked() {
        let series = series();
        assert!(series.first_numbers.is_sorted_by(|a, b| a < b));
        assert_eq!(series.first_numbers.len(), 62);
        assert_eq!(series.state, Checked::Unverified);
    }

    #[test]
    fn numbers_are_read_as_they_are_printed() {
        for text in ["Rd No. 612,431", "RD. No 612431", "rd612431", " 612431 "] {
            assert_eq!(
                read_rd_number(text).map(|r| r.number),
                Ok(612_431),
                "{text}"
            );
        }
        for text in ["", "Rd No", "0", "-5", "Rd 12a", "99999999999"] {
            assert!(read_rd_number(text).is_err(), "{text}");
        }
    }
}
