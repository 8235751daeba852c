//! A first cut of the library: the exemplars whose coarse shape is most like a mark's.

use crate::descriptors::product_transposed;
use crate::descriptors::shape::{LENGTH, Pose, PosedCodes};

/// An exemplar that may fit, with the poses that made it so.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Index into the references.
    pub exemplar: usize,
    /// Dot product of the codes at the best pose, -1 to 1.
    pub likeness: f32,
    /// The best poses, at distinct turns.
    pub poses: Vec<Pose>,
}

/// Exemplar codes row by row.
#[derive(Debug, Clone, Default)]
pub struct CodeTable {
    rows: Vec<f32>,
    count: usize,
}

/// Poses kept of each exemplar.
const POSES: usize = 2;
/// Two poses this far apart in turn (radians) are distinct.
const DISTINCT_TURN: f64 = 0.4;

impl CodeTable {
    pub fn new<'a>(codes: impl Iterator<Item = &'a [f32]>) -> Self {
        let mut table = Self::default();
        for c in codes {
            table.rows.extend_from_slice(c);
            table.count += 1;
        }
        table
    }

    /// The `limit` exemplars most like the mark, best first, ties by index.
    pub fn shortlist(&self, codes: &PosedCodes, limit: usize) -> Vec<Entry> {
        let poses = codes.poses.len();
        let mut scores = vec![0.0f32; poses * self.count];
        product_transposed(codes.rows(), &self.rows, LENGTH, &mut scores);
        let mut entries: Vec<Entry> = (0..self.count)
            .map(|e| {
                let column = |p: usize| scores[p * self.count + e];
                let best = best_of(poses, column, |_| true);
                let far = |p: usize| {
                    let d = (codes.poses[p].turn - codes.poses[best].turn)
                        .rem_euclid(std::f64::consts::TAU);
                    d.min(std::f64::consts::TAU - d) > DISTINCT_TURN
                };
                let second = best_of(poses, column, far);
                let mut picked = vec![codes.poses[best], codes.poses[second]];
                picked.truncate(POSES);
                Entry {
                    exemplar: e,
                    likeness: column(best),
                    poses: picked,
                }
            })
            .collect();
        entries.sort_by(|a, b| {
            b.likeness
                .total_cmp(&a.likeness)
                .then(a.exemplar.cmp(&b.exemplar))
        });
        entries.truncate(limit);
        entries
    }
}

fn best_of(n: usize, score: impl Fn(usize) -> f32, allowed: impl Fn(usize) -> bool) -> usize {
    (0..n)
        .filter(|&i| allowed(i))
        .max_by(|&a, &b| score(a).total_cmp(&score(b)).then(b.cmp(&a)))
        .unwrap_or(0)
}
