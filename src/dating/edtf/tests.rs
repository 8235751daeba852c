#![allow(clippy::unwrap_used)]

use proptest::prelude::*;

use super::*;

fn parse(text: &str) -> Expression {
    Expression::parse(text).unwrap_or_else(|e| panic!("{e}"))
}

/// Examples of *Extended Date/Time Format (EDTF) Specification*, Library of Congress, 4 February
/// 2019, in its order. Level 2 leaves out `Y171010000S3`, where the text and the rule it states
/// differ.
const LEVEL_0: &[&str] = &[
    "1985-04-12",
    "1985-04",
    "1985",
    "1985-04-12T23:20:30",
    "1985-04-12T23:20:30Z",
    "1985-04-12T23:20:30-04",
    "1985-04-12T23:20:30+04:30",
    "1964/2008",
    "2004-06/2006-08",
    "2004-02-01/2005-02-08",
    "2004-02-01/2005-02",
    "2004-02-01/2005",
    "2005/2006-02",
];
const LEVEL_1: &[&str] = &[
    "Y170000002",
    "Y-170000002",
    "2001-21",
    "1984?",
    "2004-06~",
    "2004-06-11%",
    "201X",
    "20XX",
    "2004-XX",
    "1985-04-XX",
    "1985-XX-XX",
    "1985-04-12/..",
    "1985-04/..",
    "1985/..",
    "../1985-04-12",
    "../1985-04",
    "../1985",
    "1985-04-12/",
    "1985-04/",
    "1985/",
    "/1985-04-12",
    "/1985-04",
    "/1985",
    "-1985",
];
const LEVEL_2: &[&str] = &[
    "Y-17E7",
    "1950S2",
    "Y3388E2S3",
    "2001-34",
    "[1667,1668,1670..1672]",
    "[..1760-12-03]",
    "[1760-12..]",
    "[1760-01,1760-02,1760-12..]",
    "[1667,1760-12]",
    "[..1984]",
    "{1667,1668,1670..1672}",
    "{1960,1961-12}",
    "{..1984}",
    "2004-06-11%",
    "2004-06~-11",
    "2004?-06-11",
    "2004-%06-11",
    "156X-12-25",
    "15XX-12-25",
    "XXXX-12-XX",
    "1XXX-XX",
    "1XXX-12",
    "1984-1X",
    "2004-06-~01/2004-06-~20",
    "2004-06-XX/2004-07-03",
];

#[test]
fn the_published_examples_read_and_print_as_they_are() {
    for text in [LEVEL_0, LEVEL_1, LEVEL_2].concat() {
        assert_eq!(parse(text).to_string(), text);
    }
}

#[test]
fn of_two_ways_to_write_doubt_one_is_printed() {
    for (text, printed) in [
        ("?2004-06-~11", "2004?-06-~11"),
        ("?1984", "1984?"),
        ("?2004-?06-?11", "2004-06-11?"),
        ("2004?-06-11~", "2004%-~06-~11"),
        ("2004~-?06", "2004~-?06"),
    ] {
        assert_eq!(parse(text).to_string(), printed, "{text}");
        assert_eq!(parse(printed), parse(text), "{text}");
    }
}

#[test]
fn signs_cover_what_the_specification_says() {
    let doubts = |text| match parse(text) {
        Expression::Date(d) => [d.year_doubt(), d.within_doubt(), d.day_doubt()],
        _ => panic!("{text}"),
    };
    let (no, un, ap, both) = (
        Doubt::NONE,
        Doubt::UNCERTAIN,
        Doubt::APPROXIMATE,
        Doubt::BOTH,
    );
    // Behind a part: this part and all left of it. In front of it: this part alone.
    for (text, expected) in [
        ("2004-06-11%", [both, both, both]),
        ("2004-06~-11", [ap, ap, no]),
        ("2004?-06-11", [un, no, no]),
        ("?2004-06-~11", [un, no, ap]),
        ("2004-%06-11", [no, both, no]),
    ] {
        assert_eq!(doubts(text), expected, "{text}");
    }
}

