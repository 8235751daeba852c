//! What the photo shows where forms differ.
//!
//! The photo's colours are projected on the direction in which its own ink differs from the glaze, so that faint strokes
//! are as linear as strong ones. What a part's ink should come to follows from the strokes round about that all forms
//! share; how far the glaze's own grain would let it be told, from their strength and that grain (a matched filter,
//! North 1943, from memory).

use super::forms::{Form, Ground, SIDE};
use super::measures::{correlation, level, strength};
use super::parts::{Divided, Part};
use super::pixels::{moved, pixels};
use crate::ink::box_max;
use crate::raster::Plane;

/// Pixels round a part in which its neighbours are looked at, and how often that is widened where they are few.
const AROUND: usize = 22;
const WIDER: usize = 3;
/// Shared strokes (sum of their squared ink) that the neighbourhood needs.
const NEIGHBOURS: f32 = 12.0;
/// Pixels round a part in which strange ink, as of a label's edge, tells.
const NEAR: usize = 5;
/// Pixels by which photo and forms may lie apart there, and what a pixel of it costs (correlation).
const APART: i32 = 4;
const SHIFTED: f32 = 1e-4;
/// Blurs (sigma in pixels) of the photo that are tried on the forms.
const BLURS: [f32; 4] = [0.0, 1.0, 2.0, 3.5];
/// Share of the ink's level over the whole mark from which a shared stroke counts as seen.
const SEEN: f32 = 0.4;
/// Neighbouring pixels that share their grain: a picture is sharpened, shrunk and stored in blocks.
const ALIKE: f32 = 6.0;
/// Least grain, in units of L*.
const GRAIN: f32 = 0.5;

/// What the photo shows of a part, where some forms have one thing and some another, or nothing. Levels are shares of
/// what the strokes round about let one expect.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seen {
    /// 0.5 where the photo is like the first forms, -0.5 where it is like the second.
    pub side: f32,
    /// Standard deviation that the glaze's grain alone gives it.
    pub error: f32,
    /// Correlation (-1 to 1) with the first forms, and with the second.
    pub first: f32,
    pub second: f32,
    /// Share of the part that the photo shows at all.
    pub valid: f32,
    /// What stands beside the part where no form has ink, without the grain (root mean square).
    pub strange: f32,
    /// Share of the strokes round about that are seen.
    pub around: f32,
    /// Strength of the ink round about over that of the whole mark.
    pub near: f32,
    /// Correlation of photo and forms round about.
    pub fit: f32,
    /// Sum of the squared differences of the two: how much there is to be seen.
    pub size: f32,
}

#[cfg(test)]
impl Seen {
    /// A part that the photo shows well.
    pub(super) const CLEAR: Self = Self {
        side: 0.5,
        error: 0.02,
        first: 0.85,
        second: 0.0,
        valid: 1.0,
        strange: 0.02,
        around: 0.95,
        near: 1.0,
        fit: 0.9,
        size: 40.0,
    };
}

impl Seen {
    /// All numbers in the order of the fields.
    pub fn numbers(&self) -> [f32; 10] {
        [
            self.side,
            self.error,
            self.first,
            self.second,
            self.valid,
            self.strange,
            self.around,
            self.near,
            self.fit,
            self.size,
        ]
    }
}

/// The photo's ink in the frame, made comparable with that of the forms.
pub(super) struct Sight<'a> {
    divided: &'a Divided,
    /// Forms as blurred as the photo, and their mean.
    drawn: Vec<Plane>,
    middle: Plane,
    /// Colour difference from the glaze along that of the mark's ink, in units of L*.
    ink: Plane,
    valid: Plane,
    /// Units of L* that ink 1 of the forms comes to, over the whole mark.
    strength: f32,
    /// Standard deviation on bare glaze.
    grain: f32,
}

/// What is round a part, and how photo and forms lie to one another there.
pub(super) struct Place {
    window: Vec<usize>,
    shift: (i32, i32),
    valid: f32,
    strength: f32,
    strange: f32,
    around: f32,
    fit: f32,
}

impl<'a> Sight<'a> {
    pub(super) fn of(forms: &[Form], divided: &'a Divided, ground: &Ground) -> Self {
        let middle = middle_of(forms.iter().map(|f| &f.ink));
        let ink = ground.along(&middle.zip(&divided.shared, |m, s| m * s), &divided.bare);
        let told: Vec<usize> = (0..SIDE * SIDE)
            .filter(|&at| divided.is_told(at) && ground.valid.data()[at] > 0.5)
            .collect();
        let mut best = (f32::NEG_INFINITY, BLURS[0]);
        for sigma in BLURS {
            let drawn = blurred(&middle, sigma);
            let fit = correlation(told.iter().map(|&at| (ink.data()[at], drawn.data()[at])));
            if fit > best.0 {
                best = (fit, sigma);
            }
        }
        let drawn: Vec<Plane> = forms.iter().map(|f| blurred(&f.ink, best.1)).collect();
        let middle = middle_of(drawn.iter());
        let strength = strength(told.iter().map(|&at| (ink.data()[at], middle.data()[at])));
        let bare = told.iter().filter(|&&at| divided.bare.data()[at] > 0.5);
        let (_, grain) = level(bare.map(|&at| ink.data()[at]));
        Self {
            divided,
            drawn,
            middle,
            ink,
            valid: ground.valid.clone(),
            strength,
            grain: grain.max(GRAIN),
        }
    }

