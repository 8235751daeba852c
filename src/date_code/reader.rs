//! The shipped net that turns a strip of ink into scores.
//!
//! `tools/train/code_net.py` describes the file of weights.

use std::sync::LazyLock;

use serde::Deserialize;

use super::glyphs::{Glyphs, Posteriors};
use super::strip::Views;
use crate::net::{Net, Tensor};

/// Height of a strip in pixels.
pub const STRIP_HIGH: usize = 32;

/// Columns of nothing put on either side of a strip, in pixels: in training a code never touched
/// the edge of what was cut out around it.
const MARGIN: usize = 16;

/// What the net sees of a strip.
const VIEWS: usize = 2;

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
    #[error("the weights' first line describes another net: {0}")]
    Other(&'static str),
    #[error("the weights' first line describes no net that fits the numbers behind it")]
    Layers,
}

/// What the first line of the file says beside the layers.
#[derive(Deserialize)]
struct Header {
    format: u32,
    input: [usize; 3],
    output: usize,
    classes: String,
}

/// A net for strips of ink, with the signs that it tells apart.
#[derive(Debug)]
pub struct Reader {
    glyphs: Glyphs,
    net: Net,
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
        let header: Header = serde_json::from_slice(&bytes[..end.ok_or(ReaderError::NoHeader)?])?;
        if header.format != FORMAT || header.input[..2] != [VIEWS, STRIP_HIGH] {
            return Err(ReaderError::Other("its format or input"));
        }
        let glyphs = Glyphs::new(&header.classes).ok_or(ReaderError::Other("its classes"))?;
        if header.output != glyphs.classes() {
            return Err(ReaderError::Other("its output"));
        }
        let net = Net::read(bytes).ok_or(ReaderError::Layers)?;
        Ok(Self { glyphs, net })
    }

    pub fn glyphs(&self) -> &Glyphs {
        &self.glyphs
    }

    /// Scores of a strip ([`STRIP_HIGH`] rows): a column for every two pixels, and some for the margins
    /// put on either side.
    ///
    /// # Panics
    /// Where the strip has another height.
    pub fn read(&self, views: &Views) -> Posteriors {
        let wide = (views.ink.width() + 2 * MARGIN).next_multiple_of(2);
        let mut data = Vec::with_capacity(VIEWS * STRIP_HIGH * wide);
        for plane in [&views.ink, &views.near] {
            assert_eq!(plane.height(), STRIP_HIGH, "strips have one height");
            for y in 0..STRIP_HIGH {
                data.extend([0.0; MARGIN]);
                data.extend_from_slice(plane.row(y));
                data.resize(data.len() + wide - MARGIN - plane.width(), 0.0);
            }
        }
        self.scores(Tensor {
            channels: VIEWS,
            height: STRIP_HIGH,
            width: wide,
            data,
        })
    }

    fn scores(&self, input: Tensor) -> Posteriors {
        let last = self.net.run(input);
        let (classes, columns) = (last.channels, last.width);
        debug_assert_eq!(last.height, 1, "the net ends in one row");
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Plane;

    /// What PyTorch made of a few strips: `tools/train/code_probe.py` wrote it.
    struct Probe {
        texts: Vec<String>,
        views: Vec<Views>,
        scores: Vec<Vec<f32>>,
        grey: Vec<Plane>,
        /// The views of `grey`.
        bare: Vec<Views>,
    }

    fn probe() -> Probe {
        let bytes = include_bytes!("probe.bin");
        let end = bytes.iter().position(|&b| b == b'\n').expect("a header");
        let head: serde_json::Value = serde_json::from_slice(&bytes[..end]).expect("JSON");
        let texts: Vec<String> = serde_json::from_value(head["texts"].clone()).expect("texts");
        let wide = head["wide"].as_u64().expect("a width") as usize;
        let mut rest = &bytes[end + 1..];
        let mut plane = |of: fn(f32) -> f32| {
            let taken = rest.split_off(..STRIP_HIGH * wide).expect("pixels");
            let data = taken.iter().map(|&b| of(f32::from(b))).collect();
            Plane::from_vec(wide, STRIP_HIGH, data)
        };
        let share = |b: f32| b / 255.0;
        let contrast = |b: f32| b / 127.5 - 1.0;
        let count = texts.len();
        let mut views = || {
            let each = (0..count).map(|_| Views {
                ink: plane(share),
                near: plane(contrast),
            });
            each.collect::<Vec<_>>()
        };
        let (views, bare) = (views(), views());
        let grey = (0..count).map(|_| plane(share)).collect();
        let each = rest.len() / 2 / count;
        let scores = rest
            .chunks_exact(2 * each)
            .map(|c| {
                let halves = c.chunks_exact(2);
                halves
                    .map(|b| half::f16::from_le_bytes([b[0], b[1]]).to_f32())
                    .collect()
            })
            .collect();
        Probe {
            texts,
            views,
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
        for (views, wanted) in probe.views.iter().zip(&probe.scores) {
            let input = Tensor {
                channels: VIEWS,
                height: STRIP_HIGH,
                width: views.ink.width(),
                data: [views.ink.data(), views.near.data()].concat(),
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
    fn the_views_agree_with_those_in_training() {
        let probe = probe();
        for (grey, wanted) in probe.grey.iter().zip(&probe.bare) {
            let got = Views::of(grey);
            let worst = |got: &Plane, wanted: &Plane| {
                let off = got.data().iter().zip(wanted.data());
                off.map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
            };
            // The probe keeps bytes.
            let (ink, near) = (worst(&got.ink, &wanted.ink), worst(&got.near, &wanted.near));
            assert!(ink < 1.0 / 255.0 + 1e-3, "{ink}");
            // And training sums in single precision, which tells on flat glaze.
            assert!(near < 1.0 / 127.5 + 1e-2, "{near}");
        }
    }

    #[test]
    fn the_probes_texts_come_out() {
        use super::super::decode::{DecodeSettings, Up, Way, decode};
        let reader = Reader::shipped();
        let probe = probe();
        for (views, text) in probe.views.iter().zip(&probe.texts) {
            let scores = reader.read(views);
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
        assert!(matches!(cut, Err(ReaderError::Layers)));
        let mut long = good.to_vec();
        long.extend([0, 0]);
        assert!(matches!(
            Reader::from_bytes(&long),
            Err(ReaderError::Layers)
        ));
    }

    /// Prints the cost of a strip read both ways up: `cargo test --release -- --ignored pace`.
    #[test]
    #[ignore = "a measurement"]
    fn pace_of_a_strip_both_ways_up() {
        let reader = Reader::shipped();
        let probe = probe();
        let narrow = |plane: &Plane| {
            let rows = (0..STRIP_HIGH).flat_map(|y| plane.row(y)[..160].to_vec());
            Plane::from_vec(160, STRIP_HIGH, rows.collect())
        };
        let strip = Views {
            ink: narrow(&probe.views[0].ink),
            near: narrow(&probe.views[0].near),
        };
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
