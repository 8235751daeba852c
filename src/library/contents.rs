//! The content of a library's pictures.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::Library;
use super::cache::FileCache;
use super::known::{Contents, Stamp};

/// BLAKE3 of each picture, hex, or why it cannot be read. Pictures that have not changed since they were read are not
/// read again where a cache knows them.
pub(super) fn contents(
    library: &Library,
    cache: Option<&FileCache>,
) -> BTreeMap<PathBuf, Result<String, String>> {
    let mut known = cache.and_then(FileCache::known);
    let noted = known.as_ref().map(|k| k.contents(&library.root));
    let noted = noted.unwrap_or_default();
    let exemplars = library.families.values().flat_map(|f| &f.exemplars);
    let mut paths: Vec<&Path> = exemplars.map(|e| e.path.as_path()).collect();
    paths.dedup();
    let read: Vec<(&Path, Option<Stamp>, Result<String, String>)> = paths
        .par_iter()
        .map(|path| {
            let stamp = fs::metadata(path).ok().and_then(|m| Stamp::of(&m));
            let same = noted.get(*path).filter(|(then, _)| Some(*then) == stamp);
            let content = match same {
                Some((_, content)) => Ok(content.clone()),
                None => fs::read(path)
                    .map(|bytes| blake3::hash(&bytes).to_hex().to_string())
                    .map_err(|e| e.to_string()),
            };
            (*path, stamp, content)
        })
        .collect();
    if let Some(known) = &mut known {
        let now: Contents = read
            .iter()
            .filter_map(|(path, stamp, content)| {
                let stamp = stamp.filter(Stamp::is_settled)?;
                Some(((*path).to_owned(), (stamp, content.clone().ok()?)))
            })
            .collect();
        if now != noted {
            known.note(&library.root, &now);
        }
    }
    let all = read.into_iter();
    all.map(|(path, _, content)| (path.to_owned(), content))
        .collect()
}
