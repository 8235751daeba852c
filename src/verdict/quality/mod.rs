//! How good the photo is, apart from what it shows: over the base, where a mark lies, and, apart from
//! both, the state of the strike itself.

mod base;
mod cover;
mod gilding;
mod hole;
mod label;
mod laid;
mod lettering;
mod patch;
mod piece;
mod scratch;
mod spread;
mod streak;
#[cfg(test)]
mod tests;
mod tone;

use std::f64::consts::FRAC_1_SQRT_2;

use image::{Rgb, RgbImage};

use crate::alignment::verifier;
use crate::answer::{MarkQuality, MarkState};
use crate::examine::{Compared, Examination, Examined};
use crate::geometry::{Exemplar, Homography, Mark, Photo, Point, Quad};
use crate::ink::colour::lab;
use crate::ink::small::SmallInk;
use crate::mark::cut;
use crate::raster::Plane;
use crate::references::PreparedExemplar;
use crate::underside::Ring;

pub use base::{Blur, blur, blur_of, is_overexposed, quality};
use label::Label;
use laid::Laid;
use patch::{Ground, Patch};
use piece::Piece;
pub use spread::{Spread, spread_of};
use streak::Streak;

/// Share of the mark's box below whose lightness the exposure is read: above it lie specks of light.
const BRIGHT: f32 = 0.95;

/// Places of the box a side that are asked whether it is burnt out, and the brightest channel's value (8 bits) from which one
/// is as good as clipped: too long an exposure lifts all of the box, a reflection leaves the glaze beside it as it was.
const ASKED: usize = 96;
const WHITENED: u8 = 245;
/// Share of the places from which the box is burnt out. Of photos sent back (tune seeds 64 and 65, test seeds 129 and 130, used
/// up by that) the reflections come to 0.69 at most, and of the 36 overexposed ones one to less than 0.78 (0.70).
const WHITENED_SHARE: f64 = 0.75;
/// What a measure shows of a sound mark by itself, so that less is told as nothing (sound photos of tune seeds 62 and 63):
/// the blur of a sharp photo and of print's own soft edges (sigma in pixels, taken off as variances are); the streak
/// (pixels) that strokes of one width in one direction and another in the next look like; specks of light as shares of the
/// box and of the ink; and the lean at which the axes of a fit differ by seven in a hundred (degrees).
pub(super) const SHARPEST: f64 = 1.5;
/// The least blur that is reckoned with in any photo (sigma in pixels), whatever its strokes seem to show: no lens and
/// sensor do with less. A mark of a hundred pixels is blurred by two of its map's.
const LENS: f32 = 1.0;
const STEADY: f64 = 7.0;
/// Streaks are measured short: the median of true over measured is this for the 37 photos of tune seeds 64 and 65 that moved by 10
/// pixels and more.
const SHORT: f64 = 1.15;
/// Share of the box that is clipped from which no movement is measured: nothing is left that was drawn out.
const BLANK: f32 = 0.5;
const SPECKS: f64 = 0.05;
const SPARKLE: f64 = 0.07;
const UPRIGHT: f64 = 22.0;
/// The same of a mark of which a part is not there to be fitted: weak, worn, covered, drilled or under glare, marks of tune
/// seeds 64 and 65 lean by up to 30 degrees.
const UPRIGHT_PARTLY: f64 = 31.0;
/// Of a streak this share of its length shows across it as well (sigma): strokes bend. Photos that moved and were in focus come
/// to 0.08 to 0.2.
const ASIDE: f64 = 0.2;

/// Share of a rim in the frame, and of that share drawn by edges, from which its lean speaks beside the fit's.
const RIM_SEEN: f64 = 0.7;
const RIM_DRAWN: f64 = 0.9;

/// What is known of the base round a mark.
#[derive(Debug, Clone, Copy)]
pub struct Around {
    /// Degrees by which the rim leans away, where one is drawn well enough.
    lean: Option<f64>,
}

impl Around {
    pub fn of(examination: &Examination) -> Self {
        let rim = examination.underside.rim();
        let rim = rim.filter(|r| r.visible >= RIM_SEEN && r.support >= RIM_DRAWN);
        Self {
            lean: rim.map(lean_of),
        }
    }

    /// A fit to a covered mark leans by itself, so that nothing is told of it where no rim does too, and so does the rim of an
    /// oval dish: a base leans by both. Less than `floor` is told as nothing.
    fn tilt(&self, fit: f64, floor: f64, covered: bool) -> f64 {
        let alone = if covered { 0.0 } else { fit };
        from(floor, self.lean.map_or(alone, |lean| lean.min(fit)))
    }
}

