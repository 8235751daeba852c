//! The answer about one photo: what `match --json` prints, one line a photo (schema 1).
//!
//! The README documents every field; a test holds the two together. Nothing here computes
//! anything: the stages fill these records, the commands print them.

use serde::{Deserialize, Serialize};

/// Number of the JSON contract. It grows when a field changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

/// What can be said of a whole photo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// One family of the library, above the shipped confidence.
    Named,
    /// Several families fit and the photo does not decide between them.
    Choose,
    /// There is a mark, and no family of the library fits it well enough.
    Unknown,
    /// The whole base is in view, sharp and free of glare, and carries no mark.
    NoMark,
    /// A top view, a detail, a box, a receipt.
    NotUnderside,
    /// A named defect of the photo hides the answer.
    Reshoot,
    /// The file could not be read as a picture.
    NotAPicture,
}

impl Verdict {
    pub const ALL: [Self; 7] = [
        Self::Named,
        Self::Choose,
        Self::Unknown,
        Self::NoMark,
        Self::NotUnderside,
        Self::Reshoot,
        Self::NotAPicture,
    ];

    /// The word of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Self::Named => "named",
            Self::Choose => "choose",
            Self::Unknown => "unknown",
            Self::NoMark => "no-mark",
            Self::NotUnderside => "not-underside",
            Self::Reshoot => "reshoot",
            Self::NotAPicture => "not-a-picture",
        }
    }
}

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident = $code:literal, $text:literal;)+) => {
        /// Why a photo got its verdict: a closed list, documented in the README.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum ReasonCode { $($(#[$doc])* #[serde(rename = $code)] $name),+ }

        impl ReasonCode {
            pub const ALL: &'static [Self] = &[$(Self::$name),+];

            /// The word of the JSON contract.
            pub fn word(self) -> &'static str {
                match self { $(Self::$name => $code),+ }
            }

            /// What to tell a person where nothing more exact is known.
            pub fn plain(self) -> &'static str {
                match self { $(Self::$name => $text),+ }
            }
        }
    };
}

reasons! {
    /// The exemplar's ink was found in the photo, aligned.
    Aligned = "aligned", "the ink lines up with the exemplar";
    /// Named but for a known near-twin, whose tell was not seen.
    NearTwin = "near-twin", "a near-twin of this mark is known and cannot be ruled out here";
    /// Families that share what is visible.
    Siblings = "siblings", "the parts in which these families differ cannot be seen here";
    /// The best candidates are too close to each other.
    CloseRace = "close-race", "two or more families fit almost equally well";
    /// One family leads the others by far and is still not sure enough.
    OneLeads = "one-leads", "one family fits best, but not surely enough to be named";
    /// Nothing in the library fits.
    NothingFits = "nothing-fits", "no mark of the library fits this one";
    /// The library has no families yet.
    EmptyLibrary = "empty-library", "the library is empty";
    /// No mark-like region was found; the whole view was compared.
    WholeView = "whole-view", "no mark-like region was found, so the whole view was compared";
    /// The base is bare.
    CleanBase = "clean-base", "the whole base is in view and shows no ink and no relief";
    /// The base is not wholly in view.
    ShowWholeBase = "show-whole-base", "show the whole base";
    /// Out of focus.
    Blurred = "blurred", "out of focus: let the phone focus on the base, then hold still";
    /// Motion blur.
    Moved = "moved", "moved: brace the phone";
    /// Too dark.
    TooDark = "too-dark", "too dark: more light, or the lamp nearer";
    /// Too bright.
    TooBright = "too-bright", "overexposed: less light, or turn the plate away from the lamp";
    /// A reflection covers ink.
    Glare = "glare", "glare over the base: tilt the plate or move the lamp";
    /// Too few pixels on the mark.
    TooSmall = "too-small", "the mark is small in the frame: come closer";
    /// The frame cuts the mark.
    CutOff = "cut-off", "the mark runs out of the frame: show all of it";
    /// The base leans away from the camera.
    Slanted = "slanted", "seen at a slant: hold the phone straight above the mark";
    /// The strike itself is weak: the piece's nature, not the photo's.
    WeakStrike = "weak-strike", "weak strike: another photo adds no ink; light from the side may show more";
    /// Ink that was rubbed off: the piece's state.
    Worn = "worn", "worn: the ghost may show where the gilding or the print lay";
    /// Something lies over the mark.
    Covered = "covered", "a label or dirt over the mark: photograph it before anything else";
    /// Strokes or a spot through the mark that the exemplar does not have.
    Defaced = "defaced", "a scratch or a hole through the mark: the piece may be a factory second";
    /// Decoration, not an underside.
    LooksLikeTop = "looks-like-top", "this looks like a decorated top, not an underside";
    /// No ceramic base is visible.
    NoBase = "no-base", "no base of a piece is visible";
    /// The file is empty.
    EmptyFile = "empty-file", "the file is empty";
    /// The file ends before the picture does.
    CutFile = "cut-file", "the file ends before the picture does: copy it again from the phone";
    /// Larger than the limits.
    TooLarge = "too-large", "the picture is larger than the limits allow";
    /// The content is not of a kind that can be read.
    UnknownFormat = "unknown-format", "not a JPEG, PNG, WebP, TIFF, HEIC, GIF or BMP picture";
    /// The decoder gave up.
    BrokenPicture = "broken-picture", "the picture is damaged and cannot be decoded";
    /// The file could not be opened.
    CannotOpen = "cannot-open", "the file could not be opened";
}

