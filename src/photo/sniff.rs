//! What a file is, by its first bytes. Names are not trusted: messengers and photo tools rename.

/// Formats that can be decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Format {
    Jpeg,
    Png,
    WebP,
    Tiff,
    Heic,
    Gif,
    Bmp,
}

/// What the first bytes of a file say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Readable(Format),
    /// A picture of a kind that is not read; the text names it.
    Unreadable(&'static str),
    NotAPicture,
}

/// How many bytes from the start of a file [`sniff`] looks at.
pub const SNIFF_BYTES: usize = 64;

/// Brands of ISO base media files (ISO/IEC 23008-12 and 14496-12) that hold HEVC pictures.
const HEVC_BRANDS: [&[u8]; 8] = [
    b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs",
];

/// Brands that say "a picture" but not how it is coded.
const PICTURE_BRANDS: [&[u8]; 4] = [b"mif1", b"mif2", b"msf1", b"miaf"];

/// First bytes of picture formats that are not read.
const UNREADABLE: [(&[u8], &str); 11] = [
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"\x00\x00\x00\x0cJXL \r\n\x87\n", "a JPEG XL picture"),
    (b"\x00\x00\x00\x0cjP  \r\n\x87\n", "a JPEG 2000 picture"),
    (b"\xff\x4f\xff\x51", "a JPEG 2000 picture"),
    (b"8BPS", "a Photoshop picture"),
    (b"IIRO", "a camera raw file"),
    (b"IIRS", "a camera raw file"),
    (b"IIU\0", "a camera raw file"),
    (b"FUJIFILMCCD-RAW", "a camera raw file"),
    (b"qoif", "a QOI picture"),
    (b"\x76\x2f\x31\x01", "an OpenEXR picture"),
];

/// Says what `bytes` (the whole file, or its first [`SNIFF_BYTES`]) are.
pub fn sniff(bytes: &[u8]) -> Kind {
    if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        return Kind::Readable(Format::Jpeg);
    }
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        return Kind::Readable(Format::Png);
    }
    if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        return Kind::Readable(Format::WebP);
    }
    if bytes.starts_with(b"GIF87a") || bytes.starts_with(b"GIF89a") {
        return Kind::Readable(Format::Gif);
    }
    if let Some((_, kind)) = UNREADABLE
        .iter()
        .find(|(magic, _)| bytes.starts_with(magic))
    {
        return Kind::Unreadable(kind);
    }
    if bytes.get(4..8) == Some(b"ftyp") {
        return sniff_base_media(bytes);
    }
    if is_tiff(bytes) {
        return sniff_tiff(bytes);
    }
    if is_bmp(bytes) {
        return Kind::Readable(Format::Bmp);
    }
    Kind::NotAPicture
}

/// Whether `bytes` begin like a picture, of a kind that is read or not.
pub fn is_picture(bytes: &[u8]) -> bool {
    sniff(bytes) != Kind::NotAPicture
}

fn sniff_base_media(bytes: &[u8]) -> Kind {
    let Some(major) = bytes.get(8..12) else {
        return Kind::NotAPicture;
    };
    let box_size = bytes
        .first_chunk::<4>()
        .map_or(0, |b| u32::from_be_bytes(*b)) as usize;
    let others = bytes.get(16..box_size.min(bytes.len())).unwrap_or(&[]);
    let mut brands = std::iter::once(major).chain(others.chunks_exact(4));
    if brands.clone().any(|b| HEVC_BRANDS.contains(&b)) {
        return Kind::Readable(Format::Heic);
    }
    if brands.clone().any(|b| b == b"avif" || b == b"avis") {
        return Kind::Unreadable("an AVIF picture");
    }
    if major == b"crx " {
        return Kind::Unreadable("a camera raw file");
    }
    if brands.any(|b| PICTURE_BRANDS.contains(&b)) {
        return Kind::Readable(Format::Heic);
    }
    Kind::NotAPicture
}

fn is_tiff(bytes: &[u8]) -> bool {
    // Classic TIFF has version 42, BigTIFF 43.
    [b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"]
        .iter()
        .any(|magic| bytes.starts_with(*magic))
}

fn sniff_tiff(bytes: &[u8]) -> Kind {
    if bytes.get(8..10) == Some(b"CR") {
        Kind::Unreadable("a camera raw file")
    } else {
        Kind::Readable(Format::Tiff)
    }
}

/// Two letters alone would make pictures of many texts, so the header's own size must be one that
/// exists too.
fn is_bmp(bytes: &[u8]) -> bool {
    let header = bytes
        .get(14..18)
        .and_then(|b| b.first_chunk::<4>())
        .map(|b| u32::from_le_bytes(*b));
    bytes.starts_with(b"BM") && matches!(header, Some(12 | 16 | 40 | 52 | 56 | 64 | 108 | 124))
}
