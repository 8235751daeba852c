//! Lots of services: different pieces with one stamp and one glaze in a row, and pieces that were photographed again.

use crate::again::Service;
use crate::artwork::{Artwork, Split};
use crate::family::{Family, invent};
use crate::lot::{LotError, make_dir, write_clean, write_file, write_truth};
use crate::random::Rng;
use crate::shoot::Order;
use crate::truth::{Condition, Kind, Severity, Truth};
use rayon::prelude::*;
use std::path::Path;

/// What such a lot holds.
#[derive(Clone, Debug)]
pub struct RepeatSettings {
    pub split: Split,
    pub seed: u64,
    pub families: usize,
    /// Runs of 2 to 12 different pieces.
    pub runs: usize,
    /// Services of which pieces were photographed two to four times.
    pub repeats: usize,
    /// Pieces with three hard photos each.
    pub triples: usize,
}

/// Pieces of the runs, in turn.
const RUNS: [usize; 8] = [6, 2, 12, 4, 8, 3, 10, 5];
/// Photos of the pieces of a service that was photographed again, in turn.
const AGAIN: [&[usize]; 5] = [&[2, 3], &[3], &[2, 2], &[4], &[1, 2, 1]];
/// What goes wrong with the photos of a lot, and how often.
const ORDINARY: [(Condition, f32); 5] = [
    (Condition::Good, 5.0),
    (Condition::Blur, 1.0),
    (Condition::TiltGlare, 1.0),
    (Condition::Partial, 0.5),
    (Condition::LowLight, 1.0),
];
/// What goes wrong with hard ones.
const HARD: [Condition; 4] = [
    Condition::Blur,
    Condition::TiltGlare,
    Condition::LowLight,
    Condition::Partial,
];
/// How marks were struck, and how often.
const STRUCK: [(Condition, f32); 3] = [
    (Condition::Good, 5.0),
    (Condition::Weak, 2.0),
    (Condition::Smudge, 1.0),
];

/// The photos of one service: how often each of its pieces is taken, and whether hard.
#[derive(Clone, Copy)]
enum Sequence {
    Run(usize),
    Again(&'static [usize]),
    Triple,
}

impl Sequence {
    fn shots(self) -> Vec<usize> {
        match self {
            Self::Run(pieces) => vec![1; pieces],
            Self::Again(shots) => shots.to_vec(),
            Self::Triple => vec![3],
        }
    }

    fn order(self, rng: &mut Rng) -> Order {
        let (condition, severity) = match self {
            Self::Triple => (*rng.pick(&HARD), Severity::Hard),
            _ => {
                let (condition, _) = ORDINARY[rng.weighted(&ORDINARY.map(|c| c.1))];
                (condition, [Severity::Easy, Severity::Medium][rng.below(2)])
            }
        };
        Order::plain(Kind::Known, condition, severity)
    }
}

/// One photo to be taken: of which piece of which service, and its number in the lot.
struct Job {
    service: usize,
    piece: usize,
    number: usize,
}

/// Writes a library of clean scans, the photos in the order of their names, and the truth, which names the piece of
/// each. Returns how many photos there are.
pub fn write(
    artwork: &Artwork,
    settings: &RepeatSettings,
    out: &Path,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<usize, LotError> {
    let root = Rng::new(settings.seed).fork(settings.split.name(), 0);
    let families = invent(artwork, settings.families, 0, 0, &root).known;
    let photos = out.join("photos");
    make_dir(&photos)?;
    families
        .par_iter()
        .enumerate()
        .try_for_each(|(i, f)| write_clean(artwork, f, out, &root.fork("clean", i as u64)))?;
    let sequences = sequences(settings);
    let jobs = jobs(&sequences);
    let done = std::sync::atomic::AtomicUsize::new(0);
    let truths: Vec<Truth> = jobs
        .par_iter()
        .map(|job| {
            let family = &families[job.service % families.len().max(1)];
            let truth = shoot(artwork, family, sequences[job.service], job, &photos, &root)?;
            let so_far = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            progress(so_far, jobs.len());
            Ok(truth)
        })
        .collect::<Result<_, LotError>>()?;
    write_truth(&out.join("truth.jsonl"), truths)?;
    Ok(jobs.len())
}

fn sequences(settings: &RepeatSettings) -> Vec<Sequence> {
    let runs = (0..settings.runs).map(|i| Sequence::Run(RUNS[i % RUNS.len()]));
    let again = (0..settings.repeats).map(|i| Sequence::Again(AGAIN[i % AGAIN.len()]));
    let triples = (0..settings.triples).map(|_| Sequence::Triple);
    runs.chain(again).chain(triples).collect()
}

fn jobs(sequences: &[Sequence]) -> Vec<Job> {
    let mut jobs = Vec::new();
    for (service, sequence) in sequences.iter().enumerate() {
        for (piece, shots) in sequence.shots().into_iter().enumerate() {
            jobs.extend((0..shots).map(|k| Job {
                service,
                piece,
                number: k,
            }));
        }
    }
    for (number, job) in jobs.iter_mut().enumerate() {
        job.number = number;
    }
    jobs
}

/// A piece is drawn anew for each of its photos, from its own stream, and comes out the same.
fn shoot(
    artwork: &Artwork,
    family: &Family,
    sequence: Sequence,
    job: &Job,
    photos: &Path,
    root: &Rng,
) -> Result<Truth, LotError> {
    let of_service = root.fork("service", job.service as u64);
    let service = Service::draw(artwork, family, &mut of_service.clone());
    let mut of_piece = of_service.fork("piece", job.piece as u64);
    let (struck, _) = STRUCK[of_piece.weighted(&STRUCK.map(|c| c.1))];
    let severity = [Severity::Easy, Severity::Medium][of_piece.below(2)];
    let strike = Order::plain(Kind::Known, struck, severity);
    let piece = service.piece(artwork, &strike, &mut of_piece);
    let mut of_photo = root.fork("photo", job.number as u64);
    let order = sequence.order(&mut of_photo);
    let file = format!("{:04}.jpg", job.number);
    let path = photos.join(&file);
    let taken = piece.photograph(artwork, &order, &file, &mut of_photo);
    let shot = taken.map_err(|source| LotError::Jpeg {
        path: path.clone(),
        source,
    })?;
    write_file(&path, &shot.jpeg)?;
    let kind = match sequence {
        Sequence::Run(_) => "run",
        Sequence::Again(_) => "again",
        Sequence::Triple => "triple",
    };
    Ok(Truth {
        piece: Some(format!("{kind} {} piece {}", job.service, job.piece)),
        ..shot.truth
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_hold_each_piece_once_and_triples_one_piece_thrice() {
        let settings = RepeatSettings {
            split: Split::Tune,
            seed: 1,
            families: 4,
            runs: 2,
            repeats: 1,
            triples: 1,
        };
        let jobs = jobs(&sequences(&settings));
        let places: Vec<(usize, usize)> = jobs.iter().map(|j| (j.service, j.piece)).collect();
        let mut wanted: Vec<(usize, usize)> = (0..6).map(|p| (0, p)).collect();
        wanted.extend([(1, 0), (1, 1)]);
        wanted.extend([(2, 0), (2, 0), (2, 1), (2, 1), (2, 1)]);
        wanted.extend([(3, 0); 3]);
        assert_eq!(places, wanted);
        assert!(jobs.iter().enumerate().all(|(at, j)| j.number == at));
    }
}
