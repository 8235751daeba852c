//! Pieces that are withdrawn, and photos in which several pieces lie, by the requests that the desk's pages make.

use footring::answer::Verdict;
use footring::decision::ContentHash;
use serde_json::{Value, json};

use crate::desk_client::Running;
use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

/// One photo with two marks, and one without.
fn lot() -> (Folder, Vec<ContentHash>) {
    let folder = Folder::new();
    let place = "[[image]]\nfile = \"exemplar.jpg\"\nquad = [[4, 4], [40, 4], [40, 40], [4, 40]]\n";
    let crown = folder.family("mill-lane/crown", place, &slope(200));
    let bell = folder.family("weir/bell", place, &slope(201));
    let photos: Vec<ContentHash> = (0..2)
        .map(|n| {
            let bytes = jpeg(&slope(n));
            folder.photo(format!("{n:03}.jpg"), &bytes[..bytes.len() / 2])
        })
        .collect();
    folder.intake("Mill fair").exit(1);
    let two = vec![
        mark(Verdict::Named, 0.0, &[("mill-lane/crown", 0.95, &crown)]),
        mark(Verdict::Named, 200.0, &[("weir/bell", 0.95, &bell)]),
    ];
    folder.plant(&photos[0], two, &slope(0));
    folder.plant(&photos[1], Vec::new(), &slope(1));
    let decide = |n: &str, family: &str| {
        folder
            .run(&["decide", "000.jpg", "--mark", n, "--family", family])
            .exit(0);
    };
    decide("1", "mill-lane/crown");
    decide("2", "weir/bell");
    (folder, photos)
}

fn approve(photos: &[String]) -> Value {
    let one = |id: &String| json!({ "lot": "Mill fair", "photos": [[id, "underside"]] });
    json!({ "pieces": photos.iter().map(one).collect::<Vec<_>>() })
}

fn suggested(desk: &Running) -> usize {
    desk.get("/pieces")
        .is(200)
        .text()
        .matches("data-photos=")
        .count()
}

#[test]
fn a_photo_of_several_pieces_is_shared_by_its_marks() {
    let (folder, photos) = lot();
    let desk = Running::start(&folder);
    let id = |n: usize| format!("{}-{n}", photos[0]);
    let page = desk.get("/pieces").is(200).text();
    assert!(page.contains("a piece for each of its 2 marks"), "{page}");
    desk.post("/pieces/approve", &approve(&[id(1)])).is(200);
    // The other mark is proposed as a piece of its own.
    let page = desk.get("/pieces").is(200).text();
    assert!(page.contains(&format!("underside:{}", id(2))), "{page}");
    let late = desk
        .post("/pieces/approve", &approve(&[id(1), id(2)]))
        .is(409)
        .json();
    assert_eq!(late["done"].as_array().unwrap().len(), 1, "{late}");
    // Each piece has its own mark, and its page names the other.
    let first = desk.get("/piece/1").is(200).text();
    let second = desk.get("/piece/2").is(200).text();
    assert!(
        first.contains("mark 1 of 2") && first.contains("href=\"/piece/2\""),
        "{first}"
    );
    assert!(
        second.contains("mark 2 of 2") && second.contains("weir/bell"),
        "{second}"
    );
    assert!(!second.contains("mill-lane/crown"), "{second}");
    desk.post("/pieces/approve", &approve(&[format!("{}-3", photos[0])]))
        .is(422);
    desk.post("/pieces/approve", &approve(&[photos[0].to_string()]))
        .is(409);
}

#[test]
fn photos_are_added_and_taken_out_and_a_second_tab_is_told() {
    let (folder, photos) = lot();
    let desk = Running::start(&folder);
    desk.post("/pieces/approve", &approve(&[format!("{}-1", photos[0])]))
        .is(200);
    let page = desk.get("/piece/1").is(200).text();
    assert!(page.contains("<option value=\""), "{page}");
    let seen = page.split("class=\"photos\" data-saw=\"").nth(1).unwrap();
    let saw: i64 = seen.split('"').next().unwrap().parse().unwrap();
    let add = |id: &str, saw: i64| json!({ "piece": 1, "saw": saw, "add": id, "role": "top" });
    let made = desk
        .post("/pieces/photos", &add(photos[1].as_str(), saw))
        .is(200)
        .json();
    let now = made["done"][0]["number"].as_i64().unwrap();
    desk.post("/pieces/photos", &add(photos[1].as_str(), saw))
        .is(409);
    folder.run(&["piece", "show", "1"]).exit(0).has("001.jpg");
    let leave = |at: usize, saw: i64| json!({ "piece": 1, "saw": saw, "leave": at });
    let made = desk.post("/pieces/photos", &leave(1, now)).is(200).json();
    let now = made["done"][0]["number"].as_i64().unwrap();
    // The last photo stays.
    desk.post("/pieces/photos", &leave(0, now)).is(422);
    desk.post("/undo", &json!({})).is(200);
    folder.run(&["piece", "show", "1"]).exit(0).has("001.jpg");
    for bad in [
        json!({ "piece": 1, "saw": now }),
        add("../x", now),
        add(&"0".repeat(64), now),
        json!({ "piece": 9, "saw": 0, "leave": 0 }),
    ] {
        assert!(desk.post("/pieces/photos", &bad).status >= 400, "{bad}");
    }
}

#[test]
fn a_piece_is_withdrawn_at_any_time_and_brought_back() {
    let (folder, photos) = lot();
    {
        let desk = Running::start(&folder);
        let whole = approve(&[photos[0].to_string(), photos[1].to_string()]);
        desk.post("/pieces/approve", &whole).is(200);
        assert_eq!(suggested(&desk), 0);
    }
    // Long after it was made, by another start of the desk.
    let desk = Running::start(&folder);
    let word = |value: Option<&str>, saw: i64| json!({ "words": [{ "piece": 1, "fact": "withdrawn", "value": value, "saw": saw }] });
    desk.post("/pieces/say", &word(Some("sold"), 0)).is(200);
    let page = desk.get("/piece/1").is(200).text();
    assert!(
        page.contains("Withdrawn: sold") && page.contains("Bring it back"),
        "{page}"
    );
    assert!(desk.get("/pieces").is(200).text().contains("Withdrawn: 1"));
    // Its photo is free again, and its history is kept.
    assert_eq!(suggested(&desk), 1);
    folder.run(&["piece", "history", "1"]).exit(0).has("sold");
    desk.post("/pieces/say", &word(Some("broken"), 0)).is(409);
    desk.post("/undo", &json!({})).is(200);
    assert_eq!(suggested(&desk), 0);
    let made = desk
        .post("/pieces/say", &word(Some("sold"), 0))
        .is(200)
        .json();
    let saw = made["done"][0]["number"].as_i64().unwrap();
    desk.post("/pieces/say", &word(None, saw)).is(200);
    assert!(
        !desk
            .get("/piece/1")
            .is(200)
            .text()
            .contains("Withdrawn: sold")
    );
}
