//! A picture without what tells of its owner: place, camera, serial number, names, times and comments.
//!
//! Kept are the pixels as they are coded, the colour profile and how the picture is to be turned. JPEG (ITU-T T.81),
//! PNG (W3C, 3rd edition) and WebP (RFC 9649) are only rid of segments; any other kind becomes a PNG.

use std::io::Cursor;

use exif::{In, Tag};
use image::{DynamicImage, ImageFormat};

use crate::photo::{self, DecodeLimits, Format, Kind, PhotoError};

/// A picture that may leave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stripped {
    pub bytes: Vec<u8>,
    /// The ending that its name must have, where it is of another kind now.
    pub ending: Option<&'static str>,
}

/// Rids a picture of what is not to be seen by others. The same picture always gives the same bytes, and one that was
/// stripped before comes back as it is.
///
/// # Errors
/// Where it is no picture that can be read.
pub fn stripped(bytes: &[u8]) -> Result<Stripped, PhotoError> {
    let turned = orientation(bytes);
    let plain = match photo::sniff(bytes) {
        Kind::Readable(Format::Jpeg) => jpeg(bytes, turned),
        Kind::Readable(Format::Png) if turned == UPRIGHT => png(bytes),
        Kind::Readable(Format::WebP) if turned == UPRIGHT => webp(bytes),
        _ => None,
    };
    match plain {
        Some(bytes) => Ok(Stripped {
            bytes,
            ending: None,
        }),
        None => coded_anew(bytes),
    }
}

/// Values of the EXIF orientation: upright, and the last of eight.
const UPRIGHT: u16 = 1;
const LAST: u16 = 8;

fn orientation(bytes: &[u8]) -> u16 {
    let read = exif::Reader::new().read_from_container(&mut Cursor::new(bytes));
    let value = read.ok().and_then(|exif| {
        let field = exif.get_field(Tag::Orientation, In::PRIMARY)?;
        field.value.get_uint(0)
    });
    let value = value.and_then(|v| u16::try_from(v).ok());
    value
        .filter(|v| (UPRIGHT..=LAST).contains(v))
        .unwrap_or(UPRIGHT)
}

fn coded_anew(bytes: &[u8]) -> Result<Stripped, PhotoError> {
    let upright = photo::read_photo(bytes, &DecodeLimits::default())?;
    let mut out = Cursor::new(Vec::new());
    DynamicImage::from(upright.pixels)
        .write_to(&mut out, ImageFormat::Png)
        .map_err(|e| PhotoError::Internal {
            detail: e.to_string(),
        })?;
    Ok(Stripped {
        bytes: out.into_inner(),
        ending: Some("png"),
    })
}

/// Markers of a JPEG.
const START: u8 = 0xd8;
const END: u8 = 0xd9;
const SCAN: u8 = 0xda;
const COMMENT: u8 = 0xfe;
const APP0: u8 = 0xe0;
const APP15: u8 = 0xef;
/// Beginnings of the application segments that decoding needs: pixel density, colour profile, colour transform.
const NEEDED: [(u8, &[u8]); 3] = [
    (APP0, b"JFIF\0"),
    (0xe2, b"ICC_PROFILE\0"),
    (0xee, b"Adobe"),
];

/// `None` where the segments cannot be followed to the end.
fn jpeg(bytes: &[u8], turned: u16) -> Option<Vec<u8>> {
    let mut out = bytes.get(..2)?.to_vec();
    let mut told = turned == UPRIGHT;
    let mut at = 2;
    if out != [0xff, START] {
        return None;
    }
    loop {
        let (marker, from) = marker_at(bytes, at)?;
        // The turn stands first, or behind what must be first.
        if !told && marker != APP0 {
            out.extend(turn_segment(turned));
            told = true;
        }
        if marker == END {
            out.extend([0xff, END]);
            return Some(out);
        }
        let standing = matches!(marker, START | 0xd0..=0xd7 | 0x01);
        let end = match standing {
            true => from,
            false => {
                let length = u16::from_be_bytes(*bytes.get(from..)?.first_chunk()?);
                from + usize::from(length).max(2)
            }
        };
        let segment = bytes.get(from..end)?;
        if is_kept(marker, segment.get(2..).unwrap_or_default()) {
            out.extend([0xff, marker]);
            out.extend(segment);
        }
        at = end;
        if marker == SCAN {
            let data = scan_end(bytes, end)?;
            out.extend(bytes.get(end..data)?);
            at = data;
        }
    }
}

