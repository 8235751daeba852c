//! Footring turns photographs of undersides into trustworthy identifications of their marks.
//!
//! The folders follow the way of a photo through the tool; DEVELOPERS.md walks them in order.

pub mod alignment;
pub mod answer;
pub mod archive;
pub mod commands;
mod console;
pub mod date_code;
pub mod dating;
pub mod decision;
pub mod demo;
pub mod descriptors;
pub mod desk;
pub mod examine;
mod failure;
pub mod folder;
pub mod geometry;
pub mod handout;
pub mod identify;
pub mod in_order;
pub mod ink;
mod interrupt;
pub mod library;
pub mod mark;
pub mod net;
pub mod photo;
pub mod pieces;
pub mod raster;
pub mod references;
pub mod report;
pub mod rescue;
pub mod same_piece;
mod service;
pub mod shortlist;
pub mod sizes;
pub mod strangers;
pub mod trial;
pub mod underside;
pub mod verdict;
pub mod view;
pub mod workspace;
