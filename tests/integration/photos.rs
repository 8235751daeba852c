//! Photos come upright and in their colours, whatever the format.

use std::fs;
use std::path::Path;

use footring::photo::{DecodeLimits, UprightPhoto, read_photo};
use image::{Rgb, RgbImage};

use crate::support::{heic, odd, odd_folder, slope};

fn read(bytes: &[u8]) -> UprightPhoto {
    read_photo(bytes, &DecodeLimits::default()).unwrap()
}

/// Largest difference in any channel at the middle of the three fields of a picture of
/// `tests/bad`, which is `scale` times 48 x 32 pixels.
fn off(photo: &UprightPhoto, scale: u32, expected: [[u8; 3]; 3]) -> u8 {
    let places = [(8, 24), (40, 24), (24, 3)];
    places
        .iter()
        .zip(expected)
        .flat_map(|(&(x, y), want)| {
            let Rgb(got) = *photo.pixels.get_pixel(x * scale, y * scale);
            (0..3).map(move |c| got[c].abs_diff(want[c]))
        })
        .max()
        .unwrap()
}

const COLOURS: [[u8; 3]; 3] = [[200, 30, 30], [30, 30, 200], [30, 160, 30]];

/// Luma by ITU-R BT.601, as JPEG and the maker of the fixtures have it.
const GREYS: [[u8; 3]; 3] = [[81; 3], [49; 3], [106; 3]];

#[test]
fn every_odd_picture_comes_upright_in_its_colours() {
    let on_white = [[200, 30, 30], [255, 255, 255], [30, 160, 30]];
    let cases: &[(&str, u32, [[u8; 3]; 3], u8)] = &[
        ("progressive.jpg", 1, COLOURS, 6),
        ("cmyk.jpg", 1, COLOURS, 10),
        ("cmyk.tif", 1, COLOURS, 1),
        ("grey.jpg", 1, GREYS, 3),
        ("grey16.png", 1, GREYS, 1),
        ("palette.png", 1, COLOURS, 1),
        ("palette.bmp", 1, COLOURS, 1),
        ("deflate.tif", 1, COLOURS, 0),
        ("animated.gif", 1, COLOURS, 1),
        ("animated.png", 1, COLOURS, 0),
        ("animated.webp", 1, COLOURS, 0),
        ("lossy.webp", 1, COLOURS, 6),
        ("alpha.webp", 1, on_white, 0),
        ("turned-2.jpg", 1, COLOURS, 6),
        ("turned-3.jpg", 1, COLOURS, 6),
        ("turned-4.jpg", 1, COLOURS, 6),
        ("turned-5.jpg", 1, COLOURS, 6),
        ("turned-6.jpg", 1, COLOURS, 6),
        ("turned-7.jpg", 1, COLOURS, 6),
        ("turned-8.jpg", 1, COLOURS, 6),
        ("turned-6.png", 1, COLOURS, 0),
        ("turned-6.webp", 1, COLOURS, 0),
        ("turned-6-prefixed.webp", 1, COLOURS, 0),
        ("turned-6.tif", 1, COLOURS, 0),
        ("cut-exif.jpg", 1, COLOURS, 6),
        ("plain.heic", 4, COLOURS, 8),
        ("turned-6.heic", 4, COLOURS, 8),
    ];
    for &(name, scale, colours, tolerance) in cases {
        let photo = read(&odd(name));
        assert_eq!(
            photo.pixels.dimensions(),
            (48 * scale, 32 * scale),
            "{name}"
        );
        let off = off(&photo, scale, colours);
        assert!(off <= tolerance, "{name}: {off} levels off");
    }
}

#[test]
fn capture_times_are_read_where_the_file_tells() {
    for name in [
        "turned-6.jpg",
        "turned-6.png",
        "turned-6.webp",
        "turned-6.heic",
    ] {
        let taken = read(&odd(name)).taken;
        assert_eq!(taken.as_deref(), Some("2026-05-17T09:41:03"), "{name}");
    }
    assert_eq!(read(&odd("progressive.jpg")).taken, None);
}

/// ISO/IEC 23008-12 makes the container's own turn the only one: a reader that obeyed EXIF too
/// would turn most phones' photos twice.
#[test]
fn the_exif_orientation_of_a_heic_is_never_applied() {
    let photo = read(&odd("exif-says-6.heic"));
    assert_eq!(photo.pixels.dimensions(), (128, 192));
    assert_eq!(read(&odd("turned-6.heic")).pixels.dimensions(), (192, 128));
}

#[test]
fn a_heic_shows_what_went_in() {
    let picture = slope(3);
    let back = read(&heic(&picture)).pixels;
    assert_eq!(back.dimensions(), picture.dimensions());
    assert!(mean_difference(&picture, &back) < 3.0);
}

/// Source: recurser/exif-orientation-examples (MIT), two photos under all orientations.
#[test]
fn real_photos_under_all_orientations_are_equal() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/real/orientation");
    if !folder.is_dir() {
        return skip("../shared/real/orientation");
    }
    for shape in ["Landscape", "Portrait"] {
        let photo =
            |n: u8| read(&fs::read(folder.join(format!("{shape}_{n}.jpg"))).unwrap()).pixels;
        let first = photo(1);
        assert_eq!(first.width() > first.height(), shape == "Landscape");
        for n in 0..=8 {
            let other = photo(n);
            assert_eq!(other.dimensions(), first.dimensions(), "{shape}_{n}");
            // They were turned and compressed again one by one: another reader sees up to 3.7.
            let difference = mean_difference(&first, &other);
            assert!(difference < 5.0, "{shape}_{n}: {difference:.2} levels");
        }
    }
}

#[expect(clippy::print_stderr, reason = "a test that could not run says so")]
fn skip(what: &str) {
    eprintln!("skipped: {what} is absent");
}

/// Mean absolute difference over all channels, in levels of 0 to 255.
fn mean_difference(a: &RgbImage, b: &RgbImage) -> f64 {
    let sum: u64 = a
        .as_raw()
        .iter()
        .zip(b.as_raw())
        .map(|(x, y)| u64::from(x.abs_diff(*y)))
        .sum();
    sum as f64 / a.as_raw().len() as f64
}

#[test]
fn every_fixture_is_looked_at() {
    // The bad ones are the business of `bad.rs`; no file lies here unread.
    let names = fs::read_dir(odd_folder()).unwrap().count();
    assert!(names >= 28, "{names} fixtures");
}
