//! Whether nothing but specks, cracks, stilt marks and the like lies on a base.
//!
//! Three witnesses speak: what the whole photo looks like, how much any place in it looks like a mark, and
//! how well anything in the library fits there. A logistic regression weighs them
//! (`tools/tune/bareness.py`).

use crate::identify::Examination;
use crate::verdict::features::odds;

/// Weights of the three log-odds and what is added: fitted on tune seeds 46 to 49.
const SCENE: f64 = 1.78;
const PLACE: f64 = 0.85;
const FIT: f64 = -0.39;
const BIAS: f64 = -1.87;
/// Log-odds from which a base is called bare: there 97.7 % of the bare bases lie above it and 1.4 % of the
/// marked ones, a third of which get another answer in the end.
const BARE: f64 = -1.0;
/// Least probability that is told from nought.
const LEAST: f64 = 1e-4;
/// Log-odds of the best fit where nothing was compared: about the middle of unknown marks.
const UNCOMPARED: f64 = -3.0;

/// Whether an underside carries no mark, in view or out of it.
pub(super) fn is_bare(examination: &Examination) -> bool {
    log_odds(examination) > BARE
}

fn log_odds(examination: &Examination) -> f64 {
    let scene = examination.scene;
    let place = examination.examined.first().map_or(0.0, |e| e.region.score);
    let fit = examination
        .examined
        .iter()
        .flat_map(|e| &e.compared)
        .map(|c| f64::from(odds(&c.features)))
        .reduce(f64::max)
        .unwrap_or(UNCOMPARED);
    SCENE * ratio(scene.bare, scene.marked) + PLACE * ratio(place, 1.0 - place) + FIT * fit + BIAS
}

fn ratio(yes: f64, no: f64) -> f64 {
    (yes.max(LEAST) / no.max(LEAST)).ln()
}
