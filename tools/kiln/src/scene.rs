//! A scene and its picture in linear light.

use crate::artwork::Artwork;
use crate::base::Base;
use crate::camera::Camera;
use crate::colour::{Rgb, luma, mix, scaled};
use crate::decal::{Decal, Stuff};
use crate::glaze::{Glaze, Tone};
use crate::light::{Light, Vec3, unit};
use crate::plane::Plane;
use crate::random::Rng;
use crate::table::Table;
use crate::texture::{clouds, grain};

/// A thing held before the lens: a thumb, a hand, a ruler, another piece. Photo pixels.
#[derive(Clone, Debug)]
pub struct Overlay {
    /// Rounded bar from `from` to `to`.
    pub from: (f32, f32),
    pub to: (f32, f32),
    pub radius: f32,
    pub colour: Rgb,
    /// Nail, in the last part of the bar.
    pub nail: Option<Rgb>,
    /// Tick marks of a ruler, pixels apart.
    pub ticks: f32,
    pub flat: bool,
}

/// Another disc beside or under the piece.
#[derive(Clone, Copy, Debug)]
pub struct Neighbour {
    pub centre: (f32, f32),
    pub radius: f32,
    pub colour: Rgb,
    /// Height relative to the piece's rim.
    pub z: f32,
}

/// Rim bands of a top view or worn gilding: inner radius, outer radius, colour, wear (0 to 1).
#[derive(Clone, Copy, Debug)]
pub struct Band {
    pub inner: f32,
    pub outer: f32,
    pub colour: Rgb,
    pub wear: f32,
}

#[derive(Clone)]
pub struct Scene {
    pub width: usize,
    pub height: usize,
    pub camera: Camera,
    pub base: Base,
    pub glaze: Glaze,
    pub table: Table,
    pub light: Light,
    pub decals: Vec<Decal>,
    pub overlays: Vec<Overlay>,
    pub neighbours: Vec<Neighbour>,
    pub bands: Vec<Band>,
}

/// What the camera's film would see, and what is true of each pixel.
pub struct Exposure {
    pub channels: [Plane; 3],
    /// Visible ink of the photo's own mark, 0 to 1.
    pub ink: Plane,
}

/// The surface that one ray meets.
#[derive(Clone, Copy)]
pub struct Hit {
    pub x: f32,
    pub y: f32,
    pub z: f32,
    pub radius: f32,
    slope: (f32, f32),
    open: f32,
}

/// Share of mirrored light from a glaze at steep view (Fresnel, index 1.5).
const MIRROR: f32 = 0.045;

/// Height (base radii) below which another step towards the surface moves nothing by a pixel.
const LEVEL: f32 = 2e-4;
/// Steps after which a ray that grazes the ring or rim is taken as it is.
const STEPS: usize = 5;

impl Scene {
    /// A piece of the artwork's glazes and tables, with nothing on it.
    pub fn empty(
        (width, height): (usize, usize),
        camera: Camera,
        base: Base,
        tone: Tone,
        artwork: &Artwork,
        rng: &mut Rng,
    ) -> Self {
        Self {
            width,
            height,
            camera,
            base,
            glaze: Glaze::draw(tone, artwork.split, artwork.wide, rng),
            table: Table::draw(artwork.split, artwork.wide, rng),
            light: Light::draw(rng),
            decals: Vec::new(),
            overlays: Vec::new(),
            neighbours: Vec::new(),
            bands: Vec::new(),
        }
    }

    /// The base's surface along `ray`; None where the ray passes the rim. `near` is a height to
    /// start from: that of the pixel before saves most of the search.
    pub fn hit(&self, ray: Vec3, near: f32) -> Option<Hit> {
        let mut z = near;
        let mut steps = 0;
        let (x, y, spot) = loop {
            let (x, y) = self.camera.meet(ray, z)?;
            let spot = self.base.spot(x, y);
            steps += 1;
            if (spot.z - z).abs() < LEVEL || steps == STEPS {
                break (x, y, spot);
            }
            z = spot.z;
        };
        (spot.radius < 1.0).then_some(Hit {
            x,
            y,
            z: spot.z,
            radius: spot.radius,
            slope: spot.slope,
            open: spot.open,
        })
    }

