//! One fault at a time, from hardly there to beyond rescue: what measures of quality are tried on.
//!
//! The conditions of a lot come in three severities and mostly several faults together. Here all else
//! is that of a good photo, so that a measure that moves is moved by the fault.

use crate::random::Rng;
use serde::Serialize;

/// What is wrong with the photo or the piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// Sigma of the lens out of focus, in pixels of the photo.
    Defocus,
    /// Length of the streak that the phone drew, in pixels of the photo.
    Motion,
    /// Stops of light too few.
    Dark,
    /// Stops of light too many.
    Bright,
    /// Share of the mark's ink under a reflection.
    Glare,
    /// Smallness: a hundredth over the share of the photo's width that the mark takes.
    Far,
    /// Share of the ink that the frame cuts off.
    Cut,
    /// Share of the ink under a label.
    Label,
    /// Degrees by which the base is tilted.
    Tilt,
    /// Share of the ink that a weak strike left out, fading.
    Weak,
    /// Share of the ink that rubbing took away, with hard edges.
    Worn,
    /// Scratches through the mark.
    Scratch,
    /// Size of a drilled hole in the mark, in hundredths of the base's radius.
    Hole,
}

impl Cause {
    pub const ALL: [Self; 13] = [
        Self::Defocus,
        Self::Motion,
        Self::Dark,
        Self::Bright,
        Self::Glare,
        Self::Far,
        Self::Cut,
        Self::Label,
        Self::Tilt,
        Self::Weak,
        Self::Worn,
        Self::Scratch,
        Self::Hole,
    ];

    /// Least and most of it, in its unit.
    fn reach(self) -> (f32, f32) {
        match self {
            Self::Defocus => (1.0, 9.0),
            Self::Motion => (4.0, 34.0),
            Self::Dark => (1.0, 7.0),
            Self::Bright => (0.5, 3.5),
            Self::Glare | Self::Cut | Self::Label => (0.1, 0.85),
            Self::Far => (0.1, 0.5),
            Self::Tilt => (18.0, 62.0),
            Self::Weak | Self::Worn => (0.25, 0.9),
            Self::Scratch => (1.0, 6.99),
            Self::Hole => (3.0, 12.0),
        }
    }
}

/// A cause and how much of it, in its unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Fault {
    pub cause: Cause,
    pub amount: f32,
}

impl Fault {
    /// The `at`th of `all` photos of a cause: amounts in even steps, each moved a little.
    pub fn step(cause: Cause, at: usize, all: usize, rng: &mut Rng) -> Self {
        let (low, high) = cause.reach();
        let share = (at as f32 + rng.unit()) / all.max(1) as f32;
        let amount = low + (high - low) * share;
        Self { cause, amount }
    }

    /// The amount where the fault is of this cause.
    pub fn of(fault: Option<Self>, cause: Cause) -> Option<f32> {
        fault.filter(|f| f.cause == cause).map(|f| f.amount)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_rise_from_step_to_step_and_stay_in_reach() {
        let mut rng = Rng::new(5);
        for cause in Cause::ALL {
            let (low, high) = cause.reach();
            let mut last = low;
            for at in 0..9 {
                let got = Fault::step(cause, at, 9, &mut rng).amount;
                assert!((last..=high).contains(&got), "{cause:?}: {got}");
                last = low + (high - low) * (at + 1) as f32 / 9.0;
            }
        }
    }
}
