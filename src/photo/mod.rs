//! Bytes to an upright photo.

use image::RgbImage;

/// A decoded photo, turned upright by its EXIF orientation.
#[derive(Debug, Clone)]
pub struct UprightPhoto {
    /// sRGB, 8 bits a channel, full size.
    pub pixels: RgbImage,
    /// Local capture time as `YYYY-MM-DDTHH:MM:SS`, where the file tells.
    pub taken: Option<String>,
}
