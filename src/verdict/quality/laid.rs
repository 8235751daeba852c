//! A mark and the exemplar that fits it best, in one frame: what all that needs both is measured on.

use image::RgbImage;

use super::hole::Hole;
use super::label::Label;
use super::patch::Ground;
use crate::geometry::{Exemplar, Homography, Photo, Point};
use crate::ink::boxes::box_means;
use crate::ink::small::SmallInk;
use crate::raster::Plane;

/// Ink from which a pixel of the exemplar is a stroke, and up to which it is bare.
pub(super) const STROKE: f32 = 0.45;
pub(super) const BARE: f32 = 0.08;

/// Mean of the exemplar's ink from which it draws what looks like a label itself: a solid emblem.
const SOLID: f32 = 0.3;
/// All channels at or above this (8 bits) are clipped.
const CLIPPED: u8 = 250;
/// A reflection clips the bare glaze: half-width of the squares in which this share of it must be clipped, the least
/// share of the square that must be bare, and the growth over its halo. In pixels of the small map.
const CORE: usize = 3;
const CORE_SHARE: f32 = 0.95;
const CORE_BARE: f32 = 0.15;
/// Pixels by which mark and exemplar may lie apart.
const ASTRAY: usize = 1;
const HALO: usize = 5;

/// Two ink maps pixel by pixel. The frame is the exemplar's small map.
pub(super) struct Laid<'a> {
    pub(super) exemplar: &'a SmallInk,
    /// The photo's ink in the exemplar's place; not valid outside of what was cut out.
    pub(super) mark: SmallInk,
    to_photo: Homography<Exemplar, Photo>,
    /// Width and height of the photo, in its pixels.
    photo: (f64, f64),
    /// 1 where the photo shows the place, under no reflection and not burnt out.
    pub(super) seen: Plane,
    /// 1 under reflections.
    glare: Plane,
    /// 1 under a label.
    pub(super) paper: Plane,
    /// 1 in a hole and on its edge.
    spoilt: Plane,
    /// Blur in pixels of the frame (sigma).
    pub(super) sigma: f32,
}

impl<'a> Laid<'a> {
    /// Lays `mark` over `exemplar`; `sigma` is the photo's blur in its own pixels.
    pub(super) fn new(
        (exemplar, mark): (&'a SmallInk, SmallInk),
        to_photo: Homography<Exemplar, Photo>,
        photo: &RgbImage,
        ground: Ground,
        sigma: f32,
    ) -> Self {
        let side = exemplar.ink.width();
        let none = Plane::filled(side, side, 0.0);
        let mut laid = Self {
            exemplar,
            mark,
            to_photo,
            photo: (f64::from(photo.width()), f64::from(photo.height())),
            seen: none.clone(),
            glare: none.clone(),
            paper: none.clone(),
            spoilt: none.clone(),
            sigma: 0.0,
        };
        laid.sigma = sigma / laid.scale().map_or(1.0, |s| s as f32).max(1e-3);
        let mut clipped = none;
        for y in 0..side {
            for x in 0..side {
                let Some(at) = laid.place(x, y) else {
                    continue;
                };
                let rgb = photo.get_pixel(at.x as u32, at.y as u32).0;
                let full = rgb.iter().all(|&c| c >= CLIPPED);
                clipped.set(x, y, if full { 1.0 } else { 0.0 });
                let hidden = full && ground == Ground::Burnt;
                let seen = laid.mark.valid.get(x, y) > 0.5 && !hidden;
                laid.seen.set(x, y, if seen { 1.0 } else { 0.0 });
            }
        }
        if ground == Ground::Seen {
            laid.glare = reflections(&clipped, &exemplar.ink);
            laid.seen = laid.seen.zip(&laid.glare, |s, g| s * (1.0 - g));
        }
        laid
    }
}

/// 1 under reflections: where the glaze beside the strokes is clipped, so that white ink is none.
fn reflections(clipped: &Plane, drawn: &Plane) -> Plane {
    // The two may lie a pixel apart.
    let bare = boxed(drawn, ASTRAY).map(|d| if d < BARE { 1.0 } else { 0.0 });
    let both = boxed(&clipped.zip(&bare, |c, b| c * b), CORE);
    let share = boxed(&bare, CORE);
    let core = both.zip(&share, |c, b| {
        if b > CORE_BARE && c > CORE_SHARE * b {
            1.0
        } else {
            0.0
        }
    });
    let whole = spread_through(&core, clipped);
    boxed(&whole, HALO).map(|v| if v > 0.0 { 1.0 } else { 0.0 })
}

/// 1 in all that is connected through pixels that are 1 in `through` (4 neighbours) with one that is 1 in `from`.
fn spread_through(from: &Plane, through: &Plane) -> Plane {
    let (w, h) = (from.width(), from.height());
    let mut out = from.clone();
    let mut stack: Vec<usize> = (0..w * h).filter(|i| from.data()[*i] > 0.5).collect();
    while let Some(i) = stack.pop() {
        let (x, y) = (i % w, i / w);
        let beside = [
            (x > 0).then(|| i - 1),
            (x + 1 < w).then_some(i + 1),
            (y > 0).then(|| i - w),
            (y + 1 < h).then_some(i + w),
        ];
        for j in beside.into_iter().flatten() {
            if out.data()[j] < 0.5 && through.data()[j] > 0.5 {
                out.data_mut()[j] = 1.0;
                stack.push(j);
            }
        }
    }
    out
}

impl Laid<'_> {
    /// Whether the exemplar has ink all over where a label is seen.
    pub(super) fn draws(&self, label: &Label) -> bool {
        let paper = self.under_label(label);
        let inked = self.exemplar.ink.zip(&paper, |e, p| e * p);
        let sum = |p: &Plane| p.data().iter().sum::<f32>();
        sum(&inked) > SOLID * sum(&paper).max(1e-6)
    }

