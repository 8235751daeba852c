//! The order of the stages: from an upright photo to what can be said of it.

use std::time::Duration;

use image::RgbImage;

use crate::answer::{MarkAnswer, Quality, Reason, ReasonCode, Verdict};
use crate::geometry::{Photo, Quad};
use crate::photo::UprightPhoto;

/// What one exemplar image teaches, ready to be matched. Pure data; cached by content hash and
/// engine version.
#[derive(Debug, Clone)]
pub struct PreparedExemplar {
    /// The mark's box in the exemplar's photo.
    pub quad: Quad<Photo>,
}

impl PreparedExemplar {
    /// For the cache; read back by [`PreparedExemplar::from_bytes`] of the same engine version.
    pub fn to_bytes(&self) -> Vec<u8> {
        Vec::new()
    }

    /// `None` where the bytes were not written by this engine version.
    pub fn from_bytes(_bytes: &[u8]) -> Option<Self> {
        None
    }
}

/// An exemplar and whose it is.
#[derive(Debug, Clone)]
pub struct Reference {
    /// `<maker>/<family>`.
    pub family: String,
    pub variant: Option<String>,
    /// BLAKE3 of the image file, hex.
    pub hash: String,
    pub prepared: PreparedExemplar,
}

/// All exemplars of a library, indexed for matching.
#[derive(Debug, Default)]
pub struct References {
    references: Vec<Reference>,
}

impl References {
    pub fn new(references: Vec<Reference>) -> Self {
        Self { references }
    }

    pub fn is_empty(&self) -> bool {
        self.references.is_empty()
    }

    /// The exemplar of a family with this content.
    pub fn find(&self, family: &str, hash: &str) -> Option<&Reference> {
        self.references
            .iter()
            .find(|r| r.family == family && r.hash == hash)
    }
}

/// Everything a caller may choose.
#[derive(Debug, Clone)]
pub struct Settings {
    /// How many candidates to list per mark.
    pub top: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { top: 5 }
    }
}

/// A straightened crop of a mark at native resolution, for reports and later reading.
#[derive(Debug, Clone)]
pub struct MarkCrop {
    /// At most 1,600 px on the longer side, with a margin for a code.
    pub pixels: RgbImage,
    /// The crop's own corners in the photo (top-left, top-right, bottom-right, bottom-left).
    pub quad: Quad<Photo>,
}

/// What was found in one photo; `crops` runs parallel to `marks`.
#[derive(Debug, Clone)]
pub struct Findings {
    pub verdict: Verdict,
    pub reasons: Vec<Reason>,
    pub quality: Option<Quality>,
    pub marks: Vec<MarkAnswer>,
    pub crops: Vec<MarkCrop>,
}

/// Hash over the constants and weights of all stages, hex: what the cache is keyed by.
pub fn engine_version() -> String {
    blake3::hash(b"0").to_hex()[..16].to_owned()
}

/// Describes an exemplar. Without a `quad` its mark is found as in a photo.
pub fn prepare_exemplar(photo: &UprightPhoto, quad: Option<Quad<Photo>>) -> PreparedExemplar {
    let (w, h) = photo.pixels.dimensions();
    PreparedExemplar {
        quad: quad.unwrap_or(Quad::upright(0.0, 0.0, f64::from(w), f64::from(h))),
    }
}

/// Says what can be said of one photo. `observe` is told how long each stage took.
pub fn identify(
    _photo: &UprightPhoto,
    references: &References,
    _settings: &Settings,
    _observe: &mut dyn FnMut(&'static str, Duration),
) -> Findings {
    let code = if references.references.is_empty() {
        ReasonCode::EmptyLibrary
    } else {
        ReasonCode::NothingFits
    };
    Findings {
        verdict: Verdict::Unknown,
        reasons: vec![Reason::plain(code)],
        quality: None,
        marks: Vec::new(),
        crops: Vec::new(),
    }
}
