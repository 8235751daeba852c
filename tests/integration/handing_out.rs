//! Talks, labels, sidecars and a museum's format: what is in them, and what must not be.

use std::fs;

use footring::decision::{Certainty, Region, Statement};
use footring::geometry::Quad;
use image::{Rgb, RgbImage};

use crate::pieces::{library, photo, say};
use crate::support::jpeg;
use crate::workspace_folder::Folder;

/// A marked cup with a side photo, of which much is said that must not leave; and a bare saucer.
fn two_pieces() -> Folder {
    let folder = Folder::new();
    library(
        &folder,
        "hollin/maker.toml",
        "names = [\"Hollin & Vale <Pottery>\"]\n",
    );
    let mark = "name = \"Fern in a ring\"\nused = \"1927/1936\"\n";
    library(&folder, "hollin/fern-ring/mark.toml", mark);
    let base = photo(&folder, "fair", "base.jpg", 1);
    photo(&folder, "fair", "side.jpg", 2);
    let bare = photo(&folder, "fair", "bare.jpg", 3);
    let ring = Statement::Family("hollin/fern-ring".to_owned());
    say(&folder, &base, ring, Certainty::Sure);
    say(&folder, &bare, Statement::NoMark, Certainty::Sure);
    let words = [
        "piece",
        "new",
        "underside=base.jpg",
        "side=side.jpg",
        "--form",
        "coffee cup",
        "--size",
        "diameter 82, height 61",
        "--technique",
        "decal",
        "--condition",
        "crazed",
        "--cost",
        "EUR 3.75",
        "--asked",
        "EUR 22",
        "--owner",
        "Aunt Odile",
        "--place",
        "attic shelf",
        "--notes",
        "from the blue cupboard",
    ];
    folder.run(&words).exit(0);
    folder
        .run(&[
            "piece",
            "new",
            "underside=bare.jpg",
            "--form",
            "saucer",
            "--probably",
        ])
        .exit(0);
    folder
}

const SECRETS: [&str; 5] = ["3.75", "Odile", "attic", "cupboard", "/sale"];

fn read(folder: &Folder, name: &str) -> String {
    fs::read_to_string(folder.desk().join(name)).unwrap()
}

#[track_caller]
fn keeps_secrets(text: &str) {
    for secret in SECRETS {
        assert!(!text.contains(secret), "{secret} in {text}");
    }
}

#[test]
fn a_talk_has_the_order_and_the_lines_that_were_asked_for() {
    let folder = two_pieces();
    folder
        .run(&["talk", "2", "1", "--draft", "talk.txt"])
        .exit(0);
    let draft = read(&folder, "talk.txt");
    assert!(draft.contains("piece 2\nUnmarked. Its maker is unknown.\n"));
    assert!(draft.contains("\nMade between 1927 and 1936.\n"));
    // What a person has written is not written over.
    folder
        .run(&["talk", "1", "--draft", "talk.txt"])
        .exit(2)
        .has("is there already");
    fs::write(
        folder.desk().join("talk.txt"),
        "piece 2\nLook at the <glaze>.\n\npiece 1\n",
    )
    .unwrap();
    let words = ["talk", "--from", "talk.txt", "--html", "talk.html"];
    folder.run(&words).exit(0).has("talk: talk.html");
    let page = read(&folder, "talk.html");
    let at = |text: &str| page.find(text).unwrap_or_else(|| panic!("no {text}"));
    assert!(at("Possibly saucer") < at("Look at the &lt;glaze&gt;."));
    assert!(at("Look at the") < at("Coffee cup"));
    assert!(page.contains("Made between 1927 and 1936.") && page.contains("underside, unmarked"));
    assert!(page.contains("data:image/jpeg") && !page.contains("http"));
    keeps_secrets(&page);
    fs::write(folder.desk().join("talk.txt"), "piece 9\n").unwrap();
    folder.run(&words).exit(2).has("there is no piece 9");
    fs::write(folder.desk().join("talk.txt"), "hello\n").unwrap();
    folder.run(&words).exit(2).has("talk.txt: line 1: `hello`");
}

