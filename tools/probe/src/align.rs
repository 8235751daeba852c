//! The alignment stage on two grey pictures that are no marks.

use std::path::{Path, PathBuf};

use footring::alignment::consensus::{CUT_TO_CUT, agree};
use footring::alignment::dense::{Freedom, Level, Slopes, refine};
use footring::descriptors::keypoints::{Halves, PointSet, describe};
use footring::geometry::{Exemplar, Homography, Mark, Photo};
use footring::raster::Plane;
use serde::Deserialize;
use serde_json::{Value, json};

use crate::pictures::{grey, plane};
use crate::{Failure, request};

/// Side of the square frame that a picture is laid into, in pixels. Larger than a mark's frame: the
/// annotated things fill these pictures, and at 448 px too little of the faintest one was left.
const SIDE: usize = 800;
/// Local points described in a picture.
const POINTS: usize = 2000;
/// Blur (sigma, in source pixels per frame pixel) before a picture is shrunk to the frame.
const SHRINK_BLUR: f64 = 0.5;
/// Ink needs a ground, which these pictures do not have; in its place stands brightness over its
/// local mean in units of its local spread, both by a Gaussian of this share of the frame.
const LOCAL: f32 = 0.05;
/// Spread that is added, so that flat parts stay flat (brightness from 0 to 1).
const FLAT: f32 = 0.016;
/// What one spread comes to; the result is cut to 0 to 1 about a half.
const GAIN: f32 = 0.2;
/// Coarse to fine: how far both pictures are shrunk and what may move.
const SCHEDULE: [(usize, Freedom); 3] = [
    (4, Freedom::Affine),
    (2, Freedom::Projective),
    (1, Freedom::Projective),
];

#[derive(Deserialize)]
struct Pair {
    one: PathBuf,
    other: PathBuf,
}

/// A picture in the square frame, its contrast made even, and what is known of the frame.
struct Framed {
    level: Level,
    /// Frame pixels per picture pixel.
    scale: f64,
}

impl Framed {
    fn read(path: &Path) -> Result<Self, Failure> {
        let full = plane(&grey(path)?).map(|v| v / 255.0);
        let scale = SIDE as f64 / full.width().max(full.height()) as f64;
        let to_picture = Homography::<Mark, Photo>::similarity(1.0 / scale, 0.0, 0.0, 0.0);
        let smooth = full.blur((SHRINK_BLUR / scale) as f32);
        let ones = Plane::filled(full.width(), full.height(), 1.0);
        let valid = ones.warp(&to_picture, SIDE, SIDE, 0.0);
        let ink = even(&smooth.warp(&to_picture, SIDE, SIDE, 0.0), &valid);
        Ok(Self {
            level: Level { ink, valid },
            scale,
        })
    }

    fn points(&self, halves: Halves) -> PointSet {
        PointSet::new(describe(&self.level.ink, &self.level.valid, POINTS, halves))
    }

    fn shrunk(&self, k: usize) -> Level {
        Level {
            ink: self.level.ink.shrink(k),
            valid: self.level.valid.shrink(k),
        }
    }
}

/// Local contrast made even where `valid` is 1 (normalised convolution), 0 elsewhere.
fn even(grey: &Plane, valid: &Plane) -> Plane {
    let sigma = LOCAL * SIDE as f32;
    let weight = valid.blur(sigma);
    let over = |p: &Plane| p.blur(sigma).zip(&weight, |v, w| v / w.max(1e-3));
    let off = grey
        .zip(&over(grey), |v, mean| v - mean)
        .zip(valid, |v, known| v * known);
    let spread = over(&off.map(|v| v * v)).map(f32::sqrt);
    let unit = off.zip(&spread, |v, s| {
        (0.5 + GAIN * v / (s + FLAT)).clamp(0.0, 1.0)
    });
    unit.zip(valid, |v, known| v * known)
}

/// The map from the first picture to the second, in their own pixels (origin at the outer corner of
/// the top-left one); `rows` is null where nothing agrees.
pub(crate) fn align(value: Value) -> Result<Value, Failure> {
    let Pair { one, other } = request("align", value)?;
    let (one, other) = (Framed::read(&one)?, Framed::read(&other)?);
    // The first picture plays the photo, the second the exemplar.
    let (from, to) = (
        one.points(Halves::BusierFirst),
        other.points(Halves::BothWhereEven),
    );
    let Some(found) = agree::<Mark>(&from, &to, SIDE as f64, CUT_TO_CUT) else {
        return Ok(json!({ "rows": Value::Null, "points": [from.len(), to.len()] }));
    };
    let mut map = found.to_exemplar;
    let mut correlation = None;
    for (k, freedom) in SCHEDULE {
        let (a, b) = (one.shrunk(k), other.shrunk(k));
        let within = b.valid.clone();
        if let Some(better) = refine(&map, &Slopes::of(&a), &b, &within, k as f64, freedom) {
            map = better.map;
            correlation = Some(better.correlation);
        }
    }
    let into = Homography::<Photo, Mark>::similarity(one.scale, 0.0, 0.0, 0.0);
    let out = Homography::<Exemplar, Photo>::similarity(1.0 / other.scale, 0.0, 0.0, 0.0);
    Ok(json!({
        "rows": into.then(&map).then(&out).rows(),
        "consensus": into.then(&found.to_exemplar).then(&out).rows(),
        "agreeing": found.agreeing,
        "pairs": found.pairs,
        "correlation": correlation,
    }))
}
