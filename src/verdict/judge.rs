//! What is said of a photo, from everything that was measured.

use crate::answer::{
    Candidate, MarkAnswer, Means, Quality, Reason, ReasonCode, Role, Twin, UNDECIDED, Verdict,
};
use crate::examine::{Compared, Examination, Examined};
use crate::geometry::{Homography, Photo, Quad};
use crate::identify::{Findings, Settings};
use crate::photo::UprightPhoto;
use crate::references::References;
use crate::verdict::bareness::{is_bare, odds_of_none};
use crate::verdict::crop::crop;
use crate::verdict::features::evidence;
use crate::verdict::model::Model;
use crate::verdict::quality::{Around, has_label, of_mark, quality};
use crate::verdict::situation::of_photo;
use crate::verdict::variant;

/// A second mark is listed when a family of the library claims it at this probability.
const SECOND_MARK: f64 = 0.5;
/// Marks overlapping more than this are one.
const SAME_MARK: f64 = 0.2;
/// Families this probable, with this many local points each that agree with the photo, share what
/// is visible: two unrelated marks seldom reach a handful.
const SIBLING: f64 = 0.1;
const SHARED_POINTS: usize = 8;
/// A near-twin is ruled out where its own exemplar was laid over the mark and fits with no more than this
/// probability: then what tells the two apart was seen. A hundredth, as an error of this kind sells a copy for
/// the piece; not tuned.
const TWIN_RULED_OUT: f64 = 0.01;
/// Probability from which a family fits well enough for the mark to be measured against its exemplar. On a tune lot
/// (187 photos, one fault each) the right family comes first in all but one of the 165 that lie above it.
const FITS: f64 = 0.08;

const LABELLED: &str = "a label lies on the base, and there may be a mark under it: photograph it before anything else";

/// Judges an examined photo.
pub fn judge(
    photo: &UprightPhoto,
    examination: &Examination,
    references: &References,
    settings: &Settings,
) -> Findings {
    let model = Model::default();
    let mut judged: Vec<Judged> = examination
        .examined
        .iter()
        .map(|e| judge_mark(e, examination, references, &model, settings))
        .collect();
    judged.sort_by(|a, b| {
        b.claim
            .total_cmp(&a.claim)
            .then(b.score.total_cmp(&a.score))
    });
    let siblings = judged.first().is_some_and(|j| j.siblings);
    let base = quality(examination);
    let around = Around::of(examination);
    let mut marks: Vec<MarkAnswer> = Vec::new();
    for j in judged {
        let quad = Quad::<Photo>::from_array(j.answer.quad);
        let apart = marks
            .iter()
            .all(|m| Quad::<Photo>::from_array(m.quad).overlap(&quad) < SAME_MARK);
        if marks.is_empty() || (apart && j.claim >= SECOND_MARK) {
            marks.push(measured(photo, examination, references, around, j));
        }
    }
    let quality = Quality {
        scale: mark_scale(&marks),
        ..base
    };
    let (verdict, mut reasons) = of_photo(&marks, examination, references, &quality);
    // A mark that is not found may lie beyond the frame, or under a label if there is one.
    let out_of_sight = reasons[0].code == ReasonCode::ShowWholeBase;
    if out_of_sight && has_label(&photo.pixels, examination) {
        reasons.insert(0, Reason::with(ReasonCode::Covered, LABELLED));
    }
    let twin = marks.first().filter(|m| {
        let sure = m
            .candidates
            .first()
            .is_some_and(|c| c.probability >= model.named_at);
        m.verdict == Verdict::Choose && sure
    });
    if let Some(twin) = twin.and_then(|m| m.twins.first()) {
        reasons[0] = near_twin(twin);
    } else if verdict == Verdict::Choose && siblings {
        reasons[0] = Reason::plain(ReasonCode::Siblings);
    }
    if matches!(verdict, Verdict::NoMark | Verdict::NotUnderside)
        || (verdict == Verdict::Reshoot && is_bare(examination))
    {
        // Nothing here is a mark: decoration on a top is never offered as one.
        marks.clear();
    }
    if verdict == Verdict::Reshoot {
        marks.iter_mut().for_each(|m| m.verdict = Verdict::Reshoot);
    }
    let quality = Some(quality);
    let crops = marks
        .iter()
        .filter(|_| settings.crops)
        .map(|m| crop(photo, &Quad::from_array(m.quad)))
        .collect();
    Findings {
        verdict,
        reasons,
        quality,
        marks,
        crops,
    }
}

