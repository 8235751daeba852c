//! How good the photo is, apart from what it shows: over the base, where a mark lies, and, apart from
//! both, the state of the strike itself.

mod base;
mod cover;
mod laid;
mod lettering;
mod patch;
mod piece;
mod spread;
#[cfg(test)]
mod tests;

use image::RgbImage;

use crate::alignment::verifier;
use crate::answer::{MarkQuality, MarkState};
use crate::examine::{Compared, Examined};
use crate::geometry::{Exemplar, Homography, Photo, Point, Quad};
use crate::ink::colour::lab;
use crate::ink::small::SmallInk;
use crate::mark::cut;
use crate::raster::Plane;
use crate::references::PreparedExemplar;

pub use base::{Blur, blur, blur_of, quality};
use laid::Laid;
use patch::{Ground, Patch};
use piece::Piece;
pub use spread::{Spread, spread_of};

/// Share of the mark's box below whose lightness the exposure is read: above it lie specks of light.
const BRIGHT: f32 = 0.95;

/// Median L* of the base from which all of it is burnt out.
const BURNT: f64 = 98.5;

/// What is measured where a mark lies whose box is `quad`, on a base of the median lightness `base_light`; with an
/// exemplar that fits it, also what needs one.
/// `None` where the box lies outside the photo.
pub fn of_mark(
    photo: &RgbImage,
    quad: &Quad<Photo>,
    base_light: f64,
    examined: &Examined,
    fitting: Option<(&Compared, &PreparedExemplar)>,
) -> Option<(MarkQuality, Option<MarkState>)> {
    let ground = match base_light > BURNT {
        true => Ground::Burnt,
        false => Ground::Seen,
    };
    let patch = Patch::of(photo, quad, ground)?;
    let spread = spread_of(&patch.light, |x, y| patch.counts(x, y));
    let laid = fitting.and_then(|(compared, exemplar)| {
        let (mark, to_photo) = laid_over(examined, compared)?;
        let sigma = spread.widest() * patch.step as f32;
        let both = (exemplar.fine(), mark);
        Some(Laid::new(both, to_photo, photo, ground, sigma))
    });
    let grey = (patch.luma(BRIGHT) * 2.55).round().clamp(0.0, 255.0) as u8;
    let letters = match &laid {
        Some(laid) => {
            let height = lettering::letter_height(&laid.exemplar.ink).map(f64::from);
            height.and_then(|h| Some(h * laid.scale()?))
        }
        None => own_letters(examined),
    };
    let quality = MarkQuality {
        defocus: patch.own_blur(spread.defocus),
        motion: f64::from(spread.streak) * patch.step,
        motion_angle: f64::from(spread.angle).to_degrees(),
        exposure: f64::from(lab([grey; 3])[0]),
        clipped: f64::from(patch.clipped),
        glare: f64::from(
            laid.as_ref()
                .map_or_else(|| patch.glare_share(), Laid::glared),
        ),
        letters,
        cut: laid.as_ref().map(|l| f64::from(l.cut())),
        tilt: laid.as_ref().and_then(Laid::tilt),
    };
    let state = laid.map(|laid| Piece::of(photo, &laid).told());
    Some((quality, state))
}

/// Differences across a pixel along x and y; it must have neighbours on all sides.
fn slope(plane: &Plane, x: usize, y: usize) -> (f32, f32) {
    let gx = plane.get(x + 1, y) - plane.get(x - 1, y);
    let gy = plane.get(x, y + 1) - plane.get(x, y - 1);
    (gx, gy)
}

/// Height of the smaller letters by the photo's own ink, in its pixels.
fn own_letters(examined: &Examined) -> Option<f64> {
    let height = lettering::letter_height(&examined.fine.ink)?;
    let area = examined.cut.from_photo.inverse()?;
    let to_photo = cut::from_small(examined.fine.ink.width()).then(&area);
    let middle = examined.fine.ink.width() as f64 / 2.0;
    let scale = to_photo.local_area(Point::new(middle, middle));
    Some(f64::from(height) * scale.abs().sqrt())
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
