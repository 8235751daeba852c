//! `library rename`, `merge`, `split`, `remove`, `undo` and `add` from outside.

use std::fs;

use footring::answer::Verdict;
use image::{Rgb, RgbImage};

use crate::support::{jpeg, png, slope};
use crate::workspace_folder::{Folder, mark};

/// A made-up mark: bars whose places depend on the seed.
fn bars(seed: u32) -> RgbImage {
    let mut seed = seed;
    let mut next = |n: u32| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (seed >> 16) % n
    };
    let bars: Vec<[u32; 4]> = (0..12)
        .map(|_| [60 + next(120), 50 + next(90), 8 + next(40), 4 + next(8)])
        .collect();
    RgbImage::from_fn(240, 200, |x, y| {
        let on = bars
            .iter()
            .any(|b| (b[0]..b[0] + b[2]).contains(&x) && (b[1]..b[1] + b[3]).contains(&y));
        Rgb(if on { [50, 70, 60] } else { [222, 220, 212] })
    })
}

/// Two families, and two photos with a mark each.
fn desk() -> Folder {
    let folder = Folder::new();
    folder.family("m/crown", "", &bars(1));
    folder.family("m/anchor", "", &bars(2));
    for (name, seed) in [("one.jpg", 3), ("two.jpg", 4)] {
        folder.photo(name, &jpeg(&slope(seed)));
    }
    folder.intake("Mill fair").exit(0);
    for (name, seed) in [("one.jpg", 3), ("two.jpg", 4)] {
        let photo = folder.photo(name, &jpeg(&slope(seed)));
        folder.plant(
            &photo,
            vec![mark(Verdict::Unknown, 20.0, &[])],
            &bars(seed.into()),
        );
    }
    folder
}

fn decide(folder: &Folder, photo: &str, family: &str) {
    folder.run(&["decide", photo, "--family", family]).exit(0);
}

#[test]
fn decisions_follow_a_new_name_and_a_merger() {
    let folder = desk();
    decide(&folder, "one.jpg", "m/crown");
    folder
        .run(&["library", "rename", "m/crown", "k/crown", "--name", "Crown"])
        .exit(0)
        .has("k/crown: was m/crown; 1 exemplar; 1 decision follows");
    folder
        .run(&["library", "list"])
        .exit(0)
        .has("k\n  crown   1 exemplar, 1 decided  Crown\n");
    decide(&folder, "two.jpg", "m/crown");
    // The second decision was written down with the new id, which would be nobody's.
    folder
        .run(&["library", "undo"])
        .exit(2)
        .has("1 decision made since names k/crown")
        .has("give it its old id");
    folder
        .run(&["library", "merge", "m/crown", "m/anchor"])
        .exit(0)
        .has("m/anchor: 2 exemplars now, was k/crown as well; 2 decisions follow");
    folder
        .run(&["library", "list"])
        .exit(0)
        .has("m\n  anchor  2 exemplars, 2 decided");
    assert!(!folder.path("desk/library/k").exists());
    folder
        .run(&["library", "undo"])
        .exit(0)
        .has("taken back: merge k/crown into m/anchor");
    folder.run(&["library", "list"]).has("2 decided  Crown");
}

#[test]
fn what_is_removed_or_split_off_comes_back() {
    let folder = desk();
    decide(&folder, "one.jpg", "m/crown");
    let family = folder.path("desk/library/m/crown");
    fs::write(family.join("second.png"), png(&bars(5))).unwrap();
    folder
        .run(&["library", "split", "m/crown", "m/rose", "second.png"])
        .exit(0)
        .has("split 1 picture of m/crown off as m/rose")
        .has("1 decision stays with m/crown");
    folder
        .run(&["library", "remove", "m/crown", "none.jpg"])
        .exit(2)
        .has("it has exemplar.jpg");
    folder
        .run(&["library", "remove", "m/crown"])
        .exit(0)
        .has("1 decision names m/crown, which the library lacks now");
    assert!(!family.exists());
    folder
        .run(&["library", "undo"])
        .exit(0)
        .has("taken back: remove m/crown");
    folder
        .run(&["library", "undo"])
        .exit(0)
        .has("taken back: split");
    assert!(family.join("second.png").exists());
    folder
        .run(&["library", "undo"])
        .exit(2)
        .has("nothing to take back");
}

#[test]
fn a_change_that_was_cut_short_is_told() {
    let folder = desk();
    let library = folder.path("desk/library");
    folder.run(&["library", "remove", "m/crown"]).exit(0);
    // As if the program had died after its list was written.
    let change = library.join(".changes/000001");
    fs::rename(change.join("made.json"), change.join("begun.json")).unwrap();
    fs::rename(change.join("old/0"), library.join("m/crown")).unwrap();
    folder
        .run(&["library", "list"])
        .has("`remove m/crown` was cut short and is finished now")
        .lacks("crown   1");
    folder.run(&["library", "list"]).exit(0).lacks("cut short");
}

#[test]
fn what_teaches_nothing_is_not_taken() {
    let folder = desk();
    let add = |picture: &str| folder.run(&["library", "add", "m/crown", picture]);
    add("one.jpg").exit(0).has(
        "you have not decided that it shows m/crown: footring decide one.jpg --family m/crown",
    );
    folder
        .run(&["decide", "one.jpg", "--family", "m/crown", "--probably"])
        .exit(0);
    add("one.jpg")
        .exit(0)
        .has("you decided `probably`, and what is not sure teaches nothing");
    decide(&folder, "one.jpg", "m/anchor");
    add("one.jpg")
        .exit(0)
        .has("you decided that it shows m/anchor");
    decide(&folder, "one.jpg", "m/crown");
    fs::write(folder.path("desk/again.png"), png(&bars(1))).unwrap();
    add("again.png")
        .exit(0)
        .has("it is exemplar.jpg saved again")
        .has("--anyway");
    let other = folder.path("desk/library/m/anchor/exemplar.jpg");
    add(&other.to_string_lossy())
        .exit(0)
        .has("the very same picture is an exemplar of m/anchor");
    assert!(!folder.path("desk/library/.changes").exists());
    folder
        .run(&["library", "add", "m/crown", "one.jpg", "--anyway"])
        .exit(0)
        .has("one.jpg: taken as you wish")
        .has("m/crown: 2 exemplars now");
    let text = fs::read_to_string(folder.path("desk/library/m/crown/mark.toml")).unwrap();
    assert!(
        text.contains("file = \"one.jpg\"") && text.contains("photo = \""),
        "{text}"
    );
    add("one.jpg")
        .exit(0)
        .has("an exemplar was cut from this photo already");
}

#[test]
fn another_shot_of_the_same_piece_is_not_taken() {
    let folder = desk();
    decide(&folder, "one.jpg", "m/crown");
    decide(&folder, "two.jpg", "m/crown");
    folder
        .run(&["library", "add", "m/crown", "one.jpg", "--anyway"])
        .exit(0);
    // `--anyway` looked at both photos again, in which the engine finds no mark.
    for (name, seed) in [("one.jpg", 3), ("two.jpg", 4)] {
        let photo = folder.photo(name, &jpeg(&slope(seed)));
        folder.plant(
            &photo,
            vec![mark(Verdict::Unknown, 20.0, &[])],
            &bars(seed.into()),
        );
    }
    folder
        .run(&["piece", "new", "underside=one.jpg", "side=two.jpg"])
        .exit(0);
    folder
        .run(&["library", "add", "m/crown", "two.jpg"])
        .exit(0)
        .has("two.jpg: not taken: an exemplar shows the same piece, or the same shot saved again");
}
