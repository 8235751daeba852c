//! Looks at one photo for the workspace: its answer, and the pictures that are kept of it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use base64::Engine;

use super::rounding::rounded;
use crate::answer::{PhotoAnswer, SCHEMA, Verdict};
use crate::decision::{ContentHash, Region};
use crate::folder;
use crate::identify::{self, Settings};
use crate::photo::{self, DecodeLimits, PhotoError};
use crate::references::References;
use crate::report::frame;
use crate::workspace::KeptCrop;

/// JPEG quality of kept crops: they are read again by later stages, so artefacts must stay below
/// the ink's own texture. At 92 a 1,600 px crop takes about 400 kB.
const CROP_QUALITY: u8 = 92;

/// Longer side of a photo's thumbnail in pixels, enough to fill a report's frame.
const THUMBNAIL_PX: u32 = 720;

/// JPEG quality of thumbnails: for the eye only.
const THUMBNAIL_QUALITY: u8 = 82;

/// What a photo is looked at with.
pub(crate) struct Seeing<'a> {
    pub(crate) references: &'a References,
    pub(crate) settings: &'a Settings,
    /// Photos that have an answer, or of which a copy is being looked at.
    pub(crate) answered: &'a Mutex<BTreeSet<ContentHash>>,
}

impl Seeing<'_> {
    /// Whether this photo is still to be looked at; says so once.
    fn is_wanted(&self, photo: &ContentHash) -> bool {
        let mut answered = self.answered.lock().unwrap_or_else(PoisonError::into_inner);
        answered.insert(photo.clone())
    }
}

/// What looking at a file gave.
pub(crate) struct Look {
    pub(crate) path: PathBuf,
    /// `None` where the file could not be read at all.
    pub(crate) hash: Option<ContentHash>,
    pub(crate) taken: Option<String>,
    /// `None` where the photo has an answer already.
    pub(crate) fresh: Option<Fresh>,
    /// Why there is no picture.
    pub(crate) failure: Option<PhotoError>,
}

pub(crate) struct Fresh {
    pub(crate) answer: PhotoAnswer,
    /// Parallel to the answer's marks.
    pub(crate) crops: Vec<KeptCrop>,
    pub(crate) thumbnail: Option<Vec<u8>>,
}

/// Reads, hashes and, where there is no answer yet, identifies one photo.
pub(crate) fn look(path: &Path, seeing: &Seeing<'_>) -> Look {
    let limits = DecodeLimits::default();
    let mut looked = Look {
        path: path.to_owned(),
        hash: None,
        taken: None,
        fresh: None,
        failure: None,
    };
    let bytes = match folder::read_bytes(path, &limits) {
        Ok(bytes) => bytes,
        Err(failure) => {
            looked.failure = Some(failure);
            return looked;
        }
    };
    let hash = ContentHash::of(&bytes);
    looked.taken = photo::taken(&bytes);
    if seeing.is_wanted(&hash) {
        let mut answer = blank(path);
        answer.hash = Some(hash.to_string());
        let fresh = identified(answer.clone(), &bytes, seeing, &limits).unwrap_or_else(|failure| {
            answer.verdict = Verdict::NotAPicture;
            answer.reasons = vec![failure.reason()];
            looked.failure = Some(failure);
            Fresh {
                answer,
                crops: Vec::new(),
                thumbnail: None,
            }
        });
        looked.fresh = Some(fresh);
    }
    looked.hash = Some(hash);
    looked
}

fn identified(
    mut answer: PhotoAnswer,
    bytes: &[u8],
    seeing: &Seeing<'_>,
    limits: &DecodeLimits,
) -> Result<Fresh, PhotoError> {
    let photo = photo::read_photo(bytes, limits)?;
    let found = photo::guarded(|| {
        identify::identify(&photo, seeing.references, seeing.settings, &mut |_, _| {})
    })
    .map_err(|panicked| PhotoError::Internal {
        detail: panicked.message,
    })?;
    answer.verdict = found.verdict;
    answer.reasons = found.reasons;
    answer.quality = found.quality;
    answer.marks = found.marks;
    let crops = found.crops.iter().filter_map(|crop| {
        Some(KeptCrop {
            region: Region::new(&crop.quad),
            jpeg: frame::jpeg(&crop.pixels, CROP_QUALITY)?,
        })
    });
    let small = frame::small(&photo.pixels, THUMBNAIL_PX);
    Ok(Fresh {
        crops: crops.collect(),
        thumbnail: frame::jpeg(&small, THUMBNAIL_QUALITY),
        answer: rounded(answer),
    })
}

/// A path's bytes in base64, only where it is not UTF-8.
pub(crate) fn raw_name(path: &Path) -> Option<String> {
    path.to_str().is_none().then(|| {
        base64::engine::general_purpose::STANDARD.encode(path.as_os_str().as_encoded_bytes())
    })
}

/// An answer that says nothing yet.
pub(crate) fn blank(path: &Path) -> PhotoAnswer {
    PhotoAnswer {
        schema: SCHEMA,
        photo: path.to_string_lossy().into_owned(),
        photo_raw: raw_name(path),
        hash: None,
        verdict: Verdict::NotAPicture,
        reasons: Vec::new(),
        quality: None,
        marks: Vec::new(),
        elapsed_ms: None,
        stages: None,
    }
}
