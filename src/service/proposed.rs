//! Pieces as the photos of a lot suggest them: an underside, and the other views that were taken with it.

use std::collections::{BTreeMap, BTreeSet};

use super::alike::Alike;
use super::opened::Opened;
use crate::answer::Verdict;
use crate::decision::{ContentHash, PhotoRole, Region};
use crate::failure::Failure;
use crate::geometry::Quad;
use crate::pieces::Book;
use crate::report::Sheet;
use crate::same_piece::{Judged, Nearness};

/// A piece that may be made of these photos.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Proposed {
    pub(crate) lot: String,
    pub(crate) photos: Vec<(ContentHash, PhotoRole)>,
    /// The one mark of its first photo that is meant, counted from 0, where others of it are other pieces' already.
    pub(crate) mark: Option<usize>,
    /// How many marks its first photo has.
    pub(crate) marks: usize,
    /// What holds of its first photo, in the words of a person or of the program.
    pub(crate) family: Option<String>,
    /// The photo is to be taken again.
    pub(crate) again: bool,
    /// Several undersides by what is private to their piece; `None` for one underside, or by a person's word.
    pub(crate) by_evidence: Option<Judged>,
}

/// A photo of a lot in the order of taking in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Shot {
    underside: bool,
    /// Seconds of the camera's clock.
    taken: Option<i64>,
    /// The first photo of the same piece, as far as that was said or found.
    mate: Option<usize>,
}

/// For every shot the underside with which it goes; `None` for other views that go with none.
///
/// Another view goes with the underside that was taken nearest to it in time, else with the one before it in the
/// lot, else with the one behind.
fn grouped(shots: &[Shot]) -> Vec<Option<usize>> {
    let undersides: Vec<usize> = (0..shots.len()).filter(|&at| shots[at].underside).collect();
    let nearest = |at: usize| {
        let apart = |other: usize| match (shots[at].taken, shots[other].taken) {
            (Some(a), Some(b)) => (a - b).abs(),
            _ => i64::MAX,
        };
        let key = |&other: &usize| (apart(other), other > at, at.abs_diff(other));
        undersides.iter().copied().min_by_key(key)
    };
    let own = |at: usize| match (shots[at].mate, shots[at].underside) {
        (Some(mate), _) if shots[mate].underside => Some(mate),
        (_, true) => Some(at),
        (_, false) => nearest(at),
    };
    (0..shots.len()).map(own).collect()
}

/// What the photos of a lot that belong to no piece yet may be.
pub(crate) fn proposed(
    opened: &Opened,
    sheet: &Sheet,
    book: &Book,
    alike: &[Alike],
) -> Result<Vec<Proposed>, Failure> {
    let free = |at: &usize| {
        let shot = &sheet.shots[*at];
        let read = shot.answer.as_ref().map(|a| a.verdict);
        read.is_some_and(|v| v != Verdict::NotAPicture) && book.of_photo(&shot.hash).is_empty()
    };
    let places: Vec<usize> = (0..sheet.shots.len()).filter(free).collect();
    let rows: Vec<_> = places
        .iter()
        .map(|at| sheet.rows.iter().find(|r| r.shot == *at))
        .collect();
    let mut shots: Vec<Shot> = Vec::new();
    for (&at, row) in places.iter().zip(&rows) {
        let shot = &sheet.shots[at];
        let mates = opened.workspace.same_piece(&shot.hash)?;
        let earlier = &places[..shots.len()];
        let said = earlier
            .iter()
            .position(|&other| mates.contains(&sheet.shots[other].hash));
        let joined = earlier.iter().position(|&other| {
            found(alike, &sheet.shots[other].hash, &shot.hash) == Some(Judged::Joined)
        });
        // The first of all that are one, where the mate itself has one.
        let mate = said.or(joined);
        let mate = mate.map(|m: usize| shots[m].mate.unwrap_or(m));
        shots.push(Shot {
            underside: row.is_some_and(|r| r.holds != Verdict::NotUnderside),
            taken: shot.taken.as_deref().and_then(seconds),
            mate,
        });
    }
    let of = grouped(&shots);
    let mut all = Vec::new();
    for (first, row) in rows.iter().enumerate() {
        if of[first] != Some(first) {
            continue;
        }
        let members = (0..shots.len()).filter(|&at| of[at] == Some(first));
        let photos = members.map(|at| {
            let role = match shots[at].underside {
                true => PhotoRole::Underside,
                false => PhotoRole::NotSaid,
            };
            (sheet.shots[places[at]].hash.clone(), role)
        });
        let mut photos: Vec<_> = photos.collect();
        photos.sort_by_key(|(hash, _)| *hash != sheet.shots[places[first]].hash);
        let undersides = photos
            .iter()
            .filter(|(_, role)| *role == PhotoRole::Underside);
        let evident = undersides.clone().skip(1).any(|(hash, _)| {
            let mut others = undersides.clone();
            others.any(|(other, _)| found(alike, other, hash) == Some(Judged::Joined))
        });
        all.push(Proposed {
            by_evidence: evident.then_some(Judged::Joined),
            lot: sheet.lot.clone(),
            photos,
            mark: None,
            marks: row.map_or(0, |r| r.marks_in_photo),
            family: row
                .filter(|r| r.holds == Verdict::Named)
                .and_then(|r| r.family.clone()),
            again: row.is_some_and(|r| r.holds == Verdict::Reshoot),
        });
    }
    let asked = asked(&all, alike);
    all.extend(left_over(sheet, book));
    // What is asked stands before the pieces that it would make one of.
    Ok(asked.into_iter().chain(all).collect())
}

