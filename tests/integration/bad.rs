//! Files that are no photos, or photos gone wrong: one line each, naming file and cause.

use std::fs;

use footring::answer::ReasonCode;
use footring::photo::{DecodeLimits, PhotoError, read_photo};

use crate::support::{Tool, jpeg, odd, odd_folder, png, slope};

fn refuse(bytes: &[u8]) -> PhotoError {
    read_photo(bytes, &DecodeLimits::default()).expect_err("no photo")
}

/// A TIFF that claims one strip of `side` x `side` pixels and holds none of it.
fn tiff_claiming(side: u32) -> Vec<u8> {
    let mut out = b"II*\0\x08\0\0\0".to_vec();
    let entries: [(u16, u32); 9] = [
        (256, side),
        (257, side),
        (258, 8),
        (259, 1),
        (262, 1),
        (273, 200),
        (277, 1),
        (278, side),
        (279, side.wrapping_mul(side)),
    ];
    out.extend((entries.len() as u16).to_le_bytes());
    for (tag, value) in entries {
        out.extend(tag.to_le_bytes());
        out.extend([4, 0, 1, 0, 0, 0]);
        out.extend(value.to_le_bytes());
    }
    out.extend([0; 120]);
    out
}

/// A PNG whose header claims `side` x `side` pixels, with a right checksum.
fn png_claiming(side: u32) -> Vec<u8> {
    let mut bytes = png(&slope(0));
    bytes[16..20].copy_from_slice(&side.to_be_bytes());
    bytes[20..24].copy_from_slice(&side.to_be_bytes());
    let crc = !bytes[12..29].iter().fold(!0_u32, |crc, &b| {
        (0..8).fold(crc ^ u32::from(b), |c, _| {
            (c >> 1) ^ (0xedb8_8320 * (c & 1))
        })
    });
    bytes[29..33].copy_from_slice(&crc.to_be_bytes());
    bytes
}

/// A JPEG whose frame header claims the size.
fn jpeg_claiming(width: u16, height: u16) -> Vec<u8> {
    let mut bytes = jpeg(&slope(0));
    let at = bytes
        .windows(2)
        .position(|w| w == [0xff, 0xc0])
        .expect("a baseline frame");
    bytes[at + 5..at + 7].copy_from_slice(&height.to_be_bytes());
    bytes[at + 7..at + 9].copy_from_slice(&width.to_be_bytes());
    bytes
}

#[test]
fn claims_of_huge_pictures_are_refused_before_memory_is_asked_for() {
    for bytes in [
        png_claiming(100_000),
        tiff_claiming(60_000),
        jpeg_claiming(65_000, 65_000),
    ] {
        assert_eq!(refuse(&bytes).code(), ReasonCode::TooLarge);
    }
}

#[test]
fn pictures_without_pixels_are_refused() {
    for bytes in [
        png_claiming(0),
        tiff_claiming(0),
        jpeg_claiming(0, 16),
        jpeg_claiming(16, 0),
    ] {
        let error = refuse(&bytes);
        assert_eq!(error.code(), ReasonCode::BrokenPicture, "{error}");
    }
}

/// A JPEG whose coded data breaks off while its end marker is there.
#[test]
fn damage_inside_a_jpeg_is_not_painted_over() {
    let mut bytes = odd("progressive.jpg");
    let scan = bytes.windows(2).rposition(|w| w == [0xff, 0xda]).unwrap();
    bytes.truncate(scan + 2);
    bytes.extend([0xff, 0xd9]);
    let error = refuse(&bytes);
    assert!(
        matches!(
            error.code(),
            ReasonCode::BrokenPicture | ReasonCode::CutFile
        ),
        "{error}"
    );
}

#[test]
fn no_cut_and_no_flipped_byte_stops_the_reader() {
    let limits = DecodeLimits {
        max_pixels: 1_000_000,
        max_alloc_bytes: 16_000_000,
        ..DecodeLimits::default()
    };
    let mut names: Vec<_> = fs::read_dir(odd_folder())
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e != "py"))
        .collect();
    names.sort();
    assert!(names.len() > 25);
    let mut seed = 0x2545_f491_4f6c_dd1d_u64;
    let mut random = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        seed
    };
    for path in names {
        let whole = fs::read(&path).unwrap();
        for n in (0..whole.len()).step_by(1 + whole.len() / 40) {
            // Some formats hold all their pixels before the last bytes; none may panic.
            let _ = read_photo(&whole[..n], &limits);
        }
        for _ in 0..60 {
            let mut bytes = whole.clone();
            for _ in 0..1 + random() % 4 {
                let at = (random() % bytes.len() as u64) as usize;
                bytes[at] = random() as u8;
            }
            if let Ok(photo) = read_photo(&bytes, &limits) {
                assert!(photo.pixels.width() > 0 && photo.pixels.height() > 0);
            }
        }
    }
}

