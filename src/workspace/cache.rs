//! cache.db: answers and pictures that can be computed again.
//!
//! One row a photo, by content hash. An answer counts only for the engine and the library that
//! gave it; an older one is shown where the photo is out of reach.

use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use super::error::{WorkspaceError, WorkspaceWarning};
use super::paths::readable_path;
use crate::answer::PhotoAnswer;
use crate::decision::{ContentHash, Region};

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

/// States of the library that are remembered: those of an evening's changes, and some.
const LISTINGS_KEPT: u32 = 64;

/// Comparisons of unknown marks that are kept: those of all lots, and of a few single ones.
const COMPARED_KEPT: u32 = 4;

/// Pairs of photos whose comparison is kept: those of some ten thousand photos with their neighbours in a lot.
const ALIKE_KEPT: u32 = 100_000;

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

/// A straightened crop of a mark.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptCrop {
    /// The crop's corners in the photo.
    pub region: Region,
    pub jpeg: Vec<u8>,
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

    /// The crop of the mark at this place in the answer's list.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn crop(
        &self,
        photo: &ContentHash,
        mark: usize,
    ) -> Result<Option<KeptCrop>, WorkspaceError> {
        let mark = i64::try_from(mark).unwrap_or(i64::MAX);
        let row: Option<(String, Vec<u8>)> = self
            .connection
            .prepare_cached("SELECT region, jpeg FROM crop WHERE photo = ?1 AND mark = ?2")
            .and_then(|mut q| {
                q.query_row(params![photo.as_str(), mark], |r| {
                    Ok((r.get(0)?, r.get(1)?))
                })
                .optional()
            })
            .map_err(self.failed())?;
        Ok(row.and_then(|(region, jpeg)| {
            let region = region.parse().ok()?;
            Some(KeptCrop { region, jpeg })
        }))
    }

    /// What unknown marks were found to say of each other, as text, under the key it was kept by.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn compared(&self, key: &str) -> Result<Option<String>, WorkspaceError> {
        self.remembered("SELECT pairs FROM compared WHERE key = ?1", key)
    }

    /// Keeps that, and drops the oldest ones.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn keep_compared(&mut self, key: &str, pairs: &str) -> Result<(), WorkspaceError> {
        self.remember(
            [
                "INSERT OR REPLACE INTO compared VALUES (?1, ?2)",
                "DELETE FROM compared WHERE rowid NOT IN
                     (SELECT rowid FROM compared ORDER BY rowid DESC LIMIT ?1)",
            ],
            [key, pairs],
            COMPARED_KEPT,
        )
    }

    /// What two photos were found to say of one piece, as text, under the key it was kept by.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn alike(&self, key: &str) -> Result<Option<String>, WorkspaceError> {
        self.remembered("SELECT evidence FROM alike WHERE key = ?1", key)
    }

    /// Keeps that, and drops the oldest ones.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn keep_alike(&mut self, key: &str, evidence: &str) -> Result<(), WorkspaceError> {
        self.remember(
            [
                "INSERT OR REPLACE INTO alike VALUES (?1, ?2)",
                "DELETE FROM alike WHERE rowid <=
                     (SELECT max(rowid) FROM alike) - ?1",
            ],
            [key, evidence],
            ALIKE_KEPT,
        )
    }

    /// A text by its name.
    fn remembered(&self, query: &str, name: &str) -> Result<Option<String>, WorkspaceError> {
        self.connection
            .prepare_cached(query)
            .and_then(|mut q| q.query_row([name], |r| r.get(0)).optional())
            .map_err(self.failed())
    }

    /// Keeps a text under its name by the first statement, and by the second all but the latest `kept`.
    fn remember(
        &mut self,
        [keep, forget]: [&str; 2],
        named: [&str; 2],
        kept: u32,
    ) -> Result<(), WorkspaceError> {
        let failed = self.failed();
        let mut both = || -> rusqlite::Result<()> {
            let t = self
                .connection
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            t.execute(keep, named)?;
            t.execute(forget, [kept])?;
            t.commit()
        };
        both().map_err(failed)
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

    /// What a state of the library held, by its name.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn listing(&self, library: &str) -> Result<Option<String>, WorkspaceError> {
        self.remembered("SELECT listing FROM listing WHERE library = ?1", library)
    }

    /// Remembers that, and forgets the oldest ones.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn keep_listing(&mut self, library: &str, listing: &str) -> Result<(), WorkspaceError> {
        self.remember(
            [
                "INSERT OR IGNORE INTO listing VALUES (?1, ?2)",
                "DELETE FROM listing WHERE rowid NOT IN
                     (SELECT rowid FROM listing ORDER BY rowid DESC LIMIT ?1)",
            ],
            [library, listing],
            LISTINGS_KEPT,
        )
    }

    /// The imprints of a mark that were kept by this engine: numbers one after the other.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn imprints(
        &self,
        photo: &ContentHash,
        mark: usize,
        engine: &str,
    ) -> Result<Option<Vec<f32>>, WorkspaceError> {
        let mark = i64::try_from(mark).unwrap_or(i64::MAX);
        let bytes: Option<Vec<u8>> = self
            .connection
            .prepare_cached(
                "SELECT imprints FROM imprint WHERE photo = ?1 AND mark = ?2 AND engine = ?3",
            )
            .and_then(|mut q| {
                q.query_row(params![photo.as_str(), mark, engine], |r| r.get(0))
                    .optional()
            })
            .map_err(self.failed())?;
        Ok(bytes.map(|b| {
            b.as_chunks()
                .0
                .iter()
                .map(|c| f32::from_le_bytes(*c))
                .collect()
        }))
    }

    /// Keeps them.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn keep_imprints(
        &mut self,
        photo: &ContentHash,
        mark: usize,
        engine: &str,
        imprints: &[f32],
    ) -> Result<(), WorkspaceError> {
        let mark = i64::try_from(mark).unwrap_or(i64::MAX);
        let bytes: Vec<u8> = imprints.iter().flat_map(|v| v.to_le_bytes()).collect();
        self.connection
            .prepare_cached("INSERT OR REPLACE INTO imprint VALUES (?1, ?2, ?3, ?4)")
            .and_then(|mut q| q.execute(params![photo.as_str(), mark, engine, bytes]))
            .map_err(self.failed())?;
        Ok(())
    }

    /// The photo, small, as JPEG.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn thumbnail(&self, photo: &ContentHash) -> Result<Option<Vec<u8>>, WorkspaceError> {
        self.connection
            .prepare_cached("SELECT jpeg FROM thumbnail WHERE photo = ?1")
            .and_then(|mut q| q.query_row([photo.as_str()], |r| r.get(0)).optional())
            .map_err(self.failed())
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
