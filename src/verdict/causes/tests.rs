use super::*;
use crate::answer::{Means, Role, Verdict};

const BASE: Quality = Quality {
    sharpness: 1.0,
    exposure: 80.0,
    glare: 0.0,
    scale: 400.0,
};
const PHOTO: Seen<'_> = Seen {
    quality: &BASE,
    side: 1600.0,
    lean: None,
};
const SOUND: MarkQuality = MarkQuality {
    defocus: 1.0,
    motion: 0.0,
    motion_angle: 0.0,
    exposure: 88.0,
    clipped: 0.0,
    glare: 0.0,
    letters: Some(20.0),
    cut: Some(0.0),
    tilt: Some(8.0),
    hole: 0.0,
    label: 0.0,
    gilt: false,
};
const WHOLE: MarkState = MarkState {
    faded: 0.05,
    worn: 0.02,
    covered: 0.0,
    scratched: 0.0,
    spotted: 0.0,
};

fn mark_of(quality: MarkQuality, state: Option<MarkState>, strike: f64) -> MarkAnswer {
    MarkAnswer {
        quad: [[0.0; 2]; 4],
        role: Role::Undecided,
        means: Means::Undecided,
        verdict: Verdict::Unknown,
        strike,
        quality: Some(quality),
        state,
        candidates: Vec::new(),
        rest: 0.0,
        none: 1.0,
        forms: None,
        twins: Vec::new(),
        dates: Vec::new(),
    }
}

fn told(quality: MarkQuality, state: Option<MarkState>, strike: f64) -> Vec<ReasonCode> {
    let found = causes(Some(&mark_of(quality, state, strike)), PHOTO);
    found.iter().map(|c| c.reason.code).collect()
}

#[test]
fn nothing_stands_in_the_way_of_a_sound_mark() {
    assert!(told(SOUND, Some(WHOLE), 40.0).is_empty());
    assert!(causes(None, PHOTO).is_empty());
}

#[test]
fn the_wider_of_the_two_blurs_is_told() {
    let here = |defocus, motion| MarkQuality {
        defocus,
        motion,
        ..SOUND
    };
    assert_eq!(
        told(here(6.0, 10.0), Some(WHOLE), 40.0),
        [ReasonCode::Blurred]
    );
    assert_eq!(
        told(here(2.0, 24.0), Some(WHOLE), 40.0),
        [ReasonCode::Moved]
    );
    // The same blur does no harm to large letters.
    let large = MarkQuality {
        letters: Some(90.0),
        ..here(6.0, 10.0)
    };
    assert!(told(large, Some(WHOLE), 40.0).is_empty());
}

#[test]
fn the_worst_comes_first_and_the_piece_is_no_fault_of_the_photo() {
    let here = MarkQuality {
        glare: 0.2,
        ..SOUND
    };
    let worn = MarkState { worn: 0.8, ..WHOLE };
    assert_eq!(
        told(here, Some(worn), 40.0),
        [ReasonCode::Worn, ReasonCode::Glare]
    );
    for code in [
        ReasonCode::Worn,
        ReasonCode::WeakStrike,
        ReasonCode::Covered,
        ReasonCode::Defaced,
    ] {
        assert_eq!(Cause::plain(code, 1.0).cure, Cure::None);
    }
    assert_eq!(
        Cause::plain(ReasonCode::Glare, 1.0).cure,
        Cure::AnotherPhoto
    );
}

#[test]
fn a_strike_may_only_seem_weak_where_the_photo_has_a_fault() {
    let weak = MarkState {
        faded: 0.9,
        ..WHOLE
    };
    let glared = MarkQuality {
        glare: 0.1,
        ..SOUND
    };
    assert_eq!(
        told(glared, Some(weak), 40.0),
        [ReasonCode::Glare, ReasonCode::WeakStrike]
    );
    let covered = MarkState {
        covered: 0.1,
        ..weak
    };
    assert_eq!(
        told(SOUND, Some(covered), 40.0),
        [ReasonCode::WeakStrike, ReasonCode::Covered]
    );
}

#[test]
fn gold_that_fits_nothing_may_be_worn() {
    let gilt = MarkQuality {
        gilt: true,
        ..SOUND
    };
    assert_eq!(told(gilt, None, 40.0), [ReasonCode::Worn]);
    assert_eq!(told(gilt, None, 2.0), [ReasonCode::Worn]);
    assert_eq!(told(SOUND, None, 2.0), [ReasonCode::WeakStrike]);
    // An exemplar that fits says itself what lacks.
    assert!(told(gilt, Some(WHOLE), 40.0).is_empty());
}

