//! The work at the desk, by the requests that its pages make.

use std::fs;
use std::time::{Duration, Instant};

use footring::answer::{DateAnswer, DateReading, Dates, Look, MarkAnswer, Verdict};
use footring::decision::ContentHash;
use serde_json::{Value, json};

use crate::desk_client::Running;
use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

fn id(photo: &ContentHash) -> String {
    format!("{photo}-1")
}

fn say(what: &str, value: Option<&str>, marks: &[(String, i64)]) -> Value {
    let marks: Vec<Value> = marks
        .iter()
        .map(|(id, saw)| json!({ "id": id, "saw": saw }))
        .collect();
    json!({ "marks": marks, "what": what, "value": value })
}

/// A lot of `clear` marks of one family and `open` ones, planted.
fn lot(clear: u8, open: u8) -> (Folder, Vec<ContentHash>) {
    let folder = Folder::new();
    let crown = folder.family("mill-lane/crown", "", &slope(200));
    let bell = folder.family("weir/bell", "", &slope(201));
    // Cut-off files are quick to look at; what they show is planted.
    let photos: Vec<ContentHash> = (0..clear + open)
        .map(|n| {
            let bytes = jpeg(&slope(n));
            folder.photo(format!("{n:03}.jpg"), &bytes[..bytes.len() / 2])
        })
        .collect();
    folder.intake("Mill fair").exit(1);
    for (n, photo) in photos.iter().enumerate() {
        let own = match n < usize::from(clear) {
            true => mark(Verdict::Named, 0.0, &[("mill-lane/crown", 0.95, &crown)]),
            false => mark(
                Verdict::Choose,
                0.0,
                &[("weir/bell", 0.5, &bell), ("mill-lane/crown", 0.4, &crown)],
            ),
        };
        folder.plant(photo, vec![own], &slope(n as u8));
    }
    (folder, photos)
}

#[test]
fn a_decision_is_kept_and_undo_takes_one_key_back() {
    let (folder, photos) = lot(2, 1);
    let desk = Running::start(&folder);
    let both = [(id(&photos[0]), 0), (id(&photos[1]), 0)];
    let made = desk
        .post("/decide", &say("family", Some("mill-lane/crown"), &both))
        .is(200)
        .json();
    assert_eq!(made["done"].as_array().unwrap().len(), 2);
    folder
        .run(&["report", "Mill fair"])
        .exit(0)
        .has("(your decision of ");
    let undone = desk.post("/undo", &json!({})).is(200).json();
    assert_eq!(undone["photos"].as_array().unwrap().len(), 2, "{undone}");
    folder
        .run(&["report", "Mill fair"])
        .exit(0)
        .lacks("(your decision of ");
    // What was decided before this start can be taken back too.
    folder.run(&["decide", "002.jpg", "--unknown"]).exit(0);
    assert_eq!(desk.post("/undo", &json!({})).is(200).json()["any"], true);
    assert_eq!(desk.post("/undo", &json!({})).is(200).json()["any"], false);
    // A family that the library has not is no decision.
    let none = say("family", Some("weir/anchor"), &both);
    assert!(
        desk.post("/decide", &none)
            .is(422)
            .text()
            .contains("no family `weir/anchor`")
    );
}

#[test]
fn of_two_tabs_that_decide_the_same_mark_the_second_is_told_and_nothing_is_lost() {
    let (folder, photos) = lot(2, 0);
    let desk = Running::start(&folder);
    let one = id(&photos[0]);
    desk.post(
        "/decide",
        &say("family", Some("mill-lane/crown"), &[(one.clone(), 0)]),
    )
    .is(200);
    let late = desk
        .post("/decide", &say("unknown", None, &[(one.clone(), 0)]))
        .is(409)
        .json();
    let refused = &late["refused"][0];
    assert_eq!(
        (&refused["id"], &refused["number"]),
        (&json!(one), &json!(2))
    );
    assert!(
        refused["told"]
            .as_str()
            .unwrap()
            .contains("mill-lane/crown"),
        "{refused}"
    );
    // Number 1 is what the program said. With what it has been told it may decide; the first word stays in the history.
    desk.post("/decide", &say("unknown", None, &[(one.clone(), 2)]))
        .is(200);
    let history = folder.run(&["decide", "000.jpg", "--history"]).exit(0).out;
    assert!(
        history.contains("mill-lane/crown") && history.contains("not in the library  holds"),
        "{history}"
    );
    // The command line counts as another tab.
    folder
        .run(&["decide", "001.jpg", "--no-mark", "--mark", "1"])
        .exit(0);
    let all = [(one, 3), (id(&photos[1]), 0)];
    let some = desk
        .post("/decide", &say("again", None, &all))
        .is(409)
        .json();
    assert_eq!(some["done"].as_array().unwrap().len(), 1);
    assert_eq!(some["refused"].as_array().unwrap().len(), 1);
}

