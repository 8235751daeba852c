//! Scratches: long thin lines among a mark's ink that its exemplar does not have.
//!
//! Each pixel of a foreign tone votes for the lines that run as it does itself (Hough's transform in the form of Duda and
//! Hart 1972; the way of a pixel by the structure tensor, Förstner and Gülch 1987): the strokes of letters and the net of
//! crazing run all ways and gather few votes. What was found is taken away before the next line is looked for.

use std::f32::consts::PI;

use super::laid::{Laid, boxed};
use super::slope;
use super::tone::Tone;
use crate::raster::Plane;

// The limits were tried on 23 scratched, 52 sound and 16 other photos of a tune lot (seed 64): 17 of the first and 3 of the
// others show a line, two of which are crazed and one struck twice.

/// Tone from which a pixel is foreign, as a share of the mark's own and in CIELAB units, and the exemplar's most within
/// `APART` pixels.
const FOREIGN: f32 = 0.15;
const FAINT: f32 = 4.0;
const DRAWN: f32 = 0.1;
const APART: usize = 3;
/// Half-width of squares of which at most this share is foreign: what is wider is no line.
const WIDE: usize = 4;
const THIN: f32 = 0.5;
/// Half-width of the squares over which the way of a pixel is taken, and how much its slopes agree at least (0 to 1).
const TENSOR: usize = 2;
const AGREE: f32 = 0.6;
/// Directions of lines, over half a turn, and how far (radians) that of a pixel may lie from the line's for its vote, and to
/// belong to it: scratches bend.
const TURNS: usize = 64;
const VOTE: f32 = 0.245;
const BELONG: f32 = 0.42;
/// Width of a bin of distances, and how far a pixel may lie from the line (pixels).
const BIN: f32 = 2.0;
const BESIDE: f32 = 2.5;
/// Length of the steps along a line (pixels), the least share of those in view that hold a pixel of it, and the most that may
/// be empty in a row. Steps under the mark's own ink are not in view.
const STEP: f32 = 4.0;
const HELD: f32 = 0.8;
const GAP: usize = 2;
/// Least length of a line (share of the side), pixels to begin with, and lines looked for.
const LENGTH: f32 = 0.2;
const PIXELS: usize = 15;
const LINES: usize = 8;
/// The exemplar's least mean within `ACROSS` pixels for a place to lie among the ink, and the share of a line that must.
const AMONG: f32 = 0.02;
const ACROSS: usize = 18;
const AMONG_SHARE: f32 = 0.3;

/// A foreign pixel.
struct Dash {
    at: (f32, f32),
    /// Direction across it, 0 to pi.
    across: f32,
    among: bool,
    used: bool,
}

/// A line by the direction across it and its distance from the first pixel along that.
#[derive(Clone, Copy)]
struct Line {
    across: f32,
    /// Cosine and sine of it.
    normal: (f32, f32),
    far: f32,
}

impl Line {
    fn new(across: f32, far: f32) -> Self {
        let normal = (across.cos(), across.sin());
        Self {
            across,
            normal,
            far,
        }
    }

    fn distance(self, (x, y): (f32, f32)) -> f32 {
        x * self.normal.0 + y * self.normal.1 - self.far
    }

    /// Number of the step along the line.
    fn step(self, (x, y): (f32, f32)) -> i32 {
        ((y * self.normal.0 - x * self.normal.1) / STEP).floor() as i32
    }
}

/// Length of the scratches among the mark's ink, in sides of the frame. `bare` is 1 in places that are in view.
pub(super) fn scratched(tone: &Tone, laid: &Laid<'_>, bare: &Plane) -> f32 {
    let near = boxed(&laid.exemplar.ink, APART);
    let open = bare.zip(&near, |b, n| if b > 0.5 && n < DRAWN { 1.0 } else { 0.0 });
    let mut dashes = dashes(tone, laid, &open);
    let side = laid.side() as f32;
    let mut length = 0.0;
    for _ in 0..LINES {
        if dashes.iter().filter(|d| !d.used).count() < PIXELS {
            break;
        }
        let line = likeliest(&dashes, side);
        length += take(&mut dashes, line, &open);
    }
    length / side
}

fn dashes(tone: &Tone, laid: &Laid<'_>, open: &Plane) -> Vec<Dash> {
    let least = (FOREIGN * tone.full).max(FAINT);
    let foreign = tone.plane.map(|t| if t > least { 1.0 } else { 0.0 });
    let crowd = boxed(&foreign, WIDE);
    let among = boxed(&laid.exemplar.ink, ACROSS);
    // What lies beyond full ink says no more of the way.
    let calm = boxed(&tone.plane.map(|t| t.min(tone.full)), 1);
    let (w, h) = (calm.width(), calm.height());
    let mut products = [(); 3].map(|()| Plane::filled(w, h, 0.0));
    for y in 1..h - 1 {
        for x in 1..w - 1 {
            let (gx, gy) = slope(&calm, x, y);
            for (p, v) in products.iter_mut().zip([gx * gx, gy * gy, gx * gy]) {
                p.set(x, y, v);
            }
        }
    }
    let [xx, yy, xy] = products.map(|p| boxed(&p, TENSOR));
    let mut found = Vec::new();
    for (i, &on) in foreign.data().iter().enumerate() {
        if on < 0.5 || open.data()[i] < 0.5 || crowd.data()[i] >= THIN {
            continue;
        }
        let (a, b, c) = (xx.data()[i], yy.data()[i], xy.data()[i]);
        if (a - b).hypot(2.0 * c) > AGREE * (a + b) {
            found.push(Dash {
                at: ((i % w) as f32 + 0.5, (i / w) as f32 + 0.5),
                across: (0.5 * (2.0 * c).atan2(a - b)).rem_euclid(PI),
                among: among.data()[i] >= AMONG,
                used: false,
            });
        }
    }
    found
}