fn near_twin(twin: &Twin) -> Reason {
    let plain = ReasonCode::NearTwin.plain();
    let text = match &twin.tell {
        Some(tell) => format!("{plain}: {}; look for this: {tell}", twin.family),
        None => format!("{plain}: {}", twin.family),
    };
    Reason::with(ReasonCode::NearTwin, text)
}

/// The answer with what is measured where its mark lies.
fn measured(
    photo: &UprightPhoto,
    examination: &Examination,
    references: &References,
    around: Around,
    judged: Judged<'_>,
) -> MarkAnswer {
    let fitting = judged.best.filter(|_| judged.claim >= FITS);
    let exemplar = fitting.and_then(|c| references.get(c.exemplar).prepared());
    let fitting = fitting.zip(exemplar.as_deref());
    let quad = Quad::from_array(judged.answer.quad);
    let (quality, state) = of_mark(&photo.pixels, &quad, around, judged.examined, fitting).unzip();
    let mut answer = MarkAnswer {
        quality,
        state: state.flatten(),
        ..judged.answer
    };
    if let Some((best, _)) = fitting {
        tell_forms(
            &mut answer,
            photo,
            examination,
            judged.examined,
            best,
            references,
        );
    }
    answer
}

/// Says which form of its family the first candidate is, where the family has several.
fn tell_forms(
    answer: &mut MarkAnswer,
    photo: &UprightPhoto,
    examination: &Examination,
    examined: &Examined,
    best: &Compared,
    references: &References,
) {
    let compared = variant::compare(&photo.pixels, examination, examined, best, references);
    let Some(forms) = compared.map(|c| c.forms()) else {
        return;
    };
    if let (Some(told), Some(first)) = (forms.ranked.first(), answer.candidates.first_mut()) {
        first.variant = match told.probability >= variant::TOLD_AT {
            true => told.variant.clone(),
            false => Some(UNDECIDED.to_owned()),
        };
    }
    answer.forms = Some(forms);
}

/// One region's answer; `claim` is the probability that some family of the library fits.
struct Judged<'a> {
    answer: MarkAnswer,
    examined: &'a Examined,
    /// What fits best.
    best: Option<&'a Compared>,
    claim: f64,
    score: f64,
    /// The leading families share artwork that lines up in the photo.
    siblings: bool,
}

fn judge_mark<'a>(
    examined: &'a Examined,
    examination: &Examination,
    references: &References,
    model: &Model,
    settings: &Settings,
) -> Judged<'a> {
    let best = best_per_family(examined, references, model);
    let scores: Vec<f64> = best.iter().map(|(s, _)| *s).collect();
    let open = references.families() > best.len();
    let posterior = model.posterior(&scores, open, odds_of_none(examination));
    let listed = settings.top.max(1).min(best.len());
    let unlisted: f64 = posterior.candidates[listed..].iter().sum();
    let candidates: Vec<Candidate> = best[..listed]
        .iter()
        .zip(&posterior.candidates)
        .map(|((_, c), p)| candidate(c, *p, examined, references))
        .collect();
    let top = posterior.candidates.first().copied().unwrap_or(0.0);
    let likely = best.iter().zip(&posterior.candidates);
    let likely: Vec<(&str, f64)> = likely
        .map(|((_, c), p)| (references.get(c.exemplar).family.as_str(), *p))
        .collect();
    let twins = twins_left(&likely, references);
    let verdict = match mark_verdict(&posterior.candidates, model) {
        Verdict::Named if !twins.is_empty() => Verdict::Choose,
        other => other,
    };
    let angle = best
        .first()
        .map_or(0.0, |(_, c)| angle_of(c, examined, references));
    let answer = MarkAnswer {
        quad: examined
            .region
            .box_at(examination.view.scale, angle)
            .to_array(),
        role: Role::Undecided,
        means: Means::Undecided,
        verdict,
        strike: f64::from(examined.cut.ink.strength),
        quality: None,
        state: None,
        candidates,
        rest: posterior.rest + unlisted,
        none: posterior.none,
        forms: None,
        twins,
        dates: Vec::new(),
    };
    let sharing = best
        .iter()
        .zip(&posterior.candidates)
        .filter(|((_, c), p)| **p >= SIBLING && c.fit.agreeing >= SHARED_POINTS)
        .count();
    Judged {
        answer,
        examined,
        best: best.first().map(|(_, c)| *c),
        claim: top,
        siblings: sharing > 1,
        score: examined.region.score,
    }
}

