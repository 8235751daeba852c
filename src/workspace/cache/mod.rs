//! cache.db: answers and pictures that can be computed again.
//!
//! One row a photo, by content hash. An answer counts only for the engine and the library that
//! gave it; an older one is shown where the photo is out of reach.

mod pictures;
mod remembered;

use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use super::error::{WorkspaceError, WorkspaceWarning};
use super::paths::readable_path;
use crate::answer::PhotoAnswer;
use crate::decision::ContentHash;
pub use pictures::KeptCrop;

/// Version of the tables below. A cache of another version is emptied.
const VERSION: i64 = 1;

const SCHEMA: &str = "
    CREATE TABLE answer (
        photo TEXT PRIMARY KEY, engine TEXT NOT NULL, library TEXT NOT NULL, answer TEXT NOT NULL
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE crop (
        photo TEXT NOT NULL, mark INTEGER NOT NULL, region TEXT NOT NULL, jpeg BLOB NOT NULL,
        PRIMARY KEY (photo, mark)
    ) STRICT;
    CREATE TABLE thumbnail (photo TEXT PRIMARY KEY, jpeg BLOB NOT NULL) STRICT;
";

/// Added later: a cache that lacks them gets them and keeps the rest.
const LATER: &str = "
    CREATE TABLE IF NOT EXISTS compared (key TEXT PRIMARY KEY, pairs TEXT NOT NULL) STRICT;
    CREATE TABLE IF NOT EXISTS alike (key TEXT PRIMARY KEY, evidence TEXT NOT NULL) STRICT;
    CREATE TABLE IF NOT EXISTS listing (library TEXT PRIMARY KEY, listing TEXT NOT NULL) STRICT;
    CREATE TABLE IF NOT EXISTS imprint (
        photo TEXT NOT NULL, mark INTEGER NOT NULL, engine TEXT NOT NULL, imprints BLOB NOT NULL,
        PRIMARY KEY (photo, mark)
    ) STRICT;
";

const BUSY_TIMEOUT: Duration = Duration::from_secs(30);

/// What an answer depends on besides the photo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CacheKey {
    /// Hash over the constants and weights of the engine.
    pub engine: String,
    /// Hash over the library's families and exemplars.
    pub library: String,
}

/// An answer found in the cache.
#[derive(Debug, Clone, PartialEq)]
pub struct Answered {
    pub answer: PhotoAnswer,
    /// Whether it was given by the engine and library of the key.
    pub current: bool,
}

/// An answer that an earlier state of the library gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Earlier {
    pub photo: ContentHash,
    pub library: String,
    pub answer: PhotoAnswer,
}

/// An open cache.
#[derive(Debug)]
pub struct Cache {
    connection: Connection,
    path: String,
}

impl Cache {
    /// Opens the cache or makes it; a damaged one is replaced.
    ///
    /// # Errors
    /// Where the file can be neither read nor replaced.
    pub fn open(path: &Path) -> Result<(Self, Option<WorkspaceWarning>), WorkspaceError> {
        let name = readable_path(path);
        let there = path.exists();
        match connect(path) {
            Ok((connection, emptied)) => {
                let warning = (there && emptied).then(|| WorkspaceWarning::CacheEmptied {
                    path: path.to_owned(),
                });
                Ok((
                    Self {
                        connection,
                        path: name,
                    },
                    warning,
                ))
            }
            Err(_) if there => {
                for end in ["", "-wal", "-shm"] {
                    let mut beside = path.as_os_str().to_owned();
                    beside.push(end);
                    let _ = std::fs::remove_file(Path::new(&beside));
                }
                let (connection, _) = connect(path).map_err(|source| WorkspaceError::Database {
                    path: name.clone(),
                    source,
                })?;
                let warning = WorkspaceWarning::CacheEmptied {
                    path: path.to_owned(),
                };
                Ok((
                    Self {
                        connection,
                        path: name,
                    },
                    Some(warning),
                ))
            }
            Err(source) => Err(WorkspaceError::Database { path: name, source }),
        }
    }

    fn failed(&self) -> impl Fn(rusqlite::Error) -> WorkspaceError + use<> {
        let path = self.path.clone();
        move |source| WorkspaceError::Database {
            path: path.clone(),
            source,
        }
    }

