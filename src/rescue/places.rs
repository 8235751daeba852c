//! Spots in a mask, and the places that they make up.

use image::{GrayImage, Luma, Rgb, RgbImage};
use imageproc::region_labelling::{Connectivity, connected_components};

use crate::ink::box_min;
use crate::raster::Plane;

/// Greyscale dilation by a square of half-width `reach`.
pub(super) fn grown(mask: &Plane, reach: usize) -> Plane {
    box_min(&mask.map(|v| 1.0 - v), reach).map(|v| 1.0 - v)
}

/// What is left of a mask where a square of half-width `reach` fits in: greyscale opening.
pub(super) fn opened(mask: &Plane, reach: usize) -> Plane {
    grown(&box_min(mask, reach), reach)
}

/// Keeps connected spots of at least so many pixels.
pub(super) fn spots(mask: &[bool], width: usize, least: usize) -> Vec<bool> {
    let labels = labels(mask, width);
    let mut sizes: Vec<usize> = Vec::new();
    for label in labels.iter().map(|l| *l as usize) {
        if sizes.len() <= label {
            sizes.resize(label + 1, 0);
        }
        sizes[label] += 1;
    }
    let kept = |l: &u32| *l > 0 && sizes[*l as usize] >= least.max(1);
    labels.iter().map(kept).collect()
}

/// 0 outside the mask, else the number of the connected spot.
fn labels(mask: &[bool], width: usize) -> Vec<u32> {
    let height = mask.len() / width.max(1);
    let image = GrayImage::from_fn(width as u32, height as u32, |x, y| {
        Luma([u8::from(mask[y as usize * width + x as usize]) * 255])
    });
    connected_components(&image, Connectivity::Eight, Luma([0])).into_raw()
}

/// A group of spots: corners of the rectangle around it, in whole pixels, and how many it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    left: u32,
    top: u32,
    right: u32,
    bottom: u32,
    pixels: usize,
}

/// Groups of spots that lie within `near` of one another, largest first.
pub(super) fn places(mask: &[bool], width: usize, near: usize) -> Vec<Place> {
    let height = mask.len() / width.max(1);
    let values = mask.iter().map(|m| f32::from(u8::from(*m)));
    let plane = Plane::from_vec(width, height, values.collect());
    let joined: Vec<bool> = grown(&plane, near)
        .data()
        .iter()
        .map(|v| *v > 0.5)
        .collect();
    let mut found: Vec<Place> = Vec::new();
    for (at, label) in labels(&joined, width).into_iter().enumerate() {
        let (x, y) = ((at % width) as u32, (at / width) as u32);
        let Some(index) = (label as usize).checked_sub(1) else {
            continue;
        };
        while found.len() <= index {
            found.push(Place {
                left: u32::MAX,
                top: u32::MAX,
                right: 0,
                bottom: 0,
                pixels: 0,
            });
        }
        let place = &mut found[index];
        place.left = place.left.min(x);
        place.top = place.top.min(y);
        place.right = place.right.max(x);
        place.bottom = place.bottom.max(y);
        place.pixels += usize::from(mask[at]);
    }
    found.retain(|p| p.pixels > 0);
    found.sort_by_key(|p| (std::cmp::Reverse(p.pixels), p.top, p.left));
    found
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Line {
    Solid,
    Dashed,
}

/// Width of a frame's line and period of its dashes, in pixels.
const LINE: u32 = 2;
const DASH: u32 = 12;

impl Place {
    pub(super) fn pixels(&self) -> usize {
        self.pixels
    }

    /// Left, top, right and bottom, in whole pixels.
    pub(super) fn corners(&self) -> [u32; 4] {
        [self.left, self.top, self.right, self.bottom]
    }

    pub(super) fn grown(&self, by: u32, width: usize, height: usize) -> Self {
        Self {
            left: self.left.saturating_sub(by),
            top: self.top.saturating_sub(by),
            right: (self.right + by).min(width as u32 - 1),
            bottom: (self.bottom + by).min(height as u32 - 1),
            pixels: self.pixels,
        }
    }

    pub(super) fn holds(&self, at: usize, width: usize) -> bool {
        let (x, y) = ((at % width) as u32, (at / width) as u32);
        (self.left..=self.right).contains(&x) && (self.top..=self.bottom).contains(&y)
    }

    /// Hands on the index of every pixel in the rectangle.
    pub(super) fn each(&self, width: usize, mut hand_on: impl FnMut(usize)) {
        for y in self.top as usize..=self.bottom as usize {
            (self.left as usize..=self.right as usize).for_each(|x| hand_on(y * width + x));
        }
    }

    pub(super) fn draw(&self, picture: &mut RgbImage, colour: [u8; 3], line: Line) {
        let on = |along: u32| line == Line::Solid || along % DASH < DASH * 6 / 10;
        for y in self.top..=self.bottom {
            for x in self.left..=self.right {
                let side = x < self.left + LINE || x + LINE > self.right;
                let level = y < self.top + LINE || y + LINE > self.bottom;
                if (side && on(y)) || (level && on(x)) {
                    picture.put_pixel(x, y, Rgb(colour));
                }
            }
        }
    }
}
