//! The photo's own pixels round a mark, and what light did to them.

use image::RgbImage;

use super::hole::Hole;
use super::laid::boxed;
use crate::geometry::{Photo, Point, Quad};
use crate::raster::{Plane, quantile};

/// Longest side of a patch in pixels; larger marks are shrunk by a whole number. Costs a millisecond or two.
const SIDE: f64 = 380.0;
/// What is looked at round the mark's box, as a share of its longer side.
const MARGIN: f64 = 0.06;
/// All channels at or above this (8 bits) are clipped.
pub(super) const CLIPPED: u8 = 250;
/// Half-width of a square that must be clipped throughout to be a reflection and no white ink, in pixels of the
/// patch, and growth over the halo of one, as a share of the patch's longer side.
const CORE: usize = 2;
const HALO: f64 = 0.02;

/// Whether the light spared the glaze, so that what is clipped is a reflection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ground {
    Seen,
    Burnt,
}

/// Pixels round a mark.
pub(super) struct Patch {
    /// Luma (ITU-R BT.601), 0 to 100.
    pub(super) light: Plane,
    /// Mean of each channel, 0 to 255, row by row.
    pub(super) rgb: Vec<[f32; 3]>,
    /// 1 under a reflection and its halo.
    pub(super) glare: Plane,
    /// Share of the box's pixels that are clipped in all channels and lie under no reflection.
    pub(super) clipped: f32,
    /// 1 inside the mark's box and its margin.
    inside: Plane,
    /// Where it begins in the photo, and photo pixels a pixel of it.
    pub(super) origin: (f64, f64),
    pub(super) step: f64,
}

impl Patch {
    /// The pixels round `quad`; `None` where it lies outside the photo.
    pub(super) fn of(photo: &RgbImage, quad: &Quad<Photo>, ground: Ground) -> Option<Self> {
        let (x0, y0, x1, y1) = quad.bounds();
        let margin = MARGIN * (x1 - x0).max(y1 - y0);
        let (w, h) = (f64::from(photo.width()), f64::from(photo.height()));
        let (x0, y0) = (
            (x0 - margin).max(0.0).floor(),
            (y0 - margin).max(0.0).floor(),
        );
        let (x1, y1) = ((x1 + margin).min(w).floor(), (y1 + margin).min(h).floor());
        let step = ((x1 - x0).max(y1 - y0) / SIDE).ceil().max(1.0);
        let (wide, high) = ((x1 - x0) / step, (y1 - y0) / step);
        if !(wide >= 8.0 && high >= 8.0) {
            return None;
        }
        let (wide, high, k) = (wide as usize, high as usize, step as usize);
        let (left, top) = (x0 as usize, y0 as usize);
        let (mut light, mut clips) = (
            Plane::filled(wide, high, 0.0),
            Plane::filled(wide, high, 0.0),
        );
        let mut rgb = Vec::with_capacity(wide * high);
        for y in 0..high {
            for x in 0..wide {
                let cell = Cell::of(photo, (left + x * k, top + y * k), k);
                light.set(x, y, cell.luma());
                clips.set(x, y, if cell.least >= CLIPPED { 1.0 } else { 0.0 });
                rgb.push(cell.rgb());
            }
        }
        let inside = within(quad, (wide, high), (x0, y0), step, margin);
        let glare = match ground {
            Ground::Seen => reflections(&clips),
            Ground::Burnt => Plane::filled(wide, high, 0.0),
        };
        let clips = clips.zip(&glare, |c, g| c * (1.0 - g));
        let (all, clipped) = (sum(&inside), sum(&inside.zip(&clips, |i, c| i * c)));
        Some(Self {
            light,
            rgb,
            glare,
            clipped: clipped / all.max(1.0),
            inside,
            origin: (x0, y0),
            step,
        })
    }

    /// Where a place of it lies in the photo.
    pub(super) fn place(&self, (x, y): (f32, f32)) -> Point<Photo> {
        let at = |from: f64, v: f32| from + self.step * f64::from(v);
        Point::new(at(self.origin.0, x), at(self.origin.1, y))
    }

    pub(super) fn wide(&self) -> usize {
        self.light.width()
    }

    pub(super) fn high(&self) -> usize {
        self.light.height()
    }

    /// A blur in the patch's pixels as one in the photo's, without what shrinking added: a square of `k` pixels has
    /// the variance (k² - 1) / 12 over a single one.
    pub(super) fn own_blur(&self, sigma: f32) -> f64 {
        let seen = (f64::from(sigma) * self.step).powi(2);
        (seen - (self.step * self.step - 1.0) / 12.0)
            .max(0.0)
            .sqrt()
    }

