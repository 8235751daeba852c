//! What goes wrong with a picture, set to the severities of the bench.

use crate::artwork::Artwork;
use crate::camera::Camera;
use crate::clutter;
use crate::develop::Develop;
use crate::fault::{Cause, Fault};
use crate::light::{Window, dot, unit};
use crate::random::Rng;
use crate::record::STREAK;
use crate::scene::{Overlay, Scene};
use crate::severity::shares;
use crate::shoot::{Order, Set};
use crate::strike::{Loss, Wear};
use crate::truth::{Condition, Severity};

fn by<T>(severity: Severity, easy: T, medium: T, hard: T) -> T {
    match severity {
        Severity::Easy => easy,
        Severity::Medium => medium,
        Severity::Hard => hard,
    }
}

/// Ink contrast over noise wanted in low light.
pub fn noise_target(severity: Severity) -> f32 {
    by(severity, 6.0, 3.0, 1.5)
}

/// Smear in stroke widths.
pub fn smear_of(order: &Order) -> f32 {
    if order.condition == Condition::Smudge {
        by(order.severity, 1.0, 2.0, 3.0)
    } else {
        0.0
    }
}

/// The strike that the order asks for.
pub fn wear(order: &Order, rng: &mut Rng) -> Wear {
    let mut wear = Wear::sound(rng);
    if let Some(Fault { cause, amount }) = order.extras.fault {
        if matches!(cause, Cause::Weak | Cause::Worn) {
            wear.left = 1.0 - amount;
            wear.fill = 0.0;
        }
        if cause == Cause::Worn {
            wear.loss = Loss::Rubbed;
        }
        return wear;
    }
    match order.condition {
        Condition::Weak => {
            wear.left = by(order.severity, 0.70, 0.45, 0.25);
            wear.gain = rng.range(-0.12, 0.05);
            wear.speckle = rng.range(0.0, 0.04);
            wear.fill = 0.0;
        }
        Condition::Smudge => {
            wear.smear = smear_of(order);
            wear.smear_angle = rng.angle();
            wear.left = rng.range(0.85, 1.0);
            if rng.chance(0.15) {
                wear.double = Some((rng.range(-1.5, 1.5), rng.range(-1.5, 1.5)));
            }
        }
        _ => {
            if rng.chance(0.06) {
                wear.double = Some((rng.range(-1.0, 1.0), rng.range(-1.0, 1.0)));
            }
        }
    }
    wear
}

/// Camera faults; `w` is the median stroke in pixels.
pub fn spoil(order: &Order, w: f32, how: &mut Develop, rng: &mut Rng) {
    match order.extras.fault.map(|f| (f.cause, f.amount)) {
        Some((Cause::Defocus, sigma)) => how.blur = sigma,
        Some((Cause::Motion, length)) => how.shake = (length, rng.angle()),
        Some((Cause::Dark, stops)) => how.exposure *= (-stops).exp2(),
        Some((Cause::Bright, stops)) => how.exposure *= stops.exp2(),
        _ => {}
    }
    match order.condition {
        Condition::Blur => {
            let sigma = w * by(order.severity, 0.3, 0.6, 1.0);
            if rng.chance(0.35) {
                how.blur = (sigma * 0.45).max(0.5);
                let rest = (sigma * sigma - how.blur * how.blur).max(0.0).sqrt();
                how.shake = (rest / STREAK, rng.angle());
            } else {
                how.blur = sigma.max(0.5);
            }
        }
        Condition::LowLight => {
            how.exposure *= rng.range(0.55, 0.9);
            how.read = 0.01;
            how.shot = 0.03;
            how.denoise = rng.range(0.0, 0.3);
            how.sharpen = rng.range(0.4, 1.0);
            how.vignette += 0.15;
            how.balance[2] *= 0.85;
        }
        _ => {}
    }
}

/// Changes of the scene: glare, covers, cuts.
pub fn apply(set: &mut Set, order: &Order, artwork: &Artwork, rng: &mut Rng) {
    if let Some(Fault { cause, amount }) = order.extras.fault {
        return match cause {
            Cause::Glare => glare(set, amount, rng),
            Cause::Cut => cut(set, amount, rng),
            Cause::Label => clutter::sticker_over(set, amount, artwork, rng),
            Cause::Scratch => clutter::scratches_through(set, amount as usize, rng),
            Cause::Hole => clutter::hole_through(set, amount / 100.0, rng),
            _ => {}
        };
    }
    match order.condition {
        Condition::TiltGlare => {
            let wanted = by(order.severity, 0.10, 0.25, 0.40);
            glare(set, wanted, rng);
        }
        Condition::Partial => {
            let wanted = by(order.severity, 0.15, 0.30, 0.45);
            match rng.below(3) {
                0 => cut(set, wanted, rng),
                1 => thumb(set, wanted, rng),
                _ => clutter::sticker_over(set, wanted, artwork, rng),
            }
        }
        _ => {
            if rng.chance(0.18) {
                stray_window(&mut set.scene, rng);
            }
        }
    }
}

