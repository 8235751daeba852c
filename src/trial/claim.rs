//! Whether an exemplar that is new to a library can change what is said of a mark.

use crate::descriptors::imprint::{Imprint, LENGTH};
use crate::geometry::{Photo, Point, Quad};
use crate::ink::small;
use crate::mark::{cut, regions};
use crate::photo::UprightPhoto;
use crate::references::{Reference, References};
use crate::view::View;

/// Entries of the shortlist that are laid over a mark: as many as the engine drafts over all regions.
const DRAFTED: usize = 18;
/// Sizes at which a mark is cut: the engine's.
const SIZES: [f64; 3] = [0.85, 1.0, 1.3];
/// Cosine by which a new exemplar may be less like a mark than its present family's best one and still be laid over
/// it again. The imprint is a first cut only and errs: on tune (seed 46, clean scans, 67 decidable marks) the right
/// family's exemplar is less like the mark than the likest other one in 19, by more than 0.05 in 3, by more than 0.1 in
/// none.
const LESS_LIKE: f32 = 0.15;
/// Cosine below which a new exemplar is not laid over a mark again, however few others there are. On the same lot the
/// right family's exemplar is never less like its mark than 0.56 (79 known marks and clean scans, 65 and ordinary photos);
/// of the eighteen likest others of 120 one in twenty lies below 0.5, and nearly all of the rest.
const LEAST_LIKE: f32 = 0.5;

/// The imprints of the mark at `quad` of a picture at each size, one after the other.
pub fn imprints_of(picture: &UprightPhoto, quad: &Quad<Photo>) -> Vec<f32> {
    let view = View::of(&picture.pixels);
    let corners = quad
        .0
        .map(|p| Point::new(p.x / view.scale, p.y / view.scale));
    let found = regions::around(&corners);
    let imprint = |k: &f64| {
        let region = found.sized(*k);
        Imprint::of(&cut::small(&picture.pixels, &view, &region, small::SIDE)).0
    };
    SIZES.iter().flat_map(imprint).collect()
}

/// Whether one of the new exemplars would be laid over the mark: whether it is like it, comes into the shortlist at any
/// size, and, where the mark is settled as of the family `held`, is about as like the mark as the best of that family.
pub fn may_claim(
    imprints: &[f32],
    references: &References,
    is_new: &dyn Fn(&Reference) -> bool,
    held: Option<&str>,
) -> bool {
    let marks: Vec<Imprint> = imprints
        .chunks_exact(LENGTH)
        .map(|c| Imprint(c.to_vec()))
        .collect();
    let ranked = references.imprints().rank(&marks);
    let own = |f: &str| {
        let mut of = ranked
            .iter()
            .filter(|e| references.get(e.exemplar).family == f);
        of.next().map_or(f32::NEG_INFINITY, |e| e.likeness)
    };
    let least = held.map_or(f32::NEG_INFINITY, |f| own(f) - LESS_LIKE);
    (0..marks.len()).any(|size| {
        let at_size = ranked.iter().filter(|e| e.mark == size).take(DRAFTED);
        let mut near = at_size.filter(|e| e.likeness >= least.max(LEAST_LIKE));
        near.any(|e| is_new(references.get(e.exemplar)))
    })
}
