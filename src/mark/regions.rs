//! Proposing regions of the view that may hold a mark.
//!
//! Lettering and emblems turn: within a few pixels their edges run in many directions. Rims, foot
//! rings, scratches and shadows do not. The smaller eigenvalue of the structure tensor of the ink
//! (Förstner and Gülch 1987; Shi and Tomasi 1994) keeps the former and drops the latter. What
//! stands close together, measured by its own size, forms a region; the circle around a region
//! does not depend on how the mark is turned.

use imageproc::region_labelling::{Connectivity, connected_components};

use crate::geometry::{Photo, Point, Quad, View};
use crate::raster::Plane;
use crate::underside::Underside;

/// Blur over which edge directions are gathered, in pixels of the search map.
const GATHER: f32 = 2.2;
/// Contrast above this many noise units is compressed: it is ink beyond doubt.
const FULL_CONTRAST: f32 = 12.0;
/// Turning strength (square root of the smaller eigenvalue, noise units a pixel) from which a
/// pixel may belong to lettering: once for all there is, once for what stands out.
const TURNING: [f32; 2] = [0.75, 1.8];
/// A lettered component needs this many times that strength somewhere.
const PEAK: f32 = 1.5;
/// Ink (noise units) from which pixels join into strokes: frames, emblems, long lines.
const INK: f32 = 5.0;
/// A stroke belongs to a region it crosses if it is at most this many times as large.
const STROKE_SIZE: f64 = 1.7;
/// Components of fewer pixels (search map) are specks.
const LEAST_PIXELS: u32 = 6;
/// Half-width of the band around a known ring that is set aside, as a share of its radius.
const RING_BAND: f64 = 0.02;
/// Rings with a semi-axis below this share of the map's longer side may belong to a mark.
const RING_LEAST: f64 = 0.27;
/// A rim bounds the search where its longer semi-axis is at least this share of the map's longer side.
const RIM_LEAST: f64 = 0.3;
/// Gap that is bridged, in units of the mean size of the two neighbours: once for tight marks,
/// once for loosely set ones.
const BRIDGES: [f64; 2] = [0.7, 1.6];
/// Bridged gaps stay within these shares of the map's longer side.
const BRIDGE_LEAST: f64 = 0.008;
const BRIDGE_MOST: f64 = 0.07;
/// Components taken, the weightiest first.
const COMPONENTS: usize = 900;
/// A region's radius stays within these shares of the map's longer side.
const RADIUS_LEAST: f64 = 0.018;
const RADIUS_MOST: f64 = 0.62;
/// Regions overlapping more than this (of the smaller circle, and of like size) are one.
const SAME_REGION: f64 = 0.72;

/// A place that may hold a mark. Centre and radius are measured after `upright` is applied to
/// view coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Linear map that undoes the tilt which the base's rings reveal (identity where unknown).
    pub upright: [[f64; 2]; 2],
    pub centre: (f64, f64),
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

/// One connected blob of ink.
#[derive(Debug, Clone)]
struct Component {
    bounds: (f64, f64, f64, f64),
    extremes: [(f64, f64); 8],
    pixels: f64,
    /// Sum and largest of the turning strength.
    mass: f64,
    peak: f32,
}

impl Component {
    fn size(&self) -> f64 {
        (self.bounds.2 - self.bounds.0).max(self.bounds.3 - self.bounds.1)
    }
}

/// Turning strength of every pixel of a contrast map.
fn turning(contrast: &Plane) -> Plane {
    let (w, h) = (contrast.width(), contrast.height());
    let c = contrast.map(|v| FULL_CONTRAST * (v / FULL_CONTRAST).tanh());
    let (mut xx, mut xy, mut yy) = (
        Plane::filled(w, h, 0.0),
        Plane::filled(w, h, 0.0),
        Plane::filled(w, h, 0.0),
    );
    for y in 1..h.saturating_sub(1) {
        let (above, here, below) = (c.row(y - 1), c.row(y), c.row(y + 1));
        for x in 1..w.saturating_sub(1) {
            let (gx, gy) = (
                (here[x + 1] - here[x - 1]) / 2.0,
                (below[x] - above[x]) / 2.0,
            );
            xx.set(x, y, gx * gx);
            xy.set(x, y, gx * gy);
            yy.set(x, y, gy * gy);
        }
    }
    let (xx, xy, yy) = (xx.blur(GATHER), xy.blur(GATHER), yy.blur(GATHER));
    let mut out = Plane::filled(w, h, 0.0);
    for (i, o) in out.data_mut().iter_mut().enumerate() {
        let (a, b, c) = (xx.data()[i], xy.data()[i], yy.data()[i]);
        let least = (a + c) / 2.0 - (((a - c) / 2.0).powi(2) + b * b).sqrt();
        *o = least.max(0.0).sqrt();
    }
    out
}

