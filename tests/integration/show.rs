//! `show` from outside: one sheet a mark, never over a picture, and from the kept crop where the photo has
//! gone.

use std::fs;
use std::path::Path;

use image::GenericImageView;

use crate::support::Tool;
use crate::workspace_folder::Folder;

/// Photos of the shipped sale: a mark that is named, one that the library does not have, a bare base.
const NAMED: &str = "IMG_0034.jpg";
const FAMILY: &str = "varnholt/sun-morning";
const UNKNOWN: &str = "IMG_0039.jpg";
const BARE: &str = "IMG_0021.jpg";

fn shipped(path: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
}

fn photo(name: &str) -> Vec<u8> {
    shipped(&format!("src/demo/sale/{name}"))
}

/// A library of one family, and the photos.
fn desk(photos: &[&str]) -> Tool {
    let tool = Tool::new()
        .file(
            format!("library/{FAMILY}/mark.toml"),
            shipped(&format!("reference-marks/{FAMILY}/mark.toml")),
        )
        .file(
            format!("library/{FAMILY}/mark.png"),
            shipped(&format!("reference-marks/{FAMILY}/mark.png")),
        );
    photos
        .iter()
        .fold(tool, |tool, name| tool.photo(name, photo(name)))
}

#[test]
fn a_named_mark_is_drawn_beside_the_librarys() {
    let ran = desk(&[NAMED])
        .args(["show", "--library", "library", "sale/IMG_0034.jpg"])
        .stdout(&format!("IMG_0034-mark.png: {NAMED}, beside {FAMILY}"))
        .exit(0);
    let sheet = image::open(ran.folder.path().join("IMG_0034-mark.png")).unwrap();
    // Three rows of two pictures, each at least 600 px wide.
    assert!(
        sheet.width() > 1200 && sheet.height() > 1200,
        "{:?}",
        sheet.dimensions()
    );
    assert_eq!(
        fs::read(ran.folder.path().join("sale").join(NAMED)).unwrap(),
        photo(NAMED)
    );
}

#[test]
fn an_unknown_mark_is_drawn_alone_and_a_bare_base_whole() {
    let ran = desk(&[UNKNOWN])
        .args([
            "show",
            "--library",
            "library",
            "--out",
            "odd.jpg",
            "sale/IMG_0039.jpg",
        ])
        .stdout("odd.jpg: IMG_0039.jpg, alone: no mark of the library is laid over it")
        .stderr("--against")
        .exit(0);
    assert!(image::open(ran.folder.path().join("odd.jpg")).is_ok());
    desk(&[BARE])
        .args(["show", "--library", "library", "sale/IMG_0021.jpg"])
        .stdout("whole: no mark was found in it")
        .exit(0);
}

#[test]
fn what_is_there_already_stays() {
    let ran = desk(&[NAMED])
        .file("IMG_0034-mark.png", b"mine")
        .args(["show", "--library", "library", "sale/IMG_0034.jpg"])
        .stderr("IMG_0034-mark.png is there already and was left as it is")
        .stderr("--out FILE.png")
        .exit(2);
    assert_eq!(
        fs::read(ran.folder.path().join("IMG_0034-mark.png")).unwrap(),
        b"mine"
    );
    let ran = desk(&[NAMED])
        .args([
            "show",
            "--library",
            "library",
            "--out",
            "sale/IMG_0034.jpg",
            "sale/IMG_0034.jpg",
        ])
        .stderr("is a picture and was left as it is")
        .exit(2);
    assert_eq!(
        fs::read(ran.folder.path().join("sale").join(NAMED)).unwrap(),
        photo(NAMED)
    );
    desk(&[NAMED])
        .args([
            "show",
            "--library",
            "library",
            "--out",
            "sheet.gif",
            "sale/IMG_0034.jpg",
        ])
        .stderr("sheet.gif is neither .png nor .jpg")
        .exit(2);
}

#[test]
fn the_kept_crop_serves_where_the_photo_has_gone() {
    let folder = Folder::new();
    folder.photo(NAMED, &photo(NAMED));
    for file in ["mark.toml", "mark.png"] {
        let path = folder.desk().join("library").join(FAMILY).join(file);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, shipped(&format!("reference-marks/{FAMILY}/{file}"))).unwrap();
    }
    folder.intake("Mill fair").exit(0);
    fs::remove_dir_all(folder.path("sale")).unwrap();
    folder
        .run(&["show", NAMED])
        .exit(0)
        .has(&format!("IMG_0034-mark.png: {NAMED}, beside {FAMILY}"));
    assert!(image::open(folder.desk().join("IMG_0034-mark.png")).is_ok());
    // Laid anew over the crop, whatever was answered.
    folder
        .run(&["show", NAMED, "--against", FAMILY, "--out", "again.png"])
        .exit(0);
    folder
        .run(&[
            "show",
            NAMED,
            "--against",
            "varnholt/sun-mornin",
            "--out",
            "b.png",
        ])
        .exit(2)
        .has("the library has no family `varnholt/sun-mornin`")
        .has(FAMILY);
    folder
        .run(&["show", NAMED, "--mark", "2"])
        .exit(2)
        .has("no mark 2");
}
