//! Reads expressions, from left to right and without going back.

use super::bounds::{Search, scaled};
use super::date::{Date, DateTime, Doubt, Mask, Season, Sign, Within, Year, Zone};
use super::error::EdtfError;
use super::{Choice, End, Expression, Interval, Member, Set};

type Result<T> = std::result::Result<T, EdtfError>;

const YEAR: &str = "a year of four digits (X for one that is not known)";
const MONTH: &str = "a month from 01 to 12, or a season from 21 to 41";
const DAY: &str = "a day that this month has";
const TO_THE_END: &str = "the end of the date";
const NOT_REVERSED: &str = "a date that is not before the first one";
const CLOCK: &str = "a time of day hh:mm:ss";
const SHIFT: &str = "Z, or a shift such as +01 or +01:30";
const COUNT: &str = "the number of digits that count, from 1 to all of them";

/// Reads a whole text.
pub(super) fn expression(text: &str) -> Result<Expression> {
    let mut reader = Reader { text, at: 0 };
    let read = match reader.peek() {
        Some(b'[' | b'{') => Expression::Set(reader.set()?),
        _ if text.contains('/') => Expression::Interval(reader.interval()?),
        _ => reader.date_or_time()?,
    };
    match reader.peek() {
        None => Ok(read),
        Some(_) => Err(reader.wrong(TO_THE_END)),
    }
}

struct Reader<'t> {
    text: &'t str,
    /// Byte position. Only ASCII is ever passed, so it lies between characters.
    at: usize,
}

