//! A single date and its parts.

/// Doubt about a part of a date.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Doubt {
    /// `?`: the source is in doubt, the part may be another one.
    pub uncertain: bool,
    /// `~`: near that.
    pub approximate: bool,
}

impl Doubt {
    pub const NONE: Self = Self {
        uncertain: false,
        approximate: false,
    };
    pub const UNCERTAIN: Self = Self {
        uncertain: true,
        approximate: false,
    };
    pub const APPROXIMATE: Self = Self {
        uncertain: false,
        approximate: true,
    };
    /// `%`.
    pub const BOTH: Self = Self {
        uncertain: true,
        approximate: true,
    };

    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            uncertain: self.uncertain || other.uncertain,
            approximate: self.approximate || other.approximate,
        }
    }
}

/// Digits of which some may be unspecified (`X`), most significant first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Mask<const N: usize>(pub(super) [Option<u8>; N]);

impl<const N: usize> Mask<N> {
    /// The last `N` digits of `value`.
    pub(super) fn of(mut value: u32) -> Self {
        let mut digits = [None; N];
        for digit in digits.iter_mut().rev() {
            *digit = Some((value % 10) as u8);
            value /= 10;
        }
        Self(digits)
    }

    /// The number, where no digit is unspecified.
    pub fn value(&self) -> Option<u32> {
        self.is_exact().then(|| self.least())
    }

    pub fn is_exact(&self) -> bool {
        self.0.iter().all(Option::is_some)
    }

    /// The number with 0 for every `X`.
    pub fn least(&self) -> u32 {
        self.filled(0)
    }

    /// The number with 9 for every `X`.
    pub fn most(&self) -> u32 {
        self.filled(9)
    }

    /// Whether `value` can be meant.
    pub fn fits(&self, mut value: u32) -> bool {
        for digit in self.0.iter().rev() {
            if digit.is_some_and(|d| u32::from(d) != value % 10) {
                return false;
            }
            value /= 10;
        }
        value == 0
    }

    fn filled(&self, unspecified: u8) -> u32 {
        self.0.iter().fold(0, |number, digit| {
            number * 10 + u32::from(digit.unwrap_or(unspecified))
        })
    }
}

/// Before or after the year 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Sign {
    Plus,
    Minus,
}

/// A year as it is written. `significant` is the number of digits that count (`1950S2`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Year {
    /// Four digits; never with both `X` and `significant`.
    Four {
        sign: Sign,
        digits: Mask<4>,
        significant: Option<u32>,
    },
    /// `Y170000002`, or `Y17E7` for `number` times ten to the `exponent`. It fits an i64.
    Long {
        sign: Sign,
        number: u64,
        exponent: Option<u32>,
        significant: Option<u32>,
    },
}

/// A code from 21 to 41 in the place of the month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Season(u8);

impl Season {
    /// 21 to 24 spring to winter without a place, 25 to 28 of the north, 29 to 32 of the south,
    /// 33 to 36 quarters, 37 to 39 thirds of a year, 40 and 41 its halves.
    pub fn new(code: u8) -> Option<Self> {
        (21..=41).contains(&code).then_some(Self(code))
    }

    pub fn code(self) -> u8 {
        self.0
    }
}

/// What stands behind the year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Within {
    Month(Mask<2>),
    Season(Season),
}

/// A date: a year, or a month, season or day of it.
///
/// The calendar has at least one day that fits, and a day stands only behind a month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Date {
    pub(super) year: Year,
    pub(super) within: Option<Within>,
    pub(super) day: Option<Mask<2>>,
    /// Of year, month or season, and day; none for a part that is not there.
    pub(super) doubts: [Doubt; 3],
}

/// Years that four digits can write.
const FOUR_DIGITS: std::ops::RangeInclusive<i64> = -9999..=9999;

