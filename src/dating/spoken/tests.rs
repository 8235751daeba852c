#![allow(clippy::unwrap_used)]

use super::*;
use crate::dating::reach::reach;

fn meaning(typed: &str) -> String {
    SpokenTable::shipped()
        .understand(typed)
        .map_or_else(|| "nothing".to_owned(), |s| s.meaning.to_string())
}

#[test]
fn what_people_say_of_years() {
    for (typed, means) in [
        ("about 1910", "1910~"),
        ("c. 1910", "1910~"),
        ("c.1910", "1910~"),
        ("c1910", "1910~"),
        ("ca 1910", "1910~"),
        ("Circa  1910", "1910~"),
        ("1910 or so", "1910~"),
        ("probably 1910", "1910?"),
        ("1930 or 1931", "[1930..1931]"),
        ("1921 to 35", "[1921..1935]"),
        ("between 1921 and 1935", "[1921..1935]"),
        ("after 1921", "[1921..]"),
        ("before 1935", "[..1935]"),
        ("pre-1935", "[..1935]"),
        ("late 1931", "1931"),
        ("between 1935 and 1921", "nothing"),
        ("about 19101", "nothing"),
        ("about 191", "nothing"),
        ("about", "nothing"),
        ("", "nothing"),
    ] {
        assert_eq!(meaning(typed), means, "{typed}");
    }
}

#[test]
fn what_people_say_of_decades_and_centuries() {
    for (typed, means) in [
        ("1920s", "192X"),
        ("the 1920's", "192X"),
        ("the ’20s", "192X"),
        ("the twenties", "192X"),
        ("late 1920s", "[1926..1929]"),
        ("The Late 1920s", "[1926..1929]"),
        ("early 1950s", "[1950..1954]"),
        ("mid-1950s", "[1953..1957]"),
        ("first half of the 1950s", "[1950..1954]"),
        ("second half of the fifties", "[1955..1959]"),
        ("1930s or 40s", "[1930..1949]"),
        ("1930s–40s", "[1930..1949]"),
        ("late 1930s to early 40s", "[1936..1944]"),
        ("1930s or 20s", "nothing"),
        ("circa 1920s", "192X~"),
        ("19th century", "[1800..1900]"),
        ("late nineteenth century", "[1860..1900]"),
        ("turn of the 20th century", "[1890..1910]"),
        ("turn of the century", "[1890..1910]"),
        ("second quarter of the 20th century", "[1925..1950]"),
        ("1900s", "19XX"),
        ("early 1900s", "[1900..1939]"),
        ("0th century", "nothing"),
    ] {
        assert_eq!(meaning(typed), means, "{typed}");
    }
}

#[test]
fn times_with_names() {
    for (typed, means) in [
        ("before the war", "[..1939]"),
        ("pre-war", "[..1939]"),
        ("after the war", "[1945..]"),
        ("between the wars", "[1918..1939]"),
        ("mid-century", "[1940..1969]"),
        ("once upon a time", "nothing"),
    ] {
        assert_eq!(meaning(typed), means, "{typed}");
    }
}

#[test]
fn what_was_typed_is_kept() {
    let spoken = SpokenTable::shipped()
        .understand(" The LATE 1920s")
        .unwrap();
    assert_eq!(spoken.typed, " The LATE 1920s");
    assert_eq!(spoken.wording, "late {decade}");
}

#[test]
fn a_table_over_the_shipped_one_overrides_and_adds() {
    let own = r#"
        [decades]
        roaring = 20
        [[phrase]]
        say = "before the war"
        to = "1941"
        [[phrase]]
        say = ["when the {year} kiln burned", "the flood"]
        from = "1932-05"
        to = "1932-06"
        about = true
    "#;
    let table = SpokenTable::shipped().with(own).unwrap();
    let meaning = |typed: &str| table.understand(typed).unwrap().meaning;
    assert_eq!(meaning("before the war").to_string(), "[..1941]");
    assert_eq!(meaning("late roaring").to_string(), "[1926..1929]");
    assert_eq!(meaning("the flood").to_string(), "[1932-05~..1932-06~]");
    assert_eq!(
        reach(&meaning("the flood")).not_before.unwrap().year(),
        1927
    );
    assert_eq!(meaning("after the war").to_string(), "[1945..]");
}

#[test]
fn a_table_that_cannot_be_used_says_why() {
    for (text, told) in [
        ("[[phrase]]\nsay = \"late {decde}\"\nto = 9", "`{decde}`"),
        (
            "[[phrase]]\nsay = \"the flood\"\nto = 9",
            "write a date in quotes",
        ),
        ("[[phrase]]\nsay = \"the flood\"", "neither `from` nor `to`"),
        ("[[phrase]]\nsay = []\nto = \"1932\"", "`say` is empty"),
        ("[[phrase]]\nsay = \"x\"\nto = \"1932s\"", "column 5"),
        (
            "[[phrase]]\nsay = \"x\"\nfrom = \"1940\"\nto = \"1932\"",
            "ends before",
        ),
        ("[[phrase]]\nsay = \"x\"\nuntil = 3", "until"),
        ("[[phrase]]\nsay = \"x\"\nto = true", "a number of years"),
        ("[[phrase]", "not a table of spoken dates"),
    ] {
        let error = SpokenTable::shipped().with(text).unwrap_err().to_string();
        assert!(error.contains(told), "{text}: {error}");
    }
}

#[test]
fn no_shipped_wording_is_hidden_by_an_earlier_one() {
    let table = SpokenTable::shipped();
    for wording in table.wordings() {
        let said = wording
            .replacen("{year}", "1921", 1)
            .replace("{year}", "1935")
            .replacen("{decade}", "1920s", 1)
            .replace("{decade}", "1930s")
            .replace("{hundred}", "1900s")
            .replace("{century}", "19th century");
        let understood = table.understand(&said);
        assert_eq!(
            understood.map(|s| s.wording).as_deref(),
            Some(wording),
            "{said}"
        );
    }
}
