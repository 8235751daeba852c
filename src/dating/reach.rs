//! How far a date reaches once its signs of doubt are taken at their word.

use super::edtf::{Choice, Date, Doubt, End, Expression, Interval, Member, Set};
use super::{Day, Span};

/// Years by which `~` widens a date at either end. A clue that is cut too short contradicts a true
/// one; five years is what the trade's "circa" commonly allows for (common practice).
pub const APPROXIMATE_YEARS: i64 = 5;
/// Years by which `?` widens a date at either end. The source may be wrong by any amount; the same
/// five years keep a doubtful clue of use without letting it overrule a sure one (our choice).
/// `%` widens by both.
pub const UNCERTAIN_YEARS: i64 = 5;

/// The days that an expression admits, widened where it is in doubt: doubt about the year by
/// [`APPROXIMATE_YEARS`] and [`UNCERTAIN_YEARS`], about the month alone to the whole year, about
/// the day alone to the whole month. A set counts from its first day to its last.
pub fn reach(expression: &Expression) -> Span {
    match expression {
        Expression::Date(date) => of_date(date),
        Expression::DateTime(time) => of_date(&time.date),
        Expression::Interval(Interval { start, end }) => Span {
            not_before: of_end(start).and_then(|s| s.not_before),
            not_after: of_end(end).and_then(|s| s.not_after),
        },
        Expression::Set(Set { members, .. }) => members
            .iter()
            .map(of_member)
            .reduce(Span::or)
            .unwrap_or(Span::ALWAYS),
    }
}

/// Whether doubt about any part widens the expression.
pub fn is_doubtful(expression: &Expression) -> bool {
    reach(expression) != expression.span()
}

/// Whether a set leaves out days between its first and its last.
pub fn has_gaps(expression: &Expression) -> bool {
    matches!(expression, Expression::Set(Set { choice: Choice::OneOf, members }) if members.len() > 1)
}

fn of_end(end: &End) -> Option<Span> {
    match end {
        End::Date(date) => Some(of_date(date)),
        End::Open | End::Unknown => None,
    }
}

fn of_member(member: &Member) -> Span {
    match member {
        Member::Single(date) => of_date(date),
        Member::Range(first, last) => of_date(first).or(of_date(last)),
        Member::UpTo(date) => Span {
            not_before: None,
            ..of_date(date)
        },
        Member::From(date) => Span {
            not_after: None,
            ..of_date(date)
        },
    }
}

fn of_date(date: &Date) -> Span {
    let (first, last) = (date.earliest(), date.latest());
    let years = widening(date.year_doubt());
    let (first, last) = if years > 0 {
        (first.years_later(-years), last.years_later(years))
    } else if !date.within_doubt().is_none() {
        let (first, last) = (first.year(), last.year());
        (Day::first_of_year(first), Day::last_of_year(last))
    } else if !date.day_doubt().is_none() {
        (first.month_begin(), last.month_end())
    } else {
        (first, last)
    };
    Span {
        not_before: Some(first),
        not_after: Some(last),
    }
}

fn widening(doubt: Doubt) -> i64 {
    let of = |doubted: bool, years: i64| if doubted { years } else { 0 };
    of(doubt.approximate, APPROXIMATE_YEARS) + of(doubt.uncertain, UNCERTAIN_YEARS)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn reach_of(text: &str) -> String {
        let span = reach(&Expression::parse(text).unwrap());
        let day = |d: Option<Day>| d.map_or_else(|| "..".to_owned(), |d| d.to_string());
        format!("{} {}", day(span.not_before), day(span.not_after))
    }

    #[test]
    fn doubt_widens_by_the_constants() {
        for (text, reaches) in [
            ("1930", "1930-01-01 1930-12-31"),
            ("1930~", "1925-01-01 1935-12-31"),
            ("1930?", "1925-01-01 1935-12-31"),
            ("1930%", "1920-01-01 1940-12-31"),
            ("192X~", "1915-01-01 1934-12-31"),
            ("1936-02-29~", "1931-02-28 1941-02-28"),
            ("1930-~06", "1930-01-01 1930-12-31"),
            ("1930-06-?15", "1930-06-01 1930-06-30"),
            ("1925~/1932", "1920-01-01 1932-12-31"),
            ("1925/1932?", "1925-01-01 1937-12-31"),
            ("1925~/..", "1920-01-01 .."),
            ("/1932~", ".. 1937-12-31"),
            ("[1925,1930~..1932]", "1925-01-01 1935-12-31"),
            ("[..1932~]", ".. 1937-12-31"),
            ("{1925..}", "1925-01-01 .."),
        ] {
            assert_eq!(reach_of(text), reaches, "{text}");
        }
    }

    #[test]
    fn doubt_and_gaps_are_told() {
        let parse = |text| Expression::parse(text).unwrap();
        assert!(is_doubtful(&parse("1930~")) && !is_doubtful(&parse("1930")));
        assert!(has_gaps(&parse("[1925,1930]")) && !has_gaps(&parse("[1925..1930]")));
    }
}
