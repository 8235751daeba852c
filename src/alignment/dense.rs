//! Dense refinement of a map from a mark to an exemplar.
//!
//! Gauss-Newton on the difference of the two ink maps after each is brought to zero mean and unit
//! spread over the pixels that both know (Lucas and Kanade 1981; the normalised criterion follows
//! Evangelidis and Psarakis 2008), with weights that let covered or scratched parts go (Geman and
//! McClure's function). From coarse to fine: a similarity, an affine map, a homography.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

use crate::geometry::{Exemplar, Homography, Mark};
use crate::raster::Plane;

/// Residual, in units of the ink's spread, at which a pixel's weight has fallen to a quarter.
const OUTLIER: f32 = 1.4;
/// Iterations at one level; more bought nothing on the fit artwork.
const ITERATIONS: usize = 8;
/// An update that moves the frame's corner by less than this many pixels of its level ends it.
const STILL: f64 = 0.05;
/// Fewer jointly known pixels than this cannot fix a map.
const LEAST_PIXELS: usize = 200;

/// How many numbers of the map may move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Freedom {
    Similarity,
    Affine,
    Projective,
}

/// Ink and validity at one size of the pyramid.
#[derive(Debug, Clone)]
pub struct Level {
    pub ink: Plane,
    pub valid: Plane,
}

/// A mark's level made ready to be pulled through maps: ink, its slopes along x and y, and
/// validity, side by side for each pixel.
#[derive(Debug, Clone)]
pub struct Slopes {
    side: usize,
    texels: Vec<[f32; 4]>,
}

impl Slopes {
    /// Central differences, one-sided at the border. The level is square.
    pub fn of(level: &Level) -> Self {
        let (w, h) = (level.ink.width(), level.ink.height());
        let side = w.min(h);
        let near = |i: usize| (i.saturating_sub(1), (i + 1).min(side - 1));
        let texel = |x: usize, y: usize| {
            let ((x0, x1), (y0, y1)) = (near(x), near(y));
            let gx = (level.ink.get(x1, y) - level.ink.get(x0, y)) / (x1 - x0).max(1) as f32;
            let gy = (level.ink.get(x, y1) - level.ink.get(x, y0)) / (y1 - y0).max(1) as f32;
            [level.ink.get(x, y), gx, gy, level.valid.get(x, y)]
        };
        let texels = (0..side * side)
            .map(|i| texel(i % side, i / side))
            .collect();
        Self { side, texels }
    }

    /// Bilinear, edges replicated; `None` outside.
    fn sample(&self, x: f32, y: f32) -> Option<[f32; 4]> {
        let most = self.side as f32;
        if !(x >= 0.0 && y >= 0.0 && x <= most && y <= most) {
            return None;
        }
        let fx = (x - 0.5).clamp(0.0, most - 1.0);
        let fy = (y - 0.5).clamp(0.0, most - 1.0);
        let (x0, y0) = (fx as usize, fy as usize);
        let (x1, y1) = ((x0 + 1).min(self.side - 1), (y0 + 1).min(self.side - 1));
        let (ax, ay) = (fx - x0 as f32, fy - y0 as f32);
        let (top, bottom) = (
            &self.texels[y0 * self.side..],
            &self.texels[y1 * self.side..],
        );
        let (a, b, c, d) = (top[x0], top[x1], bottom[x0], bottom[x1]);
        Some(std::array::from_fn(|i| {
            let t = a[i] + (b[i] - a[i]) * ax;
            let u = c[i] + (d[i] - c[i]) * ax;
            t + (u - t) * ay
        }))
    }
}

/// Outcome of a refinement at one level.
#[derive(Debug, Clone, Copy)]
pub struct Refined {
    /// In full-size mark and exemplar frames.
    pub map: Homography<Mark, Exemplar>,
    /// Normalised correlation of the two ink maps at this level, -1 to 1.
    pub correlation: f32,
}

/// Improves `start` at one level, which is `shrink` times smaller than the full-size frames.
/// `within` is 1 inside the exemplar's mark (level size).
pub fn refine(
    start: &Homography<Mark, Exemplar>,
    mark: &Slopes,
    exemplar: &Level,
    within: &Plane,
    shrink: f64,
    freedom: Freedom,
) -> Option<Refined> {
    // Work with the map from exemplar pixels to mark pixels, both at this level.
    let mut back = level_matrix(&start.inverse()?.rows(), shrink);
    let mut best: Option<(f32, Matrix3<f64>)> = None;
    let mut previous = f32::NEG_INFINITY;
    for _ in 0..=ITERATIONS {
        let step = Step::build(&back, mark, exemplar, within, freedom)?;
        if best.is_none_or(|(c, _)| step.correlation > c) {
            best = Some((step.correlation, back));
        }
        if step.correlation < previous - 0.02 {
            break;
        }
        previous = step.correlation;
        let Some(delta) = step.solve() else { break };
        let moved = corner_move(&delta, exemplar.ink.width() as f64);
        back *= delta;
        if moved < STILL {
            break;
        }
    }
    let (correlation, back) = best?;
    let full = to_full(shrink) * back * to_level(shrink);
    let rows = std::array::from_fn(|r| std::array::from_fn(|c| full[(r, c)]));
    let map = Homography::<Exemplar, Mark>::new(rows).inverse()?;
    Some(Refined { map, correlation })
}

