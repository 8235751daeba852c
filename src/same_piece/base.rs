//! What else is on the base: specks, stilt marks, crazing.
//!
//! Both bases are brought to the frame of the second mark, freed of light and shadow, brought to units of their own
//! noise and compared part by part: where the same specks lie in the same places, the correlation of a part has a
//! peak at one small shift that stands out of all other shifts.

use serde::{Deserialize, Serialize};

use super::look::Look;
use crate::geometry::{Exemplar, Frame, Homography, Mark, Point};
use crate::raster::Plane;

/// Side of the compared square, and pixels of the mark's frame that one of its pixels covers: it reaches 2.6 times as far
/// as the frame.
const SIDE: usize = 720;
const STEP: f64 = 1.6;
/// Detail between these blurs (pixels) is compared.
const DETAIL: (f32, f32) = (1.0, 3.5);
/// Detail counts up to so many deviations of noise, so that one bold line does not stand for all.
const CLAMP: f32 = 4.0;
/// L* above which the glaze may be hidden by glare.
const GLARE: f32 = 97.0;
/// Part of a base: parts along a side, and the least share of one that must be known.
const PARTS: usize = 6;
const LEAST_KNOWN: f32 = 0.25;
/// Shifts looked at (pixels each way), and those at which a peak may lie: what the map misses by away from the mark.
const SHIFTS: i32 = 10;
const REACH: i32 = 5;
/// Half-width of a peak in pixels: detail is as wide as its blur.
const PEAK: i32 = 4;
/// Growth of the mark's box, within which nothing counts.
const MARK_ROOM: f64 = 1.12;
/// Half-width of a ring's edge, as a share of its radius, where nothing counts.
const RING_EDGE: f64 = 0.035;

/// How alike two bases are.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Texture {
    /// How far the peak of the sum over all parts stands above the other shifts, in their deviations.
    pub peak: f64,
    /// The same for single parts, the mean of the best three.
    pub parts: f64,
    /// Correlation at the peak, -1 to 1.
    pub correlation: f64,
    /// Share of either base that is strong detail, the smaller of both: how much there is to recognise.
    pub strong: f64,
    /// Parts that were compared.
    pub known: usize,
}

/// Compares the bases with the mark of `a` carried over that of `b`. `None` where too little of them is in view.
pub(super) fn alike(a: &Look, b: &Look, map: &Homography<Mark, Exemplar>) -> Option<Texture> {
    let identity = Homography::<Exemplar, Mark>::affine([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]);
    let near = detail(a, &map.inverse()?)?;
    let own = detail(b, &identity)?;
    let mut known = near.known.zip(&own.known, |p, q| p.min(q));
    hide_mark(b, &mut known);
    hide_rings(a, map, &mut known);
    hide_rings(b, &identity.inverse()?, &mut known);
    let mask = |d: &Detail| d.texture.zip(&known, |t, k| t * k);
    let (p, q) = (mask(&near), mask(&own));
    let strong = |t: &Plane| {
        let n = known.data().iter().sum::<f32>().max(1.0);
        let loud = t.data().iter().filter(|v| v.abs() > 3.0).count();
        loud as f64 / f64::from(n)
    };
    let surfaces: Vec<Vec<f64>> = (0..PARTS * PARTS)
        .filter_map(|part| surface(&p, &q, &known, part))
        .collect();
    if surfaces.is_empty() {
        return None;
    }
    let mut sum = vec![0.0; surfaces[0].len()];
    for s in &surfaces {
        sum.iter_mut().zip(s).for_each(|(a, v)| *a += v);
    }
    let mut single: Vec<f64> = surfaces.iter().map(|s| peak(s).0).collect();
    single.sort_by(|x, y| y.total_cmp(x));
    let few = single.len().min(3);
    let (stands, height) = peak(&sum);
    Some(Texture {
        peak: stands,
        parts: single[..few].iter().sum::<f64>() / few as f64,
        correlation: height / surfaces.len() as f64,
        strong: strong(&p).min(strong(&q)),
        known: surfaces.len(),
    })
}

struct Detail {
    texture: Plane,
    known: Plane,
}

/// The detail of a photo in the compared square, `back` being the map from the second mark's frame to its own.
fn detail(look: &Look, back: &Homography<Exemplar, Mark>) -> Option<Detail> {
    let half = SIDE as f64 / 2.0;
    let middle = crate::mark::cut::SIDE as f64 / 2.0;
    let to_frame = Homography::<Exemplar, Exemplar>::affine([
        [STEP, 0.0, middle - STEP * half],
        [0.0, STEP, middle - STEP * half],
    ]);
    let to_view = to_frame.then(back).then(&look.to_view);
    let covered = to_view.local_area(Point::new(half, half)).abs().sqrt();
    let (source, to_source) = match covered > 2.0 {
        false => (&look.lightness[0], to_view),
        true => (&look.lightness[1], to_view.then(&halved())),
    };
    let ones = Plane::filled(source.width(), source.height(), 1.0);
    let [light, seen] = Plane::warp_together([source, &ones], &to_source, SIDE, SIDE, 0.0);
    let seen = seen.zip(&light, |s, l| if s > 0.5 && l < GLARE { 1.0 } else { 0.0 });
    let even = |sigma: f32| {
        let weighted = light.zip(&seen, |l, s| l * s).blur(sigma);
        weighted.zip(&seen.blur(sigma), |v, s| if s > 0.05 { v / s } else { 0.0 })
    };
    let raw = even(DETAIL.0).zip(&even(DETAIL.1), |f, c| f - c);
    // Near what is not seen the ground is not known.
    let known = seen
        .blur(DETAIL.1)
        .map(|s| if s > 0.98 { 1.0 } else { 0.0 });
    let mut sizes: Vec<f32> = raw
        .data()
        .iter()
        .zip(known.data())
        .step_by(7)
        .filter(|(_, k)| **k > 0.5)
        .map(|(v, _)| v.abs())
        .collect();
    if sizes.len() < 100 {
        return None;
    }
    let noise = (1.48 * crate::raster::quantile(&mut sizes, 0.5)).max(0.02);
    Some(Detail {
        texture: raw.map(|v| (v / noise).clamp(-CLAMP, CLAMP)),
        known,
    })
}

