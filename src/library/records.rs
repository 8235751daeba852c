//! The three records: maker, line, stamp. Text in, typed record and remarks out.

use std::path::Path;

use toml_edit::{Document, TableLike, Value};

use super::edtf::Edtf;
use super::facts::{FACT_KEYS, Facts};
use super::keys::{Keys, line_of};
use super::remark::{Remark, Trouble};
use crate::answer::{Means, Twin};
use crate::geometry::{Photo, Quad};
use crate::sizes::Size;

const MAKER_KEYS: &[&str] = &[
    "names",
    "also_called",
    "plants",
    "notes",
    "sources",
    FACT_KEYS[0],
    FACT_KEYS[1],
    FACT_KEYS[2],
    FACT_KEYS[3],
];
const PLANT_KEYS: &[&str] = &["name", "place", "years", "notes"];
const LINE_KEYS: &[&str] = &[
    "name",
    "made",
    "also_called",
    "notes",
    "sources",
    FACT_KEYS[0],
    FACT_KEYS[1],
    FACT_KEYS[2],
    FACT_KEYS[3],
];
const MARK_KEYS: &[&str] = &[
    "name",
    "role",
    "means",
    "line",
    "used",
    "ink",
    "size",
    "was",
    "confused_with",
    "image",
    "notes",
    "sources",
];
const TWIN_KEYS: &[&str] = &["family", "tell"];
const IMAGE_KEYS: &[&str] = &[
    "file", "quad", "variant", "source", "photo", "credit", "licence",
];

/// A works of a maker.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Plant {
    pub name: Option<String>,
    pub place: Option<String>,
    pub years: Option<Edtf>,
    pub notes: Vec<String>,
}

/// `maker.toml`.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct MakerRecord {
    pub names: Vec<String>,
    pub also_called: Vec<String>,
    pub plants: Vec<Plant>,
    /// Of pieces of any line.
    pub facts: Facts,
    pub notes: Vec<String>,
    pub sources: Vec<String>,
}

/// `lines/<line>.toml`: a production run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LineRecord {
    pub name: Option<String>,
    /// When the line was made.
    pub made: Option<Edtf>,
    pub also_called: Vec<String>,
    pub facts: Facts,
    pub notes: Vec<String>,
    pub sources: Vec<String>,
}

/// Whose stamp it is, and so what it proves.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum StampRole {
    /// Who made the piece.
    #[default]
    Maker,
    /// Who decorated it, on a body of whatever make.
    Decorator,
    /// Whom it was made for: a shop, an importer, a hotel.
    Customer,
}

impl StampRole {
    pub const ALL: [Self; 3] = [Self::Maker, Self::Decorator, Self::Customer];

    pub fn word(self) -> &'static str {
        match self {
            Self::Maker => "maker",
            Self::Decorator => "decorator",
            Self::Customer => "customer",
        }
    }
}

/// `mark.toml`: a stamp family or one of its variants.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct MarkRecord {
    pub name: Option<String>,
    /// Whose stamp it is; that of the maker of its folder where nothing is said.
    pub role: StampRole,
    /// How it was put on; of a variant, where that differs from its family's.
    pub means: Option<Means>,
    /// None for a general stamp.
    pub lines: Vec<String>,
    /// When this stamp was in use, which is not the line's run.
    pub used: Option<Edtf>,
    pub ink: Option<String>,
    /// Longer side of the mark on the piece.
    pub size: Option<Size>,
    /// Old ids.
    pub was: Vec<String>,
    /// Families that this one is taken for.
    pub confused_with: Vec<Twin>,
    pub images: Vec<ImageRecord>,
    pub notes: Vec<String>,
    pub sources: Vec<String>,
}

/// `[[image]]` of a mark.toml.
#[derive(Debug, Clone, PartialEq)]
pub struct ImageRecord {
    /// Relative to the folder of the mark.toml.
    pub file: String,
    /// Where the mark is, in pixels of the upright picture.
    pub quad: Option<Quad<Photo>>,
    pub variant: Option<String>,
    pub source: Option<String>,
    /// Content hash of the photo that the picture was cut from.
    pub photo: Option<String>,
    /// Whom to name beside the picture, and by what right it may be passed on.
    pub credit: Option<String>,
    pub licence: Option<String>,
    /// Line of the entry in its file, from 1.
    pub(super) at: Option<usize>,
}

