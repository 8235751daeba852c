//! Draws invented marks and renders undersides of dinnerware as phone photos with exact truth.

use clap::Parser;
use kiln::cli;
use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run(cli::Cli::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // An error that cannot be said is still an error.
            let _ = writeln!(std::io::stderr(), "error: {error}");
            ExitCode::from(2)
        }
    }
}
