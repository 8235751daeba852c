//! From a crop of a base to strips of one height that the reader can take: lines of text, straight
//! or along an arc, cut out at the crop's own resolution and brought to the measure of ink that
//! the reader was trained on.

mod grey;
mod ink;
mod lines;

pub use grey::grey_of;
pub use ink::Views;
pub use lines::find_lines;

use super::reader::STRIP_HIGH;
use crate::geometry::{Frame, Homography, Point, Quad};
use crate::raster::Plane;

/// Pixels of a strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Strip {}

impl Frame for Strip {}

/// Height of capitals in a strip, as a share of the strip: what the reader saw most in training,
/// where it went from 0.47 to 0.78.
const CAPITALS: f64 = 0.62;

/// Margin at the ends of a line, in heights of its capitals.
const ENDS: f64 = 0.4;

/// Narrowest and widest strip in pixels. A single `I` with its margin is wider than the first;
/// the second holds forty signs, and no code is so long.
const WIDTHS: (usize, usize) = (12, 640);

/// The box of a strip around the tight box of a line's capitals.
pub fn around<F: Frame>(line: &Quad<F>) -> Quad<F> {
    let [tl, tr, br, bl] = line.0;
    let mix =
        |a: Point<F>, b: Point<F>, t: f64| Point::new(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
    let more = (1.0 / CAPITALS - 1.0) / 2.0;
    let high = tl.distance(bl).max(tr.distance(br));
    let wide = tl.distance(tr).max(bl.distance(br)).max(1.0);
    let ends = ENDS * high / wide;
    // First up and down, then along.
    let [tl, bl] = [mix(tl, bl, -more), mix(tl, bl, 1.0 + more)];
    let [tr, br] = [mix(tr, br, -more), mix(tr, br, 1.0 + more)];
    Quad([
        mix(tl, tr, -ends),
        mix(tl, tr, 1.0 + ends),
        mix(bl, br, 1.0 + ends),
        mix(bl, br, -ends),
    ])
}

/// The strip inside `quad` of a picture, grey as the picture is; averaged where it shrinks. `None`
/// where the box is degenerate, or longer than any code.
pub fn cut<F: Frame>(grey: &Plane, quad: &Quad<F>) -> Option<Plane> {
    let [tl, tr, br, bl] = quad.0;
    let high = (tl.distance(bl) + tr.distance(br)) / 2.0;
    let wide = (tl.distance(tr) + bl.distance(br)) / 2.0;
    if high < 1.0 {
        return None;
    }
    let scale = high / STRIP_HIGH as f64;
    let columns = (wide / scale).round() as usize;
    if !(WIDTHS.0..=WIDTHS.1).contains(&columns) {
        return None;
    }
    let frame = Quad::<Strip>::upright(0.0, 0.0, columns as f64, STRIP_HIGH as f64);
    let map = Homography::between(&frame, quad)?;
    // Samples along each side of a pixel: enough that none of the picture is stepped over.
    let fine = (scale.ceil() as usize).clamp(1, 6);
    let step = 1.0 / fine as f64;
    let mut out = Plane::filled(columns, STRIP_HIGH, 0.0);
    for y in 0..STRIP_HIGH {
        for x in 0..columns {
            let mut sum = 0.0;
            for i in 0..fine * fine {
                let at = Point::new(
                    x as f64 + ((i % fine) as f64 + 0.5) * step,
                    y as f64 + ((i / fine) as f64 + 0.5) * step,
                );
                let from = map.apply(at)?;
                sum += grey.sample(from.x as f32, from.y as f32);
            }
            out.set(x, y, sum / (fine * fine) as f32);
        }
    }
    Some(out)
}

/// The plane turned by 180 degrees.
pub fn turned(plane: &Plane) -> Plane {
    let data = plane.data().iter().rev().copied().collect();
    Plane::from_vec(plane.width(), plane.height(), data)
}

/// A stretch of a ring around a known centre. Angles in radians, clockwise on the screen from the
/// right; a sweep runs clockwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc<F: Frame> {
    pub centre: Point<F>,
    pub inner: f64,
    pub outer: f64,
    pub from: f64,
    pub sweep: f64,
}

