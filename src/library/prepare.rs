//! From a library on disk to references that can be matched.

use std::collections::BTreeMap;
use std::fs;

use rayon::prelude::*;

use super::cache::{self, ExemplarCache};
use super::remark::{Remark, Trouble};
use super::{Exemplar, Family, FamilyId, Library};
use crate::answer::Twin;
use crate::identify;
use crate::photo::{self, DecodeLimits, PhotoError};
use crate::references::{PreparedExemplar, Reference, References, prepare_exemplar};

/// Prepares every exemplar on `jobs` threads; what could not be used is told in the remarks.
///
/// The references come in the order of family id and path, so that equal libraries give equal
/// answers. A picture that stands twice in one family is taken once.
pub fn prepare(
    library: &Library,
    cache: Option<&dyn ExemplarCache>,
    jobs: usize,
) -> (References, Vec<Remark>) {
    let engine = identify::engine_version();
    let wanted: Vec<(&Family, &Exemplar)> = library
        .families
        .values()
        .flat_map(|family| family.exemplars.iter().map(move |e| (family, e)))
        .collect();
    let work = || -> Vec<Result<Reference, Remark>> {
        wanted
            .par_iter()
            .map(|(family, exemplar)| one(family, exemplar, cache, &engine))
            .collect()
    };
    let results = match rayon::ThreadPoolBuilder::new()
        .num_threads(jobs.max(1))
        .build()
    {
        Ok(pool) => pool.install(work),
        // No threads to be had: the global pool, or this one thread, does it.
        Err(_) => work(),
    };
    let (references, remarks) = sort_out(&wanted, results);
    (references.with_twins(twins(library)), remarks)
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

fn sort_out(
    wanted: &[(&Family, &Exemplar)],
    results: Vec<Result<Reference, Remark>>,
) -> (References, Vec<Remark>) {
    let mut references: Vec<Reference> = Vec::new();
    let mut remarks = Vec::new();
    let mut owners: BTreeMap<String, String> = BTreeMap::new();
    for ((_, exemplar), result) in wanted.iter().zip(results) {
        let reference = match result {
            Ok(reference) => reference,
            Err(remark) => {
                remarks.push(remark);
                continue;
            }
        };
        let owner = owners
            .entry(reference.hash.clone())
            .or_insert_with(|| reference.family.clone());
        if *owner != reference.family {
            let other = owner.clone();
            remarks.push(Remark::about(
                &exemplar.path,
                Trouble::SharedPicture { other },
            ));
        }
        let twin = references.iter().any(|r| {
            r.hash == reference.hash
                && r.family == reference.family
                && r.prepared.quad == reference.prepared.quad
        });
        if !twin {
            references.push(reference);
        }
    }
    (References::new(references), remarks)
}

fn one(
    family: &Family,
    exemplar: &Exemplar,
    cache: Option<&dyn ExemplarCache>,
    engine: &str,
) -> Result<Reference, Remark> {
    let bytes = fs::read(&exemplar.path).map_err(|e| {
        let detail = e.to_string();
        Remark::about(&exemplar.path, Trouble::Unreadable { detail })
    })?;
    let content = blake3::hash(&bytes);
    let key = cache::key(&content, exemplar.quad.as_ref(), engine);
    let kept = cache
        .and_then(|c| c.get(&key))
        .and_then(|b| PreparedExemplar::from_bytes(&b));
    let prepared = match kept {
        Some(prepared) => prepared,
        None => {
            let fresh = fresh(&bytes, exemplar)
                .map_err(|why| Remark::about(&exemplar.path, Trouble::BadPicture { why }))?;
            if let Some(cache) = cache {
                cache.put(&key, &fresh.to_bytes());
            }
            fresh
        }
    };
    if prepared.shows_nothing {
        return Err(Remark::about(&exemplar.path, Trouble::NothingSeen));
    }
    Ok(Reference {
        family: family.id.to_string(),
        variant: exemplar.variant.clone(),
        hash: content.to_hex().to_string(),
        prepared,
    })
}

fn fresh(bytes: &[u8], exemplar: &Exemplar) -> Result<PreparedExemplar, PhotoError> {
    let photo = photo::read_photo(bytes, &DecodeLimits::default())?;
    photo::guarded(|| prepare_exemplar(&photo, exemplar.quad)).map_err(|panicked| {
        PhotoError::Internal {
            detail: panicked.message,
        }
    })
}
