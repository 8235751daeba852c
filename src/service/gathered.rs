//! The marks that the library does not know, from all lots, and which of them are one mark.

use std::collections::BTreeSet;
use std::ops::ControlFlow;

use super::compared;
use super::intake::Watch;
use super::opened::Opened;
use crate::answer::{MarkAnswer, Verdict};
use crate::console::{hint, warning};
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::geometry::{Homography, Photo, Quad};
use crate::in_order::in_order;
use crate::photo::{self, DecodeLimits, UprightPhoto};
use crate::references::{PreparedExemplar, prepare_exemplar};
use crate::report::frame::Crop;
use crate::report::{Row, Sheet};
use crate::strangers::{self, Grouping, Pair, Seen};
use crate::workspace::{KeptCrop, readable};

/// A mark that the library does not know.
pub(crate) struct Stranger {
    pub(crate) photo: ContentHash,
    /// File name of the photo, readable.
    pub(crate) name: String,
    pub(crate) lot: String,
    /// Its place among the marks of the photo, from 0.
    pub(crate) mark: usize,
    pub(crate) marks_in_photo: usize,
    /// Where it is in the photo.
    pub(crate) quad: Quad<Photo>,
    /// Blur over the mark's size, both in pixels of the photo.
    pub(crate) blur: Option<f64>,
}

impl Stranger {
    fn of(sheet: &Sheet, row: &Row) -> Option<Self> {
        let (mark, at) = (sheet.mark(row)?, row.mark?);
        let shot = sheet.shot(row);
        let quality = sheet.quality(row).filter(|q| q.scale > 0.0);
        is_open(row, mark).then(|| Self {
            photo: shot.hash.clone(),
            name: shot.name.clone(),
            lot: sheet.lot.clone(),
            mark: at,
            marks_in_photo: row.marks_in_photo,
            quad: Quad::from_array(mark.quad),
            blur: quality.map(|q| q.sharpness / q.scale),
        })
    }
}

/// Whether a mark is unknown, or most probably so while a few families may still fit.
fn is_open(row: &Row, mark: &MarkAnswer) -> bool {
    let likeliest = mark.candidates.iter().map(|c| c.probability);
    match row.holds {
        Verdict::Unknown => true,
        Verdict::Choose => mark.none > likeliest.fold(mark.rest, f64::max),
        _ => false,
    }
}

/// All of them, the earliest seen first, and their groups.
pub(crate) struct Gathered {
    pub(crate) marks: Vec<Stranger>,
    pub(crate) pairs: Vec<Pair>,
    pub(crate) grouping: Grouping,
}

impl Gathered {
    /// Gathers the unknown marks of the `lots`, or of all where none is named, and groups them under the eyes
    /// of `watch`.
    pub(crate) fn watched(
        opened: &mut Opened,
        lots: &[String],
        jobs: usize,
        watch: &dyn Watch,
    ) -> Result<Self, Failure> {
        let marks = gather(opened, lots)?;
        if let Some(pairs) = compared::known(opened, &marks)? {
            return Ok(Self::of(marks, pairs));
        }
        let pairs = compare(opened, &marks, jobs, watch)?;
        compared::keep(opened, &marks, &pairs)?;
        Ok(Self::of(marks, pairs))
    }

    /// What was compared before; where a mark has come that was not, the number of marks.
    pub(crate) fn kept(opened: &Opened) -> Result<Result<Self, usize>, Failure> {
        let marks = gather(opened, &[])?;
        Ok(match compared::known(opened, &marks)? {
            Some(pairs) => Ok(Self::of(marks, pairs)),
            None => Err(marks.len()),
        })
    }

    fn of(marks: Vec<Stranger>, pairs: Vec<Pair>) -> Self {
        Self {
            grouping: strangers::group(marks.len(), &pairs),
            marks,
            pairs,
        }
    }

    /// The name of a group: that of its first mark, so that it stays when later photos join.
    pub(crate) fn name(&self, group: usize) -> String {
        let first = &self.marks[self.grouping.groups[group].marks[0]];
        strangers::short_name(first.photo.as_str(), first.mark)
    }

    /// The groups whose name is or begins with this.
    pub(crate) fn called(&self, text: &str) -> Vec<usize> {
        let groups = 0..self.grouping.groups.len();
        groups.filter(|&g| self.name(g).starts_with(text)).collect()
    }
}

fn gather(opened: &Opened, lots: &[String]) -> Result<Vec<Stranger>, Failure> {
    let names: Vec<String> = match lots.is_empty() {
        true => opened
            .workspace
            .lots()?
            .into_iter()
            .map(|l| l.name)
            .collect(),
        false => lots.to_vec(),
    };
    let key = opened.key();
    let mut found: Vec<Stranger> = Vec::new();
    let (mut seen, mut old) = (BTreeSet::new(), BTreeSet::new());
    for lot in &names {
        let sheet = opened.sheet(lot, &key)?;
        // In the order in which the photos were taken in: later ones come behind the earlier.
        let mut rows: Vec<&Row> = sheet.rows.iter().collect();
        rows.sort_by_key(|r| (r.shot, r.mark));
        for row in rows {
            let shot = sheet.shot(row);
            if !shot.current {
                old.insert(shot.hash.clone());
            }
            let stranger = Stranger::of(&sheet, row);
            found.extend(stranger.filter(|s| seen.insert((s.photo.clone(), s.mark))));
        }
    }
    if !old.is_empty() {
        warning(&format!(
            "{} answered with an earlier library, or not at all",
            crate::report::photos(old.len())
        ));
        hint(&"the intake of their folder, run again, looks at them with the library of today");
    }
    Ok(found)
}

