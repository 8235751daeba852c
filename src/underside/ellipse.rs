//! Ellipses: fitting, and how much of one is drawn in a picture.

use nalgebra::{Matrix3, Vector3};

use crate::geometry::{Frame, Point};

/// An ellipse in frame `F`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse<F: Frame> {
    pub centre: Point<F>,
    /// Half the longer and the shorter axis, in pixels.
    pub major: f64,
    pub minor: f64,
    /// Direction of the longer axis in radians from x towards y, 0 to pi.
    pub angle: f64,
}

impl<F: Frame> Ellipse<F> {
    /// Direct least-squares fit (Fitzgibbon, Pilu and Fisher 1999, in the numerically stable form
    /// of Halíř and Flusser 1998). `None` below six points or where no ellipse fits.
    pub fn fit(points: &[Point<F>]) -> Option<Self> {
        if points.len() < 6 {
            return None;
        }
        let n = points.len() as f64;
        let (mx, my) = points
            .iter()
            .fold((0.0, 0.0), |a, p| (a.0 + p.x / n, a.1 + p.y / n));
        let spread = points
            .iter()
            .map(|p| (p.x - mx).hypot(p.y - my))
            .sum::<f64>()
            / n;
        if spread < 1e-9 {
            return None;
        }
        let (mut s1, mut s2, mut s3) = (Matrix3::zeros(), Matrix3::zeros(), Matrix3::zeros());
        for p in points {
            let (x, y) = ((p.x - mx) / spread, (p.y - my) / spread);
            let quadratic = Vector3::new(x * x, x * y, y * y);
            let linear = Vector3::new(x, y, 1.0);
            s1 += quadratic * quadratic.transpose();
            s2 += quadratic * linear.transpose();
            s3 += linear * linear.transpose();
        }
        let t = -s3.try_inverse()? * s2.transpose();
        let m = s1 + s2 * t;
        // Multiplied by the inverse of the constraint matrix [[0, 0, 2], [0, -1, 0], [2, 0, 0]].
        let m = Matrix3::from_rows(&[m.row(2) / 2.0, -m.row(1), m.row(0) / 2.0]);
        let a = eigenvectors(&m)
            .into_iter()
            .find(|v| 4.0 * v.x * v.z - v.y * v.y > 1e-12)?;
        let b = t * a;
        Self::from_conic([a.x, a.y, a.z, b.x, b.y, b.z]).map(|e| Self {
            centre: Point::new(e.centre.x * spread + mx, e.centre.y * spread + my),
            major: e.major * spread,
            minor: e.minor * spread,
            angle: e.angle,
        })
    }

    /// From A x² + B xy + C y² + D x + E y + F = 0.
    fn from_conic(conic: [f64; 6]) -> Option<Self> {
        let [a, b, c, d, e, f] = conic;
        let det = 4.0 * a * c - b * b;
        if det <= 0.0 {
            return None;
        }
        let (x, y) = ((b * e - 2.0 * c * d) / det, (b * d - 2.0 * a * e) / det);
        let value = f + (d * x + e * y) / 2.0;
        let (mean, half) = ((a + c) / 2.0, ((a - c) / 2.0).hypot(b / 2.0));
        // Eigenvalues of the quadratic form; the smaller in size belongs to the longer axis.
        let (l1, l2) = (mean + half, mean - half);
        let (r1, r2) = (-value / l1, -value / l2);
        if r1 <= 0.0 || r2 <= 0.0 || !r1.is_finite() || !r2.is_finite() {
            return None;
        }
        let of_l1 = 0.5 * b.atan2(a - c);
        let (major, minor, angle) = if r1 >= r2 {
            (r1.sqrt(), r2.sqrt(), of_l1)
        } else {
            (r2.sqrt(), r1.sqrt(), of_l1 + std::f64::consts::FRAC_PI_2)
        };
        Some(Self {
            centre: Point::new(x, y),
            major,
            minor,
            angle: angle.rem_euclid(std::f64::consts::PI),
        })
    }

    /// The point at parameter `t` (radians) and the outward unit normal there.
    pub fn at(&self, t: f64) -> (Point<F>, (f64, f64)) {
        self.at_turn(t.sin_cos(), self.angle.sin_cos())
    }

    /// The points at many parameters, given by their sine and cosine, and the normals there.
    pub fn along(&self, parameters: &[(f64, f64)]) -> impl Iterator<Item = (Point<F>, (f64, f64))> {
        let axis = self.angle.sin_cos();
        parameters.iter().map(move |&t| self.at_turn(t, axis))
    }

