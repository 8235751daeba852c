//! What is matched again after a change of the library, from outside.

use std::fs;
use std::path::Path;

use footring::answer::Verdict;
use footring::decision::ContentHash;
use image::RgbImage;

use crate::support::{jpeg, slope};
use crate::workspace_folder::{Folder, mark};

/// Two families, and a photo named by each, as the engine would have answered with this library.
fn desk() -> (Folder, [ContentHash; 2]) {
    let folder = Folder::new();
    let crown = folder.family("m/crown", "", &slope(1));
    let anchor = folder.family("m/anchor", "", &slope(2));
    let photos = ["one.jpg", "two.jpg"];
    let photos = [(photos[0], 3), (photos[1], 4)].map(|(n, s)| folder.photo(n, &jpeg(&slope(s))));
    folder.intake("Mill fair").exit(0);
    let named = |family: &str, exemplar| mark(Verdict::Named, 20.0, &[(family, 0.95, exemplar)]);
    let key = folder.key();
    let plain = RgbImage::from_pixel(160, 120, image::Rgb([200; 3]));
    folder.plant_by(&key, &photos[0], vec![named("m/crown", &crown)], &plain);
    folder.plant_by(&key, &photos[1], vec![named("m/anchor", &anchor)], &plain);
    (folder, photos)
}

#[test]
fn a_new_name_has_nothing_matched_again() {
    let (folder, [one, two]) = desk();
    folder
        .run(&["library", "rename", "m/crown", "k/ring"])
        .exit(0)
        .lacks("looked again");
    let family = |photo| {
        let found = folder.answered(photo);
        assert!(found.current);
        found.answer.marks[0].candidates[0].family.clone()
    };
    assert_eq!(
        (family(&one), family(&two)),
        ("k/ring".into(), "m/anchor".into())
    );
    folder
        .intake("Mill fair")
        .exit(0)
        .has("known before: 2")
        .lacks("looked at: ");
}

#[test]
fn only_photos_of_the_changed_family_are_matched_again() {
    let (folder, [one, two]) = desk();
    folder
        .run(&["library", "remove", "m/crown"])
        .exit(0)
        .has("looked again at 1 photo");
    assert!(folder.answered(&two).current);
    assert_eq!(folder.answered(&two).answer.marks.len(), 1);
    assert!(folder.answered(&one).answer.marks.is_empty());
}

/// The picture of the library that the first photo of the demo shows, and one that it does not.
const RIGHT: &str = "thornwick/tower-quiet-tarn";
const WRONG: &str = "quillhaven/script-curlew";

/// Copies a family of the library that comes with the program.
fn copied(id: &str, to: &Path) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("reference-marks")
        .join(id);
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
    }
}

#[test]
fn a_decided_photo_that_fits_a_new_family_better_is_pointed_out_and_stays_decided() {
    let folder = Folder::new();
    copied(WRONG, &folder.path("desk/library").join(WRONG));
    let photo = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/demo/sale/IMG_0001.jpg");
    folder.photo("one.jpg", &fs::read(photo).unwrap());
    folder.intake("Mill fair").exit(0);
    folder
        .run(&["decide", "one.jpg", "--family", WRONG])
        .exit(0);
    let before = folder.journal();
    copied(RIGHT, &folder.path("old").join(RIGHT));
    folder
        .run(&["library", "adopt", "../old", "--copy"])
        .exit(0)
        .has("looked again at 1 photo")
        .has(&format!("one.jpg, decided as {WRONG}, fits {RIGHT} better"))
        .has("what you decided stays");
    assert_eq!(folder.journal(), before);
}
