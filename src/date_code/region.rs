//! Where in a photo the code of a mark may stand: corners of the library carried over by the
//! alignment, or a part of the base beside the mark.

use super::scheme::Place;
use crate::geometry::{Frame, Homography, Photo, Point, Quad};

/// An exemplar's mark, upright, its upper left corner at the origin, in pixels of its own picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Upright {}
impl Frame for Upright {}

/// Pixels of an area that was cut out straight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Patch {}
impl Frame for Patch {}

/// Room left around given corners, in heights of the code: along it, since other codes are longer
/// than the one that the corners were drawn around, and across it, for the alignment's error.
const ROOM_ALONG: f64 = 3.0;
const ROOM_ACROSS: f64 = 0.7;
/// Reach of the areas without corners, in lengths of the mark's longer side.
const REACH: f64 = 0.35;
/// The same where a code stands elsewhere on the base: most of a foot's width for an ordinary mark.
const FAR: f64 = 1.5;
/// How far such an area reaches into the mark's own box, whose outermost line may be the code of
/// the piece that the exemplar shows.
const INTO: f64 = 0.3;
/// How likely a code stands as its mark does, where corners or a turn are given, where neither
/// is, and where it stands by itself. Estimates: stamps carry the code in one block.
const UPRIGHT_GIVEN: f64 = 0.97;
const UPRIGHT_LIKELY: f64 = 0.9;
const UPRIGHT_UNKNOWN: f64 = 0.5;

/// A part of the photo in which a code may stand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Area {
    /// Its corners, as a code in it is read.
    pub(super) quad: Quad<Photo>,
    /// The code's own corners, where the scheme gives them.
    pub(super) code: Option<Quad<Photo>>,
    /// How likely a code in it stands upright, before it is read.
    pub(super) upright: f64,
}

/// A mark whose exemplar was laid over the photo.
#[derive(Debug, Clone, Copy)]
pub(super) struct Laid<'q> {
    /// The mark's box in the exemplar's picture.
    pub(super) exemplar: &'q Quad<Photo>,
    /// The same box carried into the photo.
    pub(super) photo: &'q Quad<Photo>,
    /// The mark's box in the picture that a scheme's corners refer to, if that is another one.
    /// The two boxes are then taken for the same, which is as exact as they were drawn.
    pub(super) named: Option<&'q Quad<Photo>>,
}

/// The areas in which the code may stand; none where nothing tells, or the map is degenerate.
/// `turn` is the code's turn against its mark, in degrees clockwise.
pub(super) fn areas(place: &Place, turn: Option<f64>, laid: &Laid<'_>) -> Vec<Area> {
    let mut found = match place {
        Place::Inside { quad, .. } => inside(quad, laid).into_iter().collect(),
        _ => beside(place, turn, laid).unwrap_or_default(),
    };
    found.retain(|area| size(&area.quad).is_some());
    found
}

/// The area around given corners.
fn inside(corners: &Quad<Photo>, laid: &Laid<'_>) -> Option<Area> {
    let box_ = laid.named.unwrap_or(laid.exemplar);
    let to_photo = Homography::<Photo, Photo>::between(box_, laid.photo)?;
    let (wide, high) = size(corners)?;
    let straight = Quad::<Upright>::upright(0.0, 0.0, wide, high);
    let to_photo = Homography::between(&straight, corners)?.then(&to_photo);
    let (along, across) = (ROOM_ALONG * high, ROOM_ACROSS * high);
    let room = Quad::upright(-along, -across, wide + along, high + across);
    Some(Area {
        quad: to_photo.apply_quad(&room)?,
        code: Some(to_photo.apply_quad(&straight)?),
        upright: UPRIGHT_GIVEN,
    })
}

/// The areas below, beside or around a mark, or, for a code elsewhere on the base, on its four sides.
fn beside(place: &Place, turn: Option<f64>, laid: &Laid<'_>) -> Option<Vec<Area>> {
    let (w, h) = size(laid.exemplar)?;
    let mark = Quad::<Upright>::upright(0.0, 0.0, w, h);
    let to_photo = Homography::between(&mark, laid.photo)?;
    let reach = REACH * w.max(h);
    let parts = match place {
        Place::Below => vec![(-0.1 * w, (1.0 - INTO) * h, 1.1 * w, h + reach)],
        Place::Beside => vec![
            (-reach, 0.0, INTO * w, h),
            ((1.0 - INTO) * w, 0.0, w + reach, h),
        ],
        Place::Elsewhere => {
            let far = FAR * w.max(h);
            vec![
                (-far, h, w + far, h + far),
                (-far, -far, w + far, 0.0),
                (-far, 0.0, 0.0, h),
                (w, 0.0, w + far, h),
            ]
        }
        _ => vec![(-reach, -reach, w + reach, h + reach)],
    };
    let upright = match (turn, place) {
        (Some(_), _) => UPRIGHT_GIVEN,
        (None, Place::Elsewhere) => UPRIGHT_UNKNOWN,
        (None, _) => UPRIGHT_LIKELY,
    };
    let area = |part| {
        let quad = to_photo.apply_quad(&turned(part, turn.unwrap_or(0.0)))?;
        Some(Area {
            quad,
            code: None,
            upright,
        })
    };
    parts.into_iter().map(area).collect()
}

