//! Faults of known size, put into a drawn mark one at a time.

use image::{Rgb, RgbImage};

use super::gilding::is_gilt;
use super::hole::hole;
use super::is_burnt;
use super::label::Label;
use super::laid::Laid;
use super::patch::{Ground, Patch};
use super::piece::Piece;
use crate::geometry::{Exemplar, Homography, Mark, Photo, Point, Quad};
use crate::ink::small::SmallInk;
use crate::raster::Plane;

const SIDE: usize = 224;
/// Photo pixels a pixel of the exemplar's map, and where that begins in the photo.
const SCALE: f64 = 1.5;
const ORIGIN: f64 = 40.0;
const GLAZE: Rgb<u8> = Rgb([226, 222, 210]);
const INK: Rgb<u8> = Rgb([60, 70, 110]);

/// A picture as a phone draws it that moved along a straight line; length in pixels, angle in radians.
pub(super) fn moved(p: &Plane, length: usize, angle: f32) -> Plane {
    let mut out = Plane::filled(p.width(), p.height(), 0.0);
    let steps = 2 * length;
    for y in 0..p.height() {
        for x in 0..p.width() {
            let sum: f32 = (0..=steps)
                .map(|i| {
                    let t = length as f32 * (i as f32 / steps as f32 - 0.5);
                    p.sample(
                        x as f32 + 0.5 + t * angle.cos(),
                        y as f32 + 0.5 + t * angle.sin(),
                    )
                })
                .sum();
            out.set(x, y, sum / (steps + 1) as f32);
        }
    }
    out
}

/// Rows of short bars, like lines of print, in the middle of the frame.
fn drawn() -> SmallInk {
    let mut ink = Plane::filled(SIDE, SIDE, 0.0);
    for y in 40..184 {
        for x in 40..184 {
            if (y - 40) % 18 < 9 && (x - 40) % 12 < 7 {
                ink.set(x, y, 1.0);
            }
        }
    }
    SmallInk {
        ink: ink.blur(0.6),
        valid: Plane::filled(SIDE, SIDE, 1.0),
    }
}

fn to_photo() -> Homography<Exemplar, Photo> {
    Homography::similarity(SCALE, 0.0, ORIGIN, ORIGIN)
}

fn photo_of(mark: &Plane, colour: Rgb<u8>) -> RgbImage {
    RgbImage::from_fn(420, 420, |x, y| {
        let u = ((f64::from(x) + 0.5 - ORIGIN) / SCALE) as f32;
        let v = ((f64::from(y) + 0.5 - ORIGIN) / SCALE) as f32;
        let k = if mark.contains(u, v) {
            mark.sample(u, v)
        } else {
            0.0
        };
        Rgb([0, 1, 2].map(|c| (f32::from(GLAZE[c]) * (1.0 - k) + f32::from(colour[c]) * k) as u8))
    })
}

struct Case {
    exemplar: SmallInk,
    mark: SmallInk,
    photo: RgbImage,
    to_photo: Homography<Exemplar, Photo>,
}

impl Case {
    /// A mark of which `left` says how much of each pixel's ink is there.
    fn new(left: impl Fn(usize, usize) -> f32) -> Self {
        let exemplar = drawn();
        let mut mark = exemplar.clone();
        for y in 0..SIDE {
            for x in 0..SIDE {
                let v = mark.ink.get(x, y) * left(x, y);
                mark.ink.set(x, y, v);
            }
        }
        Self {
            photo: photo_of(&mark.ink, INK),
            exemplar,
            mark,
            to_photo: to_photo(),
        }
    }

    fn laid(&self) -> Laid<'_> {
        let both = (&self.exemplar, self.mark.clone());
        Laid::new(both, self.to_photo, &self.photo, Ground::Seen, 0.8)
    }

    fn piece(&self) -> Piece {
        Piece::of(&self.photo, &self.laid())
    }
}

#[test]
fn a_sound_mark_lacks_and_bears_nothing() {
    let case = Case::new(|_, _| 1.0);
    let got = case.piece();
    assert!(got.lost < 0.03, "{got:?}");
    assert_eq!((got.covered, got.scratched, got.spotted), (0.0, 0.0, 0.0));
    assert_eq!(case.laid().cut(), 0.0);
    assert_eq!(case.laid().glared(), 0.0);
    assert!(case.laid().tilt().expect("a map") < 1.0);
}