fn is_kept(marker: u8, content: &[u8]) -> bool {
    match marker {
        COMMENT => false,
        APP0..=APP15 => NEEDED
            .iter()
            .any(|(m, begins)| *m == marker && content.starts_with(begins)),
        _ => true,
    }
}

/// The marker at `at`, behind any fill bytes, and the position behind it.
fn marker_at(bytes: &[u8], at: usize) -> Option<(u8, usize)> {
    let fill = bytes.get(at..)?.iter().take_while(|b| **b == 0xff).count();
    let marker = *bytes.get(at + fill)?;
    (fill > 0 && marker != 0).then_some((marker, at + fill + 1))
}

/// Position of the marker that ends the coded data beginning at `at`.
fn scan_end(bytes: &[u8], at: usize) -> Option<usize> {
    let mut i = at;
    loop {
        i += bytes.get(i..)?.iter().position(|&b| b == 0xff)?;
        match *bytes.get(i + 1)? {
            0x00 | 0xd0..=0xd7 => i += 2,
            0xff => i += 1,
            _ => return Some(i),
        }
    }
}

/// An EXIF segment that tells the orientation and nothing else (EXIF 2.3: one entry of TIFF's first directory).
fn turn_segment(turned: u16) -> Vec<u8> {
    let mut content = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01".to_vec();
    content.extend(turned.to_be_bytes());
    // The rest of the value's four bytes, and no further directory.
    content.extend([0; 6]);
    let mut out = vec![0xff, 0xe1];
    out.extend(((content.len() + 2) as u16).to_be_bytes());
    out.extend(content);
    out
}

/// Chunks of a PNG that pixels and their colours need.
const PNG_KEPT: [&[u8; 4]; 11] = [
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT",
    b"pHYs",
];
const PNG_MAGIC: usize = 8;

fn png(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = bytes.get(..PNG_MAGIC)?.to_vec();
    let mut at = PNG_MAGIC;
    loop {
        let length = u32::from_be_bytes(*bytes.get(at..)?.first_chunk()?) as usize;
        let kind: &[u8; 4] = bytes.get(at + 4..)?.first_chunk()?;
        // Length, kind and check around the content.
        let end = at.checked_add(length)?.checked_add(12)?;
        let chunk = bytes.get(at..end)?;
        if PNG_KEPT.contains(&kind) {
            out.extend(chunk);
        }
        if kind == b"IEND" {
            return Some(out);
        }
        at = end;
    }
}

