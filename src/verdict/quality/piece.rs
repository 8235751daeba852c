//! What the strike itself lacks or bears, as seen where the exemplar has ink: the piece's nature, not the photo's.

use image::RgbImage;

use super::cover::Over;
use super::laid::{Laid, STROKE, blobs, boxed, local_means};
use super::scratch::scratched;
use super::tone::{Tone, fading};
use super::{from, gilding};
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
/// What sound marks come to: ink that seems lost for gain, focus and a pixel's misfit, which is not called rubbed; and, told
/// as nothing, places of another colour, a single hair or craze, blots.
const WHOLE: f64 = 0.28;
/// The same where the base leans away: strokes lie a pixel or two astray.
const WHOLE_LEANING: f64 = 0.45;
const CLEAR: f64 = 0.08;
const UNHURT: f64 = 0.15;
const BLOTTED: f64 = 0.065;
/// Share of thin ink below which it was rubbed off, and the share of the strongest tone that three quarters of what is left
/// reach then. On tune seed 64 (15 worn marks, 22 weak strikes) all worn ones reach 0.56, and of the strikes that lack
/// more than 0.4 one, of white ink, as much.
const BREAKS_OFF: f32 = 0.1;
const LEFT_WHOLE: f32 = 0.5;
/// Share of thin ink from which gold, too, was struck weakly: on tune seeds 64 and 65 none of 33 worn gold marks comes to 0.35,
/// and two of four weak ones to more than 0.6.
const FADES: f32 = 0.45;
/// Share of the ink that must lie under nothing for what lacks to be told: of less, the edges of what lies over it are a part.
const OPEN: f32 = 0.4;
/// Pixels round a cover that are left out of what is compared.
const BESIDE: usize = 6;
/// What lies across a mark lies near its ink: the exemplar's least mean within `ACROSS` pixels.
const AMONG: f32 = 0.02;
const ACROSS: usize = 18;
/// A spot: half-width of the squares that it fills, how full they are at least, and how full the exemplar's are at
/// most; least width of what is left of it (pixels), least width over length, and least share of its bar that it fills.
const SPOT_INK: f32 = 0.4;
const SOLID: usize = 3;
const FILLED: f32 = 0.97;
const DRAWN: f32 = 0.6;
const SPOT: f32 = 2.5;
const SPOT_ROUND: f32 = 0.6;
const SPOT_SOLID: f32 = 0.75;
/// Widest spot, in sides of the frame: larger ones are labels. Most blur (sigma, pixels of the map) at which
/// one is told from blotted lettering.
const SPOT_MOST: f32 = 0.3;
const SPOT_BLUR: f32 = 1.5;

/// The state of a mark, each a share of the exemplar's ink that is in view, 0 to 1, larger is worse.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Piece {
    /// Ink that is not there, wherever it went.
    pub(super) lost: f32,
    /// What lacks was rubbed off: the ink is gold, or breaks off instead of fading. Only asked where enough lacks.
    pub(super) rubbed: bool,
    /// Under something of another colour: a label, dirt, a thumb.
    pub(super) covered: f32,
    /// Under a sheen that does not clip: the photo's fault.
    pub(super) veiled: f32,
    /// Length of straight strokes across it that the exemplar does not have, in sides of its frame.
    pub(super) scratched: f32,
    /// Width of the largest round spot that the exemplar does not have, in sides of its frame.
    pub(super) spotted: f32,
}

impl Piece {
    /// Compares what the photo shows of a mark with the exemplar laid over it: ink by the ratio of local means,
    /// which a blur leaves as they are (the full-reference comparison of Wang and others 2004, of means alone).
    pub(super) fn of(photo: &RgbImage, laid: &Laid<'_>) -> Self {
        let Over { cover, veil } = Over::of(photo, laid);
        let share = ink_under(laid, &laid.seen, &cover);
        // A cover's edge crosses cells that are not its own, and a sheen takes ink away that is there.
        let over = boxed(&cover.zip(&veil, f32::max), BESIDE);
        let bare = laid.seen.zip(&over, |s, c| if c > 0.0 { 0.0 } else { s });
        let lost = match in_view(laid, &bare) >= OPEN {
            true => lost(laid, &bare),
            false => 0.0,
        };
        let tone = Tone::of(photo, laid, &bare);
        Self {
            lost,
            rubbed: f64::from(lost) >= WHOLE && is_rubbed(photo, laid, &bare, tone.as_ref()),
            covered: share,
            veiled: ink_under(laid, &laid.seen, &veil),
            scratched: tone.map_or(0.0, |t| scratched(&t, laid, &bare)),
            spotted: match laid.sigma < SPOT_BLUR {
                // Print of a label is no spot.
                true => spotted(laid, &laid.seen.zip(&laid.paper, |s, p| s * (1.0 - p))),
                false => 0.0,
            },
        }
    }
}

