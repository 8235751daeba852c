//! What is known of one exemplar: all of it, and the little that is always held.

use super::closer::Closer;
use crate::descriptors::imprint::{LENGTH, TURNS};
use crate::descriptors::signature::ExemplarSignature;
use crate::geometry::{Exemplar, Homography, Photo, Quad};
use crate::ink::small::SmallInk;

/// What one exemplar image teaches, ready to be matched. Pure data; cached by content hash and
/// engine version.
#[derive(Debug, Clone)]
pub struct PreparedExemplar {
    /// The mark's box in the exemplar's photo.
    pub quad: Quad<Photo>,
    /// Nothing can be made out where the mark was found. Never where its corners were given.
    pub shows_nothing: bool,
    pub(crate) signature: ExemplarSignature,
    /// Ink at a larger size: of families of several forms only.
    pub(crate) closer: Option<Closer>,
}

impl PreparedExemplar {
    /// What is held of it in memory.
    pub fn gist(&self) -> Gist {
        Gist {
            quad: self.quad,
            shows_nothing: self.shows_nothing,
            from_photo: self.signature.from_photo,
            imprints: self.signature.imprints.clone(),
        }
    }

    /// The mark's ink as the verifier reads it.
    pub fn fine(&self) -> &SmallInk {
        &self.signature.fine
    }

    /// For the cache; read back by [`PreparedExemplar::from_bytes`] of the same engine version.
    pub fn to_bytes(&self) -> Vec<u8> {
        let closer = self.closer.as_ref().map(Closer::bytes);
        crate::descriptors::stored::write(
            &self.quad,
            self.shows_nothing,
            &self.signature,
            closer.unwrap_or_default(),
        )
    }

    /// `None` where the bytes were not written by this engine version.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (quad, shows_nothing, signature, closer) = crate::descriptors::stored::read(bytes)?;
        Some(Self {
            quad,
            shows_nothing,
            signature,
            closer: Closer::from_bytes(closer),
        })
    }
}

/// What is held in memory of every exemplar, some 4 KB: enough to choose those worth a closer look.
#[derive(Debug, Clone, PartialEq)]
pub struct Gist {
    /// The mark's box in the exemplar's photo.
    pub quad: Quad<Photo>,
    /// Nothing can be made out where the mark was found.
    pub shows_nothing: bool,
    pub(crate) from_photo: Homography<Photo, Exemplar>,
    /// Imprints at all turns, row by row.
    pub(crate) imprints: Vec<f32>,
}

impl Gist {
    /// For the cache; read back by [`Gist::from_bytes`].
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut out = vec![u8::from(self.shows_nothing)];
        let numbers = [
            self.quad.to_array().as_flattened(),
            self.from_photo.rows().as_flattened(),
        ]
        .concat();
        numbers.iter().for_each(|v| out.extend(v.to_le_bytes()));
        self.imprints
            .iter()
            .for_each(|v| out.extend(v.to_le_bytes()));
        out
    }

    /// `None` where the bytes are none of [`Gist::to_bytes`].
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (flag, rest) = bytes.split_first()?;
        let (numbers, imprints) = rest.split_at_checked(8 * (8 + 9))?;
        let mut numbers = numbers.as_chunks().0.iter().map(|b| f64::from_le_bytes(*b));
        let mut quad = [[0.0; 2]; 4];
        let mut rows = [[0.0; 3]; 3];
        for v in quad
            .as_flattened_mut()
            .iter_mut()
            .chain(rows.as_flattened_mut())
        {
            *v = numbers.next()?;
        }
        let floats = imprints
            .as_chunks()
            .0
            .iter()
            .map(|b| f32::from_le_bytes(*b));
        let imprints: Vec<f32> = floats.collect();
        (imprints.len() == LENGTH * TURNS).then(|| Self {
            quad: Quad::from_array(quad),
            shows_nothing: *flag != 0,
            from_photo: Homography::new(rows),
            imprints,
        })
    }
}
