//! From evidence to calibrated probabilities and a verdict.

pub mod bareness;
mod causes;
mod crop;
pub mod features;
mod judge;
pub mod model;
pub mod quality;
mod situation;
pub mod strangers;
pub mod variant;
pub mod weights;
pub(crate) use causes::letters_are_legible;
pub use judge::judge;