/// One reason, with a sentence for the person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    pub code: ReasonCode,
    pub text: String,
}

impl Reason {
    /// The reason with its plain text.
    pub fn plain(code: ReasonCode) -> Self {
        Self {
            code,
            text: code.plain().to_owned(),
        }
    }

    pub fn with(code: ReasonCode, text: impl Into<String>) -> Self {
        Self {
            code,
            text: text.into(),
        }
    }
}

/// How good the photo is where the mark lies (or over the whole base where none was found).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Quality {
    /// Estimated blur as the standard deviation of a Gaussian, in pixels of the full-size photo;
    /// smaller is sharper.
    pub sharpness: f64,
    /// Median CIE L* of the base, 0 (black) to 100 (white).
    pub exposure: f64,
    /// Share of the base (or mark) hidden by clipped reflections, 0 to 1; smaller is better.
    pub glare: f64,
    /// Longer side of the mark in pixels of the full-size photo; larger is better.
    pub scale: f64,
}

/// How good the photo is where one mark lies. What needs an exemplar laid over the mark is null where no family
/// of the library fits it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MarkQuality {
    /// Blur of a lens out of focus beyond that of a sharp photo: sigma of a Gaussian, in pixels of the full-size photo;
    /// smaller is sharper.
    pub defocus: f64,
    /// Length of the streak that a movement drew, in the same pixels, 0 where it is no longer than strokes differ by
    /// themselves; smaller is steadier.
    pub motion: f64,
    /// Direction of the movement, in degrees from the photo's x axis towards y, 0 to 180.
    pub motion_angle: f64,
    /// CIE L* below which 95 % of the mark's box lies, 0 to 100: the glaze on a light ground, the ink on a dark one.
    pub exposure: f64,
    /// Share of the mark's box that is clipped, 0 to 1; smaller is better.
    pub clipped: f64,
    /// Share of the mark's ink under reflections (of its box where no exemplar fits), 0 to 1; smaller is better.
    pub glare: f64,
    /// Height of the mark's smaller letters in pixels of the full-size photo, as if seen straight; larger is better.
    pub letters: Option<f64>,
    /// Share of the mark's ink outside the frame, 0 to 1; smaller is better.
    pub cut: Option<f64>,
    /// How far the base leans away from the exemplar's view, in degrees, 0 below what a fit can tell; smaller is better.
    pub tilt: Option<f64>,
    /// Width of a drilled hole in the mark's box, in its longer sides; 0 where none is seen.
    #[serde(default)]
    pub hole: f64,
    /// Share of the mark's box under a label, 0 to 1; 0 where none is seen. Smaller is better.
    #[serde(default)]
    pub label: f64,
    /// Whether its ink is gold or its kin, which rubs off.
    #[serde(default)]
    pub gilt: bool,
}

/// The state of a mark on its piece, against the exemplar that fits it: no other photo changes it. Shares of the
/// exemplar's ink in view, 0 to 1, and lengths in sides of its frame; larger is worse.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MarkState {
    /// Ink that is not there and fades where it ends, 0 below what sound marks lack.
    pub faded: f64,
    /// The same of ink that breaks off with hard edges, or looks like gold, which lies over the glaze and rubs off.
    pub worn: f64,
    /// Ink under a label, dirt or a thumb.
    pub covered: f64,
    /// Length of straight strokes through the mark that the exemplar does not have.
    pub scratched: f64,
    /// Width of the largest round spot in the mark that the exemplar does not have.
    pub spotted: f64,
}

/// What kind of thing a mark tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    Maker,
    Line,
    Retailer,
    Importer,
    Decorator,
    DecorationNumber,
    DateCode,
    Registration,
    Country,
    Worker,
    Seconds,
    Undecided,
}

