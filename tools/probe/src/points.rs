//! Functions of numbers: colours, point pairs, quadrilaterals.

use footring::geometry::{Exemplar, Homography, Photo, Point, Quad};
use footring::ink::colour;
use footring::underside::ellipse::Ellipse;
use serde::Deserialize;
use serde_json::{Value, json};

use crate::{Failure, request};

#[derive(Deserialize)]
struct Colours {
    rgb: Vec<[u8; 3]>,
}

/// 8-bit sRGB to CIELAB.
pub(crate) fn lab(value: Value) -> Result<Value, Failure> {
    let Colours { rgb } = request("lab", value)?;
    let lab: Vec<[f32; 3]> = rgb.into_iter().map(colour::lab).collect();
    Ok(json!({ "lab": lab }))
}

#[derive(Deserialize)]
struct Pairs {
    from: Vec<[f64; 2]>,
    to: Vec<[f64; 2]>,
}

/// The least-squares homography through point pairs; `rows` is null where there is none.
pub(crate) fn homography(value: Value) -> Result<Value, Failure> {
    let Pairs { from, to } = request("homography", value)?;
    let from: Vec<Point<Photo>> = from.into_iter().map(|[x, y]| Point::new(x, y)).collect();
    let to: Vec<Point<Exemplar>> = to.into_iter().map(|[x, y]| Point::new(x, y)).collect();
    let rows = Homography::fit(&from, &to).map(|h| h.rows());
    Ok(json!({ "rows": rows }))
}

#[derive(Deserialize)]
struct Quads {
    one: [[f64; 2]; 4],
    other: [[f64; 2]; 4],
}

/// Intersection over union of two quadrilaterals.
pub(crate) fn overlap(value: Value) -> Result<Value, Failure> {
    let Quads { one, other } = request("overlap", value)?;
    let (one, other) = (Quad::<Photo>::from_array(one), Quad::from_array(other));
    Ok(json!({ "overlap": one.overlap(&other) }))
}

#[derive(Deserialize)]
struct Curve {
    points: Vec<[f64; 2]>,
}

/// The least-squares ellipse through points; `ellipse` is null where there is none.
pub(crate) fn ellipse(value: Value) -> Result<Value, Failure> {
    let Curve { points } = request("ellipse", value)?;
    let points: Vec<Point<Photo>> = points.into_iter().map(|[x, y]| Point::new(x, y)).collect();
    let fit = Ellipse::fit(&points).map(|e| {
        json!({
            "x": e.centre.x, "y": e.centre.y, "major": e.major, "minor": e.minor,
            "angle": e.angle,
        })
    });
    Ok(json!({ "ellipse": fit }))
}
