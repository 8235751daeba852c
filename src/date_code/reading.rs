//! A strip read both ways up, and what the JSON contract says of it.

use super::automaton::Automaton;
use super::decode::{DecodeSettings, Decoded, Look, Up, Way, decode};
use super::reader::Reader;
use super::scheme::{Scheme, fits};
use super::sense::{Bounds, objections};
use super::strip::Views;
use crate::answer::{DateAnswer, DateReading};
use crate::geometry::{Photo, Quad};
use crate::raster::Plane;

/// The codes of several schemes together; `None` where there are none.
pub fn codes_of(schemes: &[&Scheme]) -> Option<Automaton> {
    let patterns: Vec<&String> = schemes.iter().flat_map(|s| s.patterns()).collect();
    let small = schemes.iter().any(|s| s.small_letters);
    Automaton::new(&patterns, |sign| small || !sign.is_ascii_lowercase()).ok()
}

/// How likely a strip must stand as found, and how likely a code must be read in it so, for it not to be
/// read on its head as well.
const STANDS: f64 = 0.85;
const CLEAR: f64 = 0.9;
/// How likely a strip stands as found where nothing else is to be considered.
pub(super) const CERTAIN: f64 = 1.0;

/// Reads a strip of grey both ways up, or as found where that leaves no doubt. `upright` is how likely it stands as found before it is
/// read, 0.5 where nothing tells; `weight` as for [`decode`].
pub fn read_strip(
    grey: &Plane,
    reader: &Reader,
    codes: Option<&Automaton>,
    upright: f64,
    weight: &dyn Fn(&str) -> f64,
    settings: &DecodeSettings,
) -> Decoded {
    let views = Views::of(grey);
    let found = reader.read(&views);
    let decide = |ways: &[Way<'_>]| decode(ways, reader.glyphs(), codes, weight, settings);
    if upright >= STANDS {
        let only = decide(&[Way {
            up: Up::AsFound,
            scores: &found,
            share: 1.0,
        }]);
        if only
            .readings
            .first()
            .is_some_and(|r| r.probability >= CLEAR)
        {
            return only;
        }
    }
    let back = reader.read(&views.turned());
    decide(&[
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
    ])
}

/// What is said of the place of a code: `decoded` was read in strips out of `quad`, by the schemes
/// of `family`, of whose time `bounds` is known.
pub fn date_answer(
    family: &str,
    schemes: &[&Scheme],
    decoded: &Decoded,
    quad: Option<&Quad<Photo>>,
    bounds: &Bounds,
) -> DateAnswer {
    let told = decoded.look == Look::OutsideScheme;
    let readings = decoded.readings.iter().map(|reading| DateReading {
        text: reading.text.clone(),
        probability: reading.probability,
        made: made(&reading.text, schemes),
        doubt: reading.doubt.clone(),
        verified: fits(schemes.iter().copied(), &reading.text)
            .iter()
            .all(|fit| fit.scheme.verified),
        against: objections(&reading.text, schemes, bounds),
    });
    DateAnswer {
        family: family.to_owned(),
        dates: schemes.first().map_or(super::Dates::Piece, |s| s.dates),
        state: decoded.look,
        quad: quad.map(Quad::to_array),
        upright: decoded.up == Up::AsFound,
        readings: readings.collect(),
        other: decoded
            .other
            .as_ref()
            .filter(|_| told)
            .map(|other| other.text.clone()),
        against: Vec::new(),
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
        let settings = DecodeSettings::default();
        let reader = Reader::shipped();
        let decoded = read_strip(&bare, reader, Some(&codes), 0.5, &|_| 1.0, &settings);
        let answer = date_answer("weir/bell", &schemes, &decoded, None, &Bounds::default());
        let json = serde_json::to_string(&answer).expect("JSON");
        assert_eq!(
            json,
            r#"{"family":"weir/bell","dates":"piece","state":"absent","quad":null,"upright":true,"readings":[],"other":null,"against":[]}"#
        );
        assert_eq!(made("3/48", &schemes), ["1948-35"]);
        assert!(codes_of(&[]).is_none());
    }
}