#[test]
fn the_mark_of_a_talk_is_cut_out_of_its_photo() {
    let folder = Folder::new();
    let hash = photo(&folder, "fair", "base.jpg", 1);
    let size = crate::support::slope(1).dimensions();
    let region = Region::new(&Quad::upright(2.0, 2.0, 12.0, 10.0));
    let said = footring::workspace::Said {
        about: footring::decision::About::Mark(hash, region),
        statement: Statement::Family("hollin/fern-ring".to_owned()),
        certainty: Certainty::Sure,
        replaces: None,
    };
    let mut workspace = crate::pieces::open(&folder);
    workspace.decide(crate::pieces::moment(), said).unwrap();
    folder.run(&["piece", "new", "underside=base.jpg"]).exit(0);
    folder.run(&["talk", "1", "--html", "t.html"]).exit(0);
    let page = read(&folder, "t.html");
    assert!(size.0 > 20, "the photo is larger than its mark");
    // Ten pixels, and about a third of them on either side, cut at the edge.
    assert!(page.contains("width=\"15\""), "{page}");
}

/// The code of a label as it would lie in a photo, `px` pixels a module.
fn photographed(labels: &str, px: u32) -> RgbImage {
    let path = labels.split("path d=\"").nth(1).unwrap();
    let path = path.split('"').next().unwrap();
    let mut photo = RgbImage::from_pixel(640, 480, Rgb([150, 146, 140]));
    let mut fill = |x: u32, y: u32, side: u32, grey: u8| {
        for at in 0..side * side {
            photo.put_pixel(150 + x + at % side, 90 + y + at / side, Rgb([grey; 3]));
        }
    };
    fill(0, 0, 37 * px, 236);
    for module in path.split('M').skip(1) {
        let place = module.split('h').next().unwrap();
        let (x, y) = place.split_once(' ').unwrap();
        let (x, y): (u32, u32) = (x.parse().unwrap(), y.parse().unwrap());
        fill(x * px, y * px, px, 34);
    }
    photo
}

#[test]
fn a_label_printed_is_found_in_a_photo_and_its_piece_offered() {
    let folder = two_pieces();
    folder
        .run(&["labels", "--html", "l.html", "1", "--prices"])
        .exit(0);
    let labels = read(&folder, "l.html");
    assert!(labels.contains("Coffee cup") && labels.contains("EUR 22"));
    assert!(labels.contains("marked Hollin &amp; Vale &lt;Pottery&gt;"));
    assert!(labels.contains("Not for food or drink until tested"));
    keeps_secrets(&labels);
    folder.run(&["labels", "--html", "l2.html", "1"]).exit(0);
    assert!(!read(&folder, "l2.html").contains("EUR 22"));
    folder
        .run(&["labels", "--read"])
        .exit(0)
        .has("no label lies in the 0 photos of no piece");

    let bytes = jpeg(&photographed(&labels, 6));
    folder.photo("later/with-label.jpg", &bytes);
    folder
        .run(&["intake", "../sale/later", "--lot", "fair"])
        .exit(0)
        .has("with-label.jpg: the label of piece 1: footring piece set 1 --photo with-label.jpg");
    folder
        .run(&["labels", "--read", "--lot", "fair"])
        .exit(0)
        .has("with-label.jpg: the label of piece 1 (coffee cup): footring piece set 1 --photo");
    folder
        .run(&["piece", "set", "1", "--photo", "with-label.jpg"])
        .exit(0);
    folder
        .run(&["labels", "--read"])
        .exit(0)
        .has("no label lies in");
    // The same number in another workspace is another piece; labels tell pieces apart by the second they were made.
    std::thread::sleep(std::time::Duration::from_millis(1100));
    let other = two_pieces();
    fs::create_dir(other.path("sale/later")).unwrap();
    other.photo("later/with-label.jpg", &bytes);
    other
        .run(&["intake", "../sale/later", "--lot", "fair"])
        .exit(0)
        .has("a label of no piece of this workspace (FOOTRING:1:");
}

#[test]
fn sidecars_stand_beside_copies_and_beside_originals_only_when_asked() {
    let folder = two_pieces();
    folder
        .run(&["xmp", "--into", "club"])
        .exit(0)
        .has("3 sidecars");
    let cup = read(&folder, "club/0001-1-underside.xmp");
    for part in [
        "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">Coffee cup</rdf:li>",
        "Marked by Hollin &amp; Vale &lt;Pottery&gt;",
        "<rdf:li>cups (drinking vessels)</rdf:li>",
        "Photo of the underside: Coffee cup",
        "no authentication and no appraisal",
    ] {
        assert!(cup.contains(part), "no {part} in {cup}");
    }
    keeps_secrets(&cup);
    // Of what the person is not sure, no key word is made.
    let saucer = read(&folder, "club/0002-1-underside.xmp");
    assert!(saucer.contains("Possibly saucer") && !saucer.contains("<rdf:li>saucer</rdf:li>"));
    assert!(folder.desk().join("club/0001-2-side.jpg").exists());
    let beside = folder.path("sale/base.xmp");
    assert!(!beside.exists());
    folder
        .run(&["xmp", "--beside-originals", "1"])
        .exit(0)
        .has("2 sidecars");
    assert!(beside.exists());
    folder.run(&["xmp", "--beside-originals", "1"]).exit(0);
    fs::write(&beside, "<x:xmpmeta x:xmptk=\"another\"/>").unwrap();
    folder
        .run(&["xmp", "--beside-originals", "1"])
        .exit(1)
        .has("base.xmp is another program's and stays as it is");
    assert!(fs::read_to_string(&beside).unwrap().contains("another"));
    folder.run(&["xmp"]).exit(2);
}

