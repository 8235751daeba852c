//! Evidence for and against a mark being an exemplar, once the one lies over the other.
//!
//! The comparison is asymmetric: a weak or worn strike lacks ink that the exemplar has, but it
//! must not show ink that the exemplar lacks. Covered and glaring parts count neither way.

use crate::geometry::{Exemplar, Frame, Homography, Mark};
use crate::raster::{Plane, quantile};

/// Side of the frame in which marks are compared, in pixels.
pub const COMPARE_SIDE: usize = 224;
/// Blurs (sigma in comparison pixels) tried on the exemplar to meet the photo's own blur.
pub const BLURS: [f32; 5] = [0.6, 1.2, 2.2, 3.6, 6.0];
/// Tiles along one side of the comparison frame.
const TILES: usize = 8;
/// Exemplar ink (sum over a tile) under which a tile says nothing.
const TILE_INK: f32 = 20.0;
/// Share of a tile that must be seen.
const TILE_SEEN: f32 = 0.6;
/// Shift tried around each tile, in pixels: what a homography leaves on a curved base.
const TILE_SHIFT: i32 = 3;
/// A stroke may lie this far (pixels) from the exemplar's and still be the same stroke.
const TOLERANCE: usize = 3;

/// An exemplar's ink at [`COMPARE_SIDE`], at several blurs, and its mark's area.
#[derive(Debug, Clone)]
pub struct Template {
    /// Ink 0 to 1, by [`BLURS`].
    blurred: Vec<Plane>,
    ink: Plane,
    grown: Plane,
    /// 1 inside the mark's box.
    pub within: Plane,
    pub valid: Plane,
}

impl Template {
    pub fn new(ink: Plane, valid: Plane, within: Plane) -> Self {
        let blurred = BLURS.iter().map(|&s| ink.blur(s)).collect();
        let grown = crate::ink::box_max(&ink, TOLERANCE);
        Self {
            blurred,
            ink,
            grown,
            within,
            valid,
        }
    }

    /// Ink blurred by `BLURS[i]`.
    pub fn at_blur(&self, i: usize) -> &Plane {
        &self.blurred[i]
    }
}

/// The mark's ink carried into an exemplar's frame.
#[derive(Debug, Clone)]
pub struct Laid {
    pub ink: Plane,
    /// 1 where the photo knows and the exemplar's mark lies.
    pub seen: Plane,
}

/// Carries the mark's ink (at [`COMPARE_SIDE`]) along a map between frames of `side` pixels.
pub fn lay(
    map: &Homography<Mark, Exemplar>,
    ink: &Plane,
    valid: &Plane,
    template: &Template,
    side: f64,
) -> Option<Laid> {
    let back = at_side(&map.inverse()?, side, COMPARE_SIDE as f64);
    let ink = ink.warp(&back, COMPARE_SIDE, COMPARE_SIDE, 0.0);
    let seen = valid
        .warp(&back, COMPARE_SIDE, COMPARE_SIDE, 0.0)
        .zip(&template.within, |v, w| {
            if v > 0.75 && w > 0.5 { 1.0 } else { 0.0 }
        })
        .zip(&template.valid, |s, v| if v > 0.5 { s } else { 0.0 });
    Some(Laid { ink, seen })
}

/// The same map between frames shrunk from `from` to `to` pixels a side.
pub(crate) fn at_side<A: Frame, B: Frame>(
    map: &Homography<A, B>,
    from: f64,
    to: f64,
) -> Homography<A, B> {
    let k = to / from;
    let r = map.rows();
    Homography::new([
        [r[0][0], r[0][1], r[0][2] * k],
        [r[1][0], r[1][1], r[1][2] * k],
        [r[2][0] / k, r[2][1] / k, r[2][2]],
    ])
}

/// What the comparison found, all from 0 to 1 unless said.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Evidence {
    /// Normalised correlation at the best blur, -1 to 1.
    pub correlation: f32,
    /// Index of that blur in [`BLURS`].
    pub blur: usize,
    /// Share of the exemplar's visible ink that the photo shows.
    pub coverage: f32,
    /// Share of the photo's ink within the mark's box that the exemplar does not show.
    pub extra: f32,
    /// Share of the exemplar's ink that lies where the photo can be judged.
    pub visible: f32,
    /// Mean and low (15th percentile) correlation over tiles that hold ink, -1 to 1.
    pub tile_mean: f32,
    pub tile_low: f32,
    /// Tiles compared.
    pub tiles: f32,
}

