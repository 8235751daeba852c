//! What a library of many families costs: exemplars of a real one, and likenesses of them with other imprints.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Instant, SystemTime};

use footring::identify::{Settings, engine_version, identify};
use footring::library::{self, FileCache, exemplar_key};
use footring::photo::{DecodeLimits, UprightPhoto, read_photo};
use footring::references::{
    Detail, Fetch, Gist, PreparedExemplar, Reference, References, prepare_exemplar,
};
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
    /// Families of the library that is written to disk and read at a start.
    start: usize,
    /// Where it is written, and removed again.
    folder: PathBuf,
}

pub(crate) fn scale(request: Value) -> Result<Value, Failure> {
    let request: Request = super::request("scale", request)?;
    let (library, _) = library::load(&request.library).map_err(|e| Failure::File {
        path: request.library.clone(),
        source: e.source,
    })?;
    let (real, _) = library::prepare(&library, None, request.jobs);
    let source = Arc::new(Likenesses::of(&real));
    let pictures: Vec<&Path> = library
        .families
        .values()
        .flat_map(|f| f.exemplars.iter().map(|e| e.path.as_path()))
        .collect();
    let shots = photos(&request.photos)?;
    let mut rows = Vec::new();
    for &count in &request.counts {
        let before = resident();
        let mut references = source.references(count, request.noise);
        let held = resident().saturating_sub(before);
        let mut times: Vec<f64> = shots
            .iter()
            .map(|photo| {
                let begun = Instant::now();
                let _ = identify(photo, &references, &Settings::default(), &mut |_, _| {});
                milliseconds(begun)
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let begun = Instant::now();
        source.add(&mut references, count, request.noise);
        rows.push(json!({
            "families": count,
            "match_ms": times[times.len() / 2],
            "held_bytes": held,
            "add_ms": milliseconds(begun),
        }));
    }
    let exemplars = photos(&pictures[..pictures.len().min(SHOTS)])?;
    Ok(json!({
        "real": real.len(),
        "rows": rows,
        "prepare_one_ms": prepare_one(&exemplars),
        "start": start(&request, &source, &pictures)?,
    }))
}

/// Exemplars of which it is told how long one takes to describe.
const SHOTS: usize = 15;

fn milliseconds(begun: Instant) -> f64 {
    (begun.elapsed().as_secs_f64() * 1e4).round() / 10.0
}

fn photos<P: AsRef<Path>>(paths: &[P]) -> Result<Vec<UprightPhoto>, Failure> {
    let read = |path: &P| {
        let path = path.as_ref();
        let bytes = fs::read(path).map_err(|source| at(path, source))?;
        read_photo(&bytes, &DecodeLimits::default()).map_err(|source| Failure::Photo {
            path: path.to_owned(),
            source,
        })
    };
    paths.iter().map(read).collect()
}

fn at(path: &Path, source: std::io::Error) -> Failure {
    Failure::File {
        path: path.to_owned(),
        source,
    }
}

/// Bytes of memory that the process holds, as Linux tells; 0 elsewhere.
fn resident() -> u64 {
    let text = fs::read_to_string("/proc/self/statm").unwrap_or_default();
    let pages = text.split(' ').nth(1).and_then(|n| n.parse::<u64>().ok());
    pages.unwrap_or(0) * 4096
}

/// Real exemplars that stand for many: each further round of them has noise in its imprints.
#[derive(Debug)]
struct Likenesses {
    real: Vec<Arc<PreparedExemplar>>,
}

impl Fetch for Likenesses {
    fn fetch(&self, at: usize) -> Option<Arc<PreparedExemplar>> {
        self.real.get(at % self.real.len()).cloned()
    }
}

/// In a gist's bytes the imprints stand behind a flag and seventeen numbers.
const IMPRINTS_AT: usize = 1 + 8 * (8 + 9);

impl Likenesses {
    fn of(real: &References) -> Self {
        let all = (0..real.len()).filter_map(|at| real.get(at).prepared());
        Self {
            real: all.collect(),
        }
    }

    fn gist(&self, n: usize, noise: f64) -> Gist {
        let own = self.real[n % self.real.len()].gist();
        if n < self.real.len() {
            return own;
        }
        let mut bytes = own.to_bytes();
        let mut random = Random(n as u64);
        let imprints = &mut bytes[IMPRINTS_AT..];
        let row = imprints.len() / footring::descriptors::imprint::TURNS;
        for turn in imprints.chunks_exact_mut(row) {
            disturb(turn, noise, &mut random);
        }
        Gist::from_bytes(&bytes).unwrap_or(own)
    }

    fn add(self: &Arc<Self>, references: &mut References, n: usize, noise: f64) {
        let gist = self.gist(n, noise);
        let reference = Reference::away(
            format!("m/{n}"),
            format!("{n:064x}"),
            &gist,
            Arc::clone(self) as Arc<dyn Fetch>,
            n,
        );
        references.add(reference, &gist);
    }

    fn references(self: &Arc<Self>, count: usize, noise: f64) -> References {
        let mut references = References::default();
        references.reserve(count);
        (0..count).for_each(|n| self.add(&mut references, n, noise));
        references
    }
}

/// Adds noise to a row of floats and brings it back to length 1.
fn disturb(row: &mut [u8], noise: f64, random: &mut Random) {
    let values: Vec<f64> = row
        .chunks_exact(4)
        .map(|b| f64::from(f32::from_le_bytes([b[0], b[1], b[2], b[3]])))
        .collect();
    let spread = noise / (values.len() as f64).sqrt();
    let moved: Vec<f64> = values
        .iter()
        .map(|v| v + spread * random.normal())
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

/// How long it takes to describe one picture.
fn prepare_one(pictures: &[UprightPhoto]) -> Option<f64> {
    let mut times: Vec<f64> = pictures
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

/// Writes a library of many families, and a cache that knows their exemplars, and reads it three times: as a first
/// start does, as every later one does, and after one family more.
fn start(request: &Request, source: &Likenesses, pictures: &[&Path]) -> Result<Value, Failure> {
    let folder = &request.folder;
    let library = folder.join("library");
    let cache = FileCache::at(folder.join("cache"));
    for n in 0..request.start {
        write_family(source, pictures, &library, &cache, n)?;
    }
    let read = || -> Result<(f64, usize), Failure> {
        let begun = Instant::now();
        let (loaded, _) = library::load(&library).map_err(|e| at(&library, e.source))?;
        let (references, _) = library::prepare(&loaded, Some(&cache), request.jobs);
        let took = milliseconds(begun);
        Ok((took, references.len()))
    };
    let first = read()?;
    let warm = read()?;
    write_family(source, pictures, &library, &cache, request.start)?;
    let more = read()?;
    fs::remove_dir_all(folder).map_err(|e| at(folder, e))?;
    Ok(json!({
        "families": [first.1, warm.1, more.1],
        "first_ms": first.0,
        "warm_ms": warm.0,
        "one_more_ms": more.0,
    }))
}

/// A family with a picture of its own: a real one with bytes behind its end.
fn write_family(
    source: &Likenesses,
    pictures: &[&Path],
    library: &Path,
    cache: &FileCache,
    n: usize,
) -> Result<(), Failure> {
    // Twenty marks a maker.
    let family = library
        .join(format!("maker-{:04}", n / 20))
        .join(format!("mark-{n:05}"));
    fs::create_dir_all(&family).map_err(|e| at(&family, e))?;
    let record = family.join("mark.toml");
    let text = format!("name = \"Mark {n}\"\nmade = \"1921/1938\"\n");
    fs::write(&record, text).map_err(|e| at(&record, e))?;
    let of = pictures[n % pictures.len()];
    let mut bytes = fs::read(of).map_err(|e| at(of, e))?;
    bytes.extend(n.to_le_bytes());
    let picture = family
        .join("mark")
        .with_extension(of.extension().unwrap_or_default());
    fs::write(&picture, &bytes).map_err(|e| at(&picture, e))?;
    let long_ago = SystemTime::now() - std::time::Duration::from_secs(3600);
    let file = fs::File::options().write(true).open(&picture);
    let aged = file.and_then(|f| f.set_modified(long_ago));
    aged.map_err(|e| at(&picture, e))?;
    let key = exemplar_key(
        &blake3::hash(&bytes).to_hex(),
        None,
        Detail::Family,
        &engine_version(),
    );
    if let Some(prepared) = source.fetch(n) {
        cache.put(&key, &prepared.to_bytes());
    }
    Ok(())
}
