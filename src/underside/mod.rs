//! The underside: where the rim and the foot ring run, and whether all of the base is in the frame.
//!
//! Both show as ellipses. They lie at different heights, so each is fitted for itself.

pub mod edges;
pub mod ellipse;
pub mod whole;

use std::sync::LazyLock;

use crate::geometry::{Point, View};
use crate::raster::Plane;
use edges::Edges;
use ellipse::Ellipse;

/// Longer side of the picture on which ellipses are sought, in pixels.
const SEARCH_SIDE: f32 = 320.0;
/// Least gradient of an edge (L* a pixel of the search picture).
const LEAST_GRADIENT: f32 = 1.1;
/// Chains that take part, the longest first.
const CHAINS: usize = 26;
/// Samples along an ellipse's circumference.
const SAMPLES: usize = 144;
/// Nearer than this to the frame (search pixels) nothing can be seen of a ring.
const MARGIN: f64 = 2.0;
/// Sine and cosine of each sample's parameter.
static CIRCLE: LazyLock<[(f64, f64); SAMPLES]> = LazyLock::new(|| {
    std::array::from_fn(|i| (std::f64::consts::TAU * i as f64 / SAMPLES as f64).sin_cos())
});
/// An edge within this many search pixels of the curve supports it ...
const REACH: i64 = 2;
/// ... if its gradient lies within this (cosine) of the curve's normal.
const ALONG_NORMAL: f32 = 0.9;
/// Share of the visible circumference that must be drawn.
const LEAST_SUPPORT: f64 = 0.42;
/// Share of the circumference that must lie in the frame.
const LEAST_VISIBLE: f64 = 0.45;
/// A base stretched more than this has been seen too flat to undo (ratio of axes).
const FLATTEST: f64 = 0.4;
/// Smallest semi-axis worth having, as a share of the search side.
const SMALLEST: f64 = 0.12;
/// An edge this near to a better-drawn ellipse (search pixels) belongs to that one.
const EXPLAINED: f64 = 2.5;
/// Rings kept.
const RINGS: usize = 8;
/// Ellipses alike within this share of their size are one.
const SAME: f64 = 0.06;

/// An ellipse found in the view and how well it is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    pub ellipse: Ellipse<View>,
    /// Share of the circumference inside the frame that an edge supports, 0 to 1.
    pub support: f64,
    /// Share of the circumference inside the frame, 0 to 1.
    pub visible: f64,
    /// Median step of L* from just inside to just outside.
    pub step: f64,
}

/// A step of L* from which a ring is the edge of a body against something else.
const BODY_STEP: f64 = 5.0;

impl Ring {
    /// Whether what lies outside differs from what lies inside: a rim against the table, not a
    /// foot ring or a ring-shaped mark on one glaze.
    pub fn bounds_body(&self) -> bool {
        self.step.abs() > BODY_STEP
    }
}

/// What is known of the base as a body.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Underside {
    /// Well-drawn ellipses, the largest first: rim, foot ring, well, ring-shaped marks.
    pub rings: Vec<Ring>,
}

impl Underside {
    /// The piece's own outline: the largest ring that parts it from what lies around, preferably one
    /// that is drawn all but whole.
    pub fn rim(&self) -> Option<&Ring> {
        RIM_SUPPORT.iter().find_map(|&least| {
            self.rings
                .iter()
                .filter(|r| r.bounds_body() && r.support > least)
                .max_by(|a, b| a.ellipse.major.total_cmp(&b.ellipse.major))
        })
    }

    /// The outermost well-drawn ellipse.
    pub fn outline(&self) -> Option<&Ring> {
        self.rings.first()
    }
}

/// Share of a rim's points that must lie on edges: once for clear ones, once for what there is.
const RIM_SUPPORT: [f64; 2] = [0.8, 0.6];

