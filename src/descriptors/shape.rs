//! The coarse shape of a mark as one vector: where strokes run and in which direction.
//!
//! Oriented gradient energy on a coarse grid (HOG, Dalal and Triggs 2005, with unsigned angles)
//! plus the ink itself, centred and scaled to unit length, so that a dot product ranks exemplars.
//! The photo's mark is coded at many turns, sizes and shifts; an exemplar only once.

use crate::raster::Plane;

/// Cells along one side of the described square.
const CELLS: usize = 16;
/// Samples along one side of a cell.
const STEP: usize = 4;
/// Unsigned gradient directions, and the ink itself.
const DIRECTIONS: usize = 4;
const CHANNELS: usize = DIRECTIONS + 1;
/// Numbers of a code.
pub const LENGTH: usize = CELLS * CELLS * CHANNELS;
/// Cells of margin around the described square, for the shifts.
const MARGIN: usize = 1;
/// Weight of the ink channel against the directions (by energy, on fit artwork).
const INK_WEIGHT: f32 = 0.5;

/// How the photo's mark was turned, sized and shifted before it was coded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// Radians by which the mark is turned to lie like the exemplar.
    pub turn: f64,
    /// Factor by which it is enlarged.
    pub scale: f64,
    /// Shift after turning, as a share of the frame's side.
    pub shift: (f64, f64),
}

/// A unit-length vector.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeCode(pub Vec<f32>);

/// Codes of one mark at many poses, turn by turn.
#[derive(Debug, Clone)]
pub struct PosedCodes {
    poses: Vec<Pose>,
    rows: Vec<f32>,
}

impl PosedCodes {
    /// The poses of the mark in which it is most like an exemplar, among those whose turn lies within
    /// `reach` radians of `turn`: the best, and the best of those that differ from it by more than
    /// `APART` radians or in size.
    pub fn best(&self, exemplar: &ShapeCode, turn: f64, reach: f64) -> Vec<Pose> {
        let away = |a: f64, b: f64| {
            let d = (a - b).rem_euclid(std::f64::consts::TAU);
            d.min(std::f64::consts::TAU - d)
        };
        let likened: Vec<(Pose, f32)> = self
            .poses
            .iter()
            .zip(self.rows.chunks_exact(LENGTH))
            .filter(|(p, _)| away(p.turn, turn) <= reach)
            .map(|(p, row)| (*p, dot(row, &exemplar.0)))
            .collect();
        let best_of = |among: &dyn Fn(&Pose) -> bool| {
            let some = likened.iter().filter(|(p, _)| among(p)).copied();
            some.reduce(|a, b| if b.1 > a.1 { b } else { a })
                .map(|(p, _)| p)
        };
        let first = best_of(&|_| true);
        let second = first.and_then(|f| {
            best_of(&|p: &Pose| {
                away(p.turn, f.turn) > APART || p.scale.to_bits() != f.scale.to_bits()
            })
        });
        first.into_iter().chain(second).collect()
    }
}

/// Radians between poses that are tried side by side: more than one step of the posed turns.
const APART: f64 = 0.4;

/// Summed in eight lanes, so that it is fast and the same everywhere.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut lanes = [0.0f32; 8];
    for (x, y) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
        for i in 0..8 {
            lanes[i] += x[i] * y[i];
        }
    }
    lanes.iter().sum()
}

/// The code of an exemplar in its own pose.
pub fn code(ink: &Plane, valid: &Plane) -> ShapeCode {
    let grid = Grid::of(
        ink,
        valid,
        Pose {
            turn: 0.0,
            scale: 1.0,
            shift: (0.0, 0.0),
        },
    );
    ShapeCode(grid.window(MARGIN, MARGIN))
}

/// Codes at every `turns`-th part of a circle, at the given sizes, each unshifted and shifted by
/// one cell to the four sides.
pub fn posed_codes(ink: &Plane, valid: &Plane, turns: usize, scales: &[f64]) -> PosedCodes {
    let mut out = PosedCodes {
        poses: Vec::new(),
        rows: Vec::new(),
    };
    let cell = 1.0 / CELLS as f64;
    for t in 0..turns {
        let turn = t as f64 / turns as f64 * std::f64::consts::TAU;
        for &scale in scales {
            let grid = Grid::of(
                ink,
                valid,
                Pose {
                    turn,
                    scale,
                    shift: (0.0, 0.0),
                },
            );
            for (dx, dy) in [(0i32, 0i32), (-1, 0), (1, 0), (0, -1), (0, 1)] {
                let (cx, cy) = (MARGIN as i32 + dx, MARGIN as i32 + dy);
                out.rows.extend(grid.window(cx as usize, cy as usize));
                // A window further right sees the mark further left.
                let shift = (-f64::from(dx) * cell, -f64::from(dy) * cell);
                out.poses.push(Pose { turn, scale, shift });
            }
        }
    }
    out
}

/// Channel energies on the described square and its margin.
struct Grid {
    cells: Vec<[f32; CHANNELS]>,
    known: Vec<f32>,
}

impl Grid {
    const SIDE: usize = CELLS + 2 * MARGIN;

