//! An exemplar's ink at twice the size that the verifier reads, for what forms of one family differ by: lines of small
//! print and rules are thinner there than a pixel.

use crate::ink::small::SmallInk;
use crate::raster::Plane;

/// Side in pixels of the small map of an exemplar's region.
pub(crate) const SIDE: usize = 448;
/// Blur (sigma in its pixels) that lets it be sampled at two thirds of its size without steps. With 0.9 in its place 96 of
/// 114 legible forms of clean scans are told on tune (seed 801), with this 101.
const BLUR: f32 = 0.6;

/// Ink at that size, a byte a pixel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Closer(Vec<u8>);

impl Closer {
    /// Of the ink of a map of [`SIDE`] pixels.
    pub(crate) fn of(ink: &SmallInk) -> Self {
        let soft = ink.ink.blur(BLUR);
        let byte = |v: &f32| (v.clamp(0.0, 1.0) * 255.0).round() as u8;
        Self(soft.data().iter().map(byte).collect())
    }

    /// `None` where these are not as many bytes as it has pixels.
    pub(crate) fn from_bytes(bytes: &[u8]) -> Option<Self> {
        (bytes.len() == SIDE * SIDE).then(|| Self(bytes.to_vec()))
    }

    pub(crate) fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// Ink 0 to 1.
    pub(crate) fn plane(&self) -> Plane {
        let ink = self.0.iter().map(|v| f32::from(*v) / 255.0);
        Plane::from_vec(SIDE, SIDE, ink.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_comes_back_and_nothing_is_no_ink() {
        let mut ink = Plane::filled(SIDE, SIDE, 0.0);
        (100..140).for_each(|x| ink.set(x, 200, 1.0));
        let valid = Plane::filled(SIDE, SIDE, 1.0);
        let own = Closer::of(&SmallInk { ink, valid });
        let plane = own.plane();
        assert!(plane.get(120, 200) > 0.5 && plane.get(120, 210) == 0.0);
        assert_eq!(Closer::from_bytes(own.bytes()), Some(own));
        assert_eq!(Closer::from_bytes(&[]), None);
    }
}
