//! How a mark stands to the rings of its base.

use super::look::{Look, carried};
use crate::geometry::{Exemplar, Homography, Mark, Point};
use crate::underside::ellipse::Ellipse;

/// Ellipses worth comparing: share that an edge supports.
const LEAST_SUPPORT: f64 = 0.5;
/// Rings alike in size within this share are taken for one ring of a form.
const ALIKE: f64 = 0.08;
/// What two photos of one piece differ by, in radii of the ring: the ring lies higher than the floor.
const SPREAD: f64 = 0.02;

/// Log ratio of how far the rings miss one another, with the marks laid over each other, to how far the mark stands
/// from the ring's middle: well below 0 for one piece, about 0 for two, and for marks that stand in the middle. `None`
/// where no ring is drawn in both photos.
pub(super) fn apart(a: &Look, b: &Look, map: &Homography<Mark, Exemplar>) -> Option<f64> {
    let mut best: Option<(f64, f64)> = None;
    for ring in a.rings.iter().filter(|r| r.support >= LEAST_SUPPORT) {
        let Some(there) = carried(&ring.ellipse, map) else {
            continue;
        };
        for other in b.rings.iter().filter(|r| r.support >= LEAST_SUPPORT) {
            let own = as_exemplar(&other.ellipse);
            let size = (own.major * own.minor).sqrt();
            let apart = ((there.major * there.minor).sqrt() / size).ln().abs();
            if apart > ALIKE {
                continue;
            }
            let miss = there.centre.distance(own.centre) / size;
            let weight = ring.support * other.support;
            let off = super::look::as_exemplar(&b.quad)
                .centre()
                .distance(own.centre)
                / size;
            let ratio = ((miss * miss + SPREAD * SPREAD) / (off * off + SPREAD * SPREAD)).ln();
            if best.is_none_or(|(w, _)| weight > w) {
                best = Some((weight, ratio));
            }
        }
    }
    best.map(|(_, ratio)| ratio)
}

fn as_exemplar(e: &Ellipse<Mark>) -> Ellipse<Exemplar> {
    Ellipse {
        centre: Point::new(e.centre.x, e.centre.y),
        major: e.major,
        minor: e.minor,
        angle: e.angle,
    }
}
