//! Takes away the part that decides between forms of one family, or the place where it would stand, and leaves the
//! family's name: a label over it, ink that fades out towards it, the frame's edge.

use crate::artwork::Artwork;
use crate::camera::{Camera, Pose};
use crate::clutter;
use crate::decal::{Decal, Stuff};
use crate::deciding::{drawing, grid, outside, varying};
use crate::drawing::{Bounds, bounds_of};
use crate::random::Rng;
use crate::severity::shares;
use crate::shoot::{Set, ink_points, quad_of};
use crate::texture::clouds;
use crate::truth::Quad;
use serde::Serialize;
use std::f32::consts::{FRAC_PI_2, PI};

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    Covered,
    Worn,
    Cut,
}

impl Way {
    pub const ALL: [Self; 3] = [Self::Covered, Self::Worn, Self::Cut];
}

/// Takes the part away; where the frame cannot do so without the line's name, a larger label does.
pub fn remove(set: &mut Set, way: Way, artwork: &Artwork, rng: &mut Rng) {
    let Some((_, posed)) = &set.mark else { return };
    let part = varying(&posed.drawn.foot);
    if part.is_empty() {
        return;
    }
    set.removed = Some(way);
    match way {
        Way::Covered => cover(set, &part, rng.range(1.15, 1.4), artwork, rng),
        Way::Worn => wear(set, &part, rng),
        Way::Cut => {
            if !cut(set, &part, rng) {
                set.removed = Some(Way::Covered);
                cover(set, &part, rng.range(1.6, 2.2), artwork, rng);
            }
        }
    }
}

/// Labels tried before one that does not cover all is left as it is, and how much each is larger than the last.
const LABELS: usize = 8;
const LARGER: f32 = 1.12;
/// How far above the part a label begins, in drawing units: under the descenders of the name.
const OVERHANG: f32 = 0.03;

/// A label over the part that hangs down from it, so that the name above stays free. `grow` is its width against the
/// part's.
fn cover(set: &mut Set, part: &Bounds, grow: f32, artwork: &Artwork, rng: &mut Rng) {
    let Some((index, posed)) = &set.mark else {
        return;
    };
    let own = set.scene.decals[*index].clone();
    let t = posed.to_map;
    let unit = t.sx * own.scale;
    let pixels = (part.width() * unit * grow / set.scene.pixel_size()).clamp(60.0, 1100.0);
    let Some((map, colours)) = clutter::oblong_paper(artwork, pixels as u32, rng) else {
        return;
    };
    let shape = map.height as f32 / map.width as f32;
    let high = part.height() + 2.0 * OVERHANG;
    let mut wide = (part.width() * grow).max(high * 1.1 / shape);
    let turn = own.angle + rng.range(-0.02, 0.02);
    let aside = rng.range(-0.4, 0.4);
    let shine = rng.range(0.0, 0.25);
    for _ in 0..LABELS {
        let slack = (wide - part.width()) / 2.0;
        let x = (part.left + part.right) / 2.0 + aside * slack;
        let y = part.top - OVERHANG + wide * shape / 2.0;
        let at = own.place(t.sx * x + t.tx, t.sy * y + t.ty);
        let stuff = Stuff::Paper {
            colours: colours.clone(),
            shine,
        };
        let scale = wide * unit / map.width as f32;
        let decal = Decal::new(map.clone(), stuff, at, turn, scale);
        set.scene.decals.push(decal);
        if shares(&set.scene, &grid(set, part)).cut > 0.999 {
            break;
        }
        set.scene.decals.pop();
        wide *= LARGER;
    }
    set.distractors
        .push("label over the small print".to_string());
}

/// Lengths in drawing units: how far round the part no ink is left, over what length it comes back, and how much that
/// edge wanders.
const GONE: f32 = 0.02;
const FADES: (f32, f32) = (0.3, 0.5);
const WANDERS: f32 = 0.08;

/// Ink that fades out towards the part: what stands round it is weak as well.
fn wear(set: &mut Set, part: &Bounds, rng: &mut Rng) {
    let Some((index, posed)) = &mut set.mark else {
        return;
    };
    let decal = &mut set.scene.decals[*index];
    let (ox, oy) = (rng.range(0.0, 256.0), rng.range(0.0, 256.0));
    let over = rng.range(FADES.0, FADES.1);
    let wide = decal.map.width;
    for i in 0..decal.map.data.len() {
        let (x, y) = drawing(posed, ((i % wide) as f32, (i / wide) as f32));
        let edge = outside(part, x, y) - GONE
            + WANDERS * clouds().sample(x * 9.0 + ox, y * 9.0 + oy).min(0.0);
        let keep = (edge / over).clamp(0.0, 1.0);
        decal.map.data[i] *= keep;
        posed.struck.data[i] *= keep;
    }
    set.points = ink_points(decal, posed);
}

