//! The mark of a piece from all its photos: fused and matched once.

use std::path::Path;

use image::{RgbImage, imageops};

use super::alike::laid_over;
use super::look::blank;
use super::opened::Opened;
use super::report_page::figure;
use super::rounding::rounded;
use crate::answer::PhotoAnswer;
use crate::decision::{ContentHash, PhotoRole};
use crate::failure::Failure;
use crate::geometry::Quad;
use crate::identify::{Settings, identify};
use crate::photo::{self, DecodeLimits, UprightPhoto};
use crate::pieces::{Book, Piece};
use crate::references::References;
use crate::report::{Figure, Sheet, frame, per_cent};
use crate::same_piece::{Fused, Look, Member, fuse};
use crate::workspace::readable;

/// How sure an answer is of the best family of its first mark.
pub(crate) fn sure(answer: &PhotoAnswer) -> f64 {
    let best = answer.marks.first().and_then(|m| m.candidates.first());
    best.map_or(0.0, |c| c.probability)
}

/// A piece's mark, fused.
pub(crate) struct FusedMark {
    pub(crate) fused: Fused,
    /// The photos that took part, the one in whose frame it is first.
    pub(crate) photos: Vec<ContentHash>,
    /// What is said of the fused picture.
    pub(crate) answer: PhotoAnswer,
    /// What is said of the photo in whose frame it is, the surest of all.
    pub(crate) alone: PhotoAnswer,
}

impl FusedMark {
    /// The surer of the two answers. On tune the fused mark alone is named less often than the surest photo, and
    /// now and then where no photo is; so it never takes the place of a surer photo.
    pub(crate) fn surest(&self) -> &PhotoAnswer {
        match sure(&self.answer) > sure(&self.alone) {
            true => &self.answer,
            false => &self.alone,
        }
    }

    /// The mark and some ground around it.
    pub(crate) fn picture(&self) -> RgbImage {
        middle(&self.fused.picture.pixels)
    }

    /// The same of each photo alone.
    pub(crate) fn singles(&self) -> impl Iterator<Item = RgbImage> {
        self.fused.single.iter().map(middle)
    }
}

fn middle(picture: &RgbImage) -> RgbImage {
    let (w, h) = picture.dimensions();
    imageops::crop_imm(picture, w / 4, h / 4, w / 2, h / 2).to_image()
}

/// The fused mark of each piece with several photos in the lot: the row of the first of them, the picture, and what is
/// said of it.
pub(super) fn in_report(
    opened: &Opened,
    sheet: &Sheet,
    references: &References,
) -> Result<Vec<(usize, Figure, String)>, Failure> {
    let history = opened.workspace.history()?;
    let entries = opened.workspace.pieces()?;
    let book = Book::new(entries, &history, &|id| opened.follow(id));
    let mut all = Vec::new();
    for piece in book.pieces() {
        let photos = undersides(piece);
        let row = sheet
            .rows
            .iter()
            .position(|r| r.mark == Some(0) && photos.first() == Some(&sheet.shot(r).hash));
        let Some(row) = row.filter(|_| photos.len() > 1) else {
            continue;
        };
        let Some(found) = fused_mark(opened, references, &photos)? else {
            continue;
        };
        let best = found
            .answer
            .marks
            .first()
            .and_then(|m| m.candidates.first());
        let family = best.map_or_else(String::new, |c| {
            let name = readable(&sheet.family_name(&c.family));
            format!(", {name} {}", per_cent(c.probability))
        });
        let said = format!(
            "Fused of {} photos of piece {}; the surest of them and of the single photos: {}{family}",
            found.photos.len(),
            piece.number,
            found.surest().verdict.word(),
        );
        let small = frame::small(&found.picture(), frame::FRAME_PX as u32);
        all.extend(figure(&small).map(|f| (row, f, said)));
    }
    Ok(all)
}

/// The photos of a piece that may show its mark.
pub(crate) fn undersides(piece: &Piece) -> Vec<ContentHash> {
    let shows = |role: PhotoRole| {
        matches!(
            role,
            PhotoRole::Underside | PhotoRole::NotSaid | PhotoRole::Detail
        )
    };
    let photos = piece.photos.iter().filter(|p| shows(p.role));
    photos.map(|p| p.photo.clone()).collect()
}

struct Shown {
    photo: ContentHash,
    picture: UprightPhoto,
    look: Look,
    answer: PhotoAnswer,
}

/// Fuses the first marks of these photos of one piece and matches the result. `None` where fewer than two of them show a
/// mark and are in reach, or they cannot be laid over one another.
pub(crate) fn fused_mark(
    opened: &Opened,
    references: &References,
    photos: &[ContentHash],
) -> Result<Option<FusedMark>, Failure> {
    let key = opened.key();
    let mut shown: Vec<Shown> = Vec::new();
    for photo in photos {
        let answered = opened.cache.answer(photo, &key)?;
        shown.extend(answered.and_then(|a| look_at(opened, photo, &a.answer)));
    }
    let members: Vec<Member<'_>> = shown
        .iter()
        .map(|s| Member {
            picture: &s.picture,
            look: &s.look,
            sure: sure(&s.answer),
        })
        .collect();
    let Some(fused) = fuse(&members) else {
        return Ok(None);
    };
    let found = identify(
        &fused.picture,
        references,
        &Settings::default(),
        &mut |_, _| {},
    );
    let mut answer = blank(Path::new("fused"));
    answer.verdict = found.verdict;
    answer.reasons = found.reasons;
    answer.quality = found.quality;
    answer.marks = found.marks;
    Ok(Some(FusedMark {
        photos: fused.of.iter().map(|&at| shown[at].photo.clone()).collect(),
        alone: shown[fused.of[0]].answer.clone(),
        fused,
        answer: rounded(answer),
    }))
}

fn look_at(opened: &Opened, photo: &ContentHash, answer: &PhotoAnswer) -> Option<Shown> {
    let mark = answer.marks.first()?;
    let bytes = opened.original(photo)?;
    let picture = photo::read_photo(&bytes, &DecodeLimits::default()).ok()?;
    let look = Look::of(&picture, &Quad::from_array(mark.quad), &laid_over(mark))?;
    Some(Shown {
        photo: photo.clone(),
        answer: answer.clone(),
        picture,
        look,
    })
}
