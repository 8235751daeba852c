//! Functions of pictures. Grey pictures are read as 0 to 255.

use std::fs;
use std::path::{Path, PathBuf};

use footring::descriptors::keypoints::{self, Halves};
use footring::descriptors::shape as shapes;
use footring::geometry::{Exemplar, Homography, Photo};
use footring::photo::{DecodeLimits, read_photo};
use footring::raster::Plane;
use footring::underside::edges::Edges;
use footring::verdict::quality::spread_of;
use image::GrayImage;
use serde::Deserialize;
use serde_json::{Value, json};

use crate::{Failure, request};

pub(crate) fn grey(path: &Path) -> Result<GrayImage, Failure> {
    let picture = image::open(path).map_err(|source| Failure::Picture {
        path: path.to_owned(),
        source,
    })?;
    Ok(picture.to_luma8())
}

pub(crate) fn plane(picture: &GrayImage) -> Plane {
    let samples = picture.as_raw().iter().map(|v| f32::from(*v)).collect();
    Plane::from_vec(picture.width() as usize, picture.height() as usize, samples)
}

fn keep(out: &Path, samples: impl Iterator<Item = f32>) -> Result<(), Failure> {
    let bytes: Vec<u8> = samples.flat_map(f32::to_le_bytes).collect();
    fs::write(out, bytes).map_err(|source| Failure::File {
        path: out.to_owned(),
        source,
    })
}

fn size(plane: &Plane) -> Value {
    json!({ "width": plane.width(), "height": plane.height() })
}

#[derive(Deserialize)]
struct Upright {
    picture: PathBuf,
    out: PathBuf,
}

/// A photo decoded and turned as the engine does; `out` holds its RGB bytes.
pub(crate) fn upright(value: Value) -> Result<Value, Failure> {
    let Upright { picture, out } = request("upright", value)?;
    let bytes = fs::read(&picture).map_err(|source| Failure::File {
        path: picture.clone(),
        source,
    })?;
    let photo = read_photo(&bytes, &DecodeLimits::default()).map_err(|source| Failure::Photo {
        path: picture,
        source,
    })?;
    fs::write(&out, photo.pixels.as_raw()).map_err(|source| Failure::File { path: out, source })?;
    let (width, height) = photo.pixels.dimensions();
    Ok(json!({ "width": width, "height": height, "taken": photo.taken }))
}

#[derive(Deserialize)]
struct Warp {
    picture: PathBuf,
    /// From the result to the picture, pixel corners at whole numbers.
    to_source: [[f64; 3]; 3],
    width: usize,
    height: usize,
    out: PathBuf,
}

/// Bilinear resampling through a homography; -1 where the picture ends.
pub(crate) fn warp(value: Value) -> Result<Value, Failure> {
    let Warp {
        picture,
        to_source,
        width,
        height,
        out,
    } = request("warp", value)?;
    let map = Homography::<Exemplar, Photo>::new(to_source);
    let warped = plane(&grey(&picture)?).warp(&map, width, height, -1.0);
    keep(&out, warped.data().iter().copied())?;
    Ok(size(&warped))
}

#[derive(Deserialize)]
struct Blur {
    picture: PathBuf,
    sigma: f32,
    out: PathBuf,
}

/// Gaussian blur.
pub(crate) fn blur(value: Value) -> Result<Value, Failure> {
    let Blur {
        picture,
        sigma,
        out,
    } = request("blur", value)?;
    let blurred = plane(&grey(&picture)?).blur(sigma);
    keep(&out, blurred.data().iter().copied())?;
    Ok(size(&blurred))
}

#[derive(Deserialize)]
struct Spread {
    picture: PathBuf,
}

/// How far edges are spread: by a lens out of focus, and along a movement.
pub(crate) fn spread(value: Value) -> Result<Value, Failure> {
    let Spread { picture } = request("spread", value)?;
    let got = spread_of(&plane(&grey(&picture)?), |_, _| true);
    Ok(json!({
        "defocus": got.defocus, "streak": got.streak, "degrees": got.angle.to_degrees(),
    }))
}

#[derive(Deserialize)]
struct Describe {
    picture: PathBuf,
    limit: usize,
}

/// Local edge descriptors of a grey picture, dark counted as ink.
pub(crate) fn describe(value: Value) -> Result<Value, Failure> {
    let Describe { picture, limit } = request("describe", value)?;
    let ink = plane(&grey(&picture)?).map(|v| 1.0 - v / 255.0);
    let valid = Plane::filled(ink.width(), ink.height(), 1.0);
    let points: Vec<Value> = keypoints::describe(&ink, &valid, limit, Halves::BusierFirst)
        .into_iter()
        .map(|(p, d)| {
            json!({
                "x": p.x, "y": p.y, "sigma": p.sigma, "axis": p.axis,
                "response": p.response, "descriptor": d.0.as_slice(),
            })
        })
        .collect();
    Ok(json!({ "points": points }))
}

#[derive(Deserialize)]
struct Thinned {
    picture: PathBuf,
    least: f32,
    out: PathBuf,
}

/// The engine's own thinned edges (before they are linked): 255 on an edge, else 0.
pub(crate) fn edges(value: Value) -> Result<Value, Failure> {
    let Thinned {
        picture,
        least,
        out,
    } = request("edges", value)?;
    let grey = plane(&grey(&picture)?);
    let found = Edges::of(&grey, least);
    let (width, height) = (grey.width(), grey.height());
    let on_edge = (0..width * height).map(|i| {
        let (x, y) = ((i % width) as i64, (i / width) as i64);
        if found.at(x, y).is_some() { 255.0 } else { 0.0 }
    });
    keep(&out, on_edge)?;
    Ok(size(&grey))
}

#[derive(Deserialize)]
struct Shape {
    picture: PathBuf,
}

/// The coarse shape code of a square grey picture, dark counted as ink.
pub(crate) fn shape(value: Value) -> Result<Value, Failure> {
    let Shape { picture } = request("shape", value)?;
    let ink = plane(&grey(&picture)?).map(|v| 1.0 - v / 255.0);
    let valid = Plane::filled(ink.width(), ink.height(), 1.0);
    Ok(json!({ "code": shapes::code(&ink, &valid).0 }))
}
