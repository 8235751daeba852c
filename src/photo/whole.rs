//! Whether a file holds all of its picture, as its own container says.

use super::jpeg_walk;
use super::sniff::{self, Format, Kind};

/// Whether nothing is missing at the end of `bytes`. Formats whose decoders refuse a short file by
/// themselves always pass.
pub(super) fn holds_all(bytes: &[u8], format: Format) -> bool {
    match format {
        Format::Jpeg => jpeg_walk::reaches_end(bytes),
        Format::Png => png_reaches_end(bytes),
        Format::WebP => riff_is_filled(bytes),
        Format::Heic => boxes_are_filled(bytes),
        Format::Tiff | Format::Gif | Format::Bmp => true,
    }
}

/// Whether `bytes` are a readable picture of which nothing is missing at the end.
pub fn is_whole(bytes: &[u8]) -> bool {
    matches!(sniff::sniff(bytes), Kind::Readable(format) if holds_all(bytes, format))
}

fn be32(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from(u32::from_be_bytes(
        *bytes.get(at..)?.first_chunk()?,
    )))
}

/// Walks the chunks to the end chunk (W3C PNG, section 5). Its checksum may be missing: decoders
/// do without.
fn png_reaches_end(bytes: &[u8]) -> bool {
    let mut at = 8_usize;
    loop {
        let (Some(length), Some(name)) = (be32(bytes, at), bytes.get(at + 4..at + 8)) else {
            return false;
        };
        if name == b"IEND" {
            return true;
        }
        at = at.saturating_add(length as usize).saturating_add(12);
    }
}

/// A RIFF file names its own length less eight bytes; an odd one may lack its padding byte.
fn riff_is_filled(bytes: &[u8]) -> bool {
    let Some(length) = bytes.get(4..).and_then(|b| b.first_chunk::<4>()) else {
        return false;
    };
    let wanted = u64::from(u32::from_le_bytes(*length)) + 8;
    bytes.len() as u64 + 1 >= wanted
}

/// Walks the boxes of the outermost level (ISO/IEC 14496-12): none may reach beyond the file.
fn boxes_are_filled(bytes: &[u8]) -> bool {
    let end = bytes.len() as u64;
    let mut at = 0_u64;
    while at < end {
        let i = at as usize;
        let Some(short) = be32(bytes, i) else {
            // Stray bytes behind the last box.
            return true;
        };
        let size = match short {
            0 => return true,
            1 => match (be32(bytes, i + 8), be32(bytes, i + 12)) {
                (Some(high), Some(low)) => (high << 32) | low,
                _ => return false,
            },
            other => other,
        };
        if size < 8 || at.saturating_add(size) > end {
            return size < 8;
        }
        at += size;
    }
    true
}
