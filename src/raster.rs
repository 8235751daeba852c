//! Planes of floating-point samples and the few operations on them that the stages share.

use image::RgbImage;

use crate::geometry::{Frame, Homography, Point};

/// A single-channel picture, row by row. Sample (x, y) covers the unit square from (x, y) to
/// (x + 1, y + 1): its centre is at (x + 0.5, y + 0.5).
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    width: usize,
    height: usize,
    data: Vec<f32>,
}

impl Plane {
    pub fn filled(width: usize, height: usize, value: f32) -> Self {
        Self {
            width,
            height,
            data: vec![value; width * height],
        }
    }

    /// # Panics
    /// Where `data` does not hold `width * height` samples.
    pub fn from_vec(width: usize, height: usize, data: Vec<f32>) -> Self {
        assert_eq!(
            data.len(),
            width * height,
            "a plane needs one sample per pixel"
        );
        Self {
            width,
            height,
            data,
        }
    }

    pub fn width(&self) -> usize {
        self.width
    }

    pub fn height(&self) -> usize {
        self.height
    }

    pub fn data(&self) -> &[f32] {
        &self.data
    }

    pub fn data_mut(&mut self) -> &mut [f32] {
        &mut self.data
    }

    pub fn get(&self, x: usize, y: usize) -> f32 {
        self.data[y * self.width + x]
    }

    pub fn set(&mut self, x: usize, y: usize, value: f32) {
        self.data[y * self.width + x] = value;
    }

    pub fn row(&self, y: usize) -> &[f32] {
        &self.data[y * self.width..(y + 1) * self.width]
    }

    pub fn map(&self, f: impl Fn(f32) -> f32) -> Self {
        Self {
            data: self.data.iter().map(|&v| f(v)).collect(),
            ..*self
        }
    }

    /// Combines two planes of equal size sample by sample.
    ///
    /// # Panics
    /// Where the sizes differ.
    pub fn zip(&self, other: &Self, f: impl Fn(f32, f32) -> f32) -> Self {
        assert_eq!(
            (self.width, self.height),
            (other.width, other.height),
            "sizes differ"
        );
        let data = self
            .data
            .iter()
            .zip(&other.data)
            .map(|(&a, &b)| f(a, b))
            .collect();
        Self { data, ..*self }
    }

    pub fn mean(&self) -> f32 {
        if self.data.is_empty() {
            return 0.0;
        }
        (self.data.iter().map(|&v| f64::from(v)).sum::<f64>() / self.data.len() as f64) as f32
    }

    /// Bilinear sample at a position in pixels (outer-corner origin); edges are replicated.
    pub fn sample(&self, x: f32, y: f32) -> f32 {
        let (x0, x1, ax) = between(x, self.width);
        let (y0, y1, ay) = between(y, self.height);
        let (upper, lower) = (self.row(y0), self.row(y1));
        let top = upper[x0] * (1.0 - ax) + upper[x1] * ax;
        let bottom = lower[x0] * (1.0 - ax) + lower[x1] * ax;
        top * (1.0 - ay) + bottom * ay
    }

    /// Whether a position lies inside the plane.
    pub fn contains(&self, x: f32, y: f32) -> bool {
        x >= 0.0 && y >= 0.0 && x <= self.width as f32 && y <= self.height as f32
    }

    /// Gaussian blur, edges by renormalisation. Below 2 px a sampled kernel, above it three box
    /// filters of the same variance (Wells 1986), whose cost does not depend on `sigma`.
    pub fn blur(&self, sigma: f32) -> Self {
        if sigma < 0.15 {
            self.clone()
        } else if sigma < 2.0 {
            self.blur_kernel(&gaussian_kernel(sigma))
        } else {
            let mut out = self.clone();
            for radius in box_radii(sigma) {
                out = out.box_rows(radius).box_columns(radius);
            }
            out
        }
    }