    fn at_turn(&self, (sin, cos): (f64, f64), (s, c): (f64, f64)) -> (Point<F>, (f64, f64)) {
        let (u, v) = (self.major * cos, self.minor * sin);
        let (nu, nv) = (self.minor * cos, self.major * sin);
        let length = (nu * nu + nv * nv).sqrt().max(1e-12);
        let turn = |p: f64, q: f64| (c * p - s * q, s * p + c * q);
        let (x, y) = turn(u, v);
        (
            Point::new(self.centre.x + x, self.centre.y + y),
            turn(nu / length, nv / length),
        )
    }

    /// Below 1 inside, 1 on the ellipse, above 1 outside: distance from the centre in radii.
    pub fn radius_of(&self, p: Point<F>) -> f64 {
        let (s, c) = self.angle.sin_cos();
        let (dx, dy) = (p.x - self.centre.x, p.y - self.centre.y);
        ((c * dx + s * dy) / self.major).hypot((-s * dx + c * dy) / self.minor)
    }

    /// The ellipse enlarged about its centre.
    pub fn scaled(&self, k: f64) -> Self {
        Self {
            major: self.major * k,
            minor: self.minor * k,
            ..*self
        }
    }

    /// The same ellipse in another frame that is a scaled copy of this one.
    pub fn to_scale<G: Frame>(&self, k: f64) -> Ellipse<G> {
        Ellipse {
            centre: Point::new(self.centre.x * k, self.centre.y * k),
            major: self.major * k,
            minor: self.minor * k,
            angle: self.angle,
        }
    }
}

/// Real eigenvectors of a general 3 x 3 matrix, by the roots of its characteristic polynomial.
fn eigenvectors(m: &Matrix3<f64>) -> Vec<Vector3<f64>> {
    let trace = m.trace();
    let minors = (trace * trace - (m * m).trace()) / 2.0;
    let det = m.determinant();
    cubic_roots(-trace, minors, -det)
        .into_iter()
        .filter_map(|l| {
            let a = m - Matrix3::identity() * l;
            let rows = [
                a.row(0).transpose(),
                a.row(1).transpose(),
                a.row(2).transpose(),
            ];
            [(0, 1), (0, 2), (1, 2)]
                .iter()
                .map(|&(i, j)| rows[i].cross(&rows[j]))
                .max_by(|x: &Vector3<f64>, y| x.norm().total_cmp(&y.norm()))
                .filter(|v| v.norm() > 0.0)
                .map(|v| v.normalize())
        })
        .collect()
}

/// Real roots of x³ + a x² + b x + c.
fn cubic_roots(a: f64, b: f64, c: f64) -> Vec<f64> {
    let q = (a * a - 3.0 * b) / 9.0;
    let r = (2.0 * a.powi(3) - 9.0 * a * b + 27.0 * c) / 54.0;
    if r * r < q.powi(3) {
        let theta = (r / q.powf(1.5)).clamp(-1.0, 1.0).acos();
        (-1..=1)
            .map(|k| {
                let turn = (theta + std::f64::consts::TAU * f64::from(k)) / 3.0;
                -2.0 * q.sqrt() * turn.cos() - a / 3.0
            })
            .collect()
    } else {
        let s = -r.signum() * (r.abs() + (r * r - q.powi(3)).max(0.0).sqrt()).cbrt();
        let t = if s.abs() > 0.0 { q / s } else { 0.0 };
        vec![s + t - a / 3.0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::View;

    #[test]
    fn a_drawn_ellipse_is_fitted_back_even_from_a_third_of_it() {
        let e = Ellipse::<View> {
            centre: Point::new(210.0, 140.0),
            major: 120.0,
            minor: 75.0,
            angle: 2.1,
        };
        for arc in [std::f64::consts::TAU, 2.2] {
            let points: Vec<_> = (0..80)
                .map(|i| e.at(0.4 + arc * f64::from(i) / 80.0).0)
                .collect();
            let got = Ellipse::fit(&points).expect("an ellipse");
            assert!(
                (got.major - 120.0).abs() < 1e-3 && (got.minor - 75.0).abs() < 1e-3,
                "{got:?}"
            );
            assert!((got.angle - 2.1).abs() < 1e-5);
            assert!(got.centre.distance(e.centre) < 1e-3);
        }
    }

    #[test]
    fn points_on_a_line_are_no_ellipse() {
        let points: Vec<_> = (0..20)
            .map(|i| Point::<View>::new(f64::from(i), 2.0))
            .collect();
        assert!(Ellipse::fit(&points).is_none());
    }
}
