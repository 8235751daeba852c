//! The order of the stages: from an upright photo to what can be said of it.

use std::time::Duration;

use image::RgbImage;

use crate::answer::{MarkAnswer, Quality, Reason};
use crate::date_code::{CodeBook, look};
use crate::examine::{Clock, examine};
use crate::geometry::{Photo, Quad};
use crate::photo::UprightPhoto;
use crate::references::References;

/// Everything a caller may choose.
#[derive(Debug, Clone)]
pub struct Settings {
    /// How many candidates to list per mark.
    pub top: usize,
    /// Whether to cut each mark out at native resolution.
    pub crops: bool,
    /// The schemes by which date codes are read; none by default.
    pub codes: CodeBook,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            top: 5,
            crops: false,
            codes: CodeBook::default(),
        }
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

/// What was found in one photo; `crops` runs parallel to `marks` where asked for.
#[derive(Debug, Clone)]
pub struct Findings {
    pub verdict: crate::answer::Verdict,
    pub reasons: Vec<Reason>,
    pub quality: Option<Quality>,
    pub marks: Vec<MarkAnswer>,
    pub crops: Vec<MarkCrop>,
}

/// Receives the name of a stage and the time it took.
pub type Observer<'a> = &'a mut dyn FnMut(&'static str, Duration);

/// Fingerprint of all stages and their weights, 16 hex digits: what the cache is keyed by.
pub fn engine_version() -> String {
    env!("FOOTRING_ENGINE").to_owned()
}

/// Says what can be said of one photo. `observe` is told how long each stage took.
pub fn identify(
    photo: &UprightPhoto,
    references: &References,
    settings: &Settings,
    observe: Observer,
) -> Findings {
    let examination = examine(photo, references, observe);
    let mut findings = crate::verdict::judge(photo, &examination, references, settings);
    if !settings.codes.is_empty() {
        let mut clock = Clock::start(observe);
        for mark in &mut findings.marks {
            mark.dates = look::read_codes(&photo.pixels, mark, references, &settings.codes);
        }
        clock.lap("codes");
    }
    findings
}