/// Two proposals that may be one piece, as a proposal of their own; a person says which holds. Each is asked about with
/// the one that is likeliest, so that a row of sisters does not ask about every two, and a poor photo with what was taken right
/// before and after it.
fn asked(all: &[Proposed], alike: &[Alike]) -> Vec<Proposed> {
    let photos = all.iter().enumerate().flat_map(|(at, one)| {
        let photos = one.photos.iter();
        photos.map(move |(hash, _)| (hash, at))
    });
    let of: BTreeMap<&ContentHash, usize> = photos.collect();
    let mut best: BTreeMap<usize, (f64, usize)> = BTreeMap::new();
    let mut asked = BTreeSet::new();
    for pair in alike.iter().filter(|p| p.judged() == Judged::Asked) {
        let (Some(&a), Some(&b)) = (of.get(&pair.a), of.get(&pair.b)) else {
            continue;
        };
        if a == b {
            continue;
        }
        let odds = pair.log_odds().unwrap_or(f64::NEG_INFINITY);
        for (one, other) in [(a, b), (b, a)] {
            let held = best.entry(one).or_insert((odds, other));
            if odds > held.0 || (odds == held.0 && other < held.1) {
                *held = (odds, other);
            }
        }
        if pair.nearness == Nearness::Retake {
            asked.insert((a.min(b), a.max(b)));
        }
    }
    let likeliest = best.into_iter();
    asked.extend(likeliest.map(|(one, (_, other))| (one.min(other), one.max(other))));
    let both = asked.into_iter().map(|(a, b)| Proposed {
        photos: all[a]
            .photos
            .iter()
            .chain(&all[b].photos)
            .cloned()
            .collect(),
        by_evidence: Some(Judged::Asked),
        ..all[a].clone()
    });
    both.collect()
}

/// What was found of two photos, whichever comes first.
fn pair<'a>(alike: &'a [Alike], a: &ContentHash, b: &ContentHash) -> Option<&'a Alike> {
    let of = |p: &&Alike| (p.a == *a && p.b == *b) || (p.a == *b && p.b == *a);
    alike.iter().find(of)
}

fn found(alike: &[Alike], a: &ContentHash, b: &ContentHash) -> Option<Judged> {
    pair(alike, a, b).map(Alike::judged)
}

