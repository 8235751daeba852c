//! Words drawn into a picture, in two fonts that the program carries (`src/rescue/font`). The timeline of
//! `src/handout` is lettered in them too.

use ab_glyph::{Font, FontRef, Point, PxScale, ScaleFont, point};
use image::{Rgb, RgbImage};

use super::panels::over;

const CAPTIONS: &[u8] = include_bytes!("font/captions.otf");
const HEADINGS: &[u8] = include_bytes!("font/headings.otf");

/// Distance between lines in heights of a letter's scale.
const LEADING: f32 = 1.25;

/// A font at a size in pixels.
pub(crate) struct Letters {
    font: FontRef<'static>,
    size: f32,
}

impl Letters {
    pub(crate) fn captions(size: f32) -> Self {
        Self::of(CAPTIONS, size)
    }

    pub(crate) fn headings(size: f32) -> Self {
        Self::of(HEADINGS, size)
    }

    /// # Panics
    /// Never: the two files are part of the program, and a test reads them.
    fn of(bytes: &'static [u8], size: f32) -> Self {
        let font = FontRef::try_from_slice(bytes).expect("the program's own font can be read");
        Self { font, size }
    }

    /// With the size taken as that of the em square, as SVG and CSS count it.
    pub(crate) fn by_em(mut self) -> Self {
        if let Some(em) = self.font.units_per_em() {
            self.size *= self.font.height_unscaled() / em;
        }
        self
    }

    /// Height of a line in pixels.
    pub(super) fn line(&self) -> u32 {
        (LEADING * self.size).ceil() as u32
    }

    /// Length of a line in pixels.
    pub(crate) fn width(&self, text: &str) -> f32 {
        let font = self.font.as_scaled(PxScale::from(self.size));
        text.chars().map(|c| font.h_advance(font.glyph_id(c))).sum()
    }

    /// Breaks a text into lines of at most so many pixels, between words where it can.
    pub(super) fn wrapped(&self, text: &str, width: u32) -> Vec<String> {
        let fits = |line: &str| self.width(line) <= width as f32;
        let mut lines = vec![String::new()];
        for word in text.split_whitespace() {
            let last = lines.last().map_or("", String::as_str);
            let joined = match last.is_empty() {
                true => word.to_owned(),
                false => format!("{last} {word}"),
            };
            if fits(&joined) {
                lines.pop();
                lines.push(joined);
                continue;
            }
            if last.is_empty() {
                lines.pop();
            }
            lines.extend(self.broken(word, fits));
        }
        lines
    }

    /// A word in pieces that fit, at least a letter each.
    fn broken(&self, word: &str, fits: impl Fn(&str) -> bool) -> Vec<String> {
        let mut pieces = vec![String::new()];
        for letter in word.chars() {
            let last = pieces.last().map_or("", String::as_str);
            let longer = format!("{last}{letter}");
            if last.is_empty() || fits(&longer) {
                pieces.pop();
                pieces.push(longer);
            } else {
                pieces.push(letter.to_string());
            }
        }
        pieces
    }

    /// Draws one line whose upper left corner is at `x`, `y`; what does not fit into the picture is cut.
    pub(super) fn draw(&self, picture: &mut RgbImage, text: &str, x: u32, y: u32, ink: [u8; 3]) {
        let base = y as f32 + self.font.as_scaled(PxScale::from(self.size)).ascent();
        self.draw_at(picture, text, point(x as f32, base), ink);
    }

    /// The same from the point where the line's first letter stands.
    pub(crate) fn draw_at(&self, picture: &mut RgbImage, text: &str, from: Point, ink: [u8; 3]) {
        let font = self.font.as_scaled(PxScale::from(self.size));
        let (base, mut along) = (from.y, from.x);
        for letter in text.chars() {
            let id = font.glyph_id(letter);
            let glyph = id.with_scale_and_position(self.size, point(along, base));
            along += font.h_advance(id);
            let Some(outline) = self.font.outline_glyph(glyph) else {
                continue;
            };
            let corner = outline.px_bounds().min;
            outline.draw(|dx, dy, cover| {
                let (px, py) = (
                    corner.x as i64 + i64::from(dx),
                    corner.y as i64 + i64::from(dy),
                );
                let place = (u32::try_from(px), u32::try_from(py));
                if let (Ok(px), Ok(py)) = place
                    && let Some(pixel) = picture.get_pixel_mut_checked(px, py)
                {
                    *pixel = Rgb(over(pixel.0, ink, cover));
                }
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_broken_where_they_must_be() {
        let letters = Letters::captions(20.0);
        let lines = letters.wrapped("Mill Lane, crown over ribbon", 120);
        assert!(lines.len() > 1 && lines.iter().all(|l| letters.width(l) <= 120.0));
        assert_eq!(lines.join(" "), "Mill Lane, crown over ribbon");
        let long = letters.wrapped("a IMG_20260502_101112_with_a_long_name.jpg", 120);
        assert!(long.iter().all(|l| letters.width(l) <= 120.0), "{long:?}");
        assert_eq!(
            long[1..].concat(),
            "IMG_20260502_101112_with_a_long_name.jpg"
        );
        // Narrower than a letter: still one letter a line.
        assert_eq!(letters.wrapped("ab", 1).len(), 2);
    }

    #[test]
    fn letters_leave_ink_and_stay_in_the_picture() {
        let mut picture = RgbImage::from_pixel(60, 20, Rgb([255; 3]));
        let letters = Letters::headings(18.0);
        letters.draw(
            &mut picture,
            "Ägüß Жλ 漢 long beyond the edge",
            0,
            0,
            [0; 3],
        );
        let dark = picture.pixels().filter(|p| p.0[0] < 100).count();
        assert!(dark > 60, "{dark}");
    }
}
