//! What a mark looks like, in numbers that can be compared: local edge descriptors and hashes.

pub mod keypoints;
pub mod shape;
