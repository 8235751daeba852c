//! Writes a lot: two libraries, the photos with meaningless names, and the truth.

use crate::artwork::{Artwork, Split};
use crate::clean;
use crate::clutter::Distractor;
use crate::codes::{Carried, Stands, codes_toml};
use crate::deciding::State;
use crate::empty;
use crate::family::{Families, Family, Means, invent};
use crate::fault::{Cause, Fault};
use crate::glaze::InkTone;
use crate::mark::CodeStyle;
use crate::random::Rng;
use crate::shoot::{Order, Shot, photograph};
use crate::truth::{Condition, Kind, Quad, Severity, Truth};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

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
    /// Photos of each mark of these two kinds.
    pub shots: Shots,
    pub bare: usize,
    pub tops: usize,
    pub extras: bool,
    /// Known photos under the seven conditions are left out where false.
    pub known: bool,
    /// Photos of each cause of [`Cause`], and four times as many without one.
    pub faults: usize,
    /// Only families with codes are photographed, and not every piece carries its code.
    pub codes: bool,
    /// Only every so many-th photo is taken (1 for all).
    pub every: usize,
    /// Only marked photos under these conditions are taken; all where empty.
    pub only: Vec<Condition>,
}

/// How often marks that the library lacks are photographed.
#[derive(Clone, Copy, Debug)]
pub enum Shots {
    /// Each of them so often, at all severities.
    Each(usize),
    /// As a season of sales brings them: one in forty pieces, some in five to ten, most in one; easy and medium.
    Season,
}

/// Pieces of the first marks of a season that are strangers to each other, and of the first that are siblings. Of
/// 36 and 24 marks half are single; all that follow are.
const SEASON: [usize; 19] = [40, 10, 9, 8, 8, 7, 6, 6, 5, 5, 4, 4, 3, 3, 2, 2, 2, 2, 2];
const SEASON_SIBLINGS: [usize; 12] = [8, 7, 6, 5, 4, 3, 3, 2, 2, 2, 2, 2];

impl Shots {
    fn of(self, kind: Kind, mark: usize) -> usize {
        let season: &[usize] = match kind {
            Kind::UnknownSibling => &SEASON_SIBLINGS,
            _ => &SEASON,
        };
        match self {
            Self::Each(shots) => shots.max(1),
            Self::Season => season.get(mark).copied().unwrap_or(1),
        }
    }

    fn severity(self, at: usize) -> Severity {
        match self {
            Self::Each(_) => Severity::ALL[at % 3],
            Self::Season => [Severity::Easy, Severity::Medium][at % 2],
        }
    }
}

impl LotSettings {
    fn wants(&self, job: &Job<'_>) -> bool {
        match job {
            Job::Marked(order, family) => {
                let coded = !self.codes || family.design.code != CodeStyle::None;
                coded && (self.only.is_empty() || self.only.contains(&order.condition))
            }
            Job::Empty(..) => self.only.is_empty(),
        }
    }
}

