//! Spans as a person says them, and as the Extended Date/Time Format writes them.

use super::edtf::{Choice, Date, Doubt, Expression, Member, Set};
use super::{Day, Span};

/// Names of the months, from January.
pub const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// `1931`, `August 1946`, `between 1921 and 1935`, `in 1891 or later`; for no limit at all
/// `at any time`.
pub fn say(span: Span) -> String {
    match (span.not_before, span.not_after) {
        (None, None) => "at any time".to_owned(),
        (Some(first), None) => {
            let at = at(Part::of_first(first));
            format!("{at} {} or later", say_first(first))
        }
        (None, Some(last)) => {
            let at = at(Part::of_last(last));
            format!("{at} {} or earlier", say_last(last))
        }
        (Some(first), Some(last)) => {
            let (from, to) = say_ends(first, last);
            match from == to {
                true => format!("{} {from}", at(parts(first, last).0)),
                false => format!("between {from} and {to}"),
            }
        }
    }
}

/// The same of something that went on: `from 1921 to 1935`, `from 1891 on`, `until 1935`.
pub fn say_run(span: Span) -> String {
    match (span.not_before, span.not_after) {
        (Some(first), None) => format!("from {} on", say_first(first)),
        (None, Some(last)) => format!("until {}", say_last(last)),
        (Some(first), Some(last)) => match say_ends(first, last) {
            (from, to) if from == to => say(span),
            (from, to) => format!("from {from} to {to}"),
        },
        (None, None) => say(span),
    }
}

/// The limits of a span: `not before 1921, not after 1935`.
pub fn say_limits(span: Span) -> String {
    let (first, last) = match (span.not_before, span.not_after) {
        (Some(first), Some(last)) => {
            let (from, to) = say_ends(first, last);
            (Some(from), Some(to))
        }
        (first, last) => (first.map(say_first), last.map(say_last)),
    };
    let first = first.map(|d| format!("not before {d}"));
    let last = last.map(|d| format!("not after {d}"));
    match (first, last) {
        (Some(first), Some(last)) => format!("{first}, {last}"),
        (one, other) => one.or(other).unwrap_or_else(|| "bounds nothing".to_owned()),
    }
}

/// A first day, no finer than it needs: 1 January is its year.
pub fn say_first(day: Day) -> String {
    say_part(day, Part::of_first(day))
}

/// A last day, no finer than it needs: 31 December is its year.
pub fn say_last(day: Day) -> String {
    say_part(day, Part::of_last(day))
}

/// Both ends of a span. Within a year both are as fine as the finer one: December 1952 ends with December 1952, and
/// not with 1952.
fn say_ends(first: Day, last: Day) -> (String, String) {
    let (of_first, of_last) = parts(first, last);
    (say_part(first, of_first), say_part(last, of_last))
}

fn parts(first: Day, last: Day) -> (Part, Part) {
    let (of_first, of_last) = (Part::of_first(first), Part::of_last(last));
    match first.year() == last.year() {
        true => (of_first.max(of_last), of_first.max(of_last)),
        false => (of_first, of_last),
    }
}

/// The word before a date: in a year or month, on a day.
fn at(part: Part) -> &'static str {
    match part {
        Part::Year | Part::Month => "in",
        Part::Day => "on",
    }
}

fn say_part(day: Day, part: Part) -> String {
    let month = MONTHS[usize::from(day.month()) - 1];
    match part {
        Part::Year => day.year().to_string(),
        Part::Month => format!("{month} {}", day.year()),
        Part::Day => format!("{} {month} {}", day.day(), day.year()),
    }
}

/// One date that lies somewhere in the span, as the format writes it: `1931`, `1946-08`, `193X`,
/// `[1921..1935]`, `[1921..]`. `None` for a span without limits.
///
/// It is a set with one true member and no interval, as `1921/1935` would say that the making
/// lasted from one year to the other.
pub fn edtf_of(span: Span) -> Option<Expression> {
    doubted_edtf_of(span, Doubt::NONE)
}

/// The same with a sign of doubt on each date.
pub fn doubted_edtf_of(span: Span, doubt: Doubt) -> Option<Expression> {
    let date = |date: Date| date.doubted(doubt);
    let member = match (span.not_before, span.not_after) {
        (None, None) => return None,
        (Some(first), None) => Member::From(date(first_date(first, Part::of_first(first)))),
        (None, Some(last)) => Member::UpTo(date(first_date(last, Part::of_last(last)))),
        (Some(first), Some(last)) => {
            if let Some(single) = single(first, last) {
                return Some(Expression::Date(date(single)));
            }
            let part = Part::of_first(first).max(Part::of_last(last));
            let (first, last) = (first_date(first, part), first_date(last, part));
            Member::Range(date(first), date(last))
        }
    };
    Some(Expression::Set(Set {
        choice: Choice::OneOf,
        members: vec![member],
    }))
}