    /// The same without what a hole spoils.
    pub(super) fn without(mut self, hole: Option<&Hole>) -> Self {
        let Some(hole) = hole else {
            return self;
        };
        for y in 0..self.high() {
            for x in 0..self.wide() {
                if hole.spoils(self.place((x as f32 + 0.5, y as f32 + 0.5))) {
                    self.inside.set(x, y, 0.0);
                }
            }
        }
        self
    }

    /// Whether a pixel belongs to the mark's box and is seen.
    pub(super) fn counts(&self, x: usize, y: usize) -> bool {
        self.inside.get(x, y) > 0.5 && self.glare.get(x, y) < 0.5
    }

    /// Luma below which the share `q` of the box lies that is under no reflection.
    pub(super) fn luma(&self, q: f32) -> f32 {
        let seen = self.inside.zip(&self.glare, |i, g| i * (1.0 - g));
        let inside = self.light.data().iter().zip(seen.data());
        let mut values: Vec<f32> = inside.filter(|(_, i)| **i > 0.5).map(|(v, _)| *v).collect();
        quantile(&mut values, q)
    }

    /// Share of the box under reflections.
    pub(super) fn glare_share(&self) -> f32 {
        let both = self.inside.zip(&self.glare, |i, g| i * g);
        sum(&both) / sum(&self.inside).max(1.0)
    }
}

/// 1 under solid clipped places and their halo.
fn reflections(clips: &Plane) -> Plane {
    if clips.data().iter().all(|v| *v < 0.5) {
        return clips.clone();
    }
    let one = |on: bool| if on { 1.0 } else { 0.0 };
    let halo = (HALO * clips.width().max(clips.height()) as f64).ceil() as usize;
    let solid = boxed(clips, CORE).map(|v| one(v > 0.99));
    boxed(&solid, CORE + halo).map(|v| one(v > 0.0))
}

/// A square of `k` by `k` photo pixels.
struct Cell {
    sums: [u32; 3],
    /// The least value of any channel.
    least: u8,
    k: usize,
}

impl Cell {
    fn of(photo: &RgbImage, (left, top): (usize, usize), k: usize) -> Self {
        let (raw, row) = (photo.as_raw(), 3 * photo.width() as usize);
        let (mut sums, mut least) = ([0u32; 3], u8::MAX);
        for y in top..top + k {
            let from = y * row + 3 * left;
            for p in raw[from..from + 3 * k].chunks_exact(3) {
                (0..3).for_each(|c| sums[c] += u32::from(p[c]));
                least = least.min(p[0]).min(p[1]).min(p[2]);
            }
        }
        Self { sums, least, k }
    }

    /// Mean luma, 0 to 100.
    fn luma(&self) -> f32 {
        let [r, g, b] = self.sums;
        let luma = 299 * r + 587 * g + 114 * b;
        luma as f32 / (self.k * self.k) as f32 / 2550.0
    }

    fn rgb(&self) -> [f32; 3] {
        self.sums.map(|s| s as f32 / (self.k * self.k) as f32)
    }
}

fn sum(p: &Plane) -> f32 {
    p.data().iter().sum()
}

/// 1 in pixels of the patch no farther than `margin` (photo pixels) outside the box.
fn within(
    quad: &Quad<Photo>,
    (wide, high): (usize, usize),
    (x0, y0): (f64, f64),
    step: f64,
    margin: f64,
) -> Plane {
    let sign = quad.area().signum();
    // How far inside each side a place lies, as a x + b y + c.
    let sides: Vec<[f64; 3]> = (0..4)
        .map(|i| {
            let (a, b) = (quad.0[i], quad.0[(i + 1) % 4]);
            let k = sign / a.distance(b).max(1e-9);
            let (nx, ny) = (-k * (b.y - a.y), k * (b.x - a.x));
            [nx, ny, margin - nx * a.x - ny * a.y]
        })
        .collect();
    let mut out = Plane::filled(wide, high, 0.0);
    for y in 0..high {
        let py = y0 + (y as f64 + 0.5) * step;
        for x in 0..wide {
            let px = x0 + (x as f64 + 0.5) * step;
            if sides.iter().all(|[a, b, c]| a * px + b * py + c >= 0.0) {
                out.set(x, y, 1.0);
            }
        }
    }
    out
}