    /// Photo position of a place on the base's surface.
    pub fn photo_of(&self, x: f32, y: f32) -> Option<(f32, f32)> {
        self.camera.project([x, y, self.base.height(x, y)])
    }

    fn view(&self, p: Vec3) -> Vec3 {
        let e = self.camera.eye;
        unit([e[0] - p[0], e[1] - p[1], e[2] - p[2]])
    }

    /// How much of the mirrored window stands on a place of the base, 0 to 1.
    pub fn glare_at(&self, x: f32, y: f32) -> f32 {
        let Some(window) = &self.light.window else {
            return 0.0;
        };
        let spot = self.base.spot(x, y);
        let w = self.glaze.slope(x, y);
        let n = unit([-spot.slope.0 - w.0, -spot.slope.1 - w.1, 1.0]);
        window.seen(n, self.view([x, y, spot.z]))
    }

    /// Whether something before the lens hides a photo position.
    pub fn overlaid(&self, u: f32, v: f32) -> bool {
        self.overlays
            .iter()
            .any(|o| o.depth(u, v).is_some_and(|d| d > 0.0))
    }

    /// Whether a label lies on a place of the base.
    pub fn covered(&self, x: f32, y: f32) -> bool {
        self.decals
            .iter()
            .filter(|d| d.covers)
            .any(|d| d.local(x, y).is_some_and(|(u, v)| d.map.sample(u, v) > 0.5))
    }

    pub fn expose(&self) -> Exposure {
        let (w, h) = (self.width, self.height);
        let mut channels = [Plane::new(w, h), Plane::new(w, h), Plane::new(w, h)];
        let mut ink = Plane::new(w, h);
        for y in 0..h {
            let mut near = 0.0;
            for x in 0..w {
                let (u, v) = (x as f32 + 0.5, y as f32 + 0.5);
                let (colour, k) = self.pixel(u, v, &mut near);
                let i = y * w + x;
                for c in 0..3 {
                    channels[c].data[i] = colour[c];
                }
                ink.data[i] = k;
            }
        }
        Exposure { channels, ink }
    }

    /// Colour and visible own ink at a photo position; keeps the height met in `near`.
    fn pixel(&self, u: f32, v: f32, near: &mut f32) -> (Rgb, f32) {
        for o in &self.overlays {
            if let Some(depth) = o.depth(u, v)
                && depth > 0.0
            {
                return (o.shade(u, v, depth), 0.0);
            }
        }
        let ray = self.camera.ray(u, v);
        let fall = 1.0
            + self.light.gradient.0 * (u / self.width as f32 - 0.5)
            + self.light.gradient.1 * (v / self.height as f32 - 0.5);
        match self.hit(ray, *near) {
            Some(hit) => {
                *near = hit.z;
                let soft = self.pixel_size();
                let (c, ink) = self.surface(&hit, soft);
                let edge = ((1.0 - hit.radius) / soft).clamp(0.0, 1.0);
                if edge < 1.0 {
                    return (scaled(mix(self.ground(ray), c, edge), fall), ink * edge);
                }
                (scaled(c, fall), ink)
            }
            None => {
                *near = 0.0;
                (scaled(self.ground(ray), fall), 0.0)
            }
        }
    }

    /// Size of a pixel on the base.
    pub fn pixel_size(&self) -> f32 {
        self.camera.eye[2] / self.camera.focal
    }