/// Turn of the mark against the frame's edge, at most (radians): more would take one end of the name.
const SKEW: f32 = 0.015;
/// Share of the name's ink that must stay.
const NAME_LEFT: f32 = 0.9;

/// Turns and moves the camera until the frame ends between name and part. False, and nothing changed, where that
/// takes the name as well.
fn cut(set: &mut Set, part: &Bounds, rng: &mut Rng) -> bool {
    let (pose, before) = (set.pose, shares(&set.scene, &set.points).deciding);
    let side = rng.below(4) as f32 * FRAC_PI_2;
    upright(set, side + rng.range(-SKEW, SKEW));
    for _ in 0..2 {
        let Some(quad) = quad_in(set, part) else {
            break;
        };
        let Some(whole) = own_bounds(set).and_then(|b| quad_in(set, &b)) else {
            break;
        };
        let to = aside(set, side, &quad, &whole);
        let (x, y) = set.pose.centre;
        aim(
            set,
            Pose {
                centre: (x + to.0, y + to.1),
                ..set.pose
            },
        );
    }
    let gone = shares(&set.scene, &grid(set, part)).cut > 0.999;
    let left = shares(&set.scene, &set.points).deciding;
    if !gone || left < before * NAME_LEFT {
        aim(set, pose);
        return false;
    }
    set.distractors.push("cut by the frame".to_string());
    true
}

fn aim(set: &mut Set, pose: Pose) {
    set.scene.camera = Camera::new(&pose);
    set.pose = pose;
    set.quad = own_bounds(set).and_then(|b| quad_in(set, &b));
}

fn own_bounds(set: &Set) -> Option<Bounds> {
    Some(set.mark.as_ref()?.1.drawn.bounds)
}

fn quad_in(set: &Set, b: &Bounds) -> Option<Quad> {
    let (index, posed) = set.mark.as_ref()?;
    quad_of(&set.scene, &set.scene.decals[*index], posed.to_map, b)
}

/// Rounds of turning: a tilted camera turns the mark a little more or less than itself.
const TURNS: usize = 3;

/// Turns the camera until the line of the name runs along a side of the frame: `wanted` is where the mark's lower side
/// points in the photo, clockwise from right.
fn upright(set: &mut Set, wanted: f32) {
    for _ in 0..TURNS {
        let points = |set: &Set| {
            let (_, posed) = set.mark.as_ref()?;
            let q = quad_in(set, &bounds_of(&posed.drawn.deciding))?;
            // A quarter turn on from where the line of the name runs.
            Some((q[1][1] - q[0][1]).atan2(q[1][0] - q[0][0]) + FRAC_PI_2)
        };
        let Some(now) = points(set) else { return };
        let by = (wanted - now + PI).rem_euclid(2.0 * PI) - PI;
        let pose = set.pose;
        let turned = |by: f32| Pose {
            roll: pose.roll + by,
            ..pose
        };
        aim(set, turned(-by));
    }
}