impl<F: Frame> Arc<F> {
    /// Where a point of the unrolled stretch lies in the picture.
    pub fn place(&self, at: Point<Strip>) -> Point<F> {
        let radius = self.outer - at.y;
        let turn = self.from + at.x / self.middle();
        let (sine, cosine) = turn.sin_cos();
        Point::new(
            self.centre.x + radius * cosine,
            self.centre.y + radius * sine,
        )
    }

    fn middle(&self) -> f64 {
        (self.inner + self.outer) / 2.0
    }
}

/// The stretch of the ring unrolled, outward up, at the picture's resolution in its middle: a line
/// along it is straight there and can be found by [`find_lines`]. Empty where the ring is.
pub fn unrolled<F: Frame>(grey: &Plane, arc: &Arc<F>) -> Plane {
    let wide = (arc.sweep * arc.middle()).round().max(0.0) as usize;
    let high = (arc.outer - arc.inner).round().max(0.0) as usize;
    let mut out = Plane::filled(wide, high, 0.0);
    for y in 0..high {
        for x in 0..wide {
            let from = arc.place(Point::new(x as f64 + 0.5, y as f64 + 0.5));
            out.set(x, y, grey.sample(from.x as f32, from.y as f32));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Mark;

    #[test]
    fn a_line_gets_room_and_keeps_its_slant() {
        let line =
            Quad::<Mark>::from_array([[10.0, 20.0], [110.0, 20.0], [110.0, 40.0], [10.0, 40.0]]);
        let [tl, _, br, _] = around(&line).to_array();
        assert!((br[1] - tl[1] - 20.0 / CAPITALS).abs() < 1e-9);
        assert!((br[0] - tl[0] - (100.0 + 2.0 * ENDS * 20.0)).abs() < 1e-9);
    }

    #[test]
    fn a_strip_is_cut_along_its_box() {
        let mut grey = Plane::filled(200, 100, 0.8);
        for y in 40..56 {
            for x in 60..70 {
                grey.set(x, y, 0.2);
            }
        }
        let quad = Quad::<Mark>::upright(40.0, 32.0, 104.0, 64.0);
        let strip = cut(&grey, &quad).expect("a strip");
        assert_eq!((strip.width(), strip.height()), (64, STRIP_HIGH));
        assert!((strip.get(25, 16) - 0.2).abs() < 1e-5);
        assert!((strip.get(40, 16) - 0.8).abs() < 1e-5);
        let half = cut(&grey, &Quad::<Mark>::upright(0.0, 0.0, 200.0, 100.0)).expect("a strip");
        assert_eq!(half.width(), 64);
        assert!(cut(&grey, &Quad::<Mark>::upright(5.0, 5.0, 5.0, 5.0)).is_none());
        assert_eq!(turned(&turned(&strip)), strip);
    }

    #[test]
    fn an_arc_is_unrolled_outward_up() {
        let centre = Point::<Mark>::new(150.0, 150.0);
        let mut grey = Plane::filled(300, 300, 1.0);
        for y in 0..300 {
            for x in 0..300 {
                let radius = (x as f32 + 0.5 - 150.0).hypot(y as f32 + 0.5 - 150.0);
                if (95.0..100.0).contains(&radius) {
                    grey.set(x, y, 0.0);
                }
            }
        }
        let arc = Arc {
            centre,
            inner: 80.0,
            outer: 110.0,
            from: -2.0,
            sweep: 1.0,
        };
        let flat = unrolled(&grey, &arc);
        assert_eq!((flat.width(), flat.height()), (95, 30));
        for x in 0..flat.width() {
            // The ring's own edge is ragged by a pixel.
            for y in 0..30 {
                let dark = flat.get(x, y) < 0.5;
                assert!(dark || !(11..14).contains(&y), "{x}, {y}");
                assert!(!dark || (9..16).contains(&y), "{x}, {y}");
            }
        }
    }
}
