//! A prepared exemplar as bytes, for the cache.
//!
//! Ink and descriptors are quantised to 8 bits on the way in *and* rounded the same way when an
//! exemplar is first prepared ([`super::signature::ExemplarSignature::of`] calls [`quantise`]), so
//! that a warm start answers exactly like a cold one.

use super::keypoints::{Keypoint, LENGTH, PointSet};
use super::shape::ShapeCode;
use super::signature::ExemplarSignature;
use crate::alignment::dense::Level;
use crate::geometry::{Exemplar, Homography, Photo, Quad};
use crate::ink::small::SmallInk;
use crate::raster::Plane;

/// First bytes of every record.
const MAGIC: &[u8; 8] = b"ftrmark4";

/// Rounds to the 8-bit grid of the cache.
pub fn quantise(value: f32) -> f32 {
    f32::from(to_byte(value)) / 255.0
}

fn to_byte(value: f32) -> u8 {
    (value.clamp(0.0, 1.0) * 255.0).round() as u8
}

/// Writes a signature, its box, whether nothing can be made out there, and further bytes.
pub fn write(
    quad: &Quad<Photo>,
    shows_nothing: bool,
    s: &ExemplarSignature,
    further: &[u8],
) -> Vec<u8> {
    let mut out = MAGIC.to_vec();
    out.push(u8::from(shows_nothing));
    let mut doubles = |values: &[f64]| values.iter().for_each(|v| out.extend(v.to_le_bytes()));
    doubles(quad.to_array().as_flattened());
    doubles(s.quad.to_array().as_flattened());
    doubles(s.from_photo.rows().as_flattened());
    for (level, within) in s.levels.iter().zip(&s.within) {
        out.extend((level.ink.width() as u32).to_le_bytes());
        for plane in [&level.ink, &level.valid, within] {
            out.extend(plane.data().iter().map(|&v| to_byte(v)));
        }
    }
    out.extend((s.fine.ink.width() as u32).to_le_bytes());
    for plane in [&s.fine.ink, &s.fine.valid] {
        out.extend(plane.data().iter().map(|&v| to_byte(v)));
    }
    for numbers in [&s.code.0, &s.imprints] {
        out.extend((numbers.len() as u32).to_le_bytes());
        numbers.iter().for_each(|v| out.extend(v.to_le_bytes()));
    }
    out.extend((s.points.len() as u32).to_le_bytes());
    for k in &s.points.points {
        for v in [k.x, k.y, k.sigma, k.axis, k.response] {
            out.extend(v.to_le_bytes());
        }
    }
    out.extend(s.points.rows().iter().map(|&v| to_byte(v)));
    out.extend((further.len() as u32).to_le_bytes());
    out.extend(further);
    let sum = blake3::hash(&out);
    out.extend(&sum.as_bytes()[..8]);
    out
}

/// Reads a record back; `None` where it is damaged or of another kind.
pub fn read(bytes: &[u8]) -> Option<(Quad<Photo>, bool, ExemplarSignature, &[u8])> {
    let (body, sum) = bytes.split_at_checked(bytes.len().checked_sub(8)?)?;
    if blake3::hash(body).as_bytes()[..8] != *sum {
        return None;
    }
    let mut r = Reader {
        rest: body.strip_prefix(MAGIC)?,
    };
    let shows_nothing = r.take(1)? != [0];
    let quad = Quad::from_array(r.corners()?);
    let in_frame = Quad::<Exemplar>::from_array(r.corners()?);
    let mut rows = [[0.0; 3]; 3];
    for v in rows.as_flattened_mut() {
        *v = r.double()?;
    }
    let mut levels = Vec::with_capacity(2);
    let mut within = Vec::with_capacity(2);
    for _ in 0..2 {
        let side = r.count()?;
        let (ink, valid) = (r.plane(side)?, r.plane(side)?);
        levels.push(Level { ink, valid });
        within.push(r.plane(side)?);
    }
    let side = r.count()?;
    let fine = SmallInk {
        ink: r.plane(side)?,
        valid: r.plane(side)?,
    };
    let code = ShapeCode(r.floats()?);
    let imprints = r.floats()?;
    let count = r.count()?;
    let points: Vec<Keypoint> = (0..count).map(|_| r.keypoint()).collect::<Option<_>>()?;
    let rows_of_points = r.take(count.checked_mul(LENGTH)?)?;
    let points = PointSet::from_parts(
        points,
        rows_of_points
            .iter()
            .map(|&b| f32::from(b) / 255.0)
            .collect(),
    );
    let length = r.count()?;
    let further = r.take(length)?;
    let signature = ExemplarSignature {
        points,
        code,
        imprints,
        fine,
        levels: levels.try_into().ok()?,
        within: within.try_into().ok()?,
        quad: in_frame,
        from_photo: Homography::new(rows),
    };
    Some((quad, shows_nothing, signature, further))
}

struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    fn take(&mut self, n: usize) -> Option<&'a [u8]> {
        let (head, rest) = self.rest.split_at_checked(n)?;
        self.rest = rest;
        Some(head)
    }

    fn count(&mut self) -> Option<usize> {
        Some(u32::from_le_bytes(self.take(4)?.try_into().ok()?) as usize)
    }

    fn float(&mut self) -> Option<f32> {
        Some(f32::from_le_bytes(self.take(4)?.try_into().ok()?))
    }

    fn floats(&mut self) -> Option<Vec<f32>> {
        let length = self.count()?;
        let raw = self.take(length.checked_mul(4)?)?;
        let value = |b: &[u8]| Some(f32::from_le_bytes(b.try_into().ok()?));
        raw.chunks_exact(4).map(value).collect()
    }

    fn double(&mut self) -> Option<f64> {
        Some(f64::from_le_bytes(self.take(8)?.try_into().ok()?))
    }

    fn corners(&mut self) -> Option<[[f64; 2]; 4]> {
        let mut out = [[0.0; 2]; 4];
        for v in out.as_flattened_mut() {
            *v = self.double()?;
        }
        Some(out)
    }

    fn plane(&mut self, side: usize) -> Option<Plane> {
        let raw = self.take(side.checked_mul(side)?)?;
        let data = raw.iter().map(|&b| f32::from(b) / 255.0).collect();
        Some(Plane::from_vec(side, side, data))
    }

    fn keypoint(&mut self) -> Option<Keypoint> {
        Some(Keypoint {
            x: self.float()?,
            y: self.float()?,
            sigma: self.float()?,
            axis: self.float()?,
            response: self.float()?,
        })
    }
}
