//! The earliest and the latest day that an expression admits.
//!
//! Signs of doubt move no bound here, since the standard gives no measure for them;
//! [`crate::dating::reach`] does that by constants of its own. Times of day are taken on the clock
//! on which they are written.

use super::date::{Date, Mask, Season, Sign, Within, Year};
use super::{End, Expression, Interval, Member, Set};
use crate::dating::{Day, Span};

/// One end of what an expression admits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Limit {
    Day(Day),
    /// There is none, or none is stated.
    Open,
    /// There is one, and nobody knows it.
    Unknown,
}

impl Limit {
    pub fn day(self) -> Option<Day> {
        match self {
            Self::Day(day) => Some(day),
            Self::Open | Self::Unknown => None,
        }
    }
}

/// The earliest and the latest day that an expression admits, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Bounds {
    pub earliest: Limit,
    pub latest: Limit,
}

impl Expression {
    /// The earliest and the latest day admitted. What lies between need not be: a set may have
    /// gaps.
    pub fn bounds(&self) -> Bounds {
        match self {
            Self::Date(date) => of_date(date),
            Self::DateTime(time) => of_date(&time.date),
            Self::Interval(Interval { start, end }) => Bounds {
                earliest: limit(start, Date::earliest),
                latest: limit(end, Date::latest),
            },
            Self::Set(set) => of_set(set),
        }
    }

    /// The same as a span: an end that is open or unknown limits nothing.
    pub fn span(&self) -> Span {
        let bounds = self.bounds();
        Span {
            not_before: bounds.earliest.day(),
            not_after: bounds.latest.day(),
        }
    }
}

fn of_date(date: &Date) -> Bounds {
    Bounds {
        earliest: Limit::Day(date.earliest()),
        latest: Limit::Day(date.latest()),
    }
}

fn limit(end: &End, day: fn(&Date) -> Day) -> Limit {
    match end {
        End::Date(date) => Limit::Day(day(date)),
        End::Open => Limit::Open,
        End::Unknown => Limit::Unknown,
    }
}

fn of_set(set: &Set) -> Bounds {
    let first = |member: &Member| match member {
        Member::Single(date) | Member::Range(date, _) | Member::From(date) => Some(date.earliest()),
        Member::UpTo(_) => None,
    };
    let last = |member: &Member| match member {
        Member::Single(date) | Member::Range(_, date) | Member::UpTo(date) => Some(date.latest()),
        Member::From(_) => None,
    };
    // One member without an end leaves the whole set without one.
    let all = |days: Vec<Option<Day>>| days.into_iter().collect::<Option<Vec<Day>>>();
    let earliest = all(set.members.iter().map(first).collect());
    let latest = all(set.members.iter().map(last).collect());
    let or_open = |day: Option<Day>| day.map_or(Limit::Open, Limit::Day);
    Bounds {
        earliest: or_open(earliest.and_then(|days| days.into_iter().min())),
        latest: or_open(latest.and_then(|days| days.into_iter().max())),
    }
}

impl Year {
    /// First and last year admitted.
    pub fn range(&self) -> (i64, i64) {
        let (sign, least, most) = match *self {
            Self::Four {
                sign,
                digits,
                significant: None,
            } => (sign, digits.least().into(), digits.most().into()),
            Self::Four {
                sign,
                digits,
                significant: Some(count),
            } => {
                let (least, most) = significant(digits.least().into(), count);
                (sign, least, most)
            }
            Self::Long {
                sign,
                number,
                exponent,
                significant: count,
            } => {
                let number = scaled(number, exponent).unwrap_or(i64::MAX);
                let (least, most) = count.map_or((number, number), |c| significant(number, c));
                (sign, least, most)
            }
        };
        match sign {
            Sign::Plus => (least, most),
            // There is no year -0: `-000X` is one of -9 to -1.
            Sign::Minus => (-most, -least.max(1)),
        }
    }

    /// Whether this year is meant, or can be.
    fn fits(&self, year: i64) -> bool {
        let (first, last) = self.range();
        let fits = match self {
            Self::Four { digits, .. } if !digits.is_exact() => {
                u32::try_from(year.unsigned_abs()).is_ok_and(|y| digits.fits(y))
            }
            _ => true,
        };
        fits && (first..=last).contains(&year)
    }
}

/// `number` times ten to the `exponent`; `None` beyond an i64.
pub(super) fn scaled(number: u64, exponent: Option<u32>) -> Option<i64> {
    let power = 10_i64.checked_pow(exponent.unwrap_or(0))?;
    i64::try_from(number).ok()?.checked_mul(power)
}

