//! The page of a lot, with its pictures.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;

use image::RgbImage;

use super::fused::in_report;
use super::opened::{Opened, now};
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::in_order::in_order;
use crate::library::{FamilyId, Library};
use crate::photo::{self, DecodeLimits};
use crate::references::References;
use crate::report::frame::{self, ExemplarPhoto, SharedFrame};
use crate::report::{Beside, Figure, Row, RowPictures, Sheet, code_quad, html};
use crate::workspace::KeptCrop;

/// JPEG quality of the page's pictures: for the eye, at about 35 kB each.
const PICTURE_QUALITY: u8 = 82;

/// The page with its pictures.
pub(crate) fn page(
    opened: &Opened,
    sheet: &Sheet,
    references: &References,
    jobs: usize,
) -> Result<String, Failure> {
    let exemplars = exemplars(opened, sheet, references, jobs)?;
    let mut pictures = pictures(opened, sheet, &exemplars, jobs)?;
    for (row, figure, said) in in_report(opened, sheet, references)? {
        pictures[row].fused = Some((figure, said));
    }
    Ok(html(sheet, &pictures, &now().day()))
}

/// An exemplar as the page shows it, and the frame that photos are brought into.
struct Shown {
    frame: SharedFrame,
    figure: Figure,
    /// The photo that it was cut from, or is.
    photo: Option<ContentHash>,
}

/// Which exemplar of a family: the one with this content, or the first that can be read.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Wanted {
    family: String,
    content: Option<String>,
}

impl Wanted {
    pub(crate) fn exactly(family: &str, content: &str) -> Self {
        Self {
            family: family.to_owned(),
            content: Some(content.to_owned()),
        }
    }

    /// The first that can be read.
    pub(crate) fn any(family: &str) -> Self {
        Self {
            family: family.to_owned(),
            content: None,
        }
    }

    pub(crate) fn family(&self) -> &str {
        &self.family
    }

    fn of(beside: &Beside<'_>) -> Self {
        Self {
            family: beside.family().to_owned(),
            content: match beside {
                Beside::Fitted(candidate) => Some(candidate.exemplar.clone()),
                Beside::Decided(_) => None,
            },
        }
    }
}

type Exemplars = BTreeMap<Wanted, Shown>;

/// Makes the picture of every exemplar that the sheet shows. One that cannot be read is left out.
fn exemplars(
    opened: &Opened,
    sheet: &Sheet,
    references: &References,
    jobs: usize,
) -> Result<Exemplars, Failure> {
    let wanted: BTreeSet<Wanted> = sheet
        .rows
        .iter()
        .flat_map(|row| sheet.shown(row))
        .map(|beside| Wanted::of(&beside))
        .collect();
    let mut shown = Exemplars::new();
    let library = &opened.library;
    let make = |wanted: Wanted| {
        let made = exemplar(library, references, &wanted);
        (wanted, made)
    };
    in_order(wanted, jobs, make, |result| {
        if let Ok((wanted, Some(made))) = result {
            shown.insert(wanted, made);
        }
        ControlFlow::<()>::Continue(())
    })
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))?;
    Ok(shown)
}

fn exemplar(library: &Library, references: &References, wanted: &Wanted) -> Option<Shown> {
    let (picture, quad) = exemplar_picture(library, references, wanted)?;
    let (frame, pixels) = frame::exemplar(&picture, &quad)?;
    Some(Shown {
        frame,
        figure: figure(&pixels)?,
        photo: cut_from(library, wanted),
    })
}

/// The photo of which an exemplar is a part or the whole.
fn cut_from(library: &Library, wanted: &Wanted) -> Option<ContentHash> {
    let family = library.find(&FamilyId::parse(&wanted.family).ok()?)?;
    family.exemplars.iter().find_map(|e| {
        let content = ContentHash::of(&std::fs::read(&e.path).ok()?);
        let same = wanted
            .content
            .as_deref()
            .is_none_or(|c| c == content.as_str());
        let from = e.photo.as_deref().and_then(|p| p.parse().ok());
        same.then(|| from.unwrap_or(content))
    })
}

/// The exemplar's picture, and its mark's box there. `None` where it is not in the library or cannot be
/// read.
pub(crate) fn exemplar_picture(
    library: &Library,
    references: &References,
    wanted: &Wanted,
) -> Option<(RgbImage, Quad<ExemplarPhoto>)> {
    let id = FamilyId::parse(&wanted.family).ok()?;
    let family = library.find(&id)?;
    family.exemplars.iter().find_map(|e| {
        let bytes = std::fs::read(&e.path).ok()?;
        let hash = ContentHash::of(&bytes);
        let is_wanted = |content: &String| content == hash.as_str();
        if !wanted.content.as_ref().is_none_or(is_wanted) {
            return None;
        }
        let reference = references.find(family.id.as_str(), hash.as_str())?;
        let photo = photo::read_photo(&bytes, &DecodeLimits::default()).ok()?;
        let quad = Quad::<ExemplarPhoto>::from_array(reference.quad.to_array());
        Some((photo.pixels, quad))
    })
}

