//! Whether a mark's ink is gold or its kin: gilding and lustre lie over the glaze and rub off, what is printed under it does
//! not (common practice).

use image::RgbImage;

use super::label::Label;
use super::laid::{BARE, Laid};
use crate::geometry::{Homography, Mark, Photo, Point};
use crate::ink::colour::lab;
use crate::ink::small::SmallInk;
use crate::raster::{Plane, quantile};

// Colours are CIELAB. Of 95 gold marks of tune seeds 64 and 65 (one fault each, most of them worn) 81 are so by all that is seen
// of their ink, and of 706 others six, all of them yellow labels.

/// Gold and its kin are yellower (b*) than the glaze and than the second figure by the first, lighter than this share of the
/// glaze's L* and darker than white, and hardly redder (a*). White ink on blue glaze is yellower than it, and not yellow.
const GOLDEN: f32 = 2.2;
const YELLOW: f32 = 6.0;
const DULL: f32 = 0.72;
const WHITE: f32 = 84.0;
const REDDISH: f32 = 7.0;
/// Thin strokes are mixed with glaze, but how yellow gold is beside how dark stays the same: it is yellower by this and by this
/// share of what it is darker, and no redder than this share of that, and this. The same bounds how green any gold is.
const YELLOWER: f32 = 3.5;
const BY_DARKER: f32 = 0.5;
const HUE: f32 = 0.6;
const HUE_SLACK: f32 = 1.0;
/// L* of glaze that is burnt out: what lies on it has lost its colour.
const BURNT: f32 = 97.0;
/// Only strong ink tells its colour, and no fewer pixels than the second.
const STRONG: f32 = 0.6;
const COLOURED: usize = 12;

/// Channels (0 to 255) of the places that are ink, and of those that are glaze.
#[derive(Default)]
struct Shades {
    ink: [Vec<f32>; 3],
    glaze: [Vec<f32>; 3],
}

/// Whether a mark is gilt, by the strokes that the exemplar draws and the photo shows.
pub(super) fn is_gilt_by(photo: &RgbImage, laid: &Laid<'_>, seen: &Plane) -> bool {
    let mut shades = Shades::default();
    for (x, y) in places(laid.side()).filter(|&(x, y)| seen.get(x, y) > 0.5) {
        let (drawn, shown) = (laid.exemplar.ink.get(x, y), laid.mark.ink.get(x, y));
        if let Some(into) = shades.of(drawn.min(shown), drawn.max(shown)) {
            push(into, photo, laid.place(x, y));
        }
    }
    shades.are_golden()
}

/// The same by all that is seen of its ink, but what lies under a label.
pub(super) fn is_gilt(
    photo: &RgbImage,
    mark: &SmallInk,
    to_photo: &Homography<Mark, Photo>,
    label: Option<&Label>,
) -> bool {
    let (w, h) = (f64::from(photo.width()), f64::from(photo.height()));
    let within = |at: &Point<Photo>| at.x >= 0.0 && at.y >= 0.0 && at.x < w && at.y < h;
    let free = |at: &Point<Photo>| within(at) && label.is_none_or(|l| !l.covers(*at));
    let mut shades = Shades::default();
    for (x, y) in places(mark.ink.width()).filter(|&(x, y)| mark.valid.get(x, y) > 0.5) {
        let shown = mark.ink.get(x, y);
        if let Some(into) = shades.of(shown, shown) {
            let at = to_photo.apply(Point::new(x as f64 + 0.5, y as f64 + 0.5));
            push(into, photo, at.filter(free));
        }
    }
    shades.are_golden()
}

/// Every second pixel of every second row.
fn places(side: usize) -> impl Iterator<Item = (usize, usize)> {
    let rows = (0..side).step_by(2);
    rows.flat_map(move |y| (0..side).step_by(2).map(move |x| (x, y)))
}

fn push(into: &mut [Vec<f32>; 3], photo: &RgbImage, at: Option<Point<Photo>>) {
    if let Some(at) = at {
        let rgb = photo.get_pixel(at.x as u32, at.y as u32).0;
        (0..3).for_each(|c| into[c].push(f32::from(rgb[c])));
    }
}

impl Shades {
    /// Where the colour of a place belongs that has between so little and so much ink.
    fn of(&mut self, least: f32, most: f32) -> Option<&mut [Vec<f32>; 3]> {
        match (least > STRONG, most < BARE) {
            (true, _) => Some(&mut self.ink),
            (_, true) => Some(&mut self.glaze),
            _ => None,
        }
    }

    /// Whether the ink is yellow beside the glaze, and neither dark nor reddish.
    fn are_golden(self) -> bool {
        if self.ink[0].len() < COLOURED || self.glaze[0].len() < COLOURED {
            return false;
        }
        let middle = |all: [Vec<f32>; 3]| lab(all.map(|mut c| quantile(&mut c, 0.5) as u8));
        let (ink, glaze) = (middle(self.ink), middle(self.glaze));
        let [lighter, redder, yellower] = [0, 1, 2].map(|c| ink[c] - glaze[c]);
        let of_hue = HUE * yellower + HUE_SLACK;
        let plain = ink[0] < WHITE && yellower.min(ink[2] - YELLOW) >= GOLDEN && redder < REDDISH;
        let mixed = yellower >= YELLOWER && yellower >= BY_DARKER * -lighter && redder < of_hue;
        let on_lighter = lighter < 0.0;
        let bright = ink[0] > DULL * glaze[0] && glaze[0] < BURNT;
        bright && redder > -of_hue && (plain || (on_lighter && mixed))
    }
}
