//! The journal's lines: all that a person would miss, in plain text, oldest first.
//!
//! One JSON object a line, UTF-8, ended by a line feed. The first line is
//! `{"entry":"journal","version":1}`; each other line is one [`Entry`]. The version grows when a
//! line's meaning changes; new kinds of decision are no change. A path that is not UTF-8 carries
//! its bytes in base64 as `path_raw`.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Serialize};

use super::{About, Certainty, ContentHash, Decision, Malformed, Moment, Statement};

/// Version of the line format.
pub const VERSION: u32 = 1;

/// A folder's worth of photos that came home together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotEntry {
    pub time: Moment,
    pub name: String,
    /// As the person wrote it.
    pub date: Option<String>,
    pub place: Option<String>,
}

/// A photo first seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoEntry {
    pub time: Moment,
    pub hash: ContentHash,
    /// Local capture time, where the file told.
    pub taken: Option<String>,
}

/// Where a photo of a lot lies. A later sighting of the same photo in the same lot replaces the
/// path; the order stays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SightingEntry {
    pub lot: String,
    pub hash: ContentHash,
    /// The path's bytes.
    pub path: Vec<u8>,
    /// Place among the photos of the lot, from 1.
    pub position: i64,
}

/// A piece of a lot, by its number. All that is said of it are decisions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PieceEntry {
    pub time: Moment,
    /// Counts from 1 within a workspace.
    pub number: i64,
    pub lot: String,
    /// Place among the pieces of the lot, from 1.
    pub position: i64,
}

/// One line of the journal.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// The first line, with the version of what follows.
    Journal(u32),
    /// A lot was made, or its date or place were told anew.
    Lot(LotEntry),
    Photo(PhotoEntry),
    Sighting(SightingEntry),
    Piece(PieceEntry),
    Decision(Decision),
}

#[derive(Serialize, Deserialize)]
#[serde(tag = "entry", rename_all = "kebab-case")]
enum Line {
    Journal {
        version: u32,
    },
    Lot {
        time: String,
        name: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        date: Option<String>,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        place: Option<String>,
    },
    Photo {
        time: String,
        hash: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        taken: Option<String>,
    },
    Sighting {
        lot: String,
        hash: String,
        path: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        path_raw: Option<String>,
        position: i64,
    },
    Piece {
        time: String,
        number: i64,
        lot: String,
        position: i64,
    },
    Decision {
        number: i64,
        time: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        photo: Option<String>,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        region: Option<String>,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        piece: Option<i64>,
        kind: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        value: Option<String>,
        certainty: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        replaces: Option<i64>,
    },
}