/// Proposes at most `limit` regions, best first. `contrast` is ink in noise units on a map that is
/// `step` times smaller than the view.
pub fn propose(contrast: &Plane, underside: &Underside, step: f64, limit: usize) -> Vec<Region> {
    if limit == 0 {
        return Vec::new();
    }
    let upright = tilt_of(underside);
    let side = contrast.width().max(contrast.height()) as f64;
    let turning = turning(contrast);
    let strokes = components(contrast, INK, underside, step);
    let mut regions: Vec<Region> = TURNING
        .iter()
        .flat_map(|&least| {
            let mut letters = components(&turning, least, underside, step);
            letters.retain(|c| c.peak >= PEAK * least);
            letters.truncate(COMPONENTS);
            BRIDGES
                .iter()
                .flat_map(|&bridge| cluster(&letters, bridge, side))
                .filter_map(|group| {
                    let members: Vec<&Component> = group.iter().map(|&i| &letters[i]).collect();
                    region_of(
                        &members,
                        &with_strokes(&members, &strokes),
                        &upright,
                        side,
                        step,
                    )
                })
                .collect::<Vec<_>>()
        })
        .collect();
    regions.sort_by(|a, b| {
        b.score
            .total_cmp(&a.score)
            .then(a.centre.0.total_cmp(&b.centre.0))
    });
    let mut kept: Vec<Region> = Vec::new();
    for r in regions {
        if kept.len() < limit && !kept.iter().any(|k| is_same(k, &r)) {
            kept.push(r);
        }
    }
    kept
}

/// All that stands out on a base, strokes and lettering, and the tilt to undo.
#[derive(Debug, Clone)]
pub struct StandingInk {
    components: Vec<Component>,
    upright: [[f64; 2]; 2],
    step: f64,
}

impl StandingInk {
    /// `contrast` is ink in noise units on a map that is `step` times smaller than the view.
    pub fn of(contrast: &Plane, underside: &Underside, step: f64) -> Self {
        let mut found = components(contrast, FAINT_INK, underside, step);
        found.extend(components(&turning(contrast), TURNING[0], underside, step));
        Self {
            components: found,
            upright: tilt_of(underside),
            step,
        }
    }
}

/// The region of a circle known beforehand, in view pixels; its hull is the ink found in it, or its
/// inscribed square where none stands out.
pub fn in_circle(centre: Point<View>, radius: f64, ink: &StandingInk) -> Region {
    let (upright, step) = (ink.upright, ink.step);
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
    let stretch = (upright[0][0] * upright[1][1] - upright[0][1] * upright[1][0])
        .abs()
        .sqrt();
    Region {
        upright,
        centre: turned(&upright, (centre.x, centre.y)),
        radius: (radius * stretch).max(1.0),
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
    Some(around(&corners, &IDENTITY))
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
        upright: IDENTITY,
        centre: (width / 2.0, height / 2.0),
        radius: width.hypot(height) / 2.0 * 0.9,
        score: 0.0,
        hull,
        parts: 0,
    }
}

/// The region of a box that is known beforehand, such as an exemplar's.
pub fn around(corners: &[Point<View>], upright: &[[f64; 2]; 2]) -> Region {
    let points: Vec<(f64, f64)> = corners
        .iter()
        .map(|p| turned(upright, (p.x, p.y)))
        .collect();
    let (centre, radius) = enclosing_circle(&points);
    Region {
        upright: *upright,
        centre,
        radius: radius.max(1.0),
        score: 0.0,
        hull: corners.to_vec(),
        parts: 0,
    }
}

fn turned(upright: &[[f64; 2]; 2], (x, y): (f64, f64)) -> (f64, f64) {
    (
        upright[0][0] * x + upright[0][1] * y,
        upright[1][0] * x + upright[1][1] * y,
    )
}

/// No tilt to undo.
pub const IDENTITY: [[f64; 2]; 2] = [[1.0, 0.0], [0.0, 1.0]];

/// Stretch along the short axis of the best-drawn ring, which makes it round again.
pub fn tilt_of(underside: &Underside) -> [[f64; 2]; 2] {
    let best = underside
        .rings
        .iter()
        .filter(|r| r.support > 0.5)
        .max_by(|a, b| {
            let weight =
                |r: &crate::underside::Ring| r.support * r.visible * r.ellipse.major.sqrt();
            weight(a).total_cmp(&weight(b))
        });
    let Some(ring) = best else { return IDENTITY };
    let e = ring.ellipse;
    let stretch = e.major / e.minor;
    let (s, c) = e.angle.sin_cos();
    // Turn the long axis to x, stretch y, turn back.
    [
        [c * c + stretch * s * s, c * s * (1.0 - stretch)],
        [c * s * (1.0 - stretch), s * s + stretch * c * c],
    ]
}

