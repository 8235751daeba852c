//! Runs one function of the engine on numbers or pictures and prints what it computed, so that
//! tests/outside can hold it against other software.
//!
//! `probe NAME` reads one JSON object from standard input and writes one to standard output.
//! Pictures are paths; planes come back as files of little-endian 32-bit floats, row by row.

mod align;
mod codes;
mod dates;
mod pictures;
mod points;
mod scale;

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use serde_json::Value;

/// Why a request could not be answered.
#[derive(Debug, thiserror::Error)]
enum Failure {
    #[error("usage: probe NAME < request.json, with NAME one of {0}")]
    Usage(String),
    #[error("the request is not what `{name}` takes: {source}")]
    Request {
        name: String,
        source: serde_json::Error,
    },
    #[error("{path}: {source}")]
    Picture {
        path: PathBuf,
        source: image::ImageError,
    },
    #[error("{path}: {source}")]
    Photo {
        path: PathBuf,
        source: footring::photo::PhotoError,
    },
    #[error("{path}: {source}")]
    File {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("standard input or output: {0}")]
    Stream(#[from] std::io::Error),
    #[error("the answer cannot be written as JSON: {0}")]
    Answer(#[from] serde_json::Error),
}

type Function = fn(Value) -> Result<Value, Failure>;

const FUNCTIONS: &[(&str, Function)] = &[
    ("lab", points::lab),
    ("homography", points::homography),
    ("overlap", points::overlap),
    ("ellipse", points::ellipse),
    ("upright", pictures::upright),
    ("warp", pictures::warp),
    ("blur", pictures::blur),
    ("spread", pictures::spread),
    ("edges", pictures::edges),
    ("describe", pictures::describe),
    ("shape", pictures::shape),
    ("align", align::align),
    ("edtf", dates::edtf),
    ("codes", codes::codes),
    ("numerals", codes::numerals),
    ("meanings", codes::meanings),
    ("scale", scale::scale),
];

fn run() -> Result<(), Failure> {
    let wanted = std::env::args().nth(1).unwrap_or_default();
    let Some((name, function)) = FUNCTIONS.iter().find(|(name, _)| *name == wanted) else {
        let names: Vec<&str> = FUNCTIONS.iter().map(|(name, _)| *name).collect();
        return Err(Failure::Usage(names.join(", ")));
    };
    let request =
        serde_json::from_reader(std::io::stdin().lock()).map_err(|source| Failure::Request {
            name: (*name).to_owned(),
            source,
        })?;
    let answer = function(request)?;
    let mut out = std::io::stdout().lock();
    serde_json::to_writer(&mut out, &answer)?;
    writeln!(out)?;
    Ok(())
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            // Nothing is left to do where standard error is closed as well.
            let _ = writeln!(std::io::stderr(), "error: {failure}");
            ExitCode::from(2)
        }
    }
}

/// The request as the type that a function takes.
fn request<T: serde::de::DeserializeOwned>(name: &str, value: Value) -> Result<T, Failure> {
    serde_json::from_value(value).map_err(|source| Failure::Request {
        name: name.to_owned(),
        source,
    })
}
