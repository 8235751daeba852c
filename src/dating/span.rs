//! A stretch of time that may be open at either end.

use super::day::Day;

/// From `not_before` to `not_after`, both days included; `None` is no limit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Span {
    pub not_before: Option<Day>,
    pub not_after: Option<Day>,
}

impl Span {
    /// No limit at either end.
    pub const ALWAYS: Self = Self {
        not_before: None,
        not_after: None,
    };

    /// Whole years, both included.
    pub fn of_years(first: i64, last: i64) -> Self {
        Self {
            not_before: Some(Day::first_of_year(first)),
            not_after: Some(Day::last_of_year(last)),
        }
    }

    /// What lies in both; `None` where nothing does.
    pub fn and(self, other: Self) -> Option<Self> {
        let both = Self {
            not_before: self.not_before.max(other.not_before),
            not_after: match (self.not_after, other.not_after) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => a.or(b),
            },
        };
        match (both.not_before, both.not_after) {
            (Some(first), Some(last)) if first > last => None,
            _ => Some(both),
        }
    }

    /// The least stretch that holds both.
    pub fn or(self, other: Self) -> Self {
        Self {
            not_before: self.not_before.min(other.not_before),
            not_after: match (self.not_after, other.not_after) {
                (Some(a), Some(b)) => Some(a.max(b)),
                _ => None,
            },
        }
    }

    pub fn contains(self, day: Day) -> bool {
        self.not_before.is_none_or(|first| first <= day)
            && self.not_after.is_none_or(|last| day <= last)
    }

    pub fn is_always(self) -> bool {
        self == Self::ALWAYS
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_limit_is_wider_than_any() {
        let from = Span {
            not_after: None,
            ..Span::of_years(1921, 1921)
        };
        let until = Span {
            not_before: None,
            ..Span::of_years(1935, 1935)
        };
        assert_eq!(from.and(until), Some(Span::of_years(1921, 1935)));
        assert_eq!(from.or(until), Span::ALWAYS);
        assert_eq!(Span::ALWAYS.and(from), Some(from));
        let (early, late) = (Span::of_years(1900, 1910), Span::of_years(1911, 1912));
        assert_eq!(early.and(late), None);
        assert_eq!(early.or(late), Span::of_years(1900, 1912));
        assert!(from.contains(Day::first_of_year(1921)));
        assert!(!from.contains(Day::last_of_year(1920)));
    }
}
