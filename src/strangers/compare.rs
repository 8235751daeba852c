//! One mark beside all others, by the stages that compare a photo with a library.

use crate::alignment::contest::{self, Effort, Settled};
use crate::alignment::verifier;
use crate::descriptors::imprint::Imprint;
use crate::descriptors::signature::MarkSignature;
use crate::geometry::{Exemplar, Homography, Mark, Photo, Point, Quad};
use crate::ink::small;
use crate::mark::cut::{self, Cut};
use crate::mark::regions::{self, Region};
use crate::photo::UprightPhoto;
use crate::references::{PreparedExemplar, Reference, References};
use crate::shortlist::Entry;
use crate::verdict::features::{Context, Features, features};
use crate::view::View;

/// Other marks that one is laid over roughly, the likest first. What is settled and verified of them is the
/// engine's choice, so that work grows with the number of marks and not with its square.
const DRAFTS: usize = 18;
/// Sizes tried of a mark: a box around weak ink is too small, one around a mark that lies askew too large.
const SIZES: [f64; 3] = [0.85, 1.0, 1.3];
/// A lead over fewer others than this says nothing.
const RIVALS: usize = 5;

/// What one mark, looked at, says of another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// The mark that was looked at, and the one it was laid over: indices into the references.
    pub mark: usize,
    pub over: usize,
    /// What the verdict would judge the other one by.
    pub features: Features,
    /// Radians by which the picture of `mark` is to be turned clockwise to lie like that of `over`.
    pub turn: f64,
}

/// The marks as references to one another, each a family of its own.
pub fn references(prepared: Vec<PreparedExemplar>) -> References {
    let each = prepared.into_iter().enumerate();
    References::new(
        each.map(|(at, prepared)| Reference::here(at.to_string(), "", prepared))
            .collect(),
    )
}

/// Lays the mark at `quad` of a picture over the likest of the `others`, itself (at index `own`) left out.
pub fn compare(
    picture: &UprightPhoto,
    quad: &Quad<Photo>,
    own: usize,
    others: &References,
) -> Vec<Seen> {
    let view = View::of(&picture.pixels);
    let corners = quad
        .0
        .map(|p| Point::new(p.x / view.scale, p.y / view.scale));
    let found = regions::around(&corners);
    let sizes = SIZES.map(|k| found.sized(k));
    let (region, entries) = likest(picture, &view, &sizes, own, others);
    // A region has a radius, so that its frame can always be inverted.
    let Some(cut): Option<Cut<Mark>> = cut::cut(&picture.pixels, &view, region) else {
        return Vec::new();
    };
    let fine = cut::small(&picture.pixels, &view, region, verifier::SIDE);
    let signature = MarkSignature::of(&cut, fine);
    let drafts = contest::draft_all(&entries, &[&signature], others);
    let settled = contest::settle_best(drafts, &[&signature], others, Effort::Full);
    let seen = |s: &Settled| {
        let context = Context {
            likeness: s.entry.likeness,
            standing: s.entry.standing,
            cohort: s.cohort,
            odds: s.odds,
            lead: match settled.len() > RIVALS {
                true => s.lead,
                false => s.lead.min(0.0),
            },
        };
        Seen {
            mark: own,
            over: s.entry.exemplar,
            features: features(&s.fit, &context),
            turn: turn_of(&s.fit.map),
        }
    };
    settled.iter().map(seen).collect()
}

/// The turn of a map at the middle of the mark's frame, clockwise as y runs down.
fn turn_of(map: &Homography<Mark, Exemplar>) -> f64 {
    let middle = cut::SIDE as f64 / 2.0;
    let beside = map.apply(Point::new(middle + 1.0, middle));
    let ends = map.apply(Point::new(middle, middle)).zip(beside);
    ends.map_or(0.0, |(a, b)| (b.y - a.y).atan2(b.x - a.x))
}

/// The size at which the mark is most like another one, and the likest others at that size.
fn likest<'r>(
    picture: &UprightPhoto,
    view: &View,
    sizes: &'r [Region],
    own: usize,
    others: &References,
) -> (&'r Region, Vec<Entry>) {
    let imprints: Vec<Imprint> = sizes
        .iter()
        .map(|r| Imprint::of(&cut::small(&picture.pixels, view, r, small::SIDE)))
        .collect();
    let ranked = others.imprints().rank_others(&imprints, Some(own));
    let size = ranked.first().map_or(0, |e| e.mark);
    let at_size = ranked.into_iter().filter(|e| e.mark == size).take(DRAFTS);
    let entries = at_size.map(|e| Entry { mark: 0, ..e }).collect();
    (&sizes[size], entries)
}
