//! `sort` from outside: piles, folders of links, the page of photos to take again; and near-twins, which
//! keep a mark out of the pile of sure ones.

use std::fs;
use std::path::Path;

use crate::support::Tool;

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
