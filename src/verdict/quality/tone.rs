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

/// Of the strokes' places in which ink lacks, the share that is thin and no edge of a gap: 0 where all of it was rubbed off
/// with hard edges, towards 1 where it fades. `None` where hardly anything
/// lacks, no glaze is seen, or the photo is too soft to tell.
pub(super) fn fading(photo: &RgbImage, laid: &Laid<'_>, seen: &Plane) -> Option<f32> {
    if laid.sigma > SOFT {
        return None;
    }
    let tone = tones(photo, laid, seen)?;
    let within = laid
        .exemplar
        .ink
        .zip(seen, |d, s| if d > WITHIN && s > 0.5 { 1.0 } else { 0.0 });
    let inked = |p: &Plane| -> Vec<f32> {
        let both = p.data().iter().zip(within.data());
        both.filter(|(_, w)| **w > 0.5).map(|(v, _)| *v).collect()
    };
    let full = quantile(&mut inked(&tone), FULL).max(1e-3);
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
    (all >= ASKED).then(|| thin as f32 / all as f32)
}

/// The photo's colour difference from the glaze, CIELAB units over the glaze's own spread, the strongest nearby.
fn tones(photo: &RgbImage, laid: &Laid<'_>, seen: &Plane) -> Option<Plane> {
    let side = laid.side();
    let mut colours: Vec<Option<[f32; 3]>> = Vec::with_capacity(side * side);
    let mut glaze: [Vec<f32>; 3] = Default::default();
    for y in 0..side {
        for x in 0..side {
            let at = laid.place(x, y).filter(|_| seen.get(x, y) > 0.5);
            let colour = at.map(|p| lab(photo.get_pixel(p.x as u32, p.y as u32).0));
            let bare = laid.exemplar.ink.get(x, y) < BARE && laid.mark.ink.get(x, y) < BARE;
            if let Some(c) = colour.filter(|_| bare) {
                (0..3).for_each(|i| glaze[i].push(c[i]));
            }
            colours.push(colour);
        }
    }
    if glaze[0].len() < ASKED {
        return None;
    }
    let glaze_count = glaze[0].len();
    let middle = glaze.clone().map(|mut c| quantile(&mut c, 0.5));
    let apart = |c: [f32; 3]| {
        let d: f32 = (0..3).map(|i| (c[i] - middle[i]).powi(2)).sum();
        d.sqrt()
    };
    let mut spread: Vec<f32> = (0..glaze_count)
        .map(|k| apart([glaze[0][k], glaze[1][k], glaze[2][k]]))
        .collect();
    let own = quantile(&mut spread, 0.75);
    let data = colours
        .iter()
        .map(|c| c.map_or(0.0, |c| (apart(c) - own).max(0.0)))
        .collect();
    Some(strongest(&Plane::from_vec(side, side, data), ASTRAY))
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
