//! What the strike of a mark left out, compared between two photos.

use serde::{Deserialize, Serialize};

use super::look::{Look, STRIKE_SHRINK};
use crate::geometry::{Exemplar, Homography, Mark};
use crate::raster::Plane;

/// Blur (pixels of the compared planes) that evens out noise and a misfit of a pixel.
const FINE: f32 = 1.2;
/// Blur that leaves how strongly each part of the mark was struck.
const COARSE: f32 = 5.0;
/// Least share of the frame that both must know.
const LEAST_KNOWN: f32 = 0.1;

/// How alike two strikes are.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Gaps {
    /// Correlation of their fine ink over the mark, -1 to 1.
    pub fine: f64,
    /// Ink that differs between the two once both are equally strong, over all their ink: 0 for one strike in two
    /// perfect photos.
    pub differs: f64,
    /// Correlation of the ink's strength from part to part, what the drawing explains taken out, -1 to 1.
    pub strength: f64,
}

/// Compares the strikes with the mark of `a` carried over that of `b`.
pub(super) fn alike(a: &Look, b: &Look, map: &Homography<Mark, Exemplar>) -> Option<Gaps> {
    let shrink = STRIKE_SHRINK as f64;
    let to_full =
        Homography::<Exemplar, Exemplar>::affine([[shrink, 0.0, 0.0], [0.0, shrink, 0.0]]);
    let to_small =
        Homography::<Mark, Mark>::affine([[1.0 / shrink, 0.0, 0.0], [0.0, 1.0 / shrink, 0.0]]);
    let back = to_full.then(&map.inverse()?).then(&to_small);
    let (w, h) = (b.tone.width(), b.tone.height());
    let [tone, valid] = Plane::warp_together([&a.tone, &a.valid], &back, w, h, 0.0);
    let both = valid.zip(
        &b.valid,
        |p, q| if p > 0.75 && q > 0.75 { 1.0 } else { 0.0 },
    );
    if both.mean() < LEAST_KNOWN {
        return None;
    }
    let strong = |t: &Plane| t.zip(&both, |v, m| v.abs() * m);
    let (p, q) = (strong(&tone), strong(&b.tone));
    let fine = [&p, &q].map(|t| t.blur(FINE));
    let coarse = [&p, &q].map(|t| t.blur(COARSE));
    let drawn = coarse[0].zip(&coarse[1], |x, y| x + y);
    let gain = coarse[1].mean().max(1e-6) / coarse[0].mean().max(1e-6);
    let apart = coarse[0].zip(&coarse[1], |x, y| (x * gain - y).abs());
    let level = INKED * drawn.quantile(0.98);
    let inked: Vec<usize> = (0..w * h)
        .filter(|&i| both.data()[i] > 0.5 && drawn.data()[i] > level)
        .collect();
    Some(Gaps {
        fine: correlation(
            inked
                .iter()
                .map(|&i| (fine[0].data()[i], fine[1].data()[i])),
        ),
        differs: f64::from(apart.mean() / (coarse[0].mean() * gain + coarse[1].mean()).max(1e-6)),
        strength: correlation(
            inked
                .iter()
                .map(|&i| (coarse[0].data()[i], coarse[1].data()[i])),
        ),
    })
}

/// Ink counts as part of the mark from this share of its strong end.
const INKED: f32 = 0.15;

/// Pearson's; 0 for what does not vary.
pub(super) fn correlation(pairs: impl Iterator<Item = (f32, f32)> + Clone) -> f64 {
    let (mut n, mut sx, mut sy) = (0.0f64, 0.0f64, 0.0f64);
    for (x, y) in pairs.clone() {
        (n, sx, sy) = (n + 1.0, sx + f64::from(x), sy + f64::from(y));
    }
    let (mx, my) = (sx / n.max(1.0), sy / n.max(1.0));
    let (mut xx, mut yy, mut xy) = (0.0f64, 0.0f64, 0.0f64);
    for (x, y) in pairs {
        let (x, y) = (f64::from(x) - mx, f64::from(y) - my);
        (xx, yy, xy) = (xx + x * x, yy + y * y, xy + x * y);
    }
    match xx > 1e-12 && yy > 1e-12 {
        true => xy / (xx * yy).sqrt(),
        false => 0.0,
    }
}