#[test]
fn what_is_surely_defaced_is_told_of_a_named_mark_as_well() {
    let sure = |spotted| {
        let state = MarkState { spotted, ..WHOLE };
        let found = causes(Some(&mark_of(SOUND, Some(state), 40.0)), PHOTO);
        found.iter().any(Cause::is_surely_defaced)
    };
    assert!(sure(0.12) && !sure(0.07) && !sure(0.0));
}

#[test]
fn a_hole_is_told_with_an_exemplar_and_without_and_once() {
    let holed = MarkQuality { hole: 0.1, ..SOUND };
    assert_eq!(told(holed, None, 40.0), [ReasonCode::Defaced]);
    let spotted = MarkState {
        spotted: 0.1,
        ..WHOLE
    };
    assert_eq!(told(holed, Some(spotted), 40.0), [ReasonCode::Defaced]);
}

#[test]
fn a_label_is_told_by_the_ink_it_hides_or_else_by_itself() {
    let labelled = MarkQuality {
        label: 0.2,
        ..SOUND
    };
    assert_eq!(told(labelled, None, 40.0), [ReasonCode::Covered]);
    // Beside a reflection it may be that one's sheen.
    let glared = MarkQuality {
        glare: 0.2,
        ..labelled
    };
    assert_eq!(
        told(glared, None, 40.0),
        [ReasonCode::Glare, ReasonCode::Covered]
    );
    // Beside the ink it hides nothing.
    assert!(told(labelled, Some(WHOLE), 40.0).is_empty());
    let covered = MarkState {
        covered: 0.4,
        ..WHOLE
    };
    assert_eq!(told(labelled, Some(covered), 40.0), [ReasonCode::Covered]);
}

#[test]
fn letters_are_illegible_by_their_size_or_for_the_blur() {
    let unread = |letters: Option<f64>, defocus: f64| {
        let here = MarkQuality {
            letters,
            defocus,
            ..SOUND
        };
        illegible(Some(&mark_of(here, None, 40.0)), PHOTO).map(|r| r.code)
    };
    assert_eq!(unread(Some(20.0), 1.0), None);
    assert_eq!(unread(Some(4.0), 0.5), Some(ReasonCode::TooSmall));
    assert_eq!(unread(Some(20.0), 4.0), Some(ReasonCode::Blurred));
    assert_eq!(unread(None, 4.0), None);
    assert_eq!(illegible(None, PHOTO), None);
}

#[test]
fn a_mark_is_too_small_by_its_letters_or_else_by_its_box() {
    let lettered = |high| MarkQuality {
        letters: Some(high),
        defocus: 0.0,
        ..SOUND
    };
    let few = lettered(SMALL_LETTERS - 0.5);
    assert_eq!(told(few, Some(WHOLE), 40.0), [ReasonCode::TooSmall]);
    assert!(told(lettered(15.0), Some(WHOLE), 40.0).is_empty());
    // Letters that no exemplar vouches for do not count; the box, 400 px here, does.
    assert!(told(few, None, 40.0).is_empty());
    let weight = |scale| small(None, &Quality { scale, ..BASE }).weight;
    assert!(weight(SMALL - 10.0) > 1.0 && weight(SMALL + 10.0) < 1.0);
}

#[test]
fn a_name_rests_on_too_little_where_most_ink_is_gone() {
    let code = |here: MarkQuality, state: MarkState| {
        let mark = mark_of(here, Some(state), 40.0);
        little_left(Some(&mark), PHOTO).map(|r| r.code)
    };
    let weak = |faded| MarkState { faded, ..WHOLE };
    assert_eq!(code(SOUND, weak(0.7)), Some(ReasonCode::WeakStrike));
    assert_eq!(code(SOUND, weak(0.5)), None);
    // Half under glare and half of the rest not struck.
    let glared = MarkQuality {
        glare: 0.5,
        ..SOUND
    };
    assert_eq!(code(glared, weak(0.5)), Some(ReasonCode::Glare));
    assert_eq!(code(SOUND, WHOLE), None);
    assert_eq!(little_left(None, PHOTO), None);
}

#[test]
fn a_blur_is_told_and_not_what_it_thins_out() {
    let blurred = MarkQuality {
        defocus: 8.0,
        ..SOUND
    };
    let weak = MarkState {
        faded: 0.5,
        ..WHOLE
    };
    assert_eq!(told(blurred, Some(weak), 40.0), [ReasonCode::Blurred]);
    assert_eq!(told(SOUND, Some(weak), 40.0), [ReasonCode::WeakStrike]);
}

#[test]
fn a_strike_is_weak_by_itself_where_no_exemplar_fits() {
    assert_eq!(told(SOUND, None, 5.0), [ReasonCode::WeakStrike]);
    let dark = MarkQuality {
        exposure: 9.0,
        ..SOUND
    };
    assert_eq!(told(dark, None, 5.0), [ReasonCode::TooDark]);
    assert!(told(SOUND, Some(WHOLE), 5.0).is_empty());
}
