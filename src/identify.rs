//! The order of the stages: from an upright photo to what can be said of it.

use std::time::{Duration, Instant};

use image::RgbImage;

use crate::alignment::{self, Draft, Fit, compare, consensus};
use crate::answer::{MarkAnswer, Quality, Reason};
use crate::descriptors::keypoints::{Halves, PointSet, describe};
use crate::descriptors::signature::{ExemplarSignature, MarkSignature};
use crate::geometry::{self, Exemplar, Homography, Mark, Photo, Point, Quad};
use crate::mark::cut::{self, Cut};
use crate::mark::regions::{self, Region};
use crate::photo::UprightPhoto;
use crate::raster::Plane;
use crate::shortlist::{CodeTable, Entry};
use crate::underside::ellipse::Ellipse;
use crate::underside::layout::{Layout, lay_out};
use crate::underside::{self, Underside};
use crate::verdict::features::{Context, Features, features};
use crate::view::{SEARCH_STEP, View};

type ViewFrame = geometry::View;

/// Regions looked at in one photo, the most mark-like first.
const REGIONS: usize = 3;
/// Exemplars drafted for a photo, over all its regions.
const DRAFTS: usize = 40;
/// Drafts that are settled and compared in full.
const FINALISTS: usize = 8;

/// What one exemplar image teaches, ready to be matched. Pure data; cached by content hash and
/// engine version.
#[derive(Debug, Clone)]
pub struct PreparedExemplar {
    /// The mark's box in the exemplar's photo.
    pub quad: Quad<Photo>,
    pub(crate) signature: ExemplarSignature,
}

impl PreparedExemplar {
    /// For the cache; read back by [`PreparedExemplar::from_bytes`] of the same engine version.
    pub fn to_bytes(&self) -> Vec<u8> {
        crate::descriptors::stored::write(&self.quad, &self.signature)
    }

    /// `None` where the bytes were not written by this engine version.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (quad, signature) = crate::descriptors::stored::read(bytes)?;
        Some(Self { quad, signature })
    }
}

/// An exemplar and whose it is.
#[derive(Debug, Clone)]
pub struct Reference {
    /// `<maker>/<family>`.
    pub family: String,
    pub variant: Option<String>,
    /// BLAKE3 of the image file, hex.
    pub hash: String,
    pub prepared: PreparedExemplar,
}

/// All exemplars of a library, indexed for matching.
#[derive(Debug, Default)]
pub struct References {
    references: Vec<Reference>,
    codes: CodeTable,
}

impl References {
    pub fn new(references: Vec<Reference>) -> Self {
        let codes = CodeTable::new(
            references
                .iter()
                .map(|r| r.prepared.signature.code.0.as_slice()),
        );
        Self { references, codes }
    }

    pub fn is_empty(&self) -> bool {
        self.references.is_empty()
    }

    /// The exemplar of a family with this content.
    pub fn find(&self, family: &str, hash: &str) -> Option<&Reference> {
        self.references
            .iter()
            .find(|r| r.family == family && r.hash == hash)
    }

    pub fn len(&self) -> usize {
        self.references.len()
    }

    pub fn get(&self, index: usize) -> &Reference {
        &self.references[index]
    }

    /// Number of different families.
    pub fn families(&self) -> usize {
        let mut ids: Vec<&str> = self.references.iter().map(|r| r.family.as_str()).collect();
        ids.sort_unstable();
        ids.dedup();
        ids.len()
    }
}

/// Everything a caller may choose.
#[derive(Debug, Clone)]
pub struct Settings {
    /// How many candidates to list per mark.
    pub top: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { top: 5 }
    }
}

/// A straightened crop of a mark at native resolution, for reports and later reading.
#[derive(Debug, Clone)]
pub struct MarkCrop {
    /// At most 1,600 px on the longer side, with a margin for a code.
    pub pixels: RgbImage,
    /// The crop's own corners in the photo (top-left, top-right, bottom-right, bottom-left).
    pub quad: Quad<Photo>,
}

/// What was found in one photo; `crops` runs parallel to `marks`.
#[derive(Debug, Clone)]
pub struct Findings {
    pub verdict: crate::answer::Verdict,
    pub reasons: Vec<Reason>,
    pub quality: Option<Quality>,
    pub marks: Vec<MarkAnswer>,
    pub crops: Vec<MarkCrop>,
}

