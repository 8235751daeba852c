//! What is seen of a part, as log-odds that it is that of the first forms and not of the second.
//!
//! Ink that is there should come to what its neighbours let one expect, and look like the form's; on bare glaze there is
//! none. Where it is there it may still not be seen, the more likely so the less its neighbours are: that alone bounds what
//! follows from a lack. The constants were fitted on tune (two potteries of 40 lines, seeds 801 and 802, 368 photos of 40
//! forms with clean scans as exemplars, and 326 with one ordinary photo of each form, which count for 0.6 of them): as many
//! forms told rightly as can be, a wrong one counting as four, any answer where the part was covered, worn or cut off as
//! 1.2. Forms of clean scans told rightly, undecided and wrong where the part is legible: 89, 11 and 0 % (seed 801, 114
//! photos), 82, 18 and 0 % (seed 802, 112), and 81, 19 and 0 % (seed 803, 59, by which only
//! `TOGETHER` and `CROWDED` were chosen). Where it was taken away 76 of 76 are undecided, and 17 of 18 on seed 803.

use super::Seen;

/// Probability from which a form is told; below it the answer is `undecided`.
pub const TOLD_AT: f64 = 0.9;

/// Ink as a share of what is expected: standard deviations where it is there and where it is not.
const THERE: f64 = 0.42;
const BARE: f64 = 0.16;
/// Correlation with the form's strokes: mean and deviation where they are there, and where they are not.
const LIKE: (f64, f64) = (0.8, 0.27);
const UNLIKE: (f64, f64) = (0.05, 0.1);
/// Density of what neither explains.
const OUTLIER: f64 = 0.001;
/// Share of parts that are there and not seen though everything round them is.
const MISSED: f64 = 0.012;
/// How much the correlation counts beside the amount of ink.
const SHAPE: f64 = 0.75;
/// By how much the first forms must fit better for ink to speak fully for them.
const BETTER: f64 = 0.29;
/// Ink this like the first forms' is not missing: from where a lack counts less, and from where it counts nothing.
const NOT_MISSING: (f64, f64) = (0.3, 0.6);
/// Where both have ink: deviation of the side, what a whole unit of correlation more is worth (log-odds), how much the
/// amount of ink counts beside its shape, and how well the better of the two must fit to count, and to count fully.
const SIDE: f64 = 0.22;
const MORE_LIKE: f64 = 7.0;
const AMOUNT: f64 = 0.34;
const FITS: (f64, f64) = (0.32, 0.69);
/// What is left where amount and shape contradict one another.
const TORN: f64 = 0.3;
/// From nothing to all: share of neighbours seen, their strength over the mark's, correlation round about.
const AROUND: (f64, f64) = (0.15, 0.5);
const NEAR: (f64, f64) = (0.11, 0.93);
const FIT: (f64, f64) = (0.18, 0.34);
/// Strange ink beside the part, and error, at which half is left.
const STRANGE: f64 = 0.1;
const ERROR: f64 = 0.7;
const DOUBT: f64 = 0.3;
/// Least share of a part that must be in view.
const IN_VIEW: f64 = 0.5;
/// Sum of squared differences from which a part counts fully.
const LARGE: f64 = 17.0;
/// Most that one part may say.
const MOST: f64 = 7.7;

/// Natural log-odds; `empty` where the second forms have no ink there.
pub(super) fn log_odds(seen: &Seen, empty: bool) -> f64 {
    if f64::from(seen.valid) < IN_VIEW {
        return 0.0;
    }
    let odds = match empty {
        true => against_nothing(seen),
        false => against_other(seen),
    };
    let large = ((1.0 + f64::from(seen.size)).ln() / (1.0 + LARGE).ln()).min(1.0);
    (odds * large).clamp(-MOST, MOST)
}

