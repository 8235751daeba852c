//! `date`: the answer, its reasons, contradictions, exit codes.

use serde_json::json;

use crate::support::Tool;

fn date<const N: usize>(words: [&str; N]) -> Tool {
    Tool::new().args(["date"]).args(words)
}

#[test]
fn the_answer_comes_with_its_reasons() {
    let words = [
        "--clue",
        "used=1921/1935",
        "--clue",
        "line=late 1920s",
        "--clue",
        "country-wording=Made in Ardmoria",
        "--clue",
        "absence=country name",
    ];
    date(words)
        .stdout("made between 1926 and 1929")
        .stdout("EDTF [1926..1929]")
        .stdout("not before 1926, not after 1929; sets beginning and end")
        .stdout("read as `late {decade}`")
        .stdout("Merchandise Marks Act 1887")
        .stdout("bounds nothing")
        .exit(0);
}

#[test]
fn a_contradiction_is_an_answer() {
    let words = [
        "--clue",
        "used=1921/1935",
        "--clue",
        "patent=1940",
        "--clue",
        "line=1920/1950",
    ];
    date(words)
        .stdout("no date: these clues cannot all be true")
        .stdout("used=1921/1935 is not after 1935, and patent=1940 is not before 1940")
        .stdout("without patent=1940 the others agree: made between 1921 and 1935")
        .exit(0);
}

#[test]
fn what_is_only_probable_stands_apart() {
    date(["--clue", "used=1921/1935", "--probably", "code=1931"])
        .stdout("made between 1921 and 1935")
        .stdout("it does not count: if it holds, made in 1931")
        .exit(0);
    date(["--probably", "code=1931"]).stdout("no date").exit(0);
}

#[test]
fn json_has_the_same_in_fields() {
    let words = [
        "--clue",
        "rd-number=Rd No 630190",
        "--clue",
        "used=1901/1935",
        "--probably",
        "code=1946",
        "--json",
    ];
    let answer = date(words).exit(0).lines().remove(0);
    assert_eq!(answer["schema"], 1);
    assert_eq!(answer["edtf"], "[1914..1935]");
    assert_eq!(answer["earliest"], "1914-01-01");
    assert_eq!(answer["latest"], "1935-12-31");
    assert_eq!(answer["unverified"], true);
    assert_eq!(answer["contradictions"], json!([]));
    assert_eq!(answer["clues"][0]["sources"][0]["state"], "unverified");
    assert_eq!(answer["clues"][0]["latest"], json!(null));
    assert_eq!(answer["clues"][1]["part"], "sets the end");
    assert_eq!(
        answer["apart"][0]["effect"],
        json!({"does": "contradicts", "clues": [1]})
    );

    let words = [
        "--clue",
        "used=1921/1935",
        "--clue",
        "patent=1940",
        "--json",
    ];
    let answer = date(words).exit(0).lines().remove(0);
    assert_eq!(answer["edtf"], json!(null));
    assert_eq!(answer["contradictions"][0]["clues"], json!([0, 1]));
    assert_eq!(answer["without"][0]["clue"], 0);
}

#[test]
fn a_clue_that_cannot_be_read_ends_with_2_and_says_what_to_write() {
    for (clue, told) in [
        ("1921", "write KIND=VALUE"),
        ("usd=1921", "the nearest is `used`"),
        ("used=1931/6/2", "write `1931-06-02`"),
        ("used=yesterday", "late 1920s"),
        ("country-wording=Best china", "no published bound"),
        ("diamond=lozenge", "write its corners"),
    ] {
        date(["--clue", clue]).stderr(told).exit(2);
    }
    date([]).stderr("--clue").exit(2);
    date(["--clue", "used=1921", "--workspace", "nowhere"])
        .stderr("there is no such folder")
        .exit(2);
}

#[test]
fn a_table_of_ones_own_comes_first() {
    let own = "[[phrase]]\nsay = \"before the war\"\nto = \"1941\"\n";
    date(["--workspace", "mine", "--clue", "used=before the war"])
        .file("mine/spoken-dates.toml", own)
        .stdout("EDTF [..1941]")
        .exit(0);
    date(["--workspace", "mine", "--clue", "used=1921"])
        .file(
            "mine/spoken-dates.toml",
            "[[phrase]]\nsay = \"the flood\"\n",
        )
        .stderr("mine/spoken-dates.toml: phrase 1 (`the flood`)")
        .exit(2);
}
