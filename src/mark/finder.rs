//! Finding where marks lie: a small net over the whole photo's overview.
//!
//! For each cell of a coarse grid the net says how likely a mark's middle lies there, where exactly,
//! and how large the circle around it is (the scheme of Zhou, Wang and Krähenbühl 2019, which needs no
//! boxes to choose among). It was trained on renders and collages of the fit split (`tools/train`).

use std::sync::LazyLock;

use crate::geometry::{Point, View};
use crate::ink::overview::Overview;
use crate::net::{Net, Tensor};

/// Side of the square that the net reads; the overview lies at its top left.
const SQUARE: usize = 320;
/// Overview pixels of a cell.
const CELL: usize = 8;
const GRID: usize = SQUARE / CELL;
/// Largest logarithm of a radius: beyond the frame.
const LOG_RADIUS_MOST: f32 = 5.5;
/// Two finds whose middles lie within this share of the larger radius are one.
const APART: f64 = 0.5;

static NET: LazyLock<Net> = LazyLock::new(|| {
    Net::read(include_bytes!("../weights/finder.bin")).expect("the shipped weights are whole")
});

/// A circle that may hold a mark, in view pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Find {
    pub centre: Point<View>,
    pub radius: f64,
    /// 0 to 1; how far it is a probability depends on how alike the photo is to what was trained on.
    pub score: f64,
}

/// What a whole photo shows, as probabilities that sum to 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Scene {
    /// An underside with a mark.
    pub marked: f64,
    /// An underside without one.
    pub bare: f64,
    /// No underside: a top, a detail, a paper.
    pub other: f64,
}

impl Scene {
    /// A scene that is known to show a mark.
    pub fn marked() -> Self {
        Self {
            marked: 1.0,
            ..Self::default()
        }
    }
}

/// Where marks may lie, best first, and what the whole photo shows. `width` is the view's.
pub fn find(overview: &Overview, width: f64, limit: usize) -> (Vec<Find>, Scene) {
    let scale = width / overview.light.width() as f64;
    let answer = answer_of(overview);
    let (grid, scene) = answer.split_at(4 * GRID * GRID);
    (peaks(grid, scale, limit), scene_of(scene))
}

/// Soft maximum of the three logits; nothing is known where there are none.
fn scene_of(logits: &[f32]) -> Scene {
    let [marked, bare, other] = logits else {
        return Scene::default();
    };
    let most = marked.max(*bare).max(*other);
    let [m, b, o] = [marked, bare, other].map(|l| f64::from(l - most).exp());
    let total = m + b + o;
    Scene {
        marked: m / total,
        bare: b / total,
        other: o / total,
    }
}

fn answer_of(overview: &Overview) -> Vec<f32> {
    let mut input = vec![0.0f32; 3 * SQUARE * SQUARE];
    let (w, h) = (overview.light.width(), overview.light.height());
    for y in 0..h.min(SQUARE) {
        for x in 0..w.min(SQUARE) {
            let at = y * SQUARE + x;
            input[at] = overview.light.get(x, y);
            input[SQUARE * SQUARE + at] = overview.chroma.get(x, y);
            input[2 * SQUARE * SQUARE + at] = 1.0;
        }
    }
    NET.run(Tensor::square(3, SQUARE, input)).data
}

/// Reads the grid's four maps: score, offset along x and y in cells, logarithm of the radius.
fn peaks(grid: &[f32], scale: f64, limit: usize) -> Vec<Find> {
    let cells = GRID * GRID;
    let mut order: Vec<usize> = (0..cells).collect();
    order.sort_by(|&a, &b| grid[b].total_cmp(&grid[a]).then(a.cmp(&b)));
    let mut found: Vec<Find> = Vec::new();
    for i in order {
        if found.len() == limit {
            break;
        }
        let along = |cell: usize, offset: f32| {
            (cell as f64 + 0.5 + f64::from(offset)) * CELL as f64 * scale
        };
        let find = Find {
            centre: Point::new(
                along(i % GRID, grid[cells + i]),
                along(i / GRID, grid[2 * cells + i]),
            ),
            radius: f64::from(grid[3 * cells + i].min(LOG_RADIUS_MOST).exp()) * scale,
            score: 1.0 / (1.0 + f64::from(-grid[i]).exp()),
        };
        let near = |f: &Find| f.centre.distance(find.centre) < APART * f.radius.max(find.radius);
        if !found.iter().any(near) {
            found.push(find);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One shrunk photo of the tune split with the training side's maps and answer:
    /// `tools/train/finder_probe.py` wrote it.
    const PROBE: &[u8] = include_bytes!("../../tests/data/finder-probe.bin");

    #[test]
    fn overview_and_answer_are_those_trained() {
        let size =
            |at: usize| u32::from_le_bytes(PROBE[at..at + 4].try_into().expect("four bytes"));
        let (w, h) = (size(0), size(4));
        let pixels = (w * h) as usize;
        let (rgb, rest) = PROBE[8..].split_at(3 * pixels);
        let (light, rest) = rest.split_at(pixels);
        let (chroma, answer) = rest.split_at(pixels);
        let photo = image::RgbImage::from_raw(w, h, rgb.to_vec()).expect("its size");
        let ours = Overview::of(&photo);
        for (plane, bytes) in [(&ours.light, light), (&ours.chroma, chroma)] {
            let worst = plane
                .data()
                .iter()
                .zip(bytes)
                .map(|(v, &b)| (v - f32::from(b) / 255.0).abs())
                .fold(0.0f32, f32::max);
            assert!(worst < 0.02, "{worst}");
        }
        let grid = answer_of(&ours);
        let theirs = answer
            .chunks_exact(4)
            .map(|b| f32::from_le_bytes(b.try_into().expect("4")));
        let worst = grid
            .iter()
            .zip(theirs)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0f32, f32::max);
        assert!(worst < 0.05, "{worst}");
    }

    #[test]
    fn finds_keep_their_distance() {
        let mut grid = vec![0.0f32; 4 * GRID * GRID];
        grid[..GRID * GRID].fill(-9.0);
        for (cell, score) in [
            (5 * GRID + 5, 2.0),
            (5 * GRID + 6, 1.0),
            (30 * GRID + 20, 0.0),
        ] {
            grid[cell] = score;
            grid[3 * GRID * GRID + cell] = 20f32.ln();
        }
        let found = peaks(&grid, 4.0, 2);
        assert_eq!(found[0].centre, Point::new(5.5 * 32.0, 5.5 * 32.0));
        assert_eq!(found[1].centre, Point::new(20.5 * 32.0, 30.5 * 32.0));
        assert!((found[0].radius - 80.0).abs() < 1e-3 && found[0].score > 0.8);
    }
}