/// One photo to take: of a family, or of something without a mark.
#[derive(Clone)]
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
    let (known, siblings) = (settings.families, settings.unknown_siblings);
    let families = invent(artwork, known, siblings, settings.unknown, &root);
    let photos = out.join("photos");
    make_dir(&photos)?;
    let every = settings.every.max(1);
    let jobs: Vec<(usize, Job<'_>)> = jobs(settings, &families)
        .into_iter()
        .enumerate()
        .step_by(every)
        .filter(|(_, job)| settings.wants(job))
        .collect();
    let done = AtomicUsize::new(0);
    let total = jobs.len() + families.known.len();
    let tick = || progress(done.fetch_add(1, Ordering::Relaxed) + 1, total);
    families
        .known
        .par_iter()
        .enumerate()
        .try_for_each(|(i, f)| {
            write_clean(artwork, f, out, &root.fork("clean", i as u64))?;
            write_reference(artwork, f, out, &root.fork("reference", i as u64))?;
            tick();
            Ok(())
        })?;
    let truths: Vec<Truth> = jobs
        .par_iter()
        .map(|(i, job)| {
            let mut job = job.clone();
            if let (Job::Marked(order, _), true) = (&mut job, settings.codes) {
                order.carried = Carried::draw(&mut root.fork("carried", *i as u64));
            }
            let truth = shoot(artwork, &job, &photos, &root.fork("photo", *i as u64))?;
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

/// All photos of the lot. Severities take turns, so that `every` thins them evenly unless it is a
/// multiple of three: then photos of one severity are left.
fn jobs<'a>(settings: &LotSettings, families: &'a Families) -> Vec<Job<'a>> {
    let groups = siblings_of(families);
    let order = |kind, condition, i: usize, f: &Family| {
        let mut order = Order::plain(kind, condition, Severity::ALL[i % 3]);
        if let Some(all) = f.group.and_then(|g| groups.get(&g)) {
            order.siblings = all.iter().filter(|id| **id != f.id).cloned().collect();
        }
        order
    };
    let mut jobs = Vec::new();
    for (i, f) in families.known.iter().enumerate() {
        let seven: &[Condition] = if settings.known {
            &Condition::SEVEN
        } else {
            &[]
        };
        let extra: &[Condition] = if settings.extras { &EXTRAS } else { &[] };
        for (k, c) in seven.iter().enumerate() {
            jobs.push(Job::Marked(order(Kind::Known, *c, i + k, f), f));
        }
        for (k, c) in extra.iter().enumerate() {
            let mut o = order(Kind::Known, *c, i + k, f);
            if *c == Condition::Distractor {
                o.distractor = Some(Distractor::ALL[(2 * i + k) % Distractor::ALL.len()]);
            }
            jobs.push(Job::Marked(o, f));
        }
    }
    for (kind, list) in [
        (Kind::Unknown, &families.strangers),
        (Kind::UnknownSibling, &families.siblings),
    ] {
        for (i, f) in list.iter().enumerate() {
            for k in 0..settings.shots.of(kind, i) {
                // Further shots go on in the same two cycles.
                let at = i + k;
                let mut order = order(kind, Condition::SEVEN[at % 7], 0, f);
                order.severity = settings.shots.severity(i / 7 + k);
                jobs.push(Job::Marked(order, f));
            }
        }
    }
    let level = |i: usize| Severity::ALL[i % 3];
    jobs.extend(faulty(settings, families));
    jobs.extend((0..settings.bare).map(|i| Job::Empty(Kind::Bare, level(i))));
    jobs.extend((0..settings.tops).map(|i| Job::Empty(top_kind(i), level(i))));
    jobs
}

/// Photos with one fault each, and four times as many as of a cause that have none.
fn faulty<'a>(settings: &LotSettings, families: &'a Families) -> Vec<Job<'a>> {
    let all = settings.faults;
    let mut rng = Rng::new(settings.seed).fork("faults", 0);
    let mut faults: Vec<Option<Fault>> = vec![None; 4 * all];
    for cause in Cause::ALL {
        faults.extend((0..all).map(|at| Some(Fault::step(cause, at, all, &mut rng))));
    }
    let known: Vec<&Family> = families.known.iter().collect();
    // What is pressed into the clay does not wear off.
    let printed = known.iter().filter(|f| f.means == Means::Printed);
    let printed: Vec<&Family> = printed.copied().collect();
    let job = |(i, fault): (usize, Option<Fault>)| {
        let worn = Fault::of(fault, Cause::Worn).is_some() && !printed.is_empty();
        let among = if worn { &printed } else { &known };
        let mut order = Order::plain(Kind::Known, Condition::Good, Severity::Easy);
        order.extras.fault = fault;
        Job::Marked(order, among[i % among.len()])
    };
    faults.into_iter().enumerate().map(job).collect()
}

/// Conditions of the further photos of each family; two of them show something else besides.
const EXTRAS: [Condition; 6] = [
    Condition::Small,
    Condition::Hollow,
    Condition::AcrossRing,
    Condition::Impressed,
    Condition::Distractor,
    Condition::Distractor,
];

/// Of ten tops one is a detail and one a receipt or box.
fn top_kind(i: usize) -> Kind {
    match i % 10 {
        4 => Kind::Detail,
        8 => Kind::Receipt,
        _ => Kind::Top,
    }
}

