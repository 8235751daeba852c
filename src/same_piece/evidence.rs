//! What two photos say of one piece, as one number.

use serde::{Deserialize, Serialize};

use super::base::Texture;
use super::gaps::Gaps;

/// Everything private to a piece that was compared.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// The verifier's log-odds that both show one mark; says nothing of the piece.
    pub odds: f32,
    /// Correlation of the ink as it was laid, -1 to 1.
    pub correlation: f32,
    /// Log ratio of the rings' miss to the mark's distance from their middle; `None` where no ring is drawn in both.
    pub pose: Option<f64>,
    pub texture: Option<Texture>,
    pub gaps: Option<Gaps>,
}

/// What two photos are taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judged {
    /// One piece.
    Joined,
    /// Perhaps one: a person is asked.
    Asked,
    /// Two, or not to be told.
    Apart,
}

/// Log-odds (natural) from which two photos are taken for one piece. On tune (seed 501), every service judged by weights
/// fitted to the others, one pair in a hundred of different pieces with one stamp reaches 2.7 (95 pairs), and three in
/// ten of one piece (52 pairs).
pub const JOINED_AT: f64 = 2.7;
/// The same from which a person is asked. On the same pairs, judged by the weights fitted to all of them, seven in ten
/// of one piece reach it, two in ten of different pieces with one stamp and three in a hundred with different stamps. Nine
/// in ten of one piece would be asked about from -1 on, and with them two in three of the sisters in a service.
pub const ASKED_AT: f64 = 0.5;
/// The same for photos of which one follows the other, unless a ring that both show stands elsewhere: what is hidden in one
/// of them (blurred, cut off, under glare) does not speak against one piece, and whoever took it again did so at once. On
/// tune (seed 502, 138 photos) with it 29 of 32 pairs of ordinary photos of one piece are joined or asked about (without
/// it 23) and 18 of 48 pairs of hard ones (12), and 40 questions are about different pieces (27): five at most for six
/// saucers in a row, as each photo asks about its likeliest other only.
pub const ASKED_NEXT_AT: f64 = -1.5;
/// Log ratio of the rings' miss to the mark's distance from their middle from which they stand elsewhere: two that have
/// nothing to do with one another miss by about as much as that distance.
const ELSEWHERE: f64 = 0.5;

/// How two photos lie to one another in a lot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nearness {
    /// One right after the other, of the photos that show a mark or are to be taken again, and one of them so poor that another
    /// photo is what one takes next. Those are asked about whatever is seen: what is hidden speaks for nothing, and marks and
    /// rings are laid badly in poor photos. On tune (seed 502, 138 photos) 44 of 48 pairs of hard photos of one piece come
    /// together if the questions are answered rightly, and 24 without this, for 10 questions more about different pieces.
    Retake,
    /// One right after the other.
    Next,
    Apart,
}

/// Log-odds that two photos show one piece: a logistic regression.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    bias: f64,
    /// Of the texture's peak above [`CHANCE_PEAK`], up to [`CLEAR_PEAK`], and of its correlation.
    peak: f64,
    texture: f64,
    /// Of the pose, held between [`POSE`]; and of there being none.
    pose: f64,
    no_pose: f64,
    /// Of how little the strikes differ, below [`UNLIKE`].
    strike: f64,
    /// Of the verifier's log-odds that both are one mark, held between [`DOUBT`] and 0: other marks are other pieces, and
    /// one mark says nothing.
    mark: f64,
}

/// Peaks up to here come about by chance; from there on they are as clear as can be.
const CHANCE_PEAK: f64 = 3.0;
const CLEAR_PEAK: f64 = 12.0;
/// Least and most that a pose counts.
const POSE: (f64, f64) = (-4.0, 1.5);
/// Strikes that differ by so much may be anybody's.
const UNLIKE: f64 = 0.15;
/// Least that the mark counts.
const DOUBT: f64 = -6.0;

/// Maximum likelihood with a ridge of 1 on features scaled to like spread (`tools/tune/same_piece.py`), on 378 pairs of
/// tune (seed 501, 76 photos); pairs of one piece count for as much as all others.
pub const WEIGHTS: Weights = Weights {
    bias: -0.52,
    peak: 0.18,
    texture: 3.16,
    pose: -0.60,
    no_pose: 0.71,
    strike: 16.09,
    mark: 0.47,
};

impl Evidence {
    /// Log-odds (natural) that both photos show one piece; the prior is one in two.
    pub fn log_odds(&self) -> f64 {
        let w = &WEIGHTS;
        let texture = self.texture.map_or(0.0, |t| {
            w.peak * (t.peak.min(CLEAR_PEAK) - CHANCE_PEAK).max(0.0) + w.texture * t.correlation
        });
        let pose = match self.pose {
            Some(p) => w.pose * p.clamp(POSE.0, POSE.1),
            None => w.no_pose,
        };
        let strike = self
            .gaps
            .map_or(0.0, |g| w.strike * (UNLIKE - g.differs).max(0.0));
        w.bias + texture + pose + strike + w.mark * f64::from(self.odds).clamp(DOUBT, 0.0)
    }
}

/// What is to be done about two photos. That one follows the other never joins them; it only makes the question cheap to
/// answer.
pub fn judge(evidence: &Evidence, nearness: Nearness) -> Judged {
    let elsewhere = evidence.pose.is_some_and(|miss| miss > ELSEWHERE);
    let asked_at = match nearness {
        Nearness::Retake => f64::NEG_INFINITY,
        Nearness::Next if !elsewhere => ASKED_NEXT_AT,
        _ => ASKED_AT,
    };
    match evidence.log_odds() {
        o if o >= JOINED_AT => Judged::Joined,
        o if o >= asked_at => Judged::Asked,
        _ => Judged::Apart,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nothing private seen, and a pose of this miss; the log-odds that come of it.
    fn seen(pose: Option<f64>, odds: f32) -> Evidence {
        Evidence {
            odds,
            correlation: 0.5,
            pose,
            texture: None,
            gaps: None,
        }
    }

    #[test]
    fn what_is_hidden_is_asked_about_only_beside_one_another() {
        let hidden = seen(None, -2.0);
        assert!((ASKED_NEXT_AT..ASKED_AT).contains(&hidden.log_odds()));
        assert_eq!(judge(&hidden, Nearness::Next), Judged::Asked);
        assert_eq!(judge(&hidden, Nearness::Apart), Judged::Apart);
        // A ring that stands elsewhere speaks against one piece.
        let elsewhere = seen(Some(ELSEWHERE + 0.1), 2.0);
        assert!((ASKED_NEXT_AT..ASKED_AT).contains(&elsewhere.log_odds()));
        assert_eq!(judge(&elsewhere, Nearness::Next), Judged::Apart);
        // Another mark is another piece.
        assert_eq!(judge(&seen(None, -6.0), Nearness::Next), Judged::Apart);
        // In a poor photo neither ring nor mark speaks against it.
        for unlike in [&elsewhere, &seen(None, -6.0)] {
            assert_eq!(judge(unlike, Nearness::Retake), Judged::Asked);
        }
    }

    #[test]
    fn following_one_another_never_joins() {
        let likely = seen(Some(-4.0), 2.0);
        assert!((ASKED_AT..JOINED_AT).contains(&likely.log_odds()));
        for nearness in [Nearness::Retake, Nearness::Next, Nearness::Apart] {
            assert_eq!(judge(&likely, nearness), Judged::Asked);
        }
    }
}
