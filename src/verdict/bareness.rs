//! Whether nothing but specks, cracks, stilt marks and the like lies on a base.
//!
//! Four witnesses speak: what the whole photo looks like, how much any place in it looks like a mark at the
//! first look and at the second, and how well anything in the library fits there. A logistic regression weighs
//! them (`tools/tune/bareness.py`).

use crate::examine::Examination;
use crate::mark::finder::Scene;
use crate::verdict::features::odds;

/// Weights of the four log-odds and what is added: fitted on tune seeds 46 and 47 (photos as exemplars) and on the
/// 360 bare bases of seed 48.
const SCENE: f64 = 1.56;
const PLACE: f64 = 1.12;
const LOOK: f64 = -1.19;
const FIT: f64 = -0.61;
const BIAS: f64 = -2.29;
/// Log-odds from which a base is called bare: of the 298 whole bare bases of tune seed 48 all but two lie above it, and
/// 1.4 % of 1,520 marked undersides of seeds 46 and 47 (photos as exemplars), half of which get another answer in the
/// end. Of 175 whole bare bases of a *fit* lot with notes and labels on most of them (`--wide`, seed 905) 94 % do.
const BARE: f64 = -2.0;
/// Log-odds, the fit left out, from which nothing lies there whatever family seems to fit: an exemplar under crazing fits
/// other crazing. On tune seeds 46 and 47 the highest of 1,183 marked undersides that are named is -0.2, the highest of
/// those for which a list comes out 1.9; of the 360 bare bases of seed 48 nine were named and one offered a list, nine for
/// one such exemplar, and six of the ten lie above it.
const SURELY_BARE: f64 = 2.0;
/// The most that the scene alone raises the odds of none, and that all witnesses together do.
const SCENE_MOST: f64 = 50.0;
const NONE_MOST: f64 = 1000.0;
/// Log-odds of bareness that raise the odds of none no more than usual: with it 1.2 % of 173 bare bases of tune
/// (seeds 46 and 47, photos as exemplars) are offered a family, without it 3.5 %, and top-1 stays as it is.
const ALREADY: f64 = -2.0;
/// Log-odds from which nothing can be made out where an exemplar's mark should be. Of the 240 ordinary photos that
/// are exemplars on tune seeds 46 and 47 two lie above it; their families had come first on 1 of their own 6
/// photos and on 15 photos of bare bases and of other marks.
const NOTHING: f64 = 1.0;
/// Probability of "no underside" from which the scene tells nothing of bareness.
const OTHER_MOST: f64 = 0.5;
/// Least probability that is told from nought.
const LEAST: f64 = 1e-4;
/// Log-odds of a second look beyond this tell nothing more.
const LOOK_MOST: f64 = 8.0;
/// Log-odds of the best fit where nothing was compared: about the middle of unknown marks.
const UNCOMPARED: f64 = -3.0;

/// Whether an underside carries no mark, in view or out of it.
pub(super) fn is_bare(examination: &Examination) -> bool {
    log_odds(examination).is_some_and(|odds| odds > BARE)
}

/// Whether the photo itself so surely shows no mark that a family named for it is an error.
pub(super) fn is_surely_bare(examination: &Examination) -> bool {
    let seen = seen(examination);
    seen.is_some_and(|(place, look)| {
        weighed(&examination.scene, place, look, UNCOMPARED) > SURELY_BARE
    })
}

/// Log-odds that nothing lies there; `None` where the photo shows a mark so surely that nobody asked.
pub(super) fn log_odds(examination: &Examination) -> Option<f64> {
    let (place, look) = seen(examination)?;
    let compared = examination.examined.iter().flat_map(|e| &e.compared);
    let fit = compared
        .map(|c| f64::from(odds(&c.features)))
        .reduce(f64::max)
        .unwrap_or(UNCOMPARED);
    Some(weighed(&examination.scene, place, look, fit))
}

/// How much the likeliest place looks like a mark at the first look (0 to 1), and any place at the second (log-odds).
fn seen(examination: &Examination) -> Option<(f64, f32)> {
    let examined = &examination.examined;
    let look = examined
        .iter()
        .filter_map(|e| e.second_look)
        .reduce(f32::max)?;
    Some((examined.first().map_or(0.0, |e| e.region.score), look))
}

/// Whether nothing can be made out at the place of a photo that was taken for a mark: `place` is its score, 0 to
/// 1, and `look` its log-odds at the second look. Nothing was compared there.
pub fn shows_nothing(scene: &Scene, place: f64, look: f32) -> bool {
    scene.other < OTHER_MOST && weighed(scene, place, look, UNCOMPARED) > NOTHING
}

fn weighed(scene: &Scene, place: f64, look: f32, fit: f64) -> f64 {
    let (scene, place) = (ratio(scene.bare, scene.marked), ratio(place, 1.0 - place));
    let look = f64::from(look).clamp(-LOOK_MOST, LOOK_MOST);
    SCENE * scene + PLACE * place + LOOK * look + FIT * fit + BIAS
}

/// How many times likelier than for a photo that surely shows a mark it is that nothing in the library fits.
pub(super) fn odds_of_none(examination: &Examination) -> f64 {
    let marked = examination.scene.marked;
    let by_scene = ((1.0 - marked) / marked.max(1e-3)).min(SCENE_MOST);
    let bare = log_odds(examination).map_or(0.0, |odds| (odds - ALREADY).exp());
    by_scene.max(bare).clamp(1.0, NONE_MOST)
}

fn ratio(yes: f64, no: f64) -> f64 {
    (yes.max(LEAST) / no.max(LEAST)).ln()
}