/// A photo with a place and a serial number in it.
fn with_exif(pixels: &RgbImage) -> Vec<u8> {
    let plain = jpeg(pixels);
    let mut exif = b"Exif\0\0II\x2a\0\x08\0\0\0\x01\0".to_vec();
    // One entry: 0xA431, body serial number, ASCII, inside the IFD's tail.
    let serial = b"SN-4711-GPS\0";
    exif.extend([0x31, 0xa4, 2, 0, serial.len() as u8, 0, 0, 0, 26, 0, 0, 0]);
    exif.extend([0, 0, 0, 0]);
    exif.extend(serial);
    let length = u16::try_from(exif.len() + 2).unwrap().to_be_bytes();
    [&plain[..2], &[0xff, 0xe1], &length, &exif, &plain[2..]].concat()
}

#[test]
fn nothing_of_the_camera_leaves_with_a_copy() {
    let folder = two_pieces();
    let bytes = with_exif(&crate::support::slope(9));
    assert!(bytes.windows(7).any(|w| w == b"SN-4711"));
    folder.photo("later/told.jpg", &bytes);
    folder
        .run(&["intake", "../sale/later", "--lot", "fair"])
        .exit(0);
    folder.run(&["piece", "new", "side=told.jpg"]).exit(0);
    folder.run(&["xmp", "--into", "club", "3"]).exit(0);
    folder.run(&["talk", "3", "--html", "t.html"]).exit(0);
    folder.run(&["catalogue", "--html", "c.html"]).exit(0);
    let copy = fs::read(folder.desk().join("club/0003-1-side.jpg")).unwrap();
    assert!(!copy.windows(7).any(|w| w == b"SN-4711"));
    assert!(!copy.windows(4).any(|w| w == b"Exif"));
}

#[test]
fn a_museum_is_told_what_is_marked_and_what_is_attributed() {
    let folder = two_pieces();
    folder.run(&["sets", "pair", "--add", "1", "2"]).exit(0);
    folder
        .run(&["lido", "--xml", "all.xml"])
        .exit(0)
        .has("2 pieces: all.xml");
    let text = read(&folder, "all.xml");
    for part in [
        "http://vocab.getty.edu/aat/300043202",
        "<lido:term>coffee cup</lido:term>",
        "<lido:earliestDate>1927-01-01</lido:earliestDate>",
        "<lido:latestDate>1936-12-31</lido:latestDate>",
        "<lido:attributionQualifierActor>marked</lido:attributionQualifierActor>",
        "maker: Hollin &amp; Vale &lt;Pottery&gt;, attributed, by its partner, piece 1",
        "<lido:measurementValue>82</lido:measurementValue>",
        "private collection",
        "<lido:term>possibly saucer</lido:term>",
    ] {
        assert!(text.contains(part), "no {part} in {text}");
    }
    assert_eq!(text.matches("<lido:lido>").count(), 2);
    assert!(!text.contains("aat/300195535"), "a form not sure has no id");
    keeps_secrets(&text);
}

#[test]
fn a_timeline_is_a_drawing_or_a_picture() {
    let folder = two_pieces();
    folder
        .run(&[
            "timeline", "--svg", "t.svg", "--png", "t.png", "--title", "Two",
        ])
        .exit(0)
        .has("timeline: t.svg")
        .has("timeline: t.png");
    let picture = image::open(folder.desk().join("t.png")).unwrap().to_rgb8();
    assert_eq!(picture.width(), 2000);
    let bar = picture.pixels().filter(|p| p.0 == [0x1d, 0x3f, 0x7d]);
    assert!(bar.count() > 1000);
    folder.run(&["timeline"]).exit(2);
}
