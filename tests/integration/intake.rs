//! `intake` from outside: what is taken in, once, and what is left alone.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant, SystemTime};

use crate::support::{jpeg, png, slope};
use crate::workspace_folder::Folder;

fn content(folder: &Path) -> BTreeMap<String, (Vec<u8>, SystemTime)> {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let entry = entry.unwrap();
            let name = entry.file_name().to_string_lossy().into_owned();
            let changed = entry.metadata().unwrap().modified().unwrap();
            (name, (fs::read(entry.path()).unwrap(), changed))
        })
        .collect()
}

#[test]
fn an_empty_library_is_no_error_and_the_next_step_is_named() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.photo("notes.txt", b"no picture");
    let before = content(&folder.path("sale"));
    folder
        .intake("Mill fair")
        .exit(0)
        .has("Mill fair: 1 photo (new: 1, looked at: 1)")
        .has("1 file is no picture by its content and was skipped")
        .has("next:\n  footring report 'Mill fair' --html mill-fair.html")
        .has("the library is empty")
        .has("put a picture of a mark that you know into ");
    assert_eq!(content(&folder.path("sale")), before);
}

#[test]
fn nothing_is_done_twice_until_the_library_changes() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.photo("b.jpg", &jpeg(&slope(2)));
    folder.photo("same-as-b.jpg", &jpeg(&slope(2)));
    folder
        .intake("Mill fair")
        .exit(0)
        .has("2 photos (new: 2, copies left out: 1, looked at: 2)");
    let journal = folder.journal();
    folder
        .intake("Mill fair")
        .exit(0)
        .has("known before: 2")
        .lacks("looked at");
    assert_eq!(folder.journal(), journal);
    folder.family("mill-lane/crown", "", &slope(9));
    folder.intake("Mill fair").exit(0).has("looked at: 2");
}

#[test]
fn a_shot_saved_again_is_told() {
    let folder = Folder::new();
    let shot = slope(1);
    folder.photo("a.jpg", &jpeg(&shot));
    folder.photo("b.png", &png(&shot));
    folder.photo("c.jpg", &jpeg(&image::imageops::flip_vertical(&shot)));
    folder
        .intake("Mill fair")
        .exit(0)
        .has("sent or saved again, and so here twice: 1 photo\n    b.png repeats a.jpg\n");
}

#[test]
fn a_photo_may_be_in_two_lots_and_is_looked_at_once() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    folder
        .intake("Attic")
        .exit(0)
        .has("Attic: 1 photo (new: 1)");
    folder.run(&["report", "Attic"]).exit(0).has("a.jpg");
}

#[test]
fn photos_that_moved_are_found_by_their_content() {
    let folder = Folder::new();
    folder.photo("a.jpg", &jpeg(&slope(1)));
    folder.intake("Mill fair").exit(0);
    fs::rename(folder.path("sale"), folder.path("archive")).unwrap();
    folder
        .run(&[
            "intake",
            "../archive",
            "--lot",
            "Mill fair",
            "--date",
            "2026-05",
        ])
        .exit(0)
        .has("1 photo (found at a new place: 1)");
    let csv = folder.path("lot.csv");
    folder
        .run(&["report", "Mill fair", "--csv", csv.to_str().unwrap()])
        .exit(0);
    assert!(fs::read_to_string(csv).unwrap().contains("/archive/a.jpg"));
}

#[test]
fn damaged_pictures_are_told_and_the_rest_goes_on() {
    let folder = Folder::new();
    let whole = jpeg(&slope(1));
    folder.photo("cut.jpg", &whole[..whole.len() / 2]);
    folder.photo("whole.png", &png(&slope(2)));
    for _ in 0..2 {
        folder
            .intake("Mill fair")
            .exit(1)
            .has("2 photos")
            .has("Could not be read");
    }
}

#[test]
fn the_librarys_own_pictures_are_no_photos_of_the_lot() {
    let folder = Folder::new();
    folder.family("mill-lane/crown", "", &slope(9));
    fs::write(folder.desk().join("plate.jpg"), jpeg(&slope(1))).unwrap();
    folder
        .run(&["intake", ".", "--lot", "here"])
        .exit(0)
        .has("here: 1 photo (new: 1");
}

#[test]
fn a_missing_folder_or_name_is_told() {
    let folder = Folder::new();
    folder
        .run(&["intake", "../nowhere", "--lot", "x"])
        .exit(2)
        .has("there is no ../nowhere");
    folder
        .run(&["intake", "../sale", "--lot", " "])
        .exit(2)
        .has("a lot needs a name");
    folder
        .intake("nothing")
        .exit(0)
        .has("no pictures found in ../sale");
}

/// Photos for the interruption: enough that it falls between the first and the last.
const MANY: u8 = 20;

#[cfg(unix)]
#[test]
fn an_interrupted_intake_goes_on_where_it_stopped() {
    let folder = Folder::new();
    for n in 0..MANY {
        let large =
            image::imageops::resize(&slope(n), 800, 600, image::imageops::FilterType::Nearest);
        folder.photo(format!("{n:03}.jpg"), &jpeg(&large));
    }
    let words = ["intake", "../sale", "--lot", "Mill fair", "--jobs", "1"];
    let mut child = folder
        .command(&words)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    let journal = folder.desk().join("journal.txt");
    let sightings = || {
        let text = fs::read_to_string(&journal).unwrap_or_default();
        text.matches("\"sighting\"").count()
    };
    while sightings() < 2 && begun.elapsed() < Duration::from_secs(60) {
        std::thread::sleep(Duration::from_millis(5));
    }
    let pid = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(child.wait().unwrap().code(), Some(130));
    let done = sightings();
    assert!(
        (2..usize::from(MANY)).contains(&done),
        "{done} photos before the interruption"
    );
    let all = usize::from(MANY);
    folder.intake("Mill fair").exit(0).has(&format!(
        "{all} photos (new: {}, known before: {done}",
        all - done
    ));
    let csv = folder.path("lot.csv");
    folder
        .run(&["report", "Mill fair", "--csv", csv.to_str().unwrap()])
        .exit(0);
    let table = fs::read_to_string(csv).unwrap();
    assert_eq!(table.lines().count(), all + 1);
    assert!(!table.contains("not-looked-at"));
}
