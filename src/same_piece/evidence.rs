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

/// Log-odds (natural) from which two photos show one piece, and from which a person is asked.
pub const JOINED_AT: f64 = 3.0;
pub const ASKED_AT: f64 = -2.0;

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
    /// Of the strikes.
    fine: f64,
    differs: f64,
    strength: f64,
}

/// Peaks up to here come about by chance; from there on they are as clear as can be.
const CHANCE_PEAK: f64 = 3.0;
const CLEAR_PEAK: f64 = 12.0;
/// Least and most that a pose counts.
const POSE: (f64, f64) = (-4.0, 1.5);

pub const WEIGHTS: Weights = Weights {
    bias: -2.0,
    peak: 0.6,
    texture: 6.0,
    pose: -0.9,
    no_pose: 0.0,
    fine: 3.0,
    differs: -6.0,
    strength: 3.0,
};

impl Evidence {
    pub fn log_odds(&self) -> f64 {
        let w = &WEIGHTS;
        let texture = self.texture.map_or(0.0, |t| {
            w.peak * (t.peak.min(CLEAR_PEAK) - CHANCE_PEAK).max(0.0) + w.texture * t.correlation
        });
        let pose = match self.pose {
            Some(p) => w.pose * p.clamp(POSE.0, POSE.1),
            None => w.no_pose,
        };
        let strikes = self.gaps.map_or(0.0, |g| {
            w.fine * (g.fine - 0.8)
                + w.differs * (g.differs - 0.2)
                + w.strength * (g.strength - 0.8)
        });
        w.bias + texture + pose + strikes
    }
}

/// What is to be done about two photos.
pub fn judge(evidence: &Evidence) -> Judged {
    match evidence.log_odds() {
        o if o >= JOINED_AT => Judged::Joined,
        o if o >= ASKED_AT => Judged::Asked,
        _ => Judged::Apart,
    }
}
