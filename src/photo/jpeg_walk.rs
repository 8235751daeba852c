//! Walks the segments of a JPEG to its end marker (ITU-T T.81, annex B).
//!
//! The last two bytes of the file tell nothing: phones append a second picture or a video behind
//! the end marker, and an embedded thumbnail has an end marker of its own.

const START: u8 = 0xd8;
const END: u8 = 0xd9;
const SCAN: u8 = 0xda;

/// Whether the end marker of the first picture is reached.
pub(super) fn reaches_end(bytes: &[u8]) -> bool {
    walk(bytes).is_some()
}

/// Position behind the end marker; `None` where the bytes end first.
fn walk(bytes: &[u8]) -> Option<usize> {
    let mut at = 0;
    loop {
        let (marker, after) = next_marker(bytes, at)?;
        at = match marker {
            END => return Some(after),
            // Markers that stand alone: restarts, start of image, the temporary one.
            START | 0xd0..=0xd7 | 0x01 => after,
            SCAN => end_of_scan(bytes, skip_segment(bytes, after)?)?,
            _ => skip_segment(bytes, after)?,
        };
    }
}

/// The next marker at or after `at`, and the position behind it. Stray bytes and fill bytes before
/// a marker are passed over, as decoders do.
fn next_marker(bytes: &[u8], at: usize) -> Option<(u8, usize)> {
    let mut i = at;
    loop {
        i += bytes.get(i..)?.iter().position(|&b| b == 0xff)?;
        match *bytes.get(i + 1)? {
            0xff => i += 1,
            0x00 => i += 2,
            marker => return Some((marker, i + 2)),
        }
    }
}

/// Position behind a segment whose two length bytes stand at `at`.
fn skip_segment(bytes: &[u8], at: usize) -> Option<usize> {
    let length = usize::from(u16::from_be_bytes(*bytes.get(at..)?.first_chunk()?));
    let next = at + length.max(2);
    (next <= bytes.len()).then_some(next)
}

/// Position of the marker that ends the entropy-coded data beginning at `at`: a stuffed zero and
/// restart markers belong to the data.
fn end_of_scan(bytes: &[u8], at: usize) -> Option<usize> {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Start, an APP1 segment that holds a whole thumbnail, a scan with a stuffed zero and a
    /// restart marker, the end.
    const JPEG: &[u8] = &[
        0xff, 0xd8, 0xff, 0xe1, 0x00, 0x06, 0xff, 0xd8, 0xff, 0xd9, 0xff, 0xda, 0x00, 0x02, 0x12,
        0xff, 0x00, 0xff, 0xd3, 0x34, 0xff, 0xff, 0xd9,
    ];

    #[test]
    fn a_whole_one_reaches_its_end_and_no_shorter_one_does() {
        assert_eq!(walk(JPEG), Some(JPEG.len()));
        for n in 0..JPEG.len() {
            assert_eq!(walk(&JPEG[..n]), None, "cut to {n} bytes");
        }
    }

    #[test]
    fn what_follows_the_end_does_not_matter() {
        let mut appended = JPEG.to_vec();
        appended.extend_from_slice(&JPEG[..9]);
        assert_eq!(walk(&appended), Some(JPEG.len()));
    }
}
