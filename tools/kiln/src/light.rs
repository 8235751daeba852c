//! Light: one broad source, the room around it, and a window that the glaze mirrors.

use crate::random::Rng;

pub type Vec3 = [f32; 3];

pub fn dot(a: Vec3, b: Vec3) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub fn unit(a: Vec3) -> Vec3 {
    let n = dot(a, a).sqrt().max(1e-9);
    [a[0] / n, a[1] / n, a[2] / n]
}

/// A bright rectangle in the room, in the slope coordinates of the mirrored ray.
#[derive(Clone, Copy, Debug)]
pub struct Window {
    pub centre: (f32, f32),
    pub half: (f32, f32),
    pub turn: f32,
    pub soft: f32,
    /// Half width of the glazing bars; 0 for none.
    pub bars: f32,
    /// Radiance over that of a lit white.
    pub radiance: f32,
}

#[derive(Clone, Debug)]
pub struct Light {
    pub towards: Vec3,
    pub ambient: f32,
    pub strength: f32,
    /// Change of illumination across the picture's width and height.
    pub gradient: (f32, f32),
    pub sheen: f32,
    pub window: Option<Window>,
}

impl Light {
    pub fn draw(rng: &mut Rng) -> Self {
        let (a, low) = (rng.angle(), rng.range(0.35, 1.2));
        let ambient = rng.range(0.35, 0.7);
        let g = rng.angle();
        let depth = rng.range(0.0, 0.35);
        Self {
            towards: unit([low * a.cos(), low * a.sin(), 1.0]),
            ambient,
            strength: (1.0 - ambient) * 1.25,
            gradient: (depth * g.cos(), depth * g.sin()),
            sheen: if rng.chance(0.6) {
                rng.range(0.02, 0.16)
            } else {
                0.0
            },
            window: None,
        }
    }

    /// Soft highlight for a unit normal and view, before gloss.
    pub fn sheen(&self, normal: Vec3, view: Vec3) -> f32 {
        if self.sheen <= 0.0 {
            return 0.0;
        }
        let h = unit([
            self.towards[0] + view[0],
            self.towards[1] + view[1],
            self.towards[2] + view[2],
        ]);
        let c = dot(normal, h).max(0.0);
        let c8 = (c * c * c * c).powi(2);
        self.sheen * c8 * c8 * c8
    }
}

impl Window {
    /// How much of the window the mirrored ray meets, 0 to 1.
    pub fn seen(&self, normal: Vec3, view: Vec3) -> f32 {
        let k = 2.0 * dot(normal, view);
        let r = [
            k * normal[0] - view[0],
            k * normal[1] - view[1],
            k * normal[2] - view[2],
        ];
        if r[2] < 0.05 {
            return 0.0;
        }
        let (u, v) = (r[0] / r[2] - self.centre.0, r[1] / r[2] - self.centre.1);
        let (c, s) = (self.turn.cos(), self.turn.sin());
        let (u, v) = (u * c + v * s, -u * s + v * c);
        let edge = |d: f32| (d / self.soft.max(1e-4) + 0.5).clamp(0.0, 1.0);
        let inside = edge(self.half.0 - u.abs()) * edge(self.half.1 - v.abs());
        if self.bars <= 0.0 || inside <= 0.0 {
            return inside;
        }
        inside * edge(u.abs() - self.bars).min(edge((v - self.half.1 * 0.2).abs() - self.bars))
    }
}
