//! A piece that can be photographed again: what belongs to it is drawn from one stream of random numbers, what belongs
//! to a photo from another.

use crate::artwork::Artwork;
use crate::base::Base;
use crate::camera::Camera;
use crate::clutter;
use crate::decal::Decal;
use crate::drawing::Bounds;
use crate::family::{Family, Means};
use crate::framing::{Framing, camera};
use crate::glaze::{Glaze, Tone};
use crate::light::Light;
use crate::random::Rng;
use crate::record::truth_of;
use crate::scene::Scene;
use crate::shoot::{
    Order, Posed, Set, Shot, ink_points, ink_stuff, inside, pose_mark, quad_of, take, tone_for,
};
use crate::strike::{Wear, strike};
use crate::table::Table;
use crate::trouble;
use crate::truth::{Condition, Kind, Severity};

/// Pixels of the long side of a strike, finer than any photo of a lot shows it.
const STRIKE: f32 = 1100.0;
/// The short side of a photo, in pixels.
const SHORT: f32 = 1200.0;
/// Shares of the photo's width that a mark takes.
const SHARES: (f32, f32) = (0.13, 0.6);
/// Shortest and longest mark, in base radii, if there is room inside the ring.
const MARK: (f32, f32) = (0.24, 0.7);
/// Framings tried before one that cuts the mark is taken after all.
const FRAMINGS: usize = 60;
/// Deviation in map pixels of the blur by which a strike is thinned out for a photo, per map pixel that one of the
/// photo's covers.
const THINNED: f32 = 0.4;

/// What all pieces of one service share: form, glaze, stamp with its own damage, and the table they are sold on.
pub struct Service<'a> {
    family: &'a Family,
    base: Base,
    glaze: Glaze,
    tone: Tone,
    code: String,
    bounds: Bounds,
    /// Long side of the mark in base radii.
    mark: f32,
    /// What the stamp itself has lost, the same on each piece; `None` for a sound stamp.
    worn: Option<(Wear, Rng)>,
    table: Table,
}

impl<'a> Service<'a> {
    pub fn draw(artwork: &Artwork, family: &'a Family, rng: &mut Rng) -> Self {
        let code = family.design.code_text(rng);
        let bounds = family.design.draw(artwork, &code).bounds;
        let base = Base::draw(rng);
        let tone = tone_for(family.dark, rng);
        let most = base.ring.0 * 0.93 / half_diagonal(&bounds);
        let worn = rng.chance(0.5).then(|| {
            let left = rng.range(0.75, 0.95);
            let stamp = Wear {
                left,
                ..Wear::sound(rng)
            };
            (stamp, rng.fork("stamp", 0))
        });
        Self {
            family,
            glaze: Glaze::draw(tone, artwork.split, artwork.wide, rng),
            tone,
            code,
            mark: rng.range(MARK.0, MARK.1).min(most),
            bounds,
            worn,
            table: Table::draw(artwork.split, artwork.wide, rng),
            base,
        }
    }

    /// A piece of it, not yet photographed. `strike` says how its mark was struck.
    pub fn piece(&self, artwork: &Artwork, strike: &Order, rng: &mut Rng) -> Piece<'_> {
        let free = (self.base.ring.0 * 0.93 - self.mark * half_diagonal(&self.bounds)).max(0.0);
        let (a, far) = (rng.angle(), free * rng.unit().sqrt() * 0.55);
        let centre = (far * a.cos() * self.base.stretch, far * a.sin());
        let angle = rng.angle();
        let f = Framing {
            width: 1200,
            height: 1600,
            radius_px: STRIKE / self.mark,
            mark: self.mark,
            centre,
            angle,
            target: centre,
        };
        let plain = Order::plain(Kind::Known, Condition::Good, Severity::Easy);
        let (cam, pose, tilt_deg) = camera(&plain, &f, rng);
        let mut scene = Scene {
            table: self.table.clone(),
            glaze: self.glaze.on_another(rng),
            ..Scene::empty(
                (f.width, f.height),
                cam,
                self.base.clone(),
                self.tone,
                artwork,
                rng,
            )
        };
        let wear = trouble::wear(strike, rng);
        let mut posed = pose_mark(artwork, self.family, self.code.clone(), STRIKE, &wear, rng);
        self.wear_stamp(&mut posed);
        let stuff = ink_stuff(self.family, posed.stroke, rng);
        let mut map = posed.struck.clone();
        if self.family.means != Means::Printed {
            map = map.blurred(posed.stroke * 0.3);
        }
        let decal = Decal::new(map, stuff, centre, angle, self.mark / STRIKE).as_mark();
        let points = ink_points(&decal, &posed);
        scene.decals.push(decal);
        let mut set = Set {
            scene,
            pose,
            tilt_deg,
            mark: Some((0, posed)),
            points,
            quad: None,
            distractors: Vec::new(),
            second: Vec::new(),
            removed: None,
        };
        clutter::dress(&mut set, &plain, artwork, rng);
        Piece { of: self, set, f }
    }

    fn wear_stamp(&self, posed: &mut Posed) {
        let Some((wear, rng)) = &self.worn else {
            return;
        };
        let stamp = strike(&posed.mask, posed.stroke, wear, &mut rng.clone());
        for (v, left) in posed.struck.data.iter_mut().zip(&stamp.data) {
            *v = v.min(*left);
        }
    }
}