impl Reader<'_> {
    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn take(&mut self, wanted: u8) -> bool {
        let there = self.peek() == Some(wanted);
        self.at += usize::from(there);
        there
    }

    fn take_both(&mut self, wanted: &str) -> bool {
        let there = self.text[self.at..].starts_with(wanted);
        self.at += if there { wanted.len() } else { 0 };
        there
    }

    fn expect(&mut self, wanted: u8, expected: &'static str) -> Result<()> {
        match self.take(wanted) {
            true => Ok(()),
            false => Err(self.wrong(expected)),
        }
    }

    /// The character here is wrong.
    fn wrong(&self, expected: &'static str) -> EdtfError {
        let found = self.text[self.at..].chars().next();
        self.error(self.at, found.map(|c| c.to_string()), expected)
    }

    /// What was read since `from` is wrong.
    fn wrong_since(&self, from: usize, expected: &'static str) -> EdtfError {
        self.error(from, Some(self.text[from..self.at].to_owned()), expected)
    }

    fn error(&self, at: usize, found: Option<String>, expected: &'static str) -> EdtfError {
        EdtfError {
            text: self.text.to_owned(),
            column: self.text[..at].chars().count() + 1,
            found,
            expected,
            instead: None,
        }
    }

    fn doubt(&mut self) -> Doubt {
        let doubt = match self.peek() {
            Some(b'?') => Doubt::UNCERTAIN,
            Some(b'~') => Doubt::APPROXIMATE,
            Some(b'%') => Doubt::BOTH,
            _ => return Doubt::NONE,
        };
        self.at += 1;
        doubt
    }

    fn sign(&mut self) -> Sign {
        match self.take(b'-') {
            true => Sign::Minus,
            false => Sign::Plus,
        }
    }

    /// `N` digits, some of them perhaps unspecified.
    fn mask<const N: usize>(&mut self, expected: &'static str) -> Result<Mask<N>> {
        let mut digits = [None; N];
        for digit in &mut digits {
            *digit = match self.peek() {
                Some(b @ b'0'..=b'9') => Some(b - b'0'),
                Some(b'X') => None,
                _ => return Err(self.wrong(expected)),
            };
            self.at += 1;
        }
        Ok(Mask(digits))
    }

    /// Two digits from `0` to `most`.
    fn two_digits(&mut self, most: u8, expected: &'static str) -> Result<u8> {
        let from = self.at;
        let number = self.mask::<2>(expected)?.value();
        number
            .and_then(|n| u8::try_from(n).ok())
            .filter(|n| *n <= most)
            .ok_or_else(|| self.wrong_since(from, expected))
    }

    /// A number of any length.
    fn number(&mut self, expected: &'static str) -> Result<u64> {
        let from = self.at;
        while self.peek().is_some_and(|b| b.is_ascii_digit()) {
            self.at += 1;
        }
        match self.text[from..self.at].parse() {
            Ok(number) => Ok(number),
            Err(_) if self.at == from => Err(self.wrong(expected)),
            Err(_) => Err(self.wrong_since(from, "a number below ten to the eighteenth")),
        }
    }

    fn date_or_time(&mut self) -> Result<Expression> {
        let date = self.date()?;
        if self.peek() != Some(b'T') {
            return Ok(Expression::Date(date));
        }
        let whole = matches!(date.within, Some(Within::Month(month)) if month.is_exact())
            && date.day.is_some_and(|d| d.is_exact())
            && matches!(date.year, Year::Four { digits, .. } if digits.is_exact())
            && date.doubts.iter().all(|d| d.is_none());
        if !whole {
            return Err(self.wrong("the end of the date (a time stands only behind an exact day)"));
        }
        self.at += 1;
        self.time(date).map(Expression::DateTime)
    }

    fn time(&mut self, date: Date) -> Result<DateTime> {
        let hour = self.two_digits(23, "an hour from 00 to 23")?;
        self.expect(b':', CLOCK)?;
        let minute = self.two_digits(59, "a minute from 00 to 59")?;
        self.expect(b':', CLOCK)?;
        // A leap second is added at the end of a minute 59 by Greenwich, 29 or 44 on some clocks.
        let second = self.two_digits(60, "a second from 00 to 59 (60 for a leap second)")?;
        Ok(DateTime {
            date,
            hour,
            minute,
            second,
            zone: self.zone()?,
        })
    }

    fn zone(&mut self) -> Result<Zone> {
        let sign = match self.peek() {
            None => return Ok(Zone::Local),
            Some(b'Z') => {
                self.at += 1;
                return Ok(Zone::Utc);
            }
            Some(b'+') => Sign::Plus,
            Some(b'-') => Sign::Minus,
            Some(_) => return Err(self.wrong(SHIFT)),
        };
        self.at += 1;
        let hours = self.two_digits(23, SHIFT)?;
        if !self.take(b':') {
            return Ok(Zone::Hours { sign, hours });
        }
        Ok(Zone::HoursAndMinutes {
            sign,
            hours,
            minutes: self.two_digits(59, SHIFT)?,
        })
    }

    fn interval(&mut self) -> Result<Interval> {
        let start = self.end(b"/")?;
        self.expect(b'/', "the `/` between start and end")?;
        let from = self.at;
        let end = self.end(b"")?;
        match (&start, &end) {
            (End::Date(first), End::Date(last)) if first.earliest() > last.latest() => {
                Err(self.wrong_since(from, NOT_REVERSED))
            }
            (End::Date(_), _) | (_, End::Date(_)) => Ok(Interval { start, end }),
            _ => Err(self.error(from, None, "a date at one end at least")),
        }
    }

    /// An end of an interval; `next` is what follows it.
    fn end(&mut self, next: &[u8]) -> Result<End> {
        if self.take_both("..") {
            return Ok(End::Open);
        }
        if self.peek() == next.first().copied() {
            return Ok(End::Unknown);
        }
        self.date().map(End::Date)
    }

    fn set(&mut self) -> Result<Set> {
        let (choice, close) = match self.take(b'[') {
            true => (Choice::OneOf, b']'),
            false => {
                self.at += 1;
                (Choice::AllOf, b'}')
            }
        };
        let mut members = Vec::new();
        loop {
            let from = self.at;
            let member = self.member()?;
            let closes_early = matches!(members.last(), Some(Member::From(_)));
            if closes_early || matches!(member, Member::UpTo(_)) && !members.is_empty() {
                let expected = "a date (`..1930` stands first in a set, `1930..` last)";
                return Err(self.wrong_since(from, expected));
            }
            members.push(member);
            if self.take(close) {
                return Ok(Set { choice, members });
            }
            self.expect(b',', "`,` or the closing bracket (no spaces)")?;
        }
    }

    fn member(&mut self) -> Result<Member> {
        if self.take_both("..") {
            return self.date().map(Member::UpTo);
        }
        let first = self.date()?;
        if !self.take_both("..") {
            return Ok(Member::Single(first));
        }
        if matches!(self.peek(), Some(b',' | b']' | b'}')) {
            return Ok(Member::From(first));
        }
        let from = self.at;
        let last = self.date()?;
        match first.earliest() > last.latest() {
            true => Err(self.wrong_since(from, NOT_REVERSED)),
            false => Ok(Member::Range(first, last)),
        }
    }

    fn date(&mut self) -> Result<Date> {
        let mut doubts = [self.doubt(), Doubt::NONE, Doubt::NONE];
        let year = self.year()?;
        self.doubt_behind(&mut doubts, 0);
        let mut date = Date {
            year,
            within: None,
            day: None,
            doubts,
        };
        if self.peek() != Some(b'-') {
            return Ok(date);
        }
        if !matches!(
            year,
            Year::Four {
                significant: None,
                ..
            }
        ) {
            return Err(self.wrong("the end of the date (a year with Y or S stands alone)"));
        }
        self.at += 1;
        date.doubts[1] = self.doubt();
        date.within = Some(self.within()?);
        self.doubt_behind(&mut date.doubts, 1);
        if self.peek() == Some(b'-') {
            if matches!(date.within, Some(Within::Season(_))) {
                return Err(self.wrong("the end of the date (a season has no days)"));
            }
            self.at += 1;
            date.doubts[2] = self.doubt();
            let from = self.at;
            date.day = Some(self.mask(DAY)?);
            if date.any_day(Search::Forward).is_none() {
                return Err(self.wrong_since(from, DAY));
            }
            self.doubt_behind(&mut date.doubts, 2);
        }
        Ok(date)
    }

    /// A sign behind a part: of this part and of all to the left of it.
    fn doubt_behind(&mut self, doubts: &mut [Doubt; 3], part: usize) {
        let doubt = self.doubt();
        for covered in &mut doubts[..=part] {
            *covered = covered.and(doubt);
        }
    }

    fn within(&mut self) -> Result<Within> {
        let from = self.at;
        let mask: Mask<2> = self.mask(MONTH)?;
        let season = mask.value().and_then(|code| Season::new(code as u8));
        if let Some(season) = season {
            return Ok(Within::Season(season));
        }
        match (1..=12).any(|month| mask.fits(month)) {
            true => Ok(Within::Month(mask)),
            false => Err(self.wrong_since(from, MONTH)),
        }
    }

    fn year(&mut self) -> Result<Year> {
        if self.take(b'Y') {
            return self.long_year();
        }
        let from = self.at;
        let sign = self.sign();
        let digits: Mask<4> = self.mask(YEAR)?;
        if sign == Sign::Minus && digits.most() == 0 {
            return Err(self.wrong_since(from, "a year (the year 0 has no sign)"));
        }
        if matches!(self.peek(), Some(b'0'..=b'9')) {
            let expected = "`-` or the end of the date (a longer year begins with Y)";
            return Err(self.wrong(expected));
        }
        let significant = match digits.is_exact() {
            true => self.significant(4)?,
            false => None,
        };
        Ok(Year::Four {
            sign,
            digits,
            significant,
        })
    }

    fn long_year(&mut self) -> Result<Year> {
        let sign = self.sign();
        let from = self.at;
        let number = self.number("a year of more than four digits")?;
        let exponent = match self.take(b'E') {
            true => Some(self.number("an exponent of ten")?),
            false => None,
        };
        let exponent = exponent.map(|e| u32::try_from(e).unwrap_or(u32::MAX));
        let Some(year) = scaled(number, exponent) else {
            return Err(self.wrong_since(from, "a year below ten to the eighteenth"));
        };
        if year <= 9999 {
            let expected = "a year of more than four digits (a shorter one has no Y)";
            return Err(self.wrong_since(from, expected));
        }
        let significant = self.significant(year.ilog10() + 1)?;
        Ok(Year::Long {
            sign,
            number,
            exponent,
            significant,
        })
    }

    /// `S2` behind a year of so many digits.
    fn significant(&mut self, digits: u32) -> Result<Option<u32>> {
        if !self.take(b'S') {
            return Ok(None);
        }
        let from = self.at;
        let count = u32::try_from(self.number(COUNT)?).unwrap_or(u32::MAX);
        match (1..=digits).contains(&count) {
            true => Ok(Some(count)),
            false => Err(self.wrong_since(from, COUNT)),
        }
    }
}
