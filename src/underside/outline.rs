//! The piece's outline where its table is patterned: what the edges of a cloth drown is still the end of
//! one smooth glaze.
//!
//! From a ring on the base, rays run outwards over the glaze until its colour breaks off; an ellipse
//! through the ends of most of them is the outline (a robust fit by consensus, Fischler and Bolles 1981).

use super::ellipse::Ellipse;
use crate::geometry::{Point, View};
use crate::raster::Plane;

/// Rays around the seed.
const RAYS: usize = 120;
/// Where they begin, in radii of the seed, and how far they run.
const FROM: f64 = 1.08;
const TO: f64 = 3.5;
/// Colour difference (CIE 1976) from what lay before at which a glaze breaks off ...
const BREAK: f32 = 6.0;
/// ... over this share of so many steps, one pixel each: more than a foot ring is wide, and what a cloth has
/// of the glaze's own colour does not make up for the rest.
const LASTING: usize = 9;
const BROKEN: usize = 7;
/// Share of each new step in what the glaze is taken to look like: shading changes slowly.
const FOLLOWED: f32 = 0.25;
/// Rays drawn for one trial ellipse, trials, and how near (radii) a ray's end lies to its ellipse.
const DRAWN: usize = 7;
const TRIALS: usize = 60;
const NEAR: f64 = 0.025;

/// An outline, and what speaks for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Outline {
    pub ellipse: Ellipse<View>,
    /// Share of the rays that do not leave the frame which end on it, 0 to 1.
    pub support: f64,
    /// Median colour difference (CIE 1976) at their ends.
    pub parting: f64,
}

/// Where a ray breaks off, and by how much.
type End = (Point<View>, f32);

/// The outline around `seed`, on the same map as `lab`.
pub(super) fn around(seed: &Ellipse<View>, lab: &[Plane; 3]) -> Option<Outline> {
    let ends: Vec<End> = (0..RAYS).filter_map(|i| ray(seed, angle(i), lab)).collect();
    if ends.len() < RAYS / 2 {
        return None;
    }
    let near = |e: &Ellipse<View>, p: &Point<View>| (e.radius_of(*p) - 1.0).abs() < NEAR;
    let on = |e: &Ellipse<View>| ends.iter().filter(|(p, _)| near(e, p)).count();
    let mut best: Option<(usize, Ellipse<View>)> = None;
    for trial in 0..TRIALS {
        let points: Vec<Point<View>> = (0..DRAWN)
            .map(|k| ends[pick(trial, k, ends.len())].0)
            .collect();
        let Some(e) = Ellipse::fit(&points) else {
            continue;
        };
        let count = on(&e);
        if best.is_none_or(|b| count > b.0) {
            best = Some((count, e));
        }
    }
    let (_, first) = best?;
    let agreeing: Vec<Point<View>> = ends
        .iter()
        .map(|e| e.0)
        .filter(|p| near(&first, p))
        .collect();
    let ellipse = Ellipse::fit(&agreeing)?;
    let mut steps: Vec<f32> = ends
        .iter()
        .filter(|(p, _)| near(&ellipse, p))
        .map(|e| e.1)
        .collect();
    (!steps.is_empty()).then(|| Outline {
        ellipse,
        support: steps.len() as f64 / ends.len() as f64,
        parting: f64::from(crate::raster::quantile(&mut steps, 0.5)),
    })
}

fn angle(ray: usize) -> f64 {
    std::f64::consts::TAU * ray as f64 / RAYS as f64
}

/// Follows the glaze outwards. `None` where it runs out of the frame or has no end.
fn ray(seed: &Ellipse<View>, t: f64, lab: &[Plane; 3]) -> Option<End> {
    let (from, to) = (seed.scaled(FROM).at(t).0, seed.scaled(TO).at(t).0);
    let length = from.distance(to);
    let at = |step: usize| {
        let k = step as f64 / length;
        Point::<View>::new(from.x + k * (to.x - from.x), from.y + k * (to.y - from.y))
    };
    let look = |p: Point<View>| {
        let (x, y) = (p.x as f32, p.y as f32);
        let inside = lab[0].contains(x, y);
        inside.then(|| [0, 1, 2].map(|c| lab[c].sample(x, y)))
    };
    let line: Vec<[f32; 3]> = (0..=length as usize).map_while(|s| look(at(s))).collect();
    let mut glaze = *line.first()?;
    for (step, seen) in line.iter().enumerate().skip(1) {
        if apart(seen, &glaze) > BREAK {
            // A break too near to the frame cannot be told from a ring.
            let beyond = line.get(step..step + LASTING)?;
            let mut beyond: Vec<f32> = beyond.iter().map(|c| apart(c, &glaze)).collect();
            if beyond.iter().filter(|&&d| d > BREAK).count() >= BROKEN {
                return Some((at(step), crate::raster::quantile(&mut beyond, 0.5)));
            }
        } else {
            for c in 0..3 {
                glaze[c] += FOLLOWED * (seen[c] - glaze[c]);
            }
        }
    }
    None
}

/// Colour difference (CIE 1976).
fn apart(a: &[f32; 3], b: &[f32; 3]) -> f32 {
    (0..3).map(|c| (a[c] - b[c]).powi(2)).sum::<f32>().sqrt()
}

/// The `k`-th of a trial's rays: one from each part of the circle, the same on every machine.
fn pick(trial: usize, k: usize, count: usize) -> usize {
    // Steps of a low-discrepancy sequence (Weyl 1916; the golden section, from memory) within each part.
    let within = ((trial * DRAWN + k) as f64 * 0.618_033_988_749_895).fract();
    (((k as f64 + within) / DRAWN as f64) * count as f64) as usize % count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_patterned_cloth_does_not_hide_the_rim() {
        let rim = Ellipse::<View> {
            centre: Point::new(160.0, 120.0),
            major: 95.0,
            minor: 80.0,
            angle: 0.4,
        };
        let mut light = Plane::filled(320, 240, 0.0);
        for y in 0..240 {
            for x in 0..320 {
                let r = rim.radius_of(Point::new(x as f64 + 0.5, y as f64 + 0.5)) as f32;
                let cloth = if (x / 7 + y / 7) % 2 == 0 { 40.0 } else { 78.0 };
                light.set(x, y, if r < 1.0 { 80.0 - 12.0 * r * r } else { cloth });
            }
        }
        let grey = Plane::filled(320, 240, 0.0);
        let found = around(&rim.scaled(0.55), &[light, grey.clone(), grey]).expect("an outline");
        assert!(found.ellipse.centre.distance(rim.centre) < 2.0, "{found:?}");
        assert!((found.ellipse.major - rim.major).abs() < 3.0, "{found:?}");
        assert!(found.support > 0.7 && found.parting > 10.0, "{found:?}");
    }

    #[test]
    fn one_glaze_to_the_frame_has_no_outline() {
        let seed = Ellipse::<View> {
            centre: Point::new(160.0, 120.0),
            major: 60.0,
            minor: 60.0,
            angle: 0.0,
        };
        let light = Plane::filled(320, 240, 80.0);
        assert!(around(&seed, &[light.clone(), light.clone(), light]).is_none());
    }
}
