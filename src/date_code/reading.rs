//! A strip read both ways up, and what the JSON contract says of it.

use serde::{Deserialize, Serialize};

use super::automaton::Automaton;
use super::decode::{DecodeSettings, Decoded, Look, Up, Way, decode};
use super::reader::Reader;
use super::scheme::{Scheme, fits};
use super::strip::{ink_of, turned};
use crate::geometry::{Photo, Quad};
use crate::raster::Plane;

/// One entry of `marks[].dates`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DateAnswer {
    pub state: Look,
    /// Where the code stands, corners in the order of reading as found; null where nothing was
    /// looked at. In pixels of the upright full-size photo.
    pub quad: Option<[[f64; 2]; 4]>,
    /// False where the code stands on its head in `quad`.
    pub upright: bool,
    /// Likeliest first.
    pub readings: Vec<DateReading>,
    /// The likeliest text that is no code of a scheme, where the state is told by it.
    pub other: Option<String>,
}

/// One reading of a code. It is never stated as a fact before a person has confirmed it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DateReading {
    pub text: String,
    pub probability: f64,
    /// Every time that it can mean under the schemes that hold here, in EDTF, in order.
    pub made: Vec<String>,
    /// Places in `text`, from 0, of signs that could well be others.
    pub doubt: Vec<usize>,
}

/// The codes of several schemes together; `None` where there are none.
pub fn codes_of(schemes: &[&Scheme]) -> Option<Automaton> {
    let patterns: Vec<&String> = schemes.iter().flat_map(|s| s.patterns()).collect();
    let small = schemes.iter().any(|s| s.small_letters);
    Automaton::new(&patterns, |sign| small || !sign.is_ascii_lowercase()).ok()
}

/// Reads a strip of grey both ways up. `upright` is how likely it stands as found before it is
/// read, 0.5 where nothing tells; `weight` as for [`decode`].
pub fn read_strip(
    grey: &Plane,
    reader: &Reader,
    codes: Option<&Automaton>,
    upright: f64,
    weight: &dyn Fn(&str) -> f64,
) -> Decoded {
    let ink = ink_of(grey);
    let found = reader.read(&ink);
    let back = reader.read(&turned(&ink));
    let ways = [
        Way {
            up: Up::AsFound,
            scores: &found,
            share: upright,
        },
        Way {
            up: Up::Turned,
            scores: &back,
            share: 1.0 - upright,
        },
    ];
    decode(
        &ways,
        reader.glyphs(),
        codes,
        weight,
        &DecodeSettings::default(),
    )
}

impl DateAnswer {
    /// What is said of a strip that was cut out of `quad`.
    pub fn new(decoded: &Decoded, quad: Option<&Quad<Photo>>, schemes: &[&Scheme]) -> Self {
        let told = decoded.look == Look::OutsideScheme;
        Self {
            state: decoded.look,
            quad: quad.map(Quad::to_array),
            upright: decoded.up == Up::AsFound,
            readings: decoded
                .readings
                .iter()
                .map(|reading| DateReading {
                    text: reading.text.clone(),
                    probability: reading.probability,
                    made: made(&reading.text, schemes),
                    doubt: reading.doubt.clone(),
                })
                .collect(),
            other: decoded
                .other
                .as_ref()
                .filter(|_| told)
                .map(|other| other.text.clone()),
        }
    }
}

fn made(code: &str, schemes: &[&Scheme]) -> Vec<String> {
    let mut all: Vec<String> = fits(schemes.iter().copied(), code)
        .iter()
        .flat_map(|fit| fit.made.iter().map(ToString::to_string))
        .collect();
    all.sort();
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::scheme::read_schemes;
    use super::*;

    #[test]
    fn a_bare_strip_is_absent_and_says_so_in_the_contract() {
        let text = "[[scheme]]\nname = \"quarter\"\n\
                    pattern = \"(?<quarter>[1-4])/(?<year>4[0-9])\"\n\
                    year = { window = [1900, 1999] }\n";
        let (schemes, remarks) = read_schemes(Path::new("codes.toml"), text);
        assert!(remarks.is_empty());
        let schemes: Vec<&Scheme> = schemes.iter().collect();
        let codes = codes_of(&schemes).expect("codes");
        let bare = Plane::filled(120, 32, 0.7);
        let decoded = read_strip(&bare, Reader::shipped(), Some(&codes), 0.5, &|_| 1.0);
        let answer = DateAnswer::new(&decoded, None, &schemes);
        let json = serde_json::to_string(&answer).expect("JSON");
        assert_eq!(
            json,
            r#"{"state":"absent","quad":null,"upright":true,"readings":[],"other":null}"#
        );
        assert_eq!(made("3/48", &schemes), ["1948-35"]);
        assert!(codes_of(&[]).is_none());
    }
}
