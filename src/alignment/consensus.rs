//! A map from a mark to an exemplar on which many local points agree.
//!
//! A single pair of described points carries place, scale and axis and therefore a whole
//! similarity (Lowe 2004; one-point sampling as in Ortín and Montiel 2001). With at most a few
//! hundred pairs every one is tried, so the outcome needs no random numbers and repeats exactly.
//! The best hypothesis grows to an affine map and, where the points carry it, a homography.

use nalgebra::{Matrix3, Vector3};

use crate::descriptors::keypoints::{Keypoint, LENGTH, PointSet};
use crate::descriptors::product_transposed;
use crate::geometry::{Exemplar, Frame, Homography, Point};

/// Squared-distance ratio to the second-best point elsewhere in the exemplar (Lowe's 0.8, a little
/// wider since strokes repeat within a mark).
const RATIO: f32 = 0.86;
/// Two points of the exemplar nearer than this many of their sigmas are the same feature.
const SAME_FEATURE: f32 = 3.0;
/// Pairs kept for the consensus, the most alike first.
const PAIRS: usize = 220;
/// Largest miss of a pair that agrees with a similarity, as a share of the exemplar frame's side.
/// Wide, since a similarity only approximates a tilted view.
const COARSE_MISS: f64 = 0.035;
/// The same for the refined map.
const FINE_MISS: f64 = 0.012;
/// Largest disagreement in scale (natural log) and turn (radians) of an agreeing pair.
const SCALE_MISS: f64 = 0.45;
const TURN_MISS: f64 = 0.45;
/// Pairs needed before a homography's eight numbers are trusted.
const HOMOGRAPHY_PAIRS: usize = 14;
/// Pairs needed for an affine map.
const AFFINE_PAIRS: usize = 5;
/// Magnification between two frames that are both cut to their marks.
pub const CUT_TO_CUT: f64 = 3.5;

/// A point of the mark and the point of the exemplar it looks like.
#[derive(Debug, Clone, Copy)]
struct Pair {
    mark: usize,
    exemplar: usize,
    likeness: f32,
}

/// What the points agree on.
#[derive(Debug, Clone)]
pub struct Consensus<F: Frame> {
    pub to_exemplar: Homography<F, Exemplar>,
    /// Distinct agreeing points (several pairs at one place count once).
    pub agreeing: usize,
    /// Pairs that were tried.
    pub pairs: usize,
}

