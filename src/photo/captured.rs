//! What the EXIF block tells: capture time, orientation, and whether a TIFF is only a thumbnail.

use std::io::Cursor;

use exif::{Context, Exif, In, Reader, Tag, Value};
use image::metadata::Orientation;
use jiff::civil::DateTime;

use super::guard::guarded;

/// TIFF tag 254, NewSubfileType: bit 0 says that this picture is a reduced version of another one
/// in the same file (TIFF 6.0, section 8). Camera raw files begin with such a picture.
const NEW_SUBFILE_TYPE: Tag = Tag(Context::Tiff, 254);

/// Reads what can be read; a damaged block gives what stands before the damage.
fn read(bytes: &[u8]) -> Option<Exif> {
    let parsed = guarded(|| {
        let mut reader = Reader::new();
        reader.continue_on_error(true);
        let read = match webp_block(bytes) {
            Some(block) => reader.read_raw(block.to_vec()),
            None => reader.read_from_container(&mut Cursor::new(bytes)),
        };
        read.or_else(|e| e.distill_partial_result(|_| ())).ok()
    });
    parsed.ok().flatten()
}

/// The EXIF chunk of a WebP. Some programs begin it with the six bytes that belong before a block
/// in a JPEG.
fn webp_block(bytes: &[u8]) -> Option<&[u8]> {
    let mut rest = bytes
        .strip_prefix(b"RIFF")
        .filter(|b| b.get(4..8) == Some(b"WEBP"))?
        .get(8..)?;
    loop {
        let (name, after) = rest.split_first_chunk::<4>()?;
        let (length, body) = after.split_first_chunk::<4>()?;
        let length = u32::from_le_bytes(*length) as usize;
        if name == b"EXIF" {
            let block = body.get(..length)?;
            return Some(block.strip_prefix(b"Exif\0\0").unwrap_or(block));
        }
        rest = body.get(length.checked_add(length % 2)?..)?;
    }
}

/// What the EXIF block says about the picture.
#[derive(Debug, Default)]
pub(super) struct Facts {
    pub(super) taken: Option<String>,
    /// `None` where there is none or it is none of the eight.
    pub(super) orientation: Option<Orientation>,
    /// The first picture of a TIFF is a reduced version of another one.
    pub(super) reduced: bool,
}

pub(super) fn facts(bytes: &[u8]) -> Facts {
    let Some(exif) = read(bytes) else {
        return Facts::default();
    };
    let number = |tag| exif.get_field(tag, In::PRIMARY)?.value.get_uint(0);
    Facts {
        taken: time_of(&exif),
        orientation: number(Tag::Orientation)
            .and_then(|n| Orientation::from_exif(u8::try_from(n).ok()?)),
        reduced: number(NEW_SUBFILE_TYPE).is_some_and(|kind| kind & 1 == 1),
    }
}

/// Local time at which the photo was taken, as `YYYY-MM-DDTHH:MM:SS`, where the file tells.
pub fn taken(bytes: &[u8]) -> Option<String> {
    time_of(&read(bytes)?)
}

fn time_of(exif: &Exif) -> Option<String> {
    [Tag::DateTimeOriginal, Tag::DateTimeDigitized]
        .into_iter()
        .find_map(|tag| {
            let Value::Ascii(lines) = &exif.get_field(tag, In::PRIMARY)?.value else {
                return None;
            };
            let text = std::str::from_utf8(lines.first()?).ok()?;
            let text = text.trim_end_matches(['\0', ' ']);
            let time = DateTime::strptime("%Y:%m:%d %H:%M:%S", text).ok()?;
            Some(time.strftime("%Y-%m-%dT%H:%M:%S").to_string())
        })
}
