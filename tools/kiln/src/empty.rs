//! Photos without a mark: bare undersides, tops with decoration, details, receipts and boxes.

use crate::artwork::Artwork;
use crate::base::Base;
use crate::camera::{Camera, Pose};
use crate::clutter::{self, Distractor};
use crate::glaze::Tone;
use crate::random::Rng;
use crate::record::attributes;
use crate::scene::Scene;
use crate::shoot::{Order, Set, Shot, take, tone_for};
use crate::top;
use crate::trouble;
use crate::truth::{Condition, Kind, Severity, Truth};

/// Share of bare bases whose whole outline is in view.
const WHOLE: f32 = 0.85;
const DARK: f32 = 0.12;
/// How many times as often a bare base of a wide lot carries what is no mark.
const WIDE_OFTEN: f32 = 3.5;

fn view(
    artwork: &Artwork,
    base: Base,
    tone: Tone,
    radius_px: f32,
    most_tilt: f32,
    rng: &mut Rng,
) -> Set {
    let (width, height) = if rng.chance(0.5) {
        (1200, 1600)
    } else {
        (1600, 1200)
    };
    let focal = 1600.0 * rng.range(0.75, 1.2);
    let pose = Pose {
        target: (rng.range(-0.03, 0.03), rng.range(-0.03, 0.03)),
        tilt: (most_tilt * rng.unit() * rng.unit().sqrt()).to_radians(),
        azimuth: rng.angle(),
        roll: rng.angle(),
        distance: focal / radius_px,
        focal,
        centre: (width as f32 / 2.0, height as f32 / 2.0),
    };
    let camera = Camera::new(&pose);
    Set {
        scene: Scene::empty((width, height), camera, base, tone, artwork, rng),
        tilt_deg: pose.tilt.to_degrees(),
        pose,
        mark: None,
        points: Vec::new(),
        quad: None,
        distractors: Vec::new(),
        second: Vec::new(),
        removed: None,
    }
}

fn bare(artwork: &Artwork, order: &Order, rng: &mut Rng) -> Set {
    let base = Base::draw(rng);
    let radius_px = if rng.chance(WHOLE) {
        1200.0 * rng.range(0.38, 0.465) / base.stretch
    } else {
        1200.0 * rng.range(0.52, 0.8)
    };
    let tone = tone_for(rng.chance(DARK), rng);
    let mut set = view(artwork, base, tone, radius_px, 16.0, rng);
    let likely = [
        (Distractor::PencilPrice, 0.1),
        (Distractor::PriceLabel, 0.1),
        (Distractor::StiltMarks, 0.2),
        (Distractor::Scratch, 0.08),
    ];
    let often = if artwork.wide { WIDE_OFTEN } else { 1.0 };
    for (d, share) in likely {
        if rng.chance(share * often) {
            clutter::add(&mut set, d, artwork, rng);
        }
    }
    trouble::apply(&mut set, order, artwork, rng);
    set
}

/// A bare base of which the frame shows only a part.
fn cut_base(artwork: &Artwork, order: &Order, rng: &mut Rng) -> Set {
    let mut set = bare(artwork, order, rng);
    let a = rng.angle();
    let shift = 0.75 * set.pose.focal / set.pose.distance;
    set.pose.centre.0 += shift * a.cos();
    set.pose.centre.1 += shift * a.sin();
    set.scene.camera = Camera::new(&set.pose);
    set
}

fn upper(artwork: &Artwork, detail: bool, rng: &mut Rng) -> Set {
    let base = Base::top(rng);
    let radius_px = if detail {
        1200.0 * rng.range(0.9, 1.8)
    } else {
        1200.0 * rng.range(0.38, 0.52) / base.stretch
    };
    let tone = tone_for(rng.chance(0.08), rng);
    let mut set = view(
        artwork,
        base,
        tone,
        radius_px,
        if detail { 30.0 } else { 45.0 },
        rng,
    );
    if detail {
        let a = rng.angle();
        set.pose.target = (0.7 * a.cos(), 0.7 * a.sin());
        set.scene.camera = Camera::new(&set.pose);
    }
    top::decorate(&mut set, artwork, rng);
    set
}

fn paper(artwork: &Artwork, rng: &mut Rng) -> Set {
    let tone = *rng.pick(&[Tone::Stoneware, Tone::Brown, Tone::Celadon, Tone::White]);
    let mut set = view(artwork, Base::board(), tone, 2600.0, 20.0, rng);
    set.scene.glaze.gloss = 0.1;
    top::printed_paper(&mut set, artwork, rng.chance(0.4), rng);
    set
}

/// Photographs something that bears no mark.
pub fn photograph(
    artwork: &Artwork,
    kind: Kind,
    severity: Severity,
    quality: Option<u8>,
    file: &str,
    rng: &mut Rng,
) -> Result<Shot, jpeg_encoder::EncodingError> {
    let mut order = Order::plain(kind, Condition::Good, severity);
    order.extras.quality = quality;
    let set = match kind {
        Kind::Top => upper(artwork, false, rng),
        Kind::Detail => upper(artwork, true, rng),
        Kind::Receipt => paper(artwork, rng),
        Kind::CutBase => cut_base(artwork, &order, rng),
        _ => bare(artwork, &order, rng),
    };
    let (picture, how, _) = take(&set, &order, rng);
    let truth = Truth {
        file: file.to_string(),
        width: set.scene.width,
        height: set.scene.height,
        kind,
        condition: Condition::Good,
        severity,
        family: None,
        design: None,
        variant: None,
        group: None,
        siblings: Vec::new(),
        decidable: false,
        deciding: None,
        quad: None,
        second: Vec::new(),
        measured: None,
        fault: None,
        attributes: attributes(&set, &order, None),
        distractors: set.distractors.clone(),
        piece: None,
        code: None,
    };
    Ok(Shot {
        jpeg: picture.jpeg(how.quality)?,
        truth,
    })
}
