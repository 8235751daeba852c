//! Facts of makers and their lines, by the requests that the desk's pages make.

use std::fs;

use serde_json::{Value, json};

use crate::desk_client::Running;
use crate::support::slope;
use crate::workspace_folder::Folder;

const MAKER: &str = "# mine\nnames = [\"Mill Lane\"] # as stamped\nkiln = 3\n";

fn workspace() -> Folder {
    let folder = Folder::new();
    let place = "line = \"harebell\"\n[[image]]\nfile = \"exemplar.jpg\"\nquad = [[4, 4], [40, 4], [40, 40], [4, 40]]\n";
    folder.family("mill-lane/crown", place, &slope(200));
    let maker = folder.desk().join("library/mill-lane");
    fs::write(maker.join("maker.toml"), MAKER).unwrap();
    fs::create_dir(maker.join("lines")).unwrap();
    fs::write(
        maker.join("lines/harebell.toml"),
        "name = \"Harebell\"\nforms = [\"cup\"]\n",
    )
    .unwrap();
    folder
}

/// What the page sends back to tell which state of the file it showed.
fn saw(page: &str) -> String {
    let behind = page.split("data-saw=\"").nth(1).unwrap();
    behind.split('"').next().unwrap().to_owned()
}

fn maker(saw: &str, years: &str) -> Value {
    let works = json!({ "from": null, "cells": { "name": "Upper works", "years": years, "notes": "one\ntwo" } });
    json!({
        "record": "mill-lane", "saw": saw,
        "texts": { "names": "Mill Lane\nMill Lane & Co", "notes": "" },
        "entries": { "plants": [works] },
    })
}

#[test]
fn facts_of_a_maker_are_written_with_comments_kept_and_taken_back() {
    let folder = workspace();
    let desk = Running::start(&folder);
    let file = folder.desk().join("library/mill-lane/maker.toml");
    // From the marks, and from a mark, one comes to its maker and to its line.
    for page in ["/marks", "/marks/mill-lane/crown"] {
        let page = desk.get(page).is(200).text();
        assert!(page.contains("href=\"/makers/mill%2Dlane\""), "{page}");
        assert!(
            page.contains("href=\"/makers/mill%2Dlane/harebell\""),
            "{page}"
        );
    }
    let page = desk.get("/makers/mill-lane").is(200).text();
    assert!(
        page.contains("Harebell") && page.contains("maker.toml"),
        "{page}"
    );
    let told = desk.post("/facts/edit", &maker(&saw(&page), "about 1900"));
    let told = told.is(422).json();
    assert_eq!(told["wrong"][0]["field"], "plants.0.years", "{told}");
    let says = told["wrong"][0]["says"].as_str().unwrap();
    assert!(says.contains("1930~"), "{says}");
    assert_eq!(fs::read_to_string(&file).unwrap(), MAKER);
    desk.post("/facts/edit", &maker(&saw(&page), "1901/1938"))
        .is(200);
    let text = fs::read_to_string(&file).unwrap();
    let wanted = "# mine\nnames = [\"Mill Lane\", \"Mill Lane & Co\"] # as stamped\nkiln = 3\n\n\
        [[plants]]\nname = \"Upper works\"\nyears = \"1901/1938\"\nnotes = [\"one\", \"two\"]\n";
    assert_eq!(text, wanted);
    // A second tab is told, and so is one that was opened before an editor changed the file.
    let late = desk
        .post("/facts/edit", &maker(&saw(&page), "1902"))
        .is(409);
    assert!(
        late.json()["told"]
            .as_str()
            .unwrap()
            .contains("changed elsewhere")
    );
    desk.post("/undo", &json!({})).is(200);
    assert_eq!(fs::read_to_string(&file).unwrap(), MAKER);
    fs::write(&file, format!("# seen\n{MAKER}")).unwrap();
    desk.post("/facts/edit", &maker(&saw(&page), "1902"))
        .is(409);
    // What an editor wrote since the desk was opened is what the page shows.
    fs::write(&file, "names = [\"Mill Street\"]\n").unwrap();
    let page = desk.get("/makers/mill-lane").is(200).text();
    assert!(page.contains("Mill Street"), "{page}");
    fs::write(&file, "names = [\"Mill\n").unwrap();
    let page = desk.get("/makers/mill-lane").is(200).text();
    assert!(
        page.contains("is not TOML") && !page.contains("id=\"edit\""),
        "{page}"
    );
    for bad in ["none", "..", "mill-lane/../../x", ".changes"] {
        let asked =
            json!({ "record": bad, "saw": "none", "texts": { "name": "x" }, "entries": {} });
        assert!(desk.post("/facts/edit", &asked).status >= 400, "{bad}");
    }
    desk.get("/makers/none").is(404);
    desk.get("/makers/..%2f..").is(404);
}

