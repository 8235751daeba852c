//! The shipped net that turns a strip of ink into scores.
//!
//! Convolutions are unrolled into one matrix product each (im2col), so that the product picks the
//! processor's widest instructions at run time. `tools/train/code_net.py` describes the file of
//! weights and is the model for this reading of it.

use std::sync::LazyLock;

use half::f16;
use ndarray::linalg::general_mat_mul;
use ndarray::{ArrayView2, ArrayViewMut2};
use serde::Deserialize;

use super::glyphs::{Glyphs, Posteriors};
use crate::raster::Plane;

/// Height of a strip in pixels.
pub const STRIP_HIGH: usize = 32;

/// Columns of nothing put on either side of a strip, in pixels: in training a code never touched
/// the edge of what was cut out around it.
const MARGIN: usize = 16;

/// The version of the file of weights that is understood.
const FORMAT: u32 = 1;

static SHIPPED: LazyLock<Reader> = LazyLock::new(|| {
    Reader::from_bytes(include_bytes!("weights.bin")).expect("the shipped weights are whole")
});

/// Why a file of weights cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ReaderError {
    #[error("the weights do not begin with a line of JSON")]
    NoHeader,
    #[error("the weights' first line cannot be read: {0}")]
    Header(#[from] serde_json::Error),
    #[error("the weights' first line describes no net that can be run: {0}")]
    Layers(&'static str),
    #[error("the weights hold {found} numbers, and their first line wants {wanted}")]
    Length { wanted: usize, found: usize },
}

#[derive(Deserialize)]
struct Header {
    format: u32,
    input: [usize; 3],
    output: usize,
    classes: String,
    layers: Vec<Described>,
}

#[derive(Deserialize)]
struct Described {
    op: String,
    from: usize,
    cin: usize,
    cout: usize,
    k: Pair,
    stride: Pair,
    pad: Pair,
    relu: bool,
    add: Option<usize>,
}

/// One number for both directions, or rows and columns.
#[derive(Deserialize)]
#[serde(untagged)]
enum Pair {
    Both(usize),
    Each([usize; 2]),
}

impl Pair {
    fn get(&self) -> [usize; 2] {
        match *self {
            Self::Both(n) => [n, n],
            Self::Each(pair) => pair,
        }
    }
}

/// A convolution with bias, then an earlier tensor added, then ReLU.
#[derive(Debug)]
struct Layer {
    from: usize,
    cin: usize,
    cout: usize,
    k: [usize; 2],
    stride: [usize; 2],
    pad: [usize; 2],
    relu: bool,
    add: Option<usize>,
    weights: Vec<f32>,
    bias: Vec<f32>,
}

/// Channels, rows, columns.
struct Tensor {
    shape: [usize; 3],
    data: Vec<f32>,
}

/// A net for strips of ink, with the signs that it tells apart.
#[derive(Debug)]
pub struct Reader {
    glyphs: Glyphs,
    layers: Vec<Layer>,
}

impl Reader {
    /// The reader that comes with the program.
    pub fn shipped() -> &'static Self {
        &SHIPPED
    }

    /// Reads a file of weights.
    ///
    /// # Errors
    /// Where the file is cut, or describes another kind of net.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, ReaderError> {
        let end = bytes.iter().position(|&b| b == b'\n');
        let (head, data) = bytes.split_at(end.ok_or(ReaderError::NoHeader)?);
        let header: Header = serde_json::from_slice(head)?;
        let numbers: Vec<f32> = data[1..]
            .chunks_exact(2)
            .map(|b| f16::from_le_bytes([b[0], b[1]]).to_f32())
            .collect();
        if header.format != FORMAT || header.input[..2] != [1, STRIP_HIGH] {
            return Err(ReaderError::Layers("another format or input"));
        }
        let glyphs = Glyphs::new(&header.classes).ok_or(ReaderError::Layers("its classes"))?;
        if header.output != glyphs.classes() {
            return Err(ReaderError::Layers("its output"));
        }
        let mut rest = numbers.as_slice();
        let layers = header
            .layers
            .iter()
            .enumerate()
            .map(|(number, described)| Layer::new(described, number, &mut rest))
            .collect::<Result<Vec<_>, _>>()?;
        if !rest.is_empty() {
            let found = numbers.len();
            let wanted = found - rest.len();
            return Err(ReaderError::Length { wanted, found });
        }
        Ok(Self { glyphs, layers })
    }

    pub fn glyphs(&self) -> &Glyphs {
        &self.glyphs
    }

    /// Scores of a strip of ink (0 none to 1 full, [`STRIP_HIGH`] rows): a column for every two
    /// pixels, and some for the margins put on either side.
    ///
    /// # Panics
    /// Where the strip has another height.
    pub fn read(&self, ink: &Plane) -> Posteriors {
        assert_eq!(ink.height(), STRIP_HIGH, "strips have one height");
        let wide = (ink.width() + 2 * MARGIN).next_multiple_of(2);
        let mut data = vec![0.0; STRIP_HIGH * wide];
        for y in 0..STRIP_HIGH {
            let begin = y * wide + MARGIN;
            data[begin..begin + ink.width()].copy_from_slice(ink.row(y));
        }
        self.scores(Tensor {
            shape: [1, STRIP_HIGH, wide],
            data,
        })
    }

    fn scores(&self, input: Tensor) -> Posteriors {
        let mut tensors = vec![input];
        for layer in &self.layers {
            let next = layer.run(&tensors[layer.from], layer.add.map(|a| &tensors[a]));
            tensors.push(next);
        }
        let last = &tensors[tensors.len() - 1];
        let [classes, rows, columns] = last.shape;
        debug_assert_eq!(rows, 1, "the net ends in one row");
        let mut log = vec![0.0; classes * columns];
        for (at, column) in log.chunks_exact_mut(classes).enumerate() {
            for (class, slot) in column.iter_mut().enumerate() {
                *slot = last.data[class * columns + at];
            }
            normalise(column);
        }
        Posteriors::new(classes, log)
    }
}