/// Connected components of a map from a threshold on, the weightiest first.
fn components(map: &Plane, least: f32, underside: &Underside, step: f64) -> Vec<Component> {
    let (w, h) = (map.width(), map.height());
    let side = w.max(h) as f64;
    let rings: Vec<_> = underside
        .rings
        .iter()
        .map(|r| (r, r.ellipse.to_scale::<View>(1.0 / step)))
        .filter(|(_, e)| e.major > RING_LEAST * side)
        .collect();
    let outline = underside
        .rim()
        .map(|r| r.ellipse.to_scale::<View>(1.0 / step))
        .filter(|e| e.major > RIM_LEAST * side);
    let mut binary = image::GrayImage::new(w as u32, h as u32);
    for y in 0..h {
        for x in 0..w {
            if map.get(x, y) < least {
                continue;
            }
            let p = Point::new(x as f64 + 0.5, y as f64 + 0.5);
            let outside = outline.is_some_and(|e| e.radius_of(p) > 1.0 - RING_BAND);
            let on_ring = rings
                .iter()
                .any(|(_, e)| (e.radius_of(p) - 1.0).abs() < RING_BAND);
            if !outside && !on_ring {
                binary.put_pixel(x as u32, y as u32, image::Luma([255]));
            }
        }
    }
    let labels = connected_components(&binary, Connectivity::Eight, image::Luma([0u8]));
    let mut all = measure(&labels, map);
    all.sort_by(|a, b| {
        b.mass
            .total_cmp(&a.mass)
            .then(a.bounds.0.total_cmp(&b.bounds.0))
    });
    all
}

/// The strokes that cross a group or frame it.
fn with_strokes<'a>(members: &[&Component], strokes: &'a [Component]) -> Vec<&'a Component> {
    let bounds = bounds_of(members);
    let size = (bounds.2 - bounds.0).max(bounds.3 - bounds.1);
    let margin = 0.06 * size;
    let grown = (
        bounds.0 - margin,
        bounds.1 - margin,
        bounds.2 + margin,
        bounds.3 + margin,
    );
    let within = |c: &Component| {
        let (x, y) = (
            (c.bounds.0 + c.bounds.2) / 2.0,
            (c.bounds.1 + c.bounds.3) / 2.0,
        );
        x > grown.0 && x < grown.2 && y > grown.1 && y < grown.3
    };
    strokes
        .iter()
        .filter(|s| within(s) && s.size() <= STROKE_SIZE * size)
        .collect()
}

fn bounds_of(members: &[&Component]) -> (f64, f64, f64, f64) {
    members.iter().fold(
        (
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        ),
        |b, c| {
            (
                b.0.min(c.bounds.0),
                b.1.min(c.bounds.1),
                b.2.max(c.bounds.2),
                b.3.max(c.bounds.3),
            )
        },
    )
}

fn measure(labels: &image::ImageBuffer<image::Luma<u32>, Vec<u32>>, map: &Plane) -> Vec<Component> {
    let count = labels.as_raw().iter().copied().max().unwrap_or(0) as usize;
    let blank = Component {
        bounds: (
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        ),
        extremes: [(0.0, 0.0); 8],
        pixels: 0.0,
        mass: 0.0,
        peak: 0.0,
    };
    let mut all = vec![blank; count + 1];
    let mut reach = vec![[f64::NEG_INFINITY; 8]; count + 1];
    for (x, y, l) in labels.enumerate_pixels() {
        let label = l.0[0] as usize;
        if label == 0 {
            continue;
        }
        let v = map.get(x as usize, y as usize);
        let c = &mut all[label];
        let (px, py) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
        c.bounds = (
            c.bounds.0.min(px - 0.5),
            c.bounds.1.min(py - 0.5),
            c.bounds.2.max(px + 0.5),
            c.bounds.3.max(py + 0.5),
        );
        c.pixels += 1.0;
        c.mass += f64::from(v.min(MASS_CAP));
        c.peak = c.peak.max(v);
        for (k, (dx, dy)) in DIRECTIONS.iter().enumerate() {
            let along = px * dx + py * dy;
            if along > reach[label][k] {
                reach[label][k] = along;
                c.extremes[k] = (px, py);
            }
        }
    }
    all.retain(|c| c.pixels >= f64::from(LEAST_PIXELS));
    all
}

