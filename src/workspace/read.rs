//! Reading what footring.db holds.

use std::path::{Path, PathBuf};

use rusqlite::{Connection, Row};

use super::error::WorkspaceError;
use super::paths;
use crate::decision::journal::{Entry, LotEntry, PhotoEntry, PieceEntry, SightingEntry};
use crate::decision::{About, Certainty, ContentHash, Decision, History, Statement};

/// A lot and how many photos it has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lot {
    pub name: String,
    pub date: Option<String>,
    pub place: Option<String>,
    pub photos: usize,
}

/// A photo in a lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sighting {
    pub lot: String,
    pub hash: ContentHash,
    /// Local capture time, where the file told.
    pub taken: Option<String>,
    /// Where it was last seen.
    pub path: PathBuf,
    /// Place among the photos of the lot, from 1.
    pub position: i64,
}

/// Text in a column is checked when it is read: a damaged cell is an error, not a crash.
fn parsed<T: std::str::FromStr>(row: &Row<'_>, column: usize) -> rusqlite::Result<T>
where
    T::Err: std::error::Error + Send + Sync + 'static,
{
    let text: String = row.get(column)?;
    text.parse().map_err(|e| {
        rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(e))
    })
}

fn parsed_or_null<T: std::str::FromStr>(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<T>>
where
    T::Err: std::error::Error + Send + Sync + 'static,
{
    match row.get_ref(column)? {
        rusqlite::types::ValueRef::Null => Ok(None),
        _ => parsed(row, column).map(Some),
    }
}

pub(crate) fn lots(connection: &Connection) -> rusqlite::Result<Vec<Lot>> {
    connection
        .prepare(
            "SELECT name, date, place,
                    (SELECT count(*) FROM sighting WHERE sighting.lot = lot.id)
             FROM lot ORDER BY id",
        )?
        .query_map([], |row| {
            Ok(Lot {
                name: row.get(0)?,
                date: row.get(1)?,
                place: row.get(2)?,
                photos: usize::try_from(row.get::<_, i64>(3)?).unwrap_or(0),
            })
        })?
        .collect()
}

fn sighting(row: &Row<'_>) -> rusqlite::Result<Sighting> {
    Ok(Sighting {
        lot: row.get(0)?,
        hash: parsed(row, 1)?,
        taken: row.get(2)?,
        path: paths::from_bytes(row.get(3)?),
        position: row.get(4)?,
    })
}

/// Photos of a lot in its order.
pub(crate) fn sightings_of_lot(
    connection: &Connection,
    lot: &str,
) -> rusqlite::Result<Vec<Sighting>> {
    connection
        .prepare(
            "SELECT lot.name, photo.hash, photo.taken, sighting.path, sighting.position
             FROM sighting JOIN lot ON lot.id = sighting.lot JOIN photo ON photo.id = sighting.photo
             WHERE lot.name = ?1 ORDER BY sighting.position, photo.hash",
        )?
        .query_map([lot], sighting)?
        .collect()
}

/// Every place of one photo.
pub(crate) fn sightings_of_photo(
    connection: &Connection,
    photo: &ContentHash,
) -> rusqlite::Result<Vec<Sighting>> {
    connection
        .prepare_cached(
            "SELECT lot.name, photo.hash, photo.taken, sighting.path, sighting.position
             FROM sighting JOIN lot ON lot.id = sighting.lot JOIN photo ON photo.id = sighting.photo
             WHERE photo.hash = ?1 ORDER BY lot.id",
        )?
        .query_map([photo.as_str()], sighting)?
        .collect()
}

pub(crate) fn has_photo(connection: &Connection, photo: &ContentHash) -> rusqlite::Result<bool> {
    connection
        .prepare_cached("SELECT 1 FROM photo WHERE hash = ?1")?
        .exists([photo.as_str()])
}

/// Photos that show the same piece as this one, as far as the person has said.
pub(crate) fn same_piece(
    connection: &Connection,
    photo: &ContentHash,
) -> rusqlite::Result<Vec<ContentHash>> {
    connection
        .prepare_cached(
            "SELECT DISTINCT photo.hash FROM piece_photo AS own
             JOIN piece_photo AS other ON other.piece = own.piece
             JOIN photo ON photo.id = other.photo
             WHERE own.photo = (SELECT id FROM photo WHERE hash = ?1) ORDER BY photo.hash",
        )?
        .query_map([photo.as_str()], |row| parsed(row, 0))?
        .collect()
}

/// The place that the next photo of a lot gets.
pub(crate) fn next_position(connection: &Connection, lot: &str) -> rusqlite::Result<i64> {
    connection
        .prepare_cached(
            "SELECT coalesce(max(position), 0) + 1 FROM sighting JOIN lot ON lot.id = sighting.lot
             WHERE lot.name = ?1",
        )?
        .query_row([lot], |row| row.get(0))
}

/// Every sighting, lot by lot.
pub(crate) fn all_sightings(connection: &Connection) -> rusqlite::Result<Vec<Sighting>> {
    connection
        .prepare(
            "SELECT lot.name, photo.hash, photo.taken, sighting.path, sighting.position
             FROM sighting JOIN lot ON lot.id = sighting.lot JOIN photo ON photo.id = sighting.photo
             ORDER BY lot.name, sighting.position, photo.hash",
        )?
        .query_map([], sighting)?
        .collect()
}

fn decision(row: &Row<'_>) -> rusqlite::Result<Decision> {
    let photo: Option<ContentHash> = parsed_or_null(row, 2)?;
    let region = parsed_or_null(row, 3)?;
    let about = match (photo, region) {
        (Some(photo), Some(region)) => About::Mark(photo, region),
        (Some(photo), None) => About::Photo(photo),
        (None, _) => About::Piece(row.get(4)?),
    };
    let (kind, certainty): (String, String) = (row.get(5)?, row.get(7)?);
    Ok(Decision {
        number: row.get(0)?,
        time: parsed(row, 1)?,
        about,
        statement: Statement::from_words(&kind, row.get(6)?),
        certainty: Certainty::from_word(&certainty),
        replaces: row.get(8)?,
    })
}

pub(crate) fn history(connection: &Connection) -> rusqlite::Result<History> {
    let records: Vec<Decision> = connection
        .prepare(
            "SELECT number, time, photo.hash, region, piece, kind, value, certainty, replaces
             FROM decision LEFT JOIN photo ON photo.id = decision.photo ORDER BY number",
        )?
        .query_map([], decision)?
        .collect::<rusqlite::Result<_>>()?;
    Ok(History::new(records))
}

/// Every piece, by its number.
pub(crate) fn pieces(connection: &Connection) -> rusqlite::Result<Vec<PieceEntry>> {
    connection
        .prepare(
            "SELECT piece.added, piece.id, lot.name, piece.position
             FROM piece JOIN lot ON lot.id = piece.lot ORDER BY piece.id",
        )?
        .query_map([], |row| {
            Ok(PieceEntry {
                time: parsed(row, 0)?,
                number: row.get(1)?,
                lot: row.get(2)?,
                position: row.get(3)?,
            })
        })?
        .collect()
}

/// The number that the next decision gets.
pub(crate) fn next_decision(connection: &Connection) -> rusqlite::Result<i64> {
    connection.query_row(
        "SELECT coalesce(max(number), 0) + 1 FROM decision",
        [],
        |row| row.get(0),
    )
}

/// The number that the next piece gets.
pub(crate) fn next_piece(connection: &Connection) -> rusqlite::Result<i64> {
    connection.query_row("SELECT coalesce(max(id), 0) + 1 FROM piece", [], |row| {
        row.get(0)
    })
}

/// The place behind the last piece of a lot.
pub(crate) fn next_place(connection: &Connection, lot: &str) -> rusqlite::Result<i64> {
    connection
        .prepare_cached(
            "SELECT coalesce(max(piece.position), 0) + 1 FROM piece JOIN lot ON lot.id = piece.lot
             WHERE lot.name = ?1",
        )?
        .query_row([lot], |row| row.get(0))
}

/// All that the file holds, as the shortest journal that says the same, in a fixed order: lots,
/// photos, sightings, pieces, decisions.
pub(crate) fn export(connection: &Connection) -> rusqlite::Result<Vec<Entry>> {
    let mut entries: Vec<Entry> = connection
        .prepare("SELECT added, name, date, place FROM lot ORDER BY name")?
        .query_map([], |row| {
            Ok(Entry::Lot(LotEntry {
                time: parsed(row, 0)?,
                name: row.get(1)?,
                date: row.get(2)?,
                place: row.get(3)?,
            }))
        })?
        .collect::<rusqlite::Result<_>>()?;
    let photos: Vec<Entry> = connection
        .prepare("SELECT added, hash, taken FROM photo ORDER BY hash")?
        .query_map([], |row| {
            Ok(Entry::Photo(PhotoEntry {
                time: parsed(row, 0)?,
                hash: parsed(row, 1)?,
                taken: row.get(2)?,
            }))
        })?
        .collect::<rusqlite::Result<_>>()?;
    entries.extend(photos);
    entries.extend(all_sightings(connection)?.into_iter().map(|s| {
        Entry::Sighting(SightingEntry {
            lot: s.lot,
            hash: s.hash,
            path: paths::to_bytes(&s.path),
            position: s.position,
        })
    }));
    entries.extend(pieces(connection)?.into_iter().map(Entry::Piece));
    entries.extend(history(connection)?.all().cloned().map(Entry::Decision));
    Ok(entries)
}

/// How many near names an error offers.
const NEAR_NAMES: usize = 3;

/// Fewest hex digits by which a photo may be named: four tell about 250 photos apart, and fewer
/// are more likely a slip than a hash.
const LEAST_DIGITS: usize = 4;

/// The photo that a person means by a path, a file name in a lot, or the first digits of a hash.
pub(crate) fn find_photo(
    sightings: &[Sighting],
    text: &Path,
    content: Option<&ContentHash>,
) -> Result<ContentHash, WorkspaceError> {
    let shown = paths::readable_path(text);
    if let Some(hash) = content {
        return match sightings.iter().find(|s| s.hash == *hash) {
            Some(s) => Ok(s.hash.clone()),
            None => Err(WorkspaceError::NotTakenIn { path: shown }),
        };
    }
    let digits = text
        .to_str()
        .filter(|t| t.len() >= LEAST_DIGITS && t.bytes().all(|b| b.is_ascii_hexdigit()));
    let digits = digits.map(str::to_ascii_lowercase);
    let absolute = std::path::absolute(text).unwrap_or_else(|_| text.to_owned());
    let means = |s: &&Sighting| {
        s.path == absolute
            || s.path.file_name() == Some(text.as_os_str())
            || digits
                .as_ref()
                .is_some_and(|d| s.hash.as_str().starts_with(d))
    };
    let mut found: Vec<&Sighting> = sightings.iter().filter(means).collect();
    found.sort_by(|a, b| a.hash.cmp(&b.hash).then(a.lot.cmp(&b.lot)));
    found.dedup_by(|a, b| a.hash == b.hash);
    match found.as_slice() {
        [one] => Ok(one.hash.clone()),
        [] => Err(WorkspaceError::NoPhoto {
            near: near_names(sightings, &shown),
            text: shown,
        }),
        several => Err(WorkspaceError::Ambiguous {
            text: shown,
            could_be: several.iter().map(|s| told_apart(s)).collect(),
        }),
    }
}

/// A photo by what tells it from another of the same name.
fn told_apart(sighting: &Sighting) -> String {
    let path = paths::readable_path(&sighting.path);
    let lot = paths::readable(&sighting.lot);
    format!("{} ({path}, lot `{lot}`)", sighting.hash.short())
}

fn near_names(sightings: &[Sighting], text: &str) -> Vec<String> {
    let mut near: Vec<(f64, String)> = sightings
        .iter()
        .map(|s| paths::readable_file_name(&s.path))
        .map(|name| (strsim::jaro_winkler(text, &name), name))
        .collect();
    near.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    near.dedup_by(|a, b| a.1 == b.1);
    near.into_iter().take(NEAR_NAMES).map(|n| n.1).collect()
}