    /// A number that changes when another connection writes to the cache.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn data_version(&self) -> Result<i64, WorkspaceError> {
        super::store::data_version(&self.connection).map_err(self.failed())
    }

    /// The last answer about a photo, if any.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn answer(
        &self,
        photo: &ContentHash,
        key: &CacheKey,
    ) -> Result<Option<Answered>, WorkspaceError> {
        let row: Option<(String, String, String)> = self
            .connection
            .prepare_cached("SELECT engine, library, answer FROM answer WHERE photo = ?1")
            .and_then(|mut q| {
                q.query_row([photo.as_str()], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
                    .optional()
            })
            .map_err(self.failed())?;
        Ok(row.and_then(|(engine, library, text)| {
            // An answer of an older contract is as good as none.
            let answer: PhotoAnswer = serde_json::from_str(&text).ok()?;
            (answer.schema == crate::answer::SCHEMA).then(|| Answered {
                answer,
                current: engine == key.engine && library == key.library,
            })
        }))
    }

    /// The photos that have an answer of this engine and library.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn answered(&self, key: &CacheKey) -> Result<BTreeSet<ContentHash>, WorkspaceError> {
        let read = || -> rusqlite::Result<BTreeSet<ContentHash>> {
            let mut query = self
                .connection
                .prepare("SELECT photo FROM answer WHERE engine = ?1 AND library = ?2")?;
            let hashes = query
                .query_map([&key.engine, &key.library], |r| r.get::<_, String>(0))?
                .collect::<rusqlite::Result<Vec<String>>>()?;
            Ok(hashes.iter().filter_map(|h| h.parse().ok()).collect())
        };
        read().map_err(self.failed())
    }

    /// Keeps the answer about a photo, the crops parallel to its marks, and its thumbnail (JPEG).
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn keep(
        &mut self,
        photo: &ContentHash,
        key: &CacheKey,
        answer: &PhotoAnswer,
        crops: &[KeptCrop],
        thumbnail: Option<&[u8]>,
    ) -> Result<(), WorkspaceError> {
        let failed = self.failed();
        let text = serde_json::to_string(answer).unwrap_or_default();
        let mut keep = || -> rusqlite::Result<()> {
            let t = self
                .connection
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            t.prepare_cached("INSERT OR REPLACE INTO answer VALUES (?1, ?2, ?3, ?4)")?
                .execute(params![photo.as_str(), key.engine, key.library, text])?;
            for table in ["crop", "imprint"] {
                t.prepare_cached(&format!("DELETE FROM {table} WHERE photo = ?1"))?
                    .execute([photo.as_str()])?;
            }
            for (mark, crop) in crops.iter().enumerate() {
                t.prepare_cached("INSERT INTO crop VALUES (?1, ?2, ?3, ?4)")?
                    .execute(params![
                        photo.as_str(),
                        i64::try_from(mark).unwrap_or(i64::MAX),
                        crop.region.to_string(),
                        crop.jpeg
                    ])?;
            }
            if let Some(jpeg) = thumbnail {
                t.prepare_cached("INSERT OR REPLACE INTO thumbnail VALUES (?1, ?2)")?
                    .execute(params![photo.as_str(), jpeg])?;
            }
            t.commit()
        };
        keep().map_err(failed)
    }

    /// Answers of this engine that an earlier state of the library gave, with the name of that state.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn earlier(&self, key: &CacheKey) -> Result<Vec<Earlier>, WorkspaceError> {
        let read = || -> rusqlite::Result<Vec<Earlier>> {
            let mut query = self.connection.prepare(
                "SELECT photo, library, answer FROM answer WHERE engine = ?1 AND library <> ?2 ORDER BY photo",
            )?;
            let rows = query.query_map([&key.engine, &key.library], |r| {
                Ok((r.get::<_, String>(0)?, r.get(1)?, r.get::<_, String>(2)?))
            })?;
            let mut found = Vec::new();
            for row in rows {
                let (photo, library, text) = row?;
                let answer: Option<PhotoAnswer> = serde_json::from_str(&text).ok();
                let answer = answer.filter(|a| a.schema == crate::answer::SCHEMA);
                if let (Ok(photo), Some(answer)) = (photo.parse(), answer) {
                    found.push(Earlier {
                        photo,
                        library,
                        answer,
                    });
                }
            }
            Ok(found)
        };
        read().map_err(self.failed())
    }

    /// Writes that these answers hold for the library of `key` too; pictures stay.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn carry(
        &mut self,
        key: &CacheKey,
        answers: &[(ContentHash, PhotoAnswer)],
    ) -> Result<(), WorkspaceError> {
        let failed = self.failed();
        let mut keep = || -> rusqlite::Result<()> {
            let t = self
                .connection
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            for (photo, answer) in answers {
                let text = serde_json::to_string(answer).unwrap_or_default();
                t.prepare_cached("INSERT OR REPLACE INTO answer VALUES (?1, ?2, ?3, ?4)")?
                    .execute(params![photo.as_str(), key.engine, key.library, text])?;
            }
            t.commit()
        };
        keep().map_err(failed)
    }
}

/// Opens the file; says whether tables of another version were thrown away.
fn connect(path: &Path) -> rusqlite::Result<(Connection, bool)> {
    let mut connection = Connection::open(path)?;
    connection.busy_timeout(BUSY_TIMEOUT)?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "NORMAL")?;
    let t = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let version: i64 = t.pragma_query_value(None, "user_version", |r| r.get(0))?;
    let emptied = version != VERSION;
    if emptied {
        t.execute_batch(
            "DROP TABLE IF EXISTS answer; DROP TABLE IF EXISTS crop;
             DROP TABLE IF EXISTS thumbnail;",
        )?;
        t.execute_batch(SCHEMA)?;
        t.pragma_update(None, "user_version", VERSION)?;
    }
    t.execute_batch(LATER)?;
    t.commit()?;
    Ok((connection, emptied))
}