/// The smallest rectangle turned by `degrees` around an upright one (x0, y0, x1, y1).
fn turned((x0, y0, x1, y1): (f64, f64, f64, f64), degrees: f64) -> Quad<Upright> {
    let (sine, cosine) = degrees.to_radians().sin_cos();
    let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let (w, h) = ((x1 - x0) / 2.0, (y1 - y0) / 2.0);
    let across = w * cosine.abs() + h * sine.abs();
    let down = w * sine.abs() + h * cosine.abs();
    let corner = |u: f64, v: f64| {
        let (u, v) = (u * across, v * down);
        Point::new(cx + u * cosine - v * sine, cy + u * sine + v * cosine)
    };
    Quad([
        corner(-1.0, -1.0),
        corner(1.0, -1.0),
        corner(1.0, 1.0),
        corner(-1.0, 1.0),
    ])
}

/// Mean width and height; `None` where there is no area.
pub(super) fn size<F: Frame>(quad: &Quad<F>) -> Option<(f64, f64)> {
    let [a, b, c, d] = quad.0;
    let wide = (a.distance(b) + d.distance(c)) / 2.0;
    let high = (a.distance(d) + b.distance(c)) / 2.0;
    let real = wide.is_finite() && high.is_finite() && wide > 1e-6 && high > 1e-6;
    real.then_some((wide, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXEMPLAR: Quad<Photo> = Quad::upright(10.0, 20.0, 210.0, 120.0);

    fn laid(photo: &Quad<Photo>) -> Laid<'_> {
        Laid {
            exemplar: &EXEMPLAR,
            photo,
            named: None,
        }
    }

    fn near(a: Point<Photo>, x: f64, y: f64) -> bool {
        a.distance(Point::new(x, y)) < 1e-6
    }

    #[test]
    fn given_corners_follow_the_mark_upside_down() {
        // The photo shows the mark twice as large and on its head.
        let photo = Quad::from_array([
            [500.0, 300.0],
            [100.0, 300.0],
            [100.0, 100.0],
            [500.0, 100.0],
        ]);
        let place = Place::Inside {
            quad: Quad::upright(60.0, 100.0, 110.0, 110.0),
            image: None,
        };
        let found = areas(&place, None, &laid(&photo));
        let code = found[0].code.expect("its corners");
        assert!(near(code.0[0], 400.0, 140.0), "{code:?}");
        assert!(near(code.0[2], 300.0, 120.0), "{code:?}");
        let (wide, high) = size(&found[0].quad).expect("an area");
        assert!((wide - 220.0).abs() < 1e-6 && (high - 48.0).abs() < 1e-6);
    }

    #[test]
    fn places_without_corners_lie_about_the_mark() {
        let photo = EXEMPLAR;
        let below = areas(&Place::Below, None, &laid(&photo));
        assert!(near(below[0].quad.0[0], -10.0, 90.0), "{below:?}");
        assert!(near(below[0].quad.0[2], 230.0, 190.0), "{below:?}");
        assert!(below[0].code.is_none());
        assert_eq!(areas(&Place::Beside, None, &laid(&photo)).len(), 2);
        assert_eq!(areas(&Place::Near, None, &laid(&photo)).len(), 1);
        let elsewhere = areas(&Place::Elsewhere, None, &laid(&photo));
        assert_eq!(elsewhere.len(), 4);
        // None of them shows the mark itself.
        assert!(elsewhere.iter().all(|a| a.quad.overlap(&photo) < 1e-6));
        let flat = Quad::upright(0.0, 0.0, 5.0, 0.0);
        assert!(areas(&Place::Below, None, &laid(&flat)).is_empty());
    }

    #[test]
    fn a_turned_area_covers_the_level_one() {
        let photo = EXEMPLAR;
        let turned = areas(&Place::Below, Some(90.0), &laid(&photo));
        let [a, b, ..] = turned[0].quad.0;
        // Read from top to bottom.
        assert!((a.x - b.x).abs() < 1e-9 && b.y > a.y);
        let level = areas(&Place::Below, None, &laid(&photo));
        let (x0, y0, x1, y1) = turned[0].quad.bounds();
        let (u0, v0, u1, v1) = level[0].quad.bounds();
        assert!(
            [x0 - u0, y0 - v0, x1 - u1, y1 - v1]
                .iter()
                .all(|d| d.abs() < 1e-6)
        );
    }
}
