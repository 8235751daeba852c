//! Pictures of pieces that leave: drawn anew, so that nothing leaves with them but what they show.

use image::{RgbImage, imageops};

use super::collection::Collection;
use super::opened::Opened;
use crate::decision::{ContentHash, PhotoRole, PiecePhoto, Region};
use crate::photo::{DecodeLimits, read_photo};
use crate::pieces::{Piece, Stamp};
use crate::report::Figure;
use crate::report::frame::{jpeg, small};
use crate::workspace::readable;

/// JPEG quality of a picture, 1 to 100: at these sizes artefacts stay below a print's own grain.
const QUALITY: u8 = 82;

/// Share of a mark's size that is shown around it.
const AROUND: f64 = 0.35;

/// What a piece looks like and its mark or its bare underside, each with a caption, `longest` pixels on the
/// longer side; `None` where a photo is out of reach. What is lacking is made up by other photos of it.
pub(crate) fn pictures(
    piece: &Piece,
    longest: u32,
    collection: &Collection,
) -> Vec<(String, Option<Figure>)> {
    let opened = &collection.opened;
    let photos = shown(piece);
    let is_base = |p: &PiecePhoto| matches!(p.role, PhotoRole::Underside | PhotoRole::Detail);
    let looks = photos.iter().find(|p| !is_base(p));
    let base = photos.iter().find(|p| is_base(p));
    let mark = piece.marks.first();
    let marked = mark.and_then(|mark| Some((mark, mark.region.as_ref()?)));
    let bare = |p: &PiecePhoto| match (mark, piece.stamp) {
        (None, Stamp::Bare) => format!("{}, unmarked", caption(p.role)),
        _ => caption(p.role).to_owned(),
    };
    let mut chosen: Vec<&PiecePhoto> = Vec::new();
    chosen.extend(looks.or(base));
    if marked.is_none() {
        let rest = base.into_iter().chain(&photos);
        chosen.extend(rest.copied().find(|p| !chosen.contains(p)));
    }
    let mut pictures: Vec<_> = chosen
        .into_iter()
        .map(|p| match is_base(p) {
            true => (bare(p), figure(&p.photo, longest, opened)),
            false => (
                caption(p.role).to_owned(),
                figure(&p.photo, longest, opened),
            ),
        })
        .collect();
    if let Some((mark, region)) = marked {
        let name = readable(&collection.known().library.name_of(&mark.family));
        let cut = mark_figure(&mark.photo, region, longest, opened);
        pictures.push((format!("mark: {name}"), cut));
    }
    pictures
}

/// The photos of a piece that are handed out: what it looks like first, then the underside.
pub(crate) fn shown(piece: &Piece) -> Vec<&PiecePhoto> {
    let order = |p: &&PiecePhoto| match p.role {
        PhotoRole::Side => 0,
        PhotoRole::Top => 1,
        PhotoRole::NotSaid => 2,
        PhotoRole::Underside => 3,
        PhotoRole::Inside => 4,
        PhotoRole::Detail => 5,
        PhotoRole::Damage => 6,
        PhotoRole::Paper => 7,
    };
    let mut photos: Vec<&PiecePhoto> = piece.photos.iter().collect();
    photos.retain(|p| p.role != PhotoRole::Paper);
    photos.sort_by_key(order);
    photos
}

pub(crate) fn caption(role: PhotoRole) -> &'static str {
    match role {
        PhotoRole::NotSaid => "photo",
        role => role.word(),
    }
}

/// A photo, upright and in full; `None` where it is out of reach or cannot be read.
pub(crate) fn pixels(photo: &ContentHash, opened: &Opened) -> Option<RgbImage> {
    let bytes = opened.original(photo)?;
    let picture = read_photo(&bytes, &DecodeLimits::default()).ok()?;
    Some(picture.pixels)
}

/// The same with its longer side at most `longest` pixels.
fn figure(photo: &ContentHash, longest: u32, opened: &Opened) -> Option<Figure> {
    of_pixels(&pixels(photo, opened)?, longest)
}

/// A mark with what is around it.
fn mark_figure(
    photo: &ContentHash,
    region: &Region,
    longest: u32,
    opened: &Opened,
) -> Option<Figure> {
    let whole = pixels(photo, opened)?;
    let (x0, y0, x1, y1) = region.quad().bounds();
    let around = AROUND * (x1 - x0).max(y1 - y0);
    let cut = |v: f64, most: u32| v.clamp(0.0, f64::from(most)) as u32;
    let (left, top) = (
        cut(x0 - around, whole.width()),
        cut(y0 - around, whole.height()),
    );
    let (right, bottom) = (
        cut(x1 + around, whole.width()),
        cut(y1 + around, whole.height()),
    );
    if right <= left || bottom <= top {
        return of_pixels(&whole, longest);
    }
    let part = imageops::crop_imm(&whole, left, top, right - left, bottom - top);
    of_pixels(&part.to_image(), longest)
}

fn of_pixels(pixels: &RgbImage, longest: u32) -> Option<Figure> {
    let picture = small(pixels, longest);
    Some(Figure {
        jpeg: jpeg(&picture, QUALITY)?,
        width: picture.width(),
        height: picture.height(),
    })
}
