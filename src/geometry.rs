//! Points, quadrilaterals and maps between the pixel frames of the pipeline.
//!
//! Every coordinate carries its frame as a type, so that a point of the photo cannot be handed to a
//! map that expects a point of the mark. Coordinates are in pixels with the origin at the *outer
//! corner* of the top-left pixel: the centre of that pixel is (0.5, 0.5).

use std::marker::PhantomData;

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

/// A pixel frame. Implemented by empty types only.
pub trait Frame: Copy {}

macro_rules! frames {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {
        $($(#[$doc])* #[derive(Debug, Clone, Copy, PartialEq, Eq)] pub enum $name {}
        impl Frame for $name {})+
    };
}

frames! {
    /// Pixels of the decoded, upright, full-size photo.
    Photo,
    /// Pixels of the photo shrunk to the working size, on which the underside is studied.
    View,
    /// Pixels of one mark region, cut out and scaled to a fixed size.
    Mark,
    /// Pixels of an exemplar's mark region, cut out and scaled to the same fixed size.
    Exemplar,
}

/// A point of frame `F`, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point<F: Frame> {
    pub x: f64,
    pub y: f64,
    frame: PhantomData<F>,
}

impl<F: Frame> Point<F> {
    pub const fn new(x: f64, y: f64) -> Self {
        Self {
            x,
            y,
            frame: PhantomData,
        }
    }

    /// Euclidean distance in pixels of `F`.
    pub fn distance(self, other: Self) -> f64 {
        let (dx, dy) = (self.x - other.x, self.y - other.y);
        (dx * dx + dy * dy).sqrt()
    }
}

/// Four corners: top-left, top-right, bottom-right, bottom-left *of the thing as read*.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quad<F: Frame>(pub [Point<F>; 4]);

impl<F: Frame> Quad<F> {
    /// The upright rectangle from (`x0`, `y0`) to (`x1`, `y1`).
    pub const fn upright(x0: f64, y0: f64, x1: f64, y1: f64) -> Self {
        Self([
            Point::new(x0, y0),
            Point::new(x1, y0),
            Point::new(x1, y1),
            Point::new(x0, y1),
        ])
    }

    pub fn centre(&self) -> Point<F> {
        let sum = self
            .0
            .iter()
            .fold((0.0, 0.0), |s, p| (s.0 + p.x, s.1 + p.y));
        Point::new(sum.0 / 4.0, sum.1 / 4.0)
    }

    /// Signed area by the shoelace formula, in square pixels; positive where the corners run
    /// clockwise on the screen (y down).
    pub fn area(&self) -> f64 {
        let p = &self.0;
        (0..4)
            .map(|i| p[i].x * p[(i + 1) % 4].y - p[(i + 1) % 4].x * p[i].y)
            .sum::<f64>()
            / 2.0
    }

    /// Smallest upright rectangle around the corners: (x0, y0, x1, y1).
    pub fn bounds(&self) -> (f64, f64, f64, f64) {
        self.0.iter().fold(
            (
                f64::INFINITY,
                f64::INFINITY,
                f64::NEG_INFINITY,
                f64::NEG_INFINITY,
            ),
            |b, p| (b.0.min(p.x), b.1.min(p.y), b.2.max(p.x), b.3.max(p.y)),
        )
    }

    /// Whether all four turns go the same way.
    pub fn is_convex(&self) -> bool {
        let p = &self.0;
        let turn = |i: usize| {
            let (a, b, c) = (p[i], p[(i + 1) % 4], p[(i + 2) % 4]);
            (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x)
        };
        (0..4).all(|i| turn(i) > 0.0) || (0..4).all(|i| turn(i) < 0.0)
    }

    /// The corners as plain numbers, for the answer's JSON.
    pub fn to_array(&self) -> [[f64; 2]; 4] {
        self.0.map(|p| [p.x, p.y])
    }

    pub fn from_array(corners: [[f64; 2]; 4]) -> Self {
        Self(corners.map(|[x, y]| Point::new(x, y)))
    }