#[test]
fn a_line_is_edited_and_a_new_one_is_made_by_its_name() {
    let folder = workspace();
    let desk = Running::start(&folder);
    let lines = folder.desk().join("library/mill-lane/lines");
    let page = desk.get("/makers/mill-lane/harebell").is(200).text();
    let forms = json!([
        { "from": 0, "cells": { "form": "cup", "marked": "never" } },
        { "from": null, "cells": { "form": "teapot", "borrowed_from": "nowhere" } },
    ]);
    let mut asked = json!({ "record": "mill-lane/harebell", "saw": saw(&page), "texts": { "name": "Harebell", "made": "1928" }, "entries": { "forms": forms } });
    let told = desk.post("/facts/edit", &asked).is(422).json();
    assert_eq!(told["wrong"][0]["field"], "forms.1.borrowed_from", "{told}");
    asked["entries"]["forms"][1]["cells"]["borrowed_from"] = json!("harebell");
    desk.post("/facts/edit", &asked).is(200);
    let text = fs::read_to_string(lines.join("harebell.toml")).unwrap();
    assert!(
        text.contains("{ form = \"cup\", marked = \"never\" }") && text.contains("made = \"1928\""),
        "{text}"
    );
    let page = desk.get("/makers/mill-lane?line=Blue+Fern").is(200).text();
    assert!(
        page.contains("value=\"Blue Fern\"") && page.contains("lines/blue-fern.toml"),
        "{page}"
    );
    let new = json!({ "record": "mill-lane/blue-fern", "saw": saw(&page), "texts": { "name": "Blue Fern" }, "entries": {} });
    desk.post("/facts/edit", &new).is(200);
    // It is there by now, so that it is not made a second time.
    desk.post("/facts/edit", &new).is(409);
    assert!(
        desk.get("/makers/mill-lane")
            .is(200)
            .text()
            .contains("Blue Fern")
    );
    folder
        .run(&["library", "check", "library"])
        .lacks("harebell.toml")
        .lacks("blue-fern");
    desk.post("/undo", &json!({})).is(200);
    assert!(!lines.join("blue-fern.toml").exists());
    desk.post("/undo", &json!({})).is(200);
    let text = fs::read_to_string(lines.join("harebell.toml")).unwrap();
    assert_eq!(text, "name = \"Harebell\"\nforms = [\"cup\"]\n");
}

#[test]
fn what_is_wrong_with_a_marks_facts_is_told_of_the_field() {
    let folder = workspace();
    let desk = Running::start(&folder);
    let page = desk.get("/marks/mill-lane/crown").is(200).text();
    let asked = json!({
        "family": "mill-lane/crown", "saw": saw(&page), "name": " ", "role": "maker", "used": "about 1930", "ink": "",
        "lines": "harebell", "notes": "", "sources": "", "confused": [],
    });
    let told = desk.post("/marks/edit", &asked).is(422).json();
    let fields: Vec<&str> = told["wrong"]
        .as_array()
        .unwrap()
        .iter()
        .map(|w| w["field"].as_str().unwrap())
        .collect();
    assert_eq!(fields, ["name", "used"]);
    // A page opened after an editor changed the file shows what the editor wrote.
    let file = folder.desk().join("library/mill-lane/crown/mark.toml");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("ink = \"violet\"\n{text}")).unwrap();
    let page = desk.get("/marks/mill-lane/crown").is(200).text();
    assert!(page.contains("value=\"violet\""), "{page}");
}