/// Slope coordinates of the ray that the base mirrors at a place.
fn mirrored(scene: &Scene, x: f32, y: f32) -> (f32, f32) {
    let spot = scene.base.spot(x, y);
    let n = unit([-spot.slope.0, -spot.slope.1, 1.0]);
    let e = scene.camera.eye;
    let v = unit([e[0] - x, e[1] - y, e[2] - spot.z]);
    let k = 2.0 * dot(n, v);
    let r = [k * n[0] - v[0], k * n[1] - v[1], k * n[2] - v[2]];
    (r[0] / r[2].max(0.05), r[1] / r[2].max(0.05))
}

fn glare(set: &mut Set, wanted: f32, rng: &mut Rng) {
    let Some(at) = set.points.get(rng.below(set.points.len())).copied() else {
        return;
    };
    let centre = mirrored(&set.scene, at.x, at.y);
    let aspect = rng.range(0.5, 0.9);
    let mut window = Window {
        centre,
        half: (0.1, 0.1),
        turn: rng.angle(),
        soft: rng.range(0.008, 0.03),
        bars: 0.0,
        radiance: rng.range(38.0, 80.0),
    };
    let barred = rng.chance(0.4);
    let (mut low, mut high) = (0.002f32, 1.6f32);
    for _ in 0..14 {
        let size = (low + high) / 2.0;
        window.half = (size * aspect, size);
        window.bars = if barred { size * 0.05 } else { 0.0 };
        set.scene.light.window = Some(window);
        if shares(&set.scene, &set.points).glare < wanted {
            low = size;
        } else {
            high = size;
        }
    }
}

/// A window mirrored somewhere on the piece, mostly away from the mark.
fn stray_window(scene: &mut Scene, rng: &mut Rng) {
    let (a, r) = (rng.angle(), scene.base.ring.0 * rng.range(0.75, 1.6));
    let centre = mirrored(scene, r.min(0.97) * a.cos(), r.min(0.97) * a.sin());
    let size = rng.range(0.01, 0.06);
    scene.light.window = Some(Window {
        centre,
        half: (size * rng.range(0.5, 1.0), size),
        turn: rng.angle(),
        soft: rng.range(0.008, 0.04),
        bars: 0.0,
        radiance: rng.range(12.0, 50.0),
    });
}

/// Moves the frame until it cuts the wanted share of the ink.
fn cut(set: &mut Set, wanted: f32, rng: &mut Rng) {
    let (a, base) = (rng.angle(), set.pose);
    let (mut low, mut high) = (0.0f32, 2600.0f32);
    for _ in 0..16 {
        let by = (low + high) / 2.0;
        let mut pose = base;
        pose.centre = (base.centre.0 + by * a.cos(), base.centre.1 + by * a.sin());
        set.scene.camera = Camera::new(&pose);
        set.pose = pose;
        if shares(&set.scene, &set.points).cut < wanted {
            low = by;
        } else {
            high = by;
        }
    }
    set.distractors.push("cut by the frame".to_string());
    if let Some((i, posed)) = &set.mark {
        set.quad = crate::shoot::quad_of(
            &set.scene,
            &set.scene.decals[*i],
            posed.to_map,
            &posed.drawn.bounds,
        );
    }
}

fn thumb(set: &mut Set, wanted: f32, rng: &mut Rng) {
    let Some(quad) = set.quad else { return };
    let middle = (
        quad.iter().map(|p| p[0]).sum::<f32>() / 4.0,
        quad.iter().map(|p| p[1]).sum::<f32>() / 4.0,
    );
    let reach = (quad[0][0] - quad[2][0]).hypot(quad[0][1] - quad[2][1]) / 2.0;
    let a = rng.angle();
    let (dx, dy) = (a.cos(), a.sin());
    let radius = (reach * rng.range(0.4, 0.6)).max(60.0);
    let side = rng.range(-0.35, 0.35) * reach;
    let mut thumb = clutter::finger(radius, rng);
    let far = 2400.0;
    thumb.from = (
        middle.0 + dx * far - dy * side,
        middle.1 + dy * far + dx * side,
    );
    let index = set.scene.overlays.len();
    set.scene.overlays.push(thumb);
    let (mut low, mut high) = (-reach * 1.4, reach * 1.6);
    for _ in 0..14 {
        let t = (low + high) / 2.0;
        let o: &mut Overlay = &mut set.scene.overlays[index];
        o.to = (middle.0 + dx * t - dy * side, middle.1 + dy * t + dx * side);
        if shares(&set.scene, &set.points).cut > wanted {
            low = t;
        } else {
            high = t;
        }
    }
    set.distractors.push("thumb".to_string());
}
