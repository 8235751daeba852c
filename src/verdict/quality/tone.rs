//! Whether ink fades where it ends, or breaks off: what a stamp gave less of, and what was rubbed away.
//!
//! A weak strike lays a thinner and thinner film: between full ink and none lie places of half the tone. Rubbing takes
//! the film off down to the glaze and leaves what it does not reach as it was: half tones lie only on the edge of a gap,
//! no wider than the photo's blur.

use image::RgbImage;

use super::laid::{BARE, Laid, boxed};
use crate::ink::colour::lab;
use crate::raster::{Plane, quantile};

/// The exemplar's ink from which a pixel lies within a stroke.
const WITHIN: f32 = 0.6;
/// Most of the tone at which ink is gone, and least at which it is whole.
const GONE: f32 = 0.2;
const WHOLE: f32 = 0.7;
/// The tone that this share of the strokes stays below is the full one.
const FULL: f32 = 0.85;
/// Half-width of the squares over which the strongest tone counts, as mark and exemplar may lie apart (pixels).
const ASTRAY: usize = 1;
/// Pixels beside a gap in which half tones are its edge, and how many sigma of the blur are added.
const EDGE: f32 = 2.0;
const EDGE_SIGMAS: f32 = 1.5;
/// Blur (sigma, pixels) from which hard edges are soft too.
const SOFT: f32 = 1.5;
/// Pixels that must be thin or gone for the question to be asked.
const ASKED: usize = 40;

/// Of the strokes' places a share that tells the mark's own tone, and every so many-th bare place tells the glaze's.
const OWN: f32 = 0.7;
const GLAZE_EVERY: usize = 3;
/// Of the tones left above the gone ones, as shares of the strongest, this quantile, and the pixels that it takes.
const STRONGEST: f32 = 0.97;
const QUARTER: f32 = 0.25;
const LEFT: usize = 20;

/// The photo's colour difference from the glaze beyond the glaze's own spread, in CIELAB units, in the exemplar's frame.
pub(super) struct Tone {
    pub(super) plane: Plane,
    /// The strokes' own.
    pub(super) full: f32,
}

/// How ink ends.
pub(super) struct Fading {
    /// Of the strokes' places in which ink lacks, the share that is thin and no edge of a gap: 0 where all of it was rubbed
    /// off with hard edges, towards 1 where it fades.
    pub(super) thin: f32,
    /// Of the ink that is left, the tone that a quarter stays below, as a share of the strongest: rubbing leaves it whole.
    pub(super) left: f32,
}

/// How the strokes end where ink lacks. `None` where hardly anything lacks or the photo is too soft to tell.
pub(super) fn fading(tone: &Tone, laid: &Laid<'_>, seen: &Plane) -> Option<Fading> {
    if laid.sigma > SOFT {
        return None;
    }
    let tone = strongest(&tone.plane, ASTRAY);
    let within = within(laid, seen);
    let mut inked = inked(&tone, &within);
    let full = quantile(&mut inked, FULL).max(1e-3);
    let most = quantile(&mut inked, STRONGEST).max(1e-3);
    inked.retain(|t| *t > GONE * most);
    let gone = tone.zip(&within, |t, w| if t <= GONE * full { w } else { 0.0 });
    let reach = (EDGE + EDGE_SIGMAS * laid.sigma).round() as usize;
    let edge = boxed(&gone, reach);
    let (mut thin, mut all) = (0usize, 0usize);
    for (i, &t) in tone.data().iter().enumerate() {
        if within.data()[i] < 0.5 || t >= WHOLE * full {
            continue;
        }
        let away = edge.data()[i] <= 0.0;
        thin += usize::from(away);
        all += usize::from(away || gone.data()[i] > 0.5);
    }
    (all >= ASKED && inked.len() >= LEFT).then(|| Fading {
        thin: thin as f32 / all as f32,
        left: quantile(&mut inked, QUARTER) / most,
    })
}

/// 1 within the strokes that are seen.
fn within(laid: &Laid<'_>, seen: &Plane) -> Plane {
    let both = |d: f32, s: f32| if d > WITHIN && s > 0.5 { 1.0 } else { 0.0 };
    laid.exemplar.ink.zip(seen, both)
}

fn inked(tone: &Plane, within: &Plane) -> Vec<f32> {
    let both = tone.data().iter().zip(within.data());
    both.filter(|(_, w)| **w > 0.5).map(|(v, _)| *v).collect()
}

impl Tone {
    /// `None` where no glaze is seen.
    pub(super) fn of(photo: &RgbImage, laid: &Laid<'_>, seen: &Plane) -> Option<Self> {
        let side = laid.side();
        let mut colours: Vec<Option<[f32; 3]>> = Vec::with_capacity(side * side);
        let mut glaze: Vec<[f32; 3]> = Vec::new();
        let mut bare_places = 0usize;
        for y in 0..side {
            for x in 0..side {
                let at = laid.place(x, y).filter(|_| seen.get(x, y) > 0.5);
                let colour = at.map(|p| lab(photo.get_pixel(p.x as u32, p.y as u32).0));
                let bare = laid.exemplar.ink.get(x, y) < BARE && laid.mark.ink.get(x, y) < BARE;
                if let Some(c) = colour.filter(|_| bare) {
                    bare_places += 1;
                    if bare_places.is_multiple_of(GLAZE_EVERY) {
                        glaze.push(c);
                    }
                }
                colours.push(colour);
            }
        }
        if glaze.len() < ASKED {
            return None;
        }
        let middle: [f32; 3] = std::array::from_fn(|i| {
            quantile(&mut glaze.iter().map(|c| c[i]).collect::<Vec<f32>>(), 0.5)
        });
        let apart = |c: &[f32; 3]| {
            let d: f32 = (0..3).map(|i| (c[i] - middle[i]).powi(2)).sum();
            d.sqrt()
        };
        let mut spread: Vec<f32> = glaze.iter().map(apart).collect();
        let own = quantile(&mut spread, 0.75);
        let beyond = |c: &[f32; 3]| (apart(c) - own).max(0.0);
        let data = colours.iter().map(|c| c.as_ref().map_or(0.0, beyond));
        let plane = Plane::from_vec(side, side, data.collect());
        let full = quantile(&mut inked(&plane, &within(laid, seen)), OWN);
        Some(Self { plane, full })
    }
}

/// The largest value in squares of half-width `r`.
fn strongest(p: &Plane, r: usize) -> Plane {
    let (w, h) = (p.width(), p.height());
    let mut across = p.clone();
    for y in 0..h {
        for x in 0..w {
            let (a, b) = (x.saturating_sub(r), (x + r + 1).min(w));
            let most = p.row(y)[a..b].iter().copied().fold(f32::MIN, f32::max);
            across.set(x, y, most);
        }
    }
    let mut out = across.clone();
    for y in 0..h {
        for x in 0..w {
            let rows = y.saturating_sub(r)..(y + r + 1).min(h);
            out.set(
                x,
                y,
                rows.map(|v| across.get(x, v)).fold(f32::MIN, f32::max),
            );
        }
    }
    out
}
