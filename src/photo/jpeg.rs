//! JPEG, decoded strictly: damage inside the picture is an error, where the default is to paint the
//! rest grey.

use image::RgbImage;
use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;

use super::{DecodeLimits, PhotoError};

pub(super) fn decode(bytes: &[u8], limits: &DecodeLimits) -> Result<RgbImage, PhotoError> {
    match run(bytes, limits, true) {
        // Stray bytes between segments hurt nobody: some programs leave them.
        Err(Failure::Decoder(e)) if is_about_headers(&e) => run(bytes, limits, false),
        other => other,
    }
    .map_err(|failure| match failure {
        Failure::Limit(error) => error,
        Failure::Decoder(error) => translate(&error),
    })
}

enum Failure {
    Limit(PhotoError),
    Decoder(DecodeErrors),
}

fn run(bytes: &[u8], limits: &DecodeLimits, strict: bool) -> Result<RgbImage, Failure> {
    let options = DecoderOptions::default()
        .set_strict_mode(strict)
        .set_max_width(usize::MAX)
        .set_max_height(usize::MAX)
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(Failure::Decoder)?;
    let (width, height) = decoder.dimensions().unwrap_or_default();
    let (width, height) = (width as u32, height as u32);
    limits.check_pixels(width, height).map_err(Failure::Limit)?;
    let pixels = decoder.decode().map_err(Failure::Decoder)?;
    RgbImage::from_raw(width, height, pixels).ok_or_else(|| {
        Failure::Limit(PhotoError::Broken {
            detail: "its size does not fit its pixels".to_owned(),
        })
    })
}

fn is_about_headers(error: &DecodeErrors) -> bool {
    error.to_string().contains("between headers")
}

fn translate(error: &DecodeErrors) -> PhotoError {
    match error {
        DecodeErrors::ExhaustedData => PhotoError::Cut,
        DecodeErrors::Unsupported(kind) => {
            PhotoError::unsupported(format!("a JPEG of this kind ({kind:?})"))
        }
        other => PhotoError::Broken {
            detail: other.to_string(),
        },
    }
}