/// Why a line cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum LineError {
    #[error("not a line of a journal: {0}")]
    Json(#[from] serde_json::Error),
    #[error(transparent)]
    Malformed(#[from] Malformed),
    #[error("`path_raw` is not base64: {0}")]
    Base64(#[from] base64::DecodeError),
    #[error("the decision names neither a photo nor a piece, or both")]
    About,
}

impl Entry {
    /// The line, without its line feed.
    pub fn to_line(&self) -> String {
        // Strings and numbers always serialise.
        serde_json::to_string(&self.as_line()).unwrap_or_default()
    }

    fn as_line(&self) -> Line {
        match self {
            Self::Journal(version) => Line::Journal { version: *version },
            Self::Lot(lot) => Line::Lot {
                time: lot.time.to_string(),
                name: lot.name.clone(),
                date: lot.date.clone(),
                place: lot.place.clone(),
            },
            Self::Photo(photo) => Line::Photo {
                time: photo.time.to_string(),
                hash: photo.hash.to_string(),
                taken: photo.taken.clone(),
            },
            Self::Sighting(sighting) => {
                let path = String::from_utf8_lossy(&sighting.path).into_owned();
                let exact = path.as_bytes() == sighting.path;
                Line::Sighting {
                    lot: sighting.lot.clone(),
                    hash: sighting.hash.to_string(),
                    path,
                    path_raw: (!exact).then(|| STANDARD.encode(&sighting.path)),
                    position: sighting.position,
                }
            }
            Self::Piece(piece) => Line::Piece {
                time: piece.time.to_string(),
                number: piece.number,
                lot: piece.lot.clone(),
                position: piece.position,
            },
            Self::Decision(decision) => decision_line(decision),
        }
    }

    /// Reads one line, with or without its line feed.
    ///
    /// # Errors
    /// What is wrong with the line; the caller knows which line it is.
    pub fn from_line(line: &str) -> Result<Self, LineError> {
        Ok(match serde_json::from_str(line)? {
            Line::Journal { version } => Self::Journal(version),
            Line::Lot {
                time,
                name,
                date,
                place,
            } => Self::Lot(LotEntry {
                time: time.parse()?,
                name,
                date,
                place,
            }),
            Line::Photo { time, hash, taken } => Self::Photo(PhotoEntry {
                time: time.parse()?,
                hash: hash.parse()?,
                taken,
            }),
            Line::Sighting {
                lot,
                hash,
                path,
                path_raw,
                position,
            } => Self::Sighting(SightingEntry {
                lot,
                hash: hash.parse()?,
                path: match path_raw {
                    Some(raw) => STANDARD.decode(raw)?,
                    None => path.into_bytes(),
                },
                position,
            }),
            Line::Piece {
                time,
                number,
                lot,
                position,
            } => Self::Piece(PieceEntry {
                time: time.parse()?,
                number,
                lot,
                position,
            }),
            line @ Line::Decision { .. } => Self::Decision(read_decision(line)?),
        })
    }
}

fn decision_line(decision: &Decision) -> Line {
    Line::Decision {
        number: decision.number,
        time: decision.time.to_string(),
        photo: decision.about.photo().map(ToString::to_string),
        region: decision.about.region().map(ToString::to_string),
        piece: match decision.about {
            About::Piece(piece) => Some(piece),
            About::Photo(_) | About::Mark(..) => None,
        },
        kind: decision.statement.kind().to_owned(),
        value: decision.statement.value().map(str::to_owned),
        certainty: decision.certainty.word().to_owned(),
        replaces: decision.replaces,
    }
}

fn read_decision(line: Line) -> Result<Decision, LineError> {
    let Line::Decision {
        number,
        time,
        photo,
        region,
        piece,
        kind,
        value,
        certainty,
        replaces,
    } = line
    else {
        return Err(LineError::About);
    };
    let about = match (photo, region, piece) {
        (Some(photo), None, None) => About::Photo(photo.parse()?),
        (Some(photo), Some(region), None) => About::Mark(photo.parse()?, region.parse()?),
        (None, None, Some(piece)) => About::Piece(piece),
        _ => return Err(LineError::About),
    };
    Ok(Decision {
        number,
        time: time.parse()?,
        about,
        statement: Statement::from_words(&kind, value),
        certainty: Certainty::from_word(&certainty),
        replaces,
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::decision::Region;
    use crate::geometry::Quad;

    fn moment() -> Moment {
        "2026-05-02T08:15:00Z".parse().expect("a time")
    }

    #[test]
    fn the_lines_are_pinned() {
        let decision = Decision {
            number: 3,
            time: moment(),
            about: About::Mark(
                ContentHash::of(b"photo"),
                Region::new(&Quad::upright(1.0, 2.5, 30.0, 40.0)),
            ),
            statement: Statement::Family("mill-lane/crown".into()),
            certainty: Certainty::Probably,
            replaces: Some(1),
        };
        let hash = ContentHash::of(b"photo");
        assert_eq!(
            Entry::Decision(decision).to_line(),
            format!(
                r#"{{"entry":"decision","number":3,"time":"2026-05-02T08:15:00Z","photo":"{hash}","#
            ) + r#""region":"1,2.5 30,2.5 30,40 1,40","kind":"family","value":"mill-lane/crown","#
                + r#""certainty":"probably","replaces":1}"#
        );
        assert_eq!(
            Entry::Journal(VERSION).to_line(),
            r#"{"entry":"journal","version":1}"#
        );
        let piece = PieceEntry {
            time: moment(),
            number: 7,
            lot: "Mill fair".into(),
            position: 2,
        };
        assert_eq!(
            Entry::Piece(piece).to_line(),
            r#"{"entry":"piece","time":"2026-05-02T08:15:00Z","number":7,"lot":"Mill fair","position":2}"#
        );
    }

    #[test]
    fn what_is_no_entry_is_refused() {
        for line in [
            "",
            "{}",
            r#"{"entry":"song"}"#,
            r#"{"entry":"decision","number":1,"time":"2026-05-02T08:15:00Z","kind":"undo","certainty":"sure"}"#,
            r#"{"entry":"photo","time":"2026-05-02T08:15:00Z","hash":"ABC"}"#,
        ] {
            assert!(Entry::from_line(line).is_err(), "{line}");
        }
    }

    fn about() -> impl Strategy<Value = About> {
        let corner = || proptest::array::uniform2(-9e3..9e3_f64);
        let hash = any::<u64>().prop_map(|seed| ContentHash::of(&seed.to_le_bytes()));
        prop_oneof![
            hash.clone().prop_map(About::Photo),
            (hash, proptest::array::uniform4(corner()))
                .prop_map(|(hash, q)| About::Mark(hash, Region::new(&Quad::from_array(q)))),
            any::<i64>().prop_map(About::Piece),
        ]
    }

    fn entry() -> impl Strategy<Value = Entry> {
        let text = || proptest::option::of(".{0,20}");
        let time = (0..4_000_000_000_i64).prop_map(|s| {
            Moment::new(jiff::Timestamp::from_second(s).expect("within jiff's range"))
        });
        let hash = any::<u64>().prop_map(|seed| ContentHash::of(&seed.to_le_bytes()));
        let words = (
            prop_oneof![
                "family",
                "undo",
                "again",
                "no-mark",
                "piece-form",
                "[a-z]{1,8}"
            ],
            text(),
        );
        prop_oneof![
            (time.clone(), ".{0,20}", text(), text()).prop_map(|(time, name, date, place)| {
                Entry::Lot(LotEntry {
                    time,
                    name,
                    date,
                    place,
                })
            }),
            (time.clone(), hash.clone(), text())
                .prop_map(|(time, hash, taken)| Entry::Photo(PhotoEntry { time, hash, taken })),
            (time.clone(), any::<i64>(), ".{0,9}", any::<i64>()).prop_map(
                |(time, number, lot, position)| {
                    Entry::Piece(PieceEntry {
                        time,
                        number,
                        lot,
                        position,
                    })
                }
            ),
            (
                ".{0,9}",
                hash,
                proptest::collection::vec(any::<u8>(), 0..24),
                any::<i64>()
            )
                .prop_map(|(lot, hash, path, position)| {
                    Entry::Sighting(SightingEntry {
                        lot,
                        hash,
                        path,
                        position,
                    })
                }),
            (
                any::<i64>(),
                time,
                about(),
                words,
                proptest::option::of(any::<i64>())
            )
                .prop_map(|(number, time, about, (kind, value), replaces)| {
                    Entry::Decision(Decision {
                        number,
                        time,
                        about,
                        statement: Statement::from_words(&kind, value),
                        certainty: Certainty::Sure,
                        replaces,
                    })
                }),
        ]
    }

    proptest! {
        #[test]
        fn every_entry_reads_back(entry in entry()) {
            let line = entry.to_line();
            prop_assert!(!line.contains('\n'));
            prop_assert_eq!(Entry::from_line(&line).expect("own line"), entry);
        }
    }
}
