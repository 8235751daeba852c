//! Likeness part by part: which parts of a mark speak for an exemplar, and which tell it from its
//! siblings.
//!
//! The mark's frame is laid out in small overlapping-free squares, about as large as a letter or two.
//! In each, photo and exemplar are compared by covariance over variances (the structure and contrast
//! terms of SSIM, Wang et al. 2004), so that ink where the other has none counts against both, bare
//! ground on bare ground counts for both, and a shift of a pixel or two is forgiven.

use crate::raster::Plane;

/// Side of a part, in pixels of the comparison frame.
const PART: usize = 14;
/// Shifts tried along each axis, in pixels: what a homography leaves on a curved base.
const SHIFTS: [i32; 3] = [-2, 0, 2];
/// Variance of ink (0 to 1) that counts as bare ground.
const BARE: f32 = 0.004;
/// Share of a part that must be known.
const KNOWN: f32 = 0.6;
/// Two exemplars differ in a part from this unlikeness on.
const DIFFERING: f32 = 0.35;
/// Parts that must differ before they can decide.
const DECIDING_LEAST: f32 = 0.8;

/// Likeness of photo and exemplar in each part, -1 to 1; `None` where the photo is not known.
#[derive(Debug, Clone)]
pub struct Parts {
    likeness: Vec<Option<f32>>,
    /// Whether the exemplar has ink there.
    inked: Vec<bool>,
}

impl Parts {
    /// Compares a photo's ink with an exemplar's, both in the mark's own square frame. `seen` is 1
    /// where the photo is known. The photo's ink is brought to the exemplar's strength first.
    pub fn of(photo: &Plane, seen: &Plane, exemplar: &Plane) -> Self {
        let gain = gain(photo, seen, exemplar);
        let grid = Grid::of(photo);
        let mut parts = Self {
            likeness: Vec::with_capacity(grid.count()),
            inked: Vec::with_capacity(grid.count()),
        };
        for (x0, y0) in grid.places() {
            let known = sum(seen, x0, y0) >= KNOWN * (PART * PART) as f32;
            parts.inked.push(variance(exemplar, x0, y0) > 2.0 * BARE);
            parts
                .likeness
                .push(known.then(|| likeness(photo, gain, exemplar, x0, y0)));
        }
        parts
    }

    /// The likeness below which a share of the inked, known parts lies; 0 where there is none.
    pub fn low(&self, share: f32) -> f32 {
        let mut values: Vec<f32> = self
            .likeness
            .iter()
            .zip(&self.inked)
            .filter_map(|(l, &inked)| l.filter(|_| inked))
            .collect();
        crate::raster::quantile(&mut values, share)
    }
}

/// How much two exemplars differ in each part, 0 to 1: 0 where they are alike.
pub fn differences(a: &Plane, b: &Plane) -> Vec<f32> {
    let grid = Grid::of(a);
    grid.places()
        .map(|(x0, y0)| {
            let inked = variance(a, x0, y0).max(variance(b, x0, y0)) > 2.0 * BARE;
            let unlike = 1.0 - likeness(a, 1.0, b, x0, y0);
            if inked && unlike > DIFFERING {
                unlike.min(1.0)
            } else {
                0.0
            }
        })
        .collect()
}

/// How the photo decides between two exemplars where they differ, from -1 (the other) to 1 (this one),
/// and how much of what differs could be seen, from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Decision {
    pub lean: f32,
    pub seen: f32,
}

/// Weighs two exemplars by their likeness to the photo in the parts where they differ.
pub fn decide(this: &Parts, other: &Parts, differences: &[f32]) -> Decision {
    let (mut all, mut seen, mut lean) = (0.0f32, 0.0f32, 0.0f32);
    for ((a, b), d) in this.likeness.iter().zip(&other.likeness).zip(differences) {
        all += d;
        if let (Some(a), Some(b)) = (a, b) {
            seen += d;
            lean += d * (a - b);
        }
    }
    if seen < DECIDING_LEAST {
        return Decision {
            lean: 0.0,
            seen: if all > 0.0 { seen / all } else { 0.0 },
        };
    }
    Decision {
        lean: lean / seen,
        seen: seen / all,
    }
}

struct Grid {
    columns: usize,
    rows: usize,
}

impl Grid {
    fn of(plane: &Plane) -> Self {
        Self {
            columns: plane.width() / PART,
            rows: plane.height() / PART,
        }
    }

    fn count(&self) -> usize {
        self.columns * self.rows
    }

    fn places(&self) -> impl Iterator<Item = (usize, usize)> + use<> {
        let columns = self.columns;
        (0..self.count()).map(move |i| (i % columns * PART, i / columns * PART))
    }
}

