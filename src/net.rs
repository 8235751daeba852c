//! A small convolutional net, layer by layer, from a file of weights.
//!
//! The file is one line of JSON, which names the layers in order, and then their numbers as
//! little-endian half precision (`tools/train/net.py` writes it and is the model for this reader).
//! Convolutions are gathered into columns and multiplied as matrices (Chellapilla, Puri and Simard
//! 2006), so that the matrix product picks the widest instructions of the machine at run time.

use std::ops::Range;

use ndarray::linalg::general_mat_mul;
use ndarray::{ArrayView2, ArrayViewMut2, Axis, Slice};
use serde::Deserialize;

/// Numbers gathered at a time: a quarter of a megabyte stays in the second-level cache.
const BAND: usize = 1 << 16;

/// A picture of several channels: channel, row, column.
#[derive(Debug, Clone, PartialEq)]
pub struct Tensor {
    pub channels: usize,
    pub height: usize,
    pub width: usize,
    pub data: Vec<f32>,
}

impl Tensor {
    /// # Panics
    /// Where `data` does not hold `channels` pictures of `side` by `side` pixels.
    pub fn square(channels: usize, side: usize, data: Vec<f32>) -> Self {
        assert_eq!(data.len(), channels * side * side, "one number a pixel");
        Self {
            channels,
            height: side,
            width: side,
            data,
        }
    }

    fn pixels(&self) -> usize {
        self.height * self.width
    }
}

/// A net with its weights widened to single precision.
#[derive(Debug, Clone)]
pub struct Net {
    layers: Vec<Layer>,
}

#[derive(Debug, Clone)]
enum Layer {
    Conv(Conv),
    /// Generalised mean over the pixels of each channel.
    Pool {
        from: usize,
        power: f32,
    },
    Linear {
        from: Vec<usize>,
        weights: Vec<f32>,
        bias: Vec<f32>,
    },
    /// Divided by its Euclidean length.
    Unit {
        from: usize,
    },
    /// Each pixel becomes two by two.
    Double {
        from: usize,
    },
    /// All numbers one after the other.
    Join {
        from: Vec<usize>,
    },
}

#[derive(Debug, Clone)]
struct Conv {
    from: usize,
    inputs: usize,
    /// Down and across, as are stride and padding.
    side: [usize; 2],
    stride: [usize; 2],
    pad: [usize; 2],
    relu: bool,
    add: Option<usize>,
    weights: Vec<f32>,
    bias: Vec<f32>,
}

#[derive(Debug, Deserialize)]
struct Header {
    layers: Vec<Described>,
}

#[derive(Debug, Deserialize)]
#[serde(tag = "op", rename_all = "lowercase")]
enum Described {
    Conv {
        from: usize,
        cin: usize,
        cout: usize,
        k: Pair,
        stride: Pair,
        pad: Pair,
        relu: bool,
        add: Option<usize>,
    },
    Gem {
        from: usize,
        p: f32,
    },
    Linear {
        from: Vec<usize>,
        #[serde(rename = "in")]
        inputs: usize,
        out: usize,
    },
    Unit {
        from: usize,
    },
    Double {
        from: usize,
    },
    Join {
        from: Vec<usize>,
    },
}

/// One number for both directions, or down and across.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(untagged)]
enum Pair {
    Both(usize),
    Each([usize; 2]),
}

impl Pair {
    fn get(self) -> [usize; 2] {
        match self {
            Self::Both(n) => [n, n],
            Self::Each(pair) => pair,
        }
    }
}

/// Smallest value that takes part in the generalised mean.
const LEAST: f32 = 1e-6;

impl Net {
    /// Reads a file of weights; `None` where it is none, or is cut short.
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let end = bytes.iter().position(|&b| b == b'\n')?;
        let header: Header = serde_json::from_slice(&bytes[..end]).ok()?;
        let mut numbers = Numbers {
            rest: &bytes[end + 1..],
        };
        let layers = header.layers.into_iter().enumerate();
        let layers = layers.map(|(number, d)| layer(d, number, &mut numbers));
        let layers = layers.collect::<Option<Vec<_>>>()?;
        numbers.rest.is_empty().then_some(Self { layers })
    }

    /// What the last layer gives.
    pub fn run(&self, input: Tensor) -> Tensor {
        let mut tensors = vec![input];
        let mut columns = Vec::new();
        for layer in &self.layers {
            let next = match layer {
                Layer::Conv(c) => c.apply(&tensors, &mut columns),
                Layer::Pool { from, power } => vector(pool(&tensors[*from], *power)),
                Layer::Linear {
                    from,
                    weights,
                    bias,
                } => vector(linear(&tensors, from, weights, bias)),
                Layer::Unit { from } => vector(unit(&tensors[*from].data)),
                Layer::Double { from } => double(&tensors[*from]),
                Layer::Join { from } => vector(joined(&tensors, from)),
            };
            tensors.push(next);
        }
        tensors.pop().unwrap_or_else(|| vector(Vec::new()))
    }
}

