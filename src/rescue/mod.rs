//! The rescue view: a weak or worn mark made legible, beside the library's exemplar in the same frame.
//!
//! Pure: pixels and places in, pictures out. Nothing here is evidence for a verdict; it is for the eye
//! of a person who has to decide.

mod deciding;
mod differences;
mod ink;
pub(crate) mod lettering;
mod panels;
mod places;
pub mod poster;
mod settle;
pub mod words;

use image::RgbImage;

use crate::geometry::{Frame, Homography, Photo, Point, Quad};
use crate::raster::{Plane, warp_rgb};
use crate::report::frame::{ExemplarPhoto, MARGIN, SharedFrame, Sheet};
pub use deciding::{Deciding, Ring, deciding};
pub use differences::{Silence, Told};
pub use ink::Extent;
use ink::LegibleInk;

/// A picture, its corners in the frame in which places are given, and the mark's box there.
#[derive(Debug, Clone, Copy)]
pub struct Pictured<'a, F: Frame> {
    pub pixels: &'a RgbImage,
    /// Of the picture: its own outline for a whole photo, the crop's place for a crop.
    pub corners: Quad<F>,
    pub mark: Quad<F>,
    pub extent: Extent,
}

/// Pixels of the picture itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Own {}
impl Frame for Own {}

impl<'a, F: Frame> Pictured<'a, F> {
    /// A whole photo.
    pub fn whole(pixels: &'a RgbImage, mark: Quad<F>) -> Self {
        let (w, h) = pixels.dimensions();
        Self {
            pixels,
            corners: Quad::upright(0.0, 0.0, f64::from(w), f64::from(h)),
            mark,
            extent: Extent::Mark,
        }
    }

    fn to_own(self) -> Option<Homography<F, Own>> {
        let (w, h) = self.pixels.dimensions();
        let own = Quad::<Own>::upright(0.0, 0.0, f64::from(w), f64::from(h));
        Homography::between(&self.corners, &own)
    }

    /// Longer side of the mark in the picture's own pixels.
    fn native(self) -> Option<f64> {
        let [a, b, c, d] = self.to_own()?.apply_quad(&self.mark)?.0;
        let across = a.distance(b).max(d.distance(c));
        Some(across.max(a.distance(d)).max(b.distance(c)))
    }
}

/// How large the pictures become: longer side in pixels, margins counted in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// A smaller mark is enlarged to it, so that thin strokes can be drawn at all.
    pub least: f64,
    /// A larger one is shrunk to it.
    pub most: f64,
}

impl Size {
    /// For one picture to look at closely: the mark's own pixels where they lie between these. At 1,150 two
    /// of them side by side fill a screen of today, and an A4 page at 300 dots per inch.
    pub const CLOSE: Self = Self {
        least: 720.0,
        most: 1150.0,
    };
    /// For a page of many: sharp on paper at 60 mm.
    pub const PAGE: Self = Self {
        least: 640.0,
        most: 640.0,
    };
}

/// A mark straightened, with what is known of each pixel.
struct Straight {
    rgb: RgbImage,
    /// 1 where the picture has pixels.
    seen: Plane,
    ink: LegibleInk,
}

impl Straight {
    /// `place` says where a point of the frame lies in the frame as the mark's box gives it.
    fn of<F: Frame>(
        pictured: Pictured<'_, F>,
        frame: &SharedFrame,
        place: Option<&Homography<Sheet, Sheet>>,
    ) -> Option<Self> {
        let plain = Homography::<Sheet, F>::between(&frame.mark, &pictured.mark)?;
        let placed = place.map_or(plain, |p| p.then(&plain));
        let to_own = placed.then(&pictured.to_own()?);
        let (w, h) = (frame.width as usize, frame.height as usize);
        let (rgb, seen) = warp_rgb(pictured.pixels, &to_own, w, h);
        let middle = Point::new(w as f64 / 2.0, h as f64 / 2.0);
        let enlarged = 1.0 / to_own.local_area(middle).abs().sqrt().max(1e-6);
        let grain = (enlarged.ceil() as usize).clamp(1, MOST_GRAIN);
        let ink = LegibleInk::of(&rgb, &seen, grain, pictured.extent);
        Some(Self { rgb, seen, ink })
    }
}

/// Enlargement beyond which a pixel of the photo is no wider for the ink map: what is enlarged tenfold
/// shows nothing any more.
const MOST_GRAIN: usize = 8;

/// An exemplar beside the photo.
#[derive(Debug, Clone)]
pub struct Beside {
    pub exemplar: RgbImage,
    /// The exemplar's ink, pale, under the photo's, dark.
    pub ghost: RgbImage,
    /// What only one of them shows.
    pub differences: RgbImage,
    pub told: Told,
}

/// The pictures of one mark.
#[derive(Debug, Clone)]
pub struct Rescue {
    pub photo: RgbImage,
    pub ink: RgbImage,
    /// How many pixels of the picture one of the photo became; below 1 where the mark was shrunk.
    pub enlarged: f64,
    pub beside: Option<Beside>,
}

/// Makes the pictures of a mark. `blur` is the photo's, as the sigma of a Gaussian in pixels of the
/// picture. `None` where a box has no area.
pub fn rescue(
    photo: Pictured<'_, Photo>,
    exemplar: Option<Pictured<'_, ExemplarPhoto>>,
    blur: f64,
    size: Size,
) -> Option<Rescue> {
    let native = photo.native()? * (1.0 + 2.0 * MARGIN);
    let longest = native.clamp(size.least, size.most);
    // The exemplar's proportions: the photo's box may be seen at a slant.
    let frame = match exemplar {
        Some(e) => SharedFrame::sized(&e.mark, longest)?,
        None => SharedFrame::sized(&photo.mark, longest)?,
    };
    let enlarged = longest / native;
    let mut shown = Straight::of(photo, &frame, None)?;
    let own = exemplar.and_then(|e| Straight::of(e, &frame, None));
    if let Some(place) = own
        .as_ref()
        .and_then(|o| settle::settle(&shown.ink, &o.ink))
    {
        shown = Straight::of(photo, &frame, Some(&place)).unwrap_or(shown);
    }
    let beside = own.map(|own| {
        let (differences, told) =
            differences::between(&shown.ink, &own.ink, &frame, (blur * enlarged) as f32);
        Beside {
            ghost: panels::ghost(&shown.ink, &own.ink),
            differences,
            told,
            exemplar: panels::on_paper(&own.rgb, &own.seen),
        }
    });
    Some(Rescue {
        photo: panels::on_paper(&shown.rgb, &shown.seen),
        ink: panels::ink(&shown.ink),
        enlarged,
        beside,
    })
}