/// Near-twins of the first of `compared` families (with their probabilities) that are not ruled out.
fn twins_left(compared: &[(&str, f64)], references: &References) -> Vec<Twin> {
    let first = compared.first().filter(|c| c.1 >= SIBLING);
    let first = first.map_or("", |c| c.0);
    let ruled_out = |twin: &Twin| {
        compared
            .iter()
            .any(|(family, p)| *family == twin.family && *p <= TWIN_RULED_OUT)
    };
    let known = references.twins(first).iter();
    known.filter(|t| !ruled_out(t)).cloned().collect()
}

fn mark_verdict(candidates: &[f64], model: &Model) -> Verdict {
    let top = candidates.first().copied().unwrap_or(0.0);
    let together: f64 = candidates.iter().take(4).sum();
    if top >= model.named_at {
        Verdict::Named
    } else if together >= model.choose_at {
        Verdict::Choose
    } else {
        Verdict::Unknown
    }
}

/// The best-scored exemplar of each family, best first.
fn best_per_family<'a>(
    examined: &'a Examined,
    references: &References,
    model: &Model,
) -> Vec<(f64, &'a Compared)> {
    let mut scored: Vec<(f64, &Compared)> = examined
        .compared
        .iter()
        .map(|c| (model.score(&c.features), c))
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.exemplar.cmp(&b.1.exemplar)));
    let mut seen: Vec<&str> = Vec::new();
    scored.retain(|(_, c)| {
        let family = references.get(c.exemplar).family.as_str();
        let new = !seen.contains(&family);
        if new {
            seen.push(family);
        }
        new
    });
    scored
}

fn photo_map(
    compared: &Compared,
    examined: &Examined,
    references: &References,
) -> Option<Homography<Photo, Photo>> {
    let exemplar = references.get(compared.exemplar);
    let to_mark = exemplar.from_photo.then(&compared.fit.map.inverse()?);
    Some(to_mark.then(&examined.cut.from_photo.inverse()?))
}

/// Where the exemplar's box falls in the photo.
fn carried_quad(
    compared: &Compared,
    examined: &Examined,
    references: &References,
) -> Option<Quad<Photo>> {
    let map = photo_map(compared, examined, references)?;
    map.apply_quad(&references.get(compared.exemplar).quad)
}

fn angle_of(compared: &Compared, examined: &Examined, references: &References) -> f64 {
    carried_quad(compared, examined, references).map_or(0.0, |q| {
        let [a, b, ..] = q.0;
        (b.y - a.y).atan2(b.x - a.x)
    })
}

fn candidate(
    compared: &Compared,
    probability: f64,
    examined: &Examined,
    references: &References,
) -> Candidate {
    let reference = references.get(compared.exemplar);
    let quad = carried_quad(compared, examined, references)
        .unwrap_or_else(|| Quad::upright(0.0, 0.0, 0.0, 0.0));
    Candidate {
        family: reference.family.clone(),
        variant: reference.variant.clone(),
        probability,
        exemplar: reference.hash.clone(),
        quad: quad.to_array(),
        evidence: Some(evidence(&compared.features, &compared.fit)),
    }
}

/// Longer side of the first mark in photo pixels, 0 where there is none.
fn mark_scale(marks: &[MarkAnswer]) -> f64 {
    marks.first().map_or(0.0, |m| {
        let q = Quad::<Photo>::from_array(m.quad);
        q.0[0].distance(q.0[1]).max(q.0[1].distance(q.0[2]))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_near_twin_is_ruled_out_only_by_its_own_exemplar() {
        let tie = |tell: &str| Twin {
            family: "mill/copy".into(),
            tell: Some(tell.into()),
        };
        let ties = [("mill/crown".to_owned(), tie("forked ribbon"))];
        let references = References::default().with_twins(ties.into_iter());
        let left = |compared: &[(&str, f64)]| twins_left(compared, &references);
        assert_eq!(left(&[("mill/crown", 0.97)]), [tie("forked ribbon")]);
        assert_eq!(left(&[("mill/crown", 0.9), ("mill/copy", 0.08)]).len(), 1);
        assert!(left(&[("mill/crown", 0.97), ("mill/copy", 0.001)]).is_empty());
        // The tie holds the other way as well, and nothing is said of what hardly fits.
        assert_eq!(left(&[("mill/copy", 0.9)])[0].family, "mill/crown");
        assert!(left(&[("mill/copy", 0.02)]).is_empty());
        assert!(left(&[("mill/other", 0.9)]).is_empty());
    }

    #[test]
    fn the_tell_is_told() {
        let twin = Twin {
            family: "mill/copy".into(),
            tell: Some("forked ribbon".into()),
        };
        let text = near_twin(&twin).text;
        assert!(
            text.contains("mill/copy") && text.ends_with("forked ribbon"),
            "{text}"
        );
    }
}