#[test]
fn ink_that_fades_is_weak_and_what_breaks_off_or_is_gold_is_worn() {
    let patchy = |x: usize, y: usize| {
        if (x / 22 + y / 20).is_multiple_of(2) {
            0.0
        } else {
            1.0
        }
    };
    let blue = Case::new(patchy).piece();
    assert!((blue.lost - 0.5).abs() < 0.12, "{blue:?}");
    assert!(
        blue.told(false).worn > 0.3 && blue.told(false).faded == 0.0,
        "{blue:?}"
    );
    let faded = Case::new(|x, _| ((184.0 - x as f32) / 144.0).clamp(0.0, 1.0)).piece();
    assert!((faded.lost - 0.45).abs() < 0.15, "{faded:?}");
    assert!(
        faded.told(false).worn == 0.0 && faded.told(false).faded > 0.3,
        "{faded:?}"
    );
    // Gold that fades was struck weakly; what breaks off of it was rubbed, and a little of it is thin as well.
    let gold_of = |left: &dyn Fn(usize, usize) -> f32| {
        let mut gold = Case::new(left);
        gold.photo = photo_of(&gold.mark.ink, Rgb([194, 154, 82]));
        gold.piece().told(false)
    };
    let fading = |x: usize, _: usize| ((184.0 - x as f32) / 144.0).clamp(0.0, 1.0);
    let weak = gold_of(&fading);
    assert!(weak.faded > 0.3 && weak.worn == 0.0, "{weak:?}");
    let worn = gold_of(&patchy);
    assert!(worn.worn > 0.3 && worn.faded == 0.0, "{worn:?}");
    // Of what leans away strokes lie astray: less than half is not told.
    assert_eq!(
        Piece {
            lost: 0.4,
            ..Piece::default()
        }
        .told(true)
        .faded,
        0.0
    );
}

#[test]
fn gold_is_told_by_the_photo_alone() {
    let to_photo: Homography<Mark, Photo> = Homography::similarity(SCALE, 0.0, ORIGIN, ORIGIN);
    let gilt = |colour: [u8; 3], left: f32| {
        let mut case = Case::new(|_, _| 1.0);
        case.photo = photo_of(&case.mark.ink.map(|v| v * left), Rgb(colour));
        is_gilt(&case.photo, &case.mark, &to_photo, None)
    };
    let gold = [194, 154, 82];
    // Thin strokes are mixed with the glaze.
    assert!(gilt(gold, 1.0) && gilt(gold, 0.4));
    for other in [[60, 70, 110], [40, 40, 40], [170, 50, 45], [60, 120, 70]] {
        assert!(!gilt(other, 1.0) && !gilt(other, 0.4), "{other:?}");
    }
    // Brown is darker; thinned out it is not told from gold.
    assert!(!gilt([107, 74, 47], 1.0));
    // A yellow label is paper.
    let photo = with_paper([245, 215, 70]);
    let quad = Quad::upright(100.0, 100.0, 316.0, 316.0);
    let patch = Patch::of(&photo, &quad, Ground::Seen).expect("inside the photo");
    let label = Label::of(&patch).expect("a label");
    let inked = SmallInk {
        ink: Plane::filled(SIDE, SIDE, 1.0),
        ..drawn()
    };
    assert!(!is_gilt(&photo, &inked, &to_photo, Some(&label)));
}

#[test]
fn too_long_an_exposure_is_told_from_a_reflection() {
    let quad = Quad::upright(100.0, 100.0, 316.0, 316.0);
    let mut photo = Case::new(|_, _| 1.0).photo;
    assert!(!is_burnt(&photo, &quad));
    // Two thirds of the box shine.
    for (x, _, p) in photo.enumerate_pixels_mut() {
        if x < 244 {
            *p = Rgb([255; 3]);
        }
    }
    assert!(!is_burnt(&photo, &quad));
    // One and a half stops more.
    let lifted = |c: u8| (f32::from(c) * 1.6).min(255.0) as u8;
    let mut photo = Case::new(|_, _| 1.0).photo;
    photo.pixels_mut().for_each(|p| p.0 = p.0.map(lifted));
    assert!(is_burnt(&photo, &quad));
}

#[test]
fn more_loss_measures_as_more() {
    let lost = |share: f32| {
        Case::new(|x, _| {
            if (x as f32 - 40.0) < share * 144.0 {
                0.0
            } else {
                1.0
            }
        })
    };
    let got: Vec<f32> = [0.0, 0.2, 0.4, 0.6].map(|s| lost(s).piece().lost).to_vec();
    assert!(got.windows(2).all(|w| w[1] > w[0] + 0.1), "{got:?}");
}

#[test]
fn ink_outside_the_frame_is_cut() {
    let mut case = Case::new(|_, _| 1.0);
    // A quarter of the mark's width hangs over the left edge.
    case.to_photo = Homography::similarity(SCALE, 0.0, -76.0 * SCALE, ORIGIN);
    let got = case.laid().cut();
    assert!((got - 0.25).abs() < 0.05, "{got}");
}