    /// The same with a label over it: white paper is no reflection, and what it hides is covered.
    pub(super) fn under(self, label: Option<&Label>) -> Self {
        let Some(label) = label else {
            return self;
        };
        let paper = self.under_label(label);
        let valid = self.mark.valid.zip(&paper, |v, p| v * p);
        Self {
            glare: self.glare.zip(&paper, |g, p| g * (1.0 - p)),
            seen: self.seen.zip(&valid, |s, v| if v > 0.5 { 1.0 } else { s }),
            paper,
            ..self
        }
    }

    /// The same without what a hole spoils: it is neither glaze nor a cover, and its ink is not lacking.
    pub(super) fn without(mut self, hole: Option<&Hole>) -> Self {
        let Some(hole) = hole else {
            return self;
        };
        for y in 0..self.side() {
            for x in 0..self.side() {
                if self.place(x, y).is_some_and(|at| hole.spoils(at)) {
                    self.seen.set(x, y, 0.0);
                    self.spoilt.set(x, y, 1.0);
                }
            }
        }
        self
    }

    fn under_label(&self, label: &Label) -> Plane {
        let side = self.side();
        let on = |i: usize| {
            let place = self.place(i % side, i / side);
            place.is_some_and(|at| label.covers(at))
        };
        let data = (0..side * side).map(|i| f32::from(u8::from(on(i))));
        Plane::from_vec(side, side, data.collect())
    }

    pub(super) fn side(&self) -> usize {
        self.exemplar.ink.width()
    }

    /// A place of the frame in the photo, inside of it or not.
    pub(super) fn in_photo(&self, at: Point<Exemplar>) -> Option<Point<Photo>> {
        self.to_photo.apply(at)
    }

    pub(super) fn place(&self, x: usize, y: usize) -> Option<Point<Photo>> {
        let at = self.in_photo(Point::new(x as f64 + 0.5, y as f64 + 0.5))?;
        let (w, h) = self.photo;
        (at.x >= 0.0 && at.y >= 0.0 && at.x < w && at.y < h).then_some(at)
    }

    /// Share of the exemplar's ink that lies outside the photo, 0 to 1.
    pub(super) fn cut(&self) -> f32 {
        let ink = &self.exemplar.ink;
        let (mut all, mut out) = (0.0f32, 0.0f32);
        for y in 0..self.side() {
            for (x, &v) in ink.row(y).iter().enumerate() {
                if v > STROKE {
                    all += v;
                    out += if self.place(x, y).is_none() { v } else { 0.0 };
                }
            }
        }
        out / all.max(1e-6)
    }

    /// Share of the exemplar's ink within the photo that lies under reflections, 0 to 1.
    pub(super) fn glared(&self) -> f32 {
        let ink = &self.exemplar.ink;
        let (mut all, mut under) = (0.0f32, 0.0f32);
        for y in 0..self.side() {
            for (x, &v) in ink.row(y).iter().enumerate() {
                if v > STROKE && self.place(x, y).is_some() {
                    all += v;
                    under += v * self.glare.get(x, y);
                }
            }
        }
        under / all.max(1e-6)
    }

    pub(super) fn is_glared(&self, x: usize, y: usize) -> bool {
        self.glare.get(x, y) > 0.5
    }