/// How a mark was put on the piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Means {
    Printed,
    Overglaze,
    Impressed,
    Moulded,
    Incised,
    Handwritten,
    PaperLabel,
    Undecided,
}

impl Means {
    /// All that can be told.
    pub const TOLD: [Self; 7] = [
        Self::Printed,
        Self::Overglaze,
        Self::Impressed,
        Self::Moulded,
        Self::Incised,
        Self::Handwritten,
        Self::PaperLabel,
    ];

    /// The word of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Self::Printed => "printed",
            Self::Overglaze => "overglaze",
            Self::Impressed => "impressed",
            Self::Moulded => "moulded",
            Self::Incised => "incised",
            Self::Handwritten => "handwritten",
            Self::PaperLabel => "paper-label",
            Self::Undecided => "undecided",
        }
    }
}

/// A family that a mark may belong to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// `<maker>/<family>`.
    pub family: String,
    /// Name of the variant's folder, or null.
    pub variant: Option<String>,
    /// Calibrated: of answers given at 0.9, nine in ten are right.
    pub probability: f64,
    /// Content hash (BLAKE3, hex) of the exemplar that fitted best.
    pub exemplar: String,
    /// The exemplar's mark box carried into the photo.
    pub quad: [[f64; 2]; 4],
    /// What the probability rests on; null in answers kept by an older version.
    #[serde(default)]
    pub evidence: Option<Evidence>,
}

/// How a photo's mark and an exemplar, laid over one another, compare.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// Correlation of their ink, -1 to 1.
    pub correlation: f64,
    /// Local points that agree on how they lie.
    pub points: u32,
    /// Cosine of their imprints, -1 to 1.
    pub likeness: f64,
    /// Log-odds (natural) that they are one mark, seen side by side; -8 to 8.
    pub odds: f64,
    /// By how much those exceed the best other family's; -8 to 8.
    pub lead: f64,
}

/// One mark found in a photo. `candidates` + `rest` + `none` sum to 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MarkAnswer {
    /// Bounds of the ink found: corners top-left, top-right, bottom-right, bottom-left of the mark
    /// as read, in pixels of the upright full-size photo, origin at the outer corner of its
    /// top-left pixel.
    pub quad: [[f64; 2]; 4],
    pub role: Role,
    pub means: Means,
    /// `named`, `choose` or `unknown` (or `reshoot` where this mark's part of the photo is bad).
    pub verdict: Verdict,
    /// Strength of the strike: mean ink contrast of the mark over the glaze's own noise; larger is
    /// stronger, under 9 is called weak.
    pub strike: f64,
    /// How good the photo is here; null in answers kept by an older version.
    #[serde(default)]
    pub quality: Option<MarkQuality>,
    /// The mark's own state; null where no exemplar fits it.
    #[serde(default)]
    pub state: Option<MarkState>,
    /// Best first.
    pub candidates: Vec<Candidate>,
    /// Probability of all families not listed.
    pub rest: f64,
    /// Probability that the mark is not in this library.
    pub none: f64,
    /// Which form of its family the first candidate is; null for a family of one form.
    #[serde(default)]
    pub forms: Option<Forms>,
    /// Near-twins of the first candidate that the library warns of and that this photo does not rule out.
    #[serde(default)]
    pub twins: Vec<Twin>,
    /// What was found where date codes may stand; empty where no scheme is known for the family.
    pub dates: Vec<DateAnswer>,
}

/// What stands for a variant where the photo does not show which it is.
pub const UNDECIDED: &str = "undecided";

/// Which form of its family a mark is: the main one or a variant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Forms {
    /// Likeliest first; their probabilities sum to 1, given that the family is right.
    pub ranked: Vec<FormShare>,
    /// Where the first two differ most; null where their pictures cannot be laid over one another.
    pub decides: Option<Deciding>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FormShare {
    /// Name of the variant's folder, or null for the main form.
    pub variant: Option<String>,
    /// Calibrated: of answers given at 0.9, nine in ten are right.
    pub probability: f64,
}

/// The part of a mark that tells two forms apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Deciding {
    /// Its box in pixels of the photo, corners as those of the mark.
    pub quad: [[f64; 2]; 4],
    /// `top`, `upper left` and so on, of the mark as read.
    pub place: String,
    pub seen: PartSeen,
}

/// What a photo shows where a part would stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PartSeen {
    /// The part's ink is there.
    Ink,
    /// Bare glaze beside ink that is clear enough for it to be seen.
    Bare,
    /// The place is out of the frame, or under glare.
    Hidden,
    /// Something else, or ink too weak or blurred to tell.
    Unclear,
}