    /// Separable convolution with an odd symmetric kernel; edges by renormalisation.
    fn blur_kernel(&self, half: &[f32]) -> Self {
        let (w, h) = (self.width, self.height);
        let r = half.len() - 1;
        let mut mid = vec![0.0f32; w * h];
        for y in 0..h {
            let src = self.row(y);
            let dst = &mut mid[y * w..(y + 1) * w];
            if w > 2 * r {
                // Tap by tap over the whole row, so that many pixels are summed at a time.
                let inner = &mut dst[r..w - r];
                for (o, v) in inner.iter_mut().zip(&src[r..]) {
                    *o = half[0] * v;
                }
                for (k, tap) in half.iter().enumerate().skip(1) {
                    let both = src[r - k..].iter().zip(&src[r + k..]);
                    for (o, (a, b)) in inner.iter_mut().zip(both) {
                        *o += tap * (a + b);
                    }
                }
            }
            for x in (0..r.min(w)).chain(w.saturating_sub(r).max(r.min(w))..w) {
                dst[x] = edge_sum(src, x, half);
            }
        }
        let line = |y: usize| &mid[y * w..(y + 1) * w];
        let mut out = vec![0.0f32; w * h];
        for y in 0..h {
            let dst = &mut out[y * w..(y + 1) * w];
            for (d, v) in dst.iter_mut().zip(line(y)) {
                *d = half[0] * v;
            }
            let mut total = half[0];
            for (k, tap) in half.iter().enumerate().skip(1) {
                let (above, below) = (y.checked_sub(k), (y + k < h).then_some(y + k));
                if let (Some(a), Some(b)) = (above, below) {
                    for ((d, a), b) in dst.iter_mut().zip(line(a)).zip(line(b)) {
                        *d += tap * (a + b);
                    }
                    total += 2.0 * tap;
                } else if let Some(one) = above.or(below) {
                    for (d, v) in dst.iter_mut().zip(line(one)) {
                        *d += tap * v;
                    }
                    total += tap;
                }
            }
            if y < r || y + r >= h {
                dst.iter_mut().for_each(|d| *d /= total);
            }
        }
        Self { data: out, ..*self }
    }

    fn box_rows(&self, radius: usize) -> Self {
        let mut out = vec![0.0f32; self.data.len()];
        let w = self.width;
        for (src, dst) in self.data.chunks_exact(w).zip(out.chunks_exact_mut(w)) {
            let r = radius.min(w - 1);
            let mut sum: f32 = src[..r].iter().sum();
            let mut n = r;
            for x in 0..w {
                if x + r < w {
                    sum += src[x + r];
                    n += 1;
                }
                if x > r {
                    sum -= src[x - r - 1];
                    n -= 1;
                }
                dst[x] = sum / n as f32;
            }
        }
        Self { data: out, ..*self }
    }

    fn box_columns(&self, radius: usize) -> Self {
        let (w, h) = (self.width, self.height);
        let r = radius.min(h - 1);
        let mut out = vec![0.0f32; self.data.len()];
        let mut sum = vec![0.0f32; w];
        for y in 0..r {
            sum.iter_mut().zip(self.row(y)).for_each(|(s, v)| *s += v);
        }
        let mut n = r;
        for y in 0..h {
            if y + r < h {
                sum.iter_mut()
                    .zip(self.row(y + r))
                    .for_each(|(s, v)| *s += v);
                n += 1;
            }
            if y > r {
                sum.iter_mut()
                    .zip(self.row(y - r - 1))
                    .for_each(|(s, v)| *s -= v);
                n -= 1;
            }
            let inv = 1.0 / n as f32;
            out[y * w..(y + 1) * w]
                .iter_mut()
                .zip(&sum)
                .for_each(|(o, s)| *o = s * inv);
        }
        Self { data: out, ..*self }
    }

    /// Half size by 2 x 2 means (an odd last row or column is dropped).
    pub fn half(&self) -> Self {
        self.shrink(2)
    }

    /// Size divided by `k` by k x k means (what does not fill a block is dropped).
    pub fn shrink(&self, k: usize) -> Self {
        let (w, h) = ((self.width / k).max(1), (self.height / k).max(1));
        let (kx, ky) = (k.min(self.width), k.min(self.height));
        let mut data = Vec::with_capacity(w * h);
        let scale = 1.0 / (kx * ky) as f32;
        for y in 0..h {
            for x in 0..w {
                let mut s = 0.0;
                for yy in 0..ky {
                    let from = (y * k + yy) * self.width + x * k;
                    s += self.data[from..from + kx].iter().sum::<f32>();
                }
                data.push(s * scale);
            }
        }
        Self {
            width: w,
            height: h,
            data,
        }
    }

    /// Bilinear enlargement (or mild shrinking) to a given size.
    pub fn resized(&self, width: usize, height: usize) -> Self {
        let (sx, sy) = (
            self.width as f32 / width as f32,
            self.height as f32 / height as f32,
        );
        let along: Vec<(usize, usize, f32)> = (0..width)
            .map(|x| between((x as f32 + 0.5) * sx, self.width))
            .collect();
        let mut data = Vec::with_capacity(width * height);
        for y in 0..height {
            let (y0, y1, ay) = between((y as f32 + 0.5) * sy, self.height);
            let (upper, lower) = (self.row(y0), self.row(y1));
            data.extend(along.iter().map(|&(x0, x1, ax)| {
                let top = upper[x0] * (1.0 - ax) + upper[x1] * ax;
                let bottom = lower[x0] * (1.0 - ax) + lower[x1] * ax;
                top * (1.0 - ay) + bottom * ay
            }));
        }
        Self {
            width,
            height,
            data,
        }
    }