fn shoot(artwork: &Artwork, job: &Job<'_>, photos: &Path, rng: &Rng) -> Result<Truth, LotError> {
    let mut rng = rng.clone();
    let file = format!("{:012x}.jpg", rng.bits() >> 16);
    let path = photos.join(&file);
    let shot = match job {
        Job::Marked(order, family) => {
            let mut pressed;
            let family = if order.condition == Condition::Impressed {
                pressed = (*family).clone();
                pressed.press(&mut rng);
                &pressed
            } else if Fault::of(order.extras.fault, Cause::Worn).is_some() {
                // Only what lies over the glaze wears off.
                pressed = (*family).clone();
                pressed.ink = InkTone::Gold;
                &pressed
            } else {
                family
            };
            photograph(artwork, order, family, &file, &mut rng)
        }
        Job::Empty(kind, severity) => {
            empty::photograph(artwork, *kind, *severity, None, &file, &mut rng)
        }
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

pub fn write_clean(artwork: &Artwork, f: &Family, out: &Path, rng: &Rng) -> Result<(), LotError> {
    let path = folder(out, "library-clean", f)?.join("mark.png");
    let mut scan = clean::scan(artwork, f, &mut rng.clone());
    for again in 1..REFERENCES {
        if scan.deciding_left >= SCANNED {
            break;
        }
        scan = clean::scan(artwork, f, &mut rng.fork("again", again));
    }
    write_codes(f, &path, scan.code)?;
    scan.image
        .save(&path)
        .map_err(|source| LotError::Png { path, source })
}

/// Scans and photos made before one is kept that does not show by what the forms of its family differ, and the share of
/// the deciding ink that a scan must have: a person would not keep a worse one.
const REFERENCES: u64 = 8;
const SCANNED: f32 = 0.75;

pub fn write_reference(
    artwork: &Artwork,
    f: &Family,
    out: &Path,
    rng: &Rng,
) -> Result<(), LotError> {
    let path = folder(out, "library-photo", f)?.join("photo.jpg");
    let order = Order::plain(Kind::Known, Condition::Good, Severity::Easy);
    let take = |mut rng: Rng| {
        photograph(artwork, &order, f, "photo.jpg", &mut rng).map_err(|source| LotError::Jpeg {
            path: path.clone(),
            source,
        })
    };
    let shows = |shot: &Shot| {
        let deciding = shot.truth.deciding.as_ref();
        deciding.is_none_or(|d| d.state == State::Legible)
    };
    let mut shot = take(rng.clone())?;
    for again in 1..REFERENCES {
        if shows(&shot) {
            break;
        }
        shot = take(rng.fork("again", again))?;
    }
    write_codes(f, &path, shot.truth.code.map(|c| c.quad))?;
    write_file(&path, &shot.jpeg)
}

/// Writes the family's scheme beside its picture, where it has codes.
fn write_codes(f: &Family, picture: &Path, at: Option<Quad>) -> Result<(), LotError> {
    let name = picture.file_name().unwrap_or_default().to_string_lossy();
    let text = at.and_then(|at| codes_toml(&f.design, &Stands::At(at, &name), ""));
    match text {
        Some(text) => write_file(&picture.with_file_name("codes.toml"), text.as_bytes()),
        None => Ok(()),
    }
}

pub fn write_truth(path: &Path, mut truths: Vec<Truth>) -> Result<(), LotError> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tests::family;

    fn stranger(line: &str, group: Option<usize>) -> Family {
        Family {
            name: format!("Wick {line}"),
            group,
            in_library: false,
            ..family(1)
        }
    }

    #[test]
    fn each_unknown_mark_is_shot_as_often_as_asked() {
        let families = Families {
            known: Vec::new(),
            siblings: vec![stranger("fern", Some(2)), stranger("fern", Some(2))],
            strangers: vec![stranger("fern", None)],
        };
        let settings = LotSettings {
            split: Split::Tune,
            seed: 1,
            families: 0,
            unknown: 1,
            unknown_siblings: 2,
            shots: Shots::Each(3),
            bare: 0,
            tops: 0,
            extras: false,
            known: true,
            faults: 0,
            codes: false,
            every: 1,
            only: Vec::new(),
        };
        let mut designs: BTreeMap<String, usize> = BTreeMap::new();
        let mut conditions = Vec::new();
        for job in jobs(&settings, &families) {
            let Job::Marked(order, family) = job else {
                panic!("only marks were asked for");
            };
            *designs.entry(family.design_name()).or_default() += 1;
            conditions.push(order.condition);
        }
        // Siblings that came out the same are one mark.
        let wanted = [("sibling 2: Wick fern", 6), ("stranger: Wick fern", 3)];
        assert_eq!(designs, wanted.map(|(n, k)| (n.to_string(), k)).into());
        assert_eq!(conditions[..3], Condition::SEVEN[..3]);
    }

    #[test]
    fn in_a_season_half_of_sixty_marks_come_once() {
        let sizes = |kind, marks| (0..marks).map(move |i| Shots::Season.of(kind, i));
        let all: Vec<usize> = sizes(Kind::Unknown, 36)
            .chain(sizes(Kind::UnknownSibling, 24))
            .collect();
        assert_eq!(all.iter().filter(|s| **s == 1).count(), 29);
        assert_eq!(all.iter().max(), Some(&40));
        assert!(all.iter().filter(|s| (5..=10).contains(*s)).count() >= 10);
    }
}
