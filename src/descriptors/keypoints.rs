//! Local edge descriptors on the ink map: scale- and rotation-covariant, blind to polarity.
//!
//! Points are extrema of the difference of Gaussians over scale (Lowe 2004); each is described by
//! a 4 x 4 grid of gradient-orientation histograms (Lowe 2004) in which the gradients are
//! *unsigned* (angles modulo pi, as in HOG, Dalal and Triggs 2005) and the vector is
//! square-rooted (Arandjelović and Zisserman 2012). An unsigned axis leaves a half turn open;
//! the half of the patch with more edges is put first, and where the halves are nearly even an
//! exemplar keeps both readings.

use crate::raster::Plane;

/// Scales an octave is divided into (Lowe 2004).
const INTERVALS: usize = 3;
/// Blur of the first level of an octave, in its own pixels (Lowe 2004).
const BASE_SIGMA: f32 = 1.6;
/// Blur the ink map is taken to have already.
const INHERENT_SIGMA: f32 = 0.7;
/// Octaves: the smallest is still 28 px for a 448 px mark.
const OCTAVES: usize = 5;
/// Least |difference of Gaussians| of a point, on ink from 0 to 1.
const LEAST_RESPONSE: f32 = 0.012;
/// Largest ratio of principal curvatures: above it a point slides along an edge. Lowe's 10,
/// doubled, since strokes are what a stamp is made of.
const EDGE_RATIO: f32 = 20.0;
/// Bins of the orientation histogram over a half turn.
const AXIS_BINS: usize = 18;
/// A second axis as strong as this share of the first makes a second point.
const SECOND_AXIS: f32 = 0.85;
/// Cells along one side of the descriptor's grid, and orientation bins of a cell.
const GRID: usize = 4;
const BINS: usize = 8;
/// Width of a cell in units of the point's sigma (Lowe 2004).
const CELL: f32 = 3.0;
/// Numbers of a descriptor.
pub const LENGTH: usize = GRID * GRID * BINS;
/// Clipping of the normalised histogram before the square root (Lowe 2004).
const CLIP: f32 = 0.2;
/// Halves whose edges differ by less than this share are even: either may come first.
const EVEN_HALVES: f32 = 0.05;
/// A point whose patch has more than this share of unknown pixels is dropped.
const UNKNOWN_SHARE: f32 = 0.1;

/// A point on the ink map, in its pixels (outer-corner origin).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Keypoint {
    pub x: f32,
    pub y: f32,
    /// Scale: the Gaussian sigma of the level it was found on, in pixels of the ink map.
    pub sigma: f32,
    /// Dominant gradient axis in radians, 0 to 2 pi; the busier half of the patch lies before it.
    pub axis: f32,
    /// |Difference of Gaussians|: larger is more distinct.
    pub response: f32,
}

/// Unit-length square-rooted histogram, row of cells by row, orientation innermost.
#[derive(Debug, Clone, PartialEq)]
pub struct Descriptor(pub [f32; LENGTH]);

impl Descriptor {
    /// Edges in the first and the second half of the grid.
    fn halves(&self) -> (f32, f32) {
        let (a, b) = self.0.split_at(LENGTH / 2);
        let energy = |h: &[f32]| h.iter().map(|v| v * v).sum();
        (energy(a), energy(b))
    }

    /// The descriptor of the same patch turned by half a turn.
    pub fn half_turn(&self) -> Self {
        let mut out = [0.0; LENGTH];
        for cell in 0..GRID * GRID {
            let from = (GRID * GRID - 1 - cell) * BINS;
            out[cell * BINS..(cell + 1) * BINS].copy_from_slice(&self.0[from..from + BINS]);
        }
        Self(out)
    }
}

/// A described point set whose descriptors lie row by row for the matrix product.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PointSet {
    pub points: Vec<Keypoint>,
    rows: Vec<f32>,
}

impl PointSet {
    pub fn new(described: Vec<(Keypoint, Descriptor)>) -> Self {
        let mut set = Self::default();
        for (k, d) in described {
            set.points.push(k);
            set.rows.extend_from_slice(&d.0);
        }
        set
    }

    /// From points and their descriptors, [`LENGTH`] numbers each.
    pub fn from_parts(points: Vec<Keypoint>, rows: Vec<f32>) -> Self {
        Self { points, rows }
    }

