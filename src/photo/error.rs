//! Why a file gave no photo.

use thiserror::Error;

use crate::answer::{Reason, ReasonCode};

/// Which limit a picture exceeds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Excess {
    /// The file itself, in bytes.
    Bytes { have: u64, limit: u64 },
    /// The picture it claims to hold.
    Pixels { width: u32, height: u32, limit: u64 },
    /// What the decoder asked for.
    Memory,
}

/// Why a file gave no photo. The texts name what is wrong and what to do; the file is named by who
/// prints them.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PhotoError {
    #[error("the file is empty: copy it again from the phone")]
    Empty,
    #[error("not a JPEG, PNG, WebP, TIFF, HEIC, GIF or BMP picture")]
    NotAPicture,
    #[error("{kind} cannot be read: save it as JPEG")]
    Unsupported { kind: String },
    #[error("the file ends before the picture does: copy it again from the phone")]
    Cut,
    #[error("{}", excess_text(.0))]
    TooLarge(Excess),
    #[error("the picture is damaged and cannot be decoded ({detail}): copy it again")]
    Broken { detail: String },
    /// Our own fault: a stage behind the decoder stopped.
    #[error("this program failed on it ({detail}): please report it with the photo")]
    Internal { detail: String },
    #[error("the file could not be opened ({detail}): check that it exists and may be read")]
    CannotOpen { detail: String },
}

impl PhotoError {
    pub(super) fn unsupported(kind: impl Into<String>) -> Self {
        Self::Unsupported { kind: kind.into() }
    }

    /// Whether the content is a picture, or was meant to be one. In a folder the others are
    /// skipped and counted.
    pub fn is_picture(&self) -> bool {
        !matches!(self, Self::NotAPicture)
    }

    pub fn code(&self) -> ReasonCode {
        match self {
            Self::Empty => ReasonCode::EmptyFile,
            Self::NotAPicture | Self::Unsupported { .. } => ReasonCode::UnknownFormat,
            Self::Cut => ReasonCode::CutFile,
            Self::TooLarge(_) => ReasonCode::TooLarge,
            Self::Broken { .. } | Self::Internal { .. } => ReasonCode::BrokenPicture,
            Self::CannotOpen { .. } => ReasonCode::CannotOpen,
        }
    }

    /// The reason as the answer carries it.
    pub fn reason(&self) -> Reason {
        Reason::with(self.code(), self.to_string())
    }
}

fn excess_text(excess: &Excess) -> String {
    match excess {
        Excess::Bytes { have, limit } => format!(
            "the file has {} MB and the limit is {} MB: save it smaller",
            have.div_ceil(1_000_000),
            limit / 1_000_000
        ),
        Excess::Pixels {
            width,
            height,
            limit,
        } => format!(
            "the picture claims {width} x {height} pixels and the limit is {} million: save it smaller",
            limit / 1_000_000
        ),
        Excess::Memory => {
            "decoding it asks for more memory than the limits allow: save it as JPEG".to_owned()
        }
    }
}
