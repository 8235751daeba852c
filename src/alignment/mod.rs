//! Laying a mark over an exemplar: consensus of local points, dense refinement, comparison.

pub mod compare;
pub mod consensus;
pub mod dense;
