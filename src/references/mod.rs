//! Exemplars made ready to be matched.

pub(crate) mod closer;
mod prepare;
mod prepared;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;
use std::sync::Arc;

use crate::answer::Twin;
use crate::geometry::{Exemplar, Homography, Photo, Quad};
use crate::shortlist::ImprintTable;
pub use prepare::{Detail, prepare_exemplar, prepare_in_detail, small_ink};
pub use prepared::{Gist, PreparedExemplar};

/// Where full descriptions of exemplars are fetched from when a photo's shortlist names them.
pub trait Fetch: Send + Sync + Debug {
    /// The exemplar at this place; `None` where it can no longer be had.
    fn fetch(&self, at: usize) -> Option<Arc<PreparedExemplar>>;
}

/// A full description: at hand, or to be fetched.
#[derive(Debug, Clone)]
enum Held {
    Here(Arc<PreparedExemplar>),
    Away(Arc<dyn Fetch>, usize),
}

/// An exemplar and whose it is.
#[derive(Debug, Clone)]
pub struct Reference {
    /// `<maker>/<family>`.
    pub family: String,
    pub variant: Option<String>,
    /// BLAKE3 of the image file, hex.
    pub hash: String,
    /// The mark's box in the exemplar's photo.
    pub quad: Quad<Photo>,
    pub(crate) from_photo: Homography<Photo, Exemplar>,
    held: Held,
}

impl Reference {
    /// An exemplar of a family whose description is at hand.
    pub fn here(
        family: impl Into<String>,
        hash: impl Into<String>,
        prepared: PreparedExemplar,
    ) -> Self {
        Self {
            family: family.into(),
            variant: None,
            hash: hash.into(),
            quad: prepared.quad,
            from_photo: prepared.signature.from_photo,
            held: Held::Here(Arc::new(prepared)),
        }
    }

    /// One whose description is fetched when it is asked for, from this place of `source`.
    pub fn away(
        family: impl Into<String>,
        hash: impl Into<String>,
        gist: &Gist,
        source: Arc<dyn Fetch>,
        at: usize,
    ) -> Self {
        Self {
            family: family.into(),
            variant: None,
            hash: hash.into(),
            quad: gist.quad,
            from_photo: gist.from_photo,
            held: Held::Away(source, at),
        }
    }

    /// The same, of a variant of its family.
    pub fn of_variant(mut self, variant: Option<String>) -> Self {
        self.variant = variant;
        self
    }

    /// Its full description; `None` where it was to be fetched and can no longer be had.
    pub fn prepared(&self) -> Option<Arc<PreparedExemplar>> {
        match &self.held {
            Held::Here(prepared) => Some(Arc::clone(prepared)),
            Held::Away(source, at) => source.fetch(*at),
        }
    }
}

/// All exemplars of a library, indexed for matching.
#[derive(Debug, Default)]
pub struct References {
    references: Vec<Reference>,
    imprints: ImprintTable,
    /// By family.
    twins: BTreeMap<String, Vec<Twin>>,
}

impl References {
    /// Of descriptions at hand; one that cannot be had is left out.
    pub fn new(references: Vec<Reference>) -> Self {
        let mut own = Self::default();
        for reference in references {
            if let Some(prepared) = reference.prepared() {
                own.put(reference, &prepared.signature.imprints);
            }
        }
        own
    }

    /// One more, and its gist.
    pub fn add(&mut self, reference: Reference, gist: &Gist) {
        self.put(reference, &gist.imprints);
    }

    fn put(&mut self, reference: Reference, imprints: &[f32]) {
        self.references.push(reference);
        self.imprints.add(imprints);
    }

    /// Makes room for so many more.
    pub fn reserve(&mut self, more: usize) {
        self.references.reserve(more);
        self.imprints.reserve(more);
    }

    /// Those that are to be kept, with what is known of their near-twins.
    pub fn filtered(&self, keep: impl Fn(&Reference) -> bool) -> Self {
        let mut own = Self::default();
        for (at, reference) in self.references.iter().enumerate().filter(|(_, r)| keep(r)) {
            own.put(reference.clone(), self.imprints.of(at));
        }
        let families: BTreeSet<&str> = own.references.iter().map(|r| r.family.as_str()).collect();
        let known = self
            .twins
            .iter()
            .filter(|(f, _)| families.contains(f.as_str()));
        own.twins = known.map(|(f, t)| (f.clone(), t.clone())).collect();
        own
    }

    /// These and one more, whose description is at hand.
    pub fn with_one_more(&self, more: &Reference) -> Self {
        let mut own = self.filtered(|_| true);
        if let Some(prepared) = more.prepared() {
            own.put(more.clone(), &prepared.signature.imprints);
        }
        own
    }

    /// The same where families are known to be taken for others; such a tie holds both ways.
    pub fn with_twins(mut self, ties: impl Iterator<Item = (String, Twin)>) -> Self {
        for (family, twin) in ties {
            let back = Twin {
                family: family.clone(),
                tell: twin.tell.clone(),
            };
            for (one, other) in [(twin.family.clone(), back), (family, twin)] {
                let known = self.twins.entry(one).or_default();
                match known.iter_mut().find(|t| t.family == other.family) {
                    Some(t) => t.tell = t.tell.take().or(other.tell),
                    None => known.push(other),
                }
            }
        }
        self
    }

    /// The families that this one is taken for.
    pub fn twins(&self, family: &str) -> &[Twin] {
        self.twins.get(family).map_or(&[], Vec::as_slice)
    }

    /// The imprints of all exemplars, in their order.
    pub fn imprints(&self) -> &ImprintTable {
        &self.imprints
    }

    pub fn is_empty(&self) -> bool {
        self.references.is_empty()
    }

    /// The exemplar of a family with this content.
    pub fn find(&self, family: &str, hash: &str) -> Option<&Reference> {
        self.references
            .iter()
            .find(|r| r.family == family && r.hash == hash)
    }

    pub fn len(&self) -> usize {
        self.references.len()
    }

    pub fn get(&self, index: usize) -> &Reference {
        &self.references[index]
    }

    /// The exemplars of a family, by index.
    pub fn of_family(&self, family: &str) -> impl Iterator<Item = usize> {
        (0..self.len()).filter(move |at| self.references[*at].family == family)
    }

    /// Number of different families.
    pub fn families(&self) -> usize {
        let mut ids: Vec<&str> = self.references.iter().map(|r| r.family.as_str()).collect();
        ids.sort_unstable();
        ids.dedup();
        ids.len()
    }
}