/// `number` tensors come before the layer's own: it reads no other ones.
fn layer(described: Described, number: usize, numbers: &mut Numbers) -> Option<Layer> {
    let before = |i: usize| i <= number;
    let known = match &described {
        Described::Conv { from, add, .. } => before(*from) && add.is_none_or(before),
        Described::Gem { from, .. } | Described::Unit { from } | Described::Double { from } => {
            before(*from)
        }
        Described::Linear { from, .. } | Described::Join { from } => {
            from.iter().all(|&i| before(i))
        }
    };
    if !known {
        return None;
    }
    Some(match described {
        Described::Conv {
            from,
            cin,
            cout,
            k,
            stride,
            pad,
            relu,
            add,
        } => Layer::Conv(Conv {
            from,
            inputs: cin,
            side: k.get(),
            stride: stride.get(),
            pad: pad.get(),
            relu,
            add,
            weights: numbers.take(cout * cin * k.get().iter().product::<usize>())?,
            bias: numbers.take(cout)?,
        }),
        Described::Gem { from, p } => Layer::Pool { from, power: p },
        Described::Linear { from, inputs, out } => Layer::Linear {
            from,
            weights: numbers.take(inputs * out)?,
            bias: numbers.take(out)?,
        },
        Described::Unit { from } => Layer::Unit { from },
        Described::Double { from } => Layer::Double { from },
        Described::Join { from } => Layer::Join { from },
    })
}

struct Numbers<'a> {
    rest: &'a [u8],
}

impl Numbers<'_> {
    fn take(&mut self, count: usize) -> Option<Vec<f32>> {
        let (head, rest) = self.rest.split_at_checked(2 * count)?;
        self.rest = rest;
        let widen = |b: &[u8]| half::f16::from_le_bytes([b[0], b[1]]).to_f32();
        Some(head.chunks_exact(2).map(widen).collect())
    }
}

impl Conv {
    fn apply(&self, tensors: &[Tensor], columns: &mut Vec<f32>) -> Tensor {
        let input = &tensors[self.from];
        let reach =
            |n: usize, way: usize| (n + 2 * self.pad[way] - self.side[way]) / self.stride[way] + 1;
        let (height, width) = (reach(input.height, 0), reach(input.width, 1));
        let (pixels, outputs) = (height * width, self.bias.len());
        let mut data = vec![0.0f32; outputs * pixels];
        let inner = self.inputs * self.side[0] * self.side[1];
        if self.side == [1, 1] && self.stride == [1, 1] {
            product(&self.weights, &input.data, inner, &mut data, (0, pixels));
        } else {
            // Band by band, so that what is gathered stays near the processor.
            let band = (BAND / (inner * width).max(1)).clamp(1, height.max(1));
            for first in (0..height).step_by(band) {
                let rows = first..(first + band).min(height);
                let part = (first * width, rows.len() * width);
                self.gather(input, rows, width, columns);
                product(&self.weights, columns, inner, &mut data, part);
            }
        }
        for (channel, row) in data.chunks_exact_mut(pixels).enumerate() {
            let bias = self.bias[channel];
            row.iter_mut().for_each(|v| *v += bias);
        }
        if let Some(other) = self.add {
            let other = &tensors[other].data;
            data.iter_mut().zip(other).for_each(|(v, o)| *v += o);
        }
        if self.relu {
            data.iter_mut().for_each(|v| *v = v.max(0.0));
        }
        Tensor {
            channels: outputs,
            height,
            width,
            data,
        }
    }

    /// Column (row, column) of the output's `band` of rows holds the pixels under the kernel there.
    fn gather(&self, input: &Tensor, band: Range<usize>, width: usize, columns: &mut Vec<f32>) {
        let [high, wide] = self.side;
        let (stride, pad) = (self.stride[1], self.pad[1]);
        columns.resize(self.inputs * high * wide * band.len() * width, 0.0);
        let mut rows = columns.chunks_exact_mut(width);
        for channel in input.data.chunks_exact(input.pixels()) {
            for ky in 0..high {
                for kx in 0..wide {
                    // The outputs whose pixel lies inside the row.
                    let first = pad.saturating_sub(kx).div_ceil(stride).min(width);
                    let end = (input.width + pad).saturating_sub(kx).div_ceil(stride);
                    let last = end.clamp(first, width);
                    for y in band.clone() {
                        // As many rows were made as are visited.
                        let Some(out) = rows.next() else { return };
                        let at = (y * self.stride[0] + ky).wrapping_sub(self.pad[0]);
                        if at >= input.height || first == last {
                            out.fill(0.0);
                            continue;
                        }
                        let line = &channel[at * input.width..(at + 1) * input.width];
                        let line = &line[first * stride + kx - pad..];
                        out[..first].fill(0.0);
                        out[last..].fill(0.0);
                        let inside = &mut out[first..last];
                        if stride == 1 {
                            inside.copy_from_slice(&line[..last - first]);
                        } else {
                            let taken = line.iter().step_by(stride);
                            inside.iter_mut().zip(taken).for_each(|(o, v)| *o = *v);
                        }
                    }
                }
            }
        }
    }
}

fn vector(data: Vec<f32>) -> Tensor {
    Tensor {
        channels: data.len(),
        height: 1,
        width: 1,
        data,
    }
}

