//! `sort` from outside: piles, folders of links, the page of photos to take again; and near-twins, which
//! keep a mark out of the pile of sure ones.

use std::fs;
use std::path::Path;

use footring::answer::Verdict;

use crate::support::{Tool, jpeg, slope};
use crate::workspace_folder::{Folder, mark};

/// Photos of the shipped sale: a mark that is named, and half of a bare base.
const NAMED: &str = "IMG_0034.jpg";
const FAMILY: &str = "varnholt/sun-morning";
const AGAIN: &str = "IMG_0017.jpg";

fn shipped(path: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

/// The family with `more` in its record, and the two photos.
fn desk(more: &str) -> Tool {
    let mut record = shipped(&format!("reference-marks/{FAMILY}/mark.toml"));
    record.extend(more.as_bytes());
    Tool::new()
        .file(format!("library/{FAMILY}/mark.toml"), record)
        .file(
            format!("library/{FAMILY}/mark.png"),
            shipped(&format!("reference-marks/{FAMILY}/mark.png")),
        )
        .photo(NAMED, shipped(&format!("src/demo/sale/{NAMED}")))
        .photo(AGAIN, shipped(&format!("src/demo/sale/{AGAIN}")))
        .photo("torn.jpg", b"\xff\xd8\xff\xe0 torn")
}

#[test]
fn photos_are_linked_into_piles_and_stay_where_they_are() {
    let ran = desk("")
        .args(["sort", "--library", "library", "--into", "piles", "sale"])
        .stdout("sure (1): named: check at a glance")
        .stdout(&format!("{NAMED}  {FAMILY}"))
        .stdout("again (1): take again while you have the piece")
        .stdout("unread (1): could not be read")
        .exit(1);
    let at = |path: &str| ran.folder.path().join(path);
    let link = at(&format!("piles/sure/{NAMED}"));
    assert!(fs::read(&link).unwrap() == shipped(&format!("src/demo/sale/{NAMED}")));
    assert!(at(&format!("sale/{NAMED}")).is_file() && at(&format!("piles/again/{AGAIN}")).exists());
    let page = fs::read_to_string(at("piles/again.html")).unwrap();
    assert!(page.contains(AGAIN) && page.contains("show the whole base"));
    assert!(page.contains("data:image/jpeg;base64,"));
}

#[test]
fn a_folder_in_use_is_not_filled() {
    let ran = desk("")
        .file("piles/notes.txt", b"mine")
        .args(["sort", "--library", "library", "--into", "piles", "sale"])
        .stderr("piles is no empty folder and was left as it is")
        .exit(2);
    assert!(ran.folder.path().join("piles/notes.txt").is_file());
}

#[test]
fn as_json_a_line_a_photo_names_its_pile() {
    let lines = desk("")
        .args(["sort", "--library", "library", "--json", "sale"])
        .exit(1)
        .lines();
    let piles: Vec<&str> = lines.iter().map(|l| l["pile"].as_str().unwrap()).collect();
    assert_eq!(piles, ["again", "sure", "unread"]);
    assert_eq!(lines[1]["family"], FAMILY);
}

#[test]
fn a_mark_with_a_near_twin_is_not_named() {
    let twin =
        "\n[[confused_with]]\nfamily = \"varnholt/sun-later\"\ntell = \"a dot under the sun\"\n";
    let lines = desk(twin)
        .file(
            "library/varnholt/sun-later/mark.toml",
            b"name = \"Later\"\n",
        )
        .matching([format!("sale/{NAMED}")])
        .exit(0)
        .lines();
    assert_eq!(lines[0]["verdict"], "choose");
    let reason = &lines[0]["reasons"][0];
    assert_eq!(reason["code"], "near-twin");
    assert!(
        reason["text"]
            .as_str()
            .unwrap()
            .ends_with("a dot under the sun")
    );
    assert_eq!(
        lines[0]["marks"][0]["twins"][0]["family"],
        "varnholt/sun-later"
    );
}

#[cfg(unix)]
#[test]
fn a_name_that_is_no_text_comes_raw_as_well() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let tool = Tool::new();
    let odd = tool
        .path()
        .join("sale")
        .join(OsStr::from_bytes(b"\xff\xfe.jpg"));
    fs::write(odd, jpeg(&slope(1))).unwrap();
    let lines = tool
        .photo("plain.jpg", jpeg(&slope(2)))
        .args(["sort", "--library", "library", "--json", "sale"])
        .exit(0)
        .lines();
    let raw: Vec<_> = lines.iter().filter_map(|l| l.get("photo_raw")).collect();
    // base64 of `sale/`, 0xff, 0xfe, `.jpg`
    assert_eq!(raw, ["c2FsZS///i5qcGc="]);
}