/// Receives the name of a stage and the time it took.
pub type Observer<'a> = &'a mut dyn FnMut(&'static str, Duration);

/// One compared candidate of a region.
#[derive(Debug, Clone)]
pub struct Compared {
    /// Index into the references.
    pub exemplar: usize,
    pub fit: Fit,
    pub features: Features,
}

/// A region of the photo and all that was compared there.
#[derive(Debug, Clone)]
pub struct Examined {
    pub region: Region,
    pub cut: Cut<Mark>,
    pub compared: Vec<Compared>,
}

/// Everything measured in one photo, before any verdict.
#[derive(Debug, Clone)]
pub struct Examination {
    pub view: View,
    pub underside: Underside,
    pub examined: Vec<Examined>,
    /// No mark-like region was found; the whole view stands in for one.
    pub whole_view: bool,
    /// Exemplars that local points of the view agreed on, and how many did.
    pub led: Vec<(usize, usize)>,
    /// How ink lies on the base.
    pub layout: Layout,
}

/// Fingerprint of all stages and their weights, 16 hex digits: what the cache is keyed by.
pub fn engine_version() -> String {
    env!("FOOTRING_ENGINE").to_owned()
}

/// Describes an exemplar. Without a `quad` its mark is found as in a photo.
pub fn prepare_exemplar(photo: &UprightPhoto, quad: Option<Quad<Photo>>) -> PreparedExemplar {
    let view = View::of(&photo.pixels);
    let region = match &quad {
        Some(q) => region_of_quad(q, view.scale),
        None => exemplar_region(&view),
    };
    let cut: Cut<Exemplar> = cut::cut(&photo.pixels, &region, view.scale).unwrap_or_else(|| {
        // A region found in this view always has an invertible frame; a hand-written quad that is
        // degenerate falls back to the whole picture.
        let whole = regions::whole_view(f64::from(view.rgb.width()), f64::from(view.rgb.height()));
        cut::whole(&photo.pixels, &whole, view.scale)
    });
    let quad = quad.unwrap_or_else(|| quad_of_hull(&region, view.scale, 0.0));
    let in_frame = cut.from_photo.apply_quad(&quad).unwrap_or(Quad::upright(
        0.0,
        0.0,
        cut::SIDE as f64,
        cut::SIDE as f64,
    ));
    PreparedExemplar {
        quad,
        signature: ExemplarSignature::of(&cut, in_frame),
    }
}

fn exemplar_region(view: &View) -> Region {
    let underside = underside::find(&view.lab[0], SEARCH_STEP as f64);
    let step = SEARCH_STEP as f64;
    let is_scan = is_scan(view, &underside);
    let all = if is_scan {
        regions::all_ink(&view.contrast, step)
    } else {
        None
    };
    all.or_else(|| {
        regions::propose(&view.contrast, &underside, step, 1)
            .into_iter()
            .next()
    })
    .unwrap_or_else(|| {
        regions::whole_view(f64::from(view.rgb.width()), f64::from(view.rgb.height()))
    })
}

/// Whether a picture shows a mark and nothing else: its border carries no ink, and no ring in it
/// is the edge of a body.
fn is_scan(view: &View, underside: &Underside) -> bool {
    let (w, h) = (view.contrast.width(), view.contrast.height());
    let strip = (SCAN_BORDER * w.min(h) as f32).ceil() as usize;
    let mut inked = 0usize;
    let mut seen = 0usize;
    for y in 0..h {
        for x in 0..w {
            if x >= strip && y >= strip && x + strip < w && y + strip < h {
                continue;
            }
            seen += 1;
            inked += usize::from(view.contrast.get(x, y) > SCAN_INK);
        }
    }
    (inked as f32) < SCAN_INKED * seen as f32
        && !underside
            .rings
            .iter()
            .any(|r| r.support > SCAN_SUPPORT && is_body(view, &r.ellipse))
}

/// Whether the ground inside an ellipse differs from the ground outside: a piece on a table, not a
/// mark's frame on paper.
fn is_body(view: &View, ellipse: &Ellipse<ViewFrame>) -> bool {
    let e: Ellipse<ViewFrame> = ellipse.to_scale(1.0 / SEARCH_STEP as f64);
    let (mut inside, mut outside) = (Vec::new(), Vec::new());
    let lightness = &view.lab[0];
    for y in (0..lightness.height()).step_by(3) {
        for x in (0..lightness.width()).step_by(3) {
            let r = e.radius_of(Point::new(x as f64 + 0.5, y as f64 + 0.5));
            if r < 0.9 {
                inside.push(lightness.get(x, y));
            } else if r > 1.1 {
                outside.push(lightness.get(x, y));
            }
        }
    }
    let grounds = [&mut inside, &mut outside].map(|v| crate::raster::quantile(v, 0.5));
    (grounds[0] - grounds[1]).abs() > BODY_STEP
}

/// Difference of the two grounds, in L*, from which they are two things.
const BODY_STEP: f32 = 4.0;

/// A ring drawn this well around another lightness is a rim, not a mark's frame.
const SCAN_SUPPORT: f64 = 0.8;
/// Width of the border strip that a scan leaves bare, as a share of the shorter side.
const SCAN_BORDER: f32 = 0.02;
/// Ink in noise units, and the share of the strip that may show it.
const SCAN_INK: f32 = 8.0;
const SCAN_INKED: f32 = 0.02;

fn region_of_quad(quad: &Quad<Photo>, scale: f64) -> Region {
    let hull: Vec<_> = quad
        .0
        .iter()
        .map(|p| crate::geometry::Point::new(p.x / scale, p.y / scale))
        .collect();
    regions::around(&hull, &regions::IDENTITY)
}

/// The smallest rectangle around a region's ink whose upper edge runs at `angle` (radians) in the
/// photo.
pub fn quad_of_hull(region: &Region, scale: f64, angle: f64) -> Quad<Photo> {
    let (s, c) = angle.sin_cos();
    let (mut u0, mut v0) = (f64::INFINITY, f64::INFINITY);
    let (mut u1, mut v1) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for p in &region.hull {
        let (x, y) = (p.x * scale, p.y * scale);
        let (u, v) = (c * x + s * y, -s * x + c * y);
        (u0, v0, u1, v1) = (u0.min(u), v0.min(v), u1.max(u), v1.max(v));
    }
    let back = |u: f64, v: f64| [c * u - s * v, s * u + c * v];
    Quad::from_array([back(u0, v0), back(u1, v0), back(u1, v1), back(u0, v1)])
}

/// An exemplar that local points of the whole view agree on.
#[derive(Debug, Clone)]
struct Lead {
    exemplar: usize,
    map: Homography<ViewFrame, Exemplar>,
    agreeing: usize,
}

/// Matches the view's local points with every exemplar's.
fn leads(view: &View, underside: &Underside, references: &References) -> Vec<Lead> {
    if references.is_empty() {
        return Vec::new();
    }
    let seen = Plane::filled(view.tone.width(), view.tone.height(), 1.0);
    let outline = underside
        .rings
        .iter()
        .filter(|r| r.bounds_body() && r.support > 0.6)
        .max_by(|a, b| a.ellipse.major.total_cmp(&b.ellipse.major));
    let mut described = describe(&view.tone, &seen, VIEW_POINTS_ALL, Halves::BusierFirst);
    if let Some(ring) = outline {
        described.retain(|(k, _)| {
            ring.ellipse
                .radius_of(Point::new(f64::from(k.x), f64::from(k.y)))
                < 1.0
        });
    }
    described.truncate(VIEW_POINTS);
    let points = PointSet::new(described);
    let mut found: Vec<Lead> = references
        .references
        .iter()
        .enumerate()
        .filter_map(|(exemplar, r)| {
            let own = &r.prepared.signature.points;
            let side = cut::SIDE as f64;
            let c = consensus::agree::<ViewFrame>(&points, own, side, consensus::VIEW_TO_CUT)?;
            (c.agreeing >= LEAD_POINTS).then_some(Lead {
                exemplar,
                map: c.to_exemplar,
                agreeing: c.agreeing,
            })
        })
        .collect();
    found.sort_by(|a, b| {
        b.agreeing
            .cmp(&a.agreeing)
            .then(a.exemplar.cmp(&b.exemplar))
    });
    found.truncate(LEADS);
    found
}

/// Local points of the view that take part, out of the strongest found (those beyond the rim are
/// dropped first).
const VIEW_POINTS: usize = 1000;
const VIEW_POINTS_ALL: usize = 1600;
/// Points that must agree for a lead, and leads followed.
const LEAD_POINTS: usize = 5;
const LEADS: usize = 12;
/// Points that must agree for a lead to open a region of its own.
const REGION_POINTS: usize = 7;

/// The regions to look at: where leads put their exemplars, then what looks like a mark.
fn regions_of(
    view: &View,
    underside: &Underside,
    leads: &[Lead],
    references: &References,
) -> (Vec<Region>, bool) {
    let upright = regions::tilt_of(underside);
    let mut found: Vec<Region> = Vec::new();
    for lead in leads.iter().filter(|l| l.agreeing >= REGION_POINTS) {
        let quad = references.references[lead.exemplar].prepared.signature.quad;
        let Some(in_view) = lead.map.inverse().and_then(|m| m.apply_quad(&quad)) else {
            continue;
        };
        let region = regions::around(&in_view.0, &upright);
        if found.len() < LED_REGIONS && !found.iter().any(|r| regions::is_same(r, &region)) {
            found.push(region);
        }
    }
    for region in regions::propose(&view.contrast, underside, SEARCH_STEP as f64, REGIONS) {
        if found.len() < REGIONS && !found.iter().any(|r| regions::is_same(r, &region)) {
            found.push(region);
        }
    }
    let whole_view = found.is_empty();
    if whole_view {
        let (w, h) = view.rgb.dimensions();
        found.push(regions::whole_view(f64::from(w), f64::from(h)));
    }
    (found, whole_view)
}

/// Regions opened by leads.
const LED_REGIONS: usize = 2;

/// Measures everything in one photo: the stages up to the verdict.
pub fn examine(photo: &UprightPhoto, references: &References, observe: Observer) -> Examination {
    let mut clock = Clock {
        started: Instant::now(),
        observe,
    };
    let view = View::of(&photo.pixels);
    clock.lap("ink");
    let underside = underside::find(&view.lab[0], SEARCH_STEP as f64);
    clock.lap("underside");
    let leads = leads(&view, &underside, references);
    clock.lap("leads");
    let (regions, whole_view) = regions_of(&view, &underside, &leads, references);
    clock.lap("mark");
    let mut marks: Vec<(Region, Cut<Mark>, MarkSignature)> = regions
        .into_iter()
        .filter_map(|r| {
            let cut = cut::cut(&photo.pixels, &r, view.scale)?;
            let signature = MarkSignature::of(&cut);
            Some((r, cut, signature))
        })
        .collect();
    clock.lap("descriptors");
    let entries = entries(&marks, references);
    clock.lap("shortlist");
    let mut drafts: Vec<Drafted> = entries
        .into_iter()
        .filter_map(|(mark, e)| {
            let exemplar = &references.references[e.exemplar].prepared.signature;
            let draft = alignment::draft(&marks[mark].2, exemplar, &e.poses, None)?;
            Some(Drafted {
                mark,
                exemplar: e.exemplar,
                likeness: e.likeness,
                draft,
            })
        })
        .collect();
    drafts.extend(follow(&leads, &marks, references, view.scale));
    let mut by_mark: Vec<Vec<Compared>> = vec![Vec::new(); marks.len()];
    for (i, compared) in settle(&marks, drafts, references) {
        by_mark[i].push(compared);
    }
    clock.lap("alignment");
    let examined = marks
        .drain(..)
        .zip(by_mark)
        .map(|((region, cut, _), compared)| Examined {
            region,
            cut,
            compared,
        })
        .collect();
    let led = leads.iter().map(|l| (l.exemplar, l.agreeing)).collect();
    let turning = regions::turning(&view.contrast);
    let layout = lay_out(&turning, &view.lab, &underside, SEARCH_STEP as f64);
    clock.lap("layout");
    Examination {
        view,
        underside,
        examined,
        whole_view,
        led,
        layout,
    }
}

/// A mark laid roughly over an exemplar.
#[derive(Debug, Clone)]
struct Drafted {
    mark: usize,
    exemplar: usize,
    likeness: f32,
    draft: Draft,
}

fn entries(
    marks: &[(Region, Cut<Mark>, MarkSignature)],
    references: &References,
) -> Vec<(usize, Entry)> {
    let mut entries: Vec<(usize, Entry)> = Vec::new();
    for (i, (_, _, signature)) in marks.iter().enumerate() {
        let listed = references.codes.shortlist(&signature.codes, DRAFTS);
        entries.extend(listed.into_iter().map(|e| (i, e)));
    }
    entries.sort_by(|a, b| {
        let order = b.1.likeness.total_cmp(&a.1.likeness);
        order
            .then(a.0.cmp(&b.0))
            .then(a.1.exemplar.cmp(&b.1.exemplar))
    });
    entries.truncate(DRAFTS);
    entries
}

/// Carries each lead into the regions that hold its exemplar's place.
fn follow(
    leads: &[Lead],
    marks: &[(Region, Cut<Mark>, MarkSignature)],
    references: &References,
    scale: f64,
) -> Vec<Drafted> {
    let mut out = Vec::new();
    for lead in leads {
        let exemplar = &references.references[lead.exemplar].prepared.signature;
        for (mark, (_, cut, signature)) in marks.iter().enumerate() {
            let Some(to_photo) = cut.from_photo.inverse() else {
                continue;
            };
            let to_view = Homography::<Photo, ViewFrame>::similarity(1.0 / scale, 0.0, 0.0, 0.0);
            let map = to_photo.then(&to_view).then(&lead.map);
            let draft = alignment::draft(signature, exemplar, &[], Some((map, lead.agreeing)));
            out.extend(draft.map(|draft| Drafted {
                mark,
                exemplar: lead.exemplar,
                likeness: 0.0,
                draft,
            }));
        }
    }
    out
}

/// Settles the best drafts, weighs each against its rivals and collects the features.
fn settle(
    marks: &[(Region, Cut<Mark>, MarkSignature)],
    drafts: Vec<Drafted>,
    references: &References,
) -> Vec<(usize, Compared)> {
    let mut cohort: Vec<f32> = drafts.iter().map(|d| alignment::rank(&d.draft)).collect();
    let middle = crate::raster::quantile(&mut cohort, 0.5);
    let spread = (crate::raster::quantile(&mut cohort, 0.84) - middle).max(0.03);
    let fits: Vec<(Drafted, f32, Fit)> = finalists(drafts)
        .into_iter()
        .filter_map(|d| {
            let exemplar = &references.references[d.exemplar].prepared.signature;
            let template = alignment::template_of(exemplar);
            let fit = alignment::settle(&d.draft, &marks[d.mark].2, exemplar, &template)?;
            let cohort = (alignment::rank(&d.draft) - middle) / spread;
            Some((d, cohort, fit))
        })
        .collect();
    let pulled: Vec<Plane> = fits
        .iter()
        .map(|(d, _, fit)| pull(&references.references[d.exemplar].prepared.signature, fit))
        .collect();
    fits.iter()
        .enumerate()
        .map(|(k, (d, cohort, fit))| {
            let level = &marks[d.mark].2.levels[2];
            let family = &references.references[d.exemplar].family;
            let lean = fits
                .iter()
                .enumerate()
                .filter(|(j, (o, _, _))| {
                    *j != k
                        && o.mark == d.mark
                        && references.references[o.exemplar].family != *family
                })
                .map(|(j, _)| compare::decide(&level.ink, &level.valid, &pulled[k], &pulled[j]))
                .map(|d| d.lean)
                .fold(1.0f32, f32::min);
            let context = Context {
                likeness: d.likeness,
                cohort: *cohort,
                lean,
            };
            let features = features(fit, &context);
            (
                d.mark,
                Compared {
                    exemplar: d.exemplar,
                    fit: fit.clone(),
                    features,
                },
            )
        })
        .collect()
}

/// The best draft of each exemplar in each mark, the strongest of all first.
fn finalists(mut drafts: Vec<Drafted>) -> Vec<Drafted> {
    drafts.sort_by(|a, b| {
        let order = alignment::rank(&b.draft).total_cmp(&alignment::rank(&a.draft));
        order
            .then(a.exemplar.cmp(&b.exemplar))
            .then(a.mark.cmp(&b.mark))
    });
    let mut kept: Vec<Drafted> = Vec::new();
    for d in drafts {
        if kept.len() == FINALISTS {
            break;
        }
        match kept
            .iter_mut()
            .find(|k| k.mark == d.mark && k.exemplar == d.exemplar)
        {
            Some(k) => k.likeness = k.likeness.max(d.likeness),
            None => kept.push(d),
        }
    }
    kept
}

/// The exemplar's ink, at the blur that met the photo, in the mark's own frame.
fn pull(exemplar: &ExemplarSignature, fit: &Fit) -> Plane {
    let side = compare::COMPARE_SIDE;
    let map: Homography<Mark, Exemplar> = alignment::compare_scale(&fit.map);
    let blurred = exemplar.levels[2]
        .ink
        .blur(compare::BLURS[fit.evidence.blur]);
    blurred.warp(&map, side, side, 0.0)
}

struct Clock<'a> {
    started: Instant,
    observe: Observer<'a>,
}