    /// Looks round a part.
    pub(super) fn place(&self, part: &Part) -> Place {
        let neighbours = self.neighbours(&part.window);
        let (shift, fit) = self.best_shift(&neighbours);
        let value = |at: usize| self.value(at, shift);
        let pair = |at: usize| Some((value(at)?, self.middle.data()[at]));
        let strength = strength(neighbours.iter().filter_map(|&at| pair(at)));
        let unit = strength.max(GRAIN);
        let strokes = neighbours
            .iter()
            .filter(|&&at| self.divided.shared.data()[at] > 0.5);
        let least = |at: usize| SEEN * self.strength * self.middle.data()[at];
        let seen = strokes
            .clone()
            .filter(|&&at| value(at).is_some_and(|v| v >= least(at)));
        let beside = pixels(&box_max(&part.window, NEAR)).into_iter();
        let beside = beside.filter(|&at| self.divided.bare.data()[at] > 0.5);
        let (strange, _) = level(beside.filter_map(value).map(|v| (v / unit).powi(2)));
        let window = pixels(&part.window);
        let shown = window.iter().filter(|&&at| value(at).is_some()).count();
        Place {
            valid: shown as f32 / window.len().max(1) as f32,
            window,
            shift,
            strength,
            strange: (strange - (self.grain / unit).powi(2)).max(0.0).sqrt(),
            around: seen.count() as f32 / strokes.count().max(1) as f32,
            fit,
        }
    }

    /// Sets two sides of a part against one another.
    pub(super) fn look(&self, place: &Place, first: &[usize], second: &[usize]) -> Seen {
        let of = |side: &[usize]| middle_of(side.iter().map(|&i| &self.drawn[i]));
        let (first, second) = (of(first), of(second));
        let unit = place.strength.max(GRAIN);
        let value = |at: usize| self.value(at, place.shift);
        let like = |form: &Plane| {
            let pairs = place
                .window
                .iter()
                .filter_map(|&at| Some((value(at)?, form.data()[at])));
            correlation(pairs)
        };
        let (mut along, mut all, mut shown) = (0.0, 0.0, 0.0);
        for &at in &place.window {
            let (a, b) = (first.data()[at], second.data()[at]);
            all += (a - b) * (a - b);
            if let Some(v) = value(at) {
                along += (a - b) * (v / unit - (a + b) / 2.0);
                shown += (a - b) * (a - b);
            }
        }
        Seen {
            side: if shown > 0.0 { along / shown } else { 0.0 },
            error: self.grain / unit * (ALIKE / shown.max(1e-3)).sqrt(),
            first: like(&first),
            second: like(&second),
            valid: if all > 0.0 { shown / all } else { place.valid },
            strange: place.strange,
            around: place.around,
            near: place.strength / self.strength.max(GRAIN),
            fit: place.fit,
            size: all,
        }
    }

    /// The photo's ink at a pixel of the forms; `None` where it shows nothing.
    fn value(&self, at: usize, shift: (i32, i32)) -> Option<f32> {
        let to = moved(at, shift).filter(|&to| self.valid.data()[to] > 0.5)?;
        Some(self.ink.data()[to])
    }

    /// Pixels round about at which all forms agree, the part's own ground among them.
    fn neighbours(&self, window: &Plane) -> Vec<usize> {
        let mut around = box_max(window, AROUND);
        let told = |around: &Plane| -> Vec<usize> {
            let near = pixels(around).into_iter();
            near.filter(|&at| self.divided.is_told(at)).collect()
        };
        let mut found = told(&around);
        for _ in 0..WIDER {
            let strokes: f32 = found.iter().map(|&at| self.middle.data()[at].powi(2)).sum();
            if strokes >= NEIGHBOURS {
                break;
            }
            around = box_max(&around, AROUND);
            found = told(&around);
        }
        found
    }

    /// The shift in whole pixels at which the forms lie best on the photo, and the correlation there; the nearer of two
    /// that are as good.
    fn best_shift(&self, at: &[usize]) -> ((i32, i32), f32) {
        let mut best = ((0, 0), f32::NEG_INFINITY);
        for dy in -APART..=APART {
            for dx in -APART..=APART {
                let pairs = at
                    .iter()
                    .filter_map(|&at| Some((self.value(at, (dx, dy))?, self.middle.data()[at])));
                let fit = correlation(pairs) - SHIFTED * (dx * dx + dy * dy) as f32;
                if fit > best.1 {
                    best = ((dx, dy), fit);
                }
            }
        }
        best
    }
}

fn blurred(plane: &Plane, sigma: f32) -> Plane {
    match sigma > 0.0 {
        true => plane.blur(sigma),
        false => plane.clone(),
    }
}

fn middle_of<'a>(planes: impl ExactSizeIterator<Item = &'a Plane>) -> Plane {
    let share = 1.0 / planes.len().max(1) as f32;
    let nothing = Plane::filled(SIDE, SIDE, 0.0);
    planes.fold(nothing, |sum, p| sum.zip(p, |s, v| s + share * v))
}
