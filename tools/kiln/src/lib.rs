//! Draws invented marks and renders undersides of dinnerware as phone photos with exact truth.
//!
//! The order of things: [`artwork`] and [`words`] give a split its material, [`family`] invents the
//! marks that [`mark`] lays out, [`strike`] inks them, [`shoot`] sets up a [`scene`] and takes it,
//! [`trouble`] spoils it to measure, [`develop`] makes it a phone's JPEG and [`record`] writes down
//! what is true of it. [`lot`] writes whole sets of photos, [`repeats`] those of services and [`pottery`] those of one
//! maker's lines with their variants.

pub mod again;
pub mod artwork;
pub mod base;
pub mod botany;
pub mod camera;
pub mod clean;
pub mod cli;
pub mod clutter;
pub mod codes;
pub mod colour;
pub mod decal;
pub mod deciding;
pub mod develop;
pub mod drawing;
pub mod emblem;
pub mod empty;
pub mod family;
pub mod fault;
pub mod foot;
pub mod frame;
pub mod framing;
pub mod glaze;
pub mod light;
pub mod lot;
pub mod mark;
pub mod plane;
pub mod pottery;
pub mod random;
pub mod record;
pub mod removal;
pub mod repeats;
pub mod sale;
pub mod scene;
pub mod scrawl;
pub mod severity;
pub mod sheet;
pub mod shoot;
pub mod starter;
pub mod strike;
pub mod table;
pub mod texture;
pub mod top;
pub mod trouble;
pub mod truth;
pub mod variants;
pub mod words;

#[cfg(test)]
mod tests;