fn double(input: &Tensor) -> Tensor {
    let width = 2 * input.width;
    let mut data = Vec::with_capacity(4 * input.data.len());
    for row in input.data.chunks_exact(input.width) {
        for _ in 0..2 {
            data.extend(row.iter().flat_map(|&v| [v, v]));
        }
    }
    Tensor {
        channels: input.channels,
        height: 2 * input.height,
        width,
        data,
    }
}

/// Columns `part` (the first one and how many) of `out` = `a` (rows of `inner` numbers) times `b`
/// (`inner` rows of as many numbers).
fn product(a: &[f32], b: &[f32], inner: usize, out: &mut [f32], part: (usize, usize)) {
    let (m, (first, n)) = (a.len() / inner, part);
    let shapes = (
        ArrayView2::from_shape((m, inner), a),
        ArrayView2::from_shape((inner, n), b),
        ArrayViewMut2::from_shape((m, out.len() / m), out),
    );
    // Weights and columns are both made for `inner`, so all three views exist.
    if let (Ok(left), Ok(right), Ok(mut product)) = shapes {
        let mut product = product.slice_axis_mut(Axis(1), Slice::from(first..first + n));
        general_mat_mul(1.0, &left, &right, 0.0, &mut product);
    }
}

fn pool(input: &Tensor, power: f32) -> Vec<f32> {
    let n = input.pixels() as f32;
    let mean = |c: &[f32]| c.iter().map(|v| v.max(LEAST).powf(power)).sum::<f32>() / n;
    input
        .data
        .chunks_exact(input.pixels())
        .map(|c| mean(c).powf(1.0 / power))
        .collect()
}

fn joined(tensors: &[Tensor], from: &[usize]) -> Vec<f32> {
    from.iter()
        .flat_map(|&i| tensors[i].data.iter().copied())
        .collect()
}

fn linear(tensors: &[Tensor], from: &[usize], weights: &[f32], bias: &[f32]) -> Vec<f32> {
    let input = joined(tensors, from);
    weights
        .chunks_exact(input.len())
        .zip(bias)
        .map(|(row, b)| b + row.iter().zip(&input).map(|(w, v)| w * v).sum::<f32>())
        .collect()
}

fn unit(input: &[f32]) -> Vec<f32> {
    let length = input.iter().map(|v| v * v).sum::<f32>().sqrt().max(1e-12);
    input.iter().map(|v| v / length).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn conv(side: [usize; 2], stride: [usize; 2], pad: [usize; 2]) -> Conv {
        let weights = (0..3 * 2 * side[0] * side[1])
            .map(|i| ((i * 7) % 5) as f32 - 2.0)
            .collect();
        Conv {
            from: 0,
            inputs: 2,
            side,
            stride,
            pad,
            relu: false,
            add: None,
            weights,
            bias: vec![0.5, -1.0, 2.0],
        }
    }

    #[test]
    fn a_convolution_equals_the_plain_sum() {
        let (w, h) = (7usize, 6usize);
        let data = (0..2 * w * h).map(|i| ((i * 13) % 11) as f32).collect();
        let input = Tensor {
            channels: 2,
            height: h,
            width: w,
            data,
        };
        let both = |s: usize, k: usize, p: usize| ([s, s], [k, k], [p, p]);
        for (side, stride, pad) in [
            both(3, 1, 1),
            both(3, 2, 1),
            both(1, 1, 0),
            both(5, 2, 2),
            ([4, 3], [1, 1], [0, 1]),
            ([3, 5], [2, 1], [1, 2]),
        ] {
            let c = conv(side, stride, pad);
            let got = c.apply(std::slice::from_ref(&input), &mut Vec::new());
            for o in 0..3 {
                for y in 0..got.height {
                    for x in 0..got.width {
                        let mut want = c.bias[o];
                        for i in 0..2 {
                            for ky in 0..side[0] {
                                for kx in 0..side[1] {
                                    let (yy, xx) = (
                                        (y * stride[0] + ky) as isize - pad[0] as isize,
                                        (x * stride[1] + kx) as isize - pad[1] as isize,
                                    );
                                    if yy < 0 || xx < 0 || yy >= h as isize || xx >= w as isize {
                                        continue;
                                    }
                                    let v = input.data[(i * h + yy as usize) * w + xx as usize];
                                    want +=
                                        v * c.weights[((o * 2 + i) * side[0] + ky) * side[1] + kx];
                                }
                            }
                        }
                        let is = got.data[(o * got.height + y) * got.width + x];
                        assert!((is - want).abs() < 1e-3, "{side:?} {stride:?}: {is} {want}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_cut_file_is_refused() {
        let bytes = include_bytes!("weights/imprint.bin").as_slice();
        assert!(Net::read(bytes).is_some());
        assert!(Net::read(&bytes[..bytes.len() - 1]).is_none());
        assert!(Net::read(b"no weights").is_none());
        let later = br#"{"layers":[{"op":"unit","from":1}]}"#;
        assert!(Net::read(&[later, b"\n".as_slice()].concat()).is_none());
    }
}
