//! Photos of one piece from outside: one photographed again is told from another with the same stamp, and its photos
//! are matched as one.

use std::fs;
use std::path::Path;

use image::imageops::{self, FilterType};
use serde_json::Value;

use crate::support::jpeg;
use crate::workspace_folder::Folder;

/// Two pieces of the shipped sale with one stamp.
const PIECE: &str = "IMG_0007.jpg";
const SISTER: &str = "IMG_0042.jpg";

#[test]
fn a_piece_photographed_again_is_told_from_its_sister() {
    let folder = Folder::new();
    let sale = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/demo/sale");
    let first = fs::read(sale.join(PIECE)).unwrap();
    let picture = image::load_from_memory(&first).unwrap().to_rgb8();
    let turned = imageops::rotate90(&picture);
    let (w, h) = turned.dimensions();
    let again = imageops::resize(&turned, w * 9 / 10, h * 9 / 10, FilterType::Triangle);
    let again = image::RgbImage::from_fn(again.width(), again.height(), |x, y| {
        image::Rgb(again.get_pixel(x, y).0.map(|v| v - v / 12))
    });
    folder.photo(PIECE, &first);
    folder.photo("IMG_0008.jpg", &jpeg(&again));
    folder.photo(SISTER, &fs::read(sale.join(SISTER)).unwrap());
    folder.intake("Mill fair").exit(0);

    let said = folder.run(&["piece", "propose", "--json"]).exit(0);
    let lines: Vec<Value> = said
        .out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let joined: Vec<&Value> = lines.iter().filter(|l| l["by"] == "joined").collect();
    assert_eq!(joined.len(), 1, "{lines:?}");
    assert_eq!(joined[0]["photos"][0], PIECE);
    assert_eq!(joined[0]["photos"][1], "IMG_0008.jpg");
    assert_eq!(joined[0]["photos"].as_array().unwrap().len(), 2);
    folder
        .run(&["piece", "propose", "--lot", "Mill fair"])
        .exit(0)
        .has("One piece, by base and strike")
        .has("IMG_0007.jpg IMG_0008.jpg");

    folder
        .run(&["piece", "new", PIECE, "IMG_0008.jpg"])
        .exit(0)
        .has("piece 1");
    folder
        .run(&["piece", "mark", "1", "--out", "mark.png"])
        .exit(0)
        .has("piece 1: ")
        .has("IMG_0007.jpg")
        .has("mark.png");
    // What belongs to a piece is proposed no more.
    folder
        .run(&["piece", "propose"])
        .exit(0)
        .lacks("One piece, by base and strike")
        .has(SISTER);
    folder
        .run(&["piece", "mark", "1", "2", "--out", "two.png"])
        .exit(2)
        .has("takes the mark of one piece");
}
