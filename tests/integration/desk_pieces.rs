//! Pieces, sets, marks and what is handed out, by the requests that the desk's pages make.

use std::fs;

use footring::answer::Verdict;
use footring::decision::ContentHash;
use serde_json::{Value, json};

use crate::desk_client::Running;
use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

/// A crown, decided, and a bare base, in one lot.
fn lot() -> (Folder, Vec<ContentHash>) {
    let folder = Folder::new();
    let crown = folder.family("mill-lane/crown", "", &slope(200));
    let record = "# mine\nname = \"Crown\" # the ring\nused = \"1931/1935\"\n\
        confused_with = [\"weir/bell\"]\n";
    let place =
        "\n[[image]]\nfile = \"exemplar.jpg\"\nquad = [[4, 4], [40, 4], [40, 40], [4, 40]]\n";
    fs::write(
        folder.desk().join("library/mill-lane/crown/mark.toml"),
        format!("{record}{place}"),
    )
    .unwrap();
    folder.family("weir/bell", place, &slope(201));
    let photos: Vec<ContentHash> = (0..3)
        .map(|n| {
            let bytes = jpeg(&slope(n));
            // Cut-off files are quick to look at; the last one is shown on a page.
            let end = if n == 2 { bytes.len() } else { bytes.len() / 2 };
            folder.photo(format!("{n:03}.jpg"), &bytes[..end])
        })
        .collect();
    folder.intake("Mill fair").exit(1);
    for (n, photo) in photos.iter().enumerate() {
        let own = match n {
            0 => vec![mark(
                Verdict::Named,
                0.0,
                &[("mill-lane/crown", 0.95, &crown)],
            )],
            _ => vec![mark(Verdict::Unknown, 0.0, &[])],
        };
        folder.plant(photo, own, &slope(n as u8));
    }
    folder
        .run(&["decide", "000.jpg", "--family", "mill-lane/crown"])
        .exit(0);
    folder.run(&["decide", "001.jpg", "--no-mark"]).exit(0);
    (folder, photos)
}

fn approve(photos: &[&ContentHash]) -> Value {
    let pieces: Vec<Value> = photos
        .iter()
        .map(|p| {
            let photos = [[p.as_str(), "underside"]];
            json!({ "lot": "Mill fair", "photos": photos, "form": "cup" })
        })
        .collect();
    json!({ "pieces": pieces })
}

fn word(piece: i64, fact: &str, value: Option<&str>, saw: i64) -> Value {
    json!({ "piece": piece, "fact": fact, "value": value, "saw": saw })
}

fn number(changed: &Value) -> i64 {
    changed["done"][0]["number"].as_i64().unwrap()
}

#[test]
fn pieces_are_approved_once_and_taken_back_by_one_key() {
    let (folder, photos) = lot();
    let desk = Running::start(&folder);
    let page = desk.get("/pieces").is(200).text();
    assert_eq!(page.matches("data-photos=").count(), 3);
    let made = desk
        .post("/pieces/approve", &approve(&[&photos[0], &photos[1]]))
        .is(200)
        .json();
    assert_eq!(made["done"].as_array().unwrap().len(), 2);
    assert_eq!(
        desk.get("/pieces")
            .is(200)
            .text()
            .matches("data-photos=")
            .count(),
        1
    );
    // The other tab still shows all three.
    let late = desk
        .post("/pieces/approve", &approve(&[&photos[1], &photos[2]]))
        .is(409)
        .json();
    assert_eq!(late["done"].as_array().unwrap().len(), 1);
    assert!(
        late["refused"][0]["told"]
            .as_str()
            .unwrap()
            .contains("belongs to piece 2 by now")
    );
    desk.post("/undo", &json!({})).is(200);
    desk.post("/undo", &json!({})).is(200);
    folder.run(&["list"]).exit(0).lacks("cup");
    assert_eq!(
        desk.get("/pieces")
            .is(200)
            .text()
            .matches("data-photos=")
            .count(),
        3
    );
    for bad in [
        json!({ "pieces": [] }),
        json!({ "pieces": [{ "lot": "Mill fair", "photos": [] }] }),
        json!({ "pieces": [{ "lot": "Mill fair", "photos": [["../x", "underside"]] }] }),
        json!({ "pieces": [{ "lot": "Mill fair", "photos": [["0".repeat(64), "underside"]] }] }),
        json!({ "pieces": [{ "lot": "None", "photos": [[photos[0].as_str(), "underside"]] }] }),
    ] {
        assert!(desk.post("/pieces/approve", &bad).status >= 400, "{bad}");
    }
}

