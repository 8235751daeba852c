//! The photos of a lot in their piles, and the page of those to take again.

use std::path::{Path, PathBuf};

use image::RgbImage;

use super::opened::{Opened, now};
use super::report_page::figure;
use crate::answer::{PhotoAnswer, ReasonCode, Verdict};
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::folder;
use crate::photo::{self, DecodeLimits};
use crate::report::{AgainRow, Figure, Obstacles, Pile, Sheet, again_page, frame, say_decision};
use crate::workspace::{Sighting, readable, readable_file_name};

/// Longer side of a picture on the page of photos to take again, in pixels.
const PICTURE: u32 = 320;

/// A photo and the pile it belongs to.
pub(crate) struct Sorted {
    /// As given, found, or last seen.
    pub(crate) path: PathBuf,
    /// Where its content is now; `None` where it is out of reach or no picture.
    pub(crate) original: Option<PathBuf>,
    pub(crate) pile: Pile,
    /// In the pile of sure ones.
    pub(crate) family: Option<String>,
    pub(crate) reasons: Obstacles,
    /// What the person said, with the day.
    pub(crate) decided: Option<String>,
}

impl Sorted {
    pub(crate) fn name(&self) -> String {
        readable_file_name(&self.path)
    }

    /// The person's word, the family, or why it is in this pile.
    pub(crate) fn says(&self) -> String {
        let said = self.decided.as_ref().or(self.family.as_ref()).cloned();
        readable(&said.unwrap_or_else(|| self.reasons.line()))
    }
}

/// The rows of the page of photos to take again; `whole` is what the photos are a part of.
pub(crate) fn again_rows(
    sorted: &[Sorted],
    whole: &str,
    picture: &dyn Fn(&Sorted) -> Option<Figure>,
) -> Vec<AgainRow> {
    let name = |at: usize| sorted.get(at).map(Sorted::name);
    let row = |(at, one): (usize, &Sorted)| AgainRow {
        photo: one.name(),
        reasons: match &one.decided {
            Some(said) => Obstacles {
                photo: vec![readable(said)],
                ..one.reasons.clone()
            },
            None => one.reasons.clone(),
        },
        place: format!("photo {} of {} of {whole}", at + 1, sorted.len()),
        before: at.checked_sub(1).and_then(name),
        after: name(at + 1),
        picture: picture(one),
    };
    let all = sorted.iter().enumerate();
    all.filter(|(_, s)| s.pile == Pile::Again)
        .map(row)
        .collect()
}

/// The photo, small.
pub(crate) fn photo_again(path: &Path) -> Option<Figure> {
    let limits = DecodeLimits::default();
    let bytes = folder::read_bytes(path, &limits).ok()?;
    figure(&small_again(
        &photo::read_photo(&bytes, &limits).ok()?.pixels,
    ))
}

pub(crate) fn small_again(pixels: &RgbImage) -> RgbImage {
    frame::small(pixels, PICTURE)
}

/// Longer side of the mark as a share of the photo's. Only where it is to be told: the photo is read for it.
pub(crate) fn fills(path: &Path, answer: &PhotoAnswer) -> Option<f64> {
    answer
        .reasons
        .iter()
        .find(|r| r.code == ReasonCode::TooSmall)?;
    let limits = DecodeLimits::default();
    let bytes = folder::read_bytes(path, &limits).ok()?;
    let (w, h) = photo::read_photo(&bytes, &limits).ok()?.pixels.dimensions();
    Some(answer.quality?.scale / f64::from(w.max(h)))
}

/// A photo of a lot as it was answered and decided.
fn kept(opened: &Opened, sheet: &Sheet, at: usize, place: &Sighting, pile: Pile) -> Sorted {
    let rows = || sheet.rows.iter().filter(|r| r.shot == at);
    let said = rows().find_map(|r| r.decision.as_ref());
    let answer = sheet.shots[at].answer.as_ref();
    let original = opened
        .original_path(&place.hash)
        .filter(|_| pile != Pile::Unread);
    let reasons = match (said, answer) {
        (None, Some(answer)) => {
            let fills = original.as_deref().and_then(|path| fills(path, answer));
            Obstacles::of(&answer.reasons, fills)
        }
        _ => Obstacles::default(),
    };
    Sorted {
        path: place.path.clone(),
        original,
        pile,
        family: rows()
            .filter(|r| pile == Pile::Sure || r.holds == Verdict::Named)
            .find_map(|r| r.family.clone()),
        reasons,
        decided: said.map(|d| format!("{}, decided by hand on {}", say_decision(d), d.time.day())),
    }
}

/// The kept picture of the photo at this path.
pub(crate) fn thumbnail(opened: &Opened, places: &[Sighting], one: &Sorted) -> Option<Figure> {
    let hash: &ContentHash = &places.iter().find(|p| p.path == one.path)?.hash;
    let Ok(Some(jpeg)) = opened.cache.thumbnail(hash) else {
        return photo_again(one.original.as_deref()?);
    };
    let pixels = photo::read_photo(&jpeg, &DecodeLimits::default())
        .ok()?
        .pixels;
    figure(&small_again(&pixels))
}

/// A lot in its piles, with what its photos are; and how many of them were not looked at yet.
pub(crate) fn of_lot(
    opened: &Opened,
    sheet: &Sheet,
) -> Result<(Vec<Sorted>, Vec<Sighting>, usize), Failure> {
    let places = opened.workspace.photos(&sheet.lot)?;
    let mut sorted: Vec<Sorted> = Vec::new();
    let mut unlooked = 0;
    for (at, place) in places.iter().enumerate() {
        match Pile::of_shot(sheet, at) {
            Some(pile) => sorted.push(kept(opened, sheet, at, place, pile)),
            None => unlooked += 1,
        }
    }
    Ok((sorted, places, unlooked))
}

/// The page of the photos of a lot that are to be taken again, its pictures inside.
pub(crate) fn page_of_lot(opened: &Opened, sheet: &Sheet) -> Result<String, Failure> {
    let (sorted, places, _) = of_lot(opened, sheet)?;
    let picture = |one: &Sorted| thumbnail(opened, &places, one);
    let rows = again_rows(&sorted, &readable(&sheet.lot), &picture);
    Ok(again_page(&rows, &now().day()))
}
