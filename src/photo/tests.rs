#![allow(clippy::unwrap_used)]

use std::io::Cursor;

use image::{DynamicImage, GrayAlphaImage, ImageFormat, LumaA, Rgb, RgbImage, Rgba, RgbaImage};

use super::*;
use crate::answer::ReasonCode;

fn encode(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    picture.write_to(&mut out, format).unwrap();
    out.into_inner()
}

fn gradient() -> RgbImage {
    RgbImage::from_fn(40, 30, |x, y| Rgb([x as u8 * 6, y as u8 * 8, 128]))
}

fn read(bytes: &[u8]) -> Result<UprightPhoto, PhotoError> {
    read_photo(bytes, &DecodeLimits::default())
}

#[test]
fn lossless_formats_come_back_as_they_were() {
    for format in [
        ImageFormat::Png,
        ImageFormat::Tiff,
        ImageFormat::Bmp,
        ImageFormat::WebP,
    ] {
        let bytes = encode(&gradient().into(), format);
        assert!(is_picture(&bytes));
        assert_eq!(read(&bytes).unwrap().pixels, gradient(), "{format:?}");
    }
}

#[test]
fn deep_grey_and_transparent_pictures_become_plain_rgb() {
    let deep = DynamicImage::ImageRgb8(gradient()).into_rgb16();
    let bytes = encode(&deep.into(), ImageFormat::Png);
    assert_eq!(read(&bytes).unwrap().pixels, gradient());

    let grey = GrayAlphaImage::from_fn(4, 4, |x, _| LumaA([0, if x < 2 { 0 } else { 255 }]));
    let pixels = read(&encode(&grey.into(), ImageFormat::Png))
        .unwrap()
        .pixels;
    assert_eq!(pixels.get_pixel(0, 0), &Rgb([255; 3]));
    assert_eq!(pixels.get_pixel(3, 0), &Rgb([0; 3]));

    let half = RgbaImage::from_pixel(2, 2, Rgba([200, 100, 0, 128]));
    let pixels = read(&encode(&half.into(), ImageFormat::Png))
        .unwrap()
        .pixels;
    assert_eq!(pixels.get_pixel(1, 1), &Rgb([227, 177, 127]));
}

#[test]
fn every_cut_is_an_error_and_none_is_half_painted() {
    let formats = [
        ImageFormat::Jpeg,
        ImageFormat::Png,
        ImageFormat::WebP,
        ImageFormat::Tiff,
        ImageFormat::Gif,
        ImageFormat::Bmp,
    ];
    for format in formats {
        let bytes = encode(&gradient().into(), format);
        for part in [0.3, 0.6, 0.9] {
            let n = (bytes.len() as f64 * part) as usize;
            let error = read(&bytes[..n]).expect_err("cut");
            assert!(
                matches!(error, PhotoError::Cut | PhotoError::Broken { .. }),
                "{format:?} cut to {n}: {error}"
            );
        }
    }
}

#[test]
fn a_jpeg_with_a_video_behind_it_is_whole() {
    let mut bytes = encode(&gradient().into(), ImageFormat::Jpeg);
    bytes.extend_from_slice(b"\0\0\0\x18ftypmp42 and so on \xff\xd8\xff");
    assert!(is_whole(&bytes));
    assert_eq!(read(&bytes).unwrap().pixels.dimensions(), (40, 30));
}

#[test]
fn claims_are_checked_before_pixels_are_decoded() {
    let mut png = encode(&gradient().into(), ImageFormat::Png);
    png[16..24].copy_from_slice(&[0, 1, 0x86, 0xa0, 0, 1, 0x86, 0xa0]);
    let crc = crc_of(&png[12..29]);
    png[29..33].copy_from_slice(&crc.to_be_bytes());
    let error = read(&png).expect_err("100,000 x 100,000 pixels");
    assert_eq!(error.code(), ReasonCode::TooLarge);
    assert!(error.to_string().contains("100000 x 100000"), "{error}");

    let small = DecodeLimits {
        max_file_bytes: 100,
        ..DecodeLimits::default()
    };
    let error = read_photo(&png, &small).expect_err("file too large");
    assert!(matches!(error, PhotoError::TooLarge(Excess::Bytes { .. })));
}

/// The checksum of PNG chunks (ISO 3309).
fn crc_of(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, &b| {
        (0..8).fold(crc ^ u32::from(b), |c, _| {
            (c >> 1) ^ (0xedb8_8320 * (c & 1))
        })
    })
}

#[test]
fn what_is_no_picture_says_so() {
    assert_eq!(read(b"").expect_err("empty").code(), ReasonCode::EmptyFile);
    let text = read(b"a list of things to buy").expect_err("text");
    assert!(!text.is_picture());
    assert_eq!(text.code(), ReasonCode::UnknownFormat);
    let avif = read(b"\0\0\0\x1cftypavif\0\0\0\0mif1miafMA1B").expect_err("AVIF");
    assert!(avif.is_picture());
    assert_eq!(avif.code(), ReasonCode::UnknownFormat);
    assert!(!is_picture(
        b"BMW and other words that begin with two letters"
    ));
}

#[test]
fn panics_become_errors() {
    let caught = guarded(|| -> u8 { panic!("two\nlines") });
    assert_eq!(caught.expect_err("panicked").message, "two lines");
}