    pub(super) fn is_spoilt(&self, x: usize, y: usize) -> bool {
        self.spoilt.get(x, y) > 0.5
    }

    /// How the photo's pixels lie to the frame's at its middle: the least and the most photo pixels a pixel of
    /// the frame, the singular values of the map's derivative.
    fn stretch(&self) -> Option<(f64, f64)> {
        let middle = self.side() as f64 / 2.0;
        let at = |x: f64, y: f64| self.to_photo.apply(Point::new(middle + x, middle + y));
        let (o, u, v) = (at(0.0, 0.0)?, at(1.0, 0.0)?, at(0.0, 1.0)?);
        let (a, b, c, d) = (u.x - o.x, v.x - o.x, u.y - o.y, v.y - o.y);
        let (sum, det) = (a * a + b * b + c * c + d * d, a * d - b * c);
        let root = (sum * sum - 4.0 * det * det).max(0.0).sqrt();
        let [least, most] = [sum - root, sum + root].map(|s| (s / 2.0).max(0.0).sqrt());
        (least > 0.0).then_some((least, most))
    }

    /// Angle by which the base leans away from the exemplar's picture, in degrees: the shorter way is its cosine.
    pub(super) fn tilt(&self) -> Option<f64> {
        let (least, most) = self.stretch()?;
        Some((least / most).clamp(0.0, 1.0).acos().to_degrees())
    }

    /// Photo pixels a pixel of the frame, the shorter way.
    pub(super) fn scale(&self) -> Option<f64> {
        self.stretch().map(|(least, _)| least)
    }

    /// The same the longer way, along which nothing is shortened where the base leans away.
    pub(super) fn upright_scale(&self) -> Option<f64> {
        self.stretch().map(|(_, most)| most)
    }
}

/// Means over squares of half-width `r` of the pixels that are valid, and the share of those.
pub(super) fn local_means(values: [&Plane; 2], valid: &Plane, r: usize) -> ([Plane; 2], Plane) {
    let share = boxed(valid, r);
    let means = values.map(|v| {
        let sum = boxed(&v.zip(valid, |a, b| a * b), r);
        sum.zip(&share, |s, n| if n > 1e-3 { s / n } else { 0.0 })
    });
    (means, share)
}

/// Means over squares of half-width `r`; outside the plane is nothing.
pub(super) fn boxed(p: &Plane, r: usize) -> Plane {
    box_means(p, &[2 * r + 1])
}

/// A connected group of pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Blob {
    pub(super) pixels: usize,
    pub(super) centre: (f32, f32),
    /// Length and width of the bar with the same second moments.
    pub(super) length: f32,
    pub(super) width: f32,
}

/// Groups of pixels (8 neighbours) at which `on` holds.
pub(super) fn blobs((w, h): (usize, usize), on: impl Fn(usize, usize) -> bool) -> Vec<Blob> {
    let mut open: Vec<bool> = (0..w * h).map(|i| on(i % w, i / w)).collect();
    let (mut found, mut stack) = (Vec::new(), Vec::new());
    for start in 0..open.len() {
        if !open[start] {
            continue;
        }
        open[start] = false;
        stack.push(start);
        let mut sums = [0.0f64; 6];
        while let Some(i) = stack.pop() {
            let (x, y) = (i % w, i / w);
            let (u, v) = (x as f64 + 0.5, y as f64 + 0.5);
            for (s, add) in sums.iter_mut().zip([1.0, u, v, u * u, u * v, v * v]) {
                *s += add;
            }
            for ny in y.saturating_sub(1)..(y + 2).min(h) {
                for nx in x.saturating_sub(1)..(x + 2).min(w) {
                    let j = ny * w + nx;
                    if open[j] {
                        open[j] = false;
                        stack.push(j);
                    }
                }
            }
        }
        found.push(blob_of(sums));
    }
    found
}

fn blob_of([n, x, y, xx, xy, yy]: [f64; 6]) -> Blob {
    let (mx, my) = (x / n, y / n);
    // A pixel is a square: its own moment is a twelfth.
    let (a, b, c) = (
        xx / n - mx * mx + 1.0 / 12.0,
        xy / n - mx * my,
        yy / n - my * my + 1.0 / 12.0,
    );
    let root = ((a - c) * (a - c) + 4.0 * b * b).sqrt();
    let extent = |l: f64| (12.0 * (l / 2.0).max(0.0)).sqrt() as f32;
    Blob {
        pixels: n as usize,
        centre: (mx as f32, my as f32),
        length: extent(a + c + root),
        width: extent(a + c - root),
    }
}
