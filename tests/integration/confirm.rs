//! `confirm` from outside: what a person says of a date code is kept, and what it means is told.

use std::fs;

use footring::answer::Verdict;

use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

const CODES: &str = r#"
[[scheme]]
name = "month letter and year"
pattern = "(?<month>[A-HJ-M])(?<year>[0-9]{2})"
month = { letters = "ABCDEFGHJKLM" }
year = { window = [1930, 1969] }
valid = "1946/1958"

[[scheme]]
name = "plant and quarter"
family = "crown"
pattern = "(?<plant>[A-C])(?<year>[0-9])(?<quarter>[1-4])"
year = { window = [1940, 1949] }
verified = false
"#;

/// A lot with a photo of one mark and a photo of two; the maker `mill-lane` has schemes.
fn lot() -> Folder {
    let folder = Folder::new();
    let crown = folder.family("mill-lane/crown", "", &slope(9));
    let bell = folder.family("weir/bell", "", &slope(8));
    fs::write(folder.desk().join("library/mill-lane/codes.toml"), CODES).unwrap();
    let one = folder.photo("one.jpg", &jpeg(&slope(2)));
    let two = folder.photo("two.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    let both = [("mill-lane/crown", 0.9, &crown), ("weir/bell", 0.05, &bell)];
    folder.plant(&one, vec![mark(Verdict::Named, 0.0, &both)], &slope(2));
    let marks = vec![
        mark(Verdict::Named, 0.0, &both),
        mark(Verdict::Named, 300.0, &both[1..]),
    ];
    folder.plant(&two, marks, &slope(1));
    folder
}

#[test]
fn a_code_is_kept_as_typed_and_its_meanings_are_told() {
    let folder = lot();
    folder
        .run(&["confirm", "one.jpg", "--code", " f 52 ", "--probably"])
        .exit(0)
        .has("one.jpg, mark 1: probably code `f 52`: 1952-06 (number 1)")
        .lacks("warning");
    assert!(
        folder
            .journal()
            .contains(r#""kind":"date-code","value":"f 52""#)
    );
    folder
        .run(&["confirm", "one.jpg", "--code", "C52"])
        .exit(0)
        .has("1952-03 by `month letter and year`; or 1945-34 by `plant and quarter` (unverified)")
        .has("in place of probably code `f 52` (number 2)");
    folder
        .run(&["confirm", "one.jpg", "--code", "C52"])
        .exit(0)
        .has("as confirmed before (number 2)");
    folder
        .run(&["confirm", "one.jpg", "--code", "C62"])
        .exit(0)
        .has("a time outside the scheme's years");
}

#[test]
fn what_speaks_against_a_code_is_told_and_the_code_is_kept() {
    let folder = lot();
    let crown = folder.desk().join("library/mill-lane/crown/mark.toml");
    fs::write(crown, "name = \"Crown\"\nused = \"1953/..\"\n").unwrap();
    folder
        .run(&["confirm", "one.jpg", "--code", "F52"])
        .exit(0)
        .has("`F52`: before this stamp was used (1953)")
        .has("one.jpg, mark 1: code `F52`: 1952-06 (number 1)");
    folder
        .run(&["confirm", "one.jpg", "--code", "F54"])
        .exit(0)
        .lacks("before this stamp");
}

#[test]
fn a_code_that_no_scheme_knows_is_kept_with_a_warning() {
    let folder = lot();
    folder
        .run(&["confirm", "one.jpg", "--code", "-Ω9"])
        .exit(0)
        .has("`-Ω9` is kept as typed: it fits no scheme of codes of `mill-lane/crown`")
        .has("accepted: `A46` (month letter and year)")
        .has("one.jpg, mark 1: code `-Ω9` (number 1)");
    folder
        .run(&["confirm", "two.jpg", "--mark", "2", "--code", "C52"])
        .exit(0)
        .has("no scheme of codes is known for `weir/bell`")
        .has("`weir/codes.toml`");
    folder
        .run(&["decide", "one.jpg", "--unknown"])
        .exit(0)
        .has("one.jpg, mark 1: not in the library (number 4)");
    folder
        .run(&["confirm", "one.jpg", "--code", "C52"])
        .exit(0)
        .has("the mark's family is not known");
}

#[test]
fn code_and_family_stand_side_by_side_and_history_keeps_all() {
    let folder = lot();
    folder
        .run(&["confirm", "one.jpg", "--none"])
        .exit(0)
        .has("no date code (number 1)");
    folder
        .run(&["decide", "one.jpg", "--family", "weir/bell"])
        .exit(0)
        .has("weir/bell (number 3)");
    folder
        .run(&["confirm", "one.jpg", "--illegible"])
        .exit(0)
        .has("date code not legible, in place of no date code (number 4)");
    folder
        .run(&["report", "Mill fair"])
        .exit(0)
        .has("weir/bell  (your decision of ");
    folder
        .run(&["decide", "one.jpg", "--undo"])
        .exit(0)
        .has("taken back: date code not legible; holds again: no date code");
    let history = folder.run(&["decide", "one.jpg", "--history"]).exit(0).out;
    assert_eq!(history.lines().count(), 5, "{history}");
    assert!(history.contains("no date code  holds"), "{history}");
    assert!(history.contains("weir/bell  holds"), "{history}");
    folder.run(&["rebuild"]).exit(0);
    assert_eq!(
        folder.run(&["decide", "one.jpg", "--history"]).exit(0).out,
        history
    );
}

#[test]
fn what_cannot_be_a_code_is_refused() {
    let folder = lot();
    folder
        .run(&["confirm", "one.jpg", "--code", "  "])
        .exit(2)
        .has("the code is empty")
        .has("`--none` or `--illegible`");
    folder
        .run(&["confirm", "one.jpg", "--code", "A\n52"])
        .exit(2)
        .has("control characters");
    folder
        .run(&["confirm", "one.jpg", "--code", &"1".repeat(61)])
        .exit(2);
    folder.run(&["confirm", "one.jpg"]).exit(2);
    folder
        .run(&["confirm", "one.jpg", "--none", "--illegible"])
        .exit(2);
    folder
        .run(&["confirm", "two.jpg", "--none"])
        .exit(2)
        .has("two.jpg has 2 marks: say which one by `--mark`");
    assert_eq!(folder.journal().matches("\"decision\"").count(), 0);
}

#[test]
fn a_broken_scheme_is_told_by_file_and_line() {
    let folder = lot();
    let path = folder.desk().join("library/mill-lane/crown/codes.toml");
    fs::write(
        path,
        "[[scheme]]\nname = \"old\"\npattern = \"(?<year>[0-9]{2})\"\n",
    )
    .unwrap();
    folder
        .run(&["confirm", "one.jpg", "--code", "F52"])
        .exit(0)
        .has("codes.toml, line 3, column 1, key `year` of the scheme `old`")
        .has("code `F52`: 1952-06");
}
