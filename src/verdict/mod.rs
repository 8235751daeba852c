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
pub mod weights;
pub use judge::judge;