/// Scores to logarithms of probabilities.
fn normalise(column: &mut [f32]) {
    let top = column.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let sum: f32 = column.iter().map(|v| (v - top).exp()).sum();
    let shift = top + sum.ln();
    column.iter_mut().for_each(|v| *v -= shift);
}

impl Layer {
    /// Takes its numbers from the front of `rest`. `number` tensors come before its own.
    fn new(described: &Described, number: usize, rest: &mut &[f32]) -> Result<Self, ReaderError> {
        if described.op != "conv" {
            return Err(ReaderError::Layers("a layer that is no convolution"));
        }
        if described.from > number || described.add.is_some_and(|a| a > number) {
            return Err(ReaderError::Layers("a layer that reads a later one"));
        }
        let k = described.k.get();
        let count = described.cout * described.cin * k[0] * k[1];
        let mut take = |wanted: usize| {
            let found = rest.len();
            let taken = rest
                .split_off(..wanted)
                .ok_or(ReaderError::Length { wanted, found })?;
            Ok::<_, ReaderError>(taken.to_vec())
        };
        Ok(Self {
            weights: take(count)?,
            bias: take(described.cout)?,
            from: described.from,
            cin: described.cin,
            cout: described.cout,
            k,
            stride: described.stride.get(),
            pad: described.pad.get(),
            relu: described.relu,
            add: described.add,
        })
    }