#[test]
fn eighty_marks_with_fifty_of_one_family_take_at_most_forty_five_actions() {
    let (folder, photos) = lot(50, 30);
    let desk = Running::start(&folder);
    let mut actions = 0;
    // Opening the family is one action, knocking two out two, confirming the rest one.
    let page = desk.get("/lot/1/clear/mill-lane/crown").is(200).text();
    assert_eq!(
        page.matches("type=\"checkbox\" checked data-id").count(),
        50
    );
    actions += 1 + 2;
    let rest: Vec<(String, i64)> = photos[2..50].iter().map(|p| (id(p), 0)).collect();
    desk.post("/decide", &say("family", Some("mill-lane/crown"), &rest))
        .is(200);
    actions += 1;
    // Each of the others takes one key on the page of single marks: Enter, or for a doubtful one the digit of the
    // family that lies beside it.
    for _ in 0..80 {
        let list = desk.get("/lot/1/marks?order=doubt").is(200).json();
        let open = list
            .as_array()
            .unwrap()
            .iter()
            .find(|m| m["decided"].is_null())
            .cloned();
        let Some(open) = open else { break };
        let best = open["choices"][0]["family"].as_str().unwrap();
        let own = [(
            open["id"].as_str().unwrap().to_owned(),
            open["saw"].as_i64().unwrap(),
        )];
        desk.post("/decide", &say("family", Some(best), &own))
            .is(200);
        actions += 1;
    }
    let list = desk.get("/lot/1/marks").is(200).json();
    assert!(
        list.as_array()
            .unwrap()
            .iter()
            .all(|m| !m["decided"].is_null())
    );
    assert!(actions <= 45, "{actions}");
}

#[test]
fn a_few_clear_marks_come_without_a_hint_and_what_is_said_of_them_is_kept_apart() {
    let (folder, photos) = lot(100, 0);
    let desk = Running::start(&folder);
    let list = desk.get("/lot/1/marks?order=unprompted").is(200).json();
    let all = list.as_array().unwrap().iter();
    let kept_back: Vec<&Value> = all.filter(|m| m["unprompted"] == true).collect();
    let drawn = photos
        .iter()
        .filter(|p| footring::decision::blind::is_blind(p, 0));
    assert_eq!(kept_back.len(), drawn.count());
    for mark in &kept_back {
        assert!(mark["family"].is_null() && mark["leads"] == false, "{mark}");
        assert_eq!(mark["choices"][0]["likely"], "", "{mark}");
    }
    let first = kept_back.first().expect("one in twenty of a hundred");
    let own = [(first["id"].as_str().unwrap().to_owned(), 0)];
    let mut said = say("family", Some("mill-lane/crown"), &own);
    said["unprompted"] = true.into();
    desk.post("/decide", &said).is(200);
    let journal = folder.journal();
    assert_eq!(journal.matches("\"withheld\"").count(), 1, "{journal}");
}

#[test]
fn marks_come_in_the_order_asked_for_and_clear_ones_with_the_odd_first() {
    let (folder, photos) = lot(3, 1);
    let crown = footring::decision::ContentHash::of(&jpeg(&slope(200)));
    let odd = mark(Verdict::Named, 0.0, &[("mill-lane/crown", 0.91, &crown)]);
    folder.plant(&photos[1], vec![odd], &slope(1));
    let desk = Running::start(&folder);
    let ids = |order: &str| -> Vec<String> {
        let list = desk
            .get(&format!("/lot/1/marks?order={order}"))
            .is(200)
            .json();
        let photos = list
            .as_array()
            .unwrap()
            .iter()
            .map(|m| m["photo"].as_str().unwrap().to_owned());
        photos.collect()
    };
    assert_eq!(ids("taken"), ["000.jpg", "001.jpg", "002.jpg", "003.jpg"]);
    assert_eq!(ids("doubt"), ["003.jpg", "001.jpg", "000.jpg", "002.jpg"]);
    assert_eq!(ids("family")[3], "003.jpg");
    let page = desk.get("/lot/1/clear/mill-lane/crown").is(200).text();
    let place = |photo: &ContentHash| page.find(&format!("data-id=\"{photo}-1\"")).unwrap();
    assert!(place(&photos[1]) < place(&photos[0]));
}

