//! Expressions as the format writes them.

use std::fmt::{self, Write};

use super::date::{Date, DateTime, Doubt, Mask, Sign, Within, Year, Zone};
use super::{Choice, End, Expression, Interval, Member, Set};

impl fmt::Display for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::DateTime(time) => time.fmt(f),
            Self::Interval(Interval { start, end }) => write!(f, "{start}/{end}"),
            Self::Set(set) => set.fmt(f),
        }
    }
}

impl fmt::Display for End {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::Open => f.write_str(".."),
            Self::Unknown => Ok(()),
        }
    }
}

impl fmt::Display for Set {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (open, close) = match self.choice {
            Choice::OneOf => ('[', ']'),
            Choice::AllOf => ('{', '}'),
        };
        f.write_char(open)?;
        for (place, member) in self.members.iter().enumerate() {
            if place > 0 {
                f.write_char(',')?;
            }
            match member {
                Member::Single(date) => date.fmt(f)?,
                Member::Range(first, last) => write!(f, "{first}..{last}")?,
                Member::UpTo(last) => write!(f, "..{last}")?,
                Member::From(first) => write!(f, "{first}..")?,
            }
        }
        f.write_char(close)
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts = [
            Some(self.year.to_string()),
            self.within.map(|w| w.to_string()),
            self.day.map(|d| d.to_string()),
        ];
        let there = parts.iter().flatten().count();
        // A sign behind a part covers all that is left of it: it stands behind the last part of
        // the stretch that shares the year's doubt, and each part after that has its own in front.
        let alike = self.doubts[..there]
            .iter()
            .take_while(|doubt| **doubt == self.doubts[0])
            .count();
        for (place, part) in parts.iter().flatten().enumerate() {
            if place > 0 {
                f.write_char('-')?;
            }
            if place >= alike {
                self.doubts[place].fmt(f)?;
            }
            f.write_str(part)?;
            if place + 1 == alike {
                self.doubts[place].fmt(f)?;
            }
        }
        Ok(())
    }
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match (self.uncertain, self.approximate) {
            (false, false) => "",
            (true, false) => "?",
            (false, true) => "~",
            (true, true) => "%",
        })
    }
}

impl fmt::Display for Year {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (sign, significant) = match self {
            Self::Four {
                sign, significant, ..
            }
            | Self::Long {
                sign, significant, ..
            } => (sign, significant),
        };
        if matches!(self, Self::Long { .. }) {
            f.write_char('Y')?;
        }
        if *sign == Sign::Minus {
            f.write_char('-')?;
        }
        match self {
            Self::Four { digits, .. } => digits.fmt(f)?,
            Self::Long {
                number, exponent, ..
            } => {
                write!(f, "{number}")?;
                if let Some(exponent) = exponent {
                    write!(f, "E{exponent}")?;
                }
            }
        }
        match significant {
            Some(count) => write!(f, "S{count}"),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Within {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Month(month) => month.fmt(f),
            Self::Season(season) => write!(f, "{}", season.code()),
        }
    }
}

impl<const N: usize> fmt::Display for Mask<N> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|digit| match digit {
            Some(digit) => write!(f, "{digit}"),
            None => f.write_char('X'),
        })
    }
}

impl fmt::Display for DateTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            date,
            hour,
            minute,
            second,
            zone,
        } = self;
        write!(f, "{date}T{hour:02}:{minute:02}:{second:02}{zone}")
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let char_of = |sign: &Sign| match sign {
            Sign::Plus => '+',
            Sign::Minus => '-',
        };
        match self {
            Self::Local => Ok(()),
            Self::Utc => f.write_char('Z'),
            Self::Hours { sign, hours } => write!(f, "{}{hours:02}", char_of(sign)),
            Self::HoursAndMinutes {
                sign,
                hours,
                minutes,
            } => write!(f, "{}{hours:02}:{minutes:02}", char_of(sign)),
        }
    }
}