/// Chunks of a WebP that pixels and their colours need.
const WEBP_KEPT: [&[u8; 4]; 5] = [b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP"];
/// Bits of a VP8X chunk that promise EXIF and XMP.
const PROMISED: u8 = 0b1100;

fn webp(bytes: &[u8]) -> Option<Vec<u8>> {
    let size = u32::from_le_bytes(*bytes.get(4..)?.first_chunk()?) as usize;
    let end = size.checked_add(8)?;
    let body = bytes.get(12..end)?;
    let (mut out, mut at): (Vec<u8>, usize) = (Vec::new(), 0);
    while at < body.len() {
        let kind: &[u8; 4] = body.get(at..)?.first_chunk()?;
        let length = u32::from_le_bytes(*body.get(at + 4..)?.first_chunk()?) as usize;
        let end = at + 8 + length.checked_add(length % 2)?;
        let chunk = body.get(at..end)?;
        if WEBP_KEPT.contains(&kind) {
            let from = out.len();
            out.extend(chunk);
            if kind == b"VP8X" {
                *out.get_mut(from + 8)? &= !PROMISED;
            }
        }
        at = end;
    }
    let mut whole = b"RIFF".to_vec();
    whole.extend(u32::try_from(out.len() + 4).ok()?.to_le_bytes());
    whole.extend(b"WEBP");
    whole.extend(out);
    Some(whole)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    fn picture() -> RgbImage {
        RgbImage::from_fn(48, 32, |x, y| Rgb([5 * x as u8, 7 * y as u8, 90]))
    }

    fn coded(format: ImageFormat) -> Vec<u8> {
        let mut out = Cursor::new(Vec::new());
        DynamicImage::from(picture())
            .write_to(&mut out, format)
            .unwrap();
        out.into_inner()
    }

    fn pixels(bytes: &[u8]) -> RgbImage {
        photo::read_photo(bytes, &DecodeLimits::default())
            .unwrap()
            .pixels
    }

    const SECRET: &[u8] = b"GPS 51.5 owner J. Wren serial 4711";

    fn without_secret(bytes: &[u8]) -> bool {
        !bytes.windows(SECRET.len()).any(|w| w == SECRET)
    }

    /// A JPEG with a turn, a comment, an XMP segment, a picture behind its end.
    fn telling(turned: u16) -> Vec<u8> {
        let plain = coded(ImageFormat::Jpeg);
        let segment = |marker: u8, content: &[u8]| {
            let mut out = vec![0xff, marker];
            out.extend(((content.len() + 2) as u16).to_be_bytes());
            out.extend(content);
            out
        };
        let xmp = [b"http://ns.adobe.com/xap/1.0/\0".as_slice(), SECRET].concat();
        let mut out = plain[..2].to_vec();
        out.extend(turn_segment(turned));
        out.extend(segment(0xe1, &xmp));
        out.extend(segment(COMMENT, SECRET));
        out.extend(&plain[2..]);
        out.extend(SECRET);
        out
    }

    #[test]
    fn a_jpeg_keeps_its_pixels_and_its_turn() {
        for turned in [1, 6, 8] {
            let told = telling(turned);
            let bare = stripped(&told).unwrap();
            assert!(bare.ending.is_none() && without_secret(&bare.bytes));
            assert_eq!(pixels(&bare.bytes), pixels(&told), "turn {turned}");
            assert_eq!(orientation(&bare.bytes), turned);
            assert_eq!(stripped(&bare.bytes).unwrap(), bare);
        }
        let plain = coded(ImageFormat::Jpeg);
        assert_eq!(stripped(&plain).unwrap().bytes, plain);
    }

    #[test]
    fn a_png_and_a_webp_lose_what_is_not_pixels() {
        let plain = coded(ImageFormat::Png);
        let mut told = plain[..33].to_vec();
        told.extend((SECRET.len() as u32).to_be_bytes());
        told.extend(b"tEXt");
        told.extend(SECRET);
        told.extend([0; 4]);
        told.extend(&plain[33..]);
        told.extend(SECRET);
        assert_eq!(stripped(&told).unwrap().bytes, plain);

        let plain = coded(ImageFormat::WebP);
        let mut told = plain.clone();
        told.extend(b"XMP ");
        told.extend((SECRET.len() as u32).to_le_bytes());
        told.extend(SECRET);
        let size = (told.len() - 8) as u32;
        told[4..8].copy_from_slice(&size.to_le_bytes());
        let bare = stripped(&told).unwrap();
        assert_eq!(bare.bytes, plain);
        assert_eq!(pixels(&bare.bytes), picture());
    }

    #[test]
    fn other_kinds_become_a_png_and_no_picture_is_an_error() {
        let bare = stripped(&coded(ImageFormat::Bmp)).unwrap();
        assert_eq!(bare.ending, Some("png"));
        assert_eq!(pixels(&bare.bytes), picture());
        assert!(stripped(SECRET).is_err());
        let jpeg = coded(ImageFormat::Jpeg);
        assert!(stripped(&jpeg[..jpeg.len() / 2]).is_err());
    }
}
