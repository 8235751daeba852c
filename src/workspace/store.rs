//! footring.db: opening, migrating, and turning journal entries into rows.

use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

use super::error::WorkspaceError;
use super::paths::readable_path;
use crate::decision::journal::Entry;
use crate::decision::{Decision, PieceFact, Statement, read_photos};

/// What `PRAGMA application_id` says in a footring.db: the letters `Foot`.
const APPLICATION_ID: i64 = 0x466f_6f74;

/// How long one process waits for another that is writing. An intake writes for some
/// milliseconds a photo, so half a minute means that something is stuck.
const BUSY_TIMEOUT: Duration = Duration::from_secs(30);

/// Each brings the file from one version to the next; the file's version is how many it has seen.
/// Only ever added to.
const MIGRATIONS: &[&str] = &[include_str!("schema/001_lots_photos_decisions.sql")];

#[derive(Debug)]
pub(crate) struct Store {
    pub(crate) connection: Connection,
    path: String,
}

impl Store {
    /// Opens the file, or makes it, and brings it to the current version.
    ///
    /// # Errors
    /// A file of a newer version or of another program is left untouched.
    pub(crate) fn open(path: &Path) -> Result<Self, WorkspaceError> {
        let name = readable_path(path);
        let failed = |source| WorkspaceError::Database {
            path: name.clone(),
            source,
        };
        let mut connection = Connection::open(path).map_err(failed)?;
        connection.busy_timeout(BUSY_TIMEOUT).map_err(failed)?;
        let version = version(&connection).map_err(failed)?;
        let known = MIGRATIONS.len() as i64;
        if version > known {
            return Err(WorkspaceError::Newer {
                path: name,
                found: version,
                known,
            });
        }
        if is_foreign(&connection).map_err(failed)? {
            return Err(WorkspaceError::Foreign { path: name });
        }
        connection
            .pragma_update(None, "journal_mode", "WAL")
            .and_then(|()| connection.pragma_update(None, "synchronous", "FULL"))
            .and_then(|()| connection.pragma_update(None, "foreign_keys", true))
            .map_err(failed)?;
        migrate(&mut connection, MIGRATIONS).map_err(failed)?;
        Ok(Self {
            connection,
            path: name,
        })
    }

    pub(crate) fn failed(&self) -> impl Fn(rusqlite::Error) -> WorkspaceError + use<> {
        let path = self.path.clone();
        move |source| WorkspaceError::Database {
            path: path.clone(),
            source,
        }
    }

    /// Begins a transaction that no other writer can be inside of.
    pub(crate) fn write(&mut self) -> Result<Transaction<'_>, WorkspaceError> {
        let failed = self.failed();
        self.connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(failed)
    }
}

/// A number that changes when another connection writes to the file.
pub(crate) fn data_version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "data_version", |row| row.get(0))
}

fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Whether the file holds something and it is not ours.
fn is_foreign(connection: &Connection) -> rusqlite::Result<bool> {
    let id: i64 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let things: i64 =
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(things > 0 && id != APPLICATION_ID)
}

/// Runs the steps that the file has not seen, all or none.
fn migrate(connection: &mut Connection, steps: &[&str]) -> rusqlite::Result<()> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let seen = usize::try_from(version(&transaction)?).unwrap_or(0);
    for step in steps.iter().skip(seen) {
        transaction.execute_batch(step)?;
    }
    if seen < steps.len() {
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", steps.len() as i64)?;
    }
    transaction.commit()
}

/// Bytes of the journal that the file has taken in.
pub(crate) fn journal_bytes(connection: &Connection) -> rusqlite::Result<u64> {
    let bytes: i64 = connection.query_row("SELECT bytes FROM journal", [], |row| row.get(0))?;
    Ok(u64::try_from(bytes).unwrap_or(0))
}

pub(crate) fn set_journal_bytes(connection: &Connection, bytes: u64) -> rusqlite::Result<()> {
    let bytes = i64::try_from(bytes).unwrap_or(i64::MAX);
    connection.execute("UPDATE journal SET bytes = ?1", [bytes])?;
    Ok(())
}

/// Makes the rows of one entry: the only way into the tables, for new entries as for a rebuild.
///
/// # Errors
/// `Refused` where the entry speaks of a lot, photo or piece that is not there.
pub(crate) fn apply(connection: &Connection, entry: &Entry) -> Result<(), WorkspaceError> {
    let refused = |e: rusqlite::Error| WorkspaceError::Refused(e.to_string());
    match entry {
        Entry::Journal(_) => Ok(()),
        Entry::Lot(lot) => connection
            .execute(
                "INSERT INTO lot (name, date, place, added) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (name) DO UPDATE SET date = coalesce(excluded.date, date),
                                                  place = coalesce(excluded.place, place)",
                params![lot.name, lot.date, lot.place, lot.time.to_string()],
            )
            .map(drop)
            .map_err(refused),
        Entry::Photo(photo) => connection
            .execute(
                "INSERT INTO photo (hash, taken, added) VALUES (?1, ?2, ?3)
                 ON CONFLICT (hash) DO NOTHING",
                params![photo.hash.as_str(), photo.taken, photo.time.to_string()],
            )
            .map(drop)
            .map_err(refused),
        Entry::Sighting(sighting) => {
            let lot = lot_id(connection, &sighting.lot)?;
            let photo = photo_id(connection, sighting.hash.as_str())?;
            connection
                .execute(
                    "INSERT INTO sighting (lot, photo, path, position) VALUES (?1, ?2, ?3, ?4)
                     ON CONFLICT (lot, photo) DO UPDATE SET path = excluded.path",
                    params![lot, photo, sighting.path, sighting.position],
                )
                .map(drop)
                .map_err(refused)
        }
        Entry::Piece(piece) => {
            let lot = lot_id(connection, &piece.lot)?;
            connection
                .execute(
                    "INSERT INTO piece (id, lot, position, added) VALUES (?1, ?2, ?3, ?4)",
                    params![piece.number, lot, piece.position, piece.time.to_string()],
                )
                .map(drop)
                .map_err(refused)
        }
        Entry::Decision(decision) => apply_decision(connection, decision),
    }
}

