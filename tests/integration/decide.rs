//! `decide` from outside: the person's word stays.

use footring::answer::Verdict;

use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

/// A lot with one photo of two marks, one of one mark and one of none; a library of two families.
fn lot() -> Folder {
    let folder = Folder::new();
    let crown = folder.family(
        "mill-lane/crown",
        "was = [\"mill-lane/old-crown\"]\n",
        &slope(9),
    );
    let bell = folder.family("weir/bell", "", &slope(8));
    let two = folder.photo("two.jpg", &jpeg(&slope(1)));
    let one = folder.photo("one.jpg", &jpeg(&slope(2)));
    let none = folder.photo("none.jpg", &jpeg(&slope(3)));
    folder.intake("Mill fair").exit(0);
    let both = [("mill-lane/crown", 0.5, &crown), ("weir/bell", 0.45, &bell)];
    let marks = vec![
        mark(Verdict::Choose, 0.0, &both),
        mark(Verdict::Unknown, 300.0, &both[1..]),
    ];
    folder.plant(&two, marks, &slope(1));
    folder.plant(&one, vec![mark(Verdict::Named, 0.0, &both[..1])], &slope(2));
    folder.plant(&none, Vec::new(), &slope(3));
    folder
}

#[test]
fn a_decision_is_shown_and_a_second_intake_does_not_change_it() {
    let folder = lot();
    folder
        .run(&["decide", "one.jpg", "--family", "weir/bell", "--probably"])
        .exit(0)
        .has("one.jpg, mark 1: probably weir/bell (number 2)");
    let shown = "probably weir/bell  (your decision of ";
    folder.run(&["report", "Mill fair"]).exit(0).has(shown);
    folder.family("weir/anchor", "", &slope(7));
    folder.intake("Mill fair").exit(0);
    folder
        .run(&["report", "Mill fair"])
        .exit(0)
        .has("probably weir/bell");
    folder
        .run(&["decide", "one.jpg", "--history"])
        .exit(0)
        .has("probably weir/bell  holds");
}

#[test]
fn undo_goes_back_one_decision_and_history_keeps_all() {
    let folder = lot();
    folder
        .run(&["decide", "one.jpg", "--family", "weir/bell"])
        .exit(0);
    folder
        .run(&["decide", "one.jpg", "--unknown"])
        .exit(0)
        .has("not in the library, in place of weir/bell (number 3)");
    folder
        .run(&["decide", "one.jpg", "--unknown"])
        .exit(0)
        .has("as decided before (number 3)");
    folder
        .run(&["decide", "one.jpg", "--undo"])
        .exit(0)
        .has("taken back: not in the library; holds again: weir/bell");
    folder
        .run(&["decide", "one.jpg", "--undo"])
        .exit(0)
        .has("taken back: weir/bell");
    folder
        .run(&["decide", "one.jpg", "--undo"])
        .exit(2)
        .has("nothing is decided on one.jpg");
    let history = folder.run(&["decide", "one.jpg", "--history"]).exit(0).out;
    // The first record tells what the program said.
    assert_eq!(history.lines().count(), 5, "{history}");
    assert_eq!(folder.journal().matches("\"decision\"").count(), 5);
}

#[test]
fn several_marks_are_told_apart() {
    let folder = lot();
    folder
        .run(&["decide", "two.jpg", "--family", "weir/bell"])
        .exit(2)
        .has("two.jpg has 2 marks: say which one by `--mark`")
        .has("1 choose (mill-lane/crown), 2 unknown (weir/bell)");
    folder
        .run(&["decide", "two.jpg", "--mark", "2", "--family", "weir/bell"])
        .exit(0)
        .has("two.jpg, mark 2: weir/bell");
    folder
        .run(&["decide", "two.jpg", "--mark", "3", "--unknown"])
        .exit(2)
        .has("two.jpg has 2 marks, no mark 3");
    let text = folder.run(&["report", "Mill fair"]).exit(0).out;
    let decided = text.lines().find(|l| l.contains("two.jpg [2]")).unwrap();
    assert!(decided.contains("weir/bell  (your decision"), "{text}");
    folder
        .run(&["decide", "none.jpg", "--mark", "1", "--unknown"])
        .exit(2);
}

#[test]
fn an_unknown_family_offers_the_nearest_and_an_old_id_is_followed() {
    let folder = lot();
    folder
        .run(&["decide", "one.jpg", "--family", "mill-lane/crwon"])
        .exit(2)
        .has("the library has no family `mill-lane/crwon`")
        .has("hint: nearest: `mill-lane/crown`");
    folder
        .run(&["decide", "one.jpg", "--family", "crown"])
        .exit(2)
        .has("nearest: `mill-lane/crown`");
    folder
        .run(&["decide", "one.jpg", "--family", "mill-lane/old-crown"])
        .exit(0)
        .has("`mill-lane/old-crown` is now `mill-lane/crown`")
        .has("one.jpg, mark 1: mill-lane/crown");
}

#[test]
fn a_name_that_means_two_photos_lists_them() {
    let folder = lot();
    folder.photo("more/one.jpg", &jpeg(&slope(4)));
    folder.intake("Mill fair").exit(0);
    folder
        .run(&["decide", "one.jpg", "--again"])
        .exit(2)
        .has("`one.jpg` could mean 2 photos: ")
        .has("hint: name the photo by the first digits of its hash");
    folder
        .run(&["decide", "../sale/more/one.jpg", "--again"])
        .exit(0)
        .has("take again");
}

#[test]
fn exactly_one_thing_is_said() {
    let folder = lot();
    folder.run(&["decide", "one.jpg"]).exit(2);
    folder
        .run(&["decide", "one.jpg", "--unknown", "--again"])
        .exit(2);
    folder
        .run(&["decide", "one.jpg", "--undo", "--probably"])
        .exit(2);
}