/// How fine a date must be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Year,
    Month,
    Day,
}

impl Part {
    fn of_first(day: Day) -> Self {
        match (day.is_first_of_year(), day == day.month_begin()) {
            (true, _) => Self::Year,
            (false, true) => Self::Month,
            (false, false) => Self::Day,
        }
    }

    fn of_last(day: Day) -> Self {
        match (day.is_last_of_year(), day.is_last_of_month()) {
            (true, _) => Self::Year,
            (false, true) => Self::Month,
            (false, false) => Self::Day,
        }
    }
}

/// The date that holds a day; a year beyond four digits has no finer one.
fn first_date(day: Day, part: Part) -> Date {
    let finer = match part {
        Part::Year => None,
        Part::Month => Date::of_month(day.year(), day.month()),
        Part::Day => Date::of_day(day.year(), day.month(), day.day()),
    };
    finer.unwrap_or_else(|| Date::of_year(day.year()))
}

/// One date that admits exactly these days, where there is one.
fn single(first: Day, last: Day) -> Option<Date> {
    let year = first.year();
    let candidates = [
        Some(Date::of_year(year)),
        Date::of_month(year, first.month()),
        Date::of_day(year, first.month(), first.day()),
        Date::of_decade(year),
        Date::of_hundred(year),
    ];
    candidates
        .into_iter()
        .flatten()
        .find(|date| date.earliest() == first && date.latest() == last)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn span(first: Option<(i64, u8, u8)>, last: Option<(i64, u8, u8)>) -> Span {
        let day = |(y, m, d)| Day::new(y, m, d).unwrap();
        Span {
            not_before: first.map(day),
            not_after: last.map(day),
        }
    }

    #[test]
    fn spans_are_said_and_written_no_finer_than_needed() {
        for (first, last, said, written) in [
            (Some((1931, 1, 1)), Some((1931, 12, 31)), "in 1931", "1931"),
            (
                Some((1952, 12, 1)),
                Some((1952, 12, 31)),
                "in December 1952",
                "1952-12",
            ),
            (
                Some((1952, 1, 1)),
                Some((1952, 3, 31)),
                "between January 1952 and March 1952",
                "[1952-01..1952-03]",
            ),
            (
                Some((1946, 8, 1)),
                Some((1946, 8, 31)),
                "in August 1946",
                "1946-08",
            ),
            (
                Some((1946, 8, 5)),
                Some((1946, 8, 5)),
                "on 5 August 1946",
                "1946-08-05",
            ),
            (
                Some((1930, 1, 1)),
                Some((1939, 12, 31)),
                "between 1930 and 1939",
                "193X",
            ),
            (
                Some((1900, 1, 1)),
                Some((1999, 12, 31)),
                "between 1900 and 1999",
                "19XX",
            ),
            (
                Some((1921, 1, 1)),
                Some((1935, 12, 31)),
                "between 1921 and 1935",
                "[1921..1935]",
            ),
            (
                Some((1947, 2, 20)),
                Some((1952, 4, 30)),
                "between 20 February 1947 and April 1952",
                "[1947-02-20..1952-04-30]",
            ),
            (
                Some((1891, 3, 1)),
                None,
                "in March 1891 or later",
                "[1891-03..]",
            ),
            (None, Some((1935, 12, 31)), "in 1935 or earlier", "[..1935]"),
        ] {
            let span = span(first, last);
            assert_eq!(say(span), said);
            let expression = edtf_of(span).unwrap();
            assert_eq!(expression.to_string(), written);
            assert_eq!(expression.span(), span, "{written}");
        }
        assert_eq!(edtf_of(Span::ALWAYS), None);
    }

    #[test]
    fn doubt_is_written_on_each_date() {
        let written = |span| {
            doubted_edtf_of(span, Doubt::APPROXIMATE)
                .unwrap()
                .to_string()
        };
        assert_eq!(written(Span::of_years(1926, 1929)), "[1926~..1929~]");
        assert_eq!(written(Span::of_years(1930, 1939)), "193X~");
    }

    #[test]
    fn limits_are_said_apart() {
        assert_eq!(
            say_limits(Span::of_years(1921, 1935)),
            "not before 1921, not after 1935"
        );
        assert_eq!(say_limits(Span::ALWAYS), "bounds nothing");
    }
}
