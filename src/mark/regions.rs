//! Regions of the view: circles that may hold a mark, and the ink found in them.
//!
//! The circle around a region does not depend on how the mark is turned.

use super::strokes::{
    Component, DIAGONAL, DIRECTIONS, INK, TURNING, bounds_of, components, turning,
};
use crate::geometry::{Photo, Point, Quad, View};
use crate::raster::Plane;
use crate::underside::Underside;

/// Regions overlapping more than this (of the smaller circle, and of like size) are one.
const SAME_REGION: f64 = 0.72;

/// A place that may hold a mark, as it lies in the photo: the tilt of a base is left to the alignment, since
/// ellipses fitted to parts of its rings are not sure enough to squeeze a mark by.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    pub centre: Point<View>,
    /// In view pixels.
    pub radius: f64,
    /// How mark-like, larger is more so.
    pub score: f64,
    /// Corners of the components, in view pixels: bounds of the ink found.
    pub hull: Vec<Point<View>>,
    /// Components that make it up.
    pub parts: usize,
}

impl Region {
    /// The same place with `k` times the radius.
    pub fn sized(&self, k: f64) -> Self {
        Self {
            radius: self.radius * k,
            ..self.clone()
        }
    }

    /// The smallest rectangle around the ink whose upper edge runs at `angle` (radians) in the
    /// photo. `scale` is the photo's size over the view's.
    pub fn box_at(&self, scale: f64, angle: f64) -> Quad<Photo> {
        let (s, c) = angle.sin_cos();
        let (mut u0, mut v0) = (f64::INFINITY, f64::INFINITY);
        let (mut u1, mut v1) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for p in &self.hull {
            let (x, y) = (p.x * scale, p.y * scale);
            let (u, v) = (c * x + s * y, -s * x + c * y);
            (u0, v0, u1, v1) = (u0.min(u), v0.min(v), u1.max(u), v1.max(v));
        }
        let back = |u: f64, v: f64| [c * u - s * v, s * u + c * v];
        Quad::from_array([back(u0, v0), back(u1, v0), back(u1, v1), back(u0, v1)])
    }
}

/// All that stands out on a base, strokes and lettering.
#[derive(Debug, Clone)]
pub struct StandingInk {
    components: Vec<Component>,
    step: f64,
}

impl StandingInk {
    /// `contrast` is ink in noise units on a map that is `step` times smaller than the view.
    pub fn of(contrast: &Plane, underside: &Underside, step: f64) -> Self {
        let mut found = components(contrast, FAINT_INK, underside, step);
        found.extend(components(&turning(contrast), TURNING[0], underside, step));
        Self {
            components: found,
            step,
        }
    }
}

/// The region of a circle known beforehand, in view pixels; its hull is the ink found in it, or its
/// inscribed square where none stands out.
pub fn in_circle(centre: Point<View>, radius: f64, ink: &StandingInk) -> Region {
    let step = ink.step;
    let inside = |c: &&Component| {
        let middle = Point::<View>::new(
            (c.bounds.0 + c.bounds.2) / 2.0 * step,
            (c.bounds.1 + c.bounds.3) / 2.0 * step,
        );
        middle.distance(centre) < radius && c.size() * step < 2.0 * radius
    };
    let hull: Vec<Point<View>> = ink
        .components
        .iter()
        .filter(inside)
        .flat_map(|c| c.extremes)
        .map(|(x, y)| Point::new(x * step, y * step))
        .filter(|p| p.distance(centre) < CIRCLE_REACH * radius)
        .collect();
    let parts = hull.len() / DIRECTIONS.len();
    let hull = if parts >= CIRCLE_PARTS {
        hull
    } else {
        let r = radius * DIAGONAL;
        [(-r, -r), (r, -r), (r, r), (-r, r)]
            .map(|(dx, dy)| Point::new(centre.x + dx, centre.y + dy))
            .to_vec()
    };
    Region {
        centre,
        radius: radius.max(1.0),
        score: 0.0,
        hull,
        parts,
    }
}