#[test]
fn bounds_are_the_first_and_last_day_admitted() {
    for (text, first, last) in [
        ("1985", "1985-01-01", "1985-12-31"),
        ("2004-02", "2004-02-01", "2004-02-29"),
        ("1985-04-12T23:20:30Z", "1985-04-12", "1985-04-12"),
        ("1964/2008", "1964-01-01", "2008-12-31"),
        ("2004-02-01/2005-02", "2004-02-01", "2005-02-28"),
        ("201X", "2010-01-01", "2019-12-31"),
        ("20XX", "2000-01-01", "2099-12-31"),
        ("1985-XX-XX", "1985-01-01", "1985-12-31"),
        ("1985-02-XX", "1985-02-01", "1985-02-28"),
        ("1984-1X", "1984-10-01", "1984-12-31"),
        ("156X-12-25", "1560-12-25", "1569-12-25"),
        ("193X-02-29", "1932-02-29", "1936-02-29"),
        ("XXXX-12-XX", "0000-12-01", "9999-12-31"),
        ("1930-04-3X", "1930-04-30", "1930-04-30"),
        ("-1985", "-1985-01-01", "-1985-12-31"),
        ("-000X", "-0009-01-01", "-0001-12-31"),
        ("-01XX", "-0199-01-01", "-0100-12-31"),
        ("Y-17E7", "-170000000-01-01", "-170000000-12-31"),
        ("1950S2", "1900-01-01", "1999-12-31"),
        ("-1950S2", "-1999-01-01", "-1900-12-31"),
        ("0950S2", "0950-01-01", "0959-12-31"),
        ("Y3388E2S3", "+338000-01-01", "+338999-12-31"),
        ("2001-25", "2001-03-01", "2001-06-30"),
        ("2001-28", "2000-12-01", "2002-03-31"),
        ("2001-34", "2001-04-01", "2001-06-30"),
        ("2001-39", "2001-09-01", "2001-12-31"),
        ("2001-41", "2001-07-01", "2001-12-31"),
        ("1985/..", "1985-01-01", "open"),
        ("1985/", "1985-01-01", "unknown"),
        ("../1985", "open", "1985-12-31"),
        ("/1985", "unknown", "1985-12-31"),
        ("[1667,1668,1670..1672]", "1667-01-01", "1672-12-31"),
        ("[1667,1660-12]", "1660-12-01", "1667-12-31"),
        ("{..1984}", "open", "1984-12-31"),
        ("[1760-01,1760-12..]", "1760-01-01", "open"),
        ("1984?", "1984-01-01", "1984-12-31"),
    ] {
        let bounds = parse(text).bounds();
        let told = |limit: Limit| match limit {
            Limit::Day(day) => day.to_string(),
            Limit::Open => "open".to_owned(),
            Limit::Unknown => "unknown".to_owned(),
        };
        assert_eq!(told(bounds.earliest), first, "{text}");
        assert_eq!(told(bounds.latest), last, "{text}");
    }
}

#[test]
fn what_is_not_of_the_format_says_where_and_what() {
    for (text, column, expected) in [
        ("", 1, "a year of four digits"),
        ("193", 4, "a year of four digits"),
        ("1930s", 5, "the end of the date"),
        ("19301", 5, "begins with Y"),
        ("Y1985", 2, "has no Y"),
        ("Y17E7-12-26", 6, "stands alone"),
        ("1950S2-04", 7, "stands alone"),
        ("1950S5", 6, "from 1 to all of them"),
        ("2016-13-08", 6, "a month from 01 to 12"),
        ("2016-2X", 6, "a month from 01 to 12"),
        ("2016-02-39", 9, "a day that this month has"),
        ("1995-02-29", 9, "a day that this month has"),
        ("XXXX-02-30", 9, "a day that this month has"),
        ("-0000-01-01", 1, "the year 0 has no sign"),
        ("2004-(06)?-11", 6, "a month"),
        ("2001-21-05", 8, "a season has no days"),
        ("1985-04-12T24:00:00", 12, "an hour"),
        ("1985-04-1XT23:20:30", 11, "an exact day"),
        ("1985-04-12T23:20", 17, "hh:mm:ss"),
        ("1985-04-12T23:20:30 ", 20, "Z, or a shift"),
        ("1990/1980", 6, "not before the first"),
        ("[1672..1670]", 8, "not before the first"),
        ("/", 2, "a date at one end"),
        ("../..", 4, "a date at one end"),
        ("1/2", 2, "a year of four digits"),
        ("1931/1932/1933", 10, "the end of the date"),
        ("[1667, 1668]", 7, "a year of four digits"),
        ("[1667", 6, "the closing bracket"),
        ("[1667..,1668]", 9, "stands first"),
        ("[1667,..1668]", 7, "stands first"),
        ("[]", 2, "a year of four digits"),
        ("1984?~", 6, "the end of the date"),
        ("1985-é4", 6, "a month"),
        ("é1985", 1, "a year of four digits"),
        ("Y99999999999999999999", 2, "a number below"),
        ("Y17E99", 2, "a year below"),
    ] {
        let error = Expression::parse(text).unwrap_err();
        assert_eq!(error.column, column, "{error}");
        assert!(error.expected.contains(expected), "{error}");
    }
}

