//! Text-like lines of a crop: components of ink of one height, side by side.

use crate::geometry::{Frame, Point, Quad};
use crate::raster::Plane;

/// Heights of signs in pixels of the crop. Below 7 px nothing can be read (four strokes and the
/// gaps between them); above 120 px it is no code but the mark itself.
const HEIGHTS: (f64, f64) = (7.0, 120.0);
/// Least pixels of a component that may be a dot.
const DOT: usize = 3;
/// A component longer than so many heights is a rule or a ring, unless its ink is dense.
const LONGEST: f64 = 14.0;
/// Signs of one line differ in height by this factor at most (figures of one font by 1.1; a worn
/// one loses a third).
const ALIKE: f64 = 1.7;
/// Gap between neighbours, in heights: a wide word space.
const GAP: f64 = 1.6;
/// How far neighbours may lie apart across the line, in heights: a slant of 20 degrees.
const STEP: f64 = 0.45;
/// Lines that are handed on, those with the most ink first.
const MOST: usize = 12;
/// A pixel is ink from this multiple of the median difference, and from this share of the strong
/// ones: the first keeps noise out, the second the rim of a blurred stroke.
const OVER_NOISE: f32 = 4.0;
const OF_STRONG: f32 = 0.4;
const STRONG: f32 = 0.995;

/// A connected patch of ink.
#[derive(Debug, Clone, Copy)]
struct Patch {
    x0: f64,
    y0: f64,
    x1: f64,
    y1: f64,
    pixels: usize,
}

impl Patch {
    fn high(&self) -> f64 {
        self.y1 - self.y0
    }

    fn wide(&self) -> f64 {
        self.x1 - self.x0
    }

    fn centre(&self) -> (f64, f64) {
        ((self.x0 + self.x1) / 2.0, (self.y0 + self.y1) / 2.0)
    }

    /// A sign, or several that run together; not a dot and not a rule.
    fn is_sign(&self) -> bool {
        (HEIGHTS.0..=HEIGHTS.1).contains(&self.high()) && self.wide() <= LONGEST * self.high()
    }

    fn beside(&self, other: &Self) -> bool {
        let (low, high) = (self.high().min(other.high()), self.high().max(other.high()));
        let gap = self.x0.max(other.x0) - self.x1.min(other.x1);
        let across = (self.centre().1 - other.centre().1).abs();
        high <= ALIKE * low && gap <= GAP * high && across <= STEP * high + 0.18 * gap.max(0.0)
    }
}

/// The tight boxes of text-like lines of a crop, nearly level (to about 20 degrees), those with
/// the most ink first; ties by place. Boxes are in pixels of the crop, their first corner at the
/// upper left.
pub fn find_lines<F: Frame>(grey: &Plane) -> Vec<Quad<F>> {
    if grey.width() < 8 || grey.height() < 8 {
        return Vec::new();
    }
    let patches = patches(&struck(grey), grey.width());
    let signs: Vec<Patch> = patches.iter().copied().filter(Patch::is_sign).collect();
    let mut lines: Vec<(usize, Quad<F>)> = groups(&signs)
        .iter()
        .map(|group| line(group, &patches))
        .collect();
    lines.sort_by(|a, b| {
        let place = |q: &Quad<F>| (q.0[0].y, q.0[0].x);
        let (p, q) = (place(&a.1), place(&b.1));
        b.0.cmp(&a.0)
            .then(p.0.total_cmp(&q.0))
            .then(p.1.total_cmp(&q.1))
    });
    lines.into_iter().take(MOST).map(|l| l.1).collect()
}

/// Which pixels are ink.
fn struck(grey: &Plane) -> Vec<bool> {
    // Wider than a stroke, narrower than shading.
    let sigma = (grey.width().min(grey.height()) as f32 / 5.0).clamp(6.0, 32.0);
    let away = grey.zip(&grey.blur(sigma), |a, b| (a - b).abs());
    let noise = away.quantile(0.5);
    let limit = (OVER_NOISE * noise).max(OF_STRONG * away.quantile(STRONG));
    away.data().iter().map(|&v| v > limit).collect()
}

/// Patches of ink, joined over corners too, in the order of their first pixels.
fn patches(ink: &[bool], wide: usize) -> Vec<Patch> {
    let high = ink.len() / wide;
    let mut seen = vec![false; ink.len()];
    let mut out = Vec::new();
    let mut waiting = Vec::new();
    for begin in 0..ink.len() {
        if !ink[begin] || seen[begin] {
            continue;
        }
        seen[begin] = true;
        waiting.push(begin);
        let (mut x0, mut y0, mut x1, mut y1, mut pixels) = (wide, high, 0, 0, 0);
        while let Some(at) = waiting.pop() {
            let (x, y) = (at % wide, at / wide);
            (x0, y0, x1, y1) = (x0.min(x), y0.min(y), x1.max(x + 1), y1.max(y + 1));
            pixels += 1;
            for ny in y.saturating_sub(1)..(y + 2).min(high) {
                for nx in x.saturating_sub(1)..(x + 2).min(wide) {
                    let next = ny * wide + nx;
                    if ink[next] && !std::mem::replace(&mut seen[next], true) {
                        waiting.push(next);
                    }
                }
            }
        }
        if pixels >= DOT {
            out.push(Patch {
                x0: x0 as f64,
                y0: y0 as f64,
                x1: x1 as f64,
                y1: y1 as f64,
                pixels,
            });
        }
    }
    out
}