fn halved<F: Frame>() -> Homography<F, F> {
    Homography::affine([[0.5, 0.0, 0.0], [0.0, 0.5, 0.0]])
}

/// A place of the compared square in the frame of the second mark.
fn place(x: usize, y: usize) -> Point<Exemplar> {
    let middle = crate::mark::cut::SIDE as f64 / 2.0;
    let at = |v: usize| middle + STEP * (v as f64 + 0.5 - SIDE as f64 / 2.0);
    Point::new(at(x), at(y))
}

fn hide_mark(b: &Look, known: &mut Plane) {
    let centre = b.quad.centre();
    let corner = |p: Point<Mark>| {
        let grow = |v: f64, c: f64| c + MARK_ROOM * (v - c);
        (grow(p.x, centre.x), grow(p.y, centre.y))
    };
    let corners = b.quad.0.map(corner);
    let sign = b.quad.area().signum();
    for y in 0..SIDE {
        for x in 0..SIDE {
            let p = place(x, y);
            let inside = (0..4).all(|i| {
                let (s, t) = (corners[i], corners[(i + 1) % 4]);
                sign * ((t.0 - s.0) * (p.y - s.1) - (t.1 - s.1) * (p.x - s.0)) >= 0.0
            });
            if inside {
                known.set(x, y, 0.0);
            }
        }
    }
}

fn hide_rings(look: &Look, map: &Homography<Mark, Exemplar>, known: &mut Plane) {
    for ring in &look.rings {
        let Some(there) = super::look::carried(&ring.ellipse, map) else {
            continue;
        };
        for y in 0..SIDE {
            for x in 0..SIDE {
                if (there.radius_of(place(x, y)) - 1.0).abs() < RING_EDGE {
                    known.set(x, y, 0.0);
                }
            }
        }
    }
}

/// Correlation of one part at every shift; `None` where too little of it is known.
fn surface(p: &Plane, q: &Plane, known: &Plane, part: usize) -> Option<Vec<f64>> {
    let size = SIDE / PARTS;
    let (x0, y0) = (part % PARTS * size, part / PARTS * size);
    let (low, high) = (SHIFTS as usize, SIDE - SHIFTS as usize);
    let (xs, ys) = (
        x0.max(low)..(x0 + size).min(high),
        y0.max(low)..(y0 + size).min(high),
    );
    let mut there = 0.0f32;
    for y in ys.clone() {
        there += known.row(y)[xs.clone()].iter().sum::<f32>();
    }
    if there < LEAST_KNOWN * (size * size) as f32 {
        return None;
    }
    let mut out = Vec::new();
    for dy in -SHIFTS..=SHIFTS {
        for dx in -SHIFTS..=SHIFTS {
            let (mut pp, mut qq, mut pq) = (0.0f32, 0.0f32, 0.0f32);
            for y in ys.clone().step_by(2) {
                let other = (y as i32 + dy) as usize;
                let from = (xs.start as i32 + dx) as usize;
                let a = &p.row(other)[from..from + xs.len()];
                let b = &q.row(y)[xs.clone()];
                for (u, v) in a.iter().zip(b) {
                    pp += u * u;
                    qq += v * v;
                    pq += u * v;
                }
            }
            let norm = (pp * qq).sqrt();
            out.push(if norm > 1e-3 {
                f64::from(pq / norm)
            } else {
                0.0
            });
        }
    }
    Some(out)
}

/// The highest value near no shift: how far it stands above all others, in their deviations, and its height.
fn peak(surface: &[f64]) -> (f64, f64) {
    let side = (2 * SHIFTS + 1) as usize;
    let shift = |i: usize| {
        (
            i as i32 % side as i32 - SHIFTS,
            i as i32 / side as i32 - SHIFTS,
        )
    };
    let near = |i: &usize| {
        let (x, y) = shift(*i);
        x.abs() <= REACH && y.abs() <= REACH
    };
    let best = (0..surface.len())
        .filter(near)
        .max_by(|a, b| surface[*a].total_cmp(&surface[*b]))
        .unwrap_or(0);
    let (bx, by) = shift(best);
    let others: Vec<f64> = (0..surface.len())
        .filter(|&i| {
            let (x, y) = shift(i);
            (x - bx).abs() > PEAK || (y - by).abs() > PEAK
        })
        .map(|i| surface[i])
        .collect();
    let n = others.len().max(1) as f64;
    let mean = others.iter().sum::<f64>() / n;
    let spread = (others.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n).sqrt();
    ((surface[best] - mean) / spread.max(1e-4), surface[best])
}
