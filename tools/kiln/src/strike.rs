//! How a stamp leaves its ink: gain, filled counters, patchy loss, speckle, double strike, smear.

use crate::plane::Plane;
use crate::random::Rng;
use crate::texture::{clouds, grain};

/// What one strike does to the drawn mark. Lengths are in median stroke widths.
#[derive(Clone, Copy, Debug)]
pub struct Wear {
    /// Share of the ink that stays, 0 to 1.
    pub left: f32,
    /// Growth (or loss, where negative) of every edge.
    pub gain: f32,
    /// Strength of ink running into narrow counters, 0 to 1.
    pub fill: f32,
    /// Offset of a second, fainter strike.
    pub double: Option<(f32, f32)>,
    /// Length and direction (radians, mark frame) of the smear.
    pub smear: f32,
    pub smear_angle: f32,
    /// Share of ink pixels lost to fine speckle.
    pub speckle: f32,
    /// How the ink went that is lost.
    pub loss: Loss,
}

/// How ink is lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// The stamp gave less and less: fading.
    Faded,
    /// It was rubbed off: what is left is whole, with hard edges.
    Rubbed,
}

impl Wear {
    /// A sound strike with the small faults that every strike has.
    pub fn sound(rng: &mut Rng) -> Self {
        Self {
            left: rng.range(0.93, 1.0),
            gain: rng.range(-0.1, 0.16),
            fill: if rng.chance(0.2) {
                rng.range(0.2, 0.6)
            } else {
                0.0
            },
            double: None,
            smear: 0.0,
            smear_angle: 0.0,
            speckle: rng.range(0.0, 0.05),
            loss: Loss::Faded,
        }
    }
}

/// Softness of an inked edge in strokes, and at most in map pixels: small print has strokes far
/// thinner than the median, and a softer edge would eat it.
const EDGE: f32 = 0.15;
const EDGE_MOST: f32 = 1.3;

/// The ink that `wear` leaves of `mask`; `stroke` is the median stroke width in mask pixels.
pub fn strike(mask: &Plane, stroke: f32, wear: &Wear, rng: &mut Rng) -> Plane {
    let mut ink = gained(mask, stroke, wear, rng);
    if let Some((dx, dy)) = wear.double {
        let second = ink.clone();
        let (dx, dy) = (dx * stroke, dy * stroke);
        for y in 0..ink.height {
            for x in 0..ink.width {
                let v = 0.6 * second.sample(x as f32 - dx, y as f32 - dy);
                let o = &mut ink.data[y * second.width + x];
                *o = o.max(v);
            }
        }
    }
    if wear.smear > 0.0 {
        smear(&mut ink, wear.smear * stroke, wear.smear_angle);
    }
    lose(&mut ink, stroke, wear, rng);
    ink
}

fn gained(mask: &Plane, stroke: f32, wear: &Wear, rng: &mut Rng) -> Plane {
    let sigma = (stroke * EDGE).clamp(0.5, EDGE_MOST);
    let soft = mask.blurred(sigma);
    let wide = if wear.fill > 0.0 {
        Some(mask.blurred(stroke * 0.8))
    } else {
        None
    };
    let (ox, oy) = (rng.range(0.0, 256.0), rng.range(0.0, 256.0));
    let step = 256.0 / (mask.width as f32 * rng.range(0.8, 1.6));
    let rough = 1.6 / stroke.max(1.0);
    let mut out = soft;
    for (i, v) in out.data.iter_mut().enumerate() {
        if *v <= 0.0 && wide.is_none() {
            continue;
        }
        let (x, y) = ((i % mask.width) as f32, (i / mask.width) as f32);
        let patch = clouds().sample(x * step + ox, y * step + oy);
        let edge = grain().sample(x * rough + oy, y * rough + ox);
        let level = 0.5 - wear.gain * (1.0 + 0.3 * patch) - 0.06 * edge;
        let mut value = *v;
        if let Some(wide) = &wide
            && patch > 0.2
        {
            value = value.max(wide.data[i] * (0.8 + 0.5 * wear.fill));
        }
        *v = ((value - level) * 3.2 + 0.5).clamp(0.0, 1.0);
    }
    out
}

/// Ink that a wiped stroke leaves beside itself: set so that the general yardstick finds as many
/// smeared marks in lots for tuning as on an independent set (about two in three).
const TRAIL: f32 = 0.5;

