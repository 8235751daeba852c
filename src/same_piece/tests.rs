//! Drawn bases: one stamp on pieces that differ in what is private to them.

use image::RgbImage;

use super::*;
use crate::geometry::{Photo, Quad};
use crate::photo::UprightPhoto;

/// Bars of a stamp, in pixels from its middle.
fn stamp() -> Vec<[f64; 4]> {
    let mut seed = 9u32;
    let mut next = |n: u32| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from((seed >> 16) % n)
    };
    (0..26)
        .map(|_| {
            [
                next(130) - 75.0,
                next(100) - 55.0,
                8.0 + next(34),
                4.0 + next(7),
            ]
        })
        .collect()
}

/// A piece: where its specks lie and how far the ring's middle is from the stamp's.
struct Piece {
    specks: u32,
    ring: (f64, f64),
}

/// A photo of the piece, turned and shifted, with the stamp's box.
fn photo(piece: &Piece, turn: f64, shift: (f64, f64)) -> (UprightPhoto, Quad<Photo>) {
    let bars = stamp();
    let mut seed = piece.specks;
    let mut next = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from((seed >> 16) % 620) - 310.0
    };
    let specks: Vec<(f64, f64)> = (0..220).map(|_| (next(), next())).collect();
    let (s, c) = turn.sin_cos();
    let pixels = RgbImage::from_fn(800, 800, |x, y| {
        let (dx, dy) = (
            f64::from(x) - 400.0 - shift.0,
            f64::from(y) - 400.0 - shift.1,
        );
        let (u, v) = (c * dx + s * dy, -s * dx + c * dy);
        let ink = bars
            .iter()
            .any(|b| (b[0]..b[0] + b[2]).contains(&u) && (b[1]..b[1] + b[3]).contains(&v));
        let from_ring = ((u - piece.ring.0).hypot(v - piece.ring.1) - 280.0).abs();
        let speck = specks.iter().any(|p| (u - p.0).hypot(v - p.1) < 2.4);
        let grain = ((x * 7 + y * 13) % 5) as u8;
        image::Rgb(if ink {
            [40, 60, 70]
        } else if from_ring < 5.0 {
            [168, 150, 128]
        } else if speck {
            [120, 112, 100]
        } else {
            [226 + grain, 222 + grain, 212 + grain]
        })
    });
    let corner = |u: f64, v: f64| {
        [
            400.0 + shift.0 + c * u - s * v,
            400.0 + shift.1 + s * u + c * v,
        ]
    };
    let quad = [
        corner(-80.0, -60.0),
        corner(100.0, -60.0),
        corner(100.0, 60.0),
        corner(-80.0, 60.0),
    ];
    let picture = UprightPhoto {
        pixels,
        taken: None,
    };
    (picture, Quad::from_array(quad))
}

fn look(piece: &Piece, turn: f64, shift: (f64, f64)) -> Look {
    let (picture, quad) = photo(piece, turn, shift);
    Look::of(&picture, &quad, &[]).expect("a box that can be cut out")
}

#[test]
fn one_piece_photographed_again_is_told_from_its_sister() {
    let one = Piece {
        specks: 5,
        ring: (40.0, -10.0),
    };
    let sister = Piece {
        specks: 77,
        ring: (-30.0, 35.0),
    };
    let first = look(&one, 0.0, (0.0, 0.0));
    let again = compare(&first, &look(&one, 0.5, (12.0, -20.0))).expect("one mark");
    let other = compare(&first, &look(&sister, 0.3, (-8.0, 6.0))).expect("one mark");
    let texture = |e: &Evidence| e.texture.expect("a base in view");
    assert!(
        texture(&again).peak > 2.0 * texture(&other).peak,
        "{again:?} {other:?}"
    );
    assert!(again.pose.expect("a ring") < other.pose.expect("a ring") - 1.0);
    assert_eq!(judge(&again, Nearness::Apart), Judged::Joined, "{again:?}");
    assert_ne!(judge(&other, Nearness::Next), Judged::Joined, "{other:?}");
}

#[test]
fn a_mark_half_hidden_in_each_photo_is_whole_when_fused() {
    let piece = Piece {
        specks: 5,
        ring: (40.0, -10.0),
    };
    let hidden = |from: u32| {
        let (mut picture, quad) = photo(&piece, 0.0, (0.0, 0.0));
        for y in 330..470 {
            for x in from..from + 60 {
                picture.pixels.put_pixel(x, y, image::Rgb([255; 3]));
            }
        }
        (picture, quad)
    };
    let shots = [hidden(330), hidden(430)];
    let looks: Vec<Look> = shots
        .iter()
        .map(|(p, q)| Look::of(p, q, &[]).expect("a box that can be cut out"))
        .collect();
    let members: Vec<Member<'_>> = shots
        .iter()
        .zip(&looks)
        .enumerate()
        .map(|(at, ((picture, _), look))| Member {
            picture,
            look,
            sure: 1.0 - at as f64 / 10.0,
        })
        .collect();
    let fused = fuse(&members).expect("two photos of one mark");
    assert_eq!(fused.of, [0, 1]);
    let dark = |p: &RgbImage| p.pixels().filter(|p| p.0[1] < 120).count();
    let (alone, both) = (dark(&fused.single[0]), dark(&fused.picture.pixels));
    assert!(both as f64 > 1.1 * alone as f64, "{alone} {both}");
}
