//! The line that stands for one photo in `truth.jsonl`.

use crate::base::Ware;
use crate::deciding::Deciding;
use crate::family::Means;
use crate::fault::Fault;
use crate::glaze::{InkTone, Tone};
use crate::severity::Measured;
use serde::Serialize;

/// Corners in photo pixels: top-left, top-right, bottom-right, bottom-left of the thing as read;
/// the origin is the outer corner of the photo's top-left pixel.
pub type Quad = [[f32; 2]; 4];

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    Known,
    Unknown,
    UnknownSibling,
    Bare,
    Top,
    Receipt,
    Detail,
    /// A bare base that the frame cuts off.
    CutBase,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Condition {
    Good,
    Weak,
    Blur,
    TiltGlare,
    Partial,
    Smudge,
    LowLight,
    Small,
    Impressed,
    Hollow,
    AcrossRing,
    Distractor,
}

impl Condition {
    pub const SEVEN: [Self; 7] = [
        Self::Good,
        Self::Weak,
        Self::Blur,
        Self::TiltGlare,
        Self::Partial,
        Self::Smudge,
        Self::LowLight,
    ];
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    Easy,
    Medium,
    Hard,
}

impl Severity {
    pub const ALL: [Self; 3] = [Self::Easy, Self::Medium, Self::Hard];
}

#[derive(Clone, Debug, Serialize)]
pub struct CodeTruth {
    pub text: String,
    /// Whether it is a code of its family's scheme.
    pub of_scheme: bool,
    pub quad: Quad,
    /// Whether a picture of it holds enough to be read, by a rule on the scene (`record.rs`).
    pub legible: bool,
}

#[derive(Clone, Debug, Serialize)]
pub struct SecondMark {
    pub what: String,
    pub quad: Quad,
}

#[derive(Clone, Debug, Serialize)]
pub struct Attributes {
    pub glaze: Option<Tone>,
    pub ink: Option<InkTone>,
    pub means: Option<Means>,
    pub ware: Option<Ware>,
    pub light_on_dark: bool,
    pub impressed: bool,
    pub hollow: bool,
    pub across_ring: bool,
    pub small: bool,
    /// Whether the whole outline of the base is inside the frame.
    pub whole_base: bool,
}

#[derive(Clone, Debug, Serialize)]
pub struct Truth {
    pub file: String,
    pub width: usize,
    pub height: usize,
    pub kind: Kind,
    pub condition: Condition,
    pub severity: Severity,
    pub family: Option<String>,
    /// Which mark it is, in the library or not: equal for photos of one mark and only for those.
    pub design: Option<String>,
    pub variant: Option<String>,
    pub group: Option<usize>,
    /// Families of the library that share all but the deciding parts.
    pub siblings: Vec<String>,
    pub decidable: bool,
    /// Whether it shows which form of its family it is, where the family has several.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deciding: Option<Deciding>,
    pub quad: Option<Quad>,
    pub second: Vec<SecondMark>,
    pub measured: Option<Measured>,
    /// What alone was made wrong, where one thing was.
    pub fault: Option<Fault>,
    pub attributes: Attributes,
    pub distractors: Vec<String>,
    /// Which piece it is, in lots of pieces that are photographed again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub piece: Option<String>,
    pub code: Option<CodeTruth>,
}