/// Finds the ellipses of a base. `lightness` is L* on a map `step` times smaller than the view.
pub fn find(lightness: &Plane, step: f64) -> Underside {
    let k = (lightness.width().max(lightness.height()) as f32 / SEARCH_SIDE)
        .round()
        .max(1.0);
    let small = lightness.shrink(k as usize).blur(1.0);
    let edges = Edges::of(&small, LEAST_GRADIENT);
    let mut chains: Vec<Vec<Point<View>>> = edges
        .chains
        .iter()
        .map(|c| {
            c.iter()
                .map(|e| Point::new(e.x as f64 + 0.5, e.y as f64 + 0.5))
                .collect()
        })
        .collect();
    chains.sort_by_key(|c: &Vec<_>| std::cmp::Reverse(c.len()));
    chains.truncate(CHAINS);
    let frame = (small.width() as f64, small.height() as f64);
    let mut found: Vec<Ring> = Vec::new();
    let mut consider = |points: &[Point<View>]| {
        if let Some(ring) = ring_of(points, &edges, frame) {
            found.push(ring);
        }
    };
    for (i, a) in chains.iter().enumerate() {
        consider(a);
        for b in &chains[i + 1..] {
            let both: Vec<_> = a.iter().chain(b).copied().collect();
            consider(&both);
        }
    }
    let scale = f64::from(k) * step;
    let rings = distinct(found, &edges, frame, scale)
        .into_iter()
        .map(|r| stepped(r, lightness, step))
        .collect();
    Underside { rings }
}

/// The ring with its step of lightness measured.
fn stepped(ring: Ring, lightness: &Plane, step: f64) -> Ring {
    let e = ring.ellipse.to_scale(1.0 / step);
    Ring {
        step: median_step(&e, lightness),
        ..ring
    }
}

/// Points along an ellipse that lie in the frame, with its normals there.
fn seen(e: &Ellipse<View>, frame: (f64, f64)) -> impl Iterator<Item = (Point<View>, (f64, f64))> {
    e.along(&*CIRCLE).filter(move |(p, _)| {
        p.x >= MARGIN && p.y >= MARGIN && p.x <= frame.0 - MARGIN && p.y <= frame.1 - MARGIN
    })
}

fn is_alike(a: &Ellipse<View>, b: &Ellipse<View>) -> bool {
    a.centre.distance(b.centre) < SAME * a.major
        && (a.major - b.major).abs() < SAME * a.major
        && (a.minor - b.minor).abs() < SAME * a.major
}

fn ring_of(points: &[Point<View>], edges: &Edges, frame: (f64, f64)) -> Option<Ring> {
    let mut ellipse = Ellipse::fit(points)?;
    let mut ring = measure(&ellipse, edges, frame)?;
    // Refit to all edges that support it, twice.
    for _ in 0..2 {
        let supporters = supporters(&ellipse, edges);
        let Some(better) = Ellipse::fit(&supporters) else {
            break;
        };
        match measure(&better, edges, frame) {
            Some(r) if r.support * r.visible >= ring.support * ring.visible => {
                (ellipse, ring) = (better, r);
            }
            _ => break,
        }
    }
    (ring.support >= LEAST_SUPPORT).then_some(ring)
}

/// Median difference between 8 % inside and 8 % outside of an ellipse.
fn median_step(e: &Ellipse<View>, plane: &Plane) -> f64 {
    let (w, h) = (plane.width() as f64, plane.height() as f64);
    let at = |k: f64, t: f64| {
        let p = e.scaled(k).at(t).0;
        (p.x >= 0.0 && p.y >= 0.0 && p.x < w && p.y < h)
            .then(|| plane.sample(p.x as f32, p.y as f32))
    };
    let mut steps: Vec<f32> = (0..SAMPLES)
        .filter_map(|i| {
            let t = std::f64::consts::TAU * i as f64 / SAMPLES as f64;
            Some(at(1.08, t)? - at(0.92, t)?)
        })
        .collect();
    f64::from(crate::raster::quantile(&mut steps, 0.5))
}

fn is_base_like(e: &Ellipse<View>, frame: (f64, f64)) -> bool {
    let side = frame.0.max(frame.1);
    e.minor > SMALLEST * side && e.minor / e.major > FLATTEST && e.major < 1.5 * side
}

