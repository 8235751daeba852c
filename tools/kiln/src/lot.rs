//! Writes a lot: two libraries, the photos with meaningless names, and the truth.

use crate::artwork::{Artwork, Split};
use crate::clean;
use crate::clutter::Distractor;
use crate::empty;
use crate::family::{Families, Family, invent};
use crate::random::Rng;
use crate::shoot::{Order, Shot, photograph};
use crate::truth::{Condition, Kind, Severity, Truth};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

#[derive(Debug, thiserror::Error)]
pub enum LotError {
    #[error("{path}: {source}; kiln must be able to write there")]
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("{path}: {source}")]
    Png {
        path: PathBuf,
        source: image::ImageError,
    },
    #[error("{path}: {source}")]
    Jpeg {
        path: PathBuf,
        source: jpeg_encoder::EncodingError,
    },
    #[error("{path}: {source}; this is no truth file of kiln")]
    Truth {
        path: PathBuf,
        source: serde_json::Error,
    },
}

/// What a lot holds.
#[derive(Clone, Debug)]
pub struct LotSettings {
    pub split: Split,
    pub seed: u64,
    pub families: usize,
    pub unknown: usize,
    pub unknown_siblings: usize,
    pub bare: usize,
    pub tops: usize,
    pub extras: bool,
    /// Known photos under the seven conditions are left out where false.
    pub known: bool,
}

/// One photo to take: of a family, or of something without a mark.
enum Job<'a> {
    Marked(Order, &'a Family),
    Empty(Kind, Severity),
}

pub fn write(
    artwork: &Artwork,
    settings: &LotSettings,
    out: &Path,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<usize, LotError> {
    let root = Rng::new(settings.seed).fork(settings.split.name(), 0);
    let families = invent(
        artwork,
        settings.families,
        settings.unknown_siblings,
        settings.unknown,
        &root,
    );
    let photos = out.join("photos");
    make_dir(&photos)?;
    let jobs = jobs(settings, &families);
    let done = std::sync::atomic::AtomicUsize::new(0);
    let total = jobs.len() + 2 * families.known.len();
    let tick = || {
        progress(
            done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1,
            total,
        )
    };
    families
        .known
        .par_iter()
        .enumerate()
        .try_for_each(|(i, f)| {
            write_clean(artwork, f, out, &root.fork("clean", i as u64))?;
            tick();
            write_reference(artwork, f, out, &root.fork("reference", i as u64))?;
            tick();
            Ok(())
        })?;
    let truths: Vec<Truth> = jobs
        .par_iter()
        .enumerate()
        .map(|(i, job)| {
            let truth = shoot(artwork, job, &photos, &root.fork("photo", i as u64))?;
            tick();
            Ok(truth)
        })
        .collect::<Result<_, LotError>>()?;
    write_truth(&out.join("truth.jsonl"), truths)?;
    Ok(jobs.len())
}

fn siblings_of(families: &Families) -> BTreeMap<usize, Vec<String>> {
    let mut groups: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    for f in &families.known {
        if let Some(g) = f.group {
            groups.entry(g).or_default().push(f.id.clone());
        }
    }
    groups
}

fn jobs<'a>(settings: &LotSettings, families: &'a Families) -> Vec<Job<'a>> {
    let groups = siblings_of(families);
    let order = |kind, condition, i: usize, f: &Family| Order {
        kind,
        condition,
        severity: Severity::ALL[i % 3],
        distractor: None,
        siblings: f
            .group
            .and_then(|g| groups.get(&g))
            .map(|all| all.iter().filter(|id| **id != f.id).cloned().collect())
            .unwrap_or_default(),
    };
    let mut jobs = Vec::new();
    for (i, f) in families.known.iter().enumerate() {
        if settings.known {
            for (k, c) in Condition::SEVEN.into_iter().enumerate() {
                jobs.push(Job::Marked(order(Kind::Known, c, i + k, f), f));
            }
        }
        if settings.extras {
            let extra = [Condition::Small, Condition::Hollow, Condition::AcrossRing];
            for (k, c) in extra.into_iter().enumerate() {
                jobs.push(Job::Marked(order(Kind::Known, c, i + k, f), f));
            }
            jobs.push(Job::Marked(
                order(Kind::Known, Condition::Impressed, i, f),
                f,
            ));
            for k in 0..2 {
                let mut o = order(Kind::Known, Condition::Distractor, i + k, f);
                o.distractor = Some(Distractor::ALL[(2 * i + k) % Distractor::ALL.len()]);
                jobs.push(Job::Marked(o, f));
            }
        }
    }
    for (i, f) in families.strangers.iter().enumerate() {
        let c = Condition::SEVEN[i % 7];
        jobs.push(Job::Marked(order(Kind::Unknown, c, i / 7, f), f));
    }
    for (i, f) in families.siblings.iter().enumerate() {
        let c = Condition::SEVEN[i % 7];
        jobs.push(Job::Marked(order(Kind::UnknownSibling, c, i / 7, f), f));
    }
    jobs.extend((0..settings.bare).map(|i| Job::Empty(Kind::Bare, Severity::ALL[i % 3])));
    jobs.extend((0..settings.tops).map(|i| Job::Empty(Kind::Top, Severity::ALL[i % 3])));
    jobs
}

