//! `read` from outside: what the program makes of date codes, and that it stays a suggestion.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::support::{Tool, jpeg, slope};

const CODES: &str = "[[scheme]]\nname = \"quarter\"\nplace = \"below\"\n\
                     pattern = \"(?<quarter>[1-4])/(?<year>4[0-9])\"\n\
                     year = { window = [1900, 1999] }\n";

/// A photo of the shipped sale whose piece carries the code `CODE`, and its family.
const PHOTO: &str = "IMG_0034.jpg";
const FAMILY: &str = "varnholt/sun-morning";
const CODE: &str = "7/74";

fn shipped(path: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

/// The family's folder and one photo of the sale.
fn desk() -> Tool {
    let mut tool = Tool::new().photo(PHOTO, shipped(&format!("src/demo/sale/{PHOTO}")));
    for file in ["mark.png", "mark.toml", "codes.toml"] {
        let bytes = shipped(&format!("reference-marks/{FAMILY}/{file}"));
        tool = tool.file(format!("library/{FAMILY}/{file}"), bytes);
    }
    tool
}

#[test]
fn a_code_is_read_shown_and_called_unconfirmed() {
    let ran = desk()
        .args(["read", "--library", "library", "--crop", "code.png"])
        .args([format!("sale/{PHOTO}")])
        .stdout(&format!(
            "({FAMILY}): date code, as the program reads it, unconfirmed"
        ))
        .stdout(&format!("`{CODE}`"))
        .stdout("would mean")
        .stdout("if so: footring confirm")
        .exit(0);
    let crop = image::open(ran.folder.path().join("code.png")).unwrap();
    assert!(crop.width() > crop.height());
}

#[test]
fn the_json_is_that_of_match() {
    let photo = format!("sale/{PHOTO}");
    let read = desk()
        .args(["read", "--library", "library", "--json", &photo])
        .exit(0);
    let matched = desk().matching([&photo]).exit(0);
    assert_eq!(read.stdout, matched.stdout);
    let line = &read.lines()[0];
    let first = line.pointer("/marks/0/dates/0/readings/0").unwrap();
    assert_eq!(first["text"], CODE);
    let sum: f64 = line
        .pointer("/marks/0/dates/0/readings")
        .and_then(Value::as_array)
        .unwrap()
        .iter()
        .map(|r| r["probability"].as_f64().unwrap())
        .sum();
    assert!(sum <= 1.0 + 1e-3, "{sum}");
}

#[test]
fn without_schemes_nothing_is_looked_for() {
    let ran = Tool::new()
        .mark("weir/bell", &slope(1))
        .photo("a.jpg", jpeg(&slope(1)))
        .args(["read", "--library", "library", "sale"])
        .stderr("no family of the library has a scheme of date codes")
        .exit(0);
    assert!(!ran.stdout.contains("unconfirmed"));
    let lines = Tool::new()
        .mark("weir/bell", &slope(1))
        .photo("a.jpg", jpeg(&slope(1)))
        .matching(["sale"])
        .exit(0)
        .lines();
    for mark in lines[0]["marks"].as_array().unwrap() {
        assert_eq!(mark["dates"], Value::Array(Vec::new()));
    }
}

#[test]
fn a_scheme_that_cannot_be_read_is_told_and_the_rest_goes_on() {
    Tool::new()
        .mark("weir/bell", &slope(1))
        .file(
            "library/weir/codes.toml",
            CODES.replace("(?<quarter>", "(?<quarter"),
        )
        .photo("a.jpg", jpeg(&slope(1)))
        .args(["read", "--library", "library", "sale"])
        .stderr("codes.toml")
        .exit(1);
}