#[test]
fn common_slips_say_what_to_write() {
    for (text, instead) in [
        ("1930s", Some("193X")),
        ("1900s", Some("19XX")),
        ("193x", Some("193X")),
        ("193u", Some("193X")),
        ("19uu", Some("19XX")),
        ("c. 1930", Some("1930~")),
        ("circa 1930", Some("1930~")),
        ("c. 1930s", Some("193X~")),
        ("1984?~", Some("1984%")),
        ("1930/open", Some("1930/..")),
        ("unknown/1930", Some("/1930")),
        ("1930-1935", Some("1930/1935")),
        ("1930–1935", Some("1930/1935")),
        ("1914-18", Some("1914/1918")),
        ("1930-", Some("1930/..")),
        ("1931-6-2", Some("1931-06-02")),
        ("193106", Some("1931-06")),
        ("19310615", Some("1931-06-15")),
        ("17000", Some("Y17000")),
        ("Y1985", Some("1985")),
        ("[1667, 1668]", Some("[1667,1668]")),
        ("1930 or 1931", Some("[1930,1931]")),
        (" 1930", Some("1930")),
        ("thirties", None),
        ("", None),
        ("1995-02-29", None),
    ] {
        let error = Expression::parse(text).unwrap_err();
        assert_eq!(error.instead.as_deref(), instead, "{error}");
    }
    assert_eq!(
        Expression::parse("1930s").unwrap_err().to_string(),
        "`1930s`, column 5: `s` where the end of the date belongs; write `193X`"
    );
    assert_eq!(
        Expression::parse("1995-02-29").unwrap_err().to_string(),
        "`1995-02-29`, column 9: `29` where a day that this month has belongs"
    );
}

#[test]
fn dates_are_made_without_text() {
    let printed = |date: Option<Date>| date.map_or_else(|| "none".to_owned(), |d| d.to_string());
    assert_eq!(Date::of_year(1946).to_string(), "1946");
    assert_eq!(Date::of_year(-44).to_string(), "-0044");
    assert_eq!(Date::of_year(17_000).to_string(), "Y17000");
    assert_eq!(printed(Date::of_month(1946, 8)), "1946-08");
    assert_eq!(printed(Date::of_month(1946, 13)), "none");
    assert_eq!(printed(Date::of_day(1946, 2, 29)), "none");
    assert_eq!(printed(Date::of_day(1946, 2, 28)), "1946-02-28");
    assert_eq!(printed(Date::of_quarter(1946, 2)), "1946-34");
    assert_eq!(printed(Date::of_decade(1940)), "194X");
    assert_eq!(printed(Date::of_decade(1941)), "none");
    assert_eq!(printed(Date::of_hundred(1900)), "19XX");
    let doubted = Date::of_month(1946, 8).map(|d| d.doubted(Doubt::APPROXIMATE));
    assert_eq!(printed(doubted), "1946-08~");
}

/// Texts that are mostly of the format.
fn texts() -> impl Strategy<Value = String> {
    let date = "[?~%]?(-?[0-2X][0-9X]{3}(S[1-5])?|Y-?[1-9][0-9]{3,6}(E[0-4])?(S[1-4])?)[?~%]?\
                (-[?~%]?[0-4X][0-9X][?~%]?(-[?~%]?[0-3X][0-9X][?~%]?)?)?";
    let interval = format!("({date}|\\.\\.)?/({date}|\\.\\.)?");
    let set = format!("\\[(\\.\\.)?{date}(,{date}(\\.\\.{date})?){{0,2}}(\\.\\.)?\\]");
    let strategy = |pattern: &str| proptest::string::string_regex(pattern).unwrap();
    prop_oneof![strategy(date), strategy(&interval), strategy(&set)]
}

proptest! {
    #[test]
    fn what_is_printed_reads_back(text in texts()) {
        if let Ok(read) = Expression::parse(&text) {
            let printed = read.to_string();
            let again = Expression::parse(&printed);
            prop_assert_eq!(again.as_ref(), Ok(&read), "{} {}", text, printed);
        }
    }

    #[test]
    fn the_first_day_is_never_after_the_last(text in texts()) {
        if let Ok(read) = Expression::parse(&text) {
            let bounds = read.bounds();
            if let (Some(first), Some(last)) = (bounds.earliest.day(), bounds.latest.day()) {
                prop_assert!(first <= last, "{}", text);
            }
        }
    }

    #[test]
    fn any_text_gets_an_answer(text in ".{0,12}") {
        if let Err(error) = Expression::parse(&text) {
            prop_assert!(error.column <= text.chars().count() + 1);
        }
    }
}