/// The factor that brings the photo's ink to the exemplar's strength, by least squares over all.
fn gain(photo: &Plane, seen: &Plane, exemplar: &Plane) -> f32 {
    let (mut pe, mut pp) = (0.0f32, 1e-3f32);
    for ((p, e), s) in photo.data().iter().zip(exemplar.data()).zip(seen.data()) {
        if *s > 0.5 {
            pe += p * e;
            pp += p * p;
        }
    }
    (pe / pp).clamp(GAIN.0, GAIN.1)
}

/// Limits of that factor: a mark that must be enlarged more than this does not show.
const GAIN: (f32, f32) = (0.5, 4.0);

fn sum(p: &Plane, x0: usize, y0: usize) -> f32 {
    (y0..y0 + PART)
        .map(|y| p.row(y)[x0..x0 + PART].iter().sum::<f32>())
        .sum()
}

fn variance(p: &Plane, x0: usize, y0: usize) -> f32 {
    let n = (PART * PART) as f32;
    let (mut s, mut q) = (0.0f32, 0.0f32);
    for y in y0..y0 + PART {
        for v in &p.row(y)[x0..x0 + PART] {
            s += v;
            q += v * v;
        }
    }
    (q / n - (s / n) * (s / n)).max(0.0)
}

/// The best over all shifts of the photo against the exemplar's part.
fn likeness(photo: &Plane, gain: f32, exemplar: &Plane, x0: usize, y0: usize) -> f32 {
    let (w, h) = (photo.width() as i32, photo.height() as i32);
    let mut best = -1.0f32;
    for dy in SHIFTS {
        for dx in SHIFTS {
            let (px, py) = (x0 as i32 + dx, y0 as i32 + dy);
            let fits = px >= 0 && py >= 0 && px + PART as i32 <= w && py + PART as i32 <= h;
            if fits {
                let at = (px as usize, py as usize);
                best = best.max(likeness_at(photo, gain, at, exemplar, (x0, y0)));
            }
        }
    }
    best
}

fn likeness_at(
    photo: &Plane,
    gain: f32,
    (px, py): (usize, usize),
    exemplar: &Plane,
    (ex, ey): (usize, usize),
) -> f32 {
    let n = (PART * PART) as f32;
    let (mut a, mut b, mut aa, mut bb, mut ab) = (0.0f32, 0.0f32, 0.0f32, 0.0f32, 0.0f32);
    for j in 0..PART {
        let here = &photo.row(py + j)[px..px + PART];
        let there = &exemplar.row(ey + j)[ex..ex + PART];
        for (p, e) in here.iter().zip(there) {
            let p = (p * gain).min(1.0);
            a += p;
            b += e;
            aa += p * p;
            bb += e * e;
            ab += p * e;
        }
    }
    let (ma, mb) = (a / n, b / n);
    let (va, vb) = (aa / n - ma * ma, bb / n - mb * mb);
    (2.0 * (ab / n - ma * mb) + BARE) / (va + vb + BARE)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIDE: usize = 224;

    /// Lines of bars; one line may be left out.
    fn bars(skip: Option<usize>) -> Plane {
        let mut p = Plane::filled(SIDE, SIDE, 0.0);
        for k in (0..8).filter(|&k| Some(k) != skip) {
            for y in 20 + k * 24..26 + k * 24 {
                for x in (30 + 5 * k..190 - 9 * k).filter(|x| x % 9 < 5) {
                    p.set(x, y, 1.0);
                }
            }
        }
        p
    }

    #[test]
    fn the_part_in_which_two_exemplars_differ_decides() {
        let seen = Plane::filled(SIDE, SIDE, 1.0);
        let (a, b) = (bars(Some(2)), bars(Some(5)));
        let weak = a.map(|v| 0.4 * v);
        let differing = differences(&a, &b);
        let (pa, pb) = (Parts::of(&weak, &seen, &a), Parts::of(&weak, &seen, &b));
        let d = decide(&pa, &pb, &differing);
        assert!(d.lean > 0.5 && d.seen > 0.99, "{d:?}");
        assert!(decide(&pb, &pa, &differing).lean < -0.5);
        assert_eq!(decide(&pa, &pa, &differences(&a, &a)).lean, 0.0);
        assert!(
            pa.low(0.1) > 0.6 && pb.low(0.1) < 0.3,
            "{} {}",
            pa.low(0.1),
            pb.low(0.1)
        );
    }

    #[test]
    fn what_cannot_be_seen_decides_nothing() {
        let (a, b) = (bars(Some(2)), bars(Some(5)));
        let dark = Plane::filled(SIDE, SIDE, 0.0);
        let (pa, pb) = (Parts::of(&a, &dark, &a), Parts::of(&a, &dark, &b));
        assert_eq!(decide(&pa, &pb, &differences(&a, &b)), Decision::default());
    }
}
