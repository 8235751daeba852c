//! One piece of a talk, with its pictures.

use super::collection::Collection;
use super::pictured::pictures;
use crate::handout::{Slide, title};
use crate::pieces::Piece;
use crate::workspace::readable;

/// Longer side of a picture in pixels: the larger half of a projector's 1920.
const PICTURE: u32 = 1100;

/// A piece with two lines below it; `missing` grows with each photo that is out of reach.
pub(crate) fn slide(
    piece: &Piece,
    lines: Vec<String>,
    collection: &Collection,
    missing: &mut usize,
) -> Slide {
    let pictures = pictures(piece, PICTURE, collection);
    *missing += pictures
        .iter()
        .filter(|(_, figure)| figure.is_none())
        .count();
    Slide {
        number: piece.number,
        title: readable(&title(piece, &collection.book, &collection.known())),
        lines,
        codes: piece.codes.iter().map(|c| readable(&c.code)).collect(),
        pictures,
    }
}
