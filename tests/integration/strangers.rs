//! `strangers` and `library` from outside: unknown marks are grouped, one group becomes a family, and its
//! companions are named after it.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::workspace_folder::Folder;

/// Photos of the shipped sale: two of one mark, three of other potteries.
const ONE_MARK: [&str; 2] = ["IMG_0007.jpg", "IMG_0042.jpg"];
const OTHERS: [&str; 3] = ["IMG_0024.jpg", "IMG_0034.jpg", "IMG_0044.jpg"];

/// A workspace with an empty library that has taken the photos in.
fn desk(photos: &[&str]) -> Folder {
    let folder = Folder::new();
    for name in photos {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/demo/sale");
        folder.photo(name, &fs::read(path.join(name)).unwrap());
    }
    folder
        .intake("Mill fair")
        .exit(0)
        .has("give a mark that you know a name, here that of IMG_")
        .has("footring library new MAKER/MARK --from IMG_");
    folder
}

/// The groups: each its name and its photos.
fn groups(folder: &Folder) -> Vec<(String, Vec<String>)> {
    let said = folder.run(&["strangers", "--json"]).exit(0);
    let text = |v: &Value| v.as_str().unwrap().to_owned();
    said.out
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap())
        .map(|group| {
            let marks = group["marks"].as_array().unwrap();
            let photos = marks.iter().map(|m| text(&m["photo"])).collect();
            (text(&group["group"]), photos)
        })
        .collect()
}

#[test]
fn a_group_becomes_a_family_that_names_its_companions() {
    let folder = desk(&[&ONE_MARK[..], &OTHERS[..]].concat());
    let found = groups(&folder);
    let (name, photos) = &found[0];
    assert_eq!(photos, &ONE_MARK, "{found:?}");
    assert!(found[1..].iter().all(|(_, photos)| photos.len() == 1));
    folder
        .run(&["strangers"])
        .exit(0)
        .has("5 unknown marks: 2 in 1 group, 3 alone")
        .has(&format!("library new MAKER/MARK --from {name}"));
    folder
        .run(&["strangers", "--html", "strangers.html"])
        .exit(0)
        .has("strangers.html: 5 marks");
    let page = fs::read_to_string(folder.path("desk/strangers.html")).unwrap();
    assert!(page.contains(name) && page.matches("data:image/jpeg;base64,").count() >= 5);
    let word = &name[..5];
    let made = folder
        .run(&["library", "new", "thornwick/tower", "--from", word])
        .exit(0)
        .has("thornwick/tower: 1 exemplar in ")
        .has("thornwick/tower, as its exemplar (number 1)")
        .has("looked again at 2 photos")
        .has("thornwick/tower names 1 more: IMG_00");
    assert!(!made.out.contains(OTHERS[1]), "{}", made.out);
    let record = fs::read_to_string(folder.path("desk/library/thornwick/tower/mark.toml")).unwrap();
    assert!(record.starts_with("name = \"Tower\"\n") && record.contains("quad = [["));
    folder
        .run(&["library", "list"])
        .exit(0)
        .has("thornwick\n  tower  1 exemplar, 1 decided  Tower\n");
    // What is named or decided is no stranger any more.
    assert!(groups(&folder).iter().all(|(_, photos)| photos.len() == 1));
}

#[test]
fn a_group_is_decided_whole() {
    let folder = desk(&[&ONE_MARK[..], &OTHERS[..1]].concat());
    let (name, _) = groups(&folder).remove(0);
    folder
        .run(&["decide", &name, "--no-mark"])
        .exit(2)
        .has("is a group of unknown marks");
    folder
        .run(&[
            "library",
            "new",
            "thornwick/tower",
            "--from",
            &name,
            "--whole",
        ])
        .exit(0)
        .has("thornwick/tower (number 2)");
    let alone = groups(&folder).remove(0);
    folder
        .run(&["decide", &alone.0, "--family", "thornwick/tower"])
        .exit(0)
        .has("thornwick/tower (number 3)");
    assert!(groups(&folder).is_empty());
}

#[test]
fn a_group_keeps_its_name_when_a_photo_joins() {
    let folder = desk(&[ONE_MARK[1], OTHERS[0]]);
    let before = groups(&folder);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/demo/sale");
    folder.photo("a.jpg", &fs::read(path.join(ONE_MARK[0])).unwrap());
    folder.intake("Mill fair").exit(0);
    let after = groups(&folder);
    let alone = before.iter().find(|(_, photos)| photos[0] == ONE_MARK[1]);
    assert_eq!(after[0].0, alone.unwrap().0, "{before:?} {after:?}");
    assert_eq!(after[0].1, [ONE_MARK[1], "a.jpg"]);
}

#[test]
fn named_photos_become_exemplars_turned_as_told() {
    let folder = desk(&ONE_MARK[..1]);
    folder
        .run(&[
            "library",
            "new",
            "unattributed/tower-and-rose",
            "--from",
            ONE_MARK[0],
            "--turn",
            "90",
            "--name",
            "Tower and rose",
        ])
        .exit(0)
        .has("unattributed/tower-and-rose: 1 exemplar in ")
        .has("unattributed/tower-and-rose names no other photo");
    let picture = folder.path("desk/library/unattributed/tower-and-rose/img-0007.jpg");
    assert!(image::open(picture).unwrap().width() > 100);
    folder
        .run(&["decide", ONE_MARK[0], "--history"])
        .exit(0)
        .has("unattributed/tower-and-rose  holds");
}

#[test]
fn ids_that_cannot_be_are_refused_and_nothing_is_written() {
    let folder = desk(&ONE_MARK[..1]);
    let new = |id: &str, from: &str| folder.run(&["library", "new", id, "--from", from]);
    new("crown", ONE_MARK[0])
        .exit(2)
        .has("`crown` is no family id");
    new("mill/lines", ONE_MARK[0]).exit(2).has("no family id");
    new("mill/crown", "zuzuz-zuzuz")
        .exit(2)
        .has("`zuzuz-zuzuz` is neither a group of unknown marks nor a photo of a lot")
        .has("footring strangers");
    let library = folder.path("desk/library");
    assert_eq!(fs::read_dir(&library).unwrap().count(), 0);
    fs::create_dir_all(library.join("mill/crown")).unwrap();
    fs::write(library.join("mill/crown/mark.toml"), "name = \"Crown\"\n").unwrap();
    new("mill/crown", ONE_MARK[0])
        .exit(2)
        .has("the library has a family `mill/crown` already")
        .has("choose another id");
}
