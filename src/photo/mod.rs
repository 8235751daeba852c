//! Bytes to an upright photo. Pure: bytes in, pixels out.
//!
//! The order is: what is it (`sniff`), is all of it there (`whole`, `jpeg_walk`), is it within the
//! limits, decode (`decode`, `jpeg`, `heic`), turn upright (`upright`), when was it taken (`captured`).

mod captured;
mod decode;
mod error;
mod guard;
mod heic;
mod jpeg;
mod jpeg_walk;
mod sniff;
mod upright;
mod whole;

#[cfg(test)]
mod tests;

pub use captured::taken;
pub use error::{Excess, PhotoError};
pub use guard::{Panicked, guarded, silence_guarded_panics};
pub use sniff::{Format, Kind, SNIFF_BYTES, is_picture, sniff};
pub use whole::is_whole;

use image::RgbImage;
use image::metadata::Orientation;

/// A decoded photo, turned upright by its EXIF orientation.
#[derive(Debug, Clone)]
pub struct UprightPhoto {
    /// sRGB, 8 bits a channel, full size.
    pub pixels: RgbImage,
    /// Local capture time as `YYYY-MM-DDTHH:MM:SS`, where the file tells.
    pub taken: Option<String>,
}

/// What a picture may cost, checked before its pixels are decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DecodeLimits {
    /// Size of the file in bytes.
    pub max_file_bytes: u64,
    /// Width times height in pixels.
    pub max_pixels: u64,
    /// Memory that one decoder may ask for, in bytes.
    pub max_alloc_bytes: u64,
}

impl DecodeLimits {
    /// Phones of 2026 write at most 200 MP by a special mode and 12 to 50 MP by default; a scan of
    /// an A4 page at 1,200 dpi has 139 MP, at 600 dpi 35 MP. 120 MP is 360 MB as RGB, which two
    /// workers can still hold on a machine with 2 GB.
    pub const MAX_PIXELS: u64 = 120_000_000;

    /// 120 MP at 16 bits and three channels is 720 MB uncompressed; a TIFF above this size is no
    /// photo that a sale brings home.
    pub const MAX_FILE_BYTES: u64 = 800_000_000;

    /// 120 MP at 16 bits and four channels: 960 MB, and a little for tables.
    pub const MAX_ALLOC_BYTES: u64 = 1_000_000_000;
}

impl Default for DecodeLimits {
    fn default() -> Self {
        Self {
            max_file_bytes: Self::MAX_FILE_BYTES,
            max_pixels: Self::MAX_PIXELS,
            max_alloc_bytes: Self::MAX_ALLOC_BYTES,
        }
    }
}

impl DecodeLimits {
    fn check_pixels(&self, width: u32, height: u32) -> Result<(), PhotoError> {
        if width == 0 || height == 0 {
            return Err(PhotoError::Broken {
                detail: format!("it claims to be {width} x {height} pixels"),
            });
        }
        if u64::from(width) * u64::from(height) > self.max_pixels {
            return Err(PhotoError::TooLarge(Excess::Pixels {
                width,
                height,
                limit: self.max_pixels,
            }));
        }
        Ok(())
    }
}

/// Decodes a picture and turns it upright.
///
/// Reads JPEG, PNG, WebP, TIFF, HEIC, and the first frame of GIF and BMP, whatever the file is
/// called. Transparent parts become white; 16-bit and CMYK pictures become 8-bit RGB. A picture
/// whose file ends early is an error, even where a decoder would paint the missing part.
pub fn read_photo(bytes: &[u8], limits: &DecodeLimits) -> Result<UprightPhoto, PhotoError> {
    if bytes.is_empty() {
        return Err(PhotoError::Empty);
    }
    let have = bytes.len() as u64;
    if have > limits.max_file_bytes {
        return Err(PhotoError::TooLarge(Excess::Bytes {
            have,
            limit: limits.max_file_bytes,
        }));
    }
    let format = match sniff(bytes) {
        Kind::Readable(format) => format,
        Kind::Unreadable(kind) => return Err(PhotoError::unsupported(kind)),
        Kind::NotAPicture => return Err(PhotoError::NotAPicture),
    };
    if !whole::holds_all(bytes, format) {
        return Err(PhotoError::Cut);
    }
    let facts = captured::facts(bytes);
    let decoded =
        guarded(|| decode::decode(bytes, format, &facts, limits)).unwrap_or_else(|panicked| {
            Err(PhotoError::Broken {
                detail: panicked.message,
            })
        })?;
    let turn = match format {
        // Its container has turned it already.
        Format::Heic => Orientation::NoTransforms,
        _ => facts.orientation.unwrap_or(Orientation::NoTransforms),
    };
    Ok(UprightPhoto {
        pixels: upright::turn(decoded, turn),
        taken: facts.taken,
    })
}
