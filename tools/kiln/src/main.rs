//! Draws invented marks and renders undersides of dinnerware as phone photos with exact truth.

mod artwork;
mod base;
mod camera;
mod clean;
mod cli;
mod clutter;
mod colour;
mod decal;
mod develop;
mod drawing;
mod emblem;
mod empty;
mod family;
mod glaze;
mod light;
mod lot;
mod mark;
mod plane;
mod random;
mod scene;
mod severity;
mod sheet;
mod shoot;
mod strike;
mod texture;
mod trouble;
mod truth;
mod words;

use clap::Parser;
use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run(cli::Cli::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(std::io::stderr(), "error: {error}");
            ExitCode::from(2)
        }
    }
}