#[test]
fn glare_over_ink_is_glare_and_no_loss() {
    let mut case = Case::new(|_, _| 1.0);
    // The left third of the mark.
    for y in 90..330 {
        for x in 90..172 {
            case.photo.put_pixel(x, y, Rgb([255, 255, 255]));
        }
    }
    for y in 0..SIDE {
        for x in 0..88 {
            case.mark.ink.set(x, y, 0.0);
            case.mark.valid.set(x, y, 0.0);
        }
    }
    let (glare, got) = (case.laid().glared(), case.piece());
    assert!((glare - 0.36).abs() < 0.06, "{glare}");
    assert!(got.lost < 0.06 && got.covered < 0.05, "{got:?}");
}

#[test]
fn a_label_covers_and_is_no_loss() {
    let mut case = Case::new(|x, y| if x >= 112 && y >= 112 { 0.0 } else { 1.0 });
    for y in 0..420u32 {
        for x in 0..420u32 {
            let (u, v) = (
                (f64::from(x) - ORIGIN) / SCALE,
                (f64::from(y) - ORIGIN) / SCALE,
            );
            if (112.0..200.0).contains(&u) && (112.0..200.0).contains(&v) {
                case.photo.put_pixel(x, y, Rgb([245, 215, 70]));
            }
        }
    }
    let got = case.piece();
    assert!((got.covered - 0.25).abs() < 0.08, "{got:?}");
    assert!(got.lost < 0.1, "{got:?}");
}

#[test]
fn a_scratch_and_a_hole_are_seen_and_are_no_loss() {
    let mut scratched = Case::new(|_, _| 1.0);
    for t in 0..130 {
        for across in 0..3 {
            scratched.mark.ink.set(45 + t, 52 + t + across, 1.0);
        }
    }
    // Bars hide most of a slanting scratch; one between two rows shows whole.
    for x in 45..175 {
        scratched.mark.ink.set(x, 190, 1.0);
        scratched.mark.ink.set(x, 191, 1.0);
    }
    scratched.photo = photo_of(&scratched.mark.ink, INK);
    let got = scratched.piece();
    assert!(got.scratched > 0.4, "{got:?}");
    assert!(got.spotted == 0.0 && got.lost < 0.06, "{got:?}");
    let mut holed = Case::new(|_, _| 1.0);
    for y in 0..SIDE {
        for x in 0..SIDE {
            if (x as f32 - 112.0).hypot(y as f32 - 108.0) < 9.0 {
                holed.mark.ink.set(x, y, 1.0);
            }
        }
    }
    let got = holed.piece();
    assert!((got.spotted - 18.0 / 224.0).abs() < 0.03, "{got:?}");
    assert_eq!(got.scratched, 0.0);
}

/// The photo with a disc of this luma at the middle of the mark, `wide` photo pixels across.
fn with_disc(wide: f32, luma: u8) -> RgbImage {
    let mut photo = Case::new(|_, _| 1.0).photo;
    for (x, y, p) in photo.enumerate_pixels_mut() {
        if (x as f32 - 208.0).hypot(y as f32 - 208.0) < wide / 2.0 {
            *p = Rgb([luma; 3]);
        }
    }
    photo
}

#[test]
fn a_hole_is_darker_than_any_print() {
    let quad = Quad::upright(100.0, 100.0, 316.0, 316.0);
    let hole_of = |photo: &RgbImage| {
        let patch = Patch::of(photo, &quad, Ground::Seen).expect("inside the photo");
        hole(&patch, None).map_or(0.0, |h| h.share)
    };
    assert_eq!(hole_of(&Case::new(|_, _| 1.0).photo), 0.0);
    // A black dot is print; a hole of a tenth of the box is not.
    assert_eq!(hole_of(&with_disc(24.0, 64)), 0.0);
    let got = hole_of(&with_disc(24.0, 22));
    assert!((got - 24.0 / 242.0).abs() < 0.02, "{got}");
    // In stray light it is as dark as print may be, and darker than the print beside it.
    let mut lit = photo_of(&Case::new(|_, _| 1.0).mark.ink, Rgb([150, 110, 60]));
    for (x, y, p) in lit.enumerate_pixels_mut() {
        if (x as f32 - 208.0).hypot(y as f32 - 208.0) < 12.0 {
            *p = Rgb([66; 3]);
        }
    }
    let got = hole_of(&lit);
    assert!((got - 24.0 / 242.0).abs() < 0.02, "{got}");
    // A dark bar is no hole.
    let mut barred = Case::new(|_, _| 1.0).photo;
    for y in 200..214 {
        for x in 120..300 {
            barred.put_pixel(x, y, Rgb([20; 3]));
        }
    }
    assert_eq!(hole_of(&barred), 0.0);
}

