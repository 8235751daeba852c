//! What the views of a mark are made from: the photo or its kept crop, and an exemplar laid over it.

use image::RgbImage;

use super::opened::Opened;
use super::report_page::{Wanted, exemplar_picture};
use crate::answer::{MarkAnswer, PhotoAnswer};
use crate::decision::ContentHash;
use crate::examine;
use crate::geometry::{Frame, Homography, Photo, Quad};
use crate::identify::Settings;
use crate::library::{FamilyId, Library};
use crate::photo::{self, DecodeLimits, UprightPhoto};
use crate::references::References;
use crate::report::frame::{Crop, ExemplarPhoto, MARGIN};
use crate::rescue::{Extent, Pictured, Rescue, Size, rescue};
use crate::verdict;

/// Pixels that show a mark, and where their corners lie in the photo.
pub(crate) struct Ground {
    pub(crate) pixels: RgbImage,
    pub(crate) corners: Quad<Photo>,
    /// Only the cut-out picture was left.
    pub(crate) is_crop: bool,
}

impl Ground {
    /// A whole photo.
    pub(crate) fn whole(pixels: RgbImage) -> Self {
        let (w, h) = pixels.dimensions();
        Self {
            corners: Quad::upright(0.0, 0.0, f64::from(w), f64::from(h)),
            pixels,
            is_crop: false,
        }
    }

    /// The original where it is in reach, else what the workspace keeps of the photo. `None` where nothing
    /// is left.
    pub(crate) fn of(opened: &Opened, photo: &ContentHash, mark: Option<usize>) -> Option<Self> {
        Self::original(opened, photo).or_else(|| Self::left(opened, photo, mark))
    }

    /// The same the other way round: what is kept is smaller and quicker to read.
    pub(crate) fn kept(opened: &Opened, photo: &ContentHash, mark: Option<usize>) -> Option<Self> {
        Self::left(opened, photo, mark).or_else(|| Self::original(opened, photo))
    }

    fn original(opened: &Opened, photo: &ContentHash) -> Option<Self> {
        read(&opened.original(photo)?).map(Self::whole)
    }

    fn left(opened: &Opened, photo: &ContentHash, mark: Option<usize>) -> Option<Self> {
        let Some(mark) = mark else {
            let pixels = read(&opened.cache.thumbnail(photo).ok()??)?;
            return Some(Self {
                is_crop: true,
                ..Self::whole(pixels)
            });
        };
        let crop = opened.cache.crop(photo, mark).ok()??;
        Some(Self {
            pixels: read(&crop.jpeg)?,
            corners: crop.region.quad(),
            is_crop: true,
        })
    }

    fn to_pixels(&self) -> Option<Homography<Photo, Crop>> {
        let (w, h) = self.pixels.dimensions();
        let own = Quad::<Crop>::upright(0.0, 0.0, f64::from(w), f64::from(h));
        Homography::between(&self.corners, &own)
    }

    /// All of the picture as one box: what stands in for a mark where none was found. The box lies inside by
    /// as much as a mark's box is given room.
    fn box_of_all(&self) -> Quad<Photo> {
        let (w, h) = self.pixels.dimensions();
        let (w, h) = (f64::from(w), f64::from(h));
        let room = w.max(h) * MARGIN / (1.0 + 2.0 * MARGIN);
        Quad::upright(room, room, w - room, h - room)
    }
}

fn read(bytes: &[u8]) -> Option<RgbImage> {
    Some(
        photo::read_photo(bytes, &DecodeLimits::default())
            .ok()?
            .pixels,
    )
}

/// An exemplar, and where its box lies in the photo.
pub(crate) struct Laid {
    pub(crate) family: String,
    picture: RgbImage,
    mark: Quad<ExemplarPhoto>,
    place: Quad<Photo>,
}

/// Lays the best exemplar of a family over a mark: as the answer says, or anew where the family is not in it.
/// `None` where the family has no picture that can be laid there.
pub(crate) fn lay(
    library: &Library,
    references: &References,
    ground: &Ground,
    mark: &MarkAnswer,
    family: &str,
) -> Option<Laid> {
    let fitted = mark.candidates.iter().find(|c| c.family == family);
    let as_said = fitted.and_then(|c| {
        let wanted = Wanted::exactly(family, &c.exemplar);
        let (picture, own) = exemplar_picture(library, references, &wanted)?;
        Some((picture, own, Quad::from_array(c.quad)))
    });
    let (picture, own, place) = as_said.or_else(|| {
        let place = Quad::from_array(mark.quad);
        anew(library, references, ground, &place, family)
    })?;
    Some(Laid {
        family: family.to_owned(),
        picture,
        mark: own,
        place,
    })
}

