//! Which marks of a group are worth keeping as its exemplars.

use super::groups::Group;
use super::pair::Pair;

/// A picture is sharp enough up to this many times the blur of the group's sharpest one.
const BLUR_MOST: f64 = 2.0;
/// A second exemplar adds something where the first one alone is less sure of it than this (log-odds, natural):
/// at 3 the first says nineteen in twenty, and the two pictures show much the same.
const SECOND_BELOW: f64 = 3.0;

/// One or two marks of a group: of those sharp enough the one surest of the others, and another where that adds
/// something. `blurs` runs parallel to the group's marks: blur over the mark's size, smaller is sharper.
pub fn exemplars(group: &Group, pairs: &[Pair], blurs: &[Option<f64>]) -> Vec<usize> {
    let blur = |at: usize| blurs.get(at).copied().flatten().unwrap_or(f64::INFINITY);
    let sharpest = (0..group.marks.len())
        .map(blur)
        .fold(f64::INFINITY, f64::min);
    let sharp = |at: &usize| blur(*at) <= BLUR_MOST * sharpest || sharpest.is_infinite();
    let mut fit: Vec<usize> = (0..group.marks.len()).filter(sharp).collect();
    fit.sort_by(|&a, &b| {
        group.ties[b]
            .total_cmp(&group.ties[a])
            .then(blur(a).total_cmp(&blur(b)))
            .then(a.cmp(&b))
    });
    let Some((&first, others)) = fit.split_first() else {
        return Vec::new();
    };
    let first = group.marks[first];
    let sure = |mark: usize| {
        let pair = pairs
            .iter()
            .find(|p| (p.a, p.b) == (first.min(mark), first.max(mark)));
        pair.map(|p| p.log_odds)
    };
    // What was not laid over the first one is no safe second.
    let weakest = others
        .iter()
        .filter_map(|&at| Some((group.marks[at], sure(group.marks[at])?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let second = weakest.filter(|(_, odds)| group.marks.len() > 2 && *odds < SECOND_BELOW);
    std::iter::once(first)
        .chain(second.map(|(mark, _)| mark))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(a: usize, b: usize, log_odds: f64) -> Pair {
        Pair {
            a,
            b,
            log_odds,
            turn: 0.0,
        }
    }

    fn of(ties: &[f64]) -> Group {
        Group {
            marks: (3..3 + ties.len()).collect(),
            turns: vec![0.0; ties.len()],
            ties: ties.to_vec(),
        }
    }

    #[test]
    fn the_surest_sharp_one_comes_first() {
        let group = of(&[4.0, 5.0, 3.0]);
        let alike = [pair(3, 4, 6.0), pair(4, 5, 5.0), pair(3, 5, 4.0)];
        let sharp = [Some(0.01), Some(0.011), Some(0.012)];
        assert_eq!(exemplars(&group, &alike, &sharp), [4]);
        let blurred = [Some(0.01), Some(0.03), Some(0.012)];
        assert_eq!(exemplars(&group, &alike, &blurred), [3]);
    }

    #[test]
    fn a_second_one_is_kept_where_the_first_is_less_sure_of_it() {
        let group = of(&[4.0, 5.0, 3.0]);
        let apart = [pair(3, 4, 6.0), pair(4, 5, 2.0), pair(3, 5, 4.0)];
        assert_eq!(exemplars(&group, &apart, &[None; 3]), [4, 5]);
        assert_eq!(exemplars(&of(&[0.0]), &[], &[None]), [3]);
    }
}
