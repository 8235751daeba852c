//! Codes: places of a photo read, what codes mean, and Roman numerals.

use std::path::{Path, PathBuf};

use footring::date_code::decode::DecodeSettings;
use footring::date_code::{Scheme, fits, look, read_schemes, roman, value_of_roman};
use footring::geometry::Quad;
use footring::photo::{DecodeLimits, read_photo};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::{Failure, request};

/// Places of one photo, each read by one file of schemes (its text) under each of the settings.
#[derive(Deserialize)]
struct Places {
    photo: PathBuf,
    places: Vec<At>,
    #[serde(default)]
    settings: Vec<[f64; 3]>,
    #[serde(default)]
    beam: Option<usize>,
}

#[derive(Deserialize)]
struct At {
    quad: [[f64; 2]; 4],
    schemes: String,
}

/// `answers`: for every place a list with the answer under each odds, heat and bare, or under the
/// shipped settings where none are given.
pub(crate) fn codes(value: Value) -> Result<Value, Failure> {
    let wanted: Places = request("codes", value)?;
    let bytes = std::fs::read(&wanted.photo).map_err(|source| Failure::File {
        path: wanted.photo.clone(),
        source,
    })?;
    let photo = read_photo(&bytes, &DecodeLimits::default()).map_err(|source| Failure::Photo {
        path: wanted.photo.clone(),
        source,
    })?;
    let usual = DecodeSettings::default();
    let mut settings: Vec<DecodeSettings> = wanted
        .settings
        .iter()
        .map(|&[odds, heat, bare]| DecodeSettings {
            odds,
            heat,
            bare,
            beam: wanted.beam.unwrap_or(usual.beam),
            ..usual
        })
        .collect();
    if settings.is_empty() {
        settings.push(usual);
    }
    let answers: Vec<Vec<_>> = wanted
        .places
        .iter()
        .map(|at| {
            let (schemes, _) = read_schemes(Path::new("codes.toml"), &at.schemes);
            let schemes: Vec<&Scheme> = schemes.iter().collect();
            let quad = Quad::from_array(at.quad);
            let read = |s| look::read_corners(&photo.pixels, &quad, &schemes, s);
            settings.iter().map(read).collect()
        })
        .collect();
    Ok(json!({ "answers": answers }))
}

#[derive(Deserialize)]
struct Numerals {
    numbers: Vec<i32>,
    texts: Vec<String>,
}

/// `texts`: the numbers as numerals; `numbers`: the texts as numbers, null for no numeral.
pub(crate) fn numerals(value: Value) -> Result<Value, Failure> {
    let wanted: Numerals = request("numerals", value)?;
    let texts: Vec<_> = wanted.numbers.iter().map(|&n| roman(n)).collect();
    let numbers: Vec<_> = wanted.texts.iter().map(|t| value_of_roman(t)).collect();
    Ok(json!({ "texts": texts, "numbers": numbers }))
}

#[derive(Deserialize)]
struct Meanings {
    schemes: String,
    codes: Vec<String>,
}

/// `made`: for every code all times that it can mean; null where no scheme knows it.
pub(crate) fn meanings(value: Value) -> Result<Value, Failure> {
    let wanted: Meanings = request("meanings", value)?;
    let (schemes, _) = read_schemes(Path::new("codes.toml"), &wanted.schemes);
    let made: Vec<Option<Vec<String>>> = wanted
        .codes
        .iter()
        .map(|code| {
            let found = fits(&schemes, code);
            let times = found.iter().flat_map(|fit| &fit.made);
            (!found.is_empty()).then(|| times.map(ToString::to_string).collect())
        })
        .collect();
    Ok(json!({ "made": made }))
}