/// The photo with paper of one colour over a part of it, and print on the paper.
fn with_paper(paper: [u8; 3]) -> RgbImage {
    let mut photo = Case::new(|_, _| 1.0).photo;
    for y in 120..220 {
        for x in 150..300 {
            photo.put_pixel(x, y, Rgb(paper));
        }
    }
    for y in 150..180 {
        for x in (180..270).step_by(30) {
            (0..8).for_each(|i| photo.put_pixel(x + i, y, Rgb([30; 3])));
        }
    }
    photo
}

#[test]
fn a_label_is_seen_without_an_exemplar_and_its_print_is_no_spot() {
    let quad = Quad::upright(100.0, 100.0, 316.0, 316.0);
    let label_of = |photo: &RgbImage| {
        let patch = Patch::of(photo, &quad, Ground::Seen).expect("inside the photo");
        Label::of(&patch)
    };
    assert!(label_of(&Case::new(|_, _| 1.0).photo).is_none());
    for paper in [[110, 190, 110], [244, 244, 246], [206, 92, 24]] {
        let photo = with_paper(paper);
        let label = label_of(&photo).expect("a label");
        assert!((label.share() - 0.26).abs() < 0.03, "{}", label.share());
        assert!(label.covers(Point::new(200.0, 160.0)));
        assert!(!label.covers(Point::new(110.0, 300.0)));
        let case = Case {
            photo,
            ..Case::new(|_, _| 1.0)
        };
        let laid = case.laid();
        assert!(!laid.draws(&label));
        let got = Piece::of(&case.photo, &laid.under(Some(&label)));
        assert!(got.covered > 0.25 && got.spotted == 0.0, "{got:?}");
    }
    // Ink is dark.
    assert!(label_of(&with_paper([70, 60, 110])).is_none());
    // On dark glaze as well.
    let mut dark = with_paper([244, 244, 246]);
    for (x, y, p) in dark.enumerate_pixels_mut() {
        if !(150..300).contains(&x) || !(120..220).contains(&y) {
            *p = Rgb([28, 30, 44]);
        }
    }
    let label = label_of(&dark).expect("a label");
    assert!((label.share() - 0.26).abs() < 0.03, "{}", label.share());
    // Small on a base it is one all the same, and nothing is where no paper lies.
    let base = Quad::upright(0.0, 0.0, 420.0, 420.0);
    let on_base = |photo: &RgbImage| {
        let patch = Patch::of(photo, &base, Ground::Seen).expect("inside the photo");
        Label::of_base(&patch).is_some()
    };
    let mut small = RgbImage::from_pixel(420, 420, GLAZE);
    assert!(!on_base(&small));
    for y in 200..250 {
        (180..250).for_each(|x| small.put_pixel(x, y, Rgb([110, 190, 110])));
    }
    assert!(on_base(&small));
    // What the exemplar draws as well is no label.
    let mut solid = Case::new(|_, _| 1.0);
    solid.exemplar.ink = Plane::filled(SIDE, SIDE, 1.0);
    let label = label_of(&with_paper([110, 190, 110])).expect("a label");
    assert!(solid.laid().draws(&label));
}

#[test]
fn a_sheen_that_ink_shows_through_is_glare_and_no_cover() {
    let mut case = Case::new(|_, _| 1.0);
    for (x, y, p) in case.photo.enumerate_pixels_mut() {
        let (u, v) = (
            (f64::from(x) - ORIGIN) / SCALE,
            (f64::from(y) - ORIGIN) / SCALE,
        );
        if (112.0..200.0).contains(&u) && (30.0..112.0).contains(&v) {
            p.0 = p.0.map(|c| 248 - (248 - c.min(248)) / 3);
        }
    }
    for y in 0..112 {
        for x in 112..SIDE {
            let v = 0.4 * case.mark.ink.get(x, y);
            case.mark.ink.set(x, y, v);
        }
    }
    let got = case.piece();
    assert!((got.veiled - 0.25).abs() < 0.08, "{got:?}");
    assert!(got.covered < 0.05 && got.lost < 0.1, "{got:?}");
}

#[test]
fn a_lean_is_measured_by_the_map() {
    let mut case = Case::new(|_, _| 1.0);
    let squeezed = 40f64.to_radians().cos() * SCALE;
    case.to_photo = Homography::affine([[SCALE, 0.0, 40.0], [0.0, squeezed, 60.0]]);
    let got = case.laid().tilt().expect("a map");
    assert!((got - 40.0).abs() < 1.0, "{got}");
    let scale = case.laid().scale().expect("a map");
    assert!((scale - squeezed).abs() < 0.01, "{scale}");
}
