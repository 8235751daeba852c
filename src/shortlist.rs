//! A first cut of the library: the exemplars whose imprint is most like a mark's.
//!
//! The search is exact: every mark against every turn of every exemplar, one matrix product. Equal
//! libraries give equal lists on every machine: likenesses are rounded before they are ordered.

use crate::descriptors::imprint::{Imprint, LENGTH, TURNS, turn};
use crate::descriptors::product_transposed;

/// An exemplar that may be a mark's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// Index of the mark among those asked about.
    pub mark: usize,
    /// Index into the references.
    pub exemplar: usize,
    /// Cosine of the two imprints at the best turn, -1 to 1.
    pub likeness: f32,
    /// How far that stands above the library's middle for this mark, in the library's own spread.
    pub standing: f32,
    /// Radians by which the exemplar was turned to lie like the mark, to within an eighth turn.
    pub turn: f64,
}

/// Imprints of all exemplars at all turns, row by row.
#[derive(Debug, Clone, Default)]
pub struct ImprintTable {
    rows: Vec<f32>,
}

/// Likenesses are ordered in steps of this; smaller differences are left to the index.
const STEP: f32 = 1e-5;
/// Least spread of a library's likenesses: a few exemplars may all be alike.
const LEAST_SPREAD: f32 = 0.05;
/// Share of a normal distribution below one standard deviation.
const ONE_DEVIATION: f32 = 0.84;

impl ImprintTable {
    /// Adds an exemplar's imprints at its turns.
    pub fn add(&mut self, imprints: &[f32]) {
        debug_assert_eq!(imprints.len(), LENGTH * TURNS, "one row a turn");
        self.rows.extend_from_slice(imprints);
    }

    /// Makes room for so many more exemplars.
    pub fn reserve(&mut self, more: usize) {
        self.rows.reserve_exact(more * LENGTH * TURNS);
    }

    /// The imprints of one exemplar, row by row.
    pub fn of(&self, exemplar: usize) -> &[f32] {
        let length = LENGTH * TURNS;
        &self.rows[exemplar * length..(exemplar + 1) * length]
    }

    fn count(&self) -> usize {
        self.rows.len() / (LENGTH * TURNS)
    }

    /// All exemplars for every mark, the likest pairs first.
    pub fn rank(&self, marks: &[Imprint]) -> Vec<Entry> {
        self.rank_others(marks, None)
    }

    /// The same with one exemplar left out: the picture that the marks themselves come from.
    pub fn rank_others(&self, marks: &[Imprint], own: Option<usize>) -> Vec<Entry> {
        let asked: Vec<f32> = marks.iter().flat_map(|m| m.0.iter().copied()).collect();
        let mut scores = vec![0.0f32; marks.len() * self.count() * TURNS];
        if scores.is_empty() {
            return Vec::new();
        }
        product_transposed(&asked, &self.rows, LENGTH, &mut scores);
        let mut entries: Vec<Entry> = scores
            .chunks_exact(self.count() * TURNS)
            .enumerate()
            .flat_map(|(mark, row)| Self::of_mark(mark, row, own))
            .collect();
        entries.sort_by(|a, b| {
            b.likeness
                .total_cmp(&a.likeness)
                .then(a.mark.cmp(&b.mark))
                .then(a.exemplar.cmp(&b.exemplar))
        });
        entries
    }

    fn of_mark(mark: usize, row: &[f32], own: Option<usize>) -> Vec<Entry> {
        let mut entries: Vec<Entry> = row
            .chunks_exact(TURNS)
            .enumerate()
            .filter(|(exemplar, _)| Some(*exemplar) != own)
            .map(|(exemplar, turns)| {
                let first = (0usize, f32::NEG_INFINITY);
                let (k, best) = turns
                    .iter()
                    .enumerate()
                    .fold(first, |b, (k, &s)| if s > b.1 { (k, s) } else { b });
                Entry {
                    mark,
                    exemplar,
                    likeness: (best / STEP).round() * STEP,
                    standing: 0.0,
                    turn: turn(k),
                }
            })
            .collect();
        let mut all: Vec<f32> = entries.iter().map(|e| e.likeness).collect();
        let middle = crate::raster::quantile(&mut all, 0.5);
        let spread = (crate::raster::quantile(&mut all, ONE_DEVIATION) - middle).max(LEAST_SPREAD);
        for e in &mut entries {
            e.standing = (e.likeness - middle) / spread;
        }
        entries
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A unit vector along one axis at one turn, and along another at the others.
    fn exemplar(axis: usize, at: usize) -> Vec<f32> {
        (0..TURNS)
            .flat_map(|k| {
                let mut row = vec![0.0; LENGTH];
                row[if k == at { axis } else { LENGTH - 1 }] = 1.0;
                row
            })
            .collect()
    }

    #[test]
    fn the_likest_comes_first_with_its_turn() {
        let library = [exemplar(3, 2), exemplar(5, 6), exemplar(7, 0)];
        let mut table = ImprintTable::default();
        library.iter().for_each(|imprints| table.add(imprints));
        let mut asked = vec![0.0; LENGTH];
        (asked[5], asked[3]) = (0.8, 0.6);
        let asked_again = asked.clone();
        let found = table.rank(&[Imprint(asked)]);
        let order: Vec<usize> = found.iter().map(|e| e.exemplar).collect();
        assert_eq!(order, [1, 0, 2]);
        assert_eq!(found[0].turn, turn(6));
        assert!(found[0].standing > found[1].standing);
        let others = table.rank_others(&[Imprint(asked_again)], Some(1));
        let order: Vec<usize> = others.iter().map(|e| e.exemplar).collect();
        assert_eq!(order, [0, 2]);
        assert!(ImprintTable::default().rank(&[]).is_empty());
    }
}
