//! Whether a picture is worth keeping as an exemplar: what the library has already, and what it learns.

use super::Failure;
use super::confirmed::{Confirmed, Origins, Pieces, decided};
use super::gathered::each;
use super::intake::progress;
use super::opened::Opened;
use crate::decision::{Certainty, ContentHash};
use crate::geometry::{Photo, Quad};
use crate::library::Family;
use crate::library::change::NewExemplar;
use crate::photo::{self, DecodeLimits, UprightPhoto};
use crate::references::{PreparedExemplar, Reference, References, prepare_exemplar};
use crate::report::copies::Glimpse;
use crate::trial::{self, Lesson, Look, lesson, lesson_alone};
use crate::workspace::readable_file_name;

/// Photos by which a picture is judged, at most; taken evenly from all. Each is looked at twice, and more would hardly
/// move a mean.
const HELD_OUT: usize = 16;

/// A picture that may become an exemplar.
pub(super) struct Candidate {
    pub(super) name: String,
    pub(super) exemplar: NewExemplar,
    pub(super) picture: UprightPhoto,
    pub(super) quad: Option<Quad<Photo>>,
    /// The photo of a lot that it was cut from.
    pub(super) photo: Option<ContentHash>,
    /// Content hash of the picture.
    pub(super) hash: String,
    pub(super) glimpses: Vec<Glimpse>,
}

/// What pictures are judged by.
pub(super) struct Bench<'a> {
    pub(super) opened: &'a Opened,
    pub(super) family: &'a Family,
    pub(super) references: References,
    pub(super) pieces: Pieces,
    pub(super) origins: Origins,
    pub(super) decided: Vec<Confirmed>,
    pub(super) jobs: usize,
}

/// A picture that is not taken, and why.
pub(super) struct Declined {
    pub(super) name: String,
    pub(super) why: String,
}

impl<'a> Bench<'a> {
    /// `given` are photos that may become exemplars.
    pub(super) fn new(
        opened: &'a Opened,
        family: &'a Family,
        references: References,
        given: &[Option<ContentHash>],
        jobs: usize,
    ) -> Result<Self, Failure> {
        let decided = decided(opened)?;
        let origins = Origins::new(opened, &decided);
        let from: Vec<ContentHash> = (0..references.len())
            .filter_map(|at| origins.of(references.get(at)).cloned())
            .collect();
        let photos = decided.iter().map(|c| &c.photo);
        let photos = photos.chain(&from).chain(given.iter().flatten());
        Ok(Self {
            pieces: Pieces::new(opened, photos)?,
            opened,
            family,
            references,
            origins,
            decided,
            jobs,
        })
    }

    /// Whether an exemplar of the family was cut from the photo.
    pub(super) fn is_cut(&self, photo: &ContentHash) -> bool {
        let all = (0..self.references.len()).map(|at| self.references.get(at));
        let mut own = all.filter(|r| r.family == self.family.id.as_str());
        own.any(|r| self.origins.of(r) == Some(photo))
    }

    /// Whether the picture is worth taking, and why.
    pub(super) fn judge(
        &self,
        candidate: Candidate,
        taken: &[Candidate],
    ) -> Result<(Candidate, String), Declined> {
        if let Some(why) = self.known(&candidate, taken) {
            let name = candidate.name;
            return Err(Declined { name, why });
        }
        let lesson = self.lesson(&candidate);
        let why = say(&lesson);
        match lesson.teaches() {
            true => Ok((candidate, format!("taken: {why}"))),
            false => Err(Declined {
                name: candidate.name,
                why: format!("it teaches nothing: {why}"),
            }),
        }
    }

