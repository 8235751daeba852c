//! Cutting a mark out of the full-size photo into a square frame of fixed size.

use image::RgbImage;

use crate::geometry::{Frame, Homography, Photo, Point};
use crate::ink::{InkMap, map_ink};
use crate::mark::regions::Region;
use crate::raster::warp_rgb;

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

/// Cuts a region out of the photo. `scale` is the photo's size over the view's.
pub fn cut<F: Frame>(photo: &RgbImage, region: &Region, scale: f64) -> Option<Cut<F>> {
    let from_photo = frame_of(region, scale);
    let to_photo = from_photo.inverse()?;
    let (rgb, seen) = warp_rgb(photo, &to_photo, SIDE, SIDE);
    let enlarged = from_photo.local_area(Point::new(0.0, 0.0)).abs().sqrt();
    let ink = map_ink(&rgb, &seen, (enlarged.ceil() as usize).max(1));
    Some(Cut {
        rgb,
        ink,
        from_photo,
    })
}

/// The map from the photo to the frame in which the region's circle fills its share of the side.
pub fn frame_of<F: Frame>(region: &Region, scale: f64) -> Homography<Photo, F> {
    let half = SIDE as f64 / 2.0;
    let k = half * FILL / region.radius;
    let [[a, b], [c, d]] = region.upright;
    let centre = Point::<F>::new(region.centre.0, region.centre.1);
    Homography::affine([
        [k * a / scale, k * b / scale, half - k * centre.x],
        [k * c / scale, k * d / scale, half - k * centre.y],
    ])
}

/// The whole picture as one mark: for exemplars whose box cannot be used.
pub fn whole<F: Frame>(photo: &RgbImage, region: &Region, scale: f64) -> Cut<F> {
    let k = SIDE as f64 / (2.0 * region.radius * scale).max(1.0);
    let half = SIDE as f64 / 2.0;
    let from_photo = Homography::affine([
        [k, 0.0, half - k * region.centre.0 * scale],
        [0.0, k, half - k * region.centre.1 * scale],
    ]);
    let back: Homography<F, Photo> = Homography::affine([
        [1.0 / k, 0.0, region.centre.0 * scale - half / k],
        [0.0, 1.0 / k, region.centre.1 * scale - half / k],
    ]);
    let (rgb, seen) = warp_rgb(photo, &back, SIDE, SIDE);
    let ink = map_ink(&rgb, &seen, (k.ceil() as usize).max(1));
    Cut {
        rgb,
        ink,
        from_photo,
    }
}