/// Finds the map on which most points agree; `None` below three of them. `side` is the side of the
/// (square) exemplar frame in pixels; `enlarge` the largest magnification (and one over the largest
/// reduction) between the two frames.
pub fn agree<F: Frame>(
    mark: &PointSet,
    exemplar: &PointSet,
    side: f64,
    enlarge: f64,
) -> Option<Consensus<F>> {
    let pairs = pair_up(&likenesses(mark, exemplar), mark, exemplar);
    let best = pairs
        .iter()
        .filter_map(|p| {
            let seed = similarity_of(p, mark, exemplar, enlarge)?;
            Some((weight(&seed, &pairs, mark, exemplar, side), seed))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    let mut map = best.1;
    for miss in [COARSE_MISS, COARSE_MISS * 0.7, FINE_MISS * 1.4, FINE_MISS] {
        let inliers = inliers(&map, &pairs, mark, exemplar, miss * side);
        map = refit(&inliers, mark, exemplar)
            .filter(|m| is_plausible(m, enlarge))
            .unwrap_or(map);
    }
    let inliers = inliers(&map, &pairs, mark, exemplar, FINE_MISS * side);
    let agreeing = distinct(&inliers, mark, exemplar);
    (agreeing >= 3).then_some(Consensus {
        to_exemplar: map,
        agreeing,
        pairs: pairs.len(),
    })
}

/// Likeness of all points of `a` (rows) to all of `b` (columns).
fn likenesses(a: &PointSet, b: &PointSet) -> Vec<f32> {
    let mut out = vec![0.0f32; a.len() * b.len()];
    product_transposed(a.rows(), b.rows(), LENGTH, &mut out);
    out
}

fn pair_up(likeness: &[f32], mark: &PointSet, exemplar: &PointSet) -> Vec<Pair> {
    let n = exemplar.len();
    if n < 2 {
        return Vec::new();
    }
    let mut pairs: Vec<Pair> = (0..mark.len())
        .filter_map(|i| best_pair(i, &likeness[i * n..(i + 1) * n], exemplar))
        .collect();
    pairs.sort_by(|a, b| b.likeness.total_cmp(&a.likeness).then(a.mark.cmp(&b.mark)));
    pairs.truncate(PAIRS);
    pairs
}

fn best_pair(mark: usize, row: &[f32], exemplar: &PointSet) -> Option<Pair> {
    let (best, likeness) =
        row.iter()
            .copied()
            .enumerate()
            .fold(
                (0, f32::NEG_INFINITY),
                |b, (j, s)| if s > b.1 { (j, s) } else { b },
            );
    // Unit vectors: squared distance is 2 - 2 s. A row that beats the ratio everywhere is rare, so
    // the search for the second stops at the first point that spoils it.
    let limit = 1.0 - (1.0 - likeness) / (RATIO * RATIO);
    let own = exemplar.points[best];
    let spoiled = row.iter().enumerate().any(|(j, &s)| {
        s > limit && {
            let p = &exemplar.points[j];
            (p.x - own.x).hypot(p.y - own.y) >= SAME_FEATURE * own.sigma.max(p.sigma)
        }
    });
    (!spoiled).then_some(Pair {
        mark,
        exemplar: best,
        likeness,
    })
}

fn similarity_of<F: Frame>(
    pair: &Pair,
    mark: &PointSet,
    exemplar: &PointSet,
    enlarge: f64,
) -> Option<Homography<F, Exemplar>> {
    let (a, b) = (mark.points[pair.mark], exemplar.points[pair.exemplar]);
    let scale = f64::from(b.sigma / a.sigma);
    if !(1.0 / enlarge..=enlarge).contains(&scale) {
        return None;
    }
    let turn = turn_of(pair, mark, exemplar);
    let (s, c) = turn.sin_cos();
    let (x, y) = (f64::from(a.x), f64::from(a.y));
    let tx = f64::from(b.x) - scale * (c * x - s * y);
    let ty = f64::from(b.y) - scale * (s * x + c * y);
    Some(Homography::similarity(scale, turn, tx, ty))
}

fn turn_of(pair: &Pair, mark: &PointSet, exemplar: &PointSet) -> f64 {
    f64::from(exemplar.points[pair.exemplar].axis - mark.points[pair.mark].axis)
}

/// Sum of how well each pair agrees with a similarity, in place, scale and turn.
fn weight<F: Frame>(
    map: &Homography<F, Exemplar>,
    pairs: &[Pair],
    mark: &PointSet,
    exemplar: &PointSet,
    side: f64,
) -> f64 {
    let rows = map.rows();
    let (scale, turn) = (rows[0][0].hypot(rows[1][0]), rows[1][0].atan2(rows[0][0]));
    let reach = COARSE_MISS * side;
    pairs
        .iter()
        .map(|p| {
            let (a, b) = (mark.points[p.mark], exemplar.points[p.exemplar]);
            let ratio = (f64::from(b.sigma / a.sigma) / scale).ln().abs();
            let delta = angle_between(turn_of(p, mark, exemplar), turn);
            if ratio > SCALE_MISS || delta > TURN_MISS {
                return 0.0;
            }
            let miss = miss_of(map, p, mark, exemplar);
            (1.0 - miss / reach).max(0.0)
        })
        .sum()
}

fn angle_between(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(std::f64::consts::TAU);
    d.min(std::f64::consts::TAU - d)
}

fn miss_of<F: Frame>(
    map: &Homography<F, Exemplar>,
    pair: &Pair,
    mark: &PointSet,
    exemplar: &PointSet,
) -> f64 {
    let (a, b) = (mark.points[pair.mark], exemplar.points[pair.exemplar]);
    map.apply(Point::new(f64::from(a.x), f64::from(a.y)))
        .map_or(f64::INFINITY, |p| {
            p.distance(Point::new(f64::from(b.x), f64::from(b.y)))
        })
}

fn inliers<F: Frame>(
    map: &Homography<F, Exemplar>,
    pairs: &[Pair],
    mark: &PointSet,
    exemplar: &PointSet,
    reach: f64,
) -> Vec<Pair> {
    pairs
        .iter()
        .filter(|p| miss_of(map, p, mark, exemplar) <= reach)
        .copied()
        .collect()
}

/// Least squares over the pairs: a homography, an affine map or nothing, by their number.
fn refit<F: Frame>(
    pairs: &[Pair],
    mark: &PointSet,
    exemplar: &PointSet,
) -> Option<Homography<F, Exemplar>> {
    let from: Vec<Point<F>> = pairs
        .iter()
        .map(|p| {
            Point::new(
                f64::from(mark.points[p.mark].x),
                f64::from(mark.points[p.mark].y),
            )
        })
        .collect();
    let to: Vec<Point<Exemplar>> = pairs
        .iter()
        .map(|p| {
            let k = exemplar.points[p.exemplar];
            Point::new(f64::from(k.x), f64::from(k.y))
        })
        .collect();
    if distinct(pairs, mark, exemplar) >= HOMOGRAPHY_PAIRS {
        Homography::fit(&from, &to)
    } else if distinct(pairs, mark, exemplar) >= AFFINE_PAIRS {
        fit_affine(&from, &to)
    } else {
        None
    }
}

/// Least-squares affine map.
pub fn fit_affine<F: Frame>(
    from: &[Point<F>],
    to: &[Point<Exemplar>],
) -> Option<Homography<F, Exemplar>> {
    let mut ata = Matrix3::zeros();
    let (mut bu, mut bv) = (Vector3::zeros(), Vector3::zeros());
    for (p, q) in from.iter().zip(to) {
        let r = Vector3::new(p.x, p.y, 1.0);
        ata += r * r.transpose();
        bu += r * q.x;
        bv += r * q.y;
    }
    let inverse = ata.try_inverse()?;
    let (u, v) = (inverse * bu, inverse * bv);
    Some(Homography::affine([[u.x, u.y, u.z], [v.x, v.y, v.z]]))
}

/// Points at distinct places, in whichever picture shows fewer.
fn distinct(pairs: &[Pair], mark: &PointSet, exemplar: &PointSet) -> usize {
    let count = |cells: Vec<(i32, i32)>| {
        let mut cells = cells;
        cells.sort_unstable();
        cells.dedup();
        cells.len()
    };
    let cell = |k: Keypoint| ((k.x / 3.0).round() as i32, (k.y / 3.0).round() as i32);
    let a = count(pairs.iter().map(|p| cell(mark.points[p.mark])).collect());
    let b = count(
        pairs
            .iter()
            .map(|p| cell(exemplar.points[p.exemplar]))
            .collect(),
    );
    a.min(b)
}

/// No mirror, no collapse, no wild magnification, no fold within the frame.
pub fn is_plausible<F: Frame>(map: &Homography<F, Exemplar>, enlarge: f64) -> bool {
    let rows = map.rows();
    let squeeze = {
        // Ratio of the singular values of the linear part.
        let (a, b, c, d) = (rows[0][0], rows[0][1], rows[1][0], rows[1][1]);
        let (e, f) = ((a + d) / 2.0, (a - d) / 2.0);
        let (g, h) = ((c + b) / 2.0, (c - b) / 2.0);
        let (q, r) = (e.hypot(h), f.hypot(g));
        if q - r <= 0.0 {
            f64::INFINITY
        } else {
            (q + r) / (q - r)
        }
    };
    let scale = map.local_area(Point::new(224.0, 224.0));
    squeeze < 3.2 && scale > enlarge.powi(-2) && scale < enlarge.powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::descriptors::keypoints::Halves;
    use crate::descriptors::keypoints::describe;
    use crate::geometry::Mark;
    use crate::raster::Plane;

    fn drawing(size: usize) -> Plane {
        let mut p = Plane::filled(size, size, 0.0);
        let mut seed = 11u32;
        let mut next = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 16) as usize
        };
        for _ in 0..40 {
            let (x, y) = (60 + next() % (size - 150), 60 + next() % (size - 150));
            let (w, h) = (4 + next() % 34, 4 + next() % 34);
            for yy in y..y + h {
                for xx in x..x + w {
                    p.set(xx, yy, 1.0);
                }
            }
        }
        p
    }

    #[test]
    fn the_planted_map_is_found() {
        let a = drawing(448);
        let ones = Plane::filled(448, 448, 1.0);
        let planted = Homography::<Mark, Exemplar>::similarity(0.9, 1.9, 370.0, 90.0);
        let b = a.warp(&planted.inverse().expect("similarity"), 448, 448, 0.0);
        let pa = PointSet::new(describe(&a, &ones, 400, Halves::BusierFirst));
        let pb = PointSet::new(describe(&b, &ones, 400, Halves::BothWhereEven));
        let got = agree::<Mark>(&pa, &pb, 448.0, CUT_TO_CUT).expect("found");
        for (x, y) in [(150.0, 150.0), (300.0, 200.0), (220.0, 310.0)] {
            let (p, q) = (
                planted.apply(Point::new(x, y)),
                got.to_exemplar.apply(Point::new(x, y)),
            );
            let miss = p.expect("in front").distance(q.expect("in front"));
            assert!(
                miss < 2.0,
                "{miss} px off, {} agree of {}",
                got.agreeing,
                got.pairs
            );
        }
    }
}
