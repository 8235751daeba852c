//! What is kept of a library's exemplars between runs.

#![allow(clippy::unwrap_used)]

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use super::tests::Shelf;
use super::{FileCache, load, prepare};

/// The files of single exemplars in a cache.
pub(super) fn records(cache: &Path) -> Vec<PathBuf> {
    let files = walkdir::WalkDir::new(cache).min_depth(2).into_iter();
    files.map(|f| f.unwrap().into_path()).collect()
}

/// Makes a file look as if it had last been changed this many seconds ago.
fn age(file: &Path, seconds: u64) {
    let then = SystemTime::now() - Duration::from_secs(seconds);
    File::options()
        .write(true)
        .open(file)
        .unwrap()
        .set_modified(then)
        .unwrap();
}

#[test]
fn an_unchanged_picture_is_not_read_again_and_a_changed_one_is() {
    let shelf = Shelf::new().picture("p/a/a.png", 1).picture("p/b/b.png", 2);
    let [a, b] = ["p/a/a.png", "p/b/b.png"].map(|f| shelf.root().join(f));
    let whole = fs::read(&a).unwrap();
    // Bytes behind the picture's end are no part of it.
    let ending = |end: &str| {
        let mut bytes = whole.clone();
        bytes.extend(end.as_bytes());
        fs::write(&a, bytes).unwrap();
    };
    ending("one");
    [&a, &b].into_iter().for_each(|f| age(f, 60));
    let kept = tempfile::tempdir().unwrap();
    let cache = FileCache::at(kept.path());
    let (library, _) = load(shelf.root()).unwrap();
    let hashes = || {
        let (references, remarks) = prepare(&library, Some(&cache), 1);
        assert_eq!(remarks, []);
        let all = (0..references.len()).map(|at| references.get(at).hash.clone());
        all.collect::<Vec<_>>()
    };
    let before = hashes();
    let stamp = fs::metadata(&a).unwrap().modified().unwrap();
    ending("two");
    File::options()
        .write(true)
        .open(&a)
        .unwrap()
        .set_modified(stamp)
        .unwrap();
    assert_eq!(hashes(), before, "same size, same time: not read");
    age(&a, 30);
    let after = hashes();
    assert_ne!(after[0], before[0]);
    assert_eq!(after[1], before[1]);
    // What was changed just now is read every time.
    age(&a, 0);
    hashes();
    ending("six");
    assert_ne!(hashes()[0], after[0]);
}

#[test]
fn an_exemplar_is_fetched_from_the_cache_or_made_anew() {
    let shelf = Shelf::new().picture("p/a/a.png", 1);
    let kept = tempfile::tempdir().unwrap();
    let cache = FileCache::at(kept.path());
    let (library, _) = load(shelf.root()).unwrap();
    let (references, _) = prepare(&library, Some(&cache), 1);
    let file = records(kept.path()).remove(0);
    fs::remove_file(&file).unwrap();
    let made = references.get(0).prepared().expect("the picture is there");
    assert!(file.is_file());
    let (again, _) = prepare(&library, Some(&cache), 1);
    let fetched = again.get(0).prepared().expect("it is in the cache");
    assert_eq!(made.to_bytes(), fetched.to_bytes());
    assert_eq!(again.get(0).quad, made.quad);
    fs::remove_file(&file).unwrap();
    fs::remove_file(shelf.root().join("p/a/a.png")).unwrap();
    assert!(again.get(0).prepared().is_some(), "it is held");
    let (library, _) = load(shelf.root()).unwrap();
    assert!(prepare(&library, Some(&cache), 1).0.is_empty());
}

#[test]
fn a_folder_that_takes_nothing_costs_only_time() {
    let shelf = Shelf::new().picture("p/a/a.png", 1);
    let (library, _) = load(shelf.root()).unwrap();
    let nowhere = FileCache::at(shelf.root().join("p/a/a.png").join("in-a-file"));
    let (references, remarks) = prepare(&library, Some(&nowhere), 1);
    assert_eq!((references.len(), remarks.len()), (1, 0));
    assert!(references.get(0).prepared().is_some());
}

#[test]
fn a_damaged_file_of_what_is_known_is_made_anew() {
    let shelf = Shelf::new().picture("p/a/a.png", 1);
    let kept = tempfile::tempdir().unwrap();
    let cache = FileCache::at(kept.path());
    let (library, _) = load(shelf.root()).unwrap();
    for _ in 0..2 {
        fs::write(kept.path().join("known.db"), b"no database at all").unwrap();
        let (references, remarks) = prepare(&library, Some(&cache), 1);
        assert_eq!((references.len(), remarks.len()), (1, 0));
    }
}

#[test]
fn damaged_cache_files_are_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    let cache = FileCache::at(folder.path());
    cache.put("abcd", b"what was computed");
    assert_eq!(cache.get("abcd").unwrap(), b"what was computed");
    let file = folder.path().join("ab/abcd");
    let mut bytes = fs::read(&file).unwrap();
    *bytes.last_mut().unwrap() ^= 1;
    fs::write(&file, &bytes).unwrap();
    assert_eq!(cache.get("abcd"), None);
    fs::write(&file, b"short").unwrap();
    assert_eq!(cache.get("abcd"), None);
    assert_eq!(cache.get("no"), None);
}