/// Signs that stand beside each other, directly or through others, from left to right.
fn groups(signs: &[Patch]) -> Vec<Vec<Patch>> {
    let mut of: Vec<usize> = (0..signs.len()).collect();
    for a in 0..signs.len() {
        for b in 0..a {
            if of[a] != of[b] && signs[a].beside(&signs[b]) {
                let (from, to) = (of[a].max(of[b]), of[a].min(of[b]));
                of.iter_mut().filter(|g| **g == from).for_each(|g| *g = to);
            }
        }
    }
    let mut out = Vec::new();
    for group in 0..signs.len() {
        let mut members: Vec<Patch> = (0..signs.len())
            .filter(|&s| of[s] == group)
            .map(|s| signs[s])
            .collect();
        members.sort_by(|a, b| a.x0.total_cmp(&b.x0));
        if !members.is_empty() {
            out.push(members);
        }
    }
    out
}

/// The box of a group along its own direction, with the dots that lie in it or close to its ends.
fn line<F: Frame>(group: &[Patch], patches: &[Patch]) -> (usize, Quad<F>) {
    let slope = slope(group);
    let scale = 1.0 / slope.hypot(1.0);
    let along = |x: f64, y: f64| (scale * (x + slope * y), scale * (y - slope * x));
    let bounds = |patches: &[Patch]| {
        let mut box_ = (f64::MAX, f64::MAX, f64::MIN, f64::MIN);
        for p in patches {
            // The middles of the sides: the corners of a slanted sign's box are not ink.
            let (cx, cy) = p.centre();
            for (x, y) in [(p.x0, cy), (p.x1, cy), (cx, p.y0), (cx, p.y1)] {
                let (u, v) = along(x, y);
                box_ = (box_.0.min(u), box_.1.min(v), box_.2.max(u), box_.3.max(v));
            }
        }
        box_
    };
    let tight = bounds(group);
    let high = tight.3 - tight.1;
    let near = |p: &&Patch| {
        let (u, v) = along(p.centre().0, p.centre().1);
        !p.is_sign()
            && p.high() < high
            && p.wide() < high
            && (tight.0 - 0.7 * high..tight.2 + 0.7 * high).contains(&u)
            && (tight.1..tight.3).contains(&v)
    };
    let dots: Vec<Patch> = patches.iter().filter(near).copied().collect();
    let all: Vec<Patch> = group.iter().chain(&dots).copied().collect();
    let (u0, _, u1, _) = bounds(&all);
    let (v0, v1) = (tight.1, tight.3);
    let back = |u: f64, v: f64| Point::new(scale * (u - slope * v), scale * (v + slope * u));
    let pixels = all.iter().map(|p| p.pixels).sum();
    (
        pixels,
        Quad([back(u0, v0), back(u1, v0), back(u1, v1), back(u0, v1)]),
    )
}

/// Rise over run of a line through the signs' middles; level for a single sign.
fn slope(group: &[Patch]) -> f64 {
    let n = group.len() as f64;
    let centres = || group.iter().map(Patch::centre);
    let mean = centres().fold((0.0, 0.0), |s, c| (s.0 + c.0 / n, s.1 + c.1 / n));
    let (mut xx, mut xy) = (0.0, 0.0);
    for (x, y) in centres() {
        xx += (x - mean.0).powi(2);
        xy += (x - mean.0) * (y - mean.1);
    }
    // Two signs close together tell little of the direction.
    let high = group.iter().map(Patch::high).fold(0.0, f64::max);
    xy / (xx + high * high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Mark;

    fn block(grey: &mut Plane, x0: usize, y0: usize, x1: usize, y1: usize) {
        for y in y0..y1 {
            for x in x0..x1 {
                grey.set(x, y, 0.2);
            }
        }
    }

    fn ground() -> Plane {
        let mut grey = Plane::filled(240, 120, 0.0);
        for y in 0..120 {
            for x in 0..240 {
                let noise = 0.01 * ((x * 31 + y * 17) % 7) as f32;
                grey.set(x, y, 0.75 + noise + 0.0003 * x as f32);
            }
        }
        grey
    }

    #[test]
    fn signs_in_a_row_are_one_line_with_its_dots() {
        let mut grey = ground();
        for x in [40, 62, 84] {
            block(&mut grey, x, 50, x + 4, 70);
            block(&mut grey, x, 50, x + 14, 54);
        }
        block(&mut grey, 104, 66, 108, 70);
        let lines = find_lines::<Mark>(&grey);
        assert_eq!(lines.len(), 1);
        let (x0, y0, x1, y1) = lines[0].bounds();
        for (got, wanted) in [(x0, 40.0), (y0, 50.0), (x1, 108.0), (y1, 70.0)] {
            assert!((got - wanted).abs() < 3.0, "{got} for {wanted}");
        }
    }

    #[test]
    fn two_lines_and_a_rule_are_told_apart() {
        let mut grey = ground();
        for x in [40, 62, 84] {
            block(&mut grey, x, 20, x + 10, 36);
            block(&mut grey, x, 74, x + 10, 98);
        }
        block(&mut grey, 5, 56, 235, 58);
        assert_eq!(find_lines::<Mark>(&grey).len(), 2);
    }

    #[test]
    fn a_slant_is_followed() {
        let mut grey = ground();
        for i in 0..5 {
            block(&mut grey, 40 + 24 * i, 30 + 4 * i, 50 + 24 * i, 50 + 4 * i);
        }
        let lines = find_lines::<Mark>(&grey);
        assert_eq!(lines.len(), 1);
        let [a, b, ..] = lines[0].0;
        let slope = (b.y - a.y) / (b.x - a.x);
        assert!((slope - 4.0 / 24.0).abs() < 0.03, "{slope}");
    }

    #[test]
    fn a_bare_crop_has_few_lines_and_a_tiny_one_none() {
        assert!(find_lines::<Mark>(&ground()).len() <= 1);
        assert!(find_lines::<Mark>(&Plane::filled(3, 3, 0.5)).is_empty());
    }
}
