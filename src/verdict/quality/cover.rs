//! What lies over a mark: places of another colour than the glaze on which the mark's ink is seen.

use image::RgbImage;

use super::laid::{BARE, Laid};
use crate::ink::colour::lab;
use crate::raster::{Plane, quantile};

/// Side of a cell in pixels of the small map, and how many samples a side are looked at.
const CELL: usize = 8;
const SAMPLES: usize = 3;
/// A cell's colour is the median of at least so many samples beside the strokes.
const SAMPLES_LEAST: usize = 3;
/// Share of the exemplar's ink that the photo must show in a cell for its ground to be glaze beyond doubt, and
/// the exemplar's ink (mean) from which this is asked.
const SHOWN: f32 = 0.5;
const INKED: f32 = 0.1;
/// Cells beyond doubt needed before all cells are taken to tell the glaze's colour.
const SURE_CELLS: usize = 6;
/// Weight of lightness in a difference of colours: light falls off over a base, colour hardly does.
const LIGHTNESS: f32 = 0.4;
/// Difference from which a cell is something else: CIELAB units, and how many times the middle difference of the
/// cells beyond doubt; and how many of its eight neighbours must be so as well. On tune lots white labels on white
/// glaze differ by 3 to 5.
const FOREIGN: f32 = 2.6;
const FOREIGN_SPREAD: f32 = 3.0;
const NEIGHBOURS: usize = 3;
/// Share of the exemplar's ink that shows through a sheen at least, in all of it; under a label about a tenth does by chance.
const THROUGH: f32 = 0.3;
/// A sheen adds white light: its a* and b* lie this near (CIELAB units) to those between the glaze's and white.
const TINT: f32 = 3.0;
/// A sheen through which ink shows leaves this share of the glaze's own a* and b* at least.
const HUE_LEFT: f32 = 0.4;
/// L* of pale glaze, and the share of its L* below which a place is a hole: print is lighter.
const PALE: f32 = 50.0;
const DEPTH: f32 = 0.25;
/// Cells round a reflection that its veil may colour.
const VEIL: usize = 2;

/// What is known of the exemplar's ink by cells.
struct Cells {
    n: usize,
    /// Colour of the ground, where it is seen.
    colour: Vec<Option<[f32; 3]>>,
    /// The exemplar's ink, and how much of it the photo shows.
    ink: Vec<f32>,
    shown: Vec<f32>,
    glared: Vec<bool>,
}

/// What lies over a mark, each 1 where it does, in the frame of the exemplar.
pub(super) struct Over {
    /// Labels, dirt, a thumb.
    pub(super) cover: Plane,
    /// The sheen of a reflection too faint to clip: lighter than the glaze, with the mark's ink showing through.
    pub(super) veil: Plane,
}

impl Over {
    pub(super) fn of(photo: &RgbImage, laid: &Laid<'_>) -> Self {
        let cells = Cells::of(photo, laid);
        let (n, side) = (cells.n, laid.side());
        let foreign = cells.foreign();
        let mut kind = vec![0u8; n * n];
        for group in groups(&foreign, n) {
            let veiled = cells.is_veil(&group);
            group.iter().for_each(|&i| kind[i] = 1 + u8::from(veiled));
        }
        let plane = |wanted: u8| {
            let at = |p: usize| (p / CELL).min(n - 1);
            let on = |i: usize| kind[at(i / side) * n + at(i % side)] == wanted;
            let data = (0..side * side).map(|i| f32::from(u8::from(on(i))));
            Plane::from_vec(side, side, data.collect())
        };
        Self {
            cover: plane(1).zip(&laid.paper, f32::max),
            veil: plane(2).zip(&laid.paper, |v, p| v * (1.0 - p)),
        }
    }
}

/// Groups of cells (8 neighbours) that are `on`.
fn groups(on: &[bool], n: usize) -> Vec<Vec<usize>> {
    let mut open = on.to_vec();
    let mut found = Vec::new();
    for start in 0..open.len() {
        let mut group = Vec::new();
        let mut stack = vec![start];
        while let Some(i) = stack.pop() {
            if !std::mem::take(&mut open[i]) {
                continue;
            }
            group.push(i);
            let (x, y) = (i % n, i / n);
            for v in y.saturating_sub(1)..(y + 2).min(n) {
                stack.extend((x.saturating_sub(1)..(x + 2).min(n)).map(|u| v * n + u));
            }
        }
        if !group.is_empty() {
            found.push(group);
        }
    }
    found
}

impl Cells {
    fn of(photo: &RgbImage, laid: &Laid<'_>) -> Self {
        let n = laid.side() / CELL;
        let mut cells = Self {
            n,
            colour: Vec::with_capacity(n * n),
            ink: Vec::with_capacity(n * n),
            shown: Vec::with_capacity(n * n),
            glared: Vec::with_capacity(n * n),
        };
        for j in 0..n {
            for i in 0..n {
                cells.push(photo, laid, (i * CELL, j * CELL));
            }
        }
        cells
    }