/// Lays the best exemplar of a family over another family's, whose box is given.
pub(crate) fn lay_beside(
    library: &Library,
    references: &References,
    picture: &RgbImage,
    own: &Quad<ExemplarPhoto>,
    family: &str,
) -> Option<Laid> {
    let ground = Ground::whole(picture.clone());
    let at = Quad::from_array(own.to_array());
    let (picture, mark, place) = anew(library, references, &ground, &at, family)?;
    Some(Laid {
        family: family.to_owned(),
        picture,
        mark,
        place,
    })
}

/// What was laid over an exemplar, in the frame of that exemplar.
pub(crate) fn in_frame_of<'a>(
    own: &Quad<ExemplarPhoto>,
    laid: &'a Laid,
) -> Option<Pictured<'a, ExemplarPhoto>> {
    let there = Quad::<ExemplarPhoto>::from_array(laid.place.to_array());
    let to_own = Homography::<ExemplarPhoto, ExemplarPhoto>::between(&laid.mark, &there)?;
    let (w, h) = laid.picture.dimensions();
    let outline = Quad::upright(0.0, 0.0, f64::from(w), f64::from(h));
    Some(Pictured {
        pixels: &laid.picture,
        corners: to_own.apply_quad(&outline)?,
        mark: *own,
        extent: Extent::Mark,
    })
}

/// The same with that family alone as the library, at the place of the mark.
fn anew(
    library: &Library,
    references: &References,
    ground: &Ground,
    place: &Quad<Photo>,
    family: &str,
) -> Option<(RgbImage, Quad<ExemplarPhoto>, Quad<Photo>)> {
    let id = library.find(&FamilyId::parse(family).ok()?)?.id.to_string();
    let own = references.filtered(|r| r.family == id);
    let to_pixels = ground.to_pixels()?;
    let quad = to_pixels.apply_quad(place)?;
    let photo = UprightPhoto {
        pixels: ground.pixels.clone(),
        taken: None,
    };
    let found = photo::guarded(|| {
        let given = as_photo(&quad);
        let examined = examine::examine_at(&photo, &own, Some(&given), &mut |_, _| {});
        verdict::judge(&photo, &examined, &own, &Settings::default())
    });
    let candidate = found
        .ok()?
        .marks
        .into_iter()
        .next()?
        .candidates
        .into_iter()
        .next()?;
    let wanted = Wanted::exactly(&id, &candidate.exemplar);
    let (picture, own_quad) = exemplar_picture(library, references, &wanted)?;
    let place = Quad::<Crop>::from_array(candidate.quad);
    Some((picture, own_quad, to_pixels.inverse()?.apply_quad(&place)?))
}

/// The crop taken for a photo of its own.
fn as_photo<F: Frame>(quad: &Quad<F>) -> Quad<Photo> {
    Quad::from_array(quad.to_array())
}

/// The views of a mark that is known by its place alone.
pub(crate) fn views_of(
    ground: &Ground,
    mark: &MarkAnswer,
    laid: &Laid,
    size: Size,
) -> Option<Rescue> {
    let blank = super::look::blank(std::path::Path::new(""));
    views(ground, &blank, Some(mark), Some(laid), size)
}

/// The views of a mark; of the whole photo where `mark` is `None`.
pub(crate) fn views(
    ground: &Ground,
    answer: &PhotoAnswer,
    mark: Option<&MarkAnswer>,
    laid: Option<&Laid>,
    size: Size,
) -> Option<Rescue> {
    let place = match (laid, mark) {
        (Some(laid), _) => laid.place,
        (None, Some(mark)) => Quad::from_array(mark.quad),
        (None, None) => ground.box_of_all(),
    };
    let shown = Pictured {
        pixels: &ground.pixels,
        corners: ground.corners,
        mark: place,
        extent: match mark {
            Some(_) => Extent::Mark,
            None => Extent::Whole,
        },
    };
    let exemplar = laid.map(|l| Pictured::whole(&l.picture, l.mark));
    let blur = answer.quality.map_or(0.0, |q| q.sharpness);
    let [a, b, ..] = ground.corners.0;
    let scale = f64::from(ground.pixels.width()) / a.distance(b).max(1e-6);
    rescue(shown, exemplar, blur * scale, size)
}
