//! How ink lies on the base: in one place, as a mark does; all round, as decoration does; nowhere.

use super::Underside;
use super::ellipse::Ellipse;
use crate::geometry::{Point, View};
use crate::raster::Plane;

/// Sectors around the centre in which ink is counted.
const SECTORS: usize = 12;
/// The outer part of the base, in radii, where decoration lies and marks seldom do.
const OUTER: (f64, f64) = (0.5, 0.94);
/// Lettering-like ink (turning strength, noise units a pixel) that counts.
const TURNING: f32 = 0.9;
/// Share of a sector that must show it.
const SECTOR_SHARE: f32 = 0.015;
/// Half-width of the band around a ring that is left out, in radii of the ring.
const RING_BAND: f64 = 0.04;
/// A ring with this support and visibility shows the whole base.
const WHOLE_SUPPORT: f64 = 0.55;
const WHOLE_VISIBLE: f64 = 0.985;

/// Numbers about the ink on a base.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Layout {
    /// The rim or the foot ring runs inside the frame all round.
    pub whole: bool,
    /// A rim or a foot ring was found at all.
    pub base: bool,
    /// Share of the base with lettering-like ink, rings left out.
    pub inked: f32,
    /// Sectors of the outer part (of 12) that show such ink.
    pub sectors: usize,
    /// Chroma of the strongest ink against the ground, median, in CIELAB units.
    pub chroma: f32,
    /// Radius of the base over half the longer side of the view.
    pub size: f32,
}

/// Lays out the ink. `turning` and `lab` are maps `step` times smaller than the view.
pub fn lay_out(turning: &Plane, lab: &[Plane; 3], underside: &Underside, step: f64) -> Layout {
    let (w, h) = (turning.width(), turning.height());
    let rings: Vec<Ellipse<View>> = underside
        .rings
        .iter()
        .filter(|r| r.support > 0.5)
        .map(|r| r.ellipse.to_scale(1.0 / step))
        .collect();
    let outline = underside
        .rings
        .iter()
        .filter(|r| r.bounds_body() && r.support > WHOLE_SUPPORT)
        .max_by(|a, b| a.ellipse.major.total_cmp(&b.ellipse.major));
    let whole = underside
        .rings
        .iter()
        .any(|r| r.visible > WHOLE_VISIBLE && r.support > WHOLE_SUPPORT);
    let side = w.max(h) as f64;
    let body = outline.map_or(
        Ellipse {
            centre: Point::new(w as f64 / 2.0, h as f64 / 2.0),
            major: side,
            minor: side,
            angle: 0.0,
        },
        |r| r.ellipse.to_scale(1.0 / step),
    );
    let (mut area, mut inked) = (0u32, 0u32);
    let mut sector_area = [0u32; SECTORS];
    let mut sector_ink = [0u32; SECTORS];
    let mut chroma = Vec::new();
    for y in (0..h).step_by(2) {
        for x in (0..w).step_by(2) {
            let p = Point::new(x as f64 + 0.5, y as f64 + 0.5);
            let radius = body.radius_of(p);
            let on_ring = rings
                .iter()
                .any(|e| (e.radius_of(p) - 1.0).abs() < RING_BAND);
            if radius > 0.96 || on_ring {
                continue;
            }
            area += 1;
            let ink = turning.get(x, y) > TURNING;
            inked += u32::from(ink);
            if ink {
                chroma.push(lab[1].get(x, y).hypot(lab[2].get(x, y)));
            }
            if radius > OUTER.0 && radius < OUTER.1 && outline.is_some() {
                let angle = (p.y - body.centre.y).atan2(p.x - body.centre.x);
                let turn = angle.rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU;
                let sector = ((turn * SECTORS as f64) as usize).min(SECTORS - 1);
                sector_area[sector] += 1;
                sector_ink[sector] += u32::from(ink);
            }
        }
    }
    let sectors = (0..SECTORS)
        .filter(|&s| {
            sector_area[s] > 0 && sector_ink[s] as f32 > SECTOR_SHARE * sector_area[s] as f32
        })
        .count();
    Layout {
        whole,
        base: !underside.rings.is_empty(),
        inked: inked as f32 / area.max(1) as f32,
        sectors,
        chroma: crate::raster::quantile(&mut chroma, 0.75),
        size: (body.major / (side / 2.0)) as f32,
    }
}
