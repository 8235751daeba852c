//! What the strike itself lacks or bears, as seen where the exemplar has ink: the piece's nature, not the photo's.

use image::RgbImage;

use super::cover::covered;
use super::laid::{Laid, STROKE, blobs, boxed, local_means};
use super::patch::Patch;
use crate::answer::MarkState;
use crate::raster::Plane;

/// Half-width of the squares over which ink is compared, in pixels of the small map: wider than a letter's
/// stroke, so that neither a moderate blur nor a misfit of a pixel looks like lost ink.
const LOCAL: usize = 4;
/// The exemplar's ink (mean of a square) from which there is something to compare, and the share of a square
/// that must be seen.
const INKED: f32 = 0.12;
const SEEN: f32 = 0.6;
/// The best-inked part of a mark sets its full ink: the ratio that this share of the exemplar's ink stays below.
const FULL: f32 = 0.85;
/// Inside strokes: ink of less than the first share of full ink is gone, of more than the second is whole.
const GONE: f32 = 0.25;
const WHOLE: f32 = 0.65;
/// Ink that the exemplar does not have: its strength, and the exemplar's most within `APART` pixels.
const FOREIGN: f32 = 0.4;
const NEARBY: f32 = 0.03;
const APART: usize = 4;
/// What lies across a mark lies near its ink: the exemplar's least mean within `ACROSS` pixels.
const AMONG: f32 = 0.02;
const ACROSS: usize = 18;
/// A scratch: least length (share of the side) and most width (pixels).
const SCRATCH: f32 = 0.14;
const SCRATCH_WIDTH: f32 = 6.0;
/// A spot: half-width of the squares that it fills, how full they are at least, and how full the exemplar's are at
/// most; least width of what is left of it (pixels), least width over length, and least share of its bar that it fills.
const SOLID: usize = 3;
const FILLED: f32 = 0.97;
const DRAWN: f32 = 0.6;
const SPOT: f32 = 2.5;
const SPOT_ROUND: f32 = 0.6;
const SPOT_SOLID: f32 = 0.75;

/// The state of a mark, each a share of the exemplar's ink that is in view, 0 to 1, larger is worse.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Piece {
    /// Ink that is not there, wherever it went.
    pub(super) lost: f32,
    /// Of the ink that is not there, how much ends abruptly: near 1 it was rubbed off, near 0 it fades.
    pub(super) abrupt: f32,
    /// Under something of another colour: a label, dirt, a thumb.
    pub(super) covered: f32,
    /// Length of straight strokes across it that the exemplar does not have, in sides of its frame.
    pub(super) scratched: f32,
    /// Width of the largest round spot that the exemplar does not have, in sides of its frame.
    pub(super) spotted: f32,
}

impl Piece {
    /// Compares what the photo shows of a mark with the exemplar laid over it: ink by the ratio of local means,
    /// which a blur leaves as they are (the full-reference comparison of Wang and others 2004, of means alone).
    pub(super) fn of(photo: &RgbImage, patch: &Patch, laid: &Laid<'_>) -> Self {
        let side = laid.side();
        let mut seen = laid.mark.valid.clone();
        for y in 0..side {
            for x in 0..side {
                if laid.place(x, y).is_none_or(|p| patch.is_glared(p)) {
                    seen.set(x, y, 0.0);
                }
            }
        }
        let cover = covered(photo, patch, laid);
        let share = ink_under(laid, &seen, &cover);
        let bare = seen.zip(&cover, |s, c| if c > 0.5 { 0.0 } else { s });
        let (lost, abrupt) = lost(laid, &bare);
        Self {
            lost,
            abrupt,
            covered: share,
            scratched: scratched(laid, &bare),
            spotted: spotted(laid, &bare),
        }
    }
}

impl Piece {
    /// As the answer says it.
    pub(super) fn told(self) -> MarkState {
        MarkState {
            faded: f64::from(self.lost * (1.0 - self.abrupt)),
            worn: f64::from(self.lost * self.abrupt),
            covered: f64::from(self.covered),
            scratched: f64::from(self.scratched),
            spotted: f64::from(self.spotted),
        }
    }
}

