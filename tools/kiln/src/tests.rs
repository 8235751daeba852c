//! The truth beside a photo against its pixels: the same scene is developed with and without ink.

use crate::artwork::{Artwork, Face, FontFile, Split};
use crate::decal::Decal;
use crate::develop::{Develop, Picture, develop, focused};
use crate::drawing::Font;
use crate::emblem::Emblem;
use crate::family::{Family, Means};
use crate::glaze::InkTone;
use crate::mark::{CodeStyle, Design, EmblemSource, Layout, SmallMark};
use crate::plane::Plane;
use crate::random::Rng;
use crate::record::truth_of;
use crate::severity::shares;
use crate::shoot::{Order, Set, set_up, take};
use crate::trouble;
use crate::truth::{Condition, Kind, Severity};
use crate::words::WordLists;
use std::collections::BTreeSet;

pub(crate) fn artwork() -> Artwork {
    let words = || vec!["Wick".to_string()];
    Artwork {
        split: Split::Fit,
        wide: false,
        fonts: vec![FontFile {
            face: Face::Sans,
            font: Font::blank(),
        }],
        icons: Vec::new(),
        words: WordLists {
            potteries: words(),
            lines: words(),
            places: words(),
            extras: words(),
        },
    }
}

pub(crate) fn family(seed: u64) -> Family {
    Family {
        id: "wick/tower".to_string(),
        name: "Wick".to_string(),
        design: Design {
            seed,
            layout: Layout::Ring,
            emblem: EmblemSource::Drawn(Emblem::Urn),
            maker: String::new(),
            line: String::new(),
            country: String::new(),
            extra: String::new(),
            small: SmallMark::Dots(3),
            foot: crate::foot::Foot::default(),
            code: CodeStyle::None,
            years: (1930, 1940),
            maker_font: 0,
            line_font: 0,
            print_font: 0,
            weight: 1.0,
        },
        ink: InkTone::Black,
        dark: false,
        means: Means::Printed,
        group: None,
        used: "1930/1940".to_string(),
        in_library: true,
    }
}

/// A set under one condition, without clutter.
fn set(condition: Condition, severity: Severity, seed: u64) -> (Set, Order, Rng) {
    let mut rng = Rng::new(seed);
    let order = Order::plain(Kind::Known, condition, severity);
    let (artwork, family) = (artwork(), family(seed));
    let mut set = set_up(&artwork, &order, &family, &mut rng);
    trouble::apply(&mut set, &order, &artwork, &mut rng);
    (set, order, rng)
}

fn quiet(how: &Develop) -> Develop {
    Develop {
        read: 0.0,
        shot: 0.0,
        sharpen: 0.0,
        ..*how
    }
}

fn shown(set: &Set, how: &Develop) -> Picture {
    let sharp = focused(&set.scene.expose().channels, how);
    develop(
        &sharp,
        how,
        (0, 0),
        (set.scene.width, set.scene.height),
        &mut Rng::new(1),
    )
}

/// Difference in brightness that the mark's ink makes.
fn ink_in_pixels(set: &mut Set, how: &Develop) -> Plane {
    let with = shown(set, how).luma_plane();
    let own = set.mark.as_ref().expect("a mark").0;
    let kept = set.scene.decals[own].map.clone();
    set.scene.decals[own].map = Plane::new(kept.width, kept.height);
    let without = shown(set, how).luma_plane();
    set.scene.decals[own].map = kept;
    let mut out = with;
    out.data
        .iter_mut()
        .zip(&without.data)
        .for_each(|(a, b)| *a = b - *a);
    out
}

fn ordinary() -> Develop {
    quiet(&Develop {
        vignette: 0.0,
        blur: 0.5,
        ..Develop::ordinary(0.6, &mut Rng::new(9))
    })
}

