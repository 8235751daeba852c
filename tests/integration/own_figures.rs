//! `blind`, `measure`, `intake --seen`, `library book` and the page of `library check`, from outside.

use std::fs;

use footring::answer::Verdict;
use footring::decision::blind::is_blind;

use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

/// A workspace with a family and photos that it names; one of them became its exemplar.
fn desk(photos: u8) -> Folder {
    desk_of(photos, 1)
}

/// The same with the exemplar `picture`.
fn desk_of(photos: u8, picture: u8) -> Folder {
    let folder = Folder::new();
    let crown = folder.family("m/crown", "used = \"1948/1962\"\n", &slope(picture));
    for n in 0..photos {
        folder.photo(format!("{n}.jpg"), &jpeg(&slope(n)));
    }
    folder.intake("Mill fair").exit(0);
    for n in 0..photos {
        let photo = folder.photo(format!("{n}.jpg"), &jpeg(&slope(n)));
        let named = mark(Verdict::Named, 20.0, &[("m/crown", 0.97, &crown)]);
        folder.plant(&photo, vec![named], &slope(9));
    }
    folder
}

#[test]
fn some_clear_answers_are_put_blind_and_what_is_said_is_kept() {
    let folder = desk(60);
    let drawn: Vec<String> = (0..60_u8)
        .filter(|n| is_blind(&folder.photo(format!("{n}.jpg"), &jpeg(&slope(*n))), 0))
        .map(|n| format!("{n}.jpg"))
        .collect();
    assert!(!drawn.is_empty() && drawn.len() < 12, "{drawn:?}");
    let said = folder
        .run(&["blind", "Mill fair"])
        .exit(0)
        .has("on your own photos: no figure yet (0 of 100 clear answers confirmed)")
        .lacks("crown");
    for name in &drawn {
        assert!(
            said.out.contains(&format!("/{name}  Mill fair")),
            "{name} in {}",
            said.out
        );
    }
    let first = drawn[0].as_str();
    folder
        .run(&["decide", first, "--family", "m/crown", "--blind"])
        .exit(0);
    folder
        .run(&["decide", first, "--history"])
        .exit(0)
        .has("the program would have said m/crown")
        .has("m/crown  holds");
    let other = (0..60_u8)
        .map(|n| format!("{n}.jpg"))
        .find(|n| !drawn.contains(n));
    folder
        .run(&["decide", &other.unwrap(), "--family", "m/crown"])
        .exit(0);
    folder
        .run(&["blind"])
        .exit(0)
        .has("no figure yet (1 of 100")
        .lacks(&format!("/{first} "));
    // What the program said is no decision to be taken back.
    folder
        .run(&["decide", first, "--undo"])
        .exit(0)
        .has("taken back: m/crown");
    folder
        .run(&["decide", first, "--undo"])
        .exit(2)
        .has("nothing is decided");
}

#[test]
fn a_mark_is_measured_and_a_variant_of_another_size_is_ruled_out() {
    let folder = desk(1);
    let family = folder.path("desk/library/m/crown");
    for (variant, size) in [("small", "10.0 ± 0.1"), ("large", "25.0 ± 0.1")] {
        fs::create_dir(family.join(variant)).unwrap();
        let text = format!("name = \"{variant}\"\nsize = \"{size}\"\n");
        fs::write(family.join(variant).join("mark.toml"), text).unwrap();
    }
    folder
        .run(&["measure", "0.jpg"])
        .exit(2)
        .has("nothing of known length is marked in 0.jpg")
        .has("footring measure 0.jpg --from X,Y --to X,Y --mm LENGTH");
    // A mark of 100 px, and 10 px a millimetre.
    let ruler = [
        "--from", "0,10", "--to", "500,10", "--mm", "50", "--error", "0.1",
    ];
    folder
        .run(&[&["measure", "0.jpg"], &ruler[..]].concat())
        .exit(0)
        .has("0.jpg, mark 1: 10.0 ± 0.3 mm")
        .has("may be small, which is 10.0 ± 0.1 mm")
        .has("not large, which is 25.0 ± 0.1 mm");
    folder
        .run(&["measure", "0.jpg", "--save", "m/crown"])
        .exit(0)
        .has("size of m/crown: 10.0 ± 0.3 mm");
    folder
        .run(&["library", "show", "m/crown"])
        .exit(0)
        .has("size: 10.0 ± 0.3 mm")
        .has("large  25.0 ± 0.1 mm");
    folder
        .run(&[
            "measure", "0.jpg", "--from", "0,0", "--to", "9,0", "--mm", "1",
        ])
        .exit(2)
        .has("too near to one another");
}

