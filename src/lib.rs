//! Footring turns photographs of undersides into trustworthy identifications of their marks.
//!
//! The folders follow the way of a photo through the tool; DEVELOPERS.md walks them in order.

pub mod answer;
pub mod decision;
pub mod geometry;
pub mod identify;
pub mod photo;
pub mod report;
pub mod workspace;
