//! Lays an exemplar over a photo once more, at the resolution of the pictures.

use crate::alignment::dense::{Freedom, Level, Slopes, refine};
use crate::geometry::{Exemplar, Homography, Mark, Point};
use crate::raster::Plane;
use crate::report::frame::Sheet;

use super::ink::LegibleInk;
use super::places::opened;

/// Side of the square at which both are laid, in pixels: as the engine's finer size, where strokes are two
/// to four pixels wide.
const SIDE: usize = 256;
/// What is wider than this share of the side is a label or a solid drawing: its edge would pull the lines.
const PATCH: f64 = 0.05;
/// A correction moves no corner by more than this share of the side: what is further off is no correction.
const MOST: f64 = 0.06;
/// By how much the ink must line up better.
const BETTER: f32 = 0.005;

/// The map from the frame, as the exemplar fills it, to where the photo's ink lies there. `None` where the
/// engine's own map cannot be bettered.
pub(super) fn settle(
    photo: &LegibleInk,
    exemplar: &LegibleInk,
) -> Option<Homography<Sheet, Sheet>> {
    let (w, h) = (photo.shade.width(), photo.shade.height());
    let scale = w.max(h) as f64 / SIDE as f64;
    let (mut mark, own) = (level(photo, scale), level(exemplar, scale));
    let wide = opened(&mark.ink, (PATCH * SIDE as f64 / 2.0) as usize);
    mark.valid = mark.valid.zip(&wide, |v, w| if w > 0.3 { 0.0 } else { v });
    let slopes = Slopes::of(&mark);
    let within = own.valid.clone();
    let start = Homography::<Mark, Exemplar>::similarity(1.0, 0.0, 0.0, 0.0);
    let at = |map: &Homography<Mark, Exemplar>, freedom| {
        refine(map, &slopes, &own, &within, 1.0, freedom)
    };
    let before = correlation(&mark, &own);
    let mut best = at(&start, Freedom::Affine)?;
    if let Some(finer) = at(&best.map, Freedom::Projective)
        && finer.correlation > best.correlation
    {
        best = finer;
    }
    let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
    let moved = corners.map(|(x, y)| {
        let p = Point::<Mark>::new(x * SIDE as f64, y * SIDE as f64);
        best.map
            .apply(p)
            .map_or(f64::INFINITY, |q| (q.x - p.x).hypot(q.y - p.y))
    });
    let small = moved.iter().all(|m| *m < MOST * SIDE as f64);
    if !small || best.correlation < before + BETTER {
        return None;
    }
    let back = best.map.inverse()?;
    let shrink =
        Homography::<Sheet, Exemplar>::affine([[1.0 / scale, 0.0, 0.0], [0.0, 1.0 / scale, 0.0]]);
    let enlarge = Homography::<Mark, Sheet>::affine([[scale, 0.0, 0.0], [0.0, scale, 0.0]]);
    Some(shrink.then(&back).then(&enlarge))
}

/// The ink in the upper left of a square, `scale` times smaller; the rest of the square is not known.
fn level(ink: &LegibleInk, scale: f64) -> Level {
    let sigma = (0.4 * scale) as f32;
    let to_source = Homography::<Mark, Sheet>::affine([[scale, 0.0, 0.0], [0.0, scale, 0.0]]);
    let small = |p: &Plane| p.blur(sigma).warp(&to_source, SIDE, SIDE, 0.0);
    Level {
        ink: small(&ink.shade),
        valid: small(&ink.valid),
    }
}

/// Normalised correlation where both are known.
fn correlation(a: &Level, b: &Level) -> f32 {
    let known = a
        .valid
        .zip(&b.valid, |x, y| f32::from(u8::from(x > 0.75 && y > 0.5)));
    let n = known.data().iter().sum::<f32>().max(1.0);
    let mean = |p: &Plane| p.zip(&known, |v, k| v * k).data().iter().sum::<f32>() / n;
    let (ma, mb) = (mean(&a.ink), mean(&b.ink));
    let product =
        |p: &Plane, mp: f32, q: &Plane, mq: f32| mean(&p.zip(q, |x, y| (x - mp) * (y - mq)));
    let spread = product(&a.ink, ma, &a.ink, ma) * product(&b.ink, mb, &b.ink, mb);
    product(&a.ink, ma, &b.ink, mb) / spread.sqrt().max(1e-6)
}
