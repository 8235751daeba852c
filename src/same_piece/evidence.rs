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

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Judged {
    Joined,
    Asked,
    Apart,
}

pub const JOINED_AT: f64 = 3.0;
pub const ASKED_AT: f64 = -1.0;

#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    bias: f64,
}

pub const WEIGHTS: Weights = Weights { bias: 0.0 };

impl Evidence {
    pub fn log_odds(&self) -> f64 {
        WEIGHTS.bias
    }
}

pub fn judge(evidence: &Evidence) -> Judged {
    match evidence.log_odds() {
        o if o >= JOINED_AT => Judged::Joined,
        o if o >= ASKED_AT => Judged::Asked,
        _ => Judged::Apart,
    }
}