/// Reads `maker.toml`.
pub fn read_maker(path: &Path, text: &str, remarks: &mut Vec<Remark>) -> Option<MakerRecord> {
    let document = parse(path, text, remarks)?;
    let table = document.as_table();
    let mut keys = Keys {
        path,
        text,
        remarks,
    };
    keys.only(table, MAKER_KEYS);
    Some(MakerRecord {
        names: keys.texts(table, "names"),
        also_called: keys.texts(table, "also_called"),
        plants: keys
            .tables(table, "plants")
            .into_iter()
            .map(|(plant, _)| {
                keys.only(plant, PLANT_KEYS);
                Plant {
                    name: keys.text(plant, "name"),
                    place: keys.text(plant, "place"),
                    years: keys.date(plant, "years"),
                    notes: keys.texts(plant, "notes"),
                }
            })
            .collect(),
        facts: Facts::read(&mut keys, table),
        notes: keys.texts(table, "notes"),
        sources: keys.texts(table, "sources"),
    })
}

/// Reads `lines/<line>.toml`.
pub fn read_line(path: &Path, text: &str, remarks: &mut Vec<Remark>) -> Option<LineRecord> {
    let document = parse(path, text, remarks)?;
    let table = document.as_table();
    let mut keys = Keys {
        path,
        text,
        remarks,
    };
    keys.only(table, LINE_KEYS);
    Some(LineRecord {
        name: keys.text(table, "name"),
        made: keys.date(table, "made"),
        also_called: keys.texts(table, "also_called"),
        facts: Facts::read(&mut keys, table),
        notes: keys.texts(table, "notes"),
        sources: keys.texts(table, "sources"),
    })
}

/// Reads `mark.toml`.
pub fn read_mark(path: &Path, text: &str, remarks: &mut Vec<Remark>) -> Option<MarkRecord> {
    let document = parse(path, text, remarks)?;
    let table = document.as_table();
    let mut keys = Keys {
        path,
        text,
        remarks,
    };
    keys.only(table, MARK_KEYS);
    Some(MarkRecord {
        name: keys.text(table, "name"),
        role: role(&mut keys, table),
        means: means(&mut keys, table),
        lines: keys.texts(table, "line"),
        used: keys.date(table, "used"),
        ink: keys.text(table, "ink"),
        size: size(&mut keys, table),
        was: keys.texts(table, "was"),
        confused_with: twins(&mut keys, table),
        images: images(&mut keys, table),
        notes: keys.texts(table, "notes"),
        sources: keys.texts(table, "sources"),
    })
}

fn size(keys: &mut Keys<'_>, table: &dyn TableLike) -> Option<Size> {
    let read = keys.text(table, "size")?.parse().ok();
    if read.is_none() {
        let wanted = "a size in mm with its error, as `23.4 ± 0.5`";
        let span = table.key("size").and_then(|key| key.span());
        keys.remark("size", span, Trouble::WrongKind { wanted });
    }
    read
}

fn role(keys: &mut Keys<'_>, table: &dyn TableLike) -> StampRole {
    let Some(word) = keys.text(table, "role") else {
        return StampRole::default();
    };
    let role = StampRole::ALL.into_iter().find(|role| role.word() == word);
    role.unwrap_or_else(|| {
        let wanted = "`maker`, `decorator` or `customer`";
        let span = table.key("role").and_then(|key| key.span());
        keys.remark("role", span, Trouble::WrongKind { wanted });
        StampRole::default()
    })
}