#[test]
fn the_quad_bounds_the_ink_that_is_seen() {
    for seed in [3, 4, 5] {
        let (mut set, _, _) = set(Condition::Good, Severity::Easy, seed);
        let w = set.stroke_px();
        let ink = ink_in_pixels(&mut set, &ordinary());
        let quad = set.quad.expect("a quad");
        let mut nearest = [f32::MAX; 4];
        for (i, _) in ink.data.iter().enumerate().filter(|(_, d)| **d > 25.0) {
            let (x, y) = ((i % ink.width) as f32 + 0.5, (i / ink.width) as f32 + 0.5);
            for k in 0..4 {
                let (a, b) = (quad[k], quad[(k + 1) % 4]);
                let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                let inside = (dx * (y - a[1]) - dy * (x - a[0])) / dx.hypot(dy);
                nearest[k] = nearest[k].min(inside);
            }
        }
        // Gain moves an edge by part of a stroke; wear may take the outermost line.
        assert!(
            nearest.iter().all(|d| d.abs() < 1.5 + w),
            "seed {seed}: {nearest:?}, w {w}"
        );
    }
}

#[test]
fn glare_hides_the_share_that_is_written() {
    for (severity, seed) in [(Severity::Easy, 11), (Severity::Medium, 12)] {
        let (mut set, _, _) = set(Condition::TiltGlare, severity, seed);
        let written = shares(&set.scene, &set.points).glare;
        let ink = ink_in_pixels(
            &mut set,
            &Develop {
                exposure: 1.0,
                ..ordinary()
            },
        );
        let window = set.scene.light.window.take();
        assert!(window.is_some());
        let clear = ink_in_pixels(
            &mut set,
            &Develop {
                exposure: 1.0,
                ..ordinary()
            },
        );
        let (mut hidden, mut all) = (0.0, 0.0);
        for (now, then) in ink.data.iter().zip(&clear.data).filter(|(_, c)| **c > 40.0) {
            all += 1.0;
            hidden += f32::from(u8::from(*now < 0.5 * then));
        }
        let seen = hidden / all;
        assert!(
            (seen - written).abs() < 0.1,
            "written {written}, in pixels {seen}"
        );
    }
}

#[test]
fn cuts_and_losses_take_the_share_that_is_written() {
    for (condition, severity, seed) in [
        (Condition::Partial, Severity::Medium, 21),
        (Condition::Partial, Severity::Easy, 25),
        (Condition::Weak, Severity::Medium, 22),
        (Condition::Weak, Severity::Hard, 23),
    ] {
        let (mut set, _, _) = set(condition, severity, seed);
        let s = shares(&set.scene, &set.points);
        let how = Develop {
            exposure: 0.8,
            contrast: 0.0,
            ..ordinary()
        };
        let now: f64 = ink_in_pixels(&mut set, &how).sum();
        let (own, posed) = set.mark.as_ref().expect("a mark");
        set.scene.decals[*own].map = posed.mask.clone();
        set.scene.decals.truncate(1);
        set.scene.overlays.clear();
        let mut pose = set.pose;
        if condition == Condition::Partial {
            pose.centre = (set.scene.width as f32 / 2.0, set.scene.height as f32 / 2.0);
        }
        set.scene.camera = crate::camera::Camera::new(&pose);
        let full: f64 = ink_in_pixels(&mut set, &how).sum();
        let (seen, written) = (now / full, f64::from((1.0 - s.cut) * s.left));
        assert!(
            (seen - written).abs() < 0.12,
            "{condition:?}: {written} against {seen}"
        );
    }
}

#[test]
fn blur_is_as_wide_as_is_written() {
    let (mut set, order, mut rng) = set(Condition::Blur, Severity::Medium, 31);
    let (_, how, _) = take(&set, &order, &mut rng);
    let w = set.stroke_px();
    let written = how.blur.hypot(how.shake.0 * 0.289) / w;
    assert!(
        (written - 0.6).abs() < 0.05,
        "wanted 0.6 w, written {written}"
    );
    let flat = Develop {
        denoise: 0.0,
        vignette: 0.0,
        contrast: 0.0,
        ..quiet(&how)
    };
    let blurred = ink_in_pixels(&mut set, &flat);
    let sharp = ink_in_pixels(
        &mut set,
        &Develop {
            blur: 0.0,
            shake: (0.0, 0.0),
            ..flat
        },
    );
    let miss = |k: f32| -> f64 {
        let s = sharp.blurred(k * w);
        s.data
            .iter()
            .zip(&blurred.data)
            .map(|(a, b)| f64::from(a - b).powi(2))
            .sum()
    };
    let steps: Vec<f32> = (2..=20).map(|i| i as f32 * 0.06).collect();
    let best = steps
        .iter()
        .copied()
        .min_by(|a, b| miss(*a).total_cmp(&miss(*b)));
    let best = best.expect("steps");
    assert!(
        (best - written).abs() < 0.2,
        "written {written} w, in pixels {best} w"
    );
}

