//! Crops of marks and thumbnails of photos.

use rusqlite::{OptionalExtension, params};

use super::super::error::WorkspaceError;
use super::Cache;
use crate::decision::{ContentHash, Region};

/// A straightened crop of a mark.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptCrop {
    /// The crop's corners in the photo.
    pub region: Region,
    pub jpeg: Vec<u8>,
}

impl Cache {
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