impl Clock<'_> {
    fn lap(&mut self, stage: &'static str) {
        let now = Instant::now();
        (self.observe)(stage, now - self.started);
        self.started = now;
    }
}

/// Says what can be said of one photo. `observe` is told how long each stage took.
pub fn identify(
    photo: &UprightPhoto,
    references: &References,
    settings: &Settings,
    observe: Observer,
) -> Findings {
    let examination = examine(photo, references, observe);
    crate::verdict::judge(photo, &examination, references, settings)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bars of irregular length on a pale ground, like lines of print.
    fn plate(turn: f64, seed: u32) -> UprightPhoto {
        let mut seed = seed;
        let mut next = |n: u32| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 16) % n
        };
        let bars: Vec<[f64; 4]> = (0..28)
            .map(|_| [next(150), next(150), 6 + next(40), 4 + next(9)].map(f64::from))
            .collect();
        let (s, c) = turn.sin_cos();
        let pixels = RgbImage::from_fn(640, 480, |x, y| {
            let (dx, dy) = (f64::from(x) - 320.0, f64::from(y) - 240.0);
            let (u, v) = (c * dx + s * dy + 90.0, -s * dx + c * dy + 90.0);
            let on = bars
                .iter()
                .any(|b| (b[0]..b[0] + b[2]).contains(&u) && (b[1]..b[1] + b[3]).contains(&v));
            let grain = ((x * 7 + y * 13) % 5) as u8;
            image::Rgb(if on {
                [40, 70, 60]
            } else {
                [225 + grain, 222 + grain, 210 + grain]
            })
        });
        UprightPhoto {
            pixels,
            taken: None,
        }
    }

    fn reference(name: &str, seed: u32) -> Reference {
        Reference {
            family: name.to_owned(),
            variant: None,
            hash: String::new(),
            prepared: prepare_exemplar(&plate(0.0, seed), None),
        }
    }

    #[test]
    fn a_turned_mark_is_found_among_others() {
        let references = References::new(
            (1..6)
                .map(|i| reference(&format!("pottery/f{i}"), i))
                .collect(),
        );
        let found = examine(&plate(2.0, 3), &references, &mut |_, _| {});
        let best = found
            .examined
            .iter()
            .flat_map(|e| &e.compared)
            .max_by(|a, b| {
                a.fit
                    .evidence
                    .correlation
                    .total_cmp(&b.fit.evidence.correlation)
            })
            .expect("candidates");
        assert_eq!(references.get(best.exemplar).family, "pottery/f3");
        assert!(
            best.fit.evidence.correlation > 0.8,
            "{:?}",
            best.fit.evidence
        );
    }

    #[test]
    fn a_prepared_exemplar_survives_the_cache() {
        let made = reference("pottery/f1", 1).prepared;
        let back = PreparedExemplar::from_bytes(&made.to_bytes()).expect("own bytes");
        assert_eq!(back.signature.points, made.signature.points);
        assert_eq!(back.signature.code, made.signature.code);
        assert_eq!(back.signature.levels[2].ink, made.signature.levels[2].ink);
        let mut cut = made.to_bytes();
        cut.truncate(cut.len() - 9);
        assert!(PreparedExemplar::from_bytes(&cut).is_none());
    }
}
