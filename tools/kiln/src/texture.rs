//! Tileable noise fields that are made once and sampled everywhere: cheap at two megapixels.

use crate::random::Rng;
use std::sync::OnceLock;

/// A square field that repeats at its edges.
pub struct Tile {
    side: usize,
    data: Vec<f32>,
}

impl Tile {
    /// Bilinear value at `(x, y)` in samples.
    pub fn sample(&self, x: f32, y: f32) -> f32 {
        let (x0, y0) = (x.floor(), y.floor());
        let (fx, fy) = (x - x0, y - y0);
        let mask = self.side - 1;
        let (ix, iy) = (x0 as i64 as usize & mask, y0 as i64 as usize & mask);
        let (jx, jy) = ((ix + 1) & mask, (iy + 1) & mask);
        let (a, b) = (
            self.data[iy * self.side + ix],
            self.data[iy * self.side + jx],
        );
        let (c, d) = (
            self.data[jy * self.side + ix],
            self.data[jy * self.side + jx],
        );
        let (top, low) = (a + (b - a) * fx, c + (d - c) * fx);
        top + (low - top) * fy
    }
}

const SIDE: usize = 256;
const LARGE: usize = 1024;

fn octaves(seed: u64, cells: &[(usize, f32)]) -> Tile {
    let mut data = vec![0.0f32; SIDE * SIDE];
    for (k, &(n, weight)) in cells.iter().enumerate() {
        let mut rng = Rng::new(seed).fork("octave", k as u64);
        let grid = Tile {
            side: n,
            data: (0..n * n).map(|_| rng.range(-1.0, 1.0)).collect(),
        };
        let step = n as f32 / SIDE as f32;
        for (i, v) in data.iter_mut().enumerate() {
            let (x, y) = ((i % SIDE) as f32 * step, (i / SIDE) as f32 * step);
            *v += weight * grid.sample(smooth(x), smooth(y));
        }
    }
    let n = data.len() as f32;
    let mean = data.iter().sum::<f32>() / n;
    let dev = (data.iter().map(|v| (v - mean).powi(2)).sum::<f32>() / n).sqrt();
    data.iter_mut().for_each(|v| *v = (*v - mean) / dev);
    Tile { side: SIDE, data }
}

fn smooth(x: f32) -> f32 {
    let f = x - x.floor();
    x.floor() + f * f * (3.0 - 2.0 * f)
}

/// Clouds: wide features first, unit variance.
pub fn clouds() -> &'static Tile {
    static TILE: OnceLock<Tile> = OnceLock::new();
    TILE.get_or_init(|| octaves(11, &[(4, 1.0), (8, 0.7), (16, 0.45), (32, 0.3), (64, 0.2)]))
}

/// Grain: fine features only, unit variance.
pub fn grain() -> &'static Tile {
    static TILE: OnceLock<Tile> = OnceLock::new();
    TILE.get_or_init(|| octaves(12, &[(32, 0.5), (64, 0.8), (128, 1.0), (256, 0.8)]))
}

/// Dark and bright specks of many sizes on zero; about one part in a hundred covered.
pub fn specks() -> &'static Tile {
    static TILE: OnceLock<Tile> = OnceLock::new();
    TILE.get_or_init(|| {
        let mut data = vec![0.0f32; LARGE * LARGE];
        let mut rng = Rng::new(13);
        for _ in 0..2600 {
            let radius = 0.9 * rng.unit().max(0.02).powf(-0.45);
            let (cx, cy) = (rng.range(0.0, LARGE as f32), rng.range(0.0, LARGE as f32));
            splat(&mut data, cx, cy, radius.min(5.5), rng.range(0.4, 1.0));
        }
        Tile { side: LARGE, data }
    })
}

fn splat(data: &mut [f32], cx: f32, cy: f32, radius: f32, strength: f32) {
    let reach = radius.ceil() as i64 + 1;
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let (x, y) = (cx.floor() as i64 + dx, cy.floor() as i64 + dy);
            let d = (x as f32 - cx).hypot(y as f32 - cy);
            let v = strength * (radius + 0.5 - d).clamp(0.0, 1.0);
            let i = (y as usize & (LARGE - 1)) * LARGE + (x as usize & (LARGE - 1));
            data[i] = data[i].max(v);
        }
    }
}

/// Crazing: 1 on a net of hairline cracks, 0 between them.
pub fn crazing() -> &'static Tile {
    static TILE: OnceLock<Tile> = OnceLock::new();
    TILE.get_or_init(|| {
        const SEEDS: usize = 18;
        let mut rng = Rng::new(14);
        let seeds: Vec<(f32, f32)> = (0..SEEDS * SEEDS)
            .map(|_| (rng.unit(), rng.unit()))
            .collect();
        let bend = clouds();
        let cell = LARGE as f32 / SEEDS as f32;
        let data = (0..LARGE * LARGE)
            .map(|i| {
                let (px, py) = ((i % LARGE) as f32, (i / LARGE) as f32);
                let (bx, by) = (px / 4.0, py / 4.0);
                let x = px / cell + 0.22 * bend.sample(bx, by);
                let y = py / cell + 0.22 * bend.sample(by + 91.0, bx);
                crack(&seeds, SEEDS, x, y, cell)
            })
            .collect();
        Tile { side: LARGE, data }
    })
}

fn crack(seeds: &[(f32, f32)], n: usize, x: f32, y: f32, cell: f32) -> f32 {
    let (mut first, mut second) = (f32::MAX, f32::MAX);
    let (cx, cy) = (x.floor() as i64, y.floor() as i64);
    for dy in -1..=1 {
        for dx in -1..=1 {
            let (gx, gy) = (cx + dx, cy + dy);
            let k = gy.rem_euclid(n as i64) as usize * n + gx.rem_euclid(n as i64) as usize;
            let d = (gx as f32 + seeds[k].0 - x).hypot(gy as f32 + seeds[k].1 - y);
            if d < first {
                second = first;
                first = d;
            } else if d < second {
                second = d;
            }
        }
    }
    (1.3 - (second - first) * cell * 0.5).clamp(0.0, 1.0)
}