/// Turning strength above which more does not make a pixel weightier.
const MASS_CAP: f32 = 4.0;
const DIAGONAL: f64 = std::f64::consts::FRAC_1_SQRT_2;
const DIRECTIONS: [(f64, f64); 8] = [
    (1.0, 0.0),
    (-1.0, 0.0),
    (0.0, 1.0),
    (0.0, -1.0),
    (DIAGONAL, DIAGONAL),
    (-DIAGONAL, DIAGONAL),
    (DIAGONAL, -DIAGONAL),
    (-DIAGONAL, -DIAGONAL),
];

/// Groups of component indices, joined where the gap is small for their size.
fn cluster(components: &[Component], bridge: f64, side: f64) -> Vec<Vec<usize>> {
    let n = components.len();
    let mut parent: Vec<usize> = (0..n).collect();
    fn root(parent: &mut [usize], mut i: usize) -> usize {
        while parent[i] != i {
            parent[i] = parent[parent[i]];
            i = parent[i];
        }
        i
    }
    for i in 0..n {
        for j in i + 1..n {
            let (a, b) = (&components[i], &components[j]);
            let reach = (bridge * (a.size() + b.size()) / 2.0)
                .clamp(BRIDGE_LEAST * side, BRIDGE_MOST * side);
            if gap(a.bounds, b.bounds) <= reach {
                let (ra, rb) = (root(&mut parent, i), root(&mut parent, j));
                parent[ra.max(rb)] = ra.min(rb);
            }
        }
    }
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); n];
    for i in 0..n {
        let r = root(&mut parent, i);
        groups[r].push(i);
    }
    groups.retain(|g| !g.is_empty());
    groups
}

fn gap(a: (f64, f64, f64, f64), b: (f64, f64, f64, f64)) -> f64 {
    let dx = (b.0 - a.2).max(a.0 - b.2).max(0.0);
    let dy = (b.1 - a.3).max(a.1 - b.3).max(0.0);
    dx.hypot(dy)
}

fn region_of(
    members: &[&Component],
    strokes: &[&Component],
    upright: &[[f64; 2]; 2],
    side: f64,
    step: f64,
) -> Option<Region> {
    let hull: Vec<(f64, f64)> = members
        .iter()
        .chain(strokes)
        .flat_map(|c| c.extremes)
        .collect();
    let points: Vec<(f64, f64)> = hull.iter().map(|&p| turned(upright, p)).collect();
    let (centre, radius) = enclosing_circle(&points);
    if !(RADIUS_LEAST * side..=RADIUS_MOST * side).contains(&radius) {
        return None;
    }
    let mass: f64 = members.iter().map(|c| c.mass).sum();
    let fill = mass / f64::from(MASS_CAP) / (std::f64::consts::PI * radius * radius);
    Some(Region {
        upright: *upright,
        centre: (centre.0 * step, centre.1 * step),
        radius: radius * step,
        score: mass.sqrt() * fill.sqrt() * (members.len() as f64).min(30.0).sqrt(),
        hull: hull
            .iter()
            .map(|&(x, y)| Point::new(x * step, y * step))
            .collect(),
        parts: members.len(),
    })
}

/// A small circle around all points (Ritter 1990, then tightened), within a few per cent of the
/// smallest.
fn enclosing_circle(points: &[(f64, f64)]) -> ((f64, f64), f64) {
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
    let d = (a.centre.0 - b.centre.0).hypot(a.centre.1 - b.centre.1);
    let (small, large) = (a.radius.min(b.radius), a.radius.max(b.radius));
    small / large > SAME_REGION && d < (1.0 - SAME_REGION) * large
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_strokes_make_one_region_and_a_far_speck_another() {
        let mut p = Plane::filled(600, 450, 0.5);
        for (row, y) in [180usize, 200, 220].iter().enumerate() {
            for letter in 0..10 {
                for yy in *y..y + 10 {
                    for xx in 0..4 {
                        p.set(200 + 12 * letter + row * 3 + xx, yy, 12.0);
                    }
                }
            }
        }
        for y in 400..404 {
            for x in 50..54 {
                p.set(x, y, 12.0);
            }
        }
        let found = propose(&p, &Underside::default(), 2.0, 4);
        let best = &found[0];
        assert!((best.centre.0 - 2.0 * 259.0).abs() < 20.0, "{best:?}");
        assert!((best.centre.1 - 2.0 * 205.0).abs() < 20.0);
        assert!(best.radius > 2.0 * 58.0 && best.radius < 2.0 * 75.0);
    }

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