/// The line with the most votes.
fn likeliest(dashes: &[Dash], side: f32) -> Line {
    // Distances run from minus one side to one and a half.
    let bins = (2.5 * side / BIN) as usize + 2;
    let mut votes = vec![0u32; TURNS * bins];
    let lines: Vec<Line> = (0..TURNS).map(|turn| turned(turn, -side)).collect();
    let reach = (VOTE / PI * TURNS as f32).floor() as usize;
    for dash in dashes.iter().filter(|d| !d.used) {
        let own = (dash.across / PI * TURNS as f32).round() as usize;
        for turn in own + TURNS - reach..=own + TURNS + reach {
            let turn = turn % TURNS;
            let bin = (lines[turn].distance(dash.at) / BIN).max(0.0) as usize;
            votes[turn * bins + bin.min(bins - 2)] += 1;
        }
    }
    let both = |i: usize| votes[i] + votes[i + 1];
    let best = (0..votes.len() - 1)
        .max_by(|a, b| both(*a).cmp(&both(*b)).then(b.cmp(a)))
        .unwrap_or(0);
    turned(best / bins, ((best % bins) as f32 + 1.0) * BIN - side)
}

/// The line with the so many-th direction across it.
fn turned(turn: usize, far: f32) -> Line {
    Line::new(PI * turn as f32 / TURNS as f32, far)
}

/// Takes the pixels of a line away; its length, 0 where it is too short or lies beside the mark.
fn take(dashes: &mut [Dash], line: Line, open: &Plane) -> f32 {
    let like = |d: &Dash| {
        let off = (d.across - line.across + PI / 2.0).rem_euclid(PI) - PI / 2.0;
        off.abs() < BELONG
    };
    let of_line = |d: &Dash| !d.used && line.distance(d.at).abs() <= BESIDE && like(d);
    let mut held: Vec<i32> = dashes
        .iter()
        .filter(|d| of_line(d))
        .map(|d| line.step(d.at))
        .collect();
    held.sort_unstable();
    held.dedup();
    let run = longest(&held, &in_view(line, open));
    let within = |d: &Dash| run.is_some_and(|(a, b)| (a..=b).contains(&line.step(d.at)));
    let (mut all, mut among) = (0usize, 0usize);
    for dash in dashes.iter_mut() {
        if of_line(dash) && (run.is_none() || within(dash)) {
            dash.used = true;
            all += 1;
            among += usize::from(dash.among);
        }
    }
    match run {
        Some((a, b)) if among as f32 >= AMONG_SHARE * all as f32 => (b - a + 1) as f32 * STEP,
        _ => 0.0,
    }
}

/// Steps of a line in view, in order.
fn in_view(line: Line, open: &Plane) -> Vec<i32> {
    let mut steps = Vec::new();
    for y in 0..open.height() {
        for (x, &on) in open.row(y).iter().enumerate() {
            let at = (x as f32 + 0.5, y as f32 + 0.5);
            if on > 0.5 && line.distance(at).abs() <= 1.0 {
                steps.push(line.step(at));
            }
        }
    }
    steps.sort_unstable();
    steps.dedup();
    steps
}

/// First and last step of the run that holds most, if it is long enough.
fn longest(held: &[i32], view: &[i32]) -> Option<(i32, i32)> {
    let side = crate::alignment::verifier::SIDE as f32;
    let mut best: Option<(usize, i32, i32)> = None;
    for (at, &first) in held.iter().enumerate() {
        let (mut count, mut seen, mut last) = (0usize, 0usize, first);
        for &step in &held[at..] {
            // Steps in view between this one and the last that hold nothing.
            let empty = view.iter().filter(|v| last < **v && **v < step).count();
            if empty > GAP {
                break;
            }
            (count, seen, last) = (count + 1, seen + 1 + empty, step);
            let most = best.is_none_or(|(c, ..)| count > c);
            if most && count as f32 >= HELD * seen as f32 {
                best = Some((count, first, step));
            }
        }
    }
    let long = |a: i32, b: i32| (b - a + 1) as f32 * STEP >= LENGTH * side;
    best.filter(|&(_, a, b)| long(a, b)).map(|(_, a, b)| (a, b))
}