/// How far the picture must move, in pixels: the part beyond the frame on its side, and the mark to the middle of it.
fn aside(set: &Set, side: f32, part: &Quad, whole: &Quad) -> (f32, f32) {
    let (w, h) = (set.scene.width as f32, set.scene.height as f32);
    let span = |q: &Quad, i: usize| {
        let low = q.iter().map(|p| p[i]).fold(f32::MAX, f32::min);
        let high = q.iter().map(|p| p[i]).fold(f32::MIN, f32::max);
        (low, high)
    };
    let middle = |i: usize, most: f32| {
        let (low, high) = span(whole, i);
        most / 2.0 - (low + high) / 2.0
    };
    let beyond = |i: usize, most: f32, ahead: bool| {
        let (low, high) = span(part, i);
        if ahead { most + 2.0 - low } else { -2.0 - high }
    };
    match (side / FRAC_PI_2).round() as usize % 4 {
        0 => (beyond(0, w, true), middle(1, h)),
        1 => (middle(0, w), beyond(1, h, true)),
        2 => (beyond(0, w, false), middle(1, h)),
        _ => (middle(0, w), beyond(1, h, false)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::deciding::{State, deciding, deciding_left};
    use crate::family::Family;
    use crate::foot::{Foot, Part};
    use crate::mark::Layout;
    use crate::record::LEGIBLE_SHARE;
    use crate::severity::Measured;
    use crate::shoot::{Order, set_up};
    use crate::tests::{artwork, family};
    use crate::truth::{Condition, Kind, Severity};

    /// A mark with a rule or none where another form has two; three dots below a ribbon stand for the name.
    fn form(shown: Option<usize>) -> Family {
        let mut family = family(8);
        family.design.layout = Layout::Ribbon;
        family.design.foot = Foot {
            places: vec![vec![Part::Rules(1), Part::Rules(2)]],
            shown: vec![shown],
            rivals: vec![vec![Some(1)]],
            differs: None,
        };
        family
    }

    fn set(family: &Family, seed: u64) -> Set {
        let order = Order::plain(Kind::Known, Condition::Good, Severity::Easy);
        set_up(&artwork(), &order, family, &mut Rng::new(seed))
    }

    fn sharp() -> Measured {
        Measured {
            stroke_px: 8.0,
            letter_px: 60.0,
            blur_w: 0.1,
            contrast_noise: 20.0,
            ..Measured::default()
        }
    }

    fn state(set: &Set, family: &Family, m: &Measured) -> State {
        let found = deciding(set, &family.design.foot, m);
        found.expect("the family has two forms").state
    }

    #[test]
    fn a_sharp_photo_shows_a_part_and_that_there_is_none() {
        for shown in [Some(0), None] {
            let family = form(shown);
            let set = set(&family, 3);
            assert_eq!(state(&set, &family, &sharp()), State::Legible, "{shown:?}");
            let blurred = Measured {
                blur_w: 2.5,
                ..sharp()
            };
            assert_eq!(state(&set, &family, &blurred), State::Lost, "{shown:?}");
        }
    }

    #[test]
    fn nothing_below_a_weak_strike_says_nothing() {
        let family = form(None);
        let mut set = set(&family, 3);
        set.points.iter_mut().for_each(|p| p.struck *= 0.4);
        assert_eq!(state(&set, &family, &sharp()), State::Lost);
    }

    #[test]
    fn each_way_takes_the_part_and_leaves_the_name() {
        for (way, shown) in Way::ALL.into_iter().flat_map(|w| [(w, Some(0)), (w, None)]) {
            for seed in 1..5 {
                let family = form(shown);
                let mut set = set(&family, seed);
                let before = shares(&set.scene, &set.points).deciding;
                remove(&mut set, way, &artwork(), &mut Rng::new(seed));
                assert_eq!(set.removed, Some(way));
                let name = shares(&set.scene, &set.points).deciding / before;
                assert!(
                    name > LEGIBLE_SHARE,
                    "{way:?}, seed {seed}: {name} of the name is left"
                );
                assert_eq!(state(&set, &family, &sharp()), State::Removed, "{way:?}");
                // The rule on the scene finds the same without knowing what was done; but the dots stand further off
                // than a name, and stay strong where a name would be worn.
                set.removed = None;
                if way != Way::Worn || shown.is_some() {
                    assert_eq!(state(&set, &family, &sharp()), State::Lost, "{way:?}");
                }
            }
        }
    }

    #[test]
    fn worn_ink_comes_back_by_and_by() {
        let family = form(Some(0));
        let mut set = set(&family, 5);
        let kept = set.mark.as_ref().expect("a mark").1.struck.clone();
        remove(&mut set, Way::Worn, &artwork(), &mut Rng::new(2));
        let (_, posed) = set.mark.as_ref().expect("a mark");
        let left = |i: usize| posed.struck.data[i] / kept.data[i];
        let shares: Vec<f32> = (0..kept.data.len())
            .filter(|i| kept.data[*i] > 0.5)
            .map(left)
            .collect();
        let within = |low: f32, high: f32| shares.iter().any(|s| *s >= low && *s <= high);
        assert!(deciding_left(posed) < 0.01, "nothing is left of the part");
        assert!(within(0.0, 0.0) && within(0.2, 0.9) && within(1.0, 1.0));
    }
}
