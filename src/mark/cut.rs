//! Cutting a mark out of the full-size photo into a square frame of fixed size.

use image::RgbImage;

use crate::geometry::{Frame, Homography, Mark, Photo, Point};
use crate::ink::small::SmallInk;
use crate::ink::{InkMap, map_ink};
use crate::mark::regions::Region;
use crate::raster::{Plane, warp_rgb};
use crate::view::View;

/// Side of the square frame of a mark, in pixels.
pub const SIDE: usize = 448;
/// The mark's enclosing circle fills this share of the frame, so that a region found a little too
/// small still holds the mark and the ground is seen all round.
const FILL: f64 = 1.0 / 1.12;

/// A mark in its own frame, `SIDE` pixels square.
#[derive(Debug, Clone)]
pub struct Cut<F: Frame> {
    pub rgb: RgbImage,
    pub ink: InkMap,
    pub from_photo: Homography<Photo, F>,
}

/// Cuts a region out of the photo, or out of its view where that is fine enough. `None` for a region
/// without a radius.
pub fn cut<F: Frame>(photo: &RgbImage, view: &View, region: &Region) -> Option<Cut<F>> {
    let from_photo: Homography<Photo, F> = frame_of(region, view.scale, SIDE, FILL);
    let fine = 2.0 * region.radius / FILL >= SIDE as f64;
    let (source, scale) = if fine {
        (&view.rgb, 1.0)
    } else {
        (photo, view.scale)
    };
    let from_source: Homography<Photo, F> = frame_of(region, scale, SIDE, FILL);
    let (rgb, seen) = warp_rgb(source, &from_source.inverse()?, SIDE, SIDE);
    let enlarged = from_source.local_area(Point::new(0.0, 0.0)).abs().sqrt();
    let ink = map_ink(&rgb, &seen, (enlarged.ceil() as usize).max(1));
    Some(Cut {
        rgb,
        ink,
        from_photo,
    })
}

/// The map from a picture, `scale` times the view's size, to a frame of `side` pixels in which the
/// region's circle fills `fill` of the side.
fn frame_of<A: Frame, F: Frame>(
    region: &Region,
    scale: f64,
    side: usize,
    fill: f64,
) -> Homography<A, F> {
    let half = side as f64 / 2.0;
    let k = half * fill / region.radius;
    Homography::affine([
        [k / scale, 0.0, half - k * region.centre.x],
        [0.0, k / scale, half - k * region.centre.y],
    ])
}

/// The ink map of a region at `side` pixels, cut from the size of the picture that is nearest to its
/// own.
pub fn small(photo: &RgbImage, view: &View, region: &Region, side: usize) -> SmallInk {
    let (rgb, inside) = pixels(photo, view, region, side, SMALL_FILL);
    SmallInk::of(&rgb, &inside)
}

/// The colours of a region at `side` pixels, its circle filling `fill` of the side, and 1 where the photo has
/// pixels; cut from the size of the picture that is nearest to its own.
pub fn pixels(
    photo: &RgbImage,
    view: &View,
    region: &Region,
    side: usize,
    fill: f64,
) -> (RgbImage, Plane) {
    let wanted = 2.0 * region.radius / fill / side as f64;
    // Sizes are relative to the view: the photo itself is the finest.
    let (source, scale) = if wanted < 1.0 {
        (photo, view.scale)
    } else if wanted < 2.0 {
        (&view.rgb, 1.0)
    } else if wanted < 4.0 {
        (&view.coarser[0], 0.5)
    } else {
        (&view.coarser[1], 0.25)
    };
    let frame: Homography<Photo, Mark> = frame_of(region, scale, side, fill);
    let cut = frame
        .inverse()
        .map(|back| warp_rgb(source, &back, side, side));
    // A region has a radius, so that its frame can be inverted.
    cut.unwrap_or_else(|| {
        let nothing = Plane::filled(side, side, 0.0);
        (RgbImage::new(side as u32, side as u32), nothing)
    })
}

/// The colours of which that map is made, and 1 where the photo has pixels.
pub fn small_pixels(
    photo: &RgbImage,
    view: &View,
    region: &Region,
    side: usize,
) -> (RgbImage, Plane) {
    pixels(photo, view, region, side, SMALL_FILL)
}

/// The map from the photo, `scale` times the view's size, to the small map of `side` pixels of a region.
pub fn small_frame(region: &Region, scale: f64, side: usize) -> Homography<Photo, Mark> {
    frame_of(region, scale, side, SMALL_FILL)
}

/// Share of the small map's side that the circle fills, as in training.
const SMALL_FILL: f64 = 1.0 / 1.08;

/// A map between two cuts as one between the small maps of `side` pixels of the same regions.
pub fn between_small<A: Frame, B: Frame>(map: &Homography<A, B>, side: usize) -> Homography<A, B> {
    let k = cut_to_small(side);
    let (cut, small) = (SIDE as f64 / 2.0, side as f64 / 2.0);
    let shrink = Homography::<B, B>::affine([
        [1.0 / k, 0.0, small - cut / k],
        [0.0, 1.0 / k, small - cut / k],
    ]);
    from_small::<A>(side).then(map).then(&shrink)
}

/// From the small map of `side` pixels of a region to its cut.
pub fn from_small<A: Frame>(side: usize) -> Homography<A, A> {
    let k = cut_to_small(side);
    let (cut, small) = (SIDE as f64 / 2.0, side as f64 / 2.0);
    Homography::affine([[k, 0.0, cut - k * small], [0.0, k, cut - k * small]])
}

/// Pixels of a cut a pixel of the small map of `side` pixels.
fn cut_to_small(side: usize) -> f64 {
    SIDE as f64 * FILL / (side as f64 * SMALL_FILL)
}

/// The whole picture as one mark: for exemplars whose box cannot be used.
pub fn whole<F: Frame>(photo: &RgbImage, region: &Region, scale: f64) -> Cut<F> {
    let k = SIDE as f64 / (2.0 * region.radius * scale).max(1.0);
    let half = SIDE as f64 / 2.0;
    let from_photo = Homography::affine([
        [k, 0.0, half - k * region.centre.x * scale],
        [0.0, k, half - k * region.centre.y * scale],
    ]);
    let back: Homography<F, Photo> = Homography::affine([
        [1.0 / k, 0.0, region.centre.x * scale - half / k],
        [0.0, 1.0 / k, region.centre.y * scale - half / k],
    ]);
    let (rgb, seen) = warp_rgb(photo, &back, SIDE, SIDE);
    let ink = map_ink(&rgb, &seen, (k.ceil() as usize).max(1));
    Cut {
        rgb,
        ink,
        from_photo,
    }
}