/// The map `rows` of full-size frames as a map of level pixels.
fn level_matrix(rows: &[[f64; 3]; 3], shrink: f64) -> Matrix3<f64> {
    let m = Matrix3::from_fn(|r, c| rows[r][c]);
    to_level(shrink) * m * to_full(shrink)
}

/// From full-size pixels to those of a level `shrink` times smaller.
fn to_level(shrink: f64) -> Matrix3<f64> {
    Matrix3::from_diagonal(&Vector3::new(1.0 / shrink, 1.0 / shrink, 1.0))
}

/// From level pixels to full-size ones.
fn to_full(shrink: f64) -> Matrix3<f64> {
    Matrix3::from_diagonal(&Vector3::new(shrink, shrink, 1.0))
}

fn corner_move(delta: &Matrix3<f64>, side: f64) -> f64 {
    [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
        .iter()
        .map(|&(x, y)| {
            let v = delta * Vector3::new(x, y, 1.0);
            (v.x / v.z - x).hypot(v.y / v.z - y)
        })
        .fold(0.0, f64::max)
}

/// One linearisation: normal equations and the correlation before the step.
struct Step {
    normal: SMatrix<f64, 8, 8>,
    right: SVector<f64, 8>,
    correlation: f32,
    centre: f64,
    freedom: Freedom,
}

/// Photo ink brought into the exemplar's frame: value, gradient along its axes, and the
/// exemplar's own ink there.
struct Pulled {
    x: f32,
    y: f32,
    value: f32,
    gx: f32,
    gy: f32,
    own: f32,
}

fn pull(back: &Matrix3<f64>, mark: &Slopes, exemplar: &Level, within: &Plane) -> Vec<Pulled> {
    let m: [[f32; 3]; 3] = std::array::from_fn(|r| std::array::from_fn(|c| back[(r, c)] as f32));
    let w = exemplar.ink.width();
    let mut out = Vec::with_capacity(exemplar.ink.data().len());
    for (y, inside) in within.data().chunks_exact(w).enumerate() {
        let v = y as f32 + 0.5;
        let (own, known) = (exemplar.ink.row(y), exemplar.valid.row(y));
        let (start, step) = if w > EVERY_PIXEL { (y % 2, 2) } else { (0, 1) };
        for x in (start..w).step_by(step) {
            if inside[x] < 0.5 || known[x] < 0.5 {
                continue;
            }
            let u = x as f32 + 0.5;
            let z = m[2][0] * u + m[2][1] * v + m[2][2];
            if z < 1e-4 {
                continue;
            }
            let px = (m[0][0] * u + m[0][1] * v + m[0][2]) / z;
            let py = (m[1][0] * u + m[1][1] * v + m[1][2]) / z;
            let Some([value, dx, dy, valid]) = mark.sample(px, py) else {
                continue;
            };
            if valid < 0.75 {
                continue;
            }
            // Derivatives of the place in the mark by the place in the exemplar.
            let (jxu, jxv) = ((m[0][0] - px * m[2][0]) / z, (m[0][1] - px * m[2][1]) / z);
            let (jyu, jyv) = ((m[1][0] - py * m[2][0]) / z, (m[1][1] - py * m[2][1]) / z);
            out.push(Pulled {
                x: u,
                y: v,
                value,
                gx: dx * jxu + dy * jyu,
                gy: dx * jxv + dy * jyv,
                own: own[x],
            });
        }
    }
    out
}

/// Mean and spread.
fn moments(n: f32, values: impl Iterator<Item = f32>) -> (f32, f32) {
    let (s, q) = values.fold((0.0f32, 0.0f32), |a, v| (a.0 + v, a.1 + v * v));
    let mean = s / n;
    (mean, (q / n - mean * mean).max(1e-8).sqrt())
}

/// Levels wider than this many pixels are looked at in every second pixel, as on a chessboard: some six
/// thousand pixels fix eight numbers as well as twice as many do, in half the time.
const EVERY_PIXEL: usize = 64;

/// Pixels summed in single precision before they join the double-precision totals.
const RUN: usize = 256;

impl Step {
    fn build(
        back: &Matrix3<f64>,
        mark: &Slopes,
        exemplar: &Level,
        within: &Plane,
        freedom: Freedom,
    ) -> Option<Self> {
        let pulled = pull(back, mark, exemplar, within);
        if pulled.len() < LEAST_PIXELS.min(within.data().len() / 40) {
            return None;
        }
        let n = pulled.len() as f32;
        let (mp, sp) = moments(n, pulled.iter().map(|p| p.value));
        let (me, se) = moments(n, pulled.iter().map(|p| p.own));
        let centre = exemplar.ink.width() as f32 / 2.0;
        let mut normal = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        let mut product = 0.0f64;
        for run in pulled.chunks(RUN) {
            let mut sums = [[0.0f32; 8]; 9];
            let mut agreed = 0.0f32;
            for p in run {
                let a = (p.value - mp) / sp;
                let b = (p.own - me) / se;
                agreed += a * b;
                let r = b - a;
                let weight = 1.0 / (1.0 + (r / OUTLIER) * (r / OUTLIER));
                let weight = weight * weight;
                let (x, y) = ((p.x - centre) / centre, (p.y - centre) / centre);
                let (gx, gy) = (p.gx / sp * centre, p.gy / sp * centre);
                let row = jacobian(freedom, x, y, gx, gy);
                for i in 0..8 {
                    let wi = weight * row[i];
                    for j in 0..8 {
                        sums[i][j] += wi * row[j];
                    }
                    sums[8][i] += wi * r;
                }
            }
            product += f64::from(agreed);
            for i in 0..8 {
                right[i] += f64::from(sums[8][i]);
                for j in i..8 {
                    normal[(i, j)] += f64::from(sums[i][j]);
                }
            }
        }
        for i in 0..8 {
            for j in 0..i {
                normal[(i, j)] = normal[(j, i)];
            }
        }
        Some(Self {
            normal,
            right,
            correlation: product as f32 / n,
            centre: f64::from(centre),
            freedom,
        })
    }

    /// The update as a matrix on exemplar pixels, to be applied before the map.
    fn solve(&self) -> Option<Matrix3<f64>> {
        let mut normal = self.normal;
        let damping = 1e-4 * normal.diagonal().max() + 1e-9;
        for i in 0..8 {
            normal[(i, i)] += damping;
        }
        let p = normal.cholesky()?.solve(&self.right);
        let unit = match self.freedom {
            Freedom::Similarity => Matrix3::new(
                1.0 + p[2],
                -p[3],
                p[0],
                p[3],
                1.0 + p[2],
                p[1],
                0.0,
                0.0,
                1.0,
            ),
            _ => Matrix3::new(
                1.0 + p[2],
                p[3],
                p[0],
                p[4],
                1.0 + p[5],
                p[1],
                p[6],
                p[7],
                1.0,
            ),
        };
        let c = self.centre;
        let to_unit = Matrix3::new(1.0 / c, 0.0, -1.0, 0.0, 1.0 / c, -1.0, 0.0, 0.0, 1.0);
        let from_unit = Matrix3::new(c, 0.0, c, 0.0, c, c, 0.0, 0.0, 1.0);
        Some(from_unit * unit * to_unit)
    }
}

/// Derivative of the pulled ink by the parameters, in coordinates from -1 to 1.
fn jacobian(freedom: Freedom, x: f32, y: f32, gx: f32, gy: f32) -> [f32; 8] {
    match freedom {
        Freedom::Similarity => [gx, gy, gx * x + gy * y, gy * x - gx * y, 0.0, 0.0, 0.0, 0.0],
        Freedom::Affine => [gx, gy, gx * x, gx * y, gy * x, gy * y, 0.0, 0.0],
        Freedom::Projective => {
            let t = gx * x + gy * y;
            [gx, gy, gx * x, gx * y, gy * x, gy * y, -x * t, -y * t]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    const SIDE: usize = 256;

    /// A smooth drawing without symmetry.
    fn drawing() -> Plane {
        let mut p = Plane::filled(SIDE, SIDE, 0.0);
        for (x0, y0, w, h) in [(60, 70, 120, 14), (80, 100, 16, 80), (130, 150, 60, 20)] {
            for y in y0..y0 + h {
                for x in x0..x0 + w {
                    p.set(x, y, 1.0);
                }
            }
        }
        p.blur(4.0)
    }

    fn level(ink: &Plane, k: usize) -> Level {
        let ink = ink.shrink(k);
        let valid = Plane::filled(ink.width(), ink.height(), 1.0);
        Level { ink, valid }
    }

    #[test]
    fn a_shifted_and_turned_mark_is_laid_back_at_every_size() {
        let exemplar = drawing();
        let truth = Homography::<Mark, Exemplar>::similarity(1.02, 0.05, -14.0, 3.0);
        let mark = exemplar.warp(&truth, SIDE, SIDE, 0.0);
        // Off by a few pixels, with a shift that is far from zero: a map brought to the wrong size
        // would start elsewhere.
        let start = Homography::<Mark, Exemplar>::similarity(1.0, 0.03, -10.0, 1.0);
        for k in [1, 2, 4] {
            let (a, b) = (level(&mark, k), level(&exemplar, k));
            let got = refine(
                &start,
                &Slopes::of(&a),
                &b,
                &b.valid,
                k as f64,
                Freedom::Affine,
            )
            .expect("enough pixels are known");
            for p in [(70.0, 80.0), (180.0, 160.0), (90.0, 170.0)].map(|(x, y)| Point::new(x, y)) {
                let (want, is) = (truth.apply(p), got.map.apply(p));
                let miss = want.expect("in front").distance(is.expect("in front"));
                assert!(miss < 0.25 * k as f64, "{miss:.2} px off at 1/{k}");
            }
        }
    }
}