    /// The set with every number put through `f`.
    pub fn map_rows(mut self, f: impl Fn(f32) -> f32) -> Self {
        self.rows.iter_mut().for_each(|v| *v = f(*v));
        self
    }

    pub fn len(&self) -> usize {
        self.points.len()
    }

    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    /// Descriptors, [`LENGTH`] numbers a point.
    pub fn rows(&self) -> &[f32] {
        &self.rows
    }
}

/// What to do with a patch whose two halves are nearly even.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Halves {
    /// Describe it once (photos).
    BusierFirst,
    /// Describe it both ways (exemplars), so that either reading of the photo finds it.
    BothWhereEven,
}

/// Finds and describes at most `limit` points, the strongest first.
pub fn describe(
    ink: &Plane,
    valid: &Plane,
    limit: usize,
    halves: Halves,
) -> Vec<(Keypoint, Descriptor)> {
    let octaves = scale_space(ink);
    let mut points = Vec::new();
    for (index, octave) in octaves.iter().enumerate() {
        extrema(octave, index, &mut points);
    }
    points.sort_by(|a: &Raw, b| {
        b.response
            .total_cmp(&a.response)
            .then(a.y.total_cmp(&b.y))
            .then(a.x.total_cmp(&b.x))
    });
    let mut out = Vec::new();
    for raw in points {
        if out.len() >= limit {
            break;
        }
        let octave = &octaves[raw.octave];
        let step = (1 << raw.octave) as f32;
        if unknown_share(valid, raw.x * step, raw.y * step, raw.sigma * step) > UNKNOWN_SHARE {
            continue;
        }
        let level = &octave[raw.level];
        for axis in axes(level, raw.x, raw.y, raw.sigma) {
            let Some(d) = histogram(level, raw.x, raw.y, raw.sigma, axis) else {
                continue;
            };
            let (first, second) = d.halves();
            let even = (first - second).abs() < EVEN_HALVES * (first + second);
            let turned = second > first;
            let point = |half_turn: bool| Keypoint {
                x: raw.x * step,
                y: raw.y * step,
                sigma: raw.sigma * step,
                axis: if half_turn {
                    axis + std::f32::consts::PI
                } else {
                    axis
                },
                response: raw.response,
            };
            if turned || (even && halves == Halves::BothWhereEven) {
                out.push((point(true), d.half_turn()));
            }
            if !turned || (even && halves == Halves::BothWhereEven) {
                out.push((point(false), d));
            }
        }
    }
    out.truncate(limit);
    out
}

/// Coordinates in pixels of its octave.
struct Raw {
    octave: usize,
    level: usize,
    x: f32,
    y: f32,
    sigma: f32,
    response: f32,
}

/// Levels of one octave: `INTERVALS + 3` blurs.
type Octave = Vec<Plane>;

fn level_sigma(level: usize) -> f32 {
    BASE_SIGMA * 2f32.powf(level as f32 / INTERVALS as f32)
}

fn scale_space(ink: &Plane) -> Vec<Octave> {
    let first = ink.blur((BASE_SIGMA * BASE_SIGMA - INHERENT_SIGMA * INHERENT_SIGMA).sqrt());
    let mut octaves: Vec<Octave> = Vec::with_capacity(OCTAVES);
    let mut base = first;
    for _ in 0..OCTAVES {
        let mut levels = vec![base];
        for i in 1..INTERVALS + 3 {
            let (a, b) = (level_sigma(i - 1), level_sigma(i));
            let next = levels[i - 1].blur((b * b - a * a).sqrt());
            levels.push(next);
        }
        // The level at twice the base blur, at every second sample, starts the next octave.
        base = levels[INTERVALS].half();
        octaves.push(levels);
        if base.width() < 16 || base.height() < 16 {
            break;
        }
    }
    octaves
}

fn extrema(octave: &Octave, index: usize, out: &mut Vec<Raw>) {
    let dogs: Vec<Plane> = octave
        .windows(2)
        .map(|p| p[1].zip(&p[0], |b, a| b - a))
        .collect();
    let (w, h) = (dogs[0].width(), dogs[0].height());
    for level in 1..=INTERVALS {
        let (below, here, above) = (&dogs[level - 1], &dogs[level], &dogs[level + 1]);
        for y in 4..h.saturating_sub(4) {
            let rows = [here.row(y - 1), here.row(y), here.row(y + 1)];
            for x in 4..w - 4 {
                let v = rows[1][x];
                if v.abs() < LEAST_RESPONSE || !is_extremum(v, &rows, below, above, x, y) {
                    continue;
                }
                if let Some((dx, dy)) = refine(&rows, x) {
                    out.push(Raw {
                        octave: index,
                        level,
                        x: x as f32 + 0.5 + dx,
                        y: y as f32 + 0.5 + dy,
                        sigma: level_sigma(level),
                        response: v.abs(),
                    });
                }
            }
        }
    }
}