    fn run(&self, input: &Tensor, add: Option<&Tensor>) -> Tensor {
        let [_, rows, columns] = input.shape;
        let size =
            |n: usize, axis: usize| (n + 2 * self.pad[axis] - self.k[axis]) / self.stride[axis] + 1;
        let (high, wide) = (size(rows, 0), size(columns, 1));
        let area = high * wide;
        let mut data = match add {
            Some(tensor) => tensor.data.clone(),
            None => vec![0.0; self.cout * area],
        };
        for (channel, bias) in data.chunks_exact_mut(area).zip(&self.bias) {
            channel.iter_mut().for_each(|v| *v += bias);
        }
        let taps = self.cin * self.k[0] * self.k[1];
        let single = self.k == [1, 1] && self.stride == [1, 1] && self.pad == [0, 0];
        let unrolled = (!single).then(|| self.unroll(input, high, wide));
        let window = unrolled.as_deref().unwrap_or(&input.data);
        let weights = ArrayView2::from_shape((self.cout, taps), &self.weights);
        let window = ArrayView2::from_shape((taps, area), window);
        let out = ArrayViewMut2::from_shape((self.cout, area), &mut data);
        if let (Ok(weights), Ok(window), Ok(mut out)) = (weights, window, out) {
            general_mat_mul(1.0, &weights, &window, 1.0, &mut out);
        }
        if self.relu {
            data.iter_mut().for_each(|v| *v = v.max(0.0));
        }
        Tensor {
            shape: [self.cout, high, wide],
            data,
        }
    }

    /// One row for every weight of a filter: what that weight sees at each place.
    fn unroll(&self, input: &Tensor, high: usize, wide: usize) -> Vec<f32> {
        let [channels, rows, columns] = input.shape;
        let mut out = vec![0.0; channels * self.k[0] * self.k[1] * high * wide];
        let mut lines = out.chunks_exact_mut(wide);
        for channel in 0..channels {
            for ky in 0..self.k[0] {
                for kx in 0..self.k[1] {
                    for y in 0..high {
                        let Some(line) = lines.next() else { continue };
                        let from = (y * self.stride[0] + ky).checked_sub(self.pad[0]);
                        if let Some(from) = from.filter(|&f| f < rows) {
                            let begin = (channel * rows + from) * columns;
                            self.line(&input.data[begin..begin + columns], kx, line);
                        }
                    }
                }
            }
        }
        out
    }

