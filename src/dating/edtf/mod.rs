//! The Extended Date/Time Format: reading, writing and the days that an expression admits.
//!
//! ISO 8601-2:2019 as the Library of Congress profiles it (*Extended Date/Time Format (EDTF)
//! Specification*, 4 February 2019), levels 0 to 2. What is read is strict: a space, a lower-case
//! `x` or 30 February is an error that says where and what to write instead.
//!
//! Of two ways to write the same thing, printing takes one: signs of doubt stand behind the part
//! where they cover all that is left of it, `?2004-06-~11` becomes `2004?-06-~11`.

mod bounds;
mod date;
mod error;
mod instead;
mod parse;
mod print;

#[cfg(test)]
mod tests;

pub use bounds::{Bounds, Limit};
pub use date::{Date, DateTime, Doubt, Mask, Season, Sign, Within, Year, Zone};
pub use error::EdtfError;

/// Anything that the format can say.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Expression {
    Date(Date),
    DateTime(DateTime),
    Interval(Interval),
    Set(Set),
}

/// `1964/2008`: starts some time in the first date and ends some time in the second.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Interval {
    pub start: End,
    pub end: End,
}

/// An end of an interval. One of the two is always a date.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum End {
    Date(Date),
    /// `..`: none, or none stated.
    Open,
    /// Empty: there is one, and nobody knows it.
    Unknown,
}

/// `[1667,1670..1672]` or `{1667,1670..1672}`; never empty.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Set {
    pub choice: Choice,
    pub members: Vec<Member>,
}

/// Which members of a set are meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Choice {
    /// Square brackets.
    OneOf,
    /// Curly brackets.
    AllOf,
}

/// A member of a set. `UpTo` stands only in the first place, `From` only in the last.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Member {
    Single(Date),
    /// Both ends included.
    Range(Date, Date),
    /// `..1984`: that date or an earlier one.
    UpTo(Date),
    /// `1984..`: that date or a later one.
    From(Date),
}

impl Expression {
    /// Reads an expression; nothing but the expression may be in `text`.
    ///
    /// # Errors
    /// Where `text` is not of the format, with the column, what was expected there and, where it
    /// can be guessed, what to write.
    pub fn parse(text: &str) -> Result<Self, EdtfError> {
        parse::expression(text).map_err(|mut error| {
            error.instead = instead::instead_of(text);
            error
        })
    }
}

impl std::str::FromStr for Expression {
    type Err = EdtfError;

    fn from_str(text: &str) -> Result<Self, EdtfError> {
        Self::parse(text)
    }
}

impl From<Date> for Expression {
    fn from(date: Date) -> Self {
        Self::Date(date)
    }
}