    fn of(ink: &Plane, valid: &Plane, pose: Pose) -> Self {
        let n = Self::SIDE * STEP;
        let (turned, seen) = posed(ink, valid, pose, n);
        let mut cells = vec![[0.0f32; CHANNELS]; Self::SIDE * Self::SIDE];
        let mut known = vec![0.0f32; Self::SIDE * Self::SIDE];
        for y in 1..n - 1 {
            for x in 1..n - 1 {
                let cell = (y / STEP) * Self::SIDE + x / STEP;
                known[cell] += seen.get(x, y);
                let gx = turned.get(x + 1, y) - turned.get(x - 1, y);
                let gy = turned.get(x, y + 1) - turned.get(x, y - 1);
                let out = &mut cells[cell];
                out[DIRECTIONS] += INK_WEIGHT * turned.get(x, y);
                let square = gx * gx + gy * gy;
                if square < 1e-8 {
                    continue;
                }
                // At twice its angle an unsigned gradient is a vector; its parts along the four
                // half axes are its shares in the four directions.
                let scale = square.sqrt().recip();
                let (c, s) = ((gx * gx - gy * gy) * scale, 2.0 * gx * gy * scale);
                out[0] += c.max(0.0);
                out[1] += s.max(0.0);
                out[2] += (-c).max(0.0);
                out[3] += (-s).max(0.0);
            }
        }
        Self { cells, known }
    }

    /// The unit vector of the window that starts at a cell.
    fn window(&self, column: usize, row: usize) -> Vec<f32> {
        let mut out = vec![0.0f32; LENGTH];
        let full = (STEP * STEP) as f32;
        let centre = CELLS as f32 / 2.0;
        let mut used = Vec::with_capacity(CELLS * CELLS);
        for y in 0..CELLS {
            for x in 0..CELLS {
                let from = (row + y) * Self::SIDE + column + x;
                let off = (x as f32 + 0.5 - centre).hypot(y as f32 + 0.5 - centre);
                if off > centre || self.known[from] < 0.5 * full {
                    continue;
                }
                let to = (y * CELLS + x) * CHANNELS;
                for (o, v) in out[to..to + CHANNELS].iter_mut().zip(self.cells[from]) {
                    *o = v.max(0.0).sqrt();
                }
                used.push(to);
            }
        }
        centre_and_scale(&mut out, &used);
        out
    }
}

fn centre_and_scale(out: &mut [f32], used: &[usize]) {
    if used.is_empty() {
        return;
    }
    for c in 0..CHANNELS {
        let mean = used.iter().map(|&i| out[i + c]).sum::<f32>() / used.len() as f32;
        used.iter().for_each(|&i| out[i + c] -= mean);
    }
    let length = out.iter().map(|v| v * v).sum::<f32>().sqrt();
    if length > 1e-6 {
        out.iter_mut().for_each(|v| *v /= length);
    }
}

/// Ink and validity in a pose, on `n` samples a side (the described square and its margin).
fn posed(ink: &Plane, valid: &Plane, pose: Pose, n: usize) -> (Plane, Plane) {
    let side = ink.width() as f32;
    let unit = side / (CELLS * STEP) as f32;
    let (sin, cos) = (pose.turn as f32).sin_cos();
    let k = unit / pose.scale as f32;
    let (mut a, mut b) = (Plane::filled(n, n, 0.0), Plane::filled(n, n, 0.0));
    let mid = n as f32 / 2.0;
    for y in 0..n {
        let v = (y as f32 + 0.5 - mid) * k;
        for x in 0..n {
            let u = (x as f32 + 0.5 - mid) * k;
            let px = cos * u + sin * v + side / 2.0;
            let py = -sin * u + cos * v + side / 2.0;
            if ink.contains(px, py) {
                a.set(x, y, ink.sample(px, py));
                b.set(x, y, if valid.sample(px, py) > 0.5 { 1.0 } else { 0.0 });
            }
        }
    }
    (a, b)
}

impl Pose {
    /// The map from the mark's frame to the exemplar's, both square with `side` pixels.
    pub fn to_map<A: crate::geometry::Frame, B: crate::geometry::Frame>(
        &self,
        side: f64,
    ) -> crate::geometry::Homography<A, B> {
        let (sin, cos) = self.turn.sin_cos();
        let c = side / 2.0;
        let tx = c - self.scale * (cos * c - sin * c) + self.shift.0 * side;
        let ty = c - self.scale * (sin * c + cos * c) + self.shift.1 * side;
        crate::geometry::Homography::similarity(self.scale, self.turn, tx, ty)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Exemplar, Mark};

    fn drawing() -> Plane {
        let mut p = Plane::filled(64, 64, 0.0);
        for (x0, y0, w, h) in [
            (14, 20, 30, 3),
            (20, 28, 4, 18),
            (34, 36, 14, 5),
            (40, 24, 3, 9),
        ] {
            for y in y0..y0 + h {
                for x in x0..x0 + w {
                    p.set(x, y, 1.0);
                }
            }
        }
        p
    }

    #[test]
    fn the_best_pose_undoes_a_turn_and_a_shift() {
        let ones = Plane::filled(64, 64, 1.0);
        let exemplar = drawing();
        let pose = Pose {
            turn: 1.2,
            scale: 1.0,
            shift: (0.0625, 0.0),
        };
        let map = pose.to_map::<Mark, Exemplar>(64.0);
        // The mark as the camera saw it: the exemplar pulled through the map.
        let mark = exemplar.warp(&map, 64, 64, 0.0);
        let codes = posed_codes(&mark, &ones, 36, &[0.87, 1.0, 1.15]);
        let own = code(&exemplar, &ones);
        let got = codes.best(&own, 1.0, 0.5)[0];
        assert!((got.turn - 1.2).abs() < 0.12, "{got:?}");
        assert_eq!(got.scale, 1.0);
        assert!(
            (got.shift.0 - 0.0625).abs() < 0.01 && got.shift.1.abs() < 0.01,
            "{got:?}"
        );
    }
}
