//! Prepared exemplars kept between runs. Everything here can be computed again.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::known::Known;
use crate::geometry::{Photo, Quad};
use crate::references::Detail;

/// The key by which an exemplar is kept: the BLAKE3 of its file (hex), where its mark is, how much is described, and the
/// engine that prepared it.
pub fn exemplar_key(
    content: &str,
    quad: Option<&Quad<Photo>>,
    detail: Detail,
    engine: &str,
) -> String {
    let mut hasher = blake3::Hasher::new();
    hasher.update(content.as_bytes());
    for number in quad.iter().flat_map(|q| q.0).flat_map(|p| [p.x, p.y]) {
        hasher.update(&number.to_le_bytes());
    }
    if detail == Detail::Form {
        hasher.update(b"form");
    }
    hasher.update(engine.as_bytes());
    hasher.finalize().to_hex().to_string()
}

/// One plain file per exemplar, and one for what is known of all of them. Losing anything here costs time only, so
/// nothing fails; the folder may be deleted at any time.
#[derive(Debug, Clone)]
pub struct FileCache {
    folder: PathBuf,
}

/// Length of the checksum in front of the bytes.
const SUM: usize = blake3::OUT_LEN;

impl FileCache {
    /// Keeps its files under `folder`, which need not exist yet.
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self {
            folder: folder.into(),
        }
    }

    /// In the user's own cache folder; `None` where the system names none.
    pub fn of_user() -> Option<Self> {
        use etcetera::BaseStrategy;
        let base = etcetera::choose_base_strategy().ok()?;
        Some(Self::at(
            base.cache_dir().join("footring").join("exemplars"),
        ))
    }

    pub fn folder(&self) -> &Path {
        &self.folder
    }

    fn path(&self, key: &str) -> PathBuf {
        let (shelf, _) = key.split_at(key.len().min(2));
        self.folder.join(shelf).join(key)
    }

    fn write(&self, key: &str, bytes: &[u8]) -> io::Result<()> {
        let path = self.path(key);
        let shelf = path.parent().unwrap_or(&self.folder);
        fs::create_dir_all(shelf)?;
        let mut file = tempfile::NamedTempFile::new_in(shelf)?;
        file.write_all(blake3::hash(bytes).as_bytes())?;
        file.write_all(bytes)?;
        file.persist(path)?;
        Ok(())
    }
}

impl FileCache {
    /// What was kept by this key, unharmed.
    pub fn get(&self, key: &str) -> Option<Vec<u8>> {
        let mut stored = fs::read(self.path(key)).ok()?;
        if stored.len() < SUM {
            return None;
        }
        let bytes = stored.split_off(SUM);
        (blake3::hash(&bytes).as_bytes().as_slice() == stored).then_some(bytes)
    }

    /// Keeps the bytes, and tells whether that worked: a full disk or a read-only home costs only the time to
    /// prepare the exemplar again.
    pub fn put(&self, key: &str, bytes: &[u8]) -> bool {
        self.write(key, bytes).is_ok()
    }

    /// What is known of all exemplars at once; `None` where the folder cannot hold it.
    pub(super) fn known(&self) -> Option<Known> {
        Known::open(&self.folder)
    }
}