/// Prepares every mark, then looks at each beside the others. One picture a thread is in memory at a time.
fn compare(
    opened: &Opened,
    marks: &[Stranger],
    jobs: usize,
    watch: &dyn Watch,
) -> Result<Vec<Pair>, Failure> {
    watch.total(2 * marks.len());
    let mut prepared: Vec<PreparedExemplar> = Vec::new();
    let prepare = |crop: Option<(KeptCrop, Quad<Photo>)>| {
        let (picture, quad) = straight(&crop.filter(|_| watch.may_begin())?)?;
        Some(prepare_exemplar(&picture, Some(quad)))
    };
    // Which of the marks each prepared one is: a picture that cannot be read is left out.
    let mut of: Vec<usize> = Vec::new();
    each(crops(opened, marks), jobs, prepare, |at, made| {
        watch.step();
        if let Some(made) = made {
            prepared.push(made);
            of.push(at);
        }
    })?;
    let references = strangers::references(prepared);
    let mut seen: Vec<Seen> = Vec::new();
    let present: Vec<&Stranger> = of.iter().map(|&at| &marks[at]).collect();
    let work = |(own, crop): (usize, Option<(KeptCrop, Quad<Photo>)>)| {
        let (picture, quad) = straight(&crop.filter(|_| watch.may_begin())?)?;
        Some(strangers::compare(&picture, &quad, own, &references))
    };
    let with_own = crops(opened, present).enumerate();
    each(with_own, jobs, work, |_, looked| {
        watch.step();
        seen.extend(looked.into_iter().flatten());
    })?;
    if !watch.may_begin() {
        return Err(Failure::new(
            &"stopped before all marks were compared",
            None,
        ));
    }
    let missing = marks.len() - of.len();
    if missing > 0 {
        warning(&format!(
            "{missing} of the marks have no picture kept and stay alone"
        ));
        hint(&"delete cache.db and run the intakes again, with the photos at hand");
    }
    let mut pairs = strangers::pairs(&seen);
    for pair in &mut pairs {
        (pair.a, pair.b) = (of[pair.a], of[pair.b]);
    }
    Ok(pairs)
}

/// Works on all items and hands the results on in order, with their numbers.
pub(crate) fn each<T: Send, R: Send>(
    items: impl IntoIterator<Item = T>,
    jobs: usize,
    work: impl Fn(T) -> Option<R> + Sync,
    mut hand_on: impl FnMut(usize, Option<R>),
) -> Result<(), Failure> {
    let mut at = 0;
    in_order(items, jobs, work, |result| {
        // A picture on which a stage fails is as good as none.
        hand_on(at, result.ok().flatten());
        at += 1;
        ControlFlow::<()>::Continue(())
    })
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))?;
    Ok(())
}

/// The kept crops of marks, read as they are asked for, each with its mark's place in the photo.
pub(crate) fn crops<'a>(
    opened: &'a Opened,
    marks: impl IntoIterator<Item = &'a Stranger> + 'a,
) -> impl Iterator<Item = Option<(KeptCrop, Quad<Photo>)>> + 'a {
    marks.into_iter().map(|m| {
        let kept = opened.cache.crop(&m.photo, m.mark).ok().flatten();
        kept.map(|crop| (crop, m.quad))
    })
}

/// Radians by which a kept crop is to be turned clockwise to lie as it did in the photo.
pub(crate) fn as_taken(crop: &KeptCrop) -> f64 {
    let [a, b, ..] = crop.region.quad().0;
    (b.y - a.y).atan2(b.x - a.x)
}

/// A kept crop as a picture of its own, and where its mark is in it.
pub(crate) fn straight(crop: &(KeptCrop, Quad<Photo>)) -> Option<(UprightPhoto, Quad<Photo>)> {
    let picture = photo::read_photo(&crop.0.jpeg, &DecodeLimits::default()).ok()?;
    let (w, h) = picture.pixels.dimensions();
    let corners = Quad::<Crop>::upright(0.0, 0.0, f64::from(w), f64::from(h));
    let to_crop = Homography::between(&crop.0.region.quad(), &corners)?;
    let quad = to_crop.apply_quad(&crop.1)?;
    Some((picture, Quad::from_array(quad.to_array())))
}

/// A group, and what else it could be, for a message.
pub(crate) fn told(gathered: &Gathered, groups: &[usize]) -> String {
    let names: Vec<String> = groups.iter().map(|&g| gathered.name(g)).collect();
    readable(&names.join(", "))
}
