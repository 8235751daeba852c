//! From a library on disk to references that can be matched.

use std::collections::{BTreeMap, HashSet};
use std::fs;
use std::sync::Arc;

use rayon::prelude::*;

use super::away::{Away, Place};
use super::cache::{FileCache, exemplar_key};
use super::contents::contents;
use super::remark::{Remark, Trouble};
use super::{Exemplar, Family, FamilyId, Library};
use crate::answer::Twin;
use crate::geometry::{Photo, Quad};
use crate::identify;
use crate::photo::{self, DecodeLimits, PhotoError};
use crate::references::{Detail, Gist, PreparedExemplar, Reference, References, prepare_in_detail};

/// Prepares every exemplar on `jobs` threads; what could not be used is told in the remarks.
///
/// The references come in the order of family id and path, so that equal libraries give equal
/// answers. A picture that stands twice in one family is taken once. With a cache only the gist of each is
/// read, and held: the rest is fetched when a photo's shortlist names it.
pub fn prepare(
    library: &Library,
    cache: Option<&FileCache>,
    jobs: usize,
) -> (References, Vec<Remark>) {
    let work = || all(library, cache);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(jobs.max(1));
    let (references, remarks) = match pool.build() {
        Ok(pool) => pool.install(work),
        // No threads to be had: the global pool, or this one thread, does it.
        Err(_) => work(),
    };
    (references.with_twins(twins(library)), remarks)
}

/// An exemplar and where what is known of it is kept.
struct Wanted<'a> {
    family: &'a Family,
    exemplar: &'a Exemplar,
    /// Of its picture.
    content: String,
    key: String,
    detail: Detail,
}

/// What was made of a picture now.
struct Made {
    gist: Gist,
    /// Its description, where no cache has it.
    held: Option<PreparedExemplar>,
}

fn all(library: &Library, cache: Option<&FileCache>) -> (References, Vec<Remark>) {
    let engine = identify::engine_version();
    let mut remarks = Vec::new();
    let contents = contents(library, cache);
    let mut wanted = Vec::new();
    for family in library.families.values() {
        let detail = detail_of(family);
        for exemplar in &family.exemplars {
            match &contents[&exemplar.path] {
                Ok(content) => wanted.push(Wanted {
                    family,
                    exemplar,
                    content: content.clone(),
                    key: exemplar_key(content, exemplar.quad.as_ref(), detail, &engine),
                    detail,
                }),
                Err(detail) => {
                    let detail = detail.clone();
                    remarks.push(Remark::about(
                        &exemplar.path,
                        Trouble::Unreadable { detail },
                    ));
                }
            }
        }
    }
    let mut known = cache.and_then(FileCache::known);
    let missing: Vec<&Wanted> = wanted
        .iter()
        .filter(|w| known.as_ref().is_none_or(|k| !k.has(&w.key)))
        .collect();
    let made: Vec<(&str, Result<Made, PhotoError>)> = missing
        .par_iter()
        .map(|w| (w.key.as_str(), make(w, cache)))
        .collect();
    if let Some(known) = &mut known {
        let made = made
            .iter()
            .filter_map(|(key, m)| Some((*key, m.as_ref().ok()?)));
        known.keep(
            made.filter(|m| m.1.held.is_none())
                .map(|(key, m)| (key, &m.gist)),
        );
    }
    let mut made: BTreeMap<&str, Result<Made, PhotoError>> = made.into_iter().collect();
    let away = cache.map(|cache| {
        let places = wanted.iter().map(|w| Place {
            key: w.key.clone(),
            path: w.exemplar.path.clone(),
            quad: w.exemplar.quad,
            detail: w.detail,
        });
        Arc::new(Away::new(cache.clone(), places.collect()))
    });
    let mut gathered = Gathered::with_room(wanted.len());
    for (at, w) in wanted.iter().enumerate() {
        let found = match made.remove(w.key.as_str()) {
            Some(made) => made,
            // Twice the same picture: what was made of it is known by now.
            None => match known.as_ref().and_then(|k| k.gist(&w.key)) {
                Some(gist) => Ok(Made { gist, held: None }),
                None => make(w, cache),
            },
        };
        let Made { gist, held } = match found {
            Ok(found) => found,
            Err(why) => {
                remarks.push(Remark::about(&w.exemplar.path, Trouble::BadPicture { why }));
                continue;
            }
        };
        if gist.shows_nothing {
            remarks.push(Remark::about(&w.exemplar.path, Trouble::NothingSeen));
            continue;
        }
        let family = w.family.id.as_str();
        let reference = match (held, &away) {
            (None, Some(away)) => Reference::away(family, &w.content, &gist, away.clone(), at),
            (Some(prepared), _) => Reference::here(family, &w.content, prepared),
            // Without a cache everything is held.
            (None, None) => continue,
        };
        let reference = reference.of_variant(w.exemplar.variant.clone());
        remarks.extend(gathered.add(w, reference, &gist));
    }
    remarks.sort_by(|a, b| a.path.cmp(&b.path));
    (gathered.references, remarks)
}