pub(crate) fn figure(pixels: &RgbImage) -> Option<Figure> {
    Some(Figure {
        jpeg: frame::jpeg(pixels, PICTURE_QUALITY)?,
        width: pixels.width(),
        height: pixels.height(),
    })
}

/// What a row's pictures are made from, read on one thread.
struct Material<'a> {
    row: &'a Row,
    crop: Option<KeptCrop>,
    thumbnail: Option<Vec<u8>>,
    original: Option<Vec<u8>>,
}

fn pictures(
    opened: &Opened,
    sheet: &Sheet,
    exemplars: &Exemplars,
    jobs: usize,
) -> Result<Vec<RowPictures>, Failure> {
    let materials = sheet.rows.iter().map(|row| {
        let photo = &sheet.shot(row).hash;
        let crop = row
            .mark
            .and_then(|m| opened.cache.crop(photo, m).ok().flatten());
        let thumbnail = match row.mark {
            Some(_) => None,
            None => opened.cache.thumbnail(photo).ok().flatten(),
        };
        let kept = crop.is_some() || thumbnail.is_some();
        Material {
            row,
            crop,
            thumbnail,
            original: if kept { None } else { opened.original(photo) },
        }
    });
    let mut pictures = Vec::with_capacity(sheet.rows.len());
    let make = |material: Material<'_>| row_pictures(sheet, exemplars, &material);
    in_order(materials, jobs, make, |result| {
        pictures.push(result.unwrap_or_default());
        ControlFlow::<()>::Continue(())
    })
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))?;
    Ok(pictures)
}

fn row_pictures(sheet: &Sheet, exemplars: &Exemplars, material: &Material<'_>) -> RowPictures {
    let row = material.row;
    let shown = sheet.shown(row);
    let of = |beside: &Beside<'_>| exemplars.get(&Wanted::of(beside));
    let aligned = shown.first().and_then(|beside| match beside {
        Beside::Fitted(c) => Some((of(beside)?.frame, Quad::from_array(c.quad))),
        Beside::Decided(_) => None,
    });
    RowPictures {
        photo: photo_figure(sheet, row, material, aligned),
        exemplars: shown
            .iter()
            .map(|beside| Some(of(beside)?.figure.clone()))
            .collect(),
        own: shown
            .iter()
            .map(|beside| {
                of(beside).is_some_and(|s| s.photo.as_ref() == Some(&sheet.shot(row).hash))
            })
            .collect(),
        codes: code_figures(sheet, row, material),
        fused: None,
    }
}

/// The place of each date code of a mark, straightened and enlarged.
fn code_figures(sheet: &Sheet, row: &Row, material: &Material<'_>) -> Vec<Option<Figure>> {
    let dates = sheet.mark(row).map_or(&[][..], |m| m.dates.as_slice());
    if dates.is_empty() {
        return Vec::new();
    }
    let source = source(material);
    let one = |date| {
        let quad = code_quad(date)?;
        let (pixels, corners) = source.as_ref()?;
        let frame = SharedFrame::of(&quad)?;
        figure(&frame::photo_mark(pixels, corners, &quad, frame)?)
    };
    dates.iter().map(one).collect()
}

/// The mark in the exemplar's frame; without an exemplar straightened alone; without a mark the
/// whole photo.
fn photo_figure(
    sheet: &Sheet,
    row: &Row,
    material: &Material<'_>,
    aligned: Option<(SharedFrame, Quad<Photo>)>,
) -> Option<Figure> {
    let Some(mark) = sheet.mark(row) else {
        return whole_figure(material);
    };
    let (pixels, corners) = source(material)?;
    let straight = || {
        let quad = Quad::<Photo>::from_array(mark.quad);
        Some((SharedFrame::of(&quad)?, quad))
    };
    let (frame, quad) = aligned.or_else(straight)?;
    let warped = frame::photo_mark(&pixels, &corners, &quad, frame);
    figure(&warped.unwrap_or_else(|| frame::small(&pixels, frame::FRAME_PX as u32)))
}

/// The kept crop, or the whole original.
fn source(material: &Material<'_>) -> Option<(RgbImage, Quad<Photo>)> {
    let limits = DecodeLimits::default();
    if let Some(crop) = &material.crop {
        let pixels = photo::read_photo(&crop.jpeg, &limits).ok()?.pixels;
        return Some((pixels, crop.region.quad()));
    }
    let pixels = photo::read_photo(material.original.as_ref()?, &limits)
        .ok()?
        .pixels;
    let (w, h) = pixels.dimensions();
    Some((pixels, Quad::upright(0.0, 0.0, f64::from(w), f64::from(h))))
}

fn whole_figure(material: &Material<'_>) -> Option<Figure> {
    let bytes = material.thumbnail.as_ref().or(material.original.as_ref())?;
    let photo = photo::read_photo(bytes, &DecodeLimits::default()).ok()?;
    figure(&frame::small(&photo.pixels, frame::FRAME_PX as u32))
}
