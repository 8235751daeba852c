//! `sheet` from outside: what needs the eye, by what is to be done, from what the workspace keeps.

use std::fs;

use footring::answer::{Twin, Verdict};

use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

/// The library's exemplar with the box of its mark.
const BOX: &str =
    "[[image]]\nfile = \"exemplar.jpg\"\nquad = [[10, 10], [110, 10], [110, 110], [10, 110]]\n";

/// A lot of five photos: a choice, a near-twin, an unknown mark, one to take again, a named one.
fn lot() -> Folder {
    let folder = Folder::new();
    let crown = folder.family("mill-lane/crown", BOX, &slope(9));
    let copy = folder.family("mill-lane/copy", BOX, &slope(8));
    let photos: Vec<_> = (1..6)
        .map(|n| folder.photo(format!("IMG_{n}.jpg"), &jpeg(&slope(n))))
        .collect();
    folder.intake("Mill fair").exit(0);
    let both = [
        ("mill-lane/crown", 0.6, &crown),
        ("mill-lane/copy", 0.3, &copy),
    ];
    let mut twin = mark(Verdict::Choose, 0.0, &both[..1]);
    twin.twins.push(Twin {
        family: "mill-lane/copy".into(),
        tell: Some("the <ribbon> is forked".into()),
    });
    let marks = [
        mark(Verdict::Choose, 0.0, &both),
        twin,
        mark(Verdict::Unknown, 0.0, &[]),
        mark(Verdict::Reshoot, 0.0, &both[..1]),
        mark(Verdict::Named, 0.0, &both[..1]),
    ];
    for (photo, mark) in photos.iter().zip(marks) {
        folder.plant(photo, vec![mark], &slope(3));
    }
    folder
}

#[test]
fn the_page_groups_what_needs_the_eye_and_needs_no_photos() {
    let folder = lot();
    fs::remove_dir_all(folder.path("sale")).unwrap();
    folder
        .run(&["sheet", "Mill fair"])
        .exit(0)
        .has("mill-fair-to-look-at.html: 4 marks to look at");
    let page = fs::read_to_string(folder.desk().join("mill-fair-to-look-at.html")).unwrap();
    let at = |part: &str| page.find(part).unwrap_or_else(|| panic!("no {part:?}"));
    assert!(at("id=\"choose\"") < at("id=\"twin\""));
    assert!(
        at("id=\"twin\"") < at("id=\"research\"") && at("id=\"research\"") < at("id=\"again\"")
    );
    for wanted in [
        "the &lt;ribbon&gt; is forked",
        "footring decide",
        "proves nothing",
        "photo 2 of 5: after IMG_1.jpg, before IMG_3.jpg",
        "☐ taken again",
    ] {
        at(wanted);
    }
    // Photo and ink of each, and three pictures a family: two to choose from, one or two for the twin and
    // the one to take again, none for the unknown mark.
    let pictures = page.matches("<img src=\"data:image/jpeg;base64,").count();
    assert!(pictures >= 4 * 2 + 4 * 3, "{pictures}");
    for never in [
        "\"name\">IMG_5.jpg",
        "<script",
        "http://",
        "https://",
        "url(",
    ] {
        assert!(!page.contains(never), "{never}");
    }
}

#[test]
fn what_was_decided_needs_the_eye_no_more() {
    let folder = lot();
    for n in 1..5 {
        let photo = format!("IMG_{n}.jpg");
        folder
            .run(&["decide", &photo, "--family", "mill-lane/crown"])
            .exit(0);
    }
    folder
        .run(&["sheet", "Mill fair", "--out", "look.html"])
        .exit(0)
        .has("look.html: 0 marks to look at");
    let page = fs::read_to_string(folder.desk().join("look.html")).unwrap();
    assert!(page.contains("Nothing in this lot needs your eye."));
}
