//! What unknown marks were found to say of each other, kept so that a family made of some of them, or a word on one,
//! does not have all others compared again.
//!
//! A comparison serves every set of marks that lies within its own: what two marks say of each other stays true when a
//! third one is known.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::gathered::Stranger;
use super::opened::Opened;
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::strangers::{Pair, WEIGHTS};

/// A mark lies where it was compared while the two places share this much of what they cover together. Its place is
/// taken from the likeliest family's exemplar, and so moves a little with the library. Half: a place that shares less is
/// another one (the usual rule for detections, Everingham et al. 2010, the value from
/// memory).
const SAME_PLACE: f64 = 0.5;

#[derive(Serialize, Deserialize)]
struct Compared {
    /// The engine and the weights.
    by: String,
    marks: Vec<Mark>,
    pairs: Vec<Pair>,
}

#[derive(Serialize, Deserialize)]
struct Mark {
    photo: String,
    mark: usize,
    quad: [[f64; 2]; 4],
}

impl Mark {
    fn of(stranger: &Stranger) -> Self {
        Self {
            photo: stranger.photo.to_string(),
            mark: stranger.mark,
            quad: stranger.quad.to_array(),
        }
    }
}

fn by() -> String {
    format!("{} {WEIGHTS:?}", crate::identify::engine_version())
}

/// What these marks say of each other, by an earlier comparison in which all of them took part.
pub(super) fn known(opened: &Opened, marks: &[Stranger]) -> Result<Option<Vec<Pair>>, Failure> {
    let by = by();
    let kept = opened.cache.comparisons()?.into_iter();
    let mut kept = kept.filter_map(|text| serde_json::from_str::<Compared>(&text).ok());
    Ok(kept.find_map(|c| (c.by == by).then(|| c.among(marks)).flatten()))
}

/// Keeps a comparison.
pub(super) fn keep(opened: &mut Opened, marks: &[Stranger], pairs: &[Pair]) -> Result<(), Failure> {
    let compared = Compared {
        by: by(),
        marks: marks.iter().map(Mark::of).collect(),
        pairs: pairs.to_vec(),
    };
    let text = serde_json::to_string(&compared).unwrap_or_default();
    let key = blake3::hash(text.as_bytes()).to_hex();
    Ok(opened.cache.keep_comparison(&key, &text)?)
}

impl Compared {
    /// The pairs among these marks, by their indices; `None` where one of them did not take part.
    fn among(&self, marks: &[Stranger]) -> Option<Vec<Pair>> {
        let places = self.marks.iter().enumerate();
        let places: BTreeMap<(&str, usize), usize> = places
            .map(|(at, m)| ((m.photo.as_str(), m.mark), at))
            .collect();
        let mut now = BTreeMap::new();
        for (at, stranger) in marks.iter().enumerate() {
            let then = *places.get(&(stranger.photo.as_str(), stranger.mark))?;
            let place = Quad::<Photo>::from_array(self.marks[then].quad);
            if place.overlap(&stranger.quad) < SAME_PLACE {
                return None;
            }
            now.insert(then, at);
        }
        let own = self.pairs.iter().filter_map(|pair| {
            let (a, b) = (*now.get(&pair.a)?, *now.get(&pair.b)?);
            // The smaller index comes first; the turn leads from it to the other.
            let turn = if a < b { pair.turn } else { -pair.turn };
            Some(Pair {
                a: a.min(b),
                b: a.max(b),
                turn,
                ..*pair
            })
        });
        let mut own: Vec<Pair> = own.collect();
        own.sort_by_key(|p| (p.a, p.b));
        Some(own)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decision::ContentHash;

    fn stranger(n: u8, shift: f64) -> Stranger {
        Stranger {
            photo: ContentHash::of(&[n]),
            name: String::new(),
            lot: String::new(),
            mark: 0,
            marks_in_photo: 1,
            quad: Quad::upright(shift, 0.0, shift + 100.0, 100.0),
            blur: None,
        }
    }

    #[test]
    fn a_comparison_serves_the_marks_that_are_left() {
        let pair = |a, b, turn| Pair {
            a,
            b,
            log_odds: 1.0,
            turn,
        };
        let compared = Compared {
            by: String::new(),
            marks: [0, 1, 2].map(|n| Mark::of(&stranger(n, 0.0))).into(),
            pairs: vec![pair(0, 1, 0.1), pair(0, 2, 0.2), pair(1, 2, 0.3)],
        };
        let left = [stranger(2, 5.0), stranger(1, 0.0)];
        assert_eq!(compared.among(&left), Some(vec![pair(0, 1, -0.3)]));
        assert_eq!(compared.among(&[]), Some(Vec::new()));
        assert_eq!(compared.among(&[stranger(3, 0.0)]), None, "one that is new");
        assert_eq!(
            compared.among(&[stranger(1, 90.0)]),
            None,
            "one that lies elsewhere"
        );
    }
}
