//! Dense refinement of a map from a mark to an exemplar.
//!
//! Gauss-Newton on the difference of the two ink maps after each is brought to zero mean and unit
//! spread over the pixels that both know (Lucas and Kanade 1981; the normalised criterion follows
//! Evangelidis and Psarakis 2008), with weights that let covered or scratched parts go (Geman and
//! McClure's function). From coarse to fine: a similarity, an affine map, a homography.

use nalgebra::{Matrix3, SMatrix, SVector};

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

/// Ink, validity and gradients at one size of the pyramid.
#[derive(Debug, Clone)]
pub struct Level {
    pub ink: Plane,
    pub valid: Plane,
}

/// Outcome of a refinement at one level.
#[derive(Debug, Clone, Copy)]
pub struct Refined {
    /// In full-size mark and exemplar frames.
    pub map: Homography<Mark, Exemplar>,
    /// Normalised correlation of the two ink maps at this level, -1 to 1.
    pub correlation: f32,
}

/// Improves `start` at one level. `shrink` is the factor from the full-size frames to the level.
/// `within` is 1 inside the exemplar's mark (level size).
pub fn refine(
    start: &Homography<Mark, Exemplar>,
    mark: &Level,
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
    let up = Matrix3::new(
        1.0 / shrink,
        0.0,
        0.0,
        0.0,
        1.0 / shrink,
        0.0,
        0.0,
        0.0,
        1.0,
    );
    let down = Matrix3::new(shrink, 0.0, 0.0, 0.0, shrink, 0.0, 0.0, 0.0, 1.0);
    let full = down * back * up;
    let rows = std::array::from_fn(|r| std::array::from_fn(|c| full[(r, c)]));
    let map = Homography::<Exemplar, Mark>::new(rows).inverse()?;
    Some(Refined { map, correlation })
}

fn level_matrix(rows: &[[f64; 3]; 3], shrink: f64) -> Matrix3<f64> {
    let m = Matrix3::from_fn(|r, c| rows[r][c]);
    let down = Matrix3::new(shrink, 0.0, 0.0, 0.0, shrink, 0.0, 0.0, 0.0, 1.0);
    let up = Matrix3::new(
        1.0 / shrink,
        0.0,
        0.0,
        0.0,
        1.0 / shrink,
        0.0,
        0.0,
        0.0,
        1.0,
    );
    up * m * down
}

fn corner_move(delta: &Matrix3<f64>, side: f64) -> f64 {
    [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
        .iter()
        .map(|&(x, y)| {
            let v = delta * nalgebra::Vector3::new(x, y, 1.0);
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

/// Photo ink brought into the exemplar's frame: value, gradient along its axes, known or not.
struct Pulled {
    index: usize,
    x: f32,
    y: f32,
    value: f32,
    gx: f32,
    gy: f32,
}

fn pull(back: &Matrix3<f64>, mark: &Level, exemplar: &Level, within: &Plane) -> Vec<Pulled> {
    let m: [[f32; 3]; 3] = std::array::from_fn(|r| std::array::from_fn(|c| back[(r, c)] as f32));
    let (w, h) = (exemplar.ink.width(), exemplar.ink.height());
    let mut out = Vec::with_capacity(w * h);
    for y in 0..h {
        let v = y as f32 + 0.5;
        for x in 0..w {
            let index = y * w + x;
            if within.data()[index] < 0.5 || exemplar.valid.data()[index] < 0.5 {
                continue;
            }
            let u = x as f32 + 0.5;
            let z = m[2][0] * u + m[2][1] * v + m[2][2];
            if z < 1e-4 {
                continue;
            }
            let px = (m[0][0] * u + m[0][1] * v + m[0][2]) / z;
            let py = (m[1][0] * u + m[1][1] * v + m[1][2]) / z;
            if !mark.ink.contains(px, py) || mark.valid.sample(px, py) < 0.75 {
                continue;
            }
            // Derivatives of the place in the mark by the place in the exemplar.
            let (jxu, jxv) = ((m[0][0] - px * m[2][0]) / z, (m[0][1] - px * m[2][1]) / z);
            let (jyu, jyv) = ((m[1][0] - py * m[2][0]) / z, (m[1][1] - py * m[2][1]) / z);
            let dx = mark.ink.sample(px + 0.5, py) - mark.ink.sample(px - 0.5, py);
            let dy = mark.ink.sample(px, py + 0.5) - mark.ink.sample(px, py - 0.5);
            out.push(Pulled {
                index,
                x: u,
                y: v,
                value: mark.ink.sample(px, py),
                gx: dx * jxu + dy * jyu,
                gy: dx * jxv + dy * jyv,
            });
        }
    }
    out
}

impl Step {
    fn build(
        back: &Matrix3<f64>,
        mark: &Level,
        exemplar: &Level,
        within: &Plane,
        freedom: Freedom,
    ) -> Option<Self> {
        let pulled = pull(back, mark, exemplar, within);
        if pulled.len() < LEAST_PIXELS.min(within.data().len() / 20) {
            return None;
        }
        let n = pulled.len() as f32;
        let stats = |values: &mut dyn Iterator<Item = f32>| {
            let (s, q) = values.fold((0.0f32, 0.0f32), |a, v| (a.0 + v, a.1 + v * v));
            let mean = s / n;
            (mean, (q / n - mean * mean).max(1e-8).sqrt())
        };
        let (mp, sp) = stats(&mut pulled.iter().map(|p| p.value));
        let (me, se) = stats(&mut pulled.iter().map(|p| exemplar.ink.data()[p.index]));
        let centre = exemplar.ink.width() as f64 / 2.0;
        let mut normal = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        let mut product = 0.0f32;
        for p in &pulled {
            let a = (p.value - mp) / sp;
            let b = (exemplar.ink.data()[p.index] - me) / se;
            product += a * b;
            let r = b - a;
            let weight = (1.0 / (1.0 + (r / OUTLIER).powi(2))).powi(2);
            let (x, y) = (
                (f64::from(p.x) - centre) / centre,
                (f64::from(p.y) - centre) / centre,
            );
            let (gx, gy) = (f64::from(p.gx / sp) * centre, f64::from(p.gy / sp) * centre);
            let row = jacobian(freedom, x, y, gx, gy);
            let w = f64::from(weight);
            for i in 0..8 {
                let wi = w * row[i];
                right[i] += wi * f64::from(r);
                for j in i..8 {
                    normal[(i, j)] += wi * row[j];
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
            correlation: product / n,
            centre,
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
fn jacobian(freedom: Freedom, x: f64, y: f64, gx: f64, gy: f64) -> [f64; 8] {
    match freedom {
        Freedom::Similarity => [gx, gy, gx * x + gy * y, gy * x - gx * y, 0.0, 0.0, 0.0, 0.0],
        Freedom::Affine => [gx, gy, gx * x, gx * y, gy * x, gy * y, 0.0, 0.0],
        Freedom::Projective => {
            let t = gx * x + gy * y;
            [gx, gy, gx * x, gx * y, gy * x, gy * y, -x * t, -y * t]
        }
    }
}