/// References as they come, each picture once a family.
struct Gathered {
    references: References,
    /// Family by the picture's content.
    owners: BTreeMap<String, String>,
    taken: HashSet<(String, String, [[u64; 2]; 4])>,
}

impl Gathered {
    fn with_room(count: usize) -> Self {
        let mut references = References::default();
        references.reserve(count);
        Self {
            references,
            owners: BTreeMap::new(),
            taken: HashSet::new(),
        }
    }

    fn add(&mut self, wanted: &Wanted, reference: Reference, gist: &Gist) -> Option<Remark> {
        let owner = self
            .owners
            .entry(reference.hash.clone())
            .or_insert_with(|| reference.family.clone());
        let shared = (*owner != reference.family).then(|| {
            let other = owner.clone();
            Remark::about(&wanted.exemplar.path, Trouble::SharedPicture { other })
        });
        if self.taken.insert((
            reference.hash.clone(),
            reference.family.clone(),
            bits(&reference.quad),
        )) {
            self.references.add(reference, gist);
        }
        shared
    }
}

fn bits(quad: &Quad<Photo>) -> [[u64; 2]; 4] {
    quad.to_array().map(|p| p.map(f64::to_bits))
}

/// Which families the library says are taken for one another, by their present ids.
fn twins(library: &Library) -> impl Iterator<Item = (String, Twin)> {
    let now = |id: &str| {
        let found = library.find(&FamilyId::parse(id).ok()?)?;
        Some(found.id.to_string())
    };
    library.families.values().flat_map(move |family| {
        let ties = family.record.confused_with.iter();
        ties.filter_map(move |twin| {
            let twin = Twin {
                family: now(&twin.family)?,
                ..twin.clone()
            };
            Some((family.id.to_string(), twin))
        })
    })
}

/// Pictures of a family of several forms are kept in more detail, all of them.
fn detail_of(family: &Family) -> Detail {
    let mut variants = family.exemplars.iter().map(|e| &e.variant);
    let first = variants.next();
    match variants.any(|v| Some(v) != first) {
        true => Detail::Form,
        false => Detail::Family,
    }
}

/// Reads what the cache has of an exemplar, or prepares it.
fn make(wanted: &Wanted, cache: Option<&FileCache>) -> Result<Made, PhotoError> {
    let kept = cache
        .and_then(|c| c.get(&wanted.key))
        .and_then(|b| PreparedExemplar::from_bytes(&b));
    if let Some(prepared) = kept {
        return Ok(Made {
            gist: prepared.gist(),
            held: None,
        });
    }
    let bytes = fs::read(&wanted.exemplar.path).map_err(|e| PhotoError::CannotOpen {
        detail: e.to_string(),
    })?;
    let prepared = fresh(&bytes, wanted.exemplar.quad, wanted.detail)?;
    let is_kept = cache.is_some_and(|c| c.put(&wanted.key, &prepared.to_bytes()));
    Ok(Made {
        gist: prepared.gist(),
        held: (!is_kept).then_some(prepared),
    })
}

/// Describes the mark on a picture, where its corners say or where it is found.
pub(super) fn fresh(
    bytes: &[u8],
    quad: Option<Quad<Photo>>,
    detail: Detail,
) -> Result<PreparedExemplar, PhotoError> {
    let photo = photo::read_photo(bytes, &DecodeLimits::default())?;
    photo::guarded(|| prepare_in_detail(&photo, quad, detail)).map_err(|panicked| {
        PhotoError::Internal {
            detail: panicked.message,
        }
    })
}