/// All numbers that agree with `number` in its first `count` digits.
fn significant(number: i64, count: u32) -> (i64, i64) {
    let digits = number.checked_ilog10().map_or(1, |log| log + 1);
    let step = 10_i64
        .checked_pow(digits.saturating_sub(count))
        .unwrap_or(i64::MAX);
    let least = number - number % step;
    (least, least.saturating_add(step - 1))
}

impl Date {
    /// First day admitted.
    pub fn earliest(&self) -> Day {
        self.any_day(Search::Forward)
            .unwrap_or_else(|| Day::first_of_year(self.year.range().0))
    }

    /// Last day admitted.
    pub fn latest(&self) -> Day {
        self.any_day(Search::Backward)
            .unwrap_or_else(|| Day::last_of_year(self.year.range().1))
    }

    /// The first day found from one end; `None` where the calendar has none that fits.
    pub(super) fn any_day(&self, search: Search) -> Option<Day> {
        let (first, last) = self.year.range();
        let month = match self.within {
            None => return Some(search.of(Day::first_of_year(first), Day::last_of_year(last))),
            Some(Within::Season(season)) => {
                return Some(search.of(season_begin(season, first), season_end(season, last)));
            }
            Some(Within::Month(month)) => month,
        };
        let in_year = |year: i64| {
            search
                .over(1, 12)
                .filter(|m| month.fits(*m as u32))
                .find_map(|m| self.day_of_month(year, m as u8, search))
        };
        search
            .over(first, last)
            .filter(|year| self.year.fits(*year))
            .find_map(in_year)
    }

    fn day_of_month(&self, year: i64, month: u8, search: Search) -> Option<Day> {
        let begin = Day::new(year, month, 1)?;
        let Some(mask) = self.day else {
            return Some(search.of(begin, begin.month_end()));
        };
        let mut days = search.over(1, begin.month_end().day().into());
        let day = days.find(|d| Mask::fits(&mask, *d as u32))?;
        Day::new(year, month, day as u8)
    }
}

/// From which end to look.
#[derive(Debug, Clone, Copy)]
pub(super) enum Search {
    Forward,
    Backward,
}

impl Search {
    fn of(self, first: Day, last: Day) -> Day {
        match self {
            Self::Forward => first,
            Self::Backward => last,
        }
    }

    fn over(self, first: i64, last: i64) -> Box<dyn Iterator<Item = i64>> {
        match self {
            Self::Forward => Box::new(first..=last),
            Self::Backward => Box::new((first..=last).rev()),
        }
    }
}

/// Months that a code may mean, counted from January of its year: 0 is December of the year
/// before, 15 March of the year after.
///
/// The standard gives no months for seasons. Here a season runs from the first month by the
/// meteorologists' reckoning to the last by the astronomers', since nobody says which was meant; a
/// winter of the north (a summer of the south) may be named after the year in which it begins or
/// the one in which it ends; and a season without a place may be of either hemisphere.
fn season_months(season: Season) -> (i64, i64) {
    const SPRING_NORTH: (i64, i64) = (3, 6);
    const SUMMER_NORTH: (i64, i64) = (6, 9);
    const AUTUMN_NORTH: (i64, i64) = (9, 12);
    const WINTER_NORTH: (i64, i64) = (0, 15);
    match season.code() {
        21 | 23 => (SPRING_NORTH.0, AUTUMN_NORTH.1),
        22 | 24 => WINTER_NORTH,
        25 | 31 => SPRING_NORTH,
        26 | 32 => SUMMER_NORTH,
        27 | 29 => AUTUMN_NORTH,
        28 | 30 => WINTER_NORTH,
        quarter @ 33..=36 => {
            let first = (quarter as i64 - 33) * 3 + 1;
            (first, first + 2)
        }
        third @ 37..=39 => {
            let first = (third as i64 - 37) * 4 + 1;
            (first, first + 3)
        }
        40 => (1, 6),
        _ => (7, 12),
    }
}

fn month_at(year: i64, month: i64) -> Day {
    let begin = Day::first_of_year(year.saturating_add((month - 1).div_euclid(12)));
    Day::new(begin.year(), (month - 1).rem_euclid(12) as u8 + 1, 1).unwrap_or(begin)
}

fn season_begin(season: Season, year: i64) -> Day {
    month_at(year, season_months(season).0)
}

fn season_end(season: Season, year: i64) -> Day {
    month_at(year, season_months(season).1).month_end()
}
