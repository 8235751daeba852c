//! Numbers as the answers print them, so that equal runs give equal bytes and each mark's
//! probabilities still sum to 1.

use crate::answer::{Evidence, MarkAnswer, MarkQuality, MarkState, PhotoAnswer, Quality};

/// Probabilities are printed in steps of 1/10,000.
const STEPS: f64 = 10_000.0;

/// The answer with its numbers rounded: probabilities to 4 decimals, positions to a tenth of a
/// pixel.
pub(crate) fn rounded(mut answer: PhotoAnswer) -> PhotoAnswer {
    answer.quality = answer.quality.map(|q| Quality {
        sharpness: to(q.sharpness, 100.0),
        exposure: to(q.exposure, 10.0),
        glare: to(q.glare, STEPS),
        scale: to(q.scale, 10.0),
    });
    answer.marks.iter_mut().for_each(round_mark);
    answer
}

fn round_mark(mark: &mut MarkAnswer) {
    round_quad(&mut mark.quad);
    mark.strike = to(mark.strike, 100.0);
    mark.quality = mark.quality.map(round_quality);
    mark.state = mark.state.map(|s| MarkState {
        faded: to(s.faded, 1000.0),
        worn: to(s.worn, 1000.0),
        covered: to(s.covered, 1000.0),
        scratched: to(s.scratched, 1000.0),
        spotted: to(s.spotted, 1000.0),
    });
    for candidate in &mut mark.candidates {
        round_quad(&mut candidate.quad);
        candidate.evidence = candidate.evidence.map(|e| Evidence {
            correlation: to(e.correlation, 1000.0),
            points: e.points,
            likeness: to(e.likeness, 1000.0),
            odds: to(e.odds, 100.0),
            lead: to(e.lead, 100.0),
        });
    }
    for date in &mut mark.dates {
        date.quad.iter_mut().for_each(round_quad);
        for reading in &mut date.readings {
            reading.probability = to(reading.probability, STEPS);
        }
    }
    let mut shares: Vec<&mut f64> = mark
        .candidates
        .iter_mut()
        .map(|c| &mut c.probability)
        .collect();
    shares.push(&mut mark.rest);
    shares.push(&mut mark.none);
    round_shares(&mut shares);
}

fn round_quality(q: MarkQuality) -> MarkQuality {
    MarkQuality {
        defocus: to(q.defocus, 100.0),
        motion: to(q.motion, 10.0),
        motion_angle: to(q.motion_angle, 1.0),
        exposure: to(q.exposure, 10.0),
        clipped: to(q.clipped, 1000.0),
        glare: to(q.glare, 1000.0),
        letters: q.letters.map(|v| to(v, 10.0)),
        cut: q.cut.map(|v| to(v, 1000.0)),
        tilt: q.tilt.map(|v| to(v, 1.0)),
        hole: to(q.hole, 1000.0),
        label: to(q.label, 1000.0),
        ..q
    }
}

fn round_quad(quad: &mut [[f64; 2]; 4]) {
    for value in quad.iter_mut().flatten() {
        *value = to(*value, 10.0);
    }
}

/// Rounds to whole parts of 1/`steps`; minus zero becomes zero.
fn to(value: f64, steps: f64) -> f64 {
    (value * steps).round() / steps + 0.0
}

/// Rounds shares so that they sum to 1: what rounding leaves goes to the last one, or is taken from
/// the largest where the last has not enough.
fn round_shares(shares: &mut [&mut f64]) {
    let total: f64 = shares.iter().map(|s| s.max(0.0)).sum();
    let mut parts: Vec<i64> = shares
        .iter()
        .map(|s| (s.max(0.0) / total.max(f64::MIN_POSITIVE) * STEPS).round() as i64)
        .collect();
    let over = parts.iter().sum::<i64>() - STEPS as i64;
    if let Some(last) = parts.last_mut() {
        *last -= over;
        if *last < 0 {
            let lacking = std::mem::take(last);
            if let Some(largest) = parts.iter_mut().max_by_key(|p| **p) {
                *largest += lacking;
            }
        }
    }
    for (share, part) in shares.iter_mut().zip(parts) {
        **share = part as f64 / STEPS;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn shares_sum_to_one(mut values in prop::collection::vec(0.0..1.0_f64, 2..9)) {
            values[0] += 0.01;
            let total: f64 = values.iter().sum();
            values.iter_mut().for_each(|v| *v /= total);
            let before = values.clone();
            round_shares(&mut values.iter_mut().collect::<Vec<_>>());
            let parts: i64 = values.iter().map(|v| (v * STEPS).round() as i64).sum();
            prop_assert_eq!(parts, 10_000);
            for (a, b) in before.iter().zip(&values) {
                prop_assert!((0.0..=1.0).contains(b) && (a - b).abs() < 6.0 / STEPS);
            }
        }
    }

    #[test]
    fn no_minus_zero_is_printed() {
        assert!(to(-0.01, 10.0).is_sign_positive());
    }
}
