//! Contact sheets: photos with their truth drawn in, and the marks of a library.

use crate::lot::LotError;
use image::imageops::FilterType;
use image::{Rgb, RgbImage};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// Side of one picture on a sheet, in pixels.
const CELL: u32 = 320;
const GAP: u32 = 4;
const COLUMNS: u32 = 6;

#[derive(Deserialize)]
struct Line {
    file: String,
    kind: String,
    condition: String,
    quad: Option<[[f32; 2]; 4]>,
    code: Option<Code>,
    deciding: Option<Code>,
    second: Vec<Code>,
}

#[derive(Deserialize)]
struct Code {
    quad: [[f32; 2]; 4],
}

/// Which photos a sheet shows: those whose kind or condition is named, all where nothing is.
pub struct Choice<'a> {
    pub named: Option<&'a str>,
    pub most: usize,
    pub cell: Option<u32>,
}

/// A sheet of the photos of `lot` with the quads of marks (green), codes, deciding parts and others (red).
pub fn photos(lot: &Path, choice: &Choice<'_>) -> Result<RgbImage, LotError> {
    let path = lot.join("truth.jsonl");
    let text = std::fs::read_to_string(&path).map_err(|source| LotError::Write {
        path: path.clone(),
        source,
    })?;
    let mut cells = Vec::new();
    for line in text.lines() {
        let t: Line = serde_json::from_str(line).map_err(|source| LotError::Truth {
            path: path.clone(),
            source,
        })?;
        let wanted = choice.named.is_none_or(|n| t.kind == n || t.condition == n);
        if wanted && cells.len() < choice.most {
            let side = choice.cell.unwrap_or(CELL);
            let (mut cell, k) = shrunk(&lot.join("photos").join(&t.file), side)?;
            t.quad
                .iter()
                .for_each(|q| outline(&mut cell, q, k, Rgb([0, 230, 60])));
            t.code
                .iter()
                .chain(&t.deciding)
                .chain(&t.second)
                .for_each(|c| outline(&mut cell, &c.quad, k, Rgb([255, 40, 40])));
            cells.push(cell);
        }
    }
    Ok(laid(&cells, choice.cell.unwrap_or(CELL)))
}

/// A sheet of the clean scans of `lot`'s library.
pub fn marks(lot: &Path, choice: &Choice<'_>) -> Result<RgbImage, LotError> {
    let mut files: Vec<PathBuf> = Vec::new();
    gather(&lot.join("library-clean"), &mut files)?;
    files.sort();
    files.truncate(choice.most);
    let side = choice.cell.unwrap_or(CELL);
    let cells = files
        .iter()
        .map(|f| Ok(shrunk(f, side)?.0))
        .collect::<Result<Vec<_>, LotError>>()?;
    Ok(laid(&cells, side))
}

fn gather(dir: &Path, out: &mut Vec<PathBuf>) -> Result<(), LotError> {
    let failed = |source| LotError::Write {
        path: dir.to_path_buf(),
        source,
    };
    for entry in std::fs::read_dir(dir).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if path.is_dir() {
            gather(&path, out)?;
        } else if path.extension().is_some_and(|e| e == "png" || e == "jpg") {
            out.push(path);
        }
    }
    Ok(())
}

fn shrunk(path: &Path, side: u32) -> Result<(RgbImage, f32), LotError> {
    let full = image::open(path)
        .map_err(|source| LotError::Png {
            path: path.to_path_buf(),
            source,
        })?
        .to_rgb8();
    let k = side as f32 / full.width().max(full.height()) as f32;
    let (w, h) = (
        (full.width() as f32 * k) as u32,
        (full.height() as f32 * k) as u32,
    );
    Ok((
        image::imageops::resize(&full, w.max(1), h.max(1), FilterType::Triangle),
        k,
    ))
}

fn outline(cell: &mut RgbImage, quad: &[[f32; 2]; 4], k: f32, colour: Rgb<u8>) {
    for i in 0..4 {
        let (a, b) = (quad[i], quad[(i + 1) % 4]);
        // The top edge is drawn twice as thick, so that the way up is seen.
        let thick = if i == 0 { 2 } else { 1 };
        for s in 0..=600 {
            let t = s as f32 / 600.0;
            let x = ((a[0] + (b[0] - a[0]) * t) * k) as i64;
            let y = ((a[1] + (b[1] - a[1]) * t) * k) as i64;
            for d in 0..thick {
                let (x, y) = (x + d, y + d);
                if x >= 0 && y >= 0 && x < i64::from(cell.width()) && y < i64::from(cell.height()) {
                    cell.put_pixel(x as u32, y as u32, colour);
                }
            }
        }
    }
}

fn laid(cells: &[RgbImage], side: u32) -> RgbImage {
    let columns = COLUMNS.min(cells.len().max(1) as u32);
    let rows = (cells.len() as u32).div_ceil(columns).max(1);
    let pitch = side + GAP;
    let mut sheet = RgbImage::from_pixel(columns * pitch, rows * pitch, Rgb([60, 60, 66]));
    for (i, cell) in cells.iter().enumerate() {
        let (x, y) = (i as u32 % columns * pitch, i as u32 / columns * pitch);
        image::imageops::replace(&mut sheet, cell, i64::from(x), i64::from(y));
    }
    sheet
}
