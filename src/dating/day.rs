//! Days of the Gregorian calendar, carried back and forward without end as ISO 8601-1:2019 does:
//! there is a year 0, before it come -1, -2 and so on.

use std::fmt;

/// A day. Days compare in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day {
    year: i64,
    month: u8,
    day: u8,
}

impl Day {
    /// `None` where the calendar has no such day.
    pub fn new(year: i64, month: u8, day: u8) -> Option<Self> {
        let fits = (1..=12).contains(&month) && (1..=days_in(year, month)).contains(&day);
        fits.then_some(Self { year, month, day })
    }

    pub fn first_of_year(year: i64) -> Self {
        Self {
            year,
            month: 1,
            day: 1,
        }
    }

    pub fn last_of_year(year: i64) -> Self {
        Self {
            year,
            month: 12,
            day: 31,
        }
    }

    pub fn year(self) -> i64 {
        self.year
    }

    /// From 1.
    pub fn month(self) -> u8 {
        self.month
    }

    /// Day of the month, from 1.
    pub fn day(self) -> u8 {
        self.day
    }

    pub fn is_first_of_year(self) -> bool {
        self == Self::first_of_year(self.year)
    }

    pub fn is_last_of_year(self) -> bool {
        self == Self::last_of_year(self.year)
    }

    pub fn is_last_of_month(self) -> bool {
        self.day == days_in(self.year, self.month)
    }

    /// First day of the same month.
    pub fn month_begin(self) -> Self {
        Self { day: 1, ..self }
    }

    /// Last day of the same month.
    pub fn month_end(self) -> Self {
        Self {
            day: days_in(self.year, self.month),
            ..self
        }
    }

    /// The same day `years` later; 29 February becomes 28 where the year has none.
    pub fn years_later(self, years: i64) -> Self {
        let year = self.year.saturating_add(years);
        Self {
            year,
            month: self.month,
            day: self.day.min(days_in(year, self.month)),
        }
    }
}

/// `1931-06-15`; years beyond four digits carry their sign, as ISO 8601 expands them.
impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.year {
            0..=9999 => write!(f, "{:04}", self.year)?,
            year => write!(f, "{year:+05}")?,
        }
        write!(f, "-{:02}-{:02}", self.month, self.day)
    }
}

/// Number of days of a month, 0 where there is no such month.
fn days_in(year: i64, month: u8) -> u8 {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn leap_days_are_where_the_calendar_has_them() {
        for (year, has) in [
            (1930, false),
            (1936, true),
            (1900, false),
            (2000, true),
            (0, true),
            (-4, true),
            (-100, false),
        ] {
            assert_eq!(Day::new(year, 2, 29).is_some(), has, "{year}");
        }
        let leap = Day::new(1936, 2, 29).unwrap();
        assert_eq!(leap.years_later(-5), Day::new(1931, 2, 28).unwrap());
    }

    #[test]
    fn days_compare_in_time_and_print_as_iso() {
        let days = [(-44, 3, 15), (1930, 12, 31), (1931, 1, 1), (17_000, 1, 1)]
            .map(|(y, m, d)| Day::new(y, m, d).unwrap());
        assert!(days.is_sorted());
        assert_eq!(
            days.map(|d| d.to_string()),
            ["-0044-03-15", "1930-12-31", "1931-01-01", "+17000-01-01"]
        );
    }
}
