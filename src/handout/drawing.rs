//! A drawing of plain shapes, as SVG and as pixels: both show the same.

use ab_glyph::point;
use image::{Rgb, RgbImage};
use maud::{Markup, html as markup};

use crate::rescue::lettering::Letters;

/// Red, green, blue.
pub(super) type Colour = [u8; 3];

/// Where a word stands to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
}

/// A shape; lengths in px of the drawing.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    Area {
        left: i64,
        top: i64,
        width: i64,
        height: i64,
        colour: Colour,
        /// 0 to 1.
        opacity: f32,
        /// Shown where a pointer rests on it; in pixels it is left out.
        title: Option<String>,
    },
    Word {
        x: i64,
        /// Where the letters stand.
        base: i64,
        /// Height of the letters' em square.
        size: i64,
        bold: bool,
        anchor: Anchor,
        colour: Colour,
        text: String,
    },
}

/// Shapes, the later over the earlier.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    pub(super) title: String,
    pub(super) width: i64,
    pub(super) height: i64,
    pub(super) ground: Colour,
    pub(super) shapes: Vec<Shape>,
}

/// Pixels for each px: a drawing of 1000 px is then sharp on paper up to 170 mm wide at 300 dots an inch.
const DENSITY: i64 = 2;

/// Longest side of a picture in pixels; many programs that show pictures refuse more.
pub const LONGEST: i64 = 32_000;

impl Drawing {
    /// As SVG, without outside files.
    pub fn svg(&self) -> String {
        let svg = markup! {
            svg xmlns="http://www.w3.org/2000/svg"
                viewBox=(format!("0 0 {} {}", self.width, self.height))
                width=(self.width) height=(self.height)
                font-family="Georgia, 'DejaVu Serif', serif" {
                title { (self.title) }
                rect width=(self.width) height=(self.height) fill=(hex(self.ground)) {}
                @for shape in &self.shapes { (shape.svg()) }
            }
        };
        svg.into_string()
    }

    /// As pixels, two for each px. `None` where that is longer than [`LONGEST`].
    pub fn pixels(&self) -> Option<RgbImage> {
        let side = |px: i64| {
            let pixels = px.checked_mul(DENSITY).filter(|p| *p <= LONGEST)?;
            u32::try_from(pixels).ok()
        };
        let (width, height) = (side(self.width)?, side(self.height)?);
        let mut picture = RgbImage::from_pixel(width, height, Rgb(self.ground));
        for shape in &self.shapes {
            shape.paint(&mut picture);
        }
        Some(picture)
    }
}

impl Shape {
    fn svg(&self) -> Markup {
        match self {
            Self::Area {
                left,
                top,
                width,
                height,
                colour,
                opacity,
                title,
            } => markup! {
                rect x=(left) y=(top) width=(width) height=(height) fill=(hex(*colour))
                    fill-opacity=[(*opacity < 1.0).then_some(opacity)] {
                    @if let Some(title) = title { title { (title) } }
                }
            },
            Self::Word {
                x,
                base,
                size,
                bold,
                anchor,
                colour,
                text,
            } => markup! {
                text x=(x) y=(base) font-size=(size) fill=(hex(*colour))
                    font-weight=[bold.then_some("600")]
                    text-anchor=[(*anchor == Anchor::Middle).then_some("middle")] { (text) }
            },
        }
    }

    fn paint(&self, picture: &mut RgbImage) {
        match self {
            Self::Area {
                left,
                top,
                width,
                height,
                colour,
                opacity,
                title: _,
            } => {
                let range = |from: &i64, long: &i64, most: u32| {
                    let end = (from + long) * DENSITY;
                    let cut = |v: i64| u32::try_from(v.clamp(0, i64::from(most))).unwrap_or(0);
                    cut(from * DENSITY)..cut(end)
                };
                let (across, down) = (
                    range(left, width, picture.width()),
                    range(top, height, picture.height()),
                );
                for y in down {
                    for x in across.clone() {
                        let pixel = picture.get_pixel_mut(x, y);
                        *pixel = Rgb(mixed(pixel.0, *colour, *opacity));
                    }
                }
            }
            Self::Word {
                x,
                base,
                size,
                bold,
                anchor,
                colour,
                text,
            } => {
                let size = (size * DENSITY) as f32;
                let letters = match bold {
                    true => Letters::headings(size).by_em(),
                    false => Letters::captions(size).by_em(),
                };
                let back = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => letters.width(text) / 2.0,
                };
                let from = point((x * DENSITY) as f32 - back, (base * DENSITY) as f32);
                letters.draw_at(picture, text, from, *colour);
            }
        }
    }
}

fn hex([r, g, b]: Colour) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn mixed(under: Colour, over: Colour, opacity: f32) -> Colour {
    let mix = |u: u8, o: u8| (f32::from(u) * (1.0 - opacity) + f32::from(o) * opacity).round();
    [0, 1, 2].map(|c| mix(under[c], over[c]) as u8)
}
