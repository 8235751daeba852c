//! Masks of the frame, pixel by pixel.

use super::forms::SIDE;
use crate::raster::Plane;

/// Pixels of a mask, in reading order.
pub(super) fn pixels(mask: &Plane) -> Vec<usize> {
    (0..SIDE * SIDE)
        .filter(|&at| mask.data()[at] > 0.5)
        .collect()
}

/// A mask and all within `reach` pixels of it along `angle`, either way.
pub(super) fn along(mask: &Plane, angle: f64, reach: i32) -> Plane {
    let (s, c) = angle.sin_cos();
    let mut out = mask.clone();
    let mut last = (0, 0);
    for t in 1..=reach {
        let (dx, dy) = (
            (f64::from(t) * c).round() as i32,
            (f64::from(t) * s).round() as i32,
        );
        if (dx, dy) == last {
            continue;
        }
        last = (dx, dy);
        for at in pixels(mask) {
            for step in [(dx, dy), (-dx, -dy)] {
                if let Some(to) = moved(at, step) {
                    out.data_mut()[to] = 1.0;
                }
            }
        }
    }
    out
}

/// The pixel so far away; `None` outside the frame.
pub(super) fn moved(at: usize, (dx, dy): (i32, i32)) -> Option<usize> {
    let (x, y) = ((at % SIDE) as i32 + dx, (at / SIDE) as i32 + dy);
    let inside = (0..SIDE as i32).contains(&x) && (0..SIDE as i32).contains(&y);
    inside.then(|| y as usize * SIDE + x as usize)
}

/// Connected pixels of a mask (4 neighbours).
pub(super) fn spots(mask: &Plane) -> Vec<Vec<usize>> {
    let mut seen = vec![false; SIDE * SIDE];
    let mut found = Vec::new();
    for start in 0..SIDE * SIDE {
        if seen[start] || mask.data()[start] < 0.5 {
            continue;
        }
        seen[start] = true;
        let (mut stack, mut spot) = (vec![start], Vec::new());
        while let Some(at) = stack.pop() {
            spot.push(at);
            let beside = [(1, 0), (-1, 0), (0, 1), (0, -1)];
            for next in beside.into_iter().filter_map(|step| moved(at, step)) {
                if !seen[next] && mask.data()[next] > 0.5 {
                    seen[next] = true;
                    stack.push(next);
                }
            }
        }
        spot.sort_unstable();
        found.push(spot);
    }
    found
}