    fn ground(&self, ray: Vec3) -> Rgb {
        for n in &self.neighbours {
            if let Some((x, y)) = self.camera.meet(ray, -self.base.drop + n.z) {
                let (dx, dy) = (x - n.centre.0, y - n.centre.1);
                let d = (dx * dx + dy * dy).sqrt() / n.radius;
                if d < 1.0 {
                    let lip = 0.9 + 0.1 * ((d - 0.93) * 40.0).clamp(-1.0, 1.0);
                    let well = if (d - 0.62).abs() < 0.02 { 0.9 } else { 1.0 };
                    return scaled(n.colour, lip * well);
                }
            }
        }
        let Some((x, y)) = self.camera.meet(ray, -self.base.drop) else {
            return [0.3, 0.3, 0.32];
        };
        let l = self.light.towards;
        let lean = self.base.drop * 1.2 + 0.02;
        let (sx, sy) = (x + l[0] * lean, y + l[1] * lean);
        let cast = ((self.base.radius(sx, sy) - 0.97) / 0.12).clamp(0.0, 1.0);
        let touch = ((self.base.radius(x, y) - 0.99) / 0.06).clamp(0.0, 1.0);
        let lit = self.light.ambient * (0.65 + 0.35 * touch)
            + self.light.strength * l[2] * (0.25 + 0.75 * cast);
        scaled(self.table.at(x, y), lit)
    }

    fn surface(&self, hit: &Hit, soft: f32) -> (Rgb, f32) {
        let (x, y) = (hit.x, hit.y);
        let mut colour = self.glaze.at(x, y);
        let mut gloss = self.glaze.gloss;
        let (wx, wy) = self.glaze.slope(x, y);
        let mut slope = (hit.slope.0 + wx, hit.slope.1 + wy);
        self.bands(hit, &mut colour, soft);
        let crest = self.base.crest(hit.radius, soft);
        if crest > 0.0 {
            colour = mix(colour, self.glaze.bare(x, y), crest);
            gloss *= 1.0 - crest;
        }
        let mut own = 0.0;
        for d in &self.decals {
            lay(
                d,
                x,
                y,
                &mut Coat {
                    colour: &mut colour,
                    gloss: &mut gloss,
                    slope: &mut slope,
                    own: &mut own,
                },
            );
        }
        if crest > 0.0 {
            own *= 1.0 - 0.7 * crest;
        }
        let n = unit([-slope.0, -slope.1, 1.0]);
        let view = self.view([x, y, hit.z]);
        let facing = crate::light::dot(n, self.light.towards).max(0.0);
        let lit = (self.light.ambient + self.light.strength * facing) * hit.open;
        let mut out = scaled(colour, lit);
        if gloss > 0.0 {
            let mut mirrored = self.light.sheen(n, view) + MIRROR * 0.5 * self.light.ambient;
            if let Some(w) = &self.light.window {
                mirrored += MIRROR * w.radiance * w.seen(n, view);
            }
            out = out.map(|c| c + gloss * mirrored);
        }
        (out, own)
    }

    fn bands(&self, hit: &Hit, colour: &mut Rgb, soft: f32) {
        for b in &self.bands {
            let edge =
                ((hit.radius - b.inner).min(b.outer - hit.radius) / soft + 0.5).clamp(0.0, 1.0);
            if edge > 0.0 {
                let worn = clouds().sample(hit.x * 70.0, hit.y * 70.0)
                    + 0.5 * grain().sample(hit.x * 300.0, hit.y * 300.0);
                let keep = ((1.6 - 3.2 * b.wear - worn) * 2.0).clamp(0.0, 1.0);
                *colour = mix(*colour, b.colour, edge * keep * 0.9);
            }
        }
    }
}

/// The state of one surface point while decals are laid on it.
struct Coat<'a> {
    colour: &'a mut Rgb,
    gloss: &'a mut f32,
    slope: &'a mut (f32, f32),
    own: &'a mut f32,
}

