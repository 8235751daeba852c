//! Photos without a mark: bare undersides, and tops with decoration.

use crate::artwork::Artwork;
use crate::base::Base;
use crate::camera::{Camera, Pose};
use crate::clutter::{self, Distractor};
use crate::glaze::{Glaze, Table};
use crate::light::Light;
use crate::random::Rng;
use crate::scene::Scene;
use crate::shoot::{Order, Set, Shot, attributes, take, tone_for};
use crate::trouble;
use crate::truth::{Condition, Kind, Severity, Truth};

/// Share of bare bases whose whole outline is in view.
const WHOLE: f32 = 0.85;
const DARK: f32 = 0.12;

fn bare(artwork: &Artwork, rng: &mut Rng) -> Set {
    let base = Base::draw(rng);
    let (width, height) = if rng.chance(0.5) {
        (1200, 1600)
    } else {
        (1600, 1200)
    };
    let radius_px = if rng.chance(WHOLE) {
        1200.0 * rng.range(0.38, 0.465) / base.stretch
    } else {
        1200.0 * rng.range(0.52, 0.8)
    };
    let focal = 1600.0 * rng.range(0.75, 1.2);
    let pose = Pose {
        target: (rng.range(-0.03, 0.03), rng.range(-0.03, 0.03)),
        tilt: (16.0 * rng.unit() * rng.unit().sqrt()).to_radians(),
        azimuth: rng.angle(),
        roll: rng.angle(),
        distance: focal / radius_px,
        focal,
        centre: (width as f32 / 2.0, height as f32 / 2.0),
    };
    let tone = tone_for(rng.chance(DARK), rng);
    Set {
        scene: Scene {
            width,
            height,
            camera: Camera::new(&pose),
            base,
            glaze: Glaze::draw(tone, artwork.split, rng),
            table: Table::draw(artwork.split, rng),
            light: Light::draw(rng),
            decals: Vec::new(),
            overlays: Vec::new(),
            neighbours: Vec::new(),
            bands: Vec::new(),
        },
        tilt_deg: pose.tilt.to_degrees(),
        pose,
        mark: None,
        points: Vec::new(),
        quad: None,
        distractors: Vec::new(),
        second: Vec::new(),
    }
}

pub fn photograph(
    artwork: &Artwork,
    kind: Kind,
    severity: Severity,
    file: &str,
    rng: &mut Rng,
) -> Result<Shot, jpeg_encoder::EncodingError> {
    let order = Order {
        kind,
        condition: Condition::Good,
        severity,
        distractor: None,
        siblings: Vec::new(),
    };
    let mut set = bare(artwork, rng);
    if kind == Kind::Bare {
        for (d, share) in [
            (Distractor::PencilPrice, 0.1),
            (Distractor::PriceLabel, 0.1),
            (Distractor::StiltMarks, 0.2),
        ] {
            if rng.chance(share) {
                clutter::add(&mut set, d, artwork, rng);
            }
        }
        trouble::apply(&mut set, &order, artwork, rng);
    }
    let (picture, how, _) = take(&set, &order, rng);
    let truth = Truth {
        file: file.to_string(),
        width: set.scene.width,
        height: set.scene.height,
        kind,
        condition: Condition::Good,
        severity,
        family: None,
        variant: None,
        group: None,
        siblings: Vec::new(),
        decidable: false,
        quad: None,
        second: Vec::new(),
        measured: None,
        attributes: attributes(&set, &order, None),
        distractors: set.distractors.clone(),
        code: None,
    };
    Ok(Shot {
        jpeg: picture.jpeg(how.quality)?,
        truth,
    })
}
