//! Smooth edge chains of a small picture: thinned, linked, cut at corners.

use crate::raster::Plane;

/// An edge pixel and its unit gradient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    pub x: usize,
    pub y: usize,
    pub gx: f32,
    pub gy: f32,
    pub strength: f32,
}

/// Edges of one picture: a grid with at most one edge a pixel, and chains of indices into it.
#[derive(Debug, Clone)]
pub struct Edges {
    width: usize,
    grid: Vec<Option<Edge>>,
    pub chains: Vec<Vec<Edge>>,
}

/// Chains shorter than this many pixels tell nothing of a curve.
const SHORTEST: usize = 12;
/// A chain breaks where the gradient turns by more than this (cosine) over one pixel.
const SMOOTH: f32 = 0.75;

impl Edges {
    /// Thinned edges at which the gradient is at least `least` (grey levels a pixel).
    pub fn of(grey: &Plane, least: f32) -> Self {
        let (w, h) = (grey.width(), grey.height());
        let mut grid = vec![None; w * h];
        let gradient = |x: usize, y: usize| {
            let gx = (grey.get(x + 1, y) - grey.get(x - 1, y)) / 2.0;
            let gy = (grey.get(x, y + 1) - grey.get(x, y - 1)) / 2.0;
            (gx, gy)
        };
        let mut strength = Plane::filled(w, h, 0.0);
        for y in 1..h.saturating_sub(1) {
            for x in 1..w.saturating_sub(1) {
                let (gx, gy) = gradient(x, y);
                strength.set(x, y, (gx * gx + gy * gy).sqrt());
            }
        }
        for y in 2..h.saturating_sub(2) {
            for x in 2..w.saturating_sub(2) {
                let s = strength.get(x, y);
                if s < least {
                    continue;
                }
                let (gx, gy) = gradient(x, y);
                let (ux, uy) = (gx / s, gy / s);
                let (cx, cy) = (x as f32 + 0.5, y as f32 + 0.5);
                // Non-maximum suppression along the gradient (Canny 1986).
                if s >= strength.sample(cx + ux, cy + uy) && s > strength.sample(cx - ux, cy - uy) {
                    grid[y * w + x] = Some(Edge {
                        x,
                        y,
                        gx: ux,
                        gy: uy,
                        strength: s,
                    });
                }
            }
        }
        let mut out = Self {
            width: w,
            grid,
            chains: Vec::new(),
        };
        out.link(h);
        out
    }

    /// The edge at a pixel, if any.
    pub fn at(&self, x: i64, y: i64) -> Option<&Edge> {
        let h = self.grid.len() / self.width;
        if x < 0 || y < 0 || x >= self.width as i64 || y >= h as i64 {
            return None;
        }
        self.grid[y as usize * self.width + x as usize].as_ref()
    }

    fn link(&mut self, height: usize) {
        let mut used = vec![false; self.grid.len()];
        for y in 0..height {
            for x in 0..self.width {
                let Some(start) = self.grid[y * self.width + x] else {
                    continue;
                };
                if used[y * self.width + x] {
                    continue;
                }
                let mut chain = self.follow(start, &mut used);
                chain.reverse();
                chain.pop();
                used[y * self.width + x] = false;
                chain.extend(self.follow(start, &mut used));
                if chain.len() >= SHORTEST {
                    self.chains.push(chain);
                }
            }
        }
    }

    /// From `start` along ever new neighbours whose gradient points nearly the same way.
    fn follow(&self, start: Edge, used: &mut [bool]) -> Vec<Edge> {
        let mut chain = vec![start];
        used[start.y * self.width + start.x] = true;
        let mut last = start;
        while let Some(next) = self.next_of(&last, used) {
            used[next.y * self.width + next.x] = true;
            chain.push(next);
            last = next;
        }
        chain
    }

    fn next_of(&self, last: &Edge, used: &[bool]) -> Option<Edge> {
        let mut best: Option<(f32, Edge)> = None;
        for dy in -1i64..=1 {
            for dx in -1i64..=1 {
                let (x, y) = (last.x as i64 + dx, last.y as i64 + dy);
                let Some(e) = self.at(x, y) else { continue };
                if used[e.y * self.width + e.x] {
                    continue;
                }
                let alike = e.gx * last.gx + e.gy * last.gy;
                if alike > SMOOTH && best.is_none_or(|(b, _)| alike > b) {
                    best = Some((alike, *e));
                }
            }
        }
        best.map(|(_, e)| e)
    }
}