    fn push(&mut self, photo: &RgbImage, laid: &Laid<'_>, (x0, y0): (usize, usize)) {
        let (mut ink, mut shown) = (0.0f32, 0.0f32);
        for y in y0..y0 + CELL {
            for x in x0..x0 + CELL {
                let drawn = laid.exemplar.ink.get(x, y);
                ink += drawn;
                shown += drawn.min(laid.mark.ink.get(x, y));
            }
        }
        let mut channels: [Vec<f32>; 3] = Default::default();
        let mut glared = false;
        for k in 0..SAMPLES * SAMPLES {
            let at = |k: usize| (2 * k + 1) * CELL / (2 * SAMPLES);
            let (x, y) = (x0 + at(k % SAMPLES), y0 + at(k / SAMPLES));
            let Some(place) = laid.place(x, y).filter(|_| !laid.is_spoilt(x, y)) else {
                continue;
            };
            glared |= laid.is_glared(x, y);
            if laid.exemplar.ink.get(x, y) < BARE {
                let rgb = photo.get_pixel(place.x as u32, place.y as u32).0;
                (0..3).for_each(|c| channels[c].push(f32::from(rgb[c])));
            }
        }
        let seen = channels[0].len() >= SAMPLES_LEAST;
        let colour = seen.then(|| lab(channels.map(|mut c| quantile(&mut c, 0.5) as u8)));
        self.colour.push(colour);
        self.ink.push(ink / (CELL * CELL) as f32);
        self.shown.push(shown / ink.max(1e-3));
        self.glared.push(glared);
    }

    /// The glaze's colour, by the cells in which the mark's ink is seen, and the difference from which a cell is
    /// something else.
    fn glaze(&self) -> Option<([f32; 3], f32)> {
        let sure = |i: &usize| self.ink[*i] > INKED && self.shown[*i] > SHOWN;
        let all: Vec<usize> = (0..self.colour.len())
            .filter(|i| self.colour[*i].is_some() && !self.glared[*i])
            .collect();
        let best: Vec<usize> = all.iter().copied().filter(sure).collect();
        let from = if best.len() >= SURE_CELLS { best } else { all };
        let mut channels: [Vec<f32>; 3] = Default::default();
        for colour in from.iter().filter_map(|i| self.colour[*i]) {
            (0..3).for_each(|c| channels[c].push(colour[c]));
        }
        if channels[0].is_empty() {
            return None;
        }
        let glaze = channels.map(|mut c| quantile(&mut c, 0.5));
        let colours = from.iter().filter_map(|i| self.colour[*i]);
        let mut apart: Vec<f32> = colours.map(|c| difference(c, glaze)).collect();
        let limit = FOREIGN.max(FOREIGN_SPREAD * quantile(&mut apart, 0.5));
        Some((glaze, limit))
    }

    /// Whether a group of foreign cells is a sheen.
    fn is_veil(&self, group: &[usize]) -> bool {
        let Some((glaze, _)) = self.glaze() else {
            return false;
        };
        let seen: Vec<[f32; 3]> = group.iter().filter_map(|&i| self.colour[i]).collect();
        let mut steps: Vec<f32> = seen.iter().map(|c| c[0] - glaze[0]).collect();
        let mut tints: Vec<f32> = seen.iter().map(|c| tint(*c, glaze)).collect();
        let inked = group.iter().filter(|i| self.ink[**i] > INKED);
        let (shown, drawn) = inked.fold((0.0f32, 0.0f32), |(s, d), &i| {
            (s + self.shown[i] * self.ink[i], d + self.ink[i])
        });
        let through = drawn > 0.0 && shown > THROUGH * drawn;
        let white = !seen.is_empty() && quantile(&mut tints, 0.5) < TINT;
        white && quantile(&mut steps, 0.5) > 0.0 && through
    }

    fn foreign(&self) -> Vec<bool> {
        let Some((glaze, limit)) = self.glaze() else {
            return vec![false; self.colour.len()];
        };
        // A hole is no cover.
        let deep = |c: [f32; 3]| glaze[0] > PALE && c[0] < DEPTH * glaze[0];
        let near = |i: usize, reach: usize, on: &dyn Fn(usize) -> bool| {
            let (x, y) = (i % self.n, i / self.n);
            let (x1, y1) = ((x + reach + 1).min(self.n), (y + reach + 1).min(self.n));
            (y.saturating_sub(reach)..y1)
                .flat_map(|v| (x.saturating_sub(reach)..x1).map(move |u| (u, v)))
                .filter(|&(u, v)| (u, v) != (x, y) && on(v * self.n + u))
                .count()
        };
        let differs: Vec<bool> = (0..self.colour.len())
            .map(|i| {
                let veiled = self.glared[i] || near(i, VEIL, &|j| self.glared[j]) > 0;
                !veiled && self.colour[i].is_some_and(|c| difference(c, glaze) > limit && !deep(c))
            })
            .collect();
        // A dense part of a label shows no ground of its own: its neighbours speak for it.
        (0..differs.len())
            .map(|i| {
                let around = near(i, 1, &|j| differs[j]);
                match self.colour[i] {
                    Some(_) => differs[i] && around >= NEIGHBOURS,
                    None => around >= NEIGHBOURS,
                }
            })
            .collect()
    }
}

/// How far a colour's a* and b* lie from those between the glaze's and white's, as far as a sheen reaches.
fn tint(c: [f32; 3], glaze: [f32; 3]) -> f32 {
    let along = c[1] * glaze[1] + c[2] * glaze[2];
    let t = (along / (glaze[1].powi(2) + glaze[2].powi(2)).max(1e-3)).clamp(HUE_LEFT, 1.0);
    (c[1] - t * glaze[1]).hypot(c[2] - t * glaze[2])
}

fn difference(a: [f32; 3], b: [f32; 3]) -> f32 {
    let (l, u, v) = (LIGHTNESS * (a[0] - b[0]), a[1] - b[1], a[2] - b[2]);
    (l * l + u * u + v * v).sqrt()
}