    /// Why the library has the picture already, if it has.
    fn known(&self, candidate: &Candidate, taken: &[Candidate]) -> Option<String> {
        let id = self.family.id.as_str();
        let all = (0..self.references.len()).map(|at| self.references.get(at));
        for reference in all {
            if reference.hash == candidate.hash {
                return Some(match reference.family == id {
                    true => "the very same picture is an exemplar already".to_owned(),
                    false => format!(
                        "the very same picture is an exemplar of {}",
                        reference.family
                    ),
                });
            }
            let origin = self
                .origins
                .of(reference)
                .filter(|_| reference.family == id);
            if let (Some(origin), Some(photo)) = (origin, &candidate.photo)
                && self.pieces.same(origin, photo)
            {
                return Some(match origin == photo {
                    true => "an exemplar was cut from this photo already".to_owned(),
                    false => {
                        "an exemplar shows the same piece, or the same shot saved again".to_owned()
                    }
                });
            }
        }
        let repeats = |g: &Glimpse| candidate.glimpses.iter().any(|own| own.repeats(g));
        for exemplar in &self.family.exemplars {
            let bytes = std::fs::read(&exemplar.path).ok();
            let picture = bytes.and_then(|b| photo::read_photo(&b, &DecodeLimits::default()).ok());
            if picture.is_some_and(|p| repeats(&Glimpse::of(&p.pixels))) {
                let file = readable_file_name(&exemplar.path);
                return Some(format!("it is {file} saved again"));
            }
        }
        let other = taken.iter().find(|t| t.glimpses.iter().any(repeats))?;
        Some(format!("it is {} saved again", other.name))
    }

    /// Tries the library with and without the picture on the other confirmed photos of the family.
    fn lesson(&self, candidate: &Candidate) -> Lesson {
        let id = self.family.id.as_str();
        let prepared = prepare_exemplar(&candidate.picture, candidate.quad);
        let other = |c: &&Confirmed| {
            let own = candidate.photo.as_ref();
            !own.is_some_and(|photo| self.pieces.same(photo, &c.photo))
        };
        let sure = |c: &&Confirmed| c.family == id && c.certainty == Certainty::Sure;
        let all: Vec<&Confirmed> = self.decided.iter().filter(sure).filter(other).collect();
        let step = all.len().div_ceil(HELD_OUT).max(1);
        let held: Vec<&Confirmed> = all.into_iter().step_by(step).collect();
        let mut looks: Vec<(Look, Look)> = Vec::new();
        let bar = progress(held.len());
        // The database stays on this thread.
        let (references, origins, pieces) = (&self.references, &self.origins, &self.pieces);
        let work = |(photo, picture): (&ContentHash, Option<(UprightPhoto, Quad<Photo>)>)| {
            let (picture, quad) = picture?;
            let without = origins.without(references, pieces, photo);
            let with = without.with_one_more(&reference(id, candidate, &prepared));
            Some((
                trial::look(&picture, &quad, &without),
                trial::look(&picture, &quad, &with),
            ))
        };
        let items = held.iter().map(|c| (&c.photo, c.picture(self.opened)));
        let worked = each(items, self.jobs, work, |_, seen| {
            bar.inc(1);
            looks.extend(seen);
        });
        bar.finish_and_clear();
        if worked.is_ok() && !looks.is_empty() {
            let (without, with): (Vec<Look>, Vec<Look>) = looks.into_iter().unzip();
            return lesson(id, &without, &with);
        }
        let own = trial::look(&candidate.picture, &prepared.quad, &self.references);
        lesson_alone(id, &own)
    }

    /// From now on it is one of the exemplars.
    pub(super) fn learn(&mut self, candidate: &Candidate) {
        let prepared = prepare_exemplar(&candidate.picture, candidate.quad);
        let new = reference(self.family.id.as_str(), candidate, &prepared);
        self.references = self.references.with_one_more(&new);
        if let Some(photo) = &candidate.photo {
            self.origins.add(candidate.hash.clone(), photo.clone());
        }
    }
}

fn reference(family: &str, candidate: &Candidate, prepared: &PreparedExemplar) -> Reference {
    Reference::here(family, candidate.hash.clone(), prepared.clone())
}

fn say(lesson: &Lesson) -> String {
    match *lesson {
        Lesson::Held { of, first, gain } => {
            let photos = match of {
                1 => "the one other confirmed photo".to_owned(),
                n => format!("{n} other confirmed photos"),
            };
            format!(
                "tried on {photos}: first without it {}, with it {}; the log-odds change by {gain:+.2}",
                first.0, first.1
            )
        }
        Lesson::Alone { odds } => {
            let sure = crate::report::per_cent(1.0 / (1.0 + (-odds).exp()));
            format!(
                "there are no other confirmed photos to judge it by, and the library is {sure} sure of it as it stands"
            )
        }
    }
}
