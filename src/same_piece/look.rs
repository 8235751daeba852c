//! One photo's mark and base, ready to be compared with others.

use crate::alignment::dense::{Level, Slopes};
use crate::alignment::verifier;
use crate::descriptors::imprint::Imprint;
use crate::descriptors::signature::MarkSignature;
use crate::geometry::{Exemplar, Homography, Mark, Photo, Point, Quad};
use crate::ink::small;
use crate::mark::cut::{self, Cut};
use crate::mark::regions;
use crate::photo::UprightPhoto;
use crate::raster::Plane;
use crate::references::{PreparedExemplar, prepare_exemplar};
use crate::underside::{self, ellipse::Ellipse};
use crate::view::{SEARCH_STEP, View};

/// The frame of the mark divided by this is where two strikes are compared.
pub(super) const STRIKE_SHRINK: usize = 2;

/// A well-drawn ellipse of the base, in the frame of the mark.
#[derive(Debug, Clone, Copy)]
pub(super) struct DrawnRing {
    pub ellipse: Ellipse<Mark>,
    /// Share of it that an edge supports, 0 to 1.
    pub support: f64,
}

/// A photo of a mark on its base. Frames: `Mark` is the square around the mark (`cut::SIDE` pixels), which the base
/// exceeds on all sides.
#[derive(Debug, Clone)]
pub struct Look {
    /// The mark as others are laid over it, in the same frame.
    pub(super) prepared: PreparedExemplar,
    pub(super) signature: MarkSignature,
    pub(super) imprint: Imprint,
    /// Signed lightness of the strike and where it is known, [`STRIKE_SHRINK`] times smaller.
    pub(super) tone: Plane,
    pub(super) valid: Plane,
    pub(super) slopes: Slopes,
    pub(super) level: Level,
    /// L* of the photo at working size, and at half of it.
    pub(super) lightness: [Plane; 2],
    /// From the mark's frame to the pixels of the first of them.
    pub(super) to_view: Homography<Mark, crate::geometry::View>,
    pub(super) rings: Vec<DrawnRing>,
    /// The mark's box.
    pub(super) quad: Quad<Mark>,
    /// Exemplars that were laid over the mark, by name, and where their boxes came to lie.
    pub(super) laid: Vec<(String, Quad<Mark>)>,
}

impl Look {
    /// Looks at the mark at `quad` of a picture. `laid` names exemplars that were laid over it, the best first, with
    /// their boxes in the photo. `None` where nothing can be cut out there.
    pub fn of(
        picture: &UprightPhoto,
        quad: &Quad<Photo>,
        laid: &[(String, Quad<Photo>)],
    ) -> Option<Self> {
        let view = View::of(&picture.pixels);
        let corners = quad
            .0
            .map(|p| Point::new(p.x / view.scale, p.y / view.scale));
        let region = regions::around(&corners);
        let cut: Cut<Mark> = cut::cut(&picture.pixels, &view, &region)?;
        let [small, fine] = [small::SIDE, verifier::SIDE]
            .map(|side| cut::small(&picture.pixels, &view, &region, side));
        let imprint = Imprint::of(&small);
        let level = Level {
            ink: cut.ink.ink.shrink(STRIKE_SHRINK),
            valid: cut.ink.valid.shrink(STRIKE_SHRINK),
        };
        let grow = Homography::<crate::geometry::View, Photo>::affine([
            [view.scale, 0.0, 0.0],
            [0.0, view.scale, 0.0],
        ]);
        let from_view = grow.then(&cut.from_photo);
        let rings = underside::find(&view.lab[0], SEARCH_STEP as f64).rings;
        let full = crate::ink::colour::lab_planes(&view.rgb);
        let [lightness, ..] = full;
        Some(Self {
            prepared: prepare_exemplar(picture, Some(*quad)),
            imprint,
            tone: cut.ink.tone.shrink(STRIKE_SHRINK),
            valid: level.valid.clone(),
            slopes: Slopes::of(&level),
            level,
            lightness: [lightness, view.lab[0].clone()],
            to_view: from_view.inverse()?,
            rings: rings
                .iter()
                .filter_map(|r| {
                    Some(DrawnRing {
                        ellipse: carried(&r.ellipse, &from_view)?,
                        support: r.support,
                    })
                })
                .collect(),
            quad: cut.from_photo.apply_quad(quad)?,
            laid: laid
                .iter()
                .filter_map(|(name, q)| Some((name.clone(), cut.from_photo.apply_quad(q)?)))
                .collect(),
            signature: MarkSignature::of(&cut, fine),
        })
    }
}

/// Points by which an ellipse is carried into another frame.
const CARRIED: usize = 48;

/// An ellipse as another frame has it; a homography takes ellipses to ellipses.
pub(super) fn carried<A: crate::geometry::Frame, B: crate::geometry::Frame>(
    ellipse: &Ellipse<A>,
    map: &Homography<A, B>,
) -> Option<Ellipse<B>> {
    let points: Option<Vec<Point<B>>> = (0..CARRIED)
        .map(|i| {
            let turn = std::f64::consts::TAU * i as f64 / CARRIED as f64;
            map.apply(ellipse.at(turn).0)
        })
        .collect();
    Ellipse::fit(&points?)
}

/// The frame of one mark taken for that of an exemplar: both are cut alike.
pub(super) fn as_exemplar(q: &Quad<Mark>) -> Quad<Exemplar> {
    Quad::from_array(q.to_array())
}