fn lay(d: &Decal, x: f32, y: f32, coat: &mut Coat<'_>) {
    let Some((u, v)) = d.local(x, y) else { return };
    let cover = d.map.sample(u, v);
    match &d.stuff {
        Stuff::Ink {
            colour,
            opacity,
            gloss,
        } => {
            if cover > 0.0 {
                *coat.colour = mix(*coat.colour, *colour, cover * opacity);
                *coat.gloss *= 1.0 + (gloss - 1.0) * cover;
                if d.is_mark {
                    *coat.own = cover;
                }
            }
        }
        Stuff::Relief { depth, pooled } => {
            let s = d.slope(u, v, *depth);
            coat.slope.0 += s.0;
            coat.slope.1 += s.1;
            *coat.colour = scaled(*coat.colour, 1.0 - pooled * cover);
            if d.is_mark {
                *coat.own = cover;
            }
        }
        Stuff::Paper { colours, shine } => {
            if cover > 0.0 {
                *coat.colour = mix(*coat.colour, d.colour_at(colours, u, v), cover);
                *coat.gloss = *coat.gloss * (1.0 - cover) + shine * cover;
                *coat.own *= 1.0 - cover;
                if cover > 0.5 {
                    *coat.slope = (coat.slope.0 * 0.3, coat.slope.1 * 0.3);
                }
            }
        }
    }
}

impl Overlay {
    /// Depth inside the bar in radii (1 on its axis); None outside.
    fn depth(&self, u: f32, v: f32) -> Option<f32> {
        let (ax, ay) = (self.to.0 - self.from.0, self.to.1 - self.from.1);
        let len2 = (ax * ax + ay * ay).max(1e-6);
        let raw = ((u - self.from.0) * ax + (v - self.from.1) * ay) / len2;
        let t = raw.clamp(0.0, 1.0);
        if self.flat && (raw - t).abs() > 0.0 {
            return None;
        }
        let (du, dv) = (u - self.from.0 - t * ax, v - self.from.1 - t * ay);
        let d = (du * du + dv * dv).sqrt();
        let wave = if self.flat {
            1.0
        } else {
            1.0 + 0.06 * (t * 9.0).sin()
        };
        let depth = 1.0 - d / (self.radius * wave);
        (depth > 0.0).then_some(depth)
    }

    fn shade(&self, u: f32, v: f32, depth: f32) -> Rgb {
        let skin = 1.0
            + 0.06 * clouds().sample(u * 0.12, v * 0.12)
            + 0.04 * grain().sample(u * 0.5, v * 0.5);
        let (ax, ay) = (self.to.0 - self.from.0, self.to.1 - self.from.1);
        let len = ax.hypot(ay).max(1e-3);
        let along = ((u - self.from.0) * ax + (v - self.from.1) * ay) / len;
        if self.flat {
            let tick = self.ticks > 0.0
                && depth > 0.55
                && (along / self.ticks).fract() < 0.16
                && ((v - self.from.1) * ax - (u - self.from.0) * ay) > 0.0;
            return if tick {
                [0.05, 0.05, 0.05]
            } else {
                scaled(self.colour, skin)
            };
        }
        let round = 0.55 + 0.45 * (1.0 - (1.0 - depth).powi(2)).max(0.0).sqrt();
        let side = (v - self.from.1) * ax - (u - self.from.0) * ay;
        let across = side / len / self.radius;
        if let Some(nail) = self.nail {
            let e = ((along - len * 1.0) / (self.radius * 0.75)).powi(2) + (across / 0.6).powi(2);
            if e < 1.0 {
                return scaled(nail, round * (1.05 - 0.15 * e));
            }
        }
        scaled(self.colour, round * skin)
    }
}

/// Mean brightness of the middle of an exposure, where a phone meters.
pub fn metered(channels: &[Plane; 3]) -> f32 {
    let (w, h) = (channels[0].width, channels[0].height);
    let (mut sum, mut n) = (0.0f64, 0.0f64);
    for y in (h / 5..h * 4 / 5).step_by(8) {
        for x in (w / 5..w * 4 / 5).step_by(8) {
            let i = y * w + x;
            let c = [
                channels[0].data[i],
                channels[1].data[i],
                channels[2].data[i],
            ];
            sum += f64::from(luma(c).min(1.0));
            n += 1.0;
        }
    }
    (sum / n.max(1.0)) as f32
}
