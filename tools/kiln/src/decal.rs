//! Flat things on the base: marks, pencil, labels. Each has a place of its own in base units.

use crate::colour::Rgb;
use crate::plane::Plane;

#[derive(Clone, Debug)]
pub enum Stuff {
    /// One colour through a coverage map.
    Ink {
        colour: Rgb,
        opacity: f32,
        gloss: f32,
    },
    /// No colour: a relief raised (positive) or pressed in (negative), slope at a full edge.
    Relief { depth: f32, pooled: f32 },
    /// A label: its own colours, over everything, not glossy.
    Paper { colours: Vec<Rgb>, shine: f32 },
}

/// A picture laid on the base.
#[derive(Clone, Debug)]
pub struct Decal {
    pub map: Plane,
    pub stuff: Stuff,
    /// Place of the map's middle on the base.
    pub centre: (f32, f32),
    pub angle: f32,
    /// Base units per map pixel.
    pub scale: f32,
    /// Whether it hides marks under it.
    pub covers: bool,
    /// Whether it is the photo's own mark.
    pub is_mark: bool,
    cos: f32,
    sin: f32,
    reach: f32,
}

impl Decal {
    pub fn new(map: Plane, stuff: Stuff, centre: (f32, f32), angle: f32, scale: f32) -> Self {
        let reach = 0.5 * scale * (map.width as f32).hypot(map.height as f32) + 2.0 * scale;
        Self {
            covers: matches!(stuff, Stuff::Paper { .. }),
            map,
            stuff,
            centre,
            angle,
            scale,
            is_mark: false,
            cos: angle.cos(),
            sin: angle.sin(),
            reach,
        }
    }

    pub fn as_mark(mut self) -> Self {
        self.is_mark = true;
        self
    }

    /// Map position (pixel centres) of a place on the base; None where it is out of reach.
    pub fn local(&self, x: f32, y: f32) -> Option<(f32, f32)> {
        let (dx, dy) = (x - self.centre.0, y - self.centre.1);
        if dx * dx + dy * dy > self.reach * self.reach {
            return None;
        }
        let u = (dx * self.cos + dy * self.sin) / self.scale + self.map.width as f32 / 2.0 - 0.5;
        let v = (dy * self.cos - dx * self.sin) / self.scale + self.map.height as f32 / 2.0 - 0.5;
        Some((u, v))
    }

    /// Place on the base of a map position given by outer-corner coordinates.
    pub fn place(&self, u: f32, v: f32) -> (f32, f32) {
        let a = (u - self.map.width as f32 / 2.0) * self.scale;
        let b = (v - self.map.height as f32 / 2.0) * self.scale;
        (
            self.centre.0 + a * self.cos - b * self.sin,
            self.centre.1 + a * self.sin + b * self.cos,
        )
    }

    /// Slope that a relief adds at a map position, in base directions.
    pub fn slope(&self, u: f32, v: f32, depth: f32) -> (f32, f32) {
        let m = &self.map;
        let gu = (m.sample(u + 1.0, v) - m.sample(u - 1.0, v)) * 0.5 * depth;
        let gv = (m.sample(u, v + 1.0) - m.sample(u, v - 1.0)) * 0.5 * depth;
        (gu * self.cos - gv * self.sin, gu * self.sin + gv * self.cos)
    }

    pub fn colour_at(&self, colours: &[Rgb], u: f32, v: f32) -> Rgb {
        let x = (u + 0.5).clamp(0.0, self.map.width as f32 - 1.0) as usize;
        let y = (v + 0.5).clamp(0.0, self.map.height as f32 - 1.0) as usize;
        colours[y * self.map.width + x]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn place_and_local_are_inverse() {
        let stuff = Stuff::Relief {
            depth: 1.0,
            pooled: 0.0,
        };
        let d = Decal::new(Plane::new(200, 100), stuff, (0.2, -0.1), 1.1, 0.003);
        let (x, y) = d.place(30.5, 60.5);
        let (u, v) = d.local(x, y).expect("within reach");
        assert!((u - 30.0).abs() < 1e-2 && (v - 60.0).abs() < 1e-2);
    }
}
