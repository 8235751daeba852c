//! One channel of numbers on a grid, with the blurs that the renderer needs.

/// Row-major samples; `data.len() == width * height`.
#[derive(Clone, Debug)]
pub struct Plane {
    pub width: usize,
    pub height: usize,
    pub data: Vec<f32>,
}

/// Above this standard deviation (pixels) three running means stand in for a Gaussian; below it
/// they would be visibly boxy, and the exact kernel is short.
const BOX_SIGMA: f32 = 2.2;

impl Plane {
    pub fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            data: vec![0.0; width * height],
        }
    }

    pub fn from_bytes(width: usize, height: usize, bytes: &[u8]) -> Self {
        Self {
            width,
            height,
            data: bytes.iter().map(|&b| f32::from(b) / 255.0).collect(),
        }
    }

    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.data[y * self.width + x]
    }

    /// Bilinear value at pixel centre coordinates; 0 outside.
    pub fn sample(&self, x: f32, y: f32) -> f32 {
        if x < -1.0 || y < -1.0 || x >= self.width as f32 || y >= self.height as f32 {
            return 0.0;
        }
        let (x0, y0) = (x.floor(), y.floor());
        let (fx, fy) = (x - x0, y - y0);
        let (ix, iy) = (x0 as isize, y0 as isize);
        let (w, h) = (self.width as isize, self.height as isize);
        if ix >= 0 && iy >= 0 && ix + 1 < w && iy + 1 < h {
            let i = iy as usize * self.width + ix as usize;
            let d = &self.data;
            let top = d[i] + (d[i + 1] - d[i]) * fx;
            let low = d[i + self.width] + (d[i + self.width + 1] - d[i + self.width]) * fx;
            return top + (low - top) * fy;
        }
        let get = |x: isize, y: isize| {
            if x < 0 || y < 0 || x >= w || y >= h {
                0.0
            } else {
                self.data[(y * w + x) as usize]
            }
        };
        let top = get(ix, iy) + (get(ix + 1, iy) - get(ix, iy)) * fx;
        let low = get(ix, iy + 1) + (get(ix + 1, iy + 1) - get(ix, iy + 1)) * fx;
        top + (low - top) * fy
    }

    pub fn sum(&self) -> f64 {
        self.data.iter().map(|&v| f64::from(v)).sum()
    }

    /// Gaussian blur of standard deviation `sigma` pixels, edges repeated.
    pub fn blurred(&self, sigma: f32) -> Self {
        if sigma < 0.15 {
            return self.clone();
        }
        let mut out = self.clone();
        if sigma < BOX_SIGMA {
            out.convolve(&kernel(sigma));
        } else {
            for r in box_radii(sigma) {
                out.box_rows(r);
                out.box_columns(r);
            }
        }
        out
    }

    fn convolve(&mut self, k: &[f32]) {
        let r = k.len() / 2;
        let mut padded = vec![0.0f32; self.width + 2 * r];
        for row in self.data.chunks_exact_mut(self.width) {
            pad(row, r, &mut padded);
            row.fill(0.0);
            for (j, &kj) in k.iter().enumerate() {
                for (o, &v) in row.iter_mut().zip(&padded[j..]) {
                    *o += kj * v;
                }
            }
        }
        let source = self.data.clone();
        let w = self.width;
        for y in 0..self.height {
            let row = &mut self.data[y * w..(y + 1) * w];
            row.fill(0.0);
            for (j, &kj) in k.iter().enumerate() {
                let sy = (y + j).saturating_sub(r).min(self.height - 1);
                for (o, &v) in row.iter_mut().zip(&source[sy * w..(sy + 1) * w]) {
                    *o += kj * v;
                }
            }
        }
    }

    fn box_rows(&mut self, r: usize) {
        let norm = 1.0 / (2 * r + 1) as f32;
        let mut padded = vec![0.0f32; self.width + 2 * r];
        for row in self.data.chunks_exact_mut(self.width) {
            pad(row, r, &mut padded);
            let mut sum: f32 = padded[..2 * r].iter().sum();
            for (i, o) in row.iter_mut().enumerate() {
                sum += padded[i + 2 * r];
                *o = sum * norm;
                sum -= padded[i];
            }
        }
    }

    fn box_columns(&mut self, r: usize) {
        let (w, h) = (self.width, self.height);
        let norm = 1.0 / (2 * r + 1) as f32;
        let source = self.data.clone();
        let row = |y: usize| &source[y.min(h - 1) * w..(y.min(h - 1) + 1) * w];
        let mut sum = vec![0.0f32; w];
        for j in 0..2 * r {
            let y = j.saturating_sub(r);
            sum.iter_mut().zip(row(y)).for_each(|(s, v)| *s += v);
        }
        for y in 0..h {
            sum.iter_mut().zip(row(y + r)).for_each(|(s, v)| *s += v);
            let out = &mut self.data[y * w..(y + 1) * w];
            out.iter_mut().zip(&sum).for_each(|(o, s)| *o = s * norm);
            sum.iter_mut()
                .zip(row(y.saturating_sub(r)))
                .for_each(|(s, v)| *s -= v);
        }
    }

    /// Mean along a straight path of `length` pixels in direction `angle`, centred where
    /// `centred`, else trailing behind the pixel.
    pub fn streaked(&self, length: f32, angle: f32, centred: bool) -> Self {
        let steps = (length.ceil() as usize).clamp(1, 64);
        if length < 0.5 {
            return self.clone();
        }
        let mut out = Self::new(self.width, self.height);
        let norm = 1.0 / (steps + 1) as f32;
        for i in 0..=steps {
            let t = length * (i as f32 / steps as f32 - if centred { 0.5 } else { 0.0 });
            out.add_shifted(self, t * angle.cos(), t * angle.sin(), norm);
        }
        out
    }

    /// Adds `weight` times `other` moved by whole and half pixels towards `(dx, dy)`.
    fn add_shifted(&mut self, other: &Self, dx: f32, dy: f32, weight: f32) {
        let (sx, sy) = (dx.round() as isize, dy.round() as isize);
        let (w, h) = (self.width as isize, self.height as isize);
        for y in 0..h {
            let from = (y - sy).clamp(0, h - 1) as usize * self.width;
            let source = &other.data[from..from + self.width];
            let row = &mut self.data[y as usize * self.width..][..self.width];
            let left = sx.clamp(0, w) as usize;
            let right = (w + sx).clamp(0, w) as usize;
            row[..left]
                .iter_mut()
                .for_each(|o| *o += weight * source[0]);
            row[right..]
                .iter_mut()
                .for_each(|o| *o += weight * source[self.width - 1]);
            if left < right {
                let s = &source[(left as isize - sx) as usize..];
                row[left..right]
                    .iter_mut()
                    .zip(s)
                    .for_each(|(o, v)| *o += weight * v);
            }
        }
    }
}

