//! Functions of pictures. Grey pictures are read as 0 to 255.

use std::fs;
use std::path::{Path, PathBuf};

use footring::descriptors::keypoints;
use footring::geometry::{Exemplar, Homography, Photo};
use footring::raster::Plane;
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
struct Gradients {
    picture: PathBuf,
    out_x: PathBuf,
    out_y: PathBuf,
}

/// Sobel gradients of the image crate that the engine is built on.
pub(crate) fn gradients(value: Value) -> Result<Value, Failure> {
    let Gradients {
        picture,
        out_x,
        out_y,
    } = request("gradients", value)?;
    let picture = grey(&picture)?;
    let x = imageproc::gradients::horizontal_sobel(&picture);
    let y = imageproc::gradients::vertical_sobel(&picture);
    keep(&out_x, x.as_raw().iter().map(|v| f32::from(*v)))?;
    keep(&out_y, y.as_raw().iter().map(|v| f32::from(*v)))?;
    Ok(json!({ "width": picture.width(), "height": picture.height() }))
}

#[derive(Deserialize)]
struct Canny {
    picture: PathBuf,
    low: f32,
    high: f32,
    out: PathBuf,
}

/// Canny edges of the image crate that the engine is built on: 255 on an edge, else 0.
pub(crate) fn canny(value: Value) -> Result<Value, Failure> {
    let Canny {
        picture,
        low,
        high,
        out,
    } = request("canny", value)?;
    let edges = imageproc::edges::canny(&grey(&picture)?, low, high);
    keep(&out, edges.as_raw().iter().map(|v| f32::from(*v)))?;
    Ok(json!({ "width": edges.width(), "height": edges.height() }))
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
    let points: Vec<Value> = keypoints::describe(&ink, &valid, limit)
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
