//! What must be said of old dinnerware before anybody eats from it, buys it or insures it.
//!
//! Figures are of public law, each with the text it was read in. A photograph measures none of this:
//! the limits are named, the safety of a piece never is.

use crate::pieces::Vessel;

/// An identification is an opinion.
pub const OPINION: &str =
    "An identification is an opinion. It is no authentication and no appraisal.";

/// Said on every catalogue, in this order.
pub const CAUTIONS: [&str; 4] = [
    OPINION,
    "Not for food or drink until tested: old glazes and colours can hold lead or cadmium.",
    "Some orange-red, yellow and green glazes may hold uranium.",
    "Only a test tells: ask an accredited laboratory. Local rules decide what may be used, sold, \
     exported or called antique.",
];

/// From where on the authority acts, in mg per litre of a solution of 4 % acetic acid after 24 hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    pub vessel: &'static str,
    pub lead: f64,
    /// `None` where the cadmium guide has no class of its own.
    pub cadmium: Option<f64>,
}

/// Action levels of the United States Food and Drug Administration. Lead: FDA Food Code 4-101.13, as
/// read in Washington Administrative Code 246-215-04110. Cadmium: Compliance Policy Guide Sec.
/// 545.400, as read in a reprint; it counts cups and pitchers as hollowware.
const LIMITS: [Limit; 5] = [
    Limit {
        vessel: "flatware (at most 25 mm deep)",
        lead: 3.0,
        cadmium: Some(0.5),
    },
    Limit {
        vessel: "small hollowware (under 1.1 litres)",
        lead: 2.0,
        cadmium: Some(0.5),
    },
    Limit {
        vessel: "large hollowware (1.1 litres and more)",
        lead: 1.0,
        cadmium: Some(0.25),
    },
    Limit {
        vessel: "cups and mugs",
        lead: 0.5,
        cadmium: None,
    },
    Limit {
        vessel: "pitchers (not creamers)",
        lead: 0.5,
        cadmium: None,
    },
];

/// Where the figures come from.
pub(super) const LIMITS_SOURCE: &str = "Action levels of the United States FDA. Lead: Food Code 4-101.13, \
    as in Washington Administrative Code 246-215-04110. Cadmium: Compliance Policy Guide Sec. \
    545.400, which counts cups and pitchers as hollowware.";

/// The whole table.
pub fn limits() -> &'static [Limit] {
    &LIMITS
}

/// The rows that a piece of this kind may fall under.
pub fn of_vessel(vessel: Vessel) -> Vec<&'static Limit> {
    let rows: &[usize] = match vessel {
        Vessel::Flat => &[0],
        Vessel::Hollow => &[1, 2],
        Vessel::CupOrMug => &[3],
        Vessel::Pitcher => &[4],
        Vessel::Other => &[],
    };
    rows.iter().map(|at| &LIMITS[*at]).collect()
}
