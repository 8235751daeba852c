//! Exemplars whose full description stays on disk until a photo's shortlist names them.

use std::collections::VecDeque;
use std::fs;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use super::cache::FileCache;
use super::prepare::fresh;
use crate::geometry::{Photo, Quad};
use crate::references::{Detail, Fetch, PreparedExemplar};

/// Descriptions held at once, the latest ones: some 64 MB. A library of this size is read once.
const HELD: usize = 128;

/// Where one exemplar's description is kept, and what it is made of anew where it is kept no longer.
#[derive(Debug)]
pub(super) struct Place {
    pub(super) key: String,
    pub(super) path: PathBuf,
    pub(super) quad: Option<Quad<Photo>>,
    pub(super) detail: Detail,
}

/// The exemplars of a library, fetched one by one.
#[derive(Debug)]
pub(super) struct Away {
    cache: FileCache,
    places: Vec<Place>,
    latest: Mutex<VecDeque<(usize, Arc<PreparedExemplar>)>>,
}

impl Away {
    pub(super) fn new(cache: FileCache, places: Vec<Place>) -> Self {
        Self {
            cache,
            places,
            latest: Mutex::default(),
        }
    }

    fn read(&self, place: &Place) -> Option<PreparedExemplar> {
        let kept = self.cache.get(&place.key);
        if let Some(prepared) = kept.and_then(|b| PreparedExemplar::from_bytes(&b)) {
            return Some(prepared);
        }
        let bytes = fs::read(&place.path).ok()?;
        let prepared = fresh(&bytes, place.quad, place.detail).ok()?;
        self.cache.put(&place.key, &prepared.to_bytes());
        Some(prepared)
    }
}

impl Fetch for Away {
    fn fetch(&self, at: usize) -> Option<Arc<PreparedExemplar>> {
        let latest = || self.latest.lock().unwrap_or_else(PoisonError::into_inner);
        {
            let mut latest = latest();
            if let Some(found) = latest.iter().position(|(n, _)| *n == at) {
                let held = latest.remove(found)?;
                let prepared = Arc::clone(&held.1);
                latest.push_back(held);
                return Some(prepared);
            }
        }
        let prepared = Arc::new(self.read(self.places.get(at)?)?);
        let mut latest = latest();
        latest.push_back((at, Arc::clone(&prepared)));
        if latest.len() > HELD {
            latest.pop_front();
        }
        Some(prepared)
    }
}