#[test]
fn photos_of_others_are_never_asked_for_again_and_are_no_pieces() {
    let folder = Folder::new();
    folder.family("m/crown", "", &slope(1));
    folder.photo("page.jpg", &jpeg(&slope(3)));
    folder
        .run(&["intake", "../sale", "--lot", "Seen in May", "--seen"])
        .exit(0);
    let photo = folder.photo("page.jpg", &jpeg(&slope(3)));
    folder.plant(&photo, vec![mark(Verdict::Reshoot, 20.0, &[])], &slope(9));
    folder
        .run(&["sort", "--lot", "Seen in May", "--json"])
        .exit(0)
        .lacks("again");
    folder
        .run(&["piece", "new", "page.jpg"])
        .exit(2)
        .has("page.jpg is a photo of somebody else's");
    let journal = folder.journal();
    assert_eq!(journal.matches("\"not-mine\"").count(), 1);
    folder
        .run(&["intake", "../sale", "--lot", "Seen in May", "--seen"])
        .exit(0);
    assert_eq!(folder.journal().matches("\"not-mine\"").count(), 1);
    folder.plant(&photo, vec![mark(Verdict::Unknown, 20.0, &[])], &slope(9));
    // A family that is made of it does not pass for one's own photo.
    folder
        .run(&["library", "new", "m/rose", "--from", "page.jpg"])
        .exit(0);
    let text = fs::read_to_string(folder.path("desk/library/m/rose/mark.toml")).unwrap();
    assert!(text.contains("photo of somebody else's page.jpg"), "{text}");
}

#[test]
fn the_library_becomes_a_book_and_the_check_a_page() {
    let folder = desk(1);
    folder.family(
        "m/anchor",
        "used = \"1920\"\nsources = \"Potteries of Norvast, p. 12\"\n",
        &slope(2),
    );
    folder
        .run(&[
            "library",
            "cite",
            "m/crown",
            "--observed",
            "on a dated jug",
            "--on",
            "2026-05-02",
        ])
        .exit(0)
        .has("own observation, 2026-05-02: on a dated jug");
    folder
        .run(&[
            "library",
            "book",
            "../marks.html",
            "--title",
            "Marks of Norvast",
        ])
        .exit(0)
        .has("2 marks of 1 makers");
    let page = fs::read_to_string(folder.path("marks.html")).unwrap();
    let at = |text: &str| page.find(text).unwrap_or_else(|| panic!("no {text}"));
    assert!(at("m/anchor") < at("m/crown"), "by date");
    assert!(at("on a dated jug") > 0 && at("Potteries of Norvast, p. 12") > 0);
    assert!(page.contains("data:image/jpeg") && !page.contains("<script"));
    folder
        .run(&["library", "book", "../none.html", "--maker", "nobody"])
        .exit(2)
        .has("the library has no maker `nobody`");
    folder
        .run(&["library", "check", "--html", "../check.html"])
        .exit(0);
    let page = fs::read_to_string(folder.path("check.html")).unwrap();
    assert!(page.contains("No figure yet") && !page.contains("<script"));
}

#[test]
fn finished_lots_teach_how_common_strangers_are() {
    // No exemplar stems from a photo of the lot: the family was there before.
    let folder = desk_of(64, 201);
    for n in 0..64_u8 {
        let name = format!("{n}.jpg");
        let said: &[&str] = match n {
            0..24 => &["--family", "m/crown"],
            _ => &["--unknown"],
        };
        folder.run(&[&["decide", &name], said].concat()).exit(0);
    }
    let check = ["library", "check", "--most", "1"];
    // 40 of 64, drawn towards the usual share by 40 marks of it.
    folder
        .run(&check)
        .exit(0)
        .has("in 1 finished lot the library did not have 40 of 64 marks: 56 % would be reckoned with instead of 45 %");
    folder
        .run(&[&check[..], &["--fit"]].concat())
        .exit(0)
        .has("from now on 56 % of the marks are reckoned not to be in the library");
    let limits = fs::read_to_string(folder.path("desk/library/limits.toml")).unwrap();
    assert!(limits.contains("strangers = 0.557"), "{limits}");
    // The odds of none, 0.03, become 1.55 times as high: 0.97 of 1.037.
    let crown = folder.family("m/crown", "used = \"1948/1962\"\n", &slope(201));
    let photo = folder.photo("later.jpg", &jpeg(&slope(200)));
    folder.intake("Hill fair").exit(0);
    let named = mark(Verdict::Named, 20.0, &[("m/crown", 0.97, &crown)]);
    folder.plant(&photo, vec![named], &slope(9));
    folder.run(&["report", "Hill fair"]).exit(0).has("94 %");
}
