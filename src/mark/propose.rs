//! Proposing regions of the view that may hold a mark, from its lettering.
//!
//! What stands close together, measured by its own size, forms a region; strokes that cross or frame it
//! join it.

use super::regions::{Region, enclosing_circle, is_same};
use super::strokes::{Component, INK, MASS_CAP, TURNING, bounds_of, components, turning};
use crate::geometry::Point;
use crate::raster::Plane;
use crate::underside::Underside;

/// A lettered component needs this many times that strength somewhere.
const PEAK: f32 = 1.5;
/// A stroke belongs to a region it crosses if it is at most this many times as large.
const STROKE_SIZE: f64 = 1.7;
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

/// Proposes at most `limit` regions, best first. `contrast` is ink in noise units on a map that is
/// `step` times smaller than the view.
pub fn propose(contrast: &Plane, underside: &Underside, step: f64, limit: usize) -> Vec<Region> {
    if limit == 0 {
        return Vec::new();
    }
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
                    region_of(&members, &with_strokes(&members, &strokes), side, step)
                })
                .collect::<Vec<_>>()
        })
        .collect();
    regions.sort_by(|a, b| {
        b.score
            .total_cmp(&a.score)
            .then(a.centre.x.total_cmp(&b.centre.x))
    });
    let mut kept: Vec<Region> = Vec::new();
    for r in regions {
        if kept.len() < limit && !kept.iter().any(|k| is_same(k, &r)) {
            kept.push(r);
        }
    }
    kept
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
    side: f64,
    step: f64,
) -> Option<Region> {
    let hull: Vec<(f64, f64)> = members
        .iter()
        .chain(strokes)
        .flat_map(|c| c.extremes)
        .collect();
    let (centre, radius) = enclosing_circle(&hull);
    if !(RADIUS_LEAST * side..=RADIUS_MOST * side).contains(&radius) {
        return None;
    }
    let mass: f64 = members.iter().map(|c| c.mass).sum();
    let fill = mass / f64::from(MASS_CAP) / (std::f64::consts::PI * radius * radius);
    Some(Region {
        centre: Point::new(centre.0 * step, centre.1 * step),
        radius: radius * step,
        score: mass.sqrt() * fill.sqrt() * (members.len() as f64).min(30.0).sqrt(),
        hull: hull
            .iter()
            .map(|&(x, y)| Point::new(x * step, y * step))
            .collect(),
        parts: members.len(),
    })
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
        assert!((best.centre.x - 2.0 * 259.0).abs() < 20.0, "{best:?}");
        assert!((best.centre.y - 2.0 * 205.0).abs() < 20.0);
        assert!(best.radius > 2.0 * 58.0 && best.radius < 2.0 * 75.0);
    }
}
