//! The shape of an underside: floor, foot ring, wall and rim as a turned profile.
//! Unit: the outer radius. z points at the person who looks at the base; the floor's middle is 0.

use crate::random::Rng;

const STEPS: usize = 1024;
/// The profile is tabulated a little beyond the rim.
const REACH: f32 = 1.1;

#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ware {
    Plate,
    Saucer,
    Cup,
    Mug,
    Dish,
    Bowl,
}

/// One turned base.
#[derive(Clone, Debug)]
pub struct Base {
    pub ware: Ware,
    /// Inner and outer edge of the foot ring.
    pub ring: (f32, f32),
    /// Width over height; 1 for round ware.
    pub stretch: f32,
    /// Height of the rim below the floor.
    pub drop: f32,
    /// Whether the ring's crest is bare clay.
    pub bare_ring: bool,
    heights: Vec<f32>,
    shade: Vec<f32>,
}

/// The surface at one place.
#[derive(Clone, Copy, Debug)]
pub struct Spot {
    pub z: f32,
    pub slope: (f32, f32),
    pub radius: f32,
    /// Light that reaches the place past the ring, 0 to 1.
    pub open: f32,
}

impl Base {
    pub fn draw(rng: &mut Rng) -> Self {
        let ware = [
            Ware::Plate,
            Ware::Saucer,
            Ware::Cup,
            Ware::Mug,
            Ware::Dish,
            Ware::Bowl,
        ][rng.weighted(&[4.0, 2.0, 1.0, 0.8, 0.7, 1.0])];
        let (inner, drop) = match ware {
            Ware::Plate => (rng.range(0.54, 0.66), rng.range(0.1, 0.18)),
            Ware::Saucer => (rng.range(0.5, 0.6), rng.range(0.14, 0.24)),
            Ware::Cup => (rng.range(0.5, 0.62), rng.range(0.5, 0.8)),
            Ware::Mug => (rng.range(0.78, 0.86), rng.range(0.2, 0.4)),
            Ware::Dish => (rng.range(0.6, 0.72), rng.range(0.1, 0.2)),
            Ware::Bowl => (rng.range(0.42, 0.55), rng.range(0.35, 0.6)),
        };
        let stretch = if ware == Ware::Dish {
            rng.range(1.15, 1.4)
        } else {
            1.0
        };
        let dome = rng.range(-0.01, 0.012);
        Self::turned(
            ware,
            inner,
            rng.range(0.035, 0.06),
            drop,
            dome,
            stretch,
            rng,
        )
    }

    /// A base whose floor is domed or sunk by `dome` (unit: outer radius).
    pub fn hollow(dome: f32, rng: &mut Rng) -> Self {
        let inner = rng.range(0.55, 0.7);
        Self::turned(
            Ware::Bowl,
            inner,
            rng.range(0.035, 0.06),
            0.4,
            dome,
            1.0,
            rng,
        )
    }

    fn turned(
        ware: Ware,
        inner: f32,
        breadth: f32,
        drop: f32,
        dome: f32,
        stretch: f32,
        rng: &mut Rng,
    ) -> Self {
        let height = rng.range(0.022, 0.06);
        let outer = inner + breadth;
        let bend = rng.range(1.0, 1.8);
        let second = if rng.chance(0.15) {
            inner * rng.range(0.72, 0.85)
        } else {
            -1.0
        };
        let height_at = |r: f32| -> f32 {
            if r < inner {
                let floor = dome * (1.0 - (r / inner).powi(2)) - dome;
                floor + bump(r, second, 0.012) * 0.006
            } else if r < outer {
                -dome + height * bump(r, (inner + outer) / 2.0, breadth / 2.0)
            } else {
                -dome - drop * ((r - outer) / (1.0 - outer)).powf(bend)
            }
        };
        let shift = height_at(0.0);
        let heights: Vec<f32> = (0..=STEPS)
            .map(|i| height_at(i as f32 * REACH / STEPS as f32) - shift)
            .collect();
        let shade = (0..=STEPS)
            .map(|i| {
                let r = i as f32 * REACH / STEPS as f32;
                let near = if r < inner {
                    inner - r
                } else {
                    (r - outer).max(0.0)
                };
                1.0 - 0.22
                    * (-near / (height * 1.2)).exp()
                    * f32::from(u8::from(r < inner || r > outer))
            })
            .collect();
        Self {
            ware,
            ring: (inner, outer),
            stretch,
            drop: drop + dome + shift,
            bare_ring: rng.chance(0.75),
            heights,
            shade,
        }
    }

    pub fn radius(&self, x: f32, y: f32) -> f32 {
        (x / self.stretch).hypot(y)
    }

    pub fn height(&self, x: f32, y: f32) -> f32 {
        self.lookup(self.radius(x, y)).0
    }

    fn lookup(&self, r: f32) -> (f32, f32, f32) {
        let at = (r * (STEPS as f32 / REACH)).min(STEPS as f32 - 1.001);
        let i = at as usize;
        let f = at - i as f32;
        let (a, b) = (self.heights[i], self.heights[i + 1]);
        let slope = (b - a) * (STEPS as f32 / REACH);
        (a + (b - a) * f, slope, self.shade[i])
    }

    pub fn spot(&self, x: f32, y: f32) -> Spot {
        let rx = x / self.stretch;
        let radius = rx.hypot(y);
        let (z, slope, open) = self.lookup(radius);
        let k = slope / radius.max(1e-4);
        Spot {
            z,
            slope: (k * rx / self.stretch, k * y),
            radius,
            open,
        }
    }

    /// How much of the ring's bare crest covers the radius, 0 to 1; `soft` is a pixel's size.
    pub fn crest(&self, radius: f32, soft: f32) -> f32 {
        if !self.bare_ring {
            return 0.0;
        }
        let middle = (self.ring.0 + self.ring.1) / 2.0;
        let half = (self.ring.1 - self.ring.0) * 0.3;
        ((half - (radius - middle).abs()) / soft.max(1e-4) + 0.5).clamp(0.0, 1.0)
    }
}

fn bump(r: f32, centre: f32, half: f32) -> f32 {
    let t = (r - centre) / half;
    if t.abs() >= 1.0 {
        0.0
    } else {
        0.5 + 0.5 * (t * std::f32::consts::PI).cos()
    }
}
