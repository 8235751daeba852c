//! Marks: where they lie in the view, and their cut-outs in a frame of fixed size.

pub mod cut;
pub mod finder;
pub mod propose;
pub mod regions;
pub mod second_look;
mod strokes;
pub mod tiles;