fn measure(e: &Ellipse<View>, edges: &Edges, frame: (f64, f64)) -> Option<Ring> {
    if !is_base_like(e, frame) {
        return None;
    }
    let (mut inside, mut drawn) = (0usize, 0usize);
    for (p, normal) in seen(e, frame) {
        inside += 1;
        drawn += usize::from(edge_near(p, normal, edges).is_some());
    }
    let visible = inside as f64 / SAMPLES as f64;
    (visible >= LEAST_VISIBLE).then(|| Ring {
        ellipse: *e,
        support: drawn as f64 / inside.max(1) as f64,
        visible,
        step: 0.0,
    })
}

fn edge_near(p: Point<View>, normal: (f64, f64), edges: &Edges) -> Option<Point<View>> {
    (-REACH..=REACH).find_map(|k| {
        let (x, y) = (p.x + normal.0 * k as f64, p.y + normal.1 * k as f64);
        let e = edges.at(x.floor() as i64, y.floor() as i64)?;
        let along = (e.gx * normal.0 as f32 + e.gy * normal.1 as f32).abs();
        (along > ALONG_NORMAL).then(|| Point::new(e.x as f64 + 0.5, e.y as f64 + 0.5))
    })
}

/// Share of the visible circumference drawn by edges that no ring of `kept` lies on.
fn fresh(ring: &Ring, kept: &[Ring], edges: &Edges, frame: (f64, f64)) -> f64 {
    let (mut inside, mut drawn) = (0usize, 0usize);
    for (p, normal) in seen(&ring.ellipse, frame) {
        inside += 1;
        let explained = |q: &Point<View>| {
            kept.iter().any(|o| {
                let e = &o.ellipse;
                (e.radius_of(*q) - 1.0).abs() * e.minor < EXPLAINED
            })
        };
        drawn += usize::from(edge_near(p, normal, edges).is_some_and(|q| !explained(&q)));
    }
    drawn as f64 / inside.max(1) as f64
}

fn supporters(e: &Ellipse<View>, edges: &Edges) -> Vec<Point<View>> {
    (0..2 * SAMPLES)
        .filter_map(|i| {
            let (p, normal) = e.at(std::f64::consts::TAU * i as f64 / (2 * SAMPLES) as f64);
            edge_near(p, normal, edges)
        })
        .collect()
}

/// The best of each group of like ellipses, the largest first, in view pixels. What a better-drawn
/// ellipse explains counts no more: an ellipse that leans on half of the rim is no ring.
fn distinct(mut found: Vec<Ring>, edges: &Edges, frame: (f64, f64), k: f64) -> Vec<Ring> {
    found.sort_by(|a, b| (b.support * b.visible).total_cmp(&(a.support * a.visible)));
    let mut kept: Vec<Ring> = Vec::new();
    for ring in found {
        let e = ring.ellipse;
        let alike = |o: &Ring| is_alike(&o.ellipse, &e);
        if kept.len() == RINGS {
            break;
        }
        if !kept.iter().any(alike) && fresh(&ring, &kept, edges, frame) >= LEAST_SUPPORT {
            kept.push(ring);
        }
    }
    for ring in &mut kept {
        ring.ellipse = ring.ellipse.to_scale(k);
    }
    kept.sort_by(|a, b| b.ellipse.major.total_cmp(&a.ellipse.major));
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tilted_plate_is_found() {
        let e = Ellipse::<View> {
            centre: Point::new(300.0, 240.0),
            major: 210.0,
            minor: 150.0,
            angle: 0.6,
        };
        let mut p = Plane::filled(640, 480, 40.0);
        for y in 0..480 {
            for x in 0..640 {
                let r = e.radius_of(Point::new(x as f64 + 0.5, y as f64 + 0.5));
                if r < 1.0 {
                    p.set(x, y, if (0.6..0.63).contains(&r) { 70.0 } else { 85.0 });
                }
            }
        }
        let found = find(&p, 1.0);
        let rim = found.outline().expect("a rim");
        assert!(rim.ellipse.centre.distance(e.centre) < 4.0, "{rim:?}");
        assert!((rim.ellipse.major - 210.0).abs() < 6.0 && (rim.ellipse.minor - 150.0).abs() < 6.0);
        assert!(rim.support > 0.9 && rim.visible > 0.99);
        assert!(found.rings.len() >= 2);
    }
}
