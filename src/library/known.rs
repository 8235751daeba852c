//! What a start needs of every exemplar, in one file: the content of pictures that have not changed since they were
//! read, and the gist of each exemplar.
//!
//! A picture counts as unchanged while its size and the time of its last change are the same, as with build tools. A
//! picture that was changed less than [`SETTLED`] before it was read is read again the next time: a further change
//! within the resolution of the file system's clock would not show.

use std::collections::BTreeMap;
use std::fs::Metadata;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use crate::references::Gist;

const FILE: &str = "known.db";
/// Version of the tables below. A file of another version is emptied.
const VERSION: i64 = 1;
const SCHEMA: &str = "
    DROP TABLE IF EXISTS picture; DROP TABLE IF EXISTS gist;
    CREATE TABLE picture (
        library TEXT NOT NULL, file TEXT NOT NULL, size INTEGER NOT NULL, changed INTEGER NOT NULL,
        content TEXT NOT NULL, PRIMARY KEY (library, file)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE gist (key TEXT PRIMARY KEY, gist BLOB NOT NULL) STRICT;
";
/// Two seconds: the coarsest clock of a file system in use, that of FAT.
const SETTLED: Duration = Duration::from_secs(2);
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);

/// By what a file is known to be unchanged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stamp {
    size: i64,
    /// Nanoseconds since 1970.
    changed: i64,
    settled: bool,
}

impl Stamp {
    /// `None` where the file system does not say when a file was changed.
    pub(super) fn of(file: &Metadata) -> Option<Self> {
        let changed = file.modified().ok()?;
        let age = SystemTime::now().duration_since(changed).ok()?;
        let since = changed.duration_since(UNIX_EPOCH).ok()?;
        Some(Self {
            size: i64::try_from(file.len()).ok()?,
            changed: i64::try_from(since.as_nanos()).ok()?,
            settled: age > SETTLED,
        })
    }

    /// Whether a further change would show.
    pub(super) fn is_settled(&self) -> bool {
        self.settled
    }
}

/// The content of pictures: stamp and hash by path.
pub(super) type Contents = BTreeMap<PathBuf, (Stamp, String)>;

/// An open file of what is known.
#[derive(Debug)]
pub(super) struct Known {
    connection: Connection,
}

impl Known {
    /// Opens or makes it in a folder; `None` where that cannot be done.
    pub(super) fn open(folder: &Path) -> Option<Self> {
        std::fs::create_dir_all(folder).ok()?;
        let path = folder.join(FILE);
        let connection = connect(&path).or_else(|_| {
            // A damaged file is replaced.
            let _ = std::fs::remove_file(&path);
            connect(&path)
        });
        Some(Self {
            connection: connection.ok()?,
        })
    }

    /// What was noted of the pictures of the library at `root`.
    pub(super) fn contents(&self, root: &Path) -> Contents {
        let read = || -> rusqlite::Result<Contents> {
            let mut query = self
                .connection
                .prepare("SELECT file, size, changed, content FROM picture WHERE library = ?1")?;
            let rows = query.query_map([name_of(root)], |r| {
                let stamp = Stamp {
                    size: r.get(1)?,
                    changed: r.get(2)?,
                    settled: true,
                };
                let file: String = r.get(0)?;
                Ok((root.join(file), (stamp, r.get(3)?)))
            })?;
            rows.collect()
        };
        read().unwrap_or_default()
    }

    /// Notes the content of the pictures of the library at `root` and forgets all others of it.
    pub(super) fn note(&mut self, root: &Path, contents: &Contents) {
        let _ = self.write(|t| {
            let library = name_of(root);
            t.execute("DELETE FROM picture WHERE library = ?1", [&library])?;
            let mut insert =
                t.prepare("INSERT OR REPLACE INTO picture VALUES (?1, ?2, ?3, ?4, ?5)")?;
            for (path, (stamp, content)) in contents {
                let inside = path.strip_prefix(root).ok().and_then(Path::to_str);
                if let Some(file) = inside {
                    insert.execute(params![library, file, stamp.size, stamp.changed, content])?;
                }
            }
            Ok(())
        });
    }

    /// Whether the gist of the exemplar with this key is known.
    pub(super) fn has(&self, key: &str) -> bool {
        let query = self
            .connection
            .prepare_cached("SELECT 1 FROM gist WHERE key = ?1");
        query.and_then(|mut q| q.exists([key])).unwrap_or(false)
    }

    /// The gist of the exemplar with this key.
    pub(super) fn gist(&self, key: &str) -> Option<Gist> {
        let mut query = self
            .connection
            .prepare_cached("SELECT gist FROM gist WHERE key = ?1")
            .ok()?;
        let found = query.query_row([key], |r| {
            let bytes = r.get_ref(0)?.as_blob()?;
            Ok(Gist::from_bytes(bytes))
        });
        found.optional().ok()??
    }

    /// Keeps gists by the keys of their exemplars.
    pub(super) fn keep<'a>(&mut self, gists: impl Iterator<Item = (&'a str, &'a Gist)>) {
        let _ = self.write(|t| {
            let mut insert = t.prepare("INSERT OR REPLACE INTO gist VALUES (?1, ?2)")?;
            for (key, gist) in gists {
                insert.execute(params![key, gist.to_bytes()])?;
            }
            Ok(())
        });
    }

    fn write(
        &mut self,
        change: impl FnOnce(&rusqlite::Transaction) -> rusqlite::Result<()>,
    ) -> rusqlite::Result<()> {
        let t = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        change(&t)?;
        t.commit()
    }
}

/// By what a library is known, wherever one stands when one names it.
fn name_of(root: &Path) -> String {
    let path = root.canonicalize().unwrap_or_else(|_| root.to_owned());
    path.to_string_lossy().into_owned()
}

fn connect(path: &Path) -> rusqlite::Result<Connection> {
    let connection = Connection::open(path)?;
    connection.busy_timeout(BUSY_TIMEOUT)?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "NORMAL")?;
    let version: i64 = connection.pragma_query_value(None, "user_version", |r| r.get(0))?;
    if version != VERSION {
        connection.execute_batch(SCHEMA)?;
        connection.pragma_update(None, "user_version", VERSION)?;
    }
    Ok(connection)
}