/// A lot with a named mark, an unknown one, a bare base and one to take again, as planted answers.
fn lot() -> Folder {
    let folder = Folder::new();
    let crown = folder.family("mill-lane/crown", "", &slope(9));
    let photos: Vec<_> = (1..5)
        .map(|n| folder.photo(format!("IMG_{n}.jpg"), &jpeg(&slope(n))))
        .collect();
    folder.intake("Mill fair").exit(0);
    let named = [("mill-lane/crown", 0.95, &crown)];
    let marks = [
        vec![mark(Verdict::Named, 0.0, &named)],
        vec![mark(Verdict::Unknown, 0.0, &[])],
        Vec::new(),
        vec![mark(Verdict::Reshoot, 0.0, &named)],
    ];
    for (photo, marks) in photos.iter().zip(marks) {
        folder.plant(photo, marks, &slope(3));
    }
    folder
}

#[test]
fn a_lot_is_sorted_from_what_is_kept_and_links_what_is_in_reach() {
    let folder = lot();
    fs::remove_file(folder.path("sale/IMG_2.jpg")).unwrap();
    folder
        .run(&["sort", "--lot", "Mill fair", "--into", "piles"])
        .exit(1)
        .has("sure (1)")
        .has("IMG_1.jpg  mill-lane/crown")
        .has("bare (1)")
        .has("1 photo not where last seen, so in no folder: ")
        .has("IMG_2.jpg");
    let at = |path: &str| folder.desk().join("piles").join(path);
    assert!(at("sure/IMG_1.jpg").exists() && at("bare/IMG_3.jpg").exists());
    assert!(!at("look/IMG_2.jpg").exists());
    let page = fs::read_to_string(at("again.html")).unwrap();
    assert!(page.contains("photo 4 of 4 of Mill fair: after IMG_3.jpg"));
    assert!(page.contains("data:image/jpeg;base64,"));
}

#[test]
fn what_the_person_said_decides_the_pile() {
    let folder = lot();
    let said = [
        ("IMG_1.jpg", &["--again"][..]),
        ("IMG_2.jpg", &["--family", "mill-lane/crown"]),
        ("IMG_3.jpg", &["--again"]),
        ("IMG_4.jpg", &["--no-mark"]),
    ];
    for (photo, words) in said {
        folder.run(&[&["decide", photo], words].concat()).exit(0);
    }
    let said = folder
        .run(&["sort", "--lot", "Mill fair", "--json"])
        .exit(0);
    let piles: Vec<serde_json::Value> = said
        .out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let words: Vec<&str> = piles.iter().map(|l| l["pile"].as_str().unwrap()).collect();
    assert_eq!(words, ["again", "sure", "again", "bare"]);
    assert_eq!(piles[1]["family"], "mill-lane/crown");
    assert!(
        piles[1]["decided"]
            .as_str()
            .unwrap()
            .contains("decided by hand on")
    );
}

#[test]
fn a_lot_and_photos_are_not_sorted_together() {
    let folder = lot();
    folder
        .run(&["sort", "../sale", "--lot", "Mill fair"])
        .exit(2)
        .has("cannot be used with");
    folder
        .run(&["sort", "--lot", "Mill"])
        .exit(2)
        .has("Mill fair");
}