impl Date {
    pub fn of_year(year: i64) -> Self {
        let sign = match year < 0 {
            true => Sign::Minus,
            false => Sign::Plus,
        };
        let number = year.unsigned_abs();
        let year = match u32::try_from(number) {
            Ok(short) if FOUR_DIGITS.contains(&year) => Year::Four {
                sign,
                digits: Mask::of(short),
                significant: None,
            },
            _ => Year::Long {
                sign,
                number,
                exponent: None,
                significant: None,
            },
        };
        Self {
            year,
            within: None,
            day: None,
            doubts: [Doubt::NONE; 3],
        }
    }

    /// `None` where there is no such month, or the year has more than four digits.
    pub fn of_month(year: i64, month: u8) -> Option<Self> {
        let fits = FOUR_DIGITS.contains(&year) && (1..=12).contains(&month);
        fits.then(|| Self {
            within: Some(Within::Month(Mask::of(month.into()))),
            ..Self::of_year(year)
        })
    }

    /// `None` where there is no such day, or the year has more than four digits.
    pub fn of_day(year: i64, month: u8, day: u8) -> Option<Self> {
        let found = crate::dating::Day::new(year, month, day)?;
        Some(Self {
            day: Some(Mask::of(found.day().into())),
            ..Self::of_month(year, month)?
        })
    }

    /// A quarter of a year, from 1. `None` beyond 4, or beyond four digits.
    pub fn of_quarter(year: i64, quarter: u8) -> Option<Self> {
        let fits = FOUR_DIGITS.contains(&year) && (1..=4).contains(&quarter);
        fits.then(|| Self {
            within: Some(Within::Season(Season(32 + quarter))),
            ..Self::of_year(year)
        })
    }

    /// `193X`: some year of the decade that begins with `first`. `None` where `first` begins
    /// none, or is not from 0 to 9990.
    pub fn of_decade(first: i64) -> Option<Self> {
        (first % 10 == 0).then_some(())?;
        Self::masked(first, 1)
    }

    /// `19XX`: some year of the hundred that begins with `first`. `None` where `first` begins
    /// none, or is not from 0 to 9900.
    pub fn of_hundred(first: i64) -> Option<Self> {
        (first % 100 == 0).then_some(())?;
        Self::masked(first, 2)
    }

    fn masked(first: i64, unspecified: usize) -> Option<Self> {
        let mut digits = Mask::<4>::of(u32::try_from(first).ok().filter(|f| *f <= 9999)?);
        digits.0[4 - unspecified..].fill(None);
        Some(Self {
            year: Year::Four {
                sign: Sign::Plus,
                digits,
                significant: None,
            },
            ..Self::of_year(first)
        })
    }

    /// The same date with doubt about all of its parts.
    #[must_use]
    pub fn doubted(mut self, doubt: Doubt) -> Self {
        let parts = 1 + usize::from(self.within.is_some()) + usize::from(self.day.is_some());
        for part in &mut self.doubts[..parts] {
            *part = part.and(doubt);
        }
        self
    }

    pub fn year(&self) -> Year {
        self.year
    }

    pub fn within(&self) -> Option<Within> {
        self.within
    }

    /// Day of the month.
    pub fn day(&self) -> Option<Mask<2>> {
        self.day
    }

    pub fn year_doubt(&self) -> Doubt {
        self.doubts[0]
    }

    /// Of the month or season.
    pub fn within_doubt(&self) -> Doubt {
        self.doubts[1]
    }

    pub fn day_doubt(&self) -> Doubt {
        self.doubts[2]
    }
}

/// A second of a day. The day is exact and beyond doubt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct DateTime {
    pub date: Date,
    pub hour: u8,
    pub minute: u8,
    /// 60 only for a leap second.
    pub second: u8,
    pub zone: Zone,
}

/// Which clock a time of day is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Zone {
    /// Not stated.
    Local,
    /// `Z`.
    Utc,
    /// `-04`.
    Hours { sign: Sign, hours: u8 },
    /// `+04:30`.
    HoursAndMinutes { sign: Sign, hours: u8, minutes: u8 },
}
