//! Marks whose family the person has decided, which of their photos show one piece, and what stems from them.

use std::collections::BTreeMap;

use super::gathered::straight;
use super::opened::Opened;
use crate::answer::MarkAnswer;
use crate::decision::{Certainty, ContentHash, Decision, Statement, Topic, about_photo, attach};
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::photo::{self, DecodeLimits, UprightPhoto};
use crate::references::{Reference, References};
use crate::report::copies::{Glimpse, copies};
use crate::workspace::{KeptCrop, readable, readable_file_name};

/// A mark and the family that the person gave it.
#[derive(Debug, Clone)]
pub(crate) struct Confirmed {
    pub(crate) photo: ContentHash,
    /// File name of the photo, readable.
    pub(crate) name: String,
    pub(crate) lot: String,
    /// Its place among the marks of the photo, from 0.
    pub(crate) mark: usize,
    pub(crate) quad: Quad<Photo>,
    /// The id that the family has now.
    pub(crate) family: String,
    pub(crate) certainty: Certainty,
}

impl Confirmed {
    pub(crate) fn crop(&self, opened: &Opened) -> Option<(KeptCrop, Quad<Photo>)> {
        let crop = opened.cache.crop(&self.photo, self.mark).ok()??;
        Some((crop, self.quad))
    }

    /// The kept picture of the mark, and where the mark is in it.
    pub(crate) fn picture(&self, opened: &Opened) -> Option<(UprightPhoto, Quad<Photo>)> {
        straight(&self.crop(opened)?)
    }
}

/// All decided marks of families, those decided `probably` too, in the order of the photos' hashes.
pub(crate) fn decided(opened: &Opened) -> Result<Vec<Confirmed>, Failure> {
    let history = opened.workspace.history()?;
    let key = opened.key();
    let about_family = |d: &&Decision| matches!(d.statement, Statement::Family(_));
    let mut photos: Vec<&ContentHash> = history
        .holding()
        .filter(about_family)
        .filter_map(|d| d.about.photo())
        .collect();
    photos.sort();
    photos.dedup();
    let mut found = Vec::new();
    for photo in photos {
        let Some(answered) = opened.cache.answer(photo, &key)? else {
            continue;
        };
        let quads: Vec<Quad<Photo>> = answered.answer.marks.iter().map(quad_of).collect();
        let own = about_photo(history.holding(), photo);
        let attachment = attach(&own, &quads);
        let place = opened.workspace.sightings_of(photo)?.into_iter().next();
        for (mark, quad) in quads.iter().enumerate() {
            let counts = attachment.of_mark_on(mark, &Topic::Identity, &own);
            // What was said of a whole photo is said of its one mark; of several it is not known of which.
            let counts = counts.filter(|d| d.about.region().is_some() || quads.len() == 1);
            let Some(Decision {
                statement: Statement::Family(id),
                certainty,
                ..
            }) = counts
            else {
                continue;
            };
            found.push(Confirmed {
                photo: photo.clone(),
                name: place
                    .as_ref()
                    .map_or_else(|| photo.short().to_owned(), |s| readable_file_name(&s.path)),
                lot: place.as_ref().map(|s| readable(&s.lot)).unwrap_or_default(),
                mark,
                quad: *quad,
                family: opened.follow(id),
                certainty: *certainty,
            });
        }
    }
    Ok(found)
}

fn quad_of(mark: &MarkAnswer) -> Quad<Photo> {
    Quad::from_array(mark.quad)
}

/// Which photos show one piece: those saved again, and those that the workspace says so of.
#[derive(Debug, Default)]
pub(crate) struct Pieces {
    of: BTreeMap<ContentHash, usize>,
}

impl Pieces {
    pub(crate) fn new<'a>(
        opened: &Opened,
        photos: impl Iterator<Item = &'a ContentHash>,
    ) -> Result<Self, Failure> {
        let mut all: Vec<&ContentHash> = photos.collect();
        all.sort();
        all.dedup();
        let mut of: BTreeMap<ContentHash, usize> = BTreeMap::new();
        for (piece, photo) in all.iter().enumerate() {
            let mates = opened.workspace.same_piece(photo)?;
            let known = mates.iter().find_map(|m| of.get(m).copied());
            of.insert((*photo).clone(), known.unwrap_or(piece));
        }
        let glimpses: Vec<Option<Glimpse>> = all.iter().map(|p| glimpse(opened, p)).collect();
        for (copy, first) in copies(&glimpses) {
            let (from, to) = (of[all[copy]], of[all[first]]);
            for piece in of.values_mut().filter(|p| **p == from) {
                *piece = to;
            }
        }
        Ok(Self { of })
    }

    pub(crate) fn same(&self, a: &ContentHash, b: &ContentHash) -> bool {
        a == b
            || self
                .of
                .get(a)
                .is_some_and(|piece| self.of.get(b) == Some(piece))
    }
}

/// What is compared of a photo to tell whether it is another one saved again.
pub(crate) fn glimpse(opened: &Opened, photo: &ContentHash) -> Option<Glimpse> {
    let jpeg = opened.cache.thumbnail(photo).ok().flatten()?;
    let small = photo::read_photo(&jpeg, &DecodeLimits::default()).ok()?;
    Some(Glimpse::of(&small.pixels))
}

/// From which photo a picture of the library was cut, by the content hash of the picture.
#[derive(Debug, Default)]
pub(crate) struct Origins(BTreeMap<String, ContentHash>);

impl Origins {
    /// As mark.toml says; a picture that is a photo of a lot, or the kept crop of one, stems from that.
    pub(crate) fn new(opened: &Opened, decided: &[Confirmed]) -> Self {
        let mut known: BTreeMap<String, ContentHash> = BTreeMap::new();
        for one in decided {
            known.insert(one.photo.to_string(), one.photo.clone());
            if let Some((crop, _)) = one.crop(opened) {
                known.insert(ContentHash::of(&crop.jpeg).to_string(), one.photo.clone());
            }
        }
        let mut origins = BTreeMap::new();
        let exemplars = opened.library.families.values().flat_map(|f| &f.exemplars);
        for exemplar in exemplars {
            let Ok(bytes) = std::fs::read(&exemplar.path) else {
                continue;
            };
            let own = ContentHash::of(&bytes).to_string();
            let said = exemplar.photo.as_ref().and_then(|p| p.parse().ok());
            if let Some(photo) = said.or_else(|| known.get(&own).cloned()) {
                origins.insert(own, photo);
            }
        }
        Self(origins)
    }

    pub(crate) fn add(&mut self, picture: String, photo: ContentHash) {
        self.0.insert(picture, photo);
    }

    pub(crate) fn of(&self, reference: &Reference) -> Option<&ContentHash> {
        self.0.get(&reference.hash)
    }

    /// The references that do not stem from the piece of this photo.
    pub(crate) fn without(
        &self,
        references: &References,
        pieces: &Pieces,
        photo: &ContentHash,
    ) -> References {
        references.filtered(|r| !self.of(r).is_some_and(|origin| pieces.same(origin, photo)))
    }
}
