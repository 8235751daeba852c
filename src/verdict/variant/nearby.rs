//! What belongs to a mark, and what only lies on the same picture.

use super::forms::SIDE;
use super::parts::Part;
use super::pixels::pixels;
use crate::raster::Plane;

/// Parts lie near what all forms share: within this share of its smaller extent, or so many pixels.
const NEARBY: f64 = 0.8;
const NEAR: f64 = 40.0;
/// Share of the shared strokes that is left out at each end of its extent.
const STRAY: f64 = 0.01;

/// Drops parts that lie far from what all forms share: specks of a picture, not of a mark.
pub(super) fn keep_near(parts: &mut Vec<Part>, shared: &Plane, angle: f64) {
    let (s, c) = angle.sin_cos();
    let turned = |at: usize| {
        let (x, y) = ((at % SIDE) as f64, (at / SIDE) as f64);
        (c * x + s * y, c * y - s * x)
    };
    let strokes: Vec<(f64, f64)> = pixels(shared).into_iter().map(turned).collect();
    if strokes.is_empty() {
        return;
    }
    let extent = |of: &dyn Fn(&(f64, f64)) -> f64| {
        let mut values: Vec<f64> = strokes.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        let stray = (STRAY * values.len() as f64) as usize;
        (values[stray], values[values.len() - 1 - stray])
    };
    let (u, v) = (extent(&|p| p.0), extent(&|p| p.1));
    let room = (NEARBY * (u.1 - u.0).min(v.1 - v.0)).max(NEAR);
    parts.retain(|part| {
        let inside: Vec<(f64, f64)> = pixels(&part.window).into_iter().map(turned).collect();
        let n = inside.len().max(1) as f64;
        let middle = inside
            .iter()
            .fold((0.0, 0.0), |m, p| (m.0 + p.0 / n, m.1 + p.1 / n));
        let near = |v: f64, (least, most): (f64, f64)| v >= least - room && v <= most + room;
        near(middle.0, u) && near(middle.1, v)
    });
}
