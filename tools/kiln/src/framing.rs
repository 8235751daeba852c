//! Where the mark stands on the base and how the camera is held over it.

use crate::base::Base;
use crate::camera::{Camera, Pose};
use crate::drawing::Bounds;
use crate::fault::{Cause, Fault};
use crate::random::Rng;
use crate::shoot::Order;
use crate::truth::{Condition, Severity};

/// How the piece is framed. Lengths in base radii where not said otherwise.
#[derive(Clone, Copy, Debug)]
pub struct Framing {
    pub width: usize,
    pub height: usize,
    /// Photo pixels per base radius.
    pub radius_px: f32,
    /// Long side of the mark.
    pub mark: f32,
    pub centre: (f32, f32),
    pub angle: f32,
    pub target: (f32, f32),
}

/// Corner-to-corner margin kept inside the frame, in pixels.
pub const FRAME_MARGIN: f32 = 12.0;

/// The short side of a photo, in pixels.
const SHORT: f32 = 1200.0;
/// Shares of the photo's width that a mark takes, and those of a small one.
const SHARES: (f32, f32) = (0.13, 0.6);
const SMALL_SHARES: (f32, f32) = (0.05, 0.12);
/// Smallest mark on a base, in base radii, unless the order asks for a small one.
const LEAST_MARK: f32 = 0.22;

/// Frames a mark of the given box on `base`.
pub fn framing(order: &Order, base: &Base, drawn: &Bounds, rng: &mut Rng) -> Framing {
    let (width, height) = if rng.chance(0.5) {
        (1200, 1600)
    } else {
        (1600, 1200)
    };
    let (bw, bh) = (drawn.width(), drawn.height());
    let half_diagonal = 0.5 * bw.hypot(bh) / bw.max(bh);
    let room = base.ring.0 * 0.93;
    let far = Fault::of(order.extras.fault, Cause::Far).map(|f| 0.01 / f);
    let small = order.condition == Condition::Small || far.is_some();
    let (mark, radius_px) = loop {
        let radius_px = radius_in_view(base, small, rng);
        let (low, high) = match far {
            Some(share) => (share, 1.05 * share),
            None if small => SMALL_SHARES,
            None => SHARES,
        };
        let mark = rng.range(low, high) * width as f32 / radius_px;
        let fits = mark < room / half_diagonal && mark * radius_px < SHORT * 0.8;
        if fits && (small || mark > LEAST_MARK) {
            break (mark, radius_px);
        }
    };
    let free = (room - mark * half_diagonal).max(0.0);
    let (a, far) = (rng.angle(), free * rng.unit().sqrt() * 0.55);
    let mut centre = (far * a.cos() * base.stretch, far * a.sin());
    if order.condition == Condition::AcrossRing {
        let middle = (base.ring.0 + base.ring.1) / 2.0 + rng.range(-0.1, 0.1) * mark;
        centre = (middle * a.cos() * base.stretch, middle * a.sin());
    }
    let target = if radius_px * base.stretch < SHORT * 0.5 {
        (rng.range(-0.1, 0.1), rng.range(-0.1, 0.1))
    } else {
        let jitter = 0.12 * SHORT / radius_px;
        (
            centre.0 + jitter * rng.normal(),
            centre.1 + jitter * rng.normal(),
        )
    };
    Framing {
        width,
        height,
        radius_px,
        mark,
        centre,
        angle: rng.angle(),
        target,
    }
}

/// Photo pixels per base radius: four in ten show the whole base, the others come closer.
fn radius_in_view(base: &Base, small: bool, rng: &mut Rng) -> f32 {
    let view = rng.unit();
    if small {
        SHORT * rng.range(0.3, 0.46) / base.stretch
    } else if view < 0.4 {
        SHORT * rng.range(0.4, 0.49) / base.stretch
    } else {
        SHORT * rng.range(0.5, 1.5)
    }
}

/// A camera for the framing, its pose and its tilt in degrees.
pub fn camera(order: &Order, f: &Framing, rng: &mut Rng) -> (Camera, Pose, f32) {
    let tilted = Fault::of(order.extras.fault, Cause::Tilt);
    let tilt_deg = match (order.condition, order.severity) {
        _ if tilted.is_some() => tilted.unwrap_or_default(),
        (Condition::TiltGlare, Severity::Easy) => rng.range(18.0, 22.0),
        (Condition::TiltGlare, Severity::Medium) => rng.range(33.0, 37.0),
        (Condition::TiltGlare, Severity::Hard) => rng.range(48.0, 51.0),
        _ => 16.0 * rng.unit() * rng.unit().sqrt(),
    };
    let long = f.width.max(f.height) as f32;
    let focal = long * rng.range(0.75, 1.2);
    let pose = Pose {
        target: f.target,
        tilt: tilt_deg.to_radians(),
        azimuth: rng.angle(),
        roll: rng.angle(),
        distance: focal / f.radius_px,
        focal,
        centre: (f.width as f32 / 2.0, f.height as f32 / 2.0),
    };
    (Camera::new(&pose), pose, tilt_deg)
}