/// Marks of photos in which several pieces lie: those of no piece yet, where others are one's each.
fn left_over(sheet: &Sheet, book: &Book) -> Vec<Proposed> {
    let mut all = Vec::new();
    for row in sheet.rows.iter().filter(|r| r.marks_in_photo > 1) {
        let (shot, Some(mark)) = (sheet.shot(row), sheet.mark(row)) else {
            continue;
        };
        let region = Region::new(&Quad::from_array(mark.quad));
        let shared = !book.of_photo(&shot.hash).is_empty();
        let shows_one = matches!(
            row.holds,
            Verdict::Named | Verdict::Choose | Verdict::Unknown
        );
        if !shared || !shows_one || !book.of_mark(&shot.hash, Some(&region)).is_empty() {
            continue;
        }
        all.push(Proposed {
            lot: sheet.lot.clone(),
            photos: vec![(shot.hash.clone(), PhotoRole::Underside)],
            by_evidence: None,
            mark: row.mark,
            marks: row.marks_in_photo,
            family: row.family.clone().filter(|_| row.holds == Verdict::Named),
            again: false,
        });
    }
    all
}

/// `2026-05-02T10:11:12` as seconds of some calendar; only differences are of use.
fn seconds(taken: &str) -> Option<i64> {
    let time: jiff::civil::DateTime = taken.parse().ok()?;
    Some(time.duration_since(jiff::civil::DateTime::ZERO).as_secs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::same_piece::Evidence;

    fn shot(underside: bool, taken: i64) -> Shot {
        Shot {
            underside,
            taken: (taken >= 0).then_some(taken),
            mate: None,
        }
    }

    #[test]
    fn another_view_goes_with_the_underside_nearest_in_time() {
        let shots = [
            shot(true, 0),
            shot(false, 50),
            shot(true, 60),
            shot(false, 66),
        ];
        let of = [Some(0), Some(2), Some(2), Some(2)];
        assert_eq!(grouped(&shots), of);
    }

    #[test]
    fn without_a_clock_it_goes_with_the_one_before_it() {
        let shots = [
            shot(false, -1),
            shot(true, -1),
            shot(false, -1),
            shot(true, -1),
        ];
        assert_eq!(grouped(&shots), [Some(1), Some(1), Some(1), Some(3)]);
        assert_eq!(grouped(&[shot(false, -1)]), [None]);
    }

    #[test]
    fn what_was_said_to_be_one_piece_is_one() {
        let mut second = shot(true, 500);
        second.mate = Some(0);
        assert_eq!(grouped(&[shot(true, 0), second]), [Some(0), Some(0)]);
    }

    #[test]
    fn times_are_told_apart_by_seconds() {
        let apart = seconds("2026-05-02T10:01:05").zip(seconds("2026-05-02T10:00:00"));
        assert_eq!(apart.map(|(b, a)| b - a), Some(65));
        assert_eq!(seconds("yesterday"), None);
    }

    #[test]
    fn each_asks_about_its_likeliest_other_only() {
        let hash = |at: u8| ContentHash::of(&[at]);
        let one = |at: u8| Proposed {
            lot: "fair".to_owned(),
            photos: vec![(hash(at), PhotoRole::Underside)],
            mark: None,
            marks: 1,
            family: None,
            again: false,
            by_evidence: None,
        };
        // The further below 0 the pose, the likelier one piece.
        let pair = |a: u8, b: u8, pose: f64| Alike {
            a: hash(a),
            b: hash(b),
            nearness: Nearness::Apart,
            evidence: Some(Evidence {
                odds: 4.0,
                correlation: 0.8,
                pose: Some(pose),
                texture: None,
                gaps: None,
            }),
        };
        let alike = [pair(0, 1, -3.0), pair(0, 2, -3.5), pair(1, 2, -2.0)];
        assert!(alike.iter().all(|a| a.judged() == Judged::Asked));
        let asked = asked(&[one(0), one(1), one(2)], &alike);
        let photos: Vec<Vec<ContentHash>> = asked
            .iter()
            .map(|p| p.photos.iter().map(|(h, _)| h.clone()).collect())
            .collect();
        assert_eq!(photos, [vec![hash(0), hash(1)], vec![hash(0), hash(2)]]);
        // A photo in which nothing can be seen is asked about with the one beside it.
        let retaken = Alike {
            evidence: None,
            nearness: Nearness::Retake,
            ..pair(2, 3, 0.0)
        };
        let asked = super::asked(&[one(2), one(3)], &[retaken]);
        assert_eq!(asked.len(), 1);
    }
}
