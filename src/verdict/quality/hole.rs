//! A hole drilled through the base: what is seen in it is darker than any print can be.
//!
//! Black print lies under or on glaze, and glaze throws back at least 4 % of the light by itself (Fresnel's equations for
//! glass of index 1.5, straight from above). A hole is a cavity and throws back next to nothing.

use super::label::Label;
use super::laid::{Blob, blobs};
use super::patch::Patch;
use crate::geometry::{Photo, Point};

/// Luma of a hole, as a share of the glaze's, at most: 4 % of the light over the 80 % that white glaze throws back, both
/// coded as sRGB. Where ink beside it says how dark print is here, twice that light: stray light in the lens lifts all that is
/// dark. Of 64 holes in pale glaze (tune seeds 64 and 65, test seeds 129 and 130, used up by that) 63 are so, and 57 by
/// the first figure alone; of 937 other photos four, by the print of labels.
const DARKNESS: f32 = 0.24;
const VEILED: f32 = 0.35;
/// Luma (0 to 100) of the glaze below which a hole cannot be told from it.
const PALE: f32 = 50.0;
/// Luma of a hole as a share of that of the mark's own darkest ink, at most, and the share of the ink that is its darkest:
/// a renderer's or a phone's black may lie below the limits above.
const DARKER: f32 = 0.75;
const DARKEST: f64 = 0.1;
/// Luma below which a pixel is ink, as a share of the glaze's.
const INK: f32 = 0.7;
/// A hole's edge belongs to nobody: its reach in widths of the hole.
const EDGE: f32 = 0.7;
/// Least width, in pixels of the patch and as a share of its longer side, and most.
const LEAST: f32 = 5.0;
const SMALL: f32 = 0.02;
const LARGE: f32 = 0.45;
/// Least width over length, as a base leans away, and least share of the bar with its moments that is filled (a disc: 1.05).
const ROUND: f32 = 0.6;
const SOLID: f32 = 0.93;
/// Widths of a disc to that bar's: the side of the square with a disc's second moments is 0.866 of its width.
const DISC: f32 = 1.155;

/// How far the chipped edge of a hole and what it blurs into reach, in widths of the hole from its middle.
const CHIPPED: f64 = 1.3;

/// A hole in the photo.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hole {
    centre: Point<Photo>,
    /// In photo pixels.
    wide: f64,
    /// Its width in longer sides of what was looked at.
    pub(super) share: f64,
}

impl Hole {
    /// Whether a place lies in it or on its chipped edge.
    pub(super) fn spoils(&self, at: Point<Photo>) -> bool {
        self.centre.distance(at) < CHIPPED * self.wide
    }
}

/// The largest hole among the pixels round a mark. The print of a label is none.
pub(super) fn hole(patch: &Patch, label: Option<&Label>) -> Option<Hole> {
    let (w, h) = (patch.light.width(), patch.light.height());
    let glaze = patch.luma(0.5);
    if glaze < PALE {
        return None;
    }
    let side = w.max(h) as f32;
    let round = |b: &Blob| {
        let wide = DISC * b.width;
        let solid = b.pixels as f32 >= SOLID * b.length * b.width;
        solid
            && b.width >= ROUND * b.length
            && wide >= LEAST.max(SMALL * side)
            && wide <= LARGE * side
    };
    let printed = |b: &Blob| label.is_some_and(|l| l.covers(patch.place(b.centre)));
    // What is darkest first: dark print beside a hole would grow together with it.
    let largest = [DARKNESS, VEILED].into_iter().find_map(|share| {
        let limit = share * glaze;
        let dark = |x: usize, y: usize| patch.counts(x, y) && patch.light.get(x, y) < limit;
        let found = blobs((w, h), dark);
        let holes = found.iter().filter(|b| round(b) && !printed(b));
        let deep = holes.filter(|b| is_deep(patch, b, glaze));
        deep.max_by(|a, b| a.length.total_cmp(&b.length)).copied()
    })?;
    let wide = DISC * largest.length;
    Some(Hole {
        centre: patch.place(largest.centre),
        wide: f64::from(wide) * patch.step,
        share: f64::from(wide / side),
    })
}

/// Whether a dark place is darker than the mark's own ink.
fn is_deep(patch: &Patch, b: &Blob, glaze: f32) -> bool {
    let (mut own, mut own_n, mut ink) = (0.0f32, 0.0f32, Vec::new());
    for y in 0..patch.light.height() {
        for x in 0..patch.light.width() {
            let v = patch.light.get(x, y);
            if !patch.counts(x, y) || v > INK * glaze {
                continue;
            }
            let far = (x as f32 + 0.5 - b.centre.0).hypot(y as f32 + 0.5 - b.centre.1) / b.length;
            if far < 0.4 {
                (own, own_n) = (own + v, own_n + 1.0);
            } else if far > EDGE {
                ink.push(v);
            }
        }
    }
    let own = own / own_n.max(1.0);
    if ink.is_empty() {
        return own < DARKNESS * glaze;
    }
    own < DARKER * crate::raster::quantile(&mut ink, DARKEST as f32)
}