    /// Resamples into a frame `B` of the given size, bilinear; `outside` where the source ends.
    /// Does not smooth: shrink first where the map shrinks.
    pub fn warp<A: Frame, B: Frame>(
        &self,
        to_source: &Homography<B, A>,
        width: usize,
        height: usize,
        outside: f32,
    ) -> Self {
        let [warped] = Self::warp_together([self], to_source, width, height, outside);
        warped
    }

    /// The same of several planes of one size at once.
    pub fn warp_together<const N: usize, A: Frame, B: Frame>(
        planes: [&Self; N],
        to_source: &Homography<B, A>,
        width: usize,
        height: usize,
        outside: f32,
    ) -> [Self; N] {
        let m = to_source.rows().map(|r| r.map(|v| v as f32));
        let mut data = planes.map(|_| Vec::with_capacity(width * height));
        for y in 0..height {
            let v = y as f32 + 0.5;
            for x in 0..width {
                let u = x as f32 + 0.5;
                let z = m[2][0] * u + m[2][1] * v + m[2][2];
                let (sx, sy) = (
                    (m[0][0] * u + m[0][1] * v + m[0][2]) / z,
                    (m[1][0] * u + m[1][1] * v + m[1][2]) / z,
                );
                for (data, plane) in data.iter_mut().zip(planes) {
                    let inside = z > 1e-6 && plane.contains(sx, sy);
                    data.push(if inside {
                        plane.sample(sx, sy)
                    } else {
                        outside
                    });
                }
            }
        }
        data.map(|data| Self {
            width,
            height,
            data,
        })
    }

    /// The value below which the share `q` of all samples lies (0 for an empty plane).
    pub fn quantile(&self, q: f32) -> f32 {
        quantile(&mut self.data.clone(), q)
    }
}

/// The value below which the share `q` (0 to 1) of `values` lies; reorders `values`.
pub fn quantile(values: &mut [f32], q: f32) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let k = ((values.len() - 1) as f32 * q.clamp(0.0, 1.0)).round() as usize;
    *values.select_nth_unstable_by(k, f32::total_cmp).1
}

fn edge_sum(src: &[f32], x: usize, half: &[f32]) -> f32 {
    let r = half.len() - 1;
    let (lo, hi) = (x.saturating_sub(r), (x + r).min(src.len() - 1));
    let (mut sum, mut total) = (0.0, 0.0);
    for (i, v) in src[lo..=hi].iter().enumerate() {
        let k = half[(lo + i).abs_diff(x)];
        sum += k * v;
        total += k;
    }
    sum / total
}

/// The right half of a sampled Gaussian, from its centre, cut at three sigmas, of unit sum.
fn gaussian_kernel(sigma: f32) -> Vec<f32> {
    let r = (3.0 * sigma).ceil() as usize;
    let raw: Vec<f32> = (0..=r)
        .map(|i| (-((i * i) as f32) / (2.0 * sigma * sigma)).exp())
        .collect();
    let total = raw[0] + 2.0 * raw[1..].iter().sum::<f32>();
    raw.iter().map(|v| v / total).collect()
}

/// Radii of three box filters whose variances add up to sigma squared as nearly as integers allow.
fn box_radii(sigma: f32) -> [usize; 3] {
    let ideal = (4.0 * sigma * sigma + 1.0).sqrt();
    let mut low = ideal.floor() as usize;
    if low.is_multiple_of(2) {
        low -= 1;
    }
    let (l, s2) = (low as f32, sigma * sigma);
    let m = ((12.0 * s2 - 3.0 * l * l - 12.0 * l - 9.0) / (-4.0 * l - 4.0)).round() as usize;
    std::array::from_fn(|i| {
        if i < m.min(3) {
            (low - 1) / 2
        } else {
            low.div_ceil(2)
        }
    })
}

/// The two samples of a row of `count` between which a position lies, and how far along; ends are
/// replicated.
fn between(position: f32, count: usize) -> (usize, usize, f32) {
    let at = (position - 0.5).clamp(0.0, (count - 1) as f32);
    let first = at as usize;
    (first, (first + 1).min(count - 1), at - first as f32)
}

