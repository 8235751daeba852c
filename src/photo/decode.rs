//! Decoders of the `image` crate, with limits set before any pixel is decoded. JPEG and HEIC have
//! files of their own.

use std::error::Error;
use std::io::{self, Cursor};

use image::codecs::{
    bmp::BmpDecoder, gif::GifDecoder, png::PngDecoder, tiff::TiffDecoder, webp::WebPDecoder,
};
use image::{DynamicImage, ImageDecoder, ImageError, Limits, RgbImage};

use super::captured::Facts;
use super::sniff::Format;
use super::{DecodeLimits, Excess, PhotoError};

/// Decodes the first picture of a file, as stored (a HEIC as its container turns it).
pub(super) fn decode(
    bytes: &[u8],
    format: Format,
    facts: &Facts,
    limits: &DecodeLimits,
) -> Result<RgbImage, PhotoError> {
    let fail = |e: ImageError| translate(&e);
    let input = Cursor::new(bytes);
    match format {
        Format::Png => {
            let decoder = PngDecoder::with_limits(input, image_limits(limits)).map_err(fail)?;
            run(decoder, limits)
        }
        Format::WebP => run(WebPDecoder::new(input).map_err(fail)?, limits),
        Format::Tiff if facts.reduced => Err(PhotoError::unsupported("a camera raw file")),
        Format::Tiff => run(TiffDecoder::new(input).map_err(fail)?, limits),
        Format::Gif => run(GifDecoder::new(input).map_err(fail)?, limits),
        Format::Bmp => run(BmpDecoder::new(input).map_err(fail)?, limits),
        Format::Jpeg => super::jpeg::decode(bytes, limits),
        Format::Heic => super::heic::decode(bytes, limits),
    }
}

fn image_limits(limits: &DecodeLimits) -> Limits {
    let mut out = Limits::no_limits();
    out.max_alloc = Some(limits.max_alloc_bytes);
    out
}

fn run(mut decoder: impl ImageDecoder, limits: &DecodeLimits) -> Result<RgbImage, PhotoError> {
    let (width, height) = decoder.dimensions();
    limits.check_pixels(width, height)?;
    if decoder.total_bytes() > limits.max_alloc_bytes {
        return Err(PhotoError::TooLarge(Excess::Memory));
    }
    decoder
        .set_limits(image_limits(limits))
        .map_err(|e| translate(&e))?;
    let picture = DynamicImage::from_decoder(decoder).map_err(|e| translate(&e))?;
    Ok(on_white(picture))
}

/// Eight bits, three channels; what is transparent shows white paper.
pub(super) fn on_white(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let rgba = picture.into_rgba8();
    let (width, height) = rgba.dimensions();
    let over = |c: u8, a: u16| ((u16::from(c) * a + 255 * (255 - a) + 127) / 255) as u8;
    let mut flat = Vec::with_capacity(width as usize * height as usize * 3);
    for p in rgba.as_raw().chunks_exact(4) {
        let a = u16::from(p[3]);
        flat.extend_from_slice(&[over(p[0], a), over(p[1], a), over(p[2], a)]);
    }
    RgbImage::from_raw(width, height, flat).unwrap_or_default()
}

fn translate(error: &ImageError) -> PhotoError {
    if ends_early(error) {
        return PhotoError::Cut;
    }
    match error {
        ImageError::Limits(_) => PhotoError::TooLarge(Excess::Memory),
        ImageError::Unsupported(e) => {
            PhotoError::unsupported(format!("a picture of this kind ({})", one_line(e)))
        }
        other => PhotoError::Broken {
            detail: one_line(other),
        },
    }
}

/// Whether the decoder ran out of bytes, there or somewhere below.
fn ends_early(error: &ImageError) -> bool {
    let is_end = |e: &io::Error| e.kind() == io::ErrorKind::UnexpectedEof;
    if matches!(error, ImageError::IoError(e) if is_end(e)) {
        return true;
    }
    let mut cause = error.source();
    while let Some(e) = cause {
        if e.downcast_ref::<io::Error>().is_some_and(is_end) {
            return true;
        }
        cause = e.source();
    }
    false
}

fn one_line(error: &dyn Error) -> String {
    error
        .to_string()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}