/// Notes which photos a piece was ever said to be on; what holds now is in the decisions. A photo
/// that is not there is refused.
fn apply_photos(connection: &Connection, piece: i64, value: &str) -> Result<(), WorkspaceError> {
    let photos = read_photos(value).map_err(|e| WorkspaceError::Refused(e.to_string()))?;
    for (at, photo) in (1_i64..).zip(&photos) {
        let id = photo_id(connection, photo.photo.as_str())?;
        connection
            .prepare_cached(
                "INSERT INTO piece_photo (piece, photo, position) VALUES (?1, ?2, ?3)
                 ON CONFLICT (piece, photo) DO NOTHING",
            )
            .and_then(|mut s| s.execute(params![piece, id, at]))
            .map_err(|e| WorkspaceError::Refused(e.to_string()))?;
    }
    Ok(())
}

fn apply_decision(connection: &Connection, decision: &Decision) -> Result<(), WorkspaceError> {
    let photo = match decision.about.photo() {
        Some(hash) => Some(photo_id(connection, hash.as_str())?),
        None => None,
    };
    let piece = match decision.about {
        crate::decision::About::Piece(piece) => Some(piece),
        _ => None,
    };
    if let (Some(piece), Statement::Piece { fact, value }) = (piece, &decision.statement)
        && *fact == PieceFact::Photos
    {
        apply_photos(connection, piece, value.as_deref().unwrap_or_default())?;
    }
    connection
        .prepare_cached(
            "INSERT INTO decision
                 (number, time, photo, region, piece, kind, value, certainty, replaces)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        )
        .and_then(|mut s| {
            s.execute(params![
                decision.number,
                decision.time.to_string(),
                photo,
                decision.about.region().map(ToString::to_string),
                piece,
                decision.statement.kind(),
                decision.statement.value(),
                decision.certainty.word(),
                decision.replaces,
            ])
        })
        .map(drop)
        .map_err(|e| WorkspaceError::Refused(e.to_string()))
}

fn lot_id(connection: &Connection, name: &str) -> Result<i64, WorkspaceError> {
    connection
        .query_row("SELECT id FROM lot WHERE name = ?1", [name], |r| r.get(0))
        .optional()
        .map_err(|e| WorkspaceError::Refused(e.to_string()))?
        .ok_or_else(|| WorkspaceError::Refused(format!("there is no lot `{name}`")))
}

fn photo_id(connection: &Connection, hash: &str) -> Result<i64, WorkspaceError> {
    connection
        .prepare_cached("SELECT id FROM photo WHERE hash = ?1")
        .and_then(|mut s| s.query_row([hash], |r| r.get(0)).optional())
        .map_err(|e| WorkspaceError::Refused(e.to_string()))?
        .ok_or_else(|| WorkspaceError::Refused(format!("there is no photo {hash}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failing_step_leaves_the_file_as_it_was() {
        let mut connection = Connection::open_in_memory().expect("memory");
        migrate(&mut connection, &["CREATE TABLE one (a) STRICT"]).expect_err("no type");
        assert_eq!(version(&connection).expect("version"), 0);
        migrate(&mut connection, &["CREATE TABLE one (a INTEGER) STRICT"]).expect("step 1");
        let steps = ["", "CREATE TABLE two (a INTEGER) STRICT; SELECT nonsense"];
        migrate(&mut connection, &steps).expect_err("nonsense");
        assert_eq!(version(&connection).expect("version"), 1);
        let two = connection.query_row(
            "SELECT count(*) FROM sqlite_schema WHERE name = 'two'",
            [],
            |row| row.get::<_, i64>(0),
        );
        assert_eq!(two, Ok(0));
    }

    #[test]
    fn decisions_cannot_be_changed_or_removed() {
        let mut connection = Connection::open_in_memory().expect("memory");
        migrate(&mut connection, MIGRATIONS).expect("schema");
        connection
            .execute_batch(
                "INSERT INTO photo (hash, added) VALUES (hex(zeroblob(32)), 'now');
                 INSERT INTO decision (number, time, photo, kind, certainty)
                 VALUES (1, 'now', 1, 'unknown', 'sure');",
            )
            .expect("rows");
        for change in [
            "UPDATE decision SET kind = 'family'",
            "DELETE FROM decision",
        ] {
            assert!(connection.execute(change, []).is_err(), "{change}");
        }
    }
}