/// Resamples an RGB picture into a frame `B` with anti-aliasing: where the map shrinks by more
/// than about a half, several sub-samples a pixel are averaged. Pixels without a source are
/// `None` in the returned mask (0 there, 1 elsewhere).
pub fn warp_rgb<A: Frame, B: Frame>(
    source: &RgbImage,
    to_source: &Homography<B, A>,
    width: usize,
    height: usize,
) -> (RgbImage, Plane) {
    let centre = Point::new(width as f64 / 2.0, height as f64 / 2.0);
    let step = to_source.local_area(centre).abs().sqrt();
    let sub = ((step / SAMPLE_APART).ceil() as usize).clamp(1, MAX_SUBSAMPLES);
    let m = to_source.rows().map(|r| r.map(|v| v as f32));
    let (sw, sh) = (source.width() as usize, source.height() as usize);
    let raw = source.as_raw();
    let mut out = RgbImage::new(width as u32, height as u32);
    let mut mask = Plane::filled(width, height, 0.0);
    let inv = 1.0 / sub as f32;
    for (y, row) in out.as_mut().chunks_exact_mut(width * 3).enumerate() {
        for x in 0..width {
            let (mut sum, mut n) = ([0.0f32; 3], 0u32);
            for j in 0..sub {
                let v = y as f32 + (j as f32 + 0.5) * inv;
                for i in 0..sub {
                    let u = x as f32 + (i as f32 + 0.5) * inv;
                    let z = m[2][0] * u + m[2][1] * v + m[2][2];
                    if z <= 1e-6 {
                        continue;
                    }
                    let sx = (m[0][0] * u + m[0][1] * v + m[0][2]) / z;
                    let sy = (m[1][0] * u + m[1][1] * v + m[1][2]) / z;
                    if sx < 0.0 || sy < 0.0 || sx > sw as f32 || sy > sh as f32 {
                        continue;
                    }
                    let px = bilinear_rgb(raw, sw, sh, sx, sy);
                    (0..3).for_each(|c| sum[c] += px[c]);
                    n += 1;
                }
            }
            if n as usize * 2 > sub * sub {
                for (o, s) in row[3 * x..3 * x + 3].iter_mut().zip(sum) {
                    *o = (s / n as f32 + 0.5) as u8;
                }
                mask.set(x, y, 1.0);
            }
        }
    }
    (out, mask)
}

/// Most pixels of the source between two samples: each is interpolated from two, so that none is stepped over.
const SAMPLE_APART: f64 = 1.7;
/// Sub-samples along one axis at most; a map that shrinks further is handed a shrunk source.
const MAX_SUBSAMPLES: usize = 4;

fn bilinear_rgb(raw: &[u8], w: usize, h: usize, x: f32, y: f32) -> [f32; 3] {
    let fx = (x - 0.5).clamp(0.0, (w - 1) as f32);
    let fy = (y - 0.5).clamp(0.0, (h - 1) as f32);
    let (x0, y0) = (fx as usize, fy as usize);
    let (x1, y1) = ((x0 + 1).min(w - 1), (y0 + 1).min(h - 1));
    let (ax, ay) = (fx - x0 as f32, fy - y0 as f32);
    // From the left pixel to the right one of each row: nought at the picture's edge.
    let next = 3 * (x1 - x0);
    let upper = &raw[(y0 * w + x0) * 3..][..next + 3];
    let lower = &raw[(y1 * w + x0) * 3..][..next + 3];
    std::array::from_fn(|c| {
        let top = f32::from(upper[c]) * (1.0 - ax) + f32::from(upper[next + c]) * ax;
        let bottom = f32::from(lower[c]) * (1.0 - ax) + f32::from(lower[next + c]) * ax;
        top * (1.0 - ay) + bottom * ay
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blur_keeps_the_mean_of_a_flat_plane() {
        let p = Plane::filled(30, 20, 3.5);
        for sigma in [0.7, 1.9, 2.5, 9.0] {
            assert!(
                p.blur(sigma).data().iter().all(|v| (v - 3.5).abs() < 1e-4),
                "{sigma}"
            );
        }
    }

    #[test]
    fn blur_of_an_impulse_has_the_variance_asked_for() {
        for sigma in [1.0f32, 1.9, 3.0, 6.0, 12.0] {
            let mut p = Plane::filled(151, 1, 0.0);
            p.set(75, 0, 1.0);
            let b = p.blur(sigma);
            let var: f32 = b
                .data()
                .iter()
                .enumerate()
                .map(|(i, v)| v * (i as f32 - 75.0).powi(2))
                .sum();
            assert!(
                (var.sqrt() / sigma - 1.0).abs() < 0.07,
                "{sigma}: {}",
                var.sqrt()
            );
        }
    }

    #[test]
    fn box_radii_are_never_wider_than_needed() {
        assert_eq!(
            box_radii(2.0)
                .iter()
                .map(|r| (2 * r + 1) as f32)
                .map(|d| (d * d - 1.0) / 12.0)
                .sum::<f32>()
                .sqrt()
                .round(),
            2.0
        );
    }
}