/// Ink (noise units) from which a component bounds a mark whose place is known.
const FAINT_INK: f32 = 3.0;
/// Ink further out than this many radii is not the mark's, and fewer components than this do not
/// bound it.
const CIRCLE_REACH: f64 = 1.1;
const CIRCLE_PARTS: usize = 3;

/// The region of everything that stands out, for a flat scan that shows one mark and nothing
/// else. `None` where nothing does.
pub fn all_ink(contrast: &Plane, step: f64) -> Option<Region> {
    let strokes = components(contrast, INK, &Underside::default(), step);
    let heaviest = strokes.first()?.mass;
    let members: Vec<&Component> = strokes
        .iter()
        .filter(|c| c.mass >= SCAN_SHARE * heaviest)
        .collect();
    let (w, h) = (contrast.width() as f64, contrast.height() as f64);
    let (x0, y0, x1, y1) = bounds_of(&members);
    let margin = SCAN_MARGIN * (x1 - x0).max(y1 - y0);
    let corners = [
        (x0 - margin, y0 - margin),
        (x1 + margin, y0 - margin),
        (x1 + margin, y1 + margin),
        (x0 - margin, y1 + margin),
    ]
    .map(|(x, y)| Point::new(x.clamp(0.0, w) * step, y.clamp(0.0, h) * step));
    Some(around(&corners))
}

/// Margin around the strokes of a scan, as a share of its longer side: thin figures fall short of
/// the ink threshold on a small scan.
const SCAN_MARGIN: f64 = 0.025;
/// A component of a scan counts from this share of the heaviest one's mass: less is dust.
const SCAN_SHARE: f64 = 0.0008;

/// The whole view as one region.
pub fn whole_view(width: f64, height: f64) -> Region {
    let hull = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
        .map(|(x, y)| Point::new(x, y))
        .to_vec();
    Region {
        centre: Point::new(width / 2.0, height / 2.0),
        radius: width.hypot(height) / 2.0 * 0.9,
        score: 0.0,
        hull,
        parts: 0,
    }
}

/// The region of a box that is known beforehand, such as an exemplar's.
pub fn around(corners: &[Point<View>]) -> Region {
    let points: Vec<(f64, f64)> = corners.iter().map(|p| (p.x, p.y)).collect();
    let ((x, y), radius) = enclosing_circle(&points);
    Region {
        centre: Point::new(x, y),
        radius: radius.max(1.0),
        score: 0.0,
        hull: corners.to_vec(),
        parts: 0,
    }
}

/// A small circle around all points (Ritter 1990, then tightened), within a few per cent of the
/// smallest.
pub(super) fn enclosing_circle(points: &[(f64, f64)]) -> ((f64, f64), f64) {
    let Some(&first) = points.first() else {
        return ((0.0, 0.0), 0.0);
    };
    let far = |c: (f64, f64)| {
        points
            .iter()
            .copied()
            .max_by(|a, b| {
                (a.0 - c.0)
                    .hypot(a.1 - c.1)
                    .total_cmp(&(b.0 - c.0).hypot(b.1 - c.1))
            })
            .unwrap_or(c)
    };
    let a = far(first);
    let b = far(a);
    let mut centre = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
    // Badoiu and Clarkson 2003: step towards the farthest point by 1 / (i + 1).
    for i in 2..60 {
        let p = far(centre);
        let k = 1.0 / f64::from(i);
        centre = (
            centre.0 + (p.0 - centre.0) * k,
            centre.1 + (p.1 - centre.1) * k,
        );
    }
    let p = far(centre);
    (centre, (p.0 - centre.0).hypot(p.1 - centre.1))
}

/// Whether two regions are one place.
pub fn is_same(a: &Region, b: &Region) -> bool {
    let d = a.centre.distance(b.centre);
    let (small, large) = (a.radius.min(b.radius), a.radius.max(b.radius));
    small / large > SAME_REGION && d < (1.0 - SAME_REGION) * large
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_circle_is_nearly_the_smallest() {
        let points = [
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (0.0, 10.0),
            (5.0, 5.0),
        ];
        let (c, r) = enclosing_circle(&points);
        assert!((c.0 - 5.0).abs() < 0.3 && (c.1 - 5.0).abs() < 0.3 && r < 7.07 * 1.05);
    }
}
