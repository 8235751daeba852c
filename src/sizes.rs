//! Lengths on a piece in millimetres, always with their error.
//!
//! The scale of a photo comes from something of known length in it, of which the person marks two points once: a ruler, a
//! tape, a coin, or the foot ring, of which they know the diameter. It holds in the plane of that thing and for a camera
//! that looks straight down; what it may be off by is in the error.

use std::fmt;
use std::str::FromStr;

use crate::geometry::{Photo, Point, Quad};

/// Pixels by which a point that a person marks on a photo may be off, as a standard deviation: a finger on a tablet,
/// with the picture filling it.
const MARKED: f64 = 3.0;
/// Share by which a length may be off since the camera looked askew: ten degrees shorten one direction by 1.5 %.
const ASKEW: f64 = 0.015;
/// Share of its longer side by which the box of a mark may be too large or too small: it stands off the ink by about
/// this much.
const BOX: f64 = 0.02;
/// Two sizes differ where their difference is more than so many times its error: fewer than one in three hundred pairs
/// of one size would.
const APART: f64 = 3.0;

/// A length in millimetres with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    pub mm: f64,
    pub error: f64,
}

impl Size {
    /// `None` where a length is not above 0, or an error below 0.
    pub fn new(mm: f64, error: f64) -> Option<Self> {
        let good = mm.is_finite() && error.is_finite() && mm > 0.0 && error >= 0.0;
        good.then_some(Self { mm, error })
    }

    /// The error of the difference of two.
    fn error_beside(self, other: Self) -> f64 {
        self.error.hypot(other.error)
    }

    /// Whether the two cannot be one size: they differ by more than three times the error of the difference.
    pub fn is_apart(self, other: Self) -> bool {
        (self.mm - other.mm).abs() > APART * self.error_beside(other)
    }
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} ± {:.1} mm", self.mm, self.error.max(0.05))
    }
}

/// A text that is no size.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no size with its error: write `23.4 ± 0.5` or `23.4 +- 0.5`, in mm")]
pub struct NoSize(pub String);

impl FromStr for Size {
    type Err = NoSize;

    fn from_str(text: &str) -> Result<Self, NoSize> {
        let plain = text.trim().trim_end_matches("mm");
        let parts = plain.split_once('±').or_else(|| plain.split_once("+-"));
        let number = |s: &str| s.trim().parse::<f64>().ok();
        let size = parts.and_then(|(mm, error)| Self::new(number(mm)?, number(error)?));
        size.ok_or_else(|| NoSize(text.to_owned()))
    }
}

/// What a pixel of a photo is in millimetres, and by what share that may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    pub mm_per_pixel: f64,
    pub relative: f64,
}

impl Scale {
    /// From two points that a person marked, and the length between them. `None` where they are too near to one another
    /// for their own error.
    pub fn between(a: Point<Photo>, b: Point<Photo>, length: Size) -> Option<Self> {
        let pixels = a.distance(b);
        // Both points are off, each by itself.
        let marked = MARKED * std::f64::consts::SQRT_2;
        (pixels > 10.0 * marked).then(|| Self::of(pixels, marked, length))
    }

    fn of(pixels: f64, off: f64, length: Size) -> Self {
        let parts = [off / pixels, length.error / length.mm, ASKEW];
        Self {
            mm_per_pixel: length.mm / pixels,
            relative: parts.iter().map(|p| p * p).sum::<f64>().sqrt(),
        }
    }

    /// The longer side of a mark's box.
    pub fn of_mark(&self, mark: &Quad<Photo>) -> Option<Size> {
        let [a, b, c, d] = mark.0;
        let across = (a.distance(b) + d.distance(c)) / 2.0;
        let down = (a.distance(d) + b.distance(c)) / 2.0;
        let mm = across.max(down) * self.mm_per_pixel;
        Size::new(mm, mm * self.relative.hypot(BOX))
    }
}

/// Two points and the length between them, as it is recorded: `x,y x,y 30 ± 0.2`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    pub ends: [Point<Photo>; 2],
    pub length: Size,
}

impl Span {
    pub fn scale(&self) -> Option<Scale> {
        Scale::between(self.ends[0], self.ends[1], self.length)
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [a, b] = self.ends;
        let Size { mm, error } = self.length;
        write!(
            f,
            "{:.1},{:.1} {:.1},{:.1} {mm} ± {error}",
            a.x, a.y, b.x, b.y
        )
    }
}

/// `x,y` in pixels of the upright photo.
pub fn read_point(text: &str) -> Option<Point<Photo>> {
    let (x, y) = text.split_once(',')?;
    let number = |s: &str| s.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    Some(Point::new(number(x)?, number(y)?))
}

impl FromStr for Span {
    type Err = NoSize;

    fn from_str(text: &str) -> Result<Self, NoSize> {
        let mut parts = text.splitn(3, ' ');
        let wrong = || NoSize(text.to_owned());
        let mut point = || read_point(parts.next()?);
        let ends = point().zip(point()).ok_or_else(wrong)?;
        let length = parts.next().ok_or_else(wrong)?.parse()?;
        Ok(Self {
            ends: [ends.0, ends.1],
            length,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(mm: f64, error: f64) -> Size {
        Size::new(mm, error).expect("a size")
    }

    #[test]
    fn sizes_read_back_and_odd_ones_do_not() {
        for (text, mm, error) in [
            ("23.4 ± 0.5", 23.4, 0.5),
            ("23+-1", 23.0, 1.0),
            ("7 ± 0 mm", 7.0, 0.0),
        ] {
            assert_eq!(text.parse(), Ok(size(mm, error)), "{text}");
        }
        for odd in ["", "23", "23 ± -1", "-3 ± 1", "nan ± 1", "inf ± 1", "0 ± 1"] {
            assert!(odd.parse::<Size>().is_err(), "{odd}");
        }
        let span = Span {
            ends: [Point::new(10.0, 20.5), Point::new(310.0, 20.5)],
            length: size(30.0, 0.2),
        };
        assert_eq!(span.to_string(), "10.0,20.5 310.0,20.5 30 ± 0.2");
        assert_eq!(span.to_string().parse(), Ok(span));
    }

    #[test]
    fn only_more_than_three_times_the_error_is_another_size() {
        let small = size(23.0, 0.3);
        assert!(!small.is_apart(size(24.2, 0.3)), "2.8 times");
        assert!(small.is_apart(size(24.4, 0.3)), "3.3 times");
        assert!(
            !small.is_apart(size(30.0, 3.0)),
            "an error as large says nothing"
        );
        assert!(!small.is_apart(small));
    }

    #[test]
    fn a_mark_is_measured_by_what_lies_beside_it() {
        let (a, b) = (Point::new(0.0, 0.0), Point::new(0.0, 600.0));
        let scale = Scale::between(a, b, size(30.0, 0.1)).expect("far apart");
        let mark = Quad::upright(100.0, 100.0, 500.0, 300.0);
        let found = scale.of_mark(&mark).expect("a size");
        assert!((found.mm - 20.0).abs() < 1e-9);
        // 0.7 % of the points, 0.3 % of the ruler, 1.5 % askew, 2 % of the box.
        assert!((found.error / found.mm - 0.026).abs() < 1e-3, "{found}");
        assert!(Scale::between(a, Point::new(0.0, 20.0), size(1.0, 0.1)).is_none());
        let coarse = Scale::between(a, b, size(30.0, 3.0)).expect("far apart");
        assert!(coarse.relative > 0.1);
    }
}