#[test]
fn a_pair_is_made_the_unmarked_one_takes_its_maker_and_a_second_tab_is_told() {
    let (folder, photos) = lot();
    let desk = Running::start(&folder);
    desk.post("/pieces/approve", &approve(&[&photos[0], &photos[1]]))
        .is(200);
    let pair = json!({ "words": [word(1, "set", Some("tea for two"), 0), word(2, "set", Some("tea for two"), 0)] });
    let made = desk.post("/pieces/say", &pair).is(200).json();
    let page = desk.get("/pieces").is(200).text();
    assert!(page.contains("data-set=\"tea for two\""), "{page}");
    let unmarked = desk.get("/piece/2").is(200).text();
    assert!(unmarked.contains("by its partner, piece 1"), "{unmarked}");
    assert!(unmarked.contains("Not for food or drink until tested"));
    // The chain of reasons of the marked one.
    let marked = desk.get("/piece/1").is(200).text();
    assert!(
        marked.contains("1931") && marked.contains("class=\"part\""),
        "{marked}"
    );
    // The second tab saw no set.
    let late = json!({ "words": [word(2, "set", Some("another"), 0)] });
    let told = desk.post("/pieces/say", &late).is(409).json();
    assert!(
        told["refused"][0]["told"]
            .as_str()
            .unwrap()
            .contains("tea for two"),
        "{told}"
    );
    // With what it was told it may say so, and undo brings the pair back.
    let saw = told["refused"][0]["number"].as_i64().unwrap();
    desk.post(
        "/pieces/say",
        &json!({ "words": [word(2, "set", Some("another"), saw)] }),
    )
    .is(200);
    desk.post("/undo", &json!({})).is(200);
    folder.run(&["sets", "tea for two"]).exit(0).has("piece 2");
    let needs = json!({ "words": [word(1, "set-needs", Some("1 cup, 1 saucer"), 0)] });
    desk.post("/pieces/say", &needs).is(200);
    assert!(
        desk.get("/pieces")
            .is(200)
            .text()
            .contains("lacks 1 saucer")
    );
    let out = json!({ "words": [word(1, "set", None, number(&made))] });
    desk.post("/pieces/say", &out).is(200);
    folder
        .run(&["sets", "tea for two"])
        .exit(0)
        .lacks("piece 1");
}

#[test]
fn an_attribution_is_worded_while_it_is_typed_and_kept_with_its_ground() {
    let (folder, photos) = lot();
    let desk = Running::start(&folder);
    desk.post("/pieces/approve", &approve(&[&photos[1]]))
        .is(200);
    let typed = "/wording?text=judgement%3A%20Mill%20Lane%3A%20the%20foot%20ring&probably=true";
    let says = desk.get(typed).is(200).json();
    assert_eq!(
        says,
        "probably attributed: Mill Lane, by judgement: the foot ring"
    );
    assert_eq!(desk.get("/wording?text=Mill").is(200).json(), "");
    let own = |value: &str, saw: i64| json!({ "words": [word(1, "made-by", Some(value), saw)], "probably": true });
    desk.post("/pieces/say", &own("Mill Lane", 0)).is(422);
    desk.post("/pieces/say", &own("partner 9: Mill Lane", 0))
        .is(422);
    let made = desk
        .post(
            "/pieces/say",
            &own("judgement: Mill Lane: the foot ring", 0),
        )
        .is(200)
        .json();
    let page = desk.get("/piece/1").is(200).text();
    assert!(
        page.contains("probably attributed: Mill Lane, by judgement: the foot ring"),
        "{page}"
    );
    let forget = json!({ "words": [word(1, "made-by", None, number(&made))] });
    desk.post("/pieces/say", &forget).is(200);
    assert!(
        !desk
            .get("/piece/1")
            .is(200)
            .text()
            .contains("the foot ring")
    );
    for bad in [
        json!({ "words": [] }),
        json!({ "words": [word(1, "photos", Some("x"), 0)] }),
        json!({ "words": [word(1, "nothing", Some("x"), 0)] }),
        json!({ "words": [word(99, "form", Some("cup"), 0)] }),
        json!({ "words": [word(1, "size", Some("large"), 0)] }),
    ] {
        assert!(desk.post("/pieces/say", &bad).status >= 400, "{bad}");
    }
    desk.get("/piece/99").is(404);
}

fn facts(saw: &str, used: &str) -> Value {
    json!({
        "family": "mill-lane/crown", "saw": saw, "name": "Crown and ring", "role": "maker", "used": used, "ink": "green",
        "lines": "", "notes": "rare\nlarge", "sources": "",
        "confused": [{ "family": "weir/bell", "tell": "no ring" }],
    })
}

