//! What stands out on a base: connected strokes of ink, and lettering.
//!
//! Lettering and emblems turn: within a few pixels their edges run in many directions. Rims, foot
//! rings, scratches and shadows do not. The smaller eigenvalue of the structure tensor of the ink
//! (Förstner and Gülch 1987; Shi and Tomasi 1994) keeps the former and drops the latter.

use imageproc::region_labelling::{Connectivity, connected_components};

use crate::geometry::{Point, View};
use crate::raster::Plane;
use crate::underside::Underside;

/// Blur over which edge directions are gathered, in pixels of the search map.
const GATHER: f32 = 2.2;
/// Contrast above this many noise units is compressed: it is ink beyond doubt.
const FULL_CONTRAST: f32 = 12.0;
/// Turning strength (square root of the smaller eigenvalue, noise units a pixel) from which a
/// pixel may belong to lettering: once for all there is, once for what stands out.
pub(super) const TURNING: [f32; 2] = [0.75, 1.8];
/// Ink (noise units) from which pixels join into strokes: frames, emblems, long lines.
pub(super) const INK: f32 = 5.0;
/// Components of fewer pixels (search map) are specks.
const LEAST_PIXELS: u32 = 6;
/// Half-width of the band around a known ring that is set aside, as a share of its radius.
const RING_BAND: f64 = 0.02;
/// Rings with a semi-axis below this share of the map's longer side may belong to a mark.
const RING_LEAST: f64 = 0.27;
/// A rim bounds the search where its longer semi-axis is at least this share of the map's longer side.
const RIM_LEAST: f64 = 0.3;
/// Turning strength above which more does not make a pixel weightier.
pub(super) const MASS_CAP: f32 = 4.0;
pub(super) const DIAGONAL: f64 = std::f64::consts::FRAC_1_SQRT_2;
pub(super) const DIRECTIONS: [(f64, f64); 8] = [
    (1.0, 0.0),
    (-1.0, 0.0),
    (0.0, 1.0),
    (0.0, -1.0),
    (DIAGONAL, DIAGONAL),
    (-DIAGONAL, DIAGONAL),
    (DIAGONAL, -DIAGONAL),
    (-DIAGONAL, -DIAGONAL),
];

/// One connected blob of ink.
#[derive(Debug, Clone)]
pub(super) struct Component {
    pub(super) bounds: (f64, f64, f64, f64),
    pub(super) extremes: [(f64, f64); 8],
    pub(super) pixels: f64,
    /// Sum and largest of the turning strength.
    pub(super) mass: f64,
    pub(super) peak: f32,
}

impl Component {
    pub(super) fn size(&self) -> f64 {
        (self.bounds.2 - self.bounds.0).max(self.bounds.3 - self.bounds.1)
    }
}

/// Turning strength of every pixel of a contrast map.
pub(super) fn turning(contrast: &Plane) -> Plane {
    let (w, h) = (contrast.width(), contrast.height());
    let c = contrast.map(|v| FULL_CONTRAST * (v / FULL_CONTRAST).tanh());
    let (mut xx, mut xy, mut yy) = (
        Plane::filled(w, h, 0.0),
        Plane::filled(w, h, 0.0),
        Plane::filled(w, h, 0.0),
    );
    for y in 1..h.saturating_sub(1) {
        let (above, here, below) = (c.row(y - 1), c.row(y), c.row(y + 1));
        for x in 1..w.saturating_sub(1) {
            let (gx, gy) = (
                (here[x + 1] - here[x - 1]) / 2.0,
                (below[x] - above[x]) / 2.0,
            );
            xx.set(x, y, gx * gx);
            xy.set(x, y, gx * gy);
            yy.set(x, y, gy * gy);
        }
    }
    let (xx, xy, yy) = (xx.blur(GATHER), xy.blur(GATHER), yy.blur(GATHER));
    let mut out = Plane::filled(w, h, 0.0);
    for (i, o) in out.data_mut().iter_mut().enumerate() {
        let (a, b, c) = (xx.data()[i], xy.data()[i], yy.data()[i]);
        let least = (a + c) / 2.0 - (((a - c) / 2.0).powi(2) + b * b).sqrt();
        *o = least.max(0.0).sqrt();
    }
    out
}

/// Connected components of a map from a threshold on, the weightiest first.
pub(super) fn components(
    map: &Plane,
    least: f32,
    underside: &Underside,
    step: f64,
) -> Vec<Component> {
    let (w, h) = (map.width(), map.height());
    let side = w.max(h) as f64;
    let rings: Vec<_> = underside
        .rings
        .iter()
        .map(|r| (r, r.ellipse.to_scale::<View>(1.0 / step)))
        .filter(|(_, e)| e.major > RING_LEAST * side)
        .collect();
    let outline = underside
        .rim()
        .map(|r| r.ellipse.to_scale::<View>(1.0 / step))
        .filter(|e| e.major > RIM_LEAST * side);
    let mut binary = image::GrayImage::new(w as u32, h as u32);
    for y in 0..h {
        for x in 0..w {
            if map.get(x, y) < least {
                continue;
            }
            let p = Point::new(x as f64 + 0.5, y as f64 + 0.5);
            let outside = outline.is_some_and(|e| e.radius_of(p) > 1.0 - RING_BAND);
            let on_ring = rings
                .iter()
                .any(|(_, e)| (e.radius_of(p) - 1.0).abs() < RING_BAND);
            if !outside && !on_ring {
                binary.put_pixel(x as u32, y as u32, image::Luma([255]));
            }
        }
    }
    let labels = connected_components(&binary, Connectivity::Eight, image::Luma([0u8]));
    let mut all = measure(&labels, map);
    all.sort_by(|a, b| {
        b.mass
            .total_cmp(&a.mass)
            .then(a.bounds.0.total_cmp(&b.bounds.0))
    });
    all
}

pub(super) fn bounds_of(members: &[&Component]) -> (f64, f64, f64, f64) {
    members.iter().fold(
        (
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        ),
        |b, c| {
            (
                b.0.min(c.bounds.0),
                b.1.min(c.bounds.1),
                b.2.max(c.bounds.2),
                b.3.max(c.bounds.3),
            )
        },
    )
}

fn measure(labels: &image::ImageBuffer<image::Luma<u32>, Vec<u32>>, map: &Plane) -> Vec<Component> {
    let count = labels.as_raw().iter().copied().max().unwrap_or(0) as usize;
    let blank = Component {
        bounds: (
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        ),
        extremes: [(0.0, 0.0); 8],
        pixels: 0.0,
        mass: 0.0,
        peak: 0.0,
    };
    let mut all = vec![blank; count + 1];
    let mut reach = vec![[f64::NEG_INFINITY; 8]; count + 1];
    for (x, y, l) in labels.enumerate_pixels() {
        let label = l.0[0] as usize;
        if label == 0 {
            continue;
        }
        let v = map.get(x as usize, y as usize);
        let c = &mut all[label];
        let (px, py) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
        c.bounds = (
            c.bounds.0.min(px - 0.5),
            c.bounds.1.min(py - 0.5),
            c.bounds.2.max(px + 0.5),
            c.bounds.3.max(py + 0.5),
        );
        c.pixels += 1.0;
        c.mass += f64::from(v.min(MASS_CAP));
        c.peak = c.peak.max(v);
        for (k, (dx, dy)) in DIRECTIONS.iter().enumerate() {
            let along = px * dx + py * dy;
            if along > reach[label][k] {
                reach[label][k] = along;
                c.extremes[k] = (px, py);
            }
        }
    }
    all.retain(|c| c.pixels >= f64::from(LEAST_PIXELS));
    all
}
