//! What a library of many families costs: exemplars of a real one, and likenesses of them with other imprints.

use std::fs;
use std::path::PathBuf;
use std::time::Instant;

use footring::descriptors::imprint::{LENGTH, TURNS};
use footring::identify::{Settings, identify};
use footring::library::{self, ExemplarCache, FileCache};
use footring::photo::{DecodeLimits, UprightPhoto, read_photo};
use footring::references::{PreparedExemplar, Reference, References, prepare_exemplar};
use serde::Deserialize;
use serde_json::{Value, json};

use super::Failure;

#[derive(Deserialize)]
struct Request {
    library: PathBuf,
    photos: Vec<PathBuf>,
    /// Numbers of families, each with one exemplar.
    counts: Vec<usize>,
    /// Length of the noise that is added to an imprint of length 1.
    noise: f64,
    jobs: usize,
}

pub(crate) fn scale(request: Value) -> Result<Value, Failure> {
    let request: Request = super::request("scale", request)?;
    let (library, _) = library::load(&request.library).map_err(|e| Failure::File {
        path: request.library.clone(),
        source: e.source,
    })?;
    let (real, _) = library::prepare(&library, None, request.jobs);
    let photos = photos(&request.photos)?;
    let mut rows = Vec::new();
    for &count in &request.counts {
        let before = resident();
        let many: Vec<Reference> = (0..count)
            .map(|n| varied(&real, n, request.noise))
            .collect();
        let references = References::new(many);
        let grown = resident().saturating_sub(before);
        let mut times: Vec<f64> = photos
            .iter()
            .map(|photo| {
                let begun = Instant::now();
                let _ = identify(photo, &references, &Settings::default(), &mut |_, _| {});
                milliseconds(begun)
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let (warm_ms, stored) = warm(&references, request.jobs)?;
        rows.push(json!({
            "families": count,
            "match_ms": times[times.len() / 2],
            "bytes_each": grown / count.max(1) as u64,
            "stored_bytes_each": stored / count.max(1) as u64,
            "records_read_ms": warm_ms,
            "index_one_more_ms": one_more(&references),
        }));
    }
    Ok(json!({ "real": real.len(), "rows": rows, "prepare_one_ms": prepare_one(&photos) }))
}

fn milliseconds(begun: Instant) -> f64 {
    (begun.elapsed().as_secs_f64() * 1e4).round() / 10.0
}

fn photos(paths: &[PathBuf]) -> Result<Vec<UprightPhoto>, Failure> {
    let read = |path: &PathBuf| {
        let bytes = fs::read(path).map_err(|source| Failure::File {
            path: path.clone(),
            source,
        })?;
        read_photo(&bytes, &DecodeLimits::default()).map_err(|source| Failure::Photo {
            path: path.clone(),
            source,
        })
    };
    paths.iter().map(read).collect()
}

/// Bytes of memory that the process holds, as Linux tells; 0 elsewhere.
fn resident() -> u64 {
    let text = fs::read_to_string("/proc/self/statm").unwrap_or_default();
    let pages = text.split(' ').nth(1).and_then(|n| n.parse::<u64>().ok());
    pages.unwrap_or(0) * 4096
}

/// The `n`-th exemplar: a real one, from the second round on with noise in its imprints.
fn varied(real: &References, n: usize, noise: f64) -> Reference {
    let own = real.get(n % real.len());
    let mut bytes = own.prepared.to_bytes();
    if n >= real.len()
        && let Some(at) = imprints_at(&bytes)
    {
        let mut random = Random(n as u64);
        let length = 4 * LENGTH * TURNS;
        for row in bytes[at..at + length].chunks_exact_mut(4 * LENGTH) {
            disturb(row, noise, &mut random);
        }
        let body = bytes.len() - 8;
        let sum = blake3::hash(&bytes[..body]);
        bytes[body..].copy_from_slice(&sum.as_bytes()[..8]);
    }
    let prepared = PreparedExemplar::from_bytes(&bytes);
    Reference {
        family: format!("m/{n}"),
        variant: None,
        hash: format!("{n:064x}"),
        prepared: prepared.unwrap_or_else(|| own.prepared.clone()),
    }
}

/// Where the imprints stand in a stored exemplar; see `descriptors::stored`.
fn imprints_at(bytes: &[u8]) -> Option<usize> {
    let number = |at: usize| {
        let four = bytes.get(at..at + 4)?.first_chunk()?;
        Some(u32::from_le_bytes(*four) as usize)
    };
    // First bytes and a flag; two boxes of eight numbers, a map of nine.
    let mut at = 9 + 8 * (8 + 8 + 9);
    for planes in [3, 3, 2] {
        let side = number(at)?;
        at += 4 + planes * side * side;
    }
    at += 4 + 4 * number(at)?;
    (number(at)? == LENGTH * TURNS).then_some(at + 4)
}

/// Adds noise to a row of floats and brings it back to length 1.
fn disturb(row: &mut [u8], noise: f64, random: &mut Random) {
    let values = row
        .chunks_exact(4)
        .map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
    let spread = noise / (LENGTH as f64).sqrt();
    let moved: Vec<f64> = values
        .map(|v| f64::from(v) + spread * random.normal())
        .collect();
    let length = moved.iter().map(|v| v * v).sum::<f64>().sqrt().max(1e-9);
    for (four, value) in row.chunks_exact_mut(4).zip(moved) {
        four.copy_from_slice(&((value / length) as f32).to_le_bytes());
    }
}

/// SplitMix64 (Steele, Lea, Flood 2014).
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Sum of twelve even ones, less its mean.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() - 6.0
    }
}