impl Piece {
    /// Whether nearly all ink is there to be seen.
    pub(super) fn is_whole(&self) -> bool {
        f64::from(self.lost) < WHOLE && !self.is_covered()
    }

    pub(super) fn is_covered(&self) -> bool {
        f64::from(self.covered) >= CLEAR
    }

    /// As the answer says it; `leans` where the base leans away.
    pub(super) fn told(self, leans: bool) -> MarkState {
        let whole = if leans { WHOLE_LEANING } else { WHOLE };
        let lost = from(whole, f64::from(self.lost));
        MarkState {
            faded: if self.rubbed { 0.0 } else { lost },
            worn: if self.rubbed { lost } else { 0.0 },
            covered: from(CLEAR, f64::from(self.covered)),
            scratched: from(UNHURT, f64::from(self.scratched)),
            spotted: from(BLOTTED, f64::from(self.spotted)),
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

/// Share of the exemplar's ink in the photo that nothing lies over.
fn in_view(laid: &Laid<'_>, bare: &Plane) -> f32 {
    let (mut all, mut open) = (0.0f32, 0.0f32);
    for y in 0..laid.side() {
        for x in 0..laid.side() {
            let drawn = laid.exemplar.ink.get(x, y);
            if drawn > STROKE && laid.place(x, y).is_some() {
                all += drawn;
                open += drawn * bare.get(x, y);
            }
        }
    }
    open / all.max(1e-6)
}

/// Share of the exemplar's ink that is lost where it could be seen.
fn lost(laid: &Laid<'_>, seen: &Plane) -> f32 {
    let planes = [&laid.mark.ink, &laid.exemplar.ink];
    let ([mark, drawn], share) =
        local_means(planes, seen, LOCAL + (laid.sigma * 1.5).min(6.0) as usize);
    let mut ratios: Vec<(f32, f32)> = Vec::new();
    for (i, &d) in drawn.data().iter().enumerate().step_by(2) {
        if d > INKED && share.data()[i] > SEEN {
            ratios.push((mark.data()[i] / d, d));
        }
    }
    ratios.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f32 = ratios.iter().map(|r| r.1).sum();
    if all <= 0.0 {
        return 0.0;
    }
    let mut so_far = 0.0;
    let full = ratios.iter().find(|r| {
        so_far += r.1;
        so_far >= FULL * all
    });
    let full = full.map_or(1.0, |r| r.0).max(1e-3);
    let kept: f32 = ratios.iter().map(|r| (r.0 / full).min(1.0) * r.1).sum();
    1.0 - kept / all
}

/// Whether what lacks was rubbed off.
fn is_rubbed(photo: &RgbImage, laid: &Laid<'_>, seen: &Plane, tone: Option<&Tone>) -> bool {
    let fading = tone.and_then(|t| fading(t, laid, seen));
    match gilding::is_gilt_by(photo, laid, seen) {
        true => fading.is_none_or(|f| f.thin < FADES),
        false => fading.is_some_and(|f| f.thin < BREAKS_OFF && f.left > LEFT_WHOLE),
    }
}

/// Width of the largest round spot that is solid where the exemplar is not, in sides of the frame.
fn spotted(laid: &Laid<'_>, seen: &Plane) -> f32 {
    let side = laid.side();
    let inked = |p: &Plane| boxed(&p.map(|v| if v > SPOT_INK { 1.0 } else { 0.0 }), SOLID);
    let (mark, drawn) = (inked(&laid.mark.ink), inked(&laid.exemplar.ink));
    let among = boxed(&laid.exemplar.ink, ACROSS);
    let found = blobs((side, side), |x, y| {
        let solid = mark.get(x, y) > FILLED && drawn.get(x, y) < DRAWN;
        solid && seen.get(x, y) > 0.5 && among.get(x, y) >= AMONG
    });
    let spots = found.iter().filter(|b| {
        let full = b.pixels as f32 >= SPOT_SOLID * b.length * b.width;
        let small = b.length <= SPOT_MOST * side as f32;
        full && small && b.width >= SPOT && b.width >= SPOT_ROUND * b.length
    });
    let widest = spots
        .map(|b| b.width + 2.0 * SOLID as f32)
        .fold(0.0, f32::max);
    widest / side as f32
}