fn pad(row: &[f32], r: usize, out: &mut [f32]) {
    let w = row.len();
    out[..r].fill(row[0]);
    out[r..r + w].copy_from_slice(row);
    out[r + w..].fill(row[w - 1]);
}

fn kernel(sigma: f32) -> Vec<f32> {
    let r = (sigma * 3.0).ceil() as i32;
    let mut k: Vec<f32> = (-r..=r)
        .map(|i| (-0.5 * (i as f32 / sigma).powi(2)).exp())
        .collect();
    let sum: f32 = k.iter().sum();
    k.iter_mut().for_each(|v| *v /= sum);
    k
}

/// Radii of three running means whose variances sum to that of the Gaussian.
fn box_radii(sigma: f32) -> [usize; 3] {
    let ideal = (4.0 * sigma * sigma + 1.0).sqrt();
    let low = ((ideal - 1.0) / 2.0).floor().max(0.0);
    let wide = 2.0 * low + 1.0;
    let many = (12.0 * sigma * sigma - 3.0 * wide * wide - 12.0 * wide - 9.0) / (-4.0 * wide - 4.0);
    let small = many.round().clamp(0.0, 3.0) as usize;
    let mut radii = [low as usize + 1; 3];
    radii[..small].fill(low as usize);
    radii
}

#[cfg(test)]
mod tests {
    use super::Plane;

    #[test]
    fn blurs_keep_the_sum_and_reach_their_sigma() {
        for sigma in [0.8, 1.5, 3.0, 6.5] {
            let mut p = Plane::new(81, 81);
            p.data[40 * 81 + 40] = 1.0;
            let b = p.blurred(sigma);
            assert!((b.sum() - 1.0).abs() < 1e-3);
            let var: f32 = (0..81 * 81)
                .map(|i| b.data[i] * ((i % 81) as f32 - 40.0).powi(2))
                .sum();
            assert!(
                (var.sqrt() / sigma - 1.0).abs() < 0.04,
                "{sigma} gave {}",
                var.sqrt()
            );
        }
    }
}
