//! What took long to compute and is remembered by a name: comparisons, states of the library, imprints.

use rusqlite::{OptionalExtension, TransactionBehavior, params};

use super::super::error::WorkspaceError;
use super::Cache;
use crate::decision::ContentHash;

/// States of the library that are remembered: those of an evening's changes, and some.
const LISTINGS_KEPT: u32 = 64;

/// Comparisons of unknown marks that are kept: those of all lots, and of a few single ones.
const COMPARED_KEPT: u32 = 4;

/// Pairs of photos whose comparison is kept: those of some ten thousand photos with their neighbours in a lot.
const ALIKE_KEPT: u32 = 100_000;

impl Cache {
    /// Comparisons of unknown marks, as they were kept, the latest first.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn comparisons(&self) -> Result<Vec<String>, WorkspaceError> {
        let read = || -> rusqlite::Result<Vec<String>> {
            let mut query = self
                .connection
                .prepare_cached("SELECT pairs FROM compared ORDER BY rowid DESC")?;
            query.query_map([], |r| r.get(0))?.collect()
        };
        read().map_err(self.failed())
    }

    /// Keeps one under its key, and drops the oldest ones.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn keep_comparison(&mut self, key: &str, pairs: &str) -> Result<(), WorkspaceError> {
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
}