fn against_nothing(seen: &Seen) -> f64 {
    let (error, strange) = (f64::from(seen.error), f64::from(seen.strange));
    let missed = missed(seen);
    let amount = (f64::from(seen.side) + 0.5).min(1.2);
    let bare = (BARE * BARE + error * error + strange * strange / 4.0).sqrt();
    let mut by_amount = mixed(
        normal(amount, 1.0, THERE.hypot(error)),
        normal(amount, 0.0, bare),
        missed,
    );
    let like = f64::from(seen.first);
    let by_shape = mixed(
        normal(like, LIKE.0, LIKE.1),
        normal(like, UNLIKE.0, UNLIKE.1),
        missed,
    );
    if by_amount > 0.0 && by_shape < 0.5 {
        // Ink, but not this ink.
        by_amount = by_amount.min(by_shape.max(0.0));
    }
    let odds = (1.0 - SHAPE) * by_amount + SHAPE * by_shape;
    match odds > 0.0 {
        true => odds * (f64::from(seen.first - seen.second) / BETTER).clamp(0.0, 1.0),
        false => odds * (1.0 - rising(like, NOT_MISSING)),
    }
}

/// Log-odds of being there, where what is there is missed with this probability.
fn mixed(there: f64, bare: f64, missed: f64) -> f64 {
    let seen = (1.0 - missed) * there + missed * bare;
    ((seen + OUTLIER) / (bare + OUTLIER)).ln()
}

/// How likely ink that is there is not seen here.
fn missed(seen: &Seen) -> f64 {
    let open = rising(f64::from(seen.around), AROUND)
        * rising(f64::from(seen.near), NEAR)
        * rising(f64::from(seen.fit), FIT);
    let quiet = halved(f64::from(seen.strange), STRANGE) * halved(f64::from(seen.error), ERROR);
    1.0 - (1.0 - MISSED) * f64::from(seen.valid) * open * quiet
}

fn against_other(seen: &Seen) -> f64 {
    let error = f64::from(seen.error);
    let side = f64::from(seen.side).clamp(-0.8, 0.8);
    let deviation = SIDE.hypot(error);
    let (one, other) = (normal(side, 0.5, deviation), normal(side, -0.5, deviation));
    let by_amount = ((one + OUTLIER) / (other + OUTLIER)).ln();
    let by_shape = MORE_LIKE * f64::from(seen.first - seen.second);
    let odds = AMOUNT * by_amount + (1.0 - AMOUNT) * by_shape;
    let whole = if by_amount * by_shape < 0.0 {
        TORN
    } else {
        1.0
    };
    let fits = rising(f64::from(seen.first.max(seen.second)), FITS);
    odds * whole * fits * halved(error, DOUBT)
}

fn normal(x: f64, mean: f64, deviation: f64) -> f64 {
    let z = (x - mean) / deviation;
    (-z * z / 2.0).exp() / (deviation * (2.0 * std::f64::consts::PI).sqrt())
}

/// 0 up to the first, 1 from the second on.
fn rising(x: f64, (none, all): (f64, f64)) -> f64 {
    ((x - none) / (all - none)).clamp(0.0, 1.0)
}

fn halved(x: f64, half: f64) -> f64 {
    1.0 / (1.0 + (x / half).powi(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLEAR: Seen = Seen::CLEAR;
    const LACKING: Seen = Seen {
        side: -0.5,
        first: 0.05,
        ..CLEAR
    };

    #[test]
    fn clear_ink_and_clear_glaze_decide() {
        assert!(log_odds(&CLEAR, true) > 3.0);
        assert!(log_odds(&LACKING, true) < -2.5);
        let turned = Seen {
            side: -0.5,
            first: 0.1,
            second: 0.9,
            ..CLEAR
        };
        assert!(log_odds(&CLEAR, false) > 3.0 && log_odds(&turned, false) < -3.0);
    }

    #[test]
    fn a_lack_counts_for_nothing_where_the_part_could_not_be_seen() {
        let hidden = Seen {
            valid: 0.3,
            ..LACKING
        };
        assert_eq!(log_odds(&hidden, true), 0.0);
        let worn = Seen {
            around: 0.2,
            near: 0.15,
            ..LACKING
        };
        let blurred = Seen {
            fit: 0.15,
            ..LACKING
        };
        let grainy = Seen {
            error: 2.0,
            ..LACKING
        };
        let covered = Seen {
            strange: 2.0,
            ..LACKING
        };
        for seen in [worn, blurred, grainy, covered] {
            assert!(
                log_odds(&seen, true).abs() < 0.35,
                "{seen:?} {}",
                log_odds(&seen, true)
            );
        }
    }

    #[test]
    fn other_ink_in_the_place_speaks_for_nobody() {
        let other = Seen {
            side: 0.4,
            first: 0.1,
            ..CLEAR
        };
        assert!(log_odds(&other, true) < 0.1);
    }
}