/// Reads all records back from a cache of their own, as a start does, and how many bytes they are.
fn warm(references: &References, jobs: usize) -> Result<(f64, u64), Failure> {
    let folder = std::env::temp_dir().join(format!("footring-scale-{}", std::process::id()));
    let cache = FileCache::at(&folder);
    let mut stored = 0;
    for at in 0..references.len() {
        let bytes = references.get(at).prepared.to_bytes();
        stored += bytes.len() as u64;
        cache.put(&references.get(at).hash, &bytes);
    }
    let begun = Instant::now();
    let jobs = jobs.max(1);
    let read = std::thread::scope(|scope| {
        let part = |job: usize| {
            let cache = &cache;
            move || {
                let own = (job..references.len()).step_by(jobs);
                let read = own.filter_map(|at| cache.get(&references.get(at).hash));
                read.filter_map(|b| PreparedExemplar::from_bytes(&b))
                    .count()
            }
        };
        let threads: Vec<_> = (0..jobs).map(|job| scope.spawn(part(job))).collect();
        threads
            .into_iter()
            .map(|t| t.join().unwrap_or(0))
            .sum::<usize>()
    });
    let took = milliseconds(begun);
    let removed = fs::remove_dir_all(&folder);
    removed.map_err(|source| Failure::File {
        path: folder,
        source,
    })?;
    match read == references.len() {
        true => Ok((took, stored)),
        // What does not read back was not measured.
        false => Ok((f64::NAN, stored)),
    }
}

/// How long it takes until a library with one more can be matched with.
fn one_more(references: &References) -> f64 {
    let all: Vec<Reference> = (0..references.len())
        .map(|at| references.get(at).clone())
        .chain((!references.is_empty()).then(|| references.get(0).clone()))
        .collect();
    let begun = Instant::now();
    let _ = References::new(all);
    milliseconds(begun)
}

/// How long it takes to describe one picture.
fn prepare_one(photos: &[UprightPhoto]) -> Option<f64> {
    let mut times: Vec<f64> = photos
        .iter()
        .map(|photo| {
            let begun = Instant::now();
            let _ = prepare_exemplar(photo, None);
            milliseconds(begun)
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times.get(times.len() / 2).copied()
}
