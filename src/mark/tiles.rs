//! A closer look at a base that seems to bear no mark.
//!
//! The finder sees the whole photo at three hundred pixels, in which a mark a twentieth as wide as its base comes to ten.
//! Here the same finder sees the base in overlapping tiles, and what it takes for a mark is looked at a second time.

use image::RgbImage;
use image::imageops::crop_imm;

use super::finder;
use super::regions::Region;
use super::second_look;
use crate::geometry::{Point, View as Frame};
use crate::ink::overview::{self, Overview};
use crate::underside::ellipse::Ellipse;
use crate::view::{View, shrink};

/// Side of a tile, in shorter sides of what is looked at, and from one tile to the next at most, in sides of a tile: what is
/// a third of one wide lies whole in one of them.
const TILE: f64 = 0.6;
const NEXT: f64 = 0.67;
/// Places taken from a tile, and the least score of one: below it no second look could make a mark of it.
const FINDS: usize = 3;
const LEAST: f64 = 0.05;
/// Places looked at a second time, the likeliest first, and how near to each other (larger radii) two are one.
const LOOKS: usize = 5;
const APART: f64 = 0.4;
/// Largest radius, in sides of a tile: what is larger was seen in the whole photo.
const WIDEST: f64 = 0.45;
/// What the second look counts beside the finder's log-odds, and where it ends.
const LOOK: f64 = 0.6;
const LOOK_MOST: f32 = 8.0;
/// Sizes at which a place is looked at.
const SIZES: [f64; 2] = [1.0, 0.8];

/// Log-odds (natural, not calibrated) that the likeliest small place of a base holds a mark; `None` where there is no such
/// place. `rim` bounds the base where it is drawn, else all of the view is looked at.
pub fn small_mark(photo: &RgbImage, view: &View, rim: Option<&Ellipse<Frame>>) -> Option<f64> {
    let tiles = tiles(view, rim);
    let mut places: Vec<Region> = tiles.into_iter().flat_map(|t| finds(view, t)).collect();
    places.retain(|r| rim.is_none_or(|e| e.radius_of(r.centre) < 1.0));
    places.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut once: Vec<Region> = Vec::new();
    for place in places {
        if once.len() < LOOKS && !once.iter().any(|r| is_same(r, &place)) {
            once.push(place);
        }
    }
    let odds = once.into_iter().map(|region| {
        let looks = SIZES.map(|k| second_look::log_odds(photo, view, &region.sized(k)));
        let look = looks[0].max(looks[1]).clamp(-LOOK_MOST, LOOK_MOST);
        (region.score / (1.0 - region.score)).ln() + LOOK * f64::from(look)
    });
    odds.reduce(f64::max)
}

/// Whether one place was found in two tiles.
fn is_same(a: &Region, b: &Region) -> bool {
    a.centre.distance(b.centre) < APART * a.radius.max(b.radius)
}

/// A square of the view: its left and upper edge and its side, in view pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Tile {
    x: u32,
    y: u32,
    side: u32,
}

fn tiles(view: &View, rim: Option<&Ellipse<Frame>>) -> Vec<Tile> {
    let (w, h) = view.rgb.dimensions();
    let within = rim.map_or([0.0, 0.0, f64::from(w), f64::from(h)], |e| {
        let (x, y, r) = (e.centre.x, e.centre.y, e.major);
        let end = |v: f64, most: u32| v.clamp(0.0, f64::from(most));
        [end(x - r, w), end(y - r, h), end(x + r, w), end(y + r, h)]
    });
    let [x0, y0, x1, y1] = within;
    let side = TILE * (x1 - x0).min(y1 - y0);
    if side < 1.0 {
        return Vec::new();
    }
    let along = |from: f64, to: f64| -> Vec<u32> {
        let room = to - from - side;
        let steps = (room / (NEXT * side)).ceil().max(1.0) as u32;
        (0..=steps)
            .map(|i| (from + room * f64::from(i) / f64::from(steps)) as u32)
            .collect()
    };
    let (across, down) = (along(x0, x1), along(y0, y1));
    let at = |(x, y)| Tile {
        x,
        y,
        side: side as u32,
    };
    let all = down
        .iter()
        .flat_map(|&y| across.iter().map(move |&x| (x, y)));
    all.map(at).collect()
}

/// What the finder takes for small marks in a tile, in the frame of the view.
fn finds(view: &View, tile: Tile) -> Vec<Region> {
    let side = tile.side.min(overview::SIDE);
    let cut = crop_imm(&view.rgb, tile.x, tile.y, tile.side, tile.side).to_image();
    let seen = Overview::of(&shrink(&cut, side, side));
    let (found, _) = finder::find(&seen, f64::from(tile.side), FINDS);
    found
        .into_iter()
        .filter(|f| f.score >= LEAST && f.radius <= WIDEST * f64::from(tile.side))
        .map(|f| Region {
            centre: Point::new(
                f.centre.x + f64::from(tile.x),
                f.centre.y + f64::from(tile.y),
            ),
            radius: f.radius,
            score: f.score,
            hull: Vec::new(),
            parts: 0,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(width: u32, height: u32) -> View {
        View::of(&RgbImage::from_pixel(
            width,
            height,
            image::Rgb([210, 208, 200]),
        ))
    }

    #[test]
    fn tiles_cover_all_and_whatever_is_a_third_of_one_lies_whole_in_one() {
        for (w, h) in [(800, 600), (600, 800), (640, 640)] {
            let all = tiles(&view(w, h), None);
            let third = all[0].side / 3;
            for x in (0..w - third).step_by(7) {
                for y in (0..h - third).step_by(7) {
                    let whole = |t: &Tile| {
                        let (dx, dy) = (x.wrapping_sub(t.x), y.wrapping_sub(t.y));
                        dx + third <= t.side + 1 && dy + third <= t.side + 1
                    };
                    assert!(
                        all.iter().any(|t| t.x <= x && t.y <= y && whole(t)),
                        "{x} {y}"
                    );
                }
            }
        }
    }

    #[test]
    fn tiles_keep_to_the_base() {
        let view = view(800, 600);
        let rim = Ellipse::<Frame> {
            centre: Point::new(500.0, 320.0),
            major: 200.0,
            minor: 190.0,
            angle: 0.0,
        };
        for t in tiles(&view, Some(&rim)) {
            assert!(t.x >= 300 && t.y >= 120, "{t:?}");
            assert!(t.x + t.side <= 700 && t.y + t.side <= 520, "{t:?}");
        }
    }

    #[test]
    fn an_even_glaze_holds_no_small_mark() {
        let photo = RgbImage::from_pixel(800, 600, image::Rgb([210, 208, 200]));
        let odds = small_mark(&photo, &View::of(&photo), None);
        assert!(odds.is_none_or(|o| o < 0.0), "{odds:?}");
    }
}
