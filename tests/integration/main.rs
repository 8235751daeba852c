//! Everything is tested through this one binary, so that the machine links once.

#![allow(clippy::unwrap_used)]

mod bad;
mod confirm;
mod contract;
mod date;
mod decide;
mod demo;
mod desk_client;
mod desk_facts;
mod desk_guard;
mod desk_pieces;
mod desk_shared;
mod desk_work;
mod documents;
mod evening;
mod handing_out;
mod intake;
mod keeping;
mod library;
mod matching;
mod own_figures;
mod photos;
mod pieces;
mod read;
mod rematch;
mod report;
mod reshape;
mod same_piece;
mod share;
mod sheet;
mod show;
mod sort;
mod strangers;
mod support;
mod workspace;
mod workspace_folder;