fn shoot(artwork: &Artwork, job: &Job<'_>, photos: &Path, rng: &Rng) -> Result<Truth, LotError> {
    let mut rng = rng.clone();
    let file = format!("{:012x}.jpg", rng.next() >> 16);
    let path = photos.join(&file);
    let shot = match job {
        Job::Marked(order, family) => {
            let mut pressed;
            let family = if order.condition == Condition::Impressed {
                pressed = (*family).clone();
                pressed.press(&mut rng);
                &pressed
            } else {
                family
            };
            photograph(artwork, order, family, &file, &mut rng)
        }
        Job::Empty(kind, severity) => empty::photograph(artwork, *kind, *severity, &file, &mut rng),
    };
    let Shot { jpeg, truth } = shot.map_err(|source| LotError::Jpeg {
        path: path.clone(),
        source,
    })?;
    write_file(&path, &jpeg)?;
    Ok(truth)
}

fn folder(out: &Path, library: &str, f: &Family) -> Result<PathBuf, LotError> {
    let dir = out.join(library).join(&f.id);
    make_dir(&dir)?;
    let line = if f.design.line.is_empty() {
        String::new()
    } else {
        format!("line = \"{}\"\n", f.design.line)
    };
    let text = format!("name = \"{}\"\n{line}used = \"{}\"\n", f.name, f.used);
    write_file(&dir.join("mark.toml"), text.as_bytes())?;
    Ok(dir)
}

fn write_clean(artwork: &Artwork, f: &Family, out: &Path, rng: &Rng) -> Result<(), LotError> {
    let path = folder(out, "library-clean", f)?.join("mark.png");
    let scan = clean::scan(artwork, f, &mut rng.clone());
    scan.save(&path)
        .map_err(|source| LotError::Png { path, source })
}

fn write_reference(artwork: &Artwork, f: &Family, out: &Path, rng: &Rng) -> Result<(), LotError> {
    let path = folder(out, "library-photo", f)?.join("photo.jpg");
    let order = Order {
        kind: Kind::Known,
        condition: Condition::Good,
        severity: Severity::Easy,
        distractor: None,
        siblings: Vec::new(),
    };
    let shot = photograph(artwork, &order, f, "photo.jpg", &mut rng.clone()).map_err(|source| {
        LotError::Jpeg {
            path: path.clone(),
            source,
        }
    })?;
    write_file(&path, &shot.jpeg)
}

fn write_truth(path: &Path, mut truths: Vec<Truth>) -> Result<(), LotError> {
    truths.sort_by(|a, b| a.file.cmp(&b.file));
    let mut text = Vec::new();
    for t in &truths {
        let line = serde_json::to_string(t).map_err(|source| LotError::Truth {
            path: path.to_path_buf(),
            source,
        })?;
        text.extend_from_slice(line.as_bytes());
        text.push(b'\n');
    }
    write_file(path, &text)
}

pub fn make_dir(path: &Path) -> Result<(), LotError> {
    std::fs::create_dir_all(path).map_err(|source| LotError::Write {
        path: path.to_path_buf(),
        source,
    })
}

pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), LotError> {
    std::fs::File::create(path)
        .and_then(|mut f| f.write_all(bytes))
        .map_err(|source| LotError::Write {
            path: path.to_path_buf(),
            source,
        })
}
