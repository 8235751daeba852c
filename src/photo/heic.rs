//! HEIC, the default of many phones. The decoder applies the container's own turns and crops; the
//! EXIF orientation of a HEIC repeats them and is never applied.

use heifer::Options;
use heifer::heifer_isobmff::HeifFile;
use image::RgbImage;

use super::{DecodeLimits, PhotoError};

pub(super) fn decode(bytes: &[u8], limits: &DecodeLimits) -> Result<RgbImage, PhotoError> {
    let file = HeifFile::parse(bytes).map_err(|e| broken(&e))?;
    if let Some((width, height)) = file.image_size(file.primary_id).map_err(|e| broken(&e))? {
        limits.check_pixels(width, height)?;
    }
    let options = Options {
        // Photos are decoded side by side already.
        max_threads: 1,
        max_pixels: limits.max_pixels,
    };
    // Wide-gamut photos become sRGB; those for HDR screens have no sRGB and stay as coded.
    let picture = match heifer::decode_srgb_rgba8(bytes, &options) {
        Err(heifer::Error::Unsupported(_)) => heifer::decode_rgba8(bytes, &options),
        other => other,
    }
    .map_err(|e| translate(&e))?;
    flatten(picture)
}

fn flatten(picture: heifer::Image<u8>) -> Result<RgbImage, PhotoError> {
    let (width, height) = (picture.width, picture.height);
    let rgba = image::RgbaImage::from_raw(width, height, picture.data).ok_or_else(|| {
        PhotoError::Broken {
            detail: "its size does not fit its pixels".to_owned(),
        }
    })?;
    if picture.has_alpha {
        return Ok(super::decode::on_white(rgba.into()));
    }
    let mut flat = Vec::with_capacity(width as usize * height as usize * 3);
    for p in rgba.as_raw().chunks_exact(4) {
        flat.extend_from_slice(&p[..3]);
    }
    RgbImage::from_raw(width, height, flat).ok_or_else(|| PhotoError::Broken {
        detail: "its size does not fit its pixels".to_owned(),
    })
}

fn translate(error: &heifer::Error) -> PhotoError {
    match error {
        heifer::Error::Unsupported(what) => {
            PhotoError::unsupported(format!("a HEIC picture of this kind ({what})"))
        }
        other => broken(other),
    }
}

fn broken(error: &dyn std::error::Error) -> PhotoError {
    PhotoError::Broken {
        detail: error.to_string(),
    }
}
