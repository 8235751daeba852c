//! Where the mark stands on the base and how the camera is held over it.

use crate::base::Base;
use crate::camera::{Camera, Pose};
use crate::drawing::Bounds;
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

pub fn framing(order: &Order, base: &Base, drawn: &Bounds, rng: &mut Rng) -> Framing {
    let portrait = rng.chance(0.5);
    let (width, height) = if portrait { (1200, 1600) } else { (1600, 1200) };
    let (w, short) = (width as f32, 1200.0);
    let (bw, bh) = (drawn.width(), drawn.height());
    let half_diagonal = 0.5 * bw.hypot(bh) / bw.max(bh);
    let room = base.ring.0 * 0.93;
    let most = room / half_diagonal;
    let small = order.condition == Condition::Small;
    let (mark, radius_px) = loop {
        let view = rng.unit();
        let radius_px = if small {
            short * rng.range(0.3, 0.46) / base.stretch
        } else if view < 0.4 {
            short * rng.range(0.4, 0.49) / base.stretch
        } else {
            short * rng.range(0.5, 1.5)
        };
        let share = if small {
            rng.range(0.05, 0.12)
        } else {
            rng.range(0.13, 0.6)
        };
        let mark = share * w / radius_px;
        let fits = mark < most && mark * radius_px < short * 0.8;
        if fits && (small || mark > 0.22) {
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
    let jitter = 0.12 * short / radius_px;
    let target = if radius_px * base.stretch < short * 0.5 {
        (rng.range(-0.1, 0.1), rng.range(-0.1, 0.1))
    } else {
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

/// A camera for the framing, its pose and its tilt in degrees.
pub fn camera(order: &Order, f: &Framing, rng: &mut Rng) -> (Camera, Pose, f32) {
    let tilt_deg = match (order.condition, order.severity) {
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