fn is_extremum(
    v: f32,
    rows: &[&[f32]; 3],
    below: &Plane,
    above: &Plane,
    x: usize,
    y: usize,
) -> bool {
    let beats = |o: f32| if v > 0.0 { v > o } else { v < o };
    let own = rows
        .iter()
        .enumerate()
        .all(|(j, r)| (x - 1..=x + 1).all(|xx| (j == 1 && xx == x) || beats(r[xx])));
    own && [below, above]
        .iter()
        .all(|p| (y - 1..=y + 1).all(|yy| p.row(yy)[x - 1..=x + 1].iter().all(|&o| beats(o))))
}

/// Offset of the fitted peak from the pixel centre; `None` on an edge.
fn refine(rows: &[&[f32]; 3], x: usize) -> Option<(f32, f32)> {
    let [a, b, c] = rows;
    let dxx = b[x + 1] + b[x - 1] - 2.0 * b[x];
    let dyy = c[x] + a[x] - 2.0 * b[x];
    let dxy = (c[x + 1] - c[x - 1] - a[x + 1] + a[x - 1]) / 4.0;
    let (trace, det) = (dxx + dyy, dxx * dyy - dxy * dxy);
    if det <= 0.0 || trace * trace * EDGE_RATIO >= (EDGE_RATIO + 1.0).powi(2) * det {
        return None;
    }
    let (gx, gy) = ((b[x + 1] - b[x - 1]) / 2.0, (c[x] - a[x]) / 2.0);
    let dx = -(dyy * gx - dxy * gy) / det;
    let dy = -(dxx * gy - dxy * gx) / det;
    Some((dx.clamp(-0.5, 0.5), dy.clamp(-0.5, 0.5)))
}

/// Share of unknown pixels in the patch, on a coarse grid of samples; outside counts as known.
fn unknown_share(valid: &Plane, x: f32, y: f32, sigma: f32) -> f32 {
    let reach = CELL * sigma * GRID as f32 / 2.0;
    let mut unknown = 0;
    for j in -2i8..=2 {
        for i in -2i8..=2 {
            let (u, v) = (
                x + f32::from(i) * reach / 2.0,
                y + f32::from(j) * reach / 2.0,
            );
            if valid.contains(u, v) && valid.sample(u, v) < 0.5 {
                unknown += 1;
            }
        }
    }
    unknown as f32 / 25.0
}

/// The rows over, at and under `y`, or `None` at the border.
fn rows_about(p: &Plane, y: i32) -> Option<[&[f32]; 3]> {
    let inside = y >= 1 && y < p.height() as i32 - 1;
    inside.then(|| [y - 1, y, y + 1].map(|y| p.row(y as usize)))
}

/// Gradient at an integer pixel of the middle one of three rows, or `None` at the border.
fn gradient(rows: &[&[f32]; 3], x: i32) -> Option<(f32, f32)> {
    if x < 1 || x >= rows[1].len() as i32 - 1 {
        return None;
    }
    let x = x as usize;
    Some((rows[1][x + 1] - rows[1][x - 1], rows[2][x] - rows[0][x]))
}

/// Unsigned angle of a gradient, 0 to pi. The arc tangent is the polynomial of Abramowitz and Stegun
/// (1964), 4.4.47, whose error is below 1e-5.
fn unsigned_angle(gx: f32, gy: f32) -> f32 {
    use std::f32::consts::{FRAC_PI_2, PI};
    let (ax, ay) = (gx.abs(), gy.abs());
    let t = ax.min(ay) / ax.max(ay).max(f32::MIN_POSITIVE);
    let q = t * t;
    let low =
        t * (0.999_866 + q * (-0.330_299_5 + q * (0.180_141 + q * (-0.085_133 + q * 0.020_835_1))));
    let acute = if ay > ax { FRAC_PI_2 - low } else { low };
    let angle = if (gx < 0.0) == (gy < 0.0) {
        acute
    } else {
        PI - acute
    };
    if angle >= PI { angle - PI } else { angle }
}

