//! The pictures of one mark on one sheet, with what they show in words.

use image::{Rgb, RgbImage, imageops};

use super::lettering::Letters;
use super::panels::{PAPER, swatch};
use super::words::Tint;

const INK: [u8; 3] = [31, 36, 40];
const SOFT: [u8; 3] = [86, 93, 99];
const EDGE: [u8; 3] = [205, 200, 190];

/// A column is at least this wide, in pixels, so that captions keep to a few lines.
const LEAST_COLUMN: u32 = 620;
/// Width of a column in heights of a caption's letters: some fifty-five letters a line.
const LETTERS_ACROSS: f32 = 31.0;

/// One picture and what stands under it.
pub struct Panel<'a> {
    pub picture: &'a RgbImage,
    pub says: String,
}

/// A sheet to be drawn. Texts are plain and free of control characters.
pub struct Poster<'a> {
    pub title: String,
    /// What the program says of the mark, a paragraph each.
    pub lines: Vec<String>,
    /// In two columns, from the left.
    pub panels: Vec<Panel<'a>>,
    /// The tints that are explained beside the last panel.
    pub tints: &'a [Tint],
    pub notes: Vec<String>,
}

/// Sizes that follow from the pictures.
struct Measure {
    column: u32,
    gap: u32,
    title: Letters,
    words: Letters,
}

impl Measure {
    fn of(poster: &Poster<'_>) -> Self {
        let widest = poster.panels.iter().map(|p| p.picture.width()).max();
        let column = widest.unwrap_or(0).max(LEAST_COLUMN);
        let size = column as f32 / LETTERS_ACROSS;
        Self {
            column,
            gap: (1.6 * size) as u32,
            title: Letters::headings(1.7 * size),
            words: Letters::captions(size),
        }
    }

    fn across(&self) -> u32 {
        2 * self.column + self.gap
    }
}

/// A sheet that grows downward while it is drawn.
struct Canvas {
    pixels: RgbImage,
}

impl Canvas {
    fn reach(&mut self, height: u32) {
        if self.pixels.height() < height {
            let mut taller = RgbImage::from_pixel(self.pixels.width(), height, Rgb(PAPER));
            imageops::replace(&mut taller, &self.pixels, 0, 0);
            self.pixels = taller;
        }
    }

    fn picture(&mut self, picture: &RgbImage, x: u32, y: u32) {
        self.reach(y + picture.height() + 1);
        imageops::replace(&mut self.pixels, picture, i64::from(x), i64::from(y));
        let (right, bottom) = (x + picture.width() - 1, y + picture.height() - 1);
        for px in x..=right {
            self.pixels.put_pixel(px, y, Rgb(EDGE));
            self.pixels.put_pixel(px, bottom, Rgb(EDGE));
        }
        for py in y..=bottom {
            self.pixels.put_pixel(x, py, Rgb(EDGE));
            self.pixels.put_pixel(right, py, Rgb(EDGE));
        }
    }

    /// Writes a paragraph; gives where the next one may begin.
    fn paragraph(
        &mut self,
        letters: &Letters,
        text: &str,
        at: (u32, u32, u32),
        ink: [u8; 3],
    ) -> u32 {
        let (x, mut y, width) = at;
        for line in letters.wrapped(text, width) {
            self.reach(y + letters.line());
            letters.draw(&mut self.pixels, &line, x, y, ink);
            y += letters.line();
        }
        y
    }
}

/// Draws the sheet.
pub fn draw(poster: &Poster<'_>) -> RgbImage {
    let m = Measure::of(poster);
    let gap = m.gap;
    let mut canvas = Canvas {
        pixels: RgbImage::from_pixel(m.across() + 2 * gap, gap, Rgb(PAPER)),
    };
    let mut y = canvas.paragraph(&m.title, &poster.title, (gap, gap, m.across()), INK);
    y += gap / 3;
    for line in &poster.lines {
        y = canvas.paragraph(&m.words, line, (gap, y, m.across()), SOFT);
    }
    y += gap;
    for row in poster.panels.chunks(2) {
        let top = y;
        for (panel, column) in row.iter().zip(0..) {
            let x = gap + column * (m.column + gap);
            canvas.picture(panel.picture, x, top);
            let below = top + panel.picture.height() + gap / 4;
            y = y.max(canvas.paragraph(&m.words, &panel.says, (x, below, m.column), INK));
        }
        if row.len() == 1 {
            y = y.max(explained(
                &mut canvas,
                poster,
                &m,
                (gap + m.column + gap, top),
            ));
        }
        y += gap;
    }
    if poster.panels.len().is_multiple_of(2) {
        y = explained(&mut canvas, poster, &m, (gap, y)) + gap;
    }
    canvas.reach(y);
    canvas.pixels
}

/// What the tints mean, and the notes; gives where they end.
fn explained(canvas: &mut Canvas, poster: &Poster<'_>, m: &Measure, at: (u32, u32)) -> u32 {
    let (x, mut y) = at;
    let width = match poster.panels.len().is_multiple_of(2) {
        true => m.across(),
        false => m.column,
    };
    let square = m.words.line() * 4 / 5;
    for tint in poster.tints {
        let inset = square + m.gap / 2;
        canvas.reach(y + square + 2);
        canvas.picture(&swatch(*tint, square), x, y + 2);
        y = canvas.paragraph(&m.words, tint.says(), (x + inset, y, width - inset), INK) + m.gap / 4;
    }
    if !poster.tints.is_empty() {
        y += m.gap / 2;
    }
    for note in &poster.notes {
        y = canvas.paragraph(&m.words, note, (x, y, width), SOFT) + m.gap / 4;
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_holds_its_pictures_whole() {
        let picture = RgbImage::from_pixel(300, 200, Rgb([90, 120, 40]));
        for count in 1..=5 {
            let panels = (0..count).map(|_| Panel {
                picture: &picture,
                says: "what it shows".to_owned(),
            });
            let sheet = draw(&Poster {
                title: "A title that is long enough to be broken into more lines than one"
                    .repeat(2),
                lines: vec!["said".to_owned()],
                panels: panels.collect(),
                tints: &Tint::ALL,
                notes: vec!["a note".to_owned()],
            });
            let green = sheet.pixels().filter(|p| p.0 == [90, 120, 40]).count();
            assert_eq!(green, count * 298 * 198, "{count}");
        }
    }
}