#[test]
fn each_bad_file_of_a_folder_has_its_line_and_its_cause() {
    let whole = jpeg(&slope(1));
    let ran = Tool::new()
        .photo("a-empty.jpg", b"")
        .photo("b-cut.jpg", &whole[..whole.len() * 2 / 3])
        .photo("c-cut.heic", &odd("plain.heic")[..500])
        .photo("d-bomb.png", png_claiming(100_000))
        .photo("e-bomb.tif", tiff_claiming(60_000))
        .photo("f-avif.avif", b"\0\0\0\x1cftypavif\0\0\0\0mif1miafMA1B")
        .photo("g-png-called.jpg", png(&slope(2)))
        .photo("h-text-called.jpg", "this is a shopping list")
        .photo("i-good.jpg", &whole)
        .matching(["sale"])
        .stderr("error: sale/a-empty.jpg: the file is empty")
        .stderr("error: sale/d-bomb.png: the picture claims 100000 x 100000 pixels")
        .stderr("error: sale/f-avif.avif: an AVIF picture cannot be read: save it as JPEG")
        .stderr("warning: sale/h-text-called.jpg: called like a photo, but its content is none")
        .exit(1);
    let told: Vec<_> = ran
        .column("/photo")
        .into_iter()
        .zip(ran.column("/reasons/0/code"))
        .map(|(photo, code)| format!("{} {code}", photo.trim_start_matches("sale/")))
        .collect();
    assert_eq!(
        told[..6],
        [
            "a-empty.jpg empty-file",
            "b-cut.jpg cut-file",
            "c-cut.heic cut-file",
            "d-bomb.png too-large",
            "e-bomb.tif too-large",
            "f-avif.avif unknown-format",
        ]
    );
    assert_eq!(told.len(), 8, "{told:?}");
    assert_ne!(ran.column("/verdict")[6], "not-a-picture");
}

#[test]
fn pictures_of_one_pixel_are_examined_like_any_other() {
    let ran = Tool::new()
        .mark("hollin/fern-ring", &slope(1))
        .photo("dot.png", png(&image::RgbImage::new(1, 1)))
        .photo("hair.png", png(&image::RgbImage::new(3000, 1)))
        .photo("flat.png", png(&image::RgbImage::new(700, 500)))
        .matching(["sale"])
        .exit(0);
    assert!(ran.column("/verdict").iter().all(|v| v != "not-a-picture"));
}

#[cfg(unix)]
mod unix {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    #[test]
    fn a_link_loop_is_told_and_not_followed() {
        let tool = Tool::new().photo("inner/a.jpg", jpeg(&slope(1)));
        symlink("..", tool.path().join("sale/inner/back")).unwrap();
        let ran = tool
            .matching(["sale"])
            .stderr("warning: sale/inner/back: the link leads back to sale")
            .exit(0);
        assert_eq!(ran.column("/photo"), ["sale/inner/a.jpg"]);
    }

    #[test]
    fn a_link_to_a_photo_that_is_gone_has_its_line() {
        let tool = Tool::new().photo("a.jpg", jpeg(&slope(1)));
        symlink("nowhere.jpg", tool.path().join("sale/b.jpg")).unwrap();
        symlink("b.jpg", tool.path().join("sale/c.jpg")).unwrap();
        let ran = tool.matching(["sale"]).exit(1);
        assert_eq!(
            ran.column("/reasons/0/code")[1..],
            ["cannot-open", "cannot-open"]
        );
    }

    #[test]
    fn a_name_that_is_not_utf8_comes_back_byte_by_byte() {
        let name = OsStr::from_bytes(b"sale/caf\xe9.jpg");
        let ran = Tool::new()
            .file(name, jpeg(&slope(1)))
            .matching(["sale"])
            .exit(0);
        assert_eq!(ran.column("/photo"), ["sale/caf\u{fffd}.jpg"]);
        assert_eq!(ran.column("/photo_raw"), ["c2FsZS9jYWbpLmpwZw=="]);
    }

    #[test]
    fn what_may_not_be_read_is_told() {
        let tool = Tool::new()
            .photo("a.jpg", jpeg(&slope(1)))
            .photo("b.jpg", jpeg(&slope(2)));
        let path = tool.path().join("sale/b.jpg");
        fs::set_permissions(&path, fs::Permissions::from_mode(0o0)).unwrap();
        if fs::File::open(&path).is_ok() {
            return skip("a test of permissions, because root may read everything");
        }
        let ran = tool
            .matching(["sale"])
            .stderr("error: sale/b.jpg: the file could not be opened (permission denied)")
            .exit(1);
        assert_eq!(ran.lines().len(), 2);
    }

    #[expect(clippy::print_stderr, reason = "a test that could not run says so")]
    fn skip(what: &str) {
        eprintln!("skipped: {what}");
    }
}
