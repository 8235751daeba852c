//! The verdict on a whole photo, in a fixed order: named, choose, reshoot, unknown, no mark, not an
//! underside. What a defect hides is asked for again only where curing it could change the answer.

use crate::answer::{MarkAnswer, Quality, Reason, ReasonCode, Verdict};
use crate::identify::{Examination, References};

/// Lettering-like ink on less than this share of the base is none (bare bases of the fit split
/// stay below 0.0005 unless crazed, marks above 0.002 unless very weak).
const BARE: f32 = 0.0008;
/// Blur (sigma over the photo's longer side) from which a photo is out of focus: five thousandths
/// are 8 px of a 1,600 px photo, more than the strokes of small lettering are wide.
const BLURRED: f64 = 0.005;
/// For saying that there is no mark the photo must be sharper than this.
const SHARP: f64 = 0.0037;
/// Share of the base under clipped reflections from which ink may hide there.
const GLARING: f64 = 0.012;
/// Median L* of the base below which it is too dark, and above which it is burnt out.
const DARK: f64 = 9.0;
const BURNT: f64 = 99.2;
/// A mark shorter than this many photo pixels cannot be told from its like.
const SMALL: f64 = 70.0;
/// A family this probable, though not enough to be named, makes another photo worth while.
const PLAUSIBLE: f64 = 0.15;
/// Sectors (of 12) with ink, their share of the base and their chroma, from which it is decoration.
const DECORATED_SECTORS: usize = 7;
const DECORATED_INK: f32 = 0.02;
const DECORATED_CHROMA: f32 = 12.5;
/// Lettering over this share of a view without any ring: a paper, a box, a cloth.
const PAPER: f32 = 0.12;

/// Says what the photo is worth, and why.
pub(super) fn of_photo(
    marks: &[MarkAnswer],
    examination: &Examination,
    references: &References,
    quality: &Quality,
) -> (Verdict, Vec<Reason>) {
    let best = marks
        .iter()
        .map(|m| m.verdict)
        .min()
        .unwrap_or(Verdict::Unknown);
    let (verdict, code) = match best {
        Verdict::Named => (Verdict::Named, ReasonCode::Aligned),
        Verdict::Choose => (Verdict::Choose, ReasonCode::CloseRace),
        _ if is_bare(examination) => bare(examination, quality),
        _ => inked(marks, examination, references, quality),
    };
    let mut reasons = vec![Reason::plain(code)];
    if examination.whole_view && matches!(verdict, Verdict::Named | Verdict::Unknown) {
        reasons.push(Reason::plain(ReasonCode::WholeView));
    }
    (verdict, reasons)
}

pub(super) fn is_bare(examination: &Examination) -> bool {
    examination.whole_view && examination.layout.inked < BARE
}

fn relative_blur(examination: &Examination, quality: &Quality) -> f64 {
    let view = &examination.view;
    let side = f64::from(view.rgb.width().max(view.rgb.height())) * view.scale;
    quality.sharpness / side.max(1.0)
}

/// No ink anywhere: a bare base, if all of it could have been seen.
fn bare(examination: &Examination, quality: &Quality) -> (Verdict, ReasonCode) {
    if quality.exposure < DARK {
        (Verdict::Reshoot, ReasonCode::TooDark)
    } else if quality.exposure > BURNT {
        (Verdict::Reshoot, ReasonCode::TooBright)
    } else if relative_blur(examination, quality) > SHARP {
        (Verdict::Reshoot, ReasonCode::Blurred)
    } else if quality.glare > GLARING {
        (Verdict::Reshoot, ReasonCode::Glare)
    } else if examination.layout.whole {
        (Verdict::NoMark, ReasonCode::CleanBase)
    } else if examination.layout.base {
        (Verdict::Reshoot, ReasonCode::ShowWholeBase)
    } else {
        (Verdict::NotUnderside, ReasonCode::NoBase)
    }
}

/// Ink, but no family of the library.
fn inked(
    marks: &[MarkAnswer],
    examination: &Examination,
    references: &References,
    quality: &Quality,
) -> (Verdict, ReasonCode) {
    let layout = &examination.layout;
    let decorated = layout.sectors >= DECORATED_SECTORS
        && layout.inked > DECORATED_INK
        && layout.chroma > DECORATED_CHROMA;
    if decorated {
        return (Verdict::NotUnderside, ReasonCode::LooksLikeTop);
    }
    if !layout.base && layout.inked > PAPER {
        return (Verdict::NotUnderside, ReasonCode::NoBase);
    }
    if references.is_empty() {
        return (Verdict::Unknown, ReasonCode::EmptyLibrary);
    }
    let plausible = marks
        .iter()
        .flat_map(|m| &m.candidates)
        .any(|c| c.probability >= PLAUSIBLE);
    let defect = defect(examination, quality);
    match defect {
        Some(code) if plausible || examination.whole_view => (Verdict::Reshoot, code),
        _ => (Verdict::Unknown, ReasonCode::NothingFits),
    }
}

/// The first defect of the photo that could hide the answer.
fn defect(examination: &Examination, quality: &Quality) -> Option<ReasonCode> {
    if quality.exposure < DARK {
        Some(ReasonCode::TooDark)
    } else if relative_blur(examination, quality) > BLURRED {
        Some(ReasonCode::Blurred)
    } else if quality.glare > GLARING {
        Some(ReasonCode::Glare)
    } else if quality.scale > 0.0 && quality.scale < SMALL {
        Some(ReasonCode::TooSmall)
    } else {
        None
    }
}