/// What is measured where a mark lies whose box is `quad`; with an exemplar that fits it, also what needs one.
/// `None` where the box lies outside the photo.
pub fn of_mark(
    photo: &RgbImage,
    quad: &Quad<Photo>,
    around: Around,
    examined: &Examined,
    fitting: Option<(&Compared, &PreparedExemplar)>,
) -> Option<(MarkQuality, Option<MarkState>)> {
    let ground = match is_burnt(photo, quad) {
        true => Ground::Burnt,
        false => Ground::Seen,
    };
    let patch = Patch::of(photo, quad, ground)?;
    let mut label = Label::of(&patch);
    let hole = hole::hole(&patch, label.as_ref());
    let patch = patch.without(hole.as_ref());
    let spread = spread_of(&patch.light, |x, y| patch.counts(x, y));
    let laid = fitting.and_then(|(compared, exemplar)| {
        let (mark, to_photo) = laid_over(examined, compared)?;
        let sigma = (spread.widest() * patch.step as f32).max(LENS);
        let both = (exemplar.fine(), mark);
        let laid = Laid::new(both, to_photo, photo, ground, sigma);
        // What the exemplar draws as well is no label.
        label = label.take().filter(|l| !laid.draws(l));
        Some(laid.under(label.as_ref()).without(hole.as_ref()))
    });
    let grey = (patch.luma(BRIGHT) * 2.55).round().clamp(0.0, 255.0) as u8;
    let piece = laid.as_ref().map(|laid| Piece::of(photo, laid));
    let motion = match patch.clipped < BLANK {
        true => motion(&spread, patch.step, laid.as_ref()),
        false => Streak::default(),
    };
    let hole = hole.map_or(0.0, |h| h.share);
    let glare = match (&laid, &piece) {
        (Some(laid), Some(piece)) => (laid.glared() + piece.veiled).min(1.0),
        _ => patch.glare_share(),
    };
    let unspoilt = hole == 0.0 && glare < SPARKLE as f32;
    let upright = match piece.is_some_and(|p| p.is_whole() && unspoilt) {
        true => UPRIGHT,
        false => UPRIGHT_PARTLY,
    };
    let covered = piece.is_some_and(|p| p.is_covered());
    let quality = MarkQuality {
        defocus: beyond(
            patch.own_blur(spread.defocus),
            SHARPEST.hypot(ASIDE * motion.length),
        ),
        motion: motion.length,
        motion_angle: motion.angle.to_degrees(),
        exposure: f64::from(lab([grey; 3])[0]),
        clipped: from(SPECKS, f64::from(patch.clipped)),
        glare: from(SPARKLE, f64::from(glare)),
        letters: letters(laid.as_ref(), examined),
        cut: laid.as_ref().map(|l| f64::from(l.cut())),
        tilt: laid
            .as_ref()
            .and_then(Laid::tilt)
            .map(|t| around.tilt(t, upright, covered)),
        hole,
        label: label.as_ref().map_or(0.0, Label::share),
        gilt: own_map(examined)
            .is_some_and(|map| gilding::is_gilt(photo, &examined.fine, &map, label.as_ref())),
    };
    // A hole is a spot too, whatever the exemplar shows there.
    let leans = quality.tilt.is_some_and(|t| t > 0.0);
    let state = piece.map(|p| p.told(leans)).map(|told| MarkState {
        spotted: told.spotted.max(hole),
        ..told
    });
    Some((quality, state))
}

/// Whether a label lies on the base, under which there may be a mark: looked for in the square that the rim encloses, in the
/// whole photo where no rim shows.
pub fn has_label(photo: &RgbImage, examination: &Examination) -> bool {
    let (w, h) = (f64::from(photo.width()), f64::from(photo.height()));
    let quad = match examination.underside.rim() {
        Some(rim) => {
            let e = rim.ellipse.to_scale::<Photo>(examination.view.scale);
            let half = e.minor * FRAC_1_SQRT_2;
            let (x, y) = (e.centre.x, e.centre.y);
            Quad::upright(x - half, y - half, x + half, y + half)
        }
        None => Quad::upright(0.0, 0.0, w, h),
    };
    let patch = Patch::of(photo, &quad, Ground::Seen);
    patch.is_some_and(|p| Label::of_base(&p).is_some())
}