    /// What the weights of filter column `kx` see of one row.
    fn line(&self, row: &[f32], kx: usize, line: &mut [f32]) {
        let (step, pad) = (self.stride[1], self.pad[1]);
        if step == 1 {
            let first = pad.saturating_sub(kx);
            let shift = (kx + first) - pad;
            let count = (line.len() - first).min(row.len().saturating_sub(shift));
            line[first..first + count].copy_from_slice(&row[shift..shift + count]);
            return;
        }
        for (x, slot) in line.iter_mut().enumerate() {
            let seen = (x * step + kx).checked_sub(pad).and_then(|at| row.get(at));
            *slot = seen.copied().unwrap_or(0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::strip::ink_of;
    use super::*;

    /// What PyTorch made of a few strips: `tools/train/code_probe.py` wrote it.
    struct Probe {
        texts: Vec<String>,
        ink: Vec<Plane>,
        scores: Vec<Vec<f32>>,
        grey: Vec<Plane>,
        bare: Vec<Plane>,
    }

    fn probe() -> Probe {
        let bytes = include_bytes!("probe.bin");
        let end = bytes.iter().position(|&b| b == b'\n').expect("a header");
        let head: serde_json::Value = serde_json::from_slice(&bytes[..end]).expect("JSON");
        let texts: Vec<String> = serde_json::from_value(head["texts"].clone()).expect("texts");
        let wide = head["wide"].as_u64().expect("a width") as usize;
        let mut rest = &bytes[end + 1..];
        let mut plane = || {
            let taken = rest.split_off(..STRIP_HIGH * wide).expect("pixels");
            let data = taken.iter().map(|&b| f32::from(b) / 255.0).collect();
            Plane::from_vec(wide, STRIP_HIGH, data)
        };
        let count = texts.len();
        let mut planes = || (0..count).map(|_| plane()).collect::<Vec<_>>();
        let (ink, grey, bare) = (planes(), planes(), planes());
        let each = rest.len() / 2 / count;
        let scores = rest
            .chunks_exact(2 * each)
            .map(|c| {
                let halves = c.chunks_exact(2);
                halves
                    .map(|b| f16::from_le_bytes([b[0], b[1]]).to_f32())
                    .collect()
            })
            .collect();
        Probe {
            texts,
            ink,
            scores,
            grey,
            bare,
        }
    }

    /// Greatest difference of a probability from PyTorch's. Both add in different orders; half
    /// precision of the probe's scores alone is 5e-4.
    const AGREE: f32 = 2e-3;

    #[test]
    fn the_net_agrees_with_the_one_that_was_trained() {
        let reader = Reader::shipped();
        let probe = probe();
        for (ink, wanted) in probe.ink.iter().zip(&probe.scores) {
            let input = Tensor {
                shape: [1, STRIP_HIGH, ink.width()],
                data: ink.data().to_vec(),
            };
            let got = reader.scores(input);
            let got: Vec<f32> = got.columns().flatten().copied().collect();
            assert_eq!(got.len(), wanted.len());
            let off = got
                .iter()
                .zip(wanted)
                .map(|(a, b)| (a.exp() - b.exp()).abs());
            let worst = off.fold(0.0, f32::max);
            assert!(worst < AGREE, "{worst}");
        }
    }

    #[test]
    fn the_measure_of_ink_agrees_with_the_one_in_training() {
        let probe = probe();
        for (grey, wanted) in probe.grey.iter().zip(&probe.bare) {
            let got = ink_of(grey);
            let off = got
                .data()
                .iter()
                .zip(wanted.data())
                .map(|(a, b)| (a - b).abs());
            // The probe keeps bytes.
            let worst = off.fold(0.0, f32::max);
            assert!(worst < 1.0 / 255.0 + 1e-3, "{worst}");
        }
    }

    #[test]
    fn the_probes_texts_come_out() {
        use super::super::decode::{DecodeSettings, Up, Way, decode};
        let reader = Reader::shipped();
        let probe = probe();
        for (ink, text) in probe.ink.iter().zip(&probe.texts) {
            let scores = reader.read(ink);
            let ways = [Way {
                up: Up::AsFound,
                scores: &scores,
                share: 1.0,
            }];
            let settings = DecodeSettings {
                heat: 1.0,
                ..DecodeSettings::default()
            };
            let decoded = decode(&ways, reader.glyphs(), None, &|_| 1.0, &settings);
            assert_eq!(&decoded.other.expect("a text").text, text);
        }
    }

    #[test]
    fn broken_weights_are_refused() {
        let good = include_bytes!("weights.bin");
        assert!(matches!(
            Reader::from_bytes(b"{}"),
            Err(ReaderError::NoHeader)
        ));
        assert!(matches!(
            Reader::from_bytes(b"{}\n"),
            Err(ReaderError::Header(_))
        ));
        let cut = Reader::from_bytes(&good[..good.len() - 100]);
        assert!(matches!(cut, Err(ReaderError::Length { .. })));
        let mut long = good.to_vec();
        long.extend([0, 0]);
        assert!(matches!(
            Reader::from_bytes(&long),
            Err(ReaderError::Length { .. })
        ));
    }

    /// Prints the cost of a strip read both ways up: `cargo test --release -- --ignored pace`.
    #[test]
    #[ignore = "a measurement"]
    fn pace_of_a_strip_both_ways_up() {
        let reader = Reader::shipped();
        let ink = &probe().ink[0];
        let strip = Plane::from_vec(160, STRIP_HIGH, {
            let rows = (0..STRIP_HIGH).flat_map(|y| ink.row(y)[..160].to_vec());
            rows.collect()
        });
        let mut times: Vec<f64> = (0..40)
            .map(|_| {
                let start = std::time::Instant::now();
                std::hint::black_box(reader.read(&strip));
                std::hint::black_box(reader.read(&strip));
                start.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        times.sort_by(f64::total_cmp);
        use std::io::Write as _;
        let (median, best) = (times[20], times[0]);
        writeln!(
            std::io::stderr(),
            "160 px twice: median {median:.1} ms, best {best:.1} ms"
        )
        .expect("standard error is open");
    }
}
