//! Whether two photos whose marks lie over one another show one piece.
//!
//! Only what is private to a piece counts: how its mark stands to its rings, what else is on its base (specks, stilt
//! marks, crazing), and what its strike left out. Stamp, glaze, form and the time of the photo never do. Pure: pictures
//! and numbers in, log-odds out.

mod base;
mod evidence;
mod fused;
mod gaps;
mod look;
mod overlay;
mod pose;
#[cfg(test)]
mod tests;

pub use evidence::{
    ASKED_AT, ASKED_NEXT_AT, Evidence, JOINED_AT, Judged, Nearness, WEIGHTS, judge,
};
pub use fused::{Fused, Member, fuse};
pub use look::Look;
pub use overlay::{Overlay, overlay};

/// What speaks for one piece, and against it, in two photos. `None` where the marks are not one, or cannot be laid over
/// one another.
pub fn compare(a: &Look, b: &Look) -> Option<Evidence> {
    let over = overlay(a, b)?;
    let texture = base::alike(a, b, &over.map);
    let gaps = gaps::alike(a, b, &over.map);
    let pose = pose::apart(a, b, &over.map);
    Some(Evidence {
        odds: over.odds,
        correlation: over.correlation,
        pose,
        texture,
        gaps,
    })
}

/// Fingerprint of the engine and of this folder, 32 hex digits: what comparisons are kept under.
pub fn version() -> String {
    format!("{}{}", env!("FOOTRING_ENGINE"), env!("FOOTRING_SAME_PIECE"))
}