/// A family that is taken for another one: a reissue, a copy, a mark altered later.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Twin {
    /// `<maker>/<family>`.
    pub family: String,
    /// What tells the two apart, in the words of the library; null where it says nothing.
    pub tell: Option<String>,
}

/// What can be said of the place of a date code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Look {
    Read,
    /// Something is there, or may have been, and cannot be read.
    Illegible,
    /// Nothing is there, beside a mark so clear that it would be seen.
    Absent,
    /// Something legible is there that is no code of the scheme.
    OutsideScheme,
    /// The place lies outside the photo, or cannot be told.
    NotLookedFor,
}

impl Look {
    pub const ALL: [Self; 5] = [
        Self::Read,
        Self::Illegible,
        Self::Absent,
        Self::OutsideScheme,
        Self::NotLookedFor,
    ];

    /// The word of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Illegible => "illegible",
            Self::Absent => "absent",
            Self::OutsideScheme => "outside-scheme",
            Self::NotLookedFor => "not-looked-for",
        }
    }
}

/// Why a reading cannot well be right, or the lack of a code tells something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ObjectionCode {
    BeforeLine,
    AfterLine,
    BeforeStamp,
    AfterStamp,
    PlantNotOpen,
    PlantClosed,
    BodyLater,
    NeverCarried,
    CodeMissing,
}

impl ObjectionCode {
    pub const ALL: [Self; 9] = [
        Self::BeforeLine,
        Self::AfterLine,
        Self::BeforeStamp,
        Self::AfterStamp,
        Self::PlantNotOpen,
        Self::PlantClosed,
        Self::BodyLater,
        Self::NeverCarried,
        Self::CodeMissing,
    ];

    /// The word of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Self::BeforeLine => "before-line",
            Self::AfterLine => "after-line",
            Self::BeforeStamp => "before-stamp",
            Self::AfterStamp => "after-stamp",
            Self::PlantNotOpen => "plant-not-open",
            Self::PlantClosed => "plant-closed",
            Self::BodyLater => "body-later",
            Self::NeverCarried => "never-carried",
            Self::CodeMissing => "code-missing",
        }
    }
}

/// Something that speaks against a reading or against there being no code. It is for a person to weigh.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Objection {
    pub code: ObjectionCode,
    /// What follows "but": `before the line began (1946)`.
    pub text: String,
}

/// Which work a code dates. A body is not later than its decoration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Dates {
    Piece,
    Body,
    Decoration,
}

impl Dates {
    pub const ALL: [Self; 3] = [Self::Piece, Self::Body, Self::Decoration];

    /// The word of the files and of the JSON contract.
    pub fn word(self) -> &'static str {
        match self {
            Self::Piece => "piece",
            Self::Body => "body",
            Self::Decoration => "decoration",
        }
    }
}

/// One place of a date code beside a mark, and what was read there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DateAnswer {
    /// The family whose schemes were used: `<maker>/<family>`.
    pub family: String,
    pub dates: Dates,
    pub state: Look,
    /// Where the code stands, corners in the order of reading as found; null where nothing was
    /// looked at.
    pub quad: Option<[[f64; 2]; 4]>,
    /// False where the code stands on its head in `quad`.
    pub upright: bool,
    /// Likeliest first.
    pub readings: Vec<DateReading>,
    /// The likeliest text that is no code of a scheme, where the state is told by it.
    pub other: Option<String>,
    /// What speaks against the state itself.
    #[serde(default)]
    pub against: Vec<Objection>,
}

/// One reading of a code. It is never stated as a fact before a person has confirmed it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DateReading {
    pub text: String,
    pub probability: f64,
    /// Every time that it can mean under the schemes that hold here, in EDTF, in order.
    pub made: Vec<String>,
    /// Places in `text`, from 0, of signs that could well be others.
    pub doubt: Vec<usize>,
    /// False where a table of its scheme could not be checked against a source.
    pub verified: bool,
    /// What speaks against it.
    #[serde(default)]
    pub against: Vec<Objection>,
}

/// Milliseconds spent in one stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StageTime {
    pub stage: String,
    pub ms: f64,
}

/// All that is said of one photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PhotoAnswer {
    pub schema: u32,
    /// Path as given or found, with a replacement character where it is not UTF-8.
    pub photo: String,
    /// The path's bytes in base64, only where it is not UTF-8.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub photo_raw: Option<String>,
    /// BLAKE3 of the file's bytes in hex; null where it could not be read.
    pub hash: Option<String>,
    pub verdict: Verdict,
    pub reasons: Vec<Reason>,
    /// Null where the file is not a picture.
    pub quality: Option<Quality>,
    pub marks: Vec<MarkAnswer>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub elapsed_ms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub stages: Option<Vec<StageTime>>,
}