/// Compares laid ink with its exemplar.
pub fn compare(laid: &Laid, template: &Template) -> Evidence {
    let (blur, correlation) = (0..BLURS.len())
        .map(|i| (i, correlation(&laid.ink, &template.blurred[i], &laid.seen)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((0, 0.0));
    let met = &template.blurred[blur];
    let grown_photo = crate::ink::box_max(&laid.ink, TOLERANCE);
    let (mut ink_all, mut ink_seen, mut covered) = (1e-6f32, 1e-6f32, 0.0f32);
    let (mut photo_ink, mut extra) = (1e-6f32, 0.0f32);
    // A reference level for "shows": the photo's own strong ink under the exemplar's strokes.
    let full = strong_ink(laid, template).max(0.15);
    for i in 0..laid.ink.data().len() {
        let (e, seen) = (template.ink.data()[i], laid.seen.data()[i]);
        ink_all += e * template.within.data()[i];
        if seen < 0.5 {
            continue;
        }
        ink_seen += e;
        covered += e * (grown_photo.data()[i] / full).min(1.0);
        let p = laid.ink.data()[i];
        photo_ink += p;
        extra += p * (1.0 - template.grown.data()[i].max(met.data()[i]).min(1.0));
    }
    let tiles = tile_correlations(laid, met);
    let mut values: Vec<f32> = tiles.iter().map(|t| t.correlation).collect();
    let tile_mean = values.iter().sum::<f32>() / values.len().max(1) as f32;
    Evidence {
        correlation,
        blur,
        coverage: covered / ink_seen,
        extra: extra / photo_ink,
        visible: ink_seen / ink_all,
        tile_mean,
        tile_low: quantile(&mut values, 0.15),
        tiles: tiles.len() as f32,
    }
}

/// 90th percentile of the photo's ink where the exemplar has strong ink.
fn strong_ink(laid: &Laid, template: &Template) -> f32 {
    let mut under: Vec<f32> = (0..laid.ink.data().len())
        .filter(|&i| laid.seen.data()[i] > 0.5 && template.ink.data()[i] > 0.5)
        .map(|i| laid.ink.data()[i])
        .collect();
    quantile(&mut under, 0.9)
}

/// Normalised correlation over the pixels where `seen` is 1; 0 where too few.
pub fn correlation(a: &Plane, b: &Plane, seen: &Plane) -> f32 {
    let mut m = Moments::default();
    for ((&x, &y), &s) in a.data().iter().zip(b.data()).zip(seen.data()) {
        if s > 0.5 {
            m.add(x, y);
        }
    }
    m.correlation()
}

#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    n: f32,
    x: f32,
    y: f32,
    xx: f32,
    yy: f32,
    xy: f32,
}

impl Moments {
    fn add(&mut self, x: f32, y: f32) {
        self.n += 1.0;
        self.x += x;
        self.y += y;
        self.xx += x * x;
        self.yy += y * y;
        self.xy += x * y;
    }

    fn correlation(&self) -> f32 {
        if self.n < 30.0 {
            return 0.0;
        }
        let (mx, my) = (self.x / self.n, self.y / self.n);
        let (vx, vy) = (self.xx / self.n - mx * mx, self.yy / self.n - my * my);
        if vx < 1e-6 || vy < 1e-6 {
            return 0.0;
        }
        (self.xy / self.n - mx * my) / (vx * vy).sqrt()
    }
}

/// One tile's best correlation within a few pixels of shift.
#[derive(Debug, Clone, Copy)]
pub struct Tile {
    pub column: usize,
    pub row: usize,
    pub correlation: f32,
}

fn tile_correlations(laid: &Laid, exemplar: &Plane) -> Vec<Tile> {
    let side = COMPARE_SIDE / TILES;
    let mut out = Vec::new();
    for row in 0..TILES {
        for column in 0..TILES {
            let (x0, y0) = (column * side, row * side);
            let (mut ink, mut seen) = (0.0f32, 0.0f32);
            for y in y0..y0 + side {
                for x in x0..x0 + side {
                    ink += exemplar.get(x, y);
                    seen += laid.seen.get(x, y);
                }
            }
            if ink < TILE_INK || seen < TILE_SEEN * (side * side) as f32 {
                continue;
            }
            let best = shifts()
                .map(|(dx, dy)| tile_at(laid, exemplar, x0, y0, dx, dy))
                .fold(f32::NEG_INFINITY, f32::max);
            out.push(Tile {
                column,
                row,
                correlation: best,
            });
        }
    }
    out
}

fn shifts() -> impl Iterator<Item = (i32, i32)> {
    (-TILE_SHIFT..=TILE_SHIFT)
        .step_by(2)
        .flat_map(|dy| {
            (-TILE_SHIFT..=TILE_SHIFT)
                .step_by(2)
                .map(move |dx| (dx, dy))
        })
        .chain([(0, 0)])
}

fn tile_at(laid: &Laid, exemplar: &Plane, x0: usize, y0: usize, dx: i32, dy: i32) -> f32 {
    let side = COMPARE_SIDE / TILES;
    let mut m = Moments::default();
    for y in y0..y0 + side {
        let yy = (y as i32 + dy).clamp(0, COMPARE_SIDE as i32 - 1) as usize;
        for x in x0..x0 + side {
            let xx = (x as i32 + dx).clamp(0, COMPARE_SIDE as i32 - 1) as usize;
            if laid.seen.get(xx, yy) > 0.5 {
                m.add(laid.ink.get(xx, yy), exemplar.get(x, y));
            }
        }
    }
    m.correlation()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bars(skip: Option<usize>) -> Plane {
        let mut p = Plane::filled(COMPARE_SIDE, COMPARE_SIDE, 0.0);
        for k in (0..8).filter(|&k| Some(k) != skip) {
            for y in 20 + k * 24..26 + k * 24 {
                for x in 30 + 5 * k..190 - 9 * k {
                    p.set(x, y, 1.0);
                }
            }
        }
        p
    }

    fn ones() -> Plane {
        Plane::filled(COMPARE_SIDE, COMPARE_SIDE, 1.0)
    }

    #[test]
    fn lacking_ink_is_forgiven_and_foreign_ink_is_not() {
        let full = Template::new(bars(None), ones(), ones());
        let part = Template::new(bars(Some(3)), ones(), ones());
        let weak = Laid {
            ink: bars(Some(3)),
            seen: ones(),
        };
        let strong = Laid {
            ink: bars(None),
            seen: ones(),
        };
        assert!(compare(&weak, &full).extra < 0.02);
        assert!(compare(&weak, &full).coverage < 0.95);
        assert!(compare(&strong, &part).extra > 0.08);
        assert!(compare(&strong, &full).correlation > 0.9);
    }
}