/// Share of the exemplar's ink in view that lies under a cover.
fn ink_under(laid: &Laid<'_>, seen: &Plane, cover: &Plane) -> f32 {
    let ink = laid
        .exemplar
        .ink
        .zip(seen, |e, s| if e > STROKE { e * s } else { 0.0 });
    let under: f32 = ink.zip(cover, |i, c| i * c).data().iter().sum();
    under / ink.data().iter().sum::<f32>().max(1e-6)
}

/// Share of the exemplar's ink that is lost where it could be seen, and of that the share that is gone abruptly.
fn lost(laid: &Laid<'_>, seen: &Plane) -> (f32, f32) {
    let planes = [&laid.mark.ink, &laid.exemplar.ink];
    let ([mark, drawn], share) = local_means(planes, seen, LOCAL);
    let mut ratios: Vec<(f32, f32)> = Vec::new();
    for (i, &d) in drawn.data().iter().enumerate().step_by(2) {
        if d > INKED && share.data()[i] > SEEN {
            ratios.push((mark.data()[i] / d, d));
        }
    }
    ratios.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f32 = ratios.iter().map(|r| r.1).sum();
    if all <= 0.0 {
        return (0.0, 0.0);
    }
    let mut so_far = 0.0;
    let full = ratios.iter().find(|r| {
        so_far += r.1;
        so_far >= FULL * all
    });
    let full = full.map_or(1.0, |r| r.0).max(1e-3);
    let kept: f32 = ratios.iter().map(|r| (r.0 / full).min(1.0) * r.1).sum();
    (1.0 - kept / all, abruptness(laid, seen, full))
}

fn abruptness(laid: &Laid<'_>, seen: &Plane, full: f32) -> f32 {
    let planes = [&laid.mark.ink, &laid.exemplar.ink];
    let ([mark, drawn], _) = local_means(planes, seen, 1);
    let (mut gone, mut between) = (0u32, 0u32);
    for i in 0..drawn.data().len() {
        if drawn.data()[i] > STROKE && seen.data()[i] > 0.5 {
            let left = mark.data()[i] / (full * drawn.data()[i]);
            gone += u32::from(left < GONE);
            between += u32::from((GONE..WHOLE).contains(&left));
        }
    }
    gone as f32 / (gone + between).max(1) as f32
}

/// Length of the scratches among the mark's ink, in sides of the frame.
fn scratched(laid: &Laid<'_>, seen: &Plane) -> f32 {
    let side = laid.side();
    let near = boxed(&laid.exemplar.ink, APART);
    let among = boxed(&laid.exemplar.ink, ACROSS);
    let found = blobs(side, |x, y| {
        let foreign = laid.mark.ink.get(x, y) > FOREIGN && near.get(x, y) < NEARBY;
        foreign && seen.get(x, y) > 0.5
    });
    let scratches = found.iter().filter(|b| {
        let within = among.get(b.centre.0 as usize, b.centre.1 as usize) >= AMONG;
        within && b.length >= SCRATCH * side as f32 && b.width <= SCRATCH_WIDTH
    });
    scratches.map(|b| b.length).sum::<f32>() / side as f32
}

/// Width of the largest round spot that is solid where the exemplar is not, in sides of the frame.
fn spotted(laid: &Laid<'_>, seen: &Plane) -> f32 {
    let side = laid.side();
    let inked = |p: &Plane| boxed(&p.map(|v| if v > FOREIGN { 1.0 } else { 0.0 }), SOLID);
    let (mark, drawn) = (inked(&laid.mark.ink), inked(&laid.exemplar.ink));
    let among = boxed(&laid.exemplar.ink, ACROSS);
    let found = blobs(side, |x, y| {
        let solid = mark.get(x, y) > FILLED && drawn.get(x, y) < DRAWN;
        solid && seen.get(x, y) > 0.5 && among.get(x, y) >= AMONG
    });
    let spots = found.iter().filter(|b| {
        let full = b.pixels as f32 >= SPOT_SOLID * b.length * b.width;
        full && b.width >= SPOT && b.width >= SPOT_ROUND * b.length
    });
    let widest = spots
        .map(|b| b.width + 2.0 * SOLID as f32)
        .fold(0.0, f32::max);
    widest / side as f32
}