fn smear(ink: &mut Plane, length: f32, angle: f32) {
    let steps = (length * 1.5).ceil().clamp(2.0, 48.0);
    let source = ink.clone();
    let mut trail = Plane::new(ink.width, ink.height);
    let n = steps as usize;
    for i in 0..=n {
        let t = length * i as f32 / steps;
        let fade = TRAIL * (1.0 - 0.7 * i as f32 / steps);
        let (dx, dy) = (
            (t * angle.cos()).round() as isize,
            (t * angle.sin()).round() as isize,
        );
        max_shifted(&mut trail, &source, dx, dy, fade);
    }
    for (o, (s, t)) in ink.data.iter_mut().zip(source.data.iter().zip(&trail.data)) {
        *o = (0.94 * s).max(*t);
    }
}

fn max_shifted(out: &mut Plane, source: &Plane, dx: isize, dy: isize, fade: f32) {
    let (w, h) = (out.width as isize, out.height as isize);
    let (left, right) = (dx.clamp(0, w), (w + dx).clamp(0, w));
    if left >= right {
        return;
    }
    for y in dy.clamp(0, h)..(h + dy).clamp(0, h) {
        let from = ((y - dy) * w + left - dx) as usize;
        let n = (right - left) as usize;
        let to = (y * w + left) as usize;
        let row = &mut out.data[to..to + n];
        row.iter_mut()
            .zip(&source.data[from..from + n])
            .for_each(|(o, s)| *o = o.max(s * fade));
    }
}

/// Low-frequency loss down to `wear.left` of the ink, and fine speckle.
fn lose(ink: &mut Plane, stroke: f32, wear: &Wear, rng: &mut Rng) {
    let (ox, oy) = (rng.range(0.0, 256.0), rng.range(0.0, 256.0));
    let step = 256.0 / (ink.width as f32 * rng.range(1.2, 3.0));
    let fine = 1.4 / stroke.max(1.0);
    let slope = rng.angle();
    let (gx, gy) = (
        slope.cos() / ink.width as f32,
        slope.sin() / ink.width as f32,
    );
    let field: Vec<f32> = (0..ink.data.len())
        .map(|i| {
            if ink.data[i] <= 0.0 {
                return 0.0;
            }
            let (x, y) = ((i % ink.width) as f32, (i / ink.width) as f32);
            clouds().sample(x * step + ox, y * step + oy)
                + 0.4 * grain().sample(x * fine + oy, y * fine + ox)
                + 1.5 * (x * gx + y * gy)
        })
        .collect();
    let steep = match wear.loss {
        Loss::Faded => FADE,
        Loss::Rubbed => RUBBED,
    };
    let level = level_for(ink, &field, wear.left, steep);
    let speckle = 2.4 - 12.0 * wear.speckle;
    for (i, v) in ink.data.iter_mut().enumerate() {
        if *v > 0.0 {
            let (x, y) = ((i % ink.width) as f32, (i / ink.width) as f32);
            let dot = grain().sample(x * fine * 0.7 + ox, y * fine * 0.7 + oy);
            *v *= keep(field[i], level, steep) * (1.0 - (dot - speckle).clamp(0.0, 1.0));
        }
    }
}

/// Steepness of the fall from full ink to none, per unit of the loss field: a worn stamp fades
/// before it fails.
const FADE: f32 = 0.75;
/// The same where ink was rubbed off.
const RUBBED: f32 = 12.0;

fn keep(field: f32, level: f32, steep: f32) -> f32 {
    ((level - field) * steep + 0.5).clamp(0.0, 1.0)
}

fn level_for(ink: &Plane, field: &[f32], left: f32, steep: f32) -> f32 {
    let total = ink.sum();
    let (mut low, mut high) = (-6.0f32, 6.0f32);
    for _ in 0..14 {
        let mid = (low + high) / 2.0;
        let kept: f64 = ink
            .data
            .iter()
            .zip(field)
            .step_by(7)
            .map(|(&v, &f)| f64::from(v * keep(f, mid, steep)))
            .sum::<f64>()
            * 7.0;
        if kept < total * f64::from(left) {
            low = mid;
        } else {
            high = mid;
        }
    }
    (low + high) / 2.0
}