fn means(keys: &mut Keys<'_>, table: &dyn TableLike) -> Option<Means> {
    let word = keys.text(table, "means")?;
    let means = Means::TOLD.into_iter().find(|means| means.word() == word);
    if means.is_none() {
        let wanted = "`printed`, `overglaze`, `impressed`, `moulded`, `incised`, `handwritten` or `paper-label`";
        let span = table.key("means").and_then(|key| key.span());
        keys.remark("means", span, Trouble::WrongKind { wanted });
    }
    means
}

/// A text or a list of texts, each a family; or a list of tables with what tells the two apart.
fn twins(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<Twin> {
    let plain = match table.get("confused_with") {
        None => return Vec::new(),
        Some(item) => item.is_str() || item.as_array().is_some_and(|a| a.iter().all(Value::is_str)),
    };
    if plain {
        let families = keys.texts(table, "confused_with");
        return families
            .into_iter()
            .map(|family| Twin { family, tell: None })
            .collect();
    }
    let mut out = Vec::new();
    for (twin, span) in keys.tables(table, "confused_with") {
        keys.only(twin, TWIN_KEYS);
        match keys.text(twin, "family") {
            Some(family) => out.push(Twin {
                family,
                tell: keys.text(twin, "tell"),
            }),
            None => keys.remark(
                "confused_with",
                span,
                Trouble::WrongKind {
                    wanted: "tables with the `family` it is confused with, and the `tell`",
                },
            ),
        }
    }
    out
}

fn images(keys: &mut Keys<'_>, table: &dyn TableLike) -> Vec<ImageRecord> {
    let mut out = Vec::new();
    for (image, span) in keys.tables(table, "image") {
        keys.only(image, IMAGE_KEYS);
        let Some(file) = keys.text(image, "file") else {
            if !image.contains_key("file") {
                keys.remark(
                    "file",
                    span,
                    Trouble::WrongKind {
                        wanted: "the picture's file name",
                    },
                );
            }
            continue;
        };
        out.push(ImageRecord {
            file,
            quad: keys.quad(image, "quad"),
            variant: keys.text(image, "variant"),
            source: keys.text(image, "source"),
            photo: keys.text(image, "photo"),
            credit: keys.text(image, "credit"),
            licence: keys.text(image, "licence"),
            at: span.map(|s| line_of(keys.text, s.start)),
        });
    }
    out
}

fn parse<'t>(path: &Path, text: &'t str, remarks: &mut Vec<Remark>) -> Option<Document<&'t str>> {
    match Document::parse(text) {
        Ok(document) => Some(document),
        Err(error) => {
            let at = error.span().map(|s| s.start.min(text.len()));
            remarks.push(Remark {
                path: path.to_owned(),
                line: at.map(|at| line_of(text, at)),
                key: at.and_then(|at| key_at(text, at)),
                trouble: Trouble::Malformed {
                    detail: error.message().lines().collect::<Vec<_>>().join(", "),
                },
            });
            None
        }
    }
}

/// The key written on the line of a byte position, where one is.
fn key_at(text: &str, at: usize) -> Option<String> {
    let line = text.lines().nth(line_of(text, at) - 1)?;
    let key = line.split_once('=').map_or(line, |(key, _)| key).trim();
    let key = key.trim_start_matches('[').trim_end_matches(']').trim();
    (!key.is_empty() && !key.starts_with('#')).then(|| key.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library::{Field, Holds, LINE_FIELDS, MAKER_FIELDS};

    #[test]
    fn every_key_of_makers_and_lines_can_be_edited() {
        for (fields, known) in [(MAKER_FIELDS, MAKER_KEYS), (LINE_FIELDS, LINE_KEYS)] {
            let mut own: Vec<&str> = fields.iter().map(|f| f.key).collect();
            let mut known = known.to_vec();
            own.sort_unstable();
            known.sort_unstable();
            assert_eq!(own, known);
        }
        let is_plants = |f: &&Field| f.key == "plants";
        let plants = MAKER_FIELDS.iter().find(is_plants).map(|f| f.holds);
        let Some(Holds::Entries { columns, .. }) = plants else {
            panic!("plants are a list");
        };
        assert!(columns.iter().map(|c| &c.key).eq(PLANT_KEYS));
    }
}
