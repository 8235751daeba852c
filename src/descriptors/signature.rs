//! Everything that is compared of one mark: imprint, local points, coarse shape, and its ink at the
//! sizes at which it is aligned and verified.

use super::imprint;
use super::keypoints::{Halves, Keypoint, PointSet, describe};
use super::shape::{self, PosedCodes, ShapeCode};
use super::stored::quantise;
use crate::alignment::dense::{Level, Slopes};
use crate::geometry::{Exemplar, Frame, Homography, Photo, Quad};
use crate::ink::InkMap;
use crate::ink::small::SmallInk;
use crate::mark::cut::{Cut, SIDE};
use crate::raster::Plane;

/// Local points kept of a photo's mark and of an exemplar.
const PHOTO_POINTS: usize = 480;
const EXEMPLAR_POINTS: usize = 360;
/// Sizes of the ink pyramid: the frame's side divided by these.
pub const SHRINKS: [usize; 2] = [8, 4];
/// Turns, and sizes, at which a photo's mark is coded.
const TURNS: usize = 24;
const SCALES: [f64; 4] = [0.8, 0.93, 1.08, 1.25];

/// A photo's mark, ready to be compared.
#[derive(Debug, Clone)]
pub struct MarkSignature {
    pub points: PointSet,
    pub codes: PosedCodes,
    /// Ink from coarse to fine, by [`SHRINKS`].
    pub levels: [Level; 2],
    /// Ink as the verifier reads it.
    pub fine: SmallInk,
    /// The two coarser levels, made ready for refinement.
    pub slopes: [Slopes; 2],
}

impl MarkSignature {
    pub fn of<F: Frame>(cut: &Cut<F>, fine: SmallInk) -> Self {
        let levels = levels(&cut.ink);
        let points = PointSet::new(describe(
            &cut.ink.tone,
            &cut.ink.valid,
            PHOTO_POINTS,
            Halves::BusierFirst,
        ));
        let codes = shape::posed_codes(&levels[1].ink, &levels[1].valid, TURNS, &SCALES);
        Self {
            points,
            codes,
            fine,
            slopes: [Slopes::of(&levels[0]), Slopes::of(&levels[1])],
            levels,
        }
    }
}

impl MarkSignature {
    /// An exemplar as if it were a photo's mark, to be laid over another exemplar.
    pub fn of_exemplar(exemplar: &ExemplarSignature) -> Self {
        let levels = exemplar.levels.clone();
        Self {
            points: exemplar.points.clone(),
            codes: shape::posed_codes(&levels[1].ink, &levels[1].valid, TURNS, &SCALES),
            fine: exemplar.fine.clone(),
            slopes: [Slopes::of(&levels[0]), Slopes::of(&levels[1])],
            levels,
        }
    }
}

/// An exemplar's mark, ready to be compared; only what lies inside its box is described.
#[derive(Debug, Clone)]
pub struct ExemplarSignature {
    pub points: PointSet,
    pub code: ShapeCode,
    /// Imprints at all turns, row by row.
    pub imprints: Vec<f32>,
    /// Ink as the verifier reads it.
    pub fine: SmallInk,
    pub levels: [Level; 2],
    /// 1 inside the mark's box, by [`SHRINKS`].
    pub within: [Plane; 2],
    /// The mark's box in the exemplar's frame.
    pub quad: Quad<Exemplar>,
    pub from_photo: Homography<Photo, Exemplar>,
}

impl ExemplarSignature {
    pub fn of(
        cut: &Cut<Exemplar>,
        quad: Quad<Exemplar>,
        small: &SmallInk,
        fine: &SmallInk,
    ) -> Self {
        let mut ink = cut.ink.clone();
        let inside = box_mask(&quad, SIDE, BOX_MARGIN);
        ink.ink = ink.ink.zip(&inside, |v, m| v * m);
        ink.tone = ink.tone.zip(&inside, |v, m| v * m);
        let points: Vec<_> = describe(
            &ink.tone,
            &ink.valid,
            EXEMPLAR_POINTS,
            Halves::BothWhereEven,
        )
        .into_iter()
        .filter(|(k, _)| inside.sample(k.x, k.y) > 0.5)
        .collect();
        let levels = levels(&ink).map(|l| Level {
            ink: l.ink.map(quantise),
            valid: l.valid.map(quantise),
        });
        let code = shape::code(&levels[1].ink, &levels[1].valid);
        let within = SHRINKS.map(|k| inside.shrink(k).map(quantise));
        let points = PointSet::new(points).map_rows(quantise);
        Self {
            points,
            code,
            imprints: imprint::at_all_turns(small),
            fine: SmallInk {
                ink: fine.ink.map(quantise),
                valid: fine.valid.clone(),
            },
            levels,
            within,
            quad,
            from_photo: cut.from_photo,
        }
    }

    /// Positions and scales of the described points.
    pub fn keypoints(&self) -> &[Keypoint] {
        &self.points.points
    }
}

/// Margin around an exemplar's box in which ink still belongs to the mark, as a share of the
/// frame's side.
const BOX_MARGIN: f64 = 0.02;

fn levels(map: &InkMap) -> [Level; 2] {
    SHRINKS.map(|k| Level {
        ink: map.ink.shrink(k),
        valid: map.valid.shrink(k),
    })
}

/// 1 inside a quadrilateral grown by `margin` of the side about its centre.
fn box_mask(quad: &Quad<Exemplar>, side: usize, margin: f64) -> Plane {
    let centre = quad.centre();
    let grown: Vec<(f64, f64)> = quad
        .0
        .iter()
        .map(|p| {
            let (dx, dy) = (p.x - centre.x, p.y - centre.y);
            let k = 1.0 + margin * side as f64 / dx.hypot(dy).max(1.0);
            (centre.x + dx * k, centre.y + dy * k)
        })
        .collect();
    let sign = quad.area().signum();
    let mut out = Plane::filled(side, side, 0.0);
    for y in 0..side {
        for x in 0..side {
            let (px, py) = (x as f64 + 0.5, y as f64 + 0.5);
            let inside = (0..4).all(|i| {
                let (a, b) = (grown[i], grown[(i + 1) % 4]);
                sign * ((b.0 - a.0) * (py - a.1) - (b.1 - a.1) * (px - a.0)) >= 0.0
            });
            if inside {
                out.set(x, y, 1.0);
            }
        }
    }
    out
}