/// `exp(-x^2 / 2 s^2)` at whole steps from `-reach` to `reach`, each moved by `offset`: a round window is
/// the product of two of these.
fn window(reach: i32, offset: f32, s: f32) -> Vec<f32> {
    (-reach..=reach)
        .map(|i| (-(i as f32 + offset).powi(2) / (2.0 * s * s)).exp())
        .collect()
}

/// One or two dominant axes around a point.
fn axes(level: &Plane, x: f32, y: f32, sigma: f32) -> Vec<f32> {
    let spread = 1.5 * sigma;
    let reach = (3.0 * spread).ceil() as i32;
    let weights = window(reach, 0.0, spread);
    let mut bins = [0.0f32; AXIS_BINS];
    let (cx, cy) = ((x - 0.5).round() as i32, (y - 0.5).round() as i32);
    for (j, wj) in (-reach..).zip(&weights) {
        let Some(rows) = rows_about(level, cy + j) else {
            continue;
        };
        for (i, wi) in (-reach..).zip(&weights) {
            let Some((gx, gy)) = gradient(&rows, cx + i) else {
                continue;
            };
            let magnitude = (gx * gx + gy * gy).sqrt();
            if magnitude < 1e-6 {
                continue;
            }
            let weight = wi * wj;
            let at = unsigned_angle(gx, gy) / std::f32::consts::PI * AXIS_BINS as f32 - 0.5;
            let lo = at.floor();
            let share = at - lo;
            let lo = (lo as i32).rem_euclid(AXIS_BINS as i32) as usize;
            bins[lo] += weight * magnitude * (1.0 - share);
            bins[(lo + 1) % AXIS_BINS] += weight * magnitude * share;
        }
    }
    let smooth: [f32; AXIS_BINS] = std::array::from_fn(|i| {
        let (p, n) = (
            bins[(i + AXIS_BINS - 1) % AXIS_BINS],
            bins[(i + 1) % AXIS_BINS],
        );
        (p + 2.0 * bins[i] + n) / 4.0
    });
    let top = smooth.iter().copied().fold(0.0, f32::max);
    let mut peaks: Vec<(f32, f32)> = (0..AXIS_BINS)
        .filter_map(|i| {
            let (p, v) = (smooth[(i + AXIS_BINS - 1) % AXIS_BINS], smooth[i]);
            let n = smooth[(i + 1) % AXIS_BINS];
            if v <= 0.0 || v < p || v <= n || v < SECOND_AXIS * top {
                return None;
            }
            let shift = 0.5 * (p - n) / (p + n - 2.0 * v);
            let angle = (i as f32 + 0.5 + shift) / AXIS_BINS as f32 * std::f32::consts::PI;
            Some((v, angle.rem_euclid(std::f32::consts::PI)))
        })
        .collect();
    peaks.sort_by(|a, b| b.0.total_cmp(&a.0));
    peaks.truncate(2);
    peaks.into_iter().map(|(_, a)| a).collect()
}

/// The 4 x 4 x 8 histogram in the point's own frame; `None` where the patch is flat.
fn histogram(level: &Plane, x: f32, y: f32, sigma: f32, axis: f32) -> Option<Descriptor> {
    let cell = CELL * sigma;
    let half = GRID as f32 / 2.0;
    let reach = (cell * half * std::f32::consts::SQRT_2 + 1.0).ceil() as i32;
    let (sin, cos) = axis.sin_cos();
    let (cx, cy) = ((x - 0.5).floor() as i32, (y - 0.5).floor() as i32);
    let mut bins = [0.0f32; LENGTH];
    let across = window(reach, cx as f32 + 0.5 - x, half * cell);
    let down = window(reach, cy as f32 + 0.5 - y, half * cell);
    for (j, wj) in (-reach..).zip(&down) {
        let Some(rows) = rows_about(level, cy + j) else {
            continue;
        };
        for (i, wi) in (-reach..).zip(&across) {
            let (px, py) = ((cx + i) as f32 + 0.5 - x, (cy + j) as f32 + 0.5 - y);
            let u = (cos * px + sin * py) / cell + half - 0.5;
            let v = (-sin * px + cos * py) / cell + half - 0.5;
            if u <= -1.0 || v <= -1.0 || u >= GRID as f32 || v >= GRID as f32 {
                continue;
            }
            let Some((gx, gy)) = gradient(&rows, cx + i) else {
                continue;
            };
            let magnitude = (gx * gx + gy * gy).sqrt();
            if magnitude < 1e-6 {
                continue;
            }
            let weight = magnitude * wi * wj;
            // Both angles lie in the same half turn.
            let angle = unsigned_angle(gx, gy) - axis;
            let angle = if angle < 0.0 {
                angle + std::f32::consts::PI
            } else {
                angle
            };
            let o = angle / std::f32::consts::PI * BINS as f32;
            spread(&mut bins, u, v, o, weight);
        }
    }
    normalise(bins)
}