/// A mark with a date code that was read.
fn with_code(exemplar: &ContentHash) -> MarkAnswer {
    let mut own = mark(Verdict::Named, 0.0, &[("weir/bell", 0.95, exemplar)]);
    own.dates = vec![DateAnswer {
        family: "weir/bell".into(),
        dates: Dates::Piece,
        state: Look::Read,
        quad: Some([[10.0, 80.0], [60.0, 80.0], [60.0, 95.0], [10.0, 95.0]]),
        upright: true,
        readings: vec![DateReading {
            text: "3/48".into(),
            probability: 0.8,
            made: vec!["1948-03".into()],
            doubt: vec![0],
            verified: true,
            against: Vec::new(),
        }],
        other: None,
        against: Vec::new(),
    }];
    own
}

#[test]
fn a_date_code_is_confirmed_with_its_meaning_told_while_typing() {
    let folder = Folder::new();
    let bell = folder.family("weir/bell", "", &slope(201));
    let codes = "[[scheme]]\nname = \"month over year\"\nplace = \"below\"\n\
        pattern = \"(?<month>[1-9]|1[0-2])/(?<year>[0-9]{2})\"\nyear = { window = [1940, 1969] }\n";
    fs::write(folder.desk().join("library/weir/codes.toml"), codes).unwrap();
    let photo = folder.photo("one.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    folder.plant(&photo, vec![with_code(&bell)], &slope(1));
    let desk = Running::start(&folder);
    let page = desk.get("/lot/1/codes").is(200).text();
    assert!(page.contains(&format!("data-ids=\"{photo}-1\"")), "{page}");
    desk.get(&format!("/picture/{photo}-1/code?at=0")).is(200);
    let listed = desk.get(&format!("/lot/1/mark/{photo}-1")).is(200).json();
    let reading = &listed["codes"][0]["readings"][0];
    assert_eq!(reading["means"], "would mean March 1948");
    assert_eq!(reading["doubt"], json!([0]));
    let meaning = |code: &str| {
        desk.get(&format!("/meaning?family=weir/bell&code={code}"))
            .is(200)
            .json()
    };
    let says = meaning("8/48")["says"].clone();
    assert!(
        says.as_str().unwrap().starts_with("Would mean August 1948"),
        "{says}"
    );
    assert!(
        meaning("zz")["says"]
            .as_str()
            .unwrap()
            .starts_with("Fits no scheme")
    );
    let own = [(id(&photo), 0)];
    desk.post("/decide", &say("code", Some(" 8/48 "), &own))
        .is(200);
    folder
        .run(&["decide", "one.jpg", "--history"])
        .exit(0)
        .has("code `8/48`");
    // The other tab still shows none.
    desk.post("/decide", &say("no-code", None, &own)).is(409);
    desk.post("/decide", &say("illegible", None, &[(id(&photo), 1)]))
        .is(200);
    desk.post("/decide", &say("code", Some("  "), &[(id(&photo), 2)]))
        .is(422);
}

#[test]
fn a_folder_is_taken_in_while_pages_answer_and_a_restart_goes_on() {
    let folder = Folder::new();
    for n in 0..12 {
        folder.photo(format!("{n:03}.jpg"), &jpeg(&slope(n)));
    }
    let desk = Running::start(&folder);
    desk.post("/pause", &json!({ "paused": true })).is(200);
    let sale = folder.path("sale");
    let asked = json!({ "folder": sale, "lot": "Mill fair", "date": "2026-05" });
    desk.post("/intake", &asked).is(200);
    let until = Instant::now() + Duration::from_secs(30);
    let job = loop {
        let job = desk.get("/job").is(200).json();
        if job["state"] == "paused" && job["total"] == 12 {
            break job;
        }
        assert!(Instant::now() < until, "{job}");
        std::thread::sleep(Duration::from_millis(20));
    };
    assert_eq!(job["done"], 0);
    assert!(
        fs::read_to_string(folder.desk().join("desk.json"))
            .unwrap()
            .contains("Mill fair")
    );
    drop(desk);
    // Started anew, it is still paused; let go, it takes all in.
    let desk = Running::start(&folder);
    desk.post("/pause", &json!({ "paused": false })).is(200);
    let job = desk.finished();
    assert_eq!(job["state"], "done", "{job}");
    assert!(
        job["told"].as_str().unwrap().contains("looked at: 12"),
        "{job}"
    );
    assert!(!folder.desk().join("desk.json").exists());
    assert_eq!(
        desk.get("/lot/1/marks")
            .is(200)
            .json()
            .as_array()
            .unwrap()
            .len(),
        12
    );
    assert!(desk.get("/lot/1").is(200).text().contains("12 photos"));
    for (bad, told) in [
        ("no/whole/path", "is no whole path"),
        ("/no/such/folder", "there is no folder"),
    ] {
        let asked = json!({ "folder": bad, "lot": "x" });
        assert!(desk.post("/intake", &asked).is(422).text().contains(told));
    }
}

#[test]
fn dropped_photos_are_copied_and_taken_in() {
    let folder = Folder::new();
    let desk = Running::start(&folder);
    for (name, seed) in [("a.jpg", 1), ("..%2F..%2Fa.jpg", 2), ("a.jpg", 1)] {
        let path = format!("/drop?lot=Mill%20fair&name={name}");
        desk.send(&path, "application/octet-stream", &jpeg(&slope(seed)))
            .is(200);
    }
    desk.send("/drop?lot=%20&name=a", "application/octet-stream", b"x")
        .is(422);
    let kept = folder.desk().join("photos/mill-fair");
    let names: Vec<String> = ["a.jpg", "a-2.jpg"].map(str::to_owned).to_vec();
    assert!(names.iter().all(|n| kept.join(n).is_file()));
    assert_eq!(fs::read_dir(&kept).unwrap().count(), 2);
    desk.post("/intake", &json!({ "lot": "Mill fair" })).is(200);
    assert_eq!(desk.finished()["state"], "done");
    assert_eq!(
        desk.get("/lot/1/marks")
            .is(200)
            .json()
            .as_array()
            .unwrap()
            .len(),
        2
    );
}

#[test]
fn strangers_are_named_and_become_a_family() {
    let folder = Folder::new();
    folder.family("weir/bell", "", &slope(201));
    let photos: Vec<ContentHash> = (0..2)
        .map(|n| folder.photo(format!("{n}.jpg"), &jpeg(&slope(n))))
        .collect();
    folder.intake("Mill fair").exit(0);
    for (n, photo) in photos.iter().enumerate() {
        folder.plant(
            photo,
            vec![mark(Verdict::Unknown, 0.0, &[])],
            &slope(n as u8),
        );
    }
    let desk = Running::start(&folder);
    assert!(
        desk.get("/strangers")
            .is(200)
            .text()
            .contains("not compared with each other yet")
    );
    desk.post("/strangers/compare", &json!({})).is(200);
    assert_eq!(desk.finished()["state"], "done");
    let page = desk.get("/strangers").is(200).text();
    assert!(
        page.contains(&format!("data-id=\"{}-1\"", photos[0])),
        "{page}"
    );
    let of = |photo: &ContentHash, name: &str| json!({ "marks": [{ "id": id(photo), "saw": 0 }], "maker": "Mill Lane", "name": name });
    let asked = |name: &str| of(&photos[0], name);
    desk.post("/strangers/name", &asked(" / ")).is(422);
    let made = desk
        .post("/strangers/name", &asked("Crown over bird"))
        .is(200)
        .json();
    assert_eq!(made["done"].as_array().unwrap().len(), 1, "{made}");
    assert!(
        folder
            .desk()
            .join("library/mill-lane/crown-over-bird/mark.toml")
            .is_file()
    );
    folder
        .run(&["decide", "0.jpg", "--history"])
        .exit(0)
        .has("mill-lane/crown-over-bird  holds");
    // Another mark under the same name joins the family; its pictures stay as they are.
    let joined = desk
        .post("/strangers/name", &of(&photos[1], "Crown over bird"))
        .is(200)
        .json();
    assert_eq!(joined["done"].as_array().unwrap().len(), 1, "{joined}");
    folder
        .run(&["decide", "1.jpg", "--history"])
        .exit(0)
        .has("mill-lane/crown-over-bird  holds");
    desk.get("/exemplar/mill-lane/crown-over-bird").is(200);
}

#[test]
fn reports_are_made_on_the_fly() {
    let (folder, _) = lot(1, 1);
    let desk = Running::start(&folder);
    assert!(
        desk.get("/lot/1/report")
            .is(200)
            .text()
            .contains("data:image/jpeg")
    );
    assert!(
        desk.get("/lot/1/to-look-at")
            .is(200)
            .text()
            .contains("Choose one")
    );
    assert!(desk.get("/lot/1/table").is(200).text().lines().count() >= 3);
}

#[cfg(unix)]
#[test]
fn it_ends_in_order_when_interrupted() {
    let (folder, _) = lot(1, 0);
    let desk = Running::start(&folder);
    assert_eq!(desk.interrupt(), Some(0));
}

#[test]
fn a_port_that_is_taken_and_a_folder_that_is_no_workspace_are_told() {
    let (folder, _) = lot(1, 0);
    let desk = Running::start(&folder);
    let port = desk.port.to_string();
    folder
        .run(&["desk", "--no-browser", "--port", &port])
        .exit(2)
        .has("cannot be had")
        .has("hint: ");
    folder
        .run(&["desk", "../sale", "--no-browser"])
        .exit(2)
        .has("hint: ");
}