    /// Intersection over union of two convex quadrilaterals, from 0 to 1.
    ///
    /// Clips one by the other (Sutherland and Hodgman 1974).
    pub fn overlap(&self, other: &Self) -> f64 {
        let mut clip = other.0;
        if other.area() < 0.0 {
            clip.reverse();
        }
        let mut poly: Vec<Point<F>> = self.0.to_vec();
        for i in 0..4 {
            let (a, b) = (clip[i], clip[(i + 1) % 4]);
            let side = |p: Point<F>| (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
            let mut next = Vec::with_capacity(poly.len() + 1);
            for k in 0..poly.len() {
                let (p, q) = (poly[k], poly[(k + 1) % poly.len()]);
                let (sp, sq) = (side(p), side(q));
                if sp >= 0.0 {
                    next.push(p);
                }
                if (sp >= 0.0) != (sq >= 0.0) {
                    let t = sp / (sp - sq);
                    next.push(Point::new(p.x + t * (q.x - p.x), p.y + t * (q.y - p.y)));
                }
            }
            poly = next;
        }
        let n = poly.len();
        let inner = (0..n)
            .map(|i| poly[i].x * poly[(i + 1) % n].y - poly[(i + 1) % n].x * poly[i].y)
            .sum::<f64>()
            .abs()
            / 2.0;
        let union = self.area().abs() + other.area().abs() - inner;
        if union > 0.0 {
            (inner / union).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// A plane projective map from frame `A` to frame `B`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography<A: Frame, B: Frame> {
    m: Matrix3<f64>,
    frames: PhantomData<(A, B)>,
}

impl<A: Frame, B: Frame> Homography<A, B> {
    /// From a row-major matrix; scaled so that the last entry is 1 where it is not 0.
    pub fn new(rows: [[f64; 3]; 3]) -> Self {
        Self::from_matrix(Matrix3::from_fn(|r, c| rows[r][c]))
    }

    fn from_matrix(m: Matrix3<f64>) -> Self {
        let s = m[(2, 2)];
        let m = if s.abs() > 1e-12 { m / s } else { m };
        Self {
            m,
            frames: PhantomData,
        }
    }

    /// Scale, turn by `radians` (from x towards y), then shift.
    pub fn similarity(scale: f64, radians: f64, tx: f64, ty: f64) -> Self {
        let (s, c) = radians.sin_cos();
        Self::affine([[scale * c, -scale * s, tx], [scale * s, scale * c, ty]])
    }

    /// From the two upper rows of an affine matrix.
    pub fn affine(rows: [[f64; 3]; 2]) -> Self {
        Self::new([rows[0], rows[1], [0.0, 0.0, 1.0]])
    }

    /// The map that takes the four corners of `from` to those of `to`; `None` where three corners
    /// lie on a line.
    pub fn between(from: &Quad<A>, to: &Quad<B>) -> Option<Self> {
        Self::fit(&from.0, &to.0)
    }

    /// Least-squares homography through at least four point pairs: the normalised direct linear
    /// transform with the last entry fixed to 1 (Hartley and Zisserman 2004, section 4.4).
    pub fn fit(from: &[Point<A>], to: &[Point<B>]) -> Option<Self> {
        if from.len() != to.len() || from.len() < 4 {
            return None;
        }
        let na = Norm::of(from.iter().map(|p| (p.x, p.y)))?;
        let nb = Norm::of(to.iter().map(|p| (p.x, p.y)))?;
        let mut ata = SMatrix::<f64, 8, 8>::zeros();
        let mut atb = SVector::<f64, 8>::zeros();
        for (p, q) in from.iter().zip(to) {
            let (x, y) = na.apply(p.x, p.y);
            let (u, v) = nb.apply(q.x, q.y);
            let r1 = SVector::<f64, 8>::from([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y]);
            let r2 = SVector::<f64, 8>::from([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y]);
            ata += r1 * r1.transpose() + r2 * r2.transpose();
            atb += r1 * u + r2 * v;
        }
        let h = ata.lu().solve(&atb)?;
        if h.iter().any(|v| !v.is_finite()) {
            return None;
        }
        let inner = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        Some(Self::from_matrix(nb.inverse_matrix() * inner * na.matrix()))
    }

    /// Where `p` falls in `B`; `None` on or behind the horizon line of the map.
    pub fn apply(&self, p: Point<A>) -> Option<Point<B>> {
        let v = self.m * Vector3::new(p.x, p.y, 1.0);
        (v.z > 1e-9).then(|| Point::new(v.x / v.z, v.y / v.z))
    }

    pub fn apply_quad(&self, q: &Quad<A>) -> Option<Quad<B>> {
        let mut out = [Point::new(0.0, 0.0); 4];
        for (o, p) in out.iter_mut().zip(q.0) {
            *o = self.apply(p)?;
        }
        Some(Quad(out))
    }

    /// `None` where the matrix cannot be inverted.
    pub fn inverse(&self) -> Option<Homography<B, A>> {
        self.m.try_inverse().map(Homography::from_matrix)
    }

    /// First `self`, then `next`.
    pub fn then<C: Frame>(&self, next: &Homography<B, C>) -> Homography<A, C> {
        Homography::from_matrix(next.m * self.m)
    }

    /// The matrix by rows.
    pub fn rows(&self) -> [[f64; 3]; 3] {
        std::array::from_fn(|r| std::array::from_fn(|c| self.m[(r, c)]))
    }

    /// Local area scale (determinant of the derivative) at `p`; negative where the map mirrors.
    pub fn local_area(&self, p: Point<A>) -> f64 {
        let v = self.m * Vector3::new(p.x, p.y, 1.0);
        self.m.determinant() / v.z.powi(3)
    }
}

/// Shift and scale that bring points to zero mean and mean distance √2 (Hartley 1997).
struct Norm {
    s: f64,
    cx: f64,
    cy: f64,
}

impl Norm {
    fn of(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<Self> {
        let n = points.clone().count() as f64;
        let (sx, sy) = points
            .clone()
            .fold((0.0, 0.0), |a, p| (a.0 + p.0, a.1 + p.1));
        let (cx, cy) = (sx / n, sy / n);
        let spread = points.map(|p| (p.0 - cx).hypot(p.1 - cy)).sum::<f64>() / n;
        (spread > 1e-9).then(|| Self {
            s: std::f64::consts::SQRT_2 / spread,
            cx,
            cy,
        })
    }

    fn apply(&self, x: f64, y: f64) -> (f64, f64) {
        (self.s * (x - self.cx), self.s * (y - self.cy))
    }

    fn matrix(&self) -> Matrix3<f64> {
        Matrix3::new(
            self.s,
            0.0,
            -self.s * self.cx,
            0.0,
            self.s,
            -self.s * self.cy,
            0.0,
            0.0,
            1.0,
        )
    }

    fn inverse_matrix(&self) -> Matrix3<f64> {
        Matrix3::new(
            1.0 / self.s,
            0.0,
            self.cx,
            0.0,
            1.0 / self.s,
            self.cy,
            0.0,
            0.0,
            1.0,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inverse_undoes() {
        let m = Homography::<Photo, View>::new([
            [0.9, 0.1, 12.0],
            [-0.2, 1.1, -3.0],
            [1e-4, 2e-4, 1.0],
        ]);
        let p = Point::new(40.0, 9.0);
        let back = m
            .then(&m.inverse().expect("invertible"))
            .apply(p)
            .expect("in front");
        assert!(back.distance(p) < 1e-9);
    }

    #[test]
    fn four_corners_fix_the_map() {
        let a = Quad::<Photo>::upright(0.0, 0.0, 10.0, 5.0);
        let b = Quad::<Mark>::from_array([[1.0, 2.0], [30.0, 0.0], [33.0, 21.0], [-2.0, 18.0]]);
        let h = Homography::between(&a, &b).expect("general position");
        for (p, q) in a.0.iter().zip(b.0) {
            assert!(h.apply(*p).expect("in front").distance(q) < 1e-9);
        }
    }

    #[test]
    fn overlap_of_shifted_squares_is_a_third() {
        let a = Quad::<Photo>::upright(0.0, 0.0, 2.0, 2.0);
        let b = Quad::<Photo>::upright(1.0, 0.0, 3.0, 2.0);
        assert!((a.overlap(&b) - 1.0 / 3.0).abs() < 1e-12);
        assert_eq!(a.overlap(&Quad::upright(5.0, 5.0, 6.0, 6.0)), 0.0);
    }
}