#[test]
fn noise_in_low_light_is_as_strong_as_is_written() {
    let (mut set, order, mut rng) = set(Condition::LowLight, Severity::Medium, 41);
    let (picture, how, written) = take(&set, &order, &mut rng);
    assert!(
        (written / 3.0 - 1.0).abs() < 0.25,
        "wanted 3, written {written}"
    );
    let calm = Develop {
        read: 0.0,
        shot: 0.0,
        ..how
    };
    let clean = shown(&set, &calm).luma_plane();
    let ink = ink_in_pixels(&mut set, &calm);
    let strongest = ink.data.iter().copied().fold(0.0, f32::max);
    let mut on: Vec<f32> = ink
        .data
        .iter()
        .copied()
        .filter(|d| *d > 0.6 * strongest)
        .collect();
    on.sort_by(f32::total_cmp);
    let noisy = picture.luma_plane();
    let (mut sum, mut n) = (0.0f64, 0.0f64);
    let q = set.quad.expect("a quad");
    let (cx, cy) = (
        q.iter().map(|p| p[0]).sum::<f32>() / 4.0,
        q.iter().map(|p| p[1]).sum::<f32>() / 4.0,
    );
    for (i, d) in ink.data.iter().enumerate() {
        let (x, y) = ((i % ink.width) as f32, (i / ink.width) as f32);
        if d.abs() < 1.0 && (x - cx).abs().max((y - cy).abs()) < 120.0 {
            sum += f64::from(noisy.data[i] - clean.data[i]).powi(2);
            n += 1.0;
        }
    }
    let seen = f64::from(on[on.len() / 2]) / (sum / n).sqrt();
    assert!(
        (seen / f64::from(written) - 1.0).abs() < 0.3,
        "written {written}, in pixels {seen}"
    );
}

#[test]
fn the_truth_is_in_shares_of_what_was_ordered() {
    let (set, order, mut rng) = set(Condition::TiltGlare, Severity::Hard, 51);
    let (_, how, contrast) = take(&set, &order, &mut rng);
    let truth = truth_of(&set, &order, &family(51), &how, contrast, "x.jpg");
    let m = truth.measured.expect("a mark is measured");
    assert!(
        (m.tilt_deg - 50.0).abs() < 3.0 && (m.glare_share - 0.4).abs() < 0.06,
        "{m:?}"
    );
}

#[test]
fn no_emblem_serves_two_splits() {
    let all: Vec<Emblem> = [Split::Fit, Split::Tune, Split::Test]
        .iter()
        .flat_map(|s| s.emblems())
        .copied()
        .collect();
    let names: BTreeSet<String> = all.iter().map(|e| format!("{e:?}")).collect();
    assert_eq!(names.len(), all.len());
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let shoot = || {
        let (set, order, mut rng) = set(Condition::Smudge, Severity::Easy, 61);
        take(&set, &order, &mut rng).0.jpeg(80).expect("encodes")
    };
    assert!(shoot() == shoot());
}

/// Keeps the decal's frame honest: what is placed is found again.
#[test]
fn the_own_mark_is_where_its_decal_says() {
    let (set, _, _) = set(Condition::Good, Severity::Easy, 71);
    let decal: &Decal = &set.scene.decals[0];
    let p = set.points[set.points.len() / 2];
    let (u, v) = decal.local(p.x, p.y).expect("within reach");
    assert!(u >= 0.0 && v >= 0.0 && u < decal.map.width as f32 && v < decal.map.height as f32);
}