fn half_diagonal(b: &Bounds) -> f32 {
    0.5 * b.width().hypot(b.height()) / b.width().max(b.height())
}

/// One piece, with everything that stays the same from photo to photo.
pub struct Piece<'a> {
    of: &'a Service<'a>,
    set: Set,
    f: Framing,
}

impl Piece<'_> {
    /// Takes one photo of it.
    pub fn photograph(
        &self,
        artwork: &Artwork,
        order: &Order,
        file: &str,
        rng: &mut Rng,
    ) -> Result<Shot, jpeg_encoder::EncodingError> {
        let mut set = self.framed(order, rng);
        trouble::apply(&mut set, order, artwork, rng);
        let (picture, how, contrast) = take(&set, order, rng);
        let truth = truth_of(&set, order, self.of.family, &how, contrast, file);
        Ok(Shot {
            jpeg: picture.jpeg(how.quality)?,
            truth,
        })
    }

    /// The piece before another camera, in another light.
    fn framed(&self, order: &Order, rng: &mut Rng) -> Set {
        let mut tried = 0;
        loop {
            let f = self.framing(rng);
            let (cam, pose, tilt_deg) = camera(order, &f, rng);
            let mut set = Set {
                pose,
                tilt_deg,
                ..self.set.clone()
            };
            self.move_to(&mut set, &f, cam);
            set.scene.light = Light::draw(rng);
            set.quad = set.mark.as_ref().and_then(|(at, posed)| {
                let decal = &self.set.scene.decals[*at];
                quad_of(&set.scene, decal, posed.to_map, &posed.drawn.bounds)
            });
            tried += 1;
            if tried == FRAMINGS || set.quad.is_some_and(|q| inside(&set.scene, &q)) {
                return set;
            }
        }
    }

    fn move_to(&self, set: &mut Set, f: &Framing, cam: Camera) {
        let scene = &mut set.scene;
        (scene.width, scene.height, scene.camera) = (f.width, f.height, cam);
        let pixel = scene.pixel_size();
        for decal in &mut scene.decals {
            let covered = pixel / decal.scale;
            if covered > 1.0 {
                decal.map = decal.map.blurred(THINNED * covered);
            }
        }
    }

    fn framing(&self, rng: &mut Rng) -> Framing {
        let (width, height) = if rng.chance(0.5) {
            (1200, 1600)
        } else {
            (1600, 1200)
        };
        let stretch = self.of.base.stretch;
        let mut radius_px = 0.0;
        for _ in 0..FRAMINGS {
            radius_px = if rng.chance(0.5) {
                SHORT * rng.range(0.4, 0.49) / stretch
            } else {
                SHORT * rng.range(0.5, 1.4)
            };
            let long = self.f.mark * radius_px;
            if long > SHARES.0 * width as f32 && long < (SHARES.1 * width as f32).min(SHORT * 0.8) {
                break;
            }
        }
        let target = if radius_px * stretch < SHORT * 0.5 {
            (rng.range(-0.1, 0.1), rng.range(-0.1, 0.1))
        } else {
            let jitter = 0.12 * SHORT / radius_px;
            let c = self.f.centre;
            (c.0 + jitter * rng.normal(), c.1 + jitter * rng.normal())
        };
        Framing {
            width,
            height,
            radius_px,
            target,
            ..self.f
        }
    }
}