/// The streak that a movement drew: the longer one of what the photo's own edges show (`step` photo pixels a pixel) and what
/// the exemplar must be drawn out by; of length 0 where there is none.
fn motion(spread: &Spread, step: f64, laid: Option<&Laid<'_>>) -> Streak {
    let own = from(STEADY, f64::from(spread.streak) * step);
    // What leans away is drawn out by that.
    let upright = laid.filter(|l| l.tilt().is_none_or(|t| t < UPRIGHT_PARTLY));
    let by_exemplar = upright.and_then(streak::streak);
    let longer = by_exemplar.filter(|s| s.length > own);
    let found = longer.unwrap_or(Streak {
        length: own,
        angle: f64::from(spread.angle),
    });
    match found.length > 0.0 {
        true => Streak {
            length: SHORT * found.length,
            ..found
        },
        false => Streak::default(),
    }
}

/// Degrees by which a ring leans away, taken for a circle.
pub(super) fn lean_of(ring: &Ring) -> f64 {
    let e = ring.ellipse;
    (e.minor / e.major).clamp(0.0, 1.0).acos().to_degrees()
}

/// What lies below `floor` is told as nothing.
fn from(floor: f64, measured: f64) -> f64 {
    if measured < floor { 0.0 } else { measured }
}

/// What a blur has beyond another one: variances add up.
fn beyond(sigma: f64, own: f64) -> f64 {
    (sigma * sigma - own * own).max(0.0).sqrt()
}

/// Whether the box of a mark is burnt out, and what is clipped in it no reflection.
fn is_burnt(photo: &RgbImage, quad: &Quad<Photo>) -> bool {
    let (x0, y0, x1, y1) = quad.bounds();
    let (w, h) = (f64::from(photo.width()), f64::from(photo.height()));
    let at = |a: f64, b: f64, i: usize| a + (b - a) * (i as f64 + 0.5) / ASKED as f64;
    let places = (0..ASKED * ASKED).map(|i| (at(x0, x1, i % ASKED), at(y0, y1, i / ASKED)));
    let inside = places.filter(|&(x, y)| x >= 0.0 && y >= 0.0 && x < w && y < h);
    let (mut all, mut white) = (0u32, 0u32);
    for (x, y) in inside {
        all += 1;
        white += u32::from(is_whitened(photo.get_pixel(x as u32, y as u32)));
    }
    f64::from(white) >= WHITENED_SHARE * f64::from(all.max(1))
}

/// Whether a pixel is as good as clipped in its brightest channel.
fn is_whitened(pixel: &Rgb<u8>) -> bool {
    pixel.0.iter().any(|&c| c >= WHITENED)
}

/// Differences across a pixel along x and y; it must have neighbours on all sides.
fn slope(plane: &Plane, x: usize, y: usize) -> (f32, f32) {
    let gx = plane.get(x + 1, y) - plane.get(x - 1, y);
    let gy = plane.get(x, y + 1) - plane.get(x, y - 1);
    (gx, gy)
}

/// Height of the smaller letters in the photo's pixels, as if seen straight: the exemplar's where one fits, else the photo's own.
fn letters(laid: Option<&Laid<'_>>, examined: &Examined) -> Option<f64> {
    let Some(laid) = laid else {
        return own_letters(examined);
    };
    let height = lettering::letter_height(&laid.exemplar.ink)?;
    Some(f64::from(height) * laid.upright_scale()?)
}

/// Height of the smaller letters by the photo's own ink, in its pixels.
fn own_letters(examined: &Examined) -> Option<f64> {
    let height = lettering::letter_height(&examined.fine.ink)?;
    let to_photo = own_map(examined)?;
    let middle = examined.fine.ink.width() as f64 / 2.0;
    let scale = to_photo.local_area(Point::new(middle, middle));
    Some(f64::from(height) * scale.abs().sqrt())
}

/// From the small map of a region to the photo.
fn own_map(examined: &Examined) -> Option<Homography<Mark, Photo>> {
    let area = examined.cut.from_photo.inverse()?;
    Some(cut::from_small(examined.fine.ink.width()).then(&area))
}

/// The photo's ink in the frame of an exemplar's small map, and where that lies in the photo.
fn laid_over(
    examined: &Examined,
    compared: &Compared,
) -> Option<(SmallInk, Homography<Exemplar, Photo>)> {
    let side = verifier::SIDE;
    let to_mark = compared.fit.map.inverse()?;
    let both = [&examined.fine.ink, &examined.fine.valid];
    let small = cut::between_small(&to_mark, side);
    let [ink, valid] = Plane::warp_together(both, &small, side, side, 0.0);
    let to_photo = cut::from_small(side)
        .then(&to_mark)
        .then(&examined.cut.from_photo.inverse()?);
    Some((SmallInk { ink, valid }, to_photo))
}