/// Adds a gradient to its eight nearest bins, trilinearly.
fn spread(bins: &mut [f32; LENGTH], u: f32, v: f32, o: f32, weight: f32) {
    let (u0, v0, o0) = (u.floor(), v.floor(), o.floor());
    let (au, av, ao) = (u - u0, v - v0, o - o0);
    for (dv, wv) in [(0, 1.0 - av), (1, av)] {
        let row = v0 as i32 + dv;
        if !(0..GRID as i32).contains(&row) {
            continue;
        }
        for (du, wu) in [(0, 1.0 - au), (1, au)] {
            let column = u0 as i32 + du;
            if !(0..GRID as i32).contains(&column) {
                continue;
            }
            let cell = (row as usize * GRID + column as usize) * BINS;
            let w = weight * wv * wu;
            bins[cell + o0 as usize % BINS] += w * (1.0 - ao);
            bins[cell + (o0 as usize + 1) % BINS] += w * ao;
        }
    }
}

fn normalise(mut bins: [f32; LENGTH]) -> Option<Descriptor> {
    let length = bins.iter().map(|v| v * v).sum::<f32>().sqrt();
    if length < 1e-4 {
        return None;
    }
    bins.iter_mut().for_each(|v| *v = (*v / length).min(CLIP));
    let sum: f32 = bins.iter().sum();
    bins.iter_mut().for_each(|v| *v = (*v / sum).sqrt());
    Some(Descriptor(bins))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Exemplar, Homography, Mark, Point};

    /// Bars and blocks at irregular places.
    fn drawing(size: usize, invert: bool) -> Plane {
        let mut p = Plane::filled(size, size, 0.0);
        let mut seed = 7u32;
        let mut next = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 16) as usize
        };
        for _ in 0..26 {
            let (x, y) = (50 + next() % (size - 130), 50 + next() % (size - 130));
            let (w, h) = (5 + next() % 30, 5 + next() % 30);
            for yy in y..y + h {
                for xx in x..x + w {
                    p.set(xx, yy, 1.0);
                }
            }
        }
        if invert { p.map(|v| 1.0 - v) } else { p }
    }

    fn nearest(a: &Descriptor, all: &[(Keypoint, Descriptor)]) -> usize {
        let dot = |d: &Descriptor| a.0.iter().zip(&d.0).map(|(p, q)| p * q).sum::<f32>();
        (0..all.len())
            .max_by(|&i, &j| dot(&all[i].1).total_cmp(&dot(&all[j].1)))
            .expect("points")
    }

    #[test]
    fn points_are_found_again_after_a_turn_and_an_inversion() {
        let a = drawing(320, false);
        let turn = Homography::<Mark, Exemplar>::similarity(0.9, 2.3, 265.0, 150.0);
        let back = turn.inverse().expect("a similarity");
        let b = drawing(320, true).warp(&back, 320, 320, 1.0);
        let ones = Plane::filled(320, 320, 1.0);
        let (da, db) = (
            describe(&a, &ones, 300, Halves::BusierFirst),
            describe(&b, &ones, 300, Halves::BothWhereEven),
        );
        let mut right = 0;
        let mut asked = 0;
        for (k, d) in &da {
            let to = turn
                .apply(Point::new(f64::from(k.x), f64::from(k.y)))
                .expect("in front");
            if !(30.0..290.0).contains(&to.x) || !(30.0..290.0).contains(&to.y) {
                continue;
            }
            asked += 1;
            let i = nearest(d, &db);
            let got = Point::new(f64::from(db[i].0.x), f64::from(db[i].0.y));
            right += usize::from(to.distance(got) < 4.0);
        }
        assert!(asked > 40 && right * 2 >= asked, "{right} of {asked}");
    }
}