#[test]
fn facts_are_edited_with_comments_kept_and_undo_takes_them_back() {
    let (folder, _) = lot();
    let desk = Running::start(&folder);
    let file = folder.desk().join("library/mill-lane/crown/mark.toml");
    let before = fs::read_to_string(&file).unwrap();
    let page = desk.get("/marks").is(200).text();
    assert!(
        page.contains("/marks/mill%2Dlane/crown") && page.contains("1931/1935"),
        "{page}"
    );
    assert!(
        !desk
            .get("/marks?q=bell")
            .is(200)
            .text()
            .contains("1931/1935")
    );
    assert!(
        desk.get("/marks?q=1931+crown")
            .is(200)
            .text()
            .contains("1931/1935")
    );
    let page = desk.get("/marks/mill-lane/crown").is(200).text();
    let saw = page
        .split("data-saw=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    desk.post("/marks/edit", &facts(saw, "about 1930")).is(422);
    desk.post("/marks/edit", &facts(saw, "1930~")).is(200);
    let text = fs::read_to_string(&file).unwrap();
    assert!(
        text.starts_with("# mine\nname = \"Crown and ring\" # the ring\nused = \"1930~\"\n"),
        "{text}"
    );
    assert!(
        text.contains("no ring") && text.contains("\"rare\", \"large\""),
        "{text}"
    );
    // A second tab, and an editor beside the desk, are both told of.
    let late = desk.post("/marks/edit", &facts(saw, "1940")).is(409).json();
    assert!(late["told"].as_str().unwrap().contains("changed elsewhere"));
    desk.post("/undo", &json!({})).is(200);
    assert_eq!(fs::read_to_string(&file).unwrap(), before);
    fs::write(&file, format!("# seen\n{before}")).unwrap();
    desk.post("/marks/edit", &facts(saw, "1940")).is(409);
    desk.get("/marks/mill-lane/none").is(404);
    desk.get("/marks/..%2f../x").is(404);
}

#[test]
fn where_two_families_part_is_told() {
    let (folder, _) = lot();
    let desk = Running::start(&folder);
    let rings = desk
        .get("/rings/mill-lane/crown?against=weir/bell")
        .is(200)
        .json();
    assert!(
        rings["rings"].is_array() && !rings["says"].as_str().unwrap().is_empty(),
        "{rings}"
    );
    desk.get("/rings/mill-lane/none?against=weir/bell").is(404);
    desk.get("/rings/mill-lane/crown").is(400);
}

#[test]
fn what_is_handed_out_stands_alone_and_keeps_private_things_back() {
    let (folder, photos) = lot();
    let desk = Running::start(&folder);
    folder.run(&["decide", "002.jpg", "--again"]).exit(0);
    desk.post("/pieces/approve", &approve(&[&photos[0]]))
        .is(200);
    let private = json!({ "words": [word(1, "cost", Some("EUR 4"), 0), word(1, "owner", Some("Aunt Wilhelmine"), 0)] });
    desk.post("/pieces/say", &private).is(200);
    let page = desk.get("/hand-out").is(200).text();
    assert!(
        page.contains("/lot/1/again") && page.contains("/hand-out/catalogue/1"),
        "{page}"
    );
    let catalogue = desk.get("/hand-out/catalogue/1").is(200);
    assert!(
        catalogue
            .header("content-security-policy")
            .unwrap()
            .contains("'nonce-")
    );
    let table = desk.get("/hand-out/pieces.csv").is(200);
    assert!(
        table
            .header("content-disposition")
            .unwrap()
            .contains("pieces.csv")
    );
    let talk = desk.get("/hand-out/talk?pieces=1").is(200);
    assert!(
        talk.header("content-disposition")
            .unwrap()
            .contains("talk.html")
    );
    let records = desk.get("/hand-out/pieces.jsonl").is(200);
    for leaves in [catalogue.text(), table.text(), records.text(), talk.text()] {
        assert!(leaves.contains("cup") || leaves.contains("Cup"), "{leaves}");
        assert!(
            !leaves.contains("Wilhelmine") && !leaves.contains("EUR 4"),
            "{leaves}"
        );
    }
    desk.get("/hand-out/catalogue/2").is(404);
    let again = desk.get("/lot/1/again").is(200).text();
    assert!(
        again.contains("002.jpg") && again.contains("data:image/jpeg"),
        "{again}"
    );
    let kept = desk.get("/lot/1/again?file=true").is(200);
    let name = kept.header("content-disposition").unwrap();
    assert!(name.contains("mill-fair-to-take-again.html"), "{name}");
    assert!(!kept.text().contains("src=\"/") && !kept.text().contains("href=\"/"));
}
