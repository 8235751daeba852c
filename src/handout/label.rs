//! Labels with a key that a camera reads back, as a QR code (ISO/IEC 18004).

use image::RgbImage;
use maud::{DOCTYPE, Markup, PreEscaped, html as markup};
use qrcode::{Color, EcLevel, QrCode};
use rqrr::PreparedImage;

use super::cautions::CAUTIONS;
use crate::decision::Moment;
use crate::report::frame::small;

const STYLE: &str = include_str!("label.css");

/// What stands on a label, so that it finds its piece again: the number, and a few digits that tell the
/// pieces of one workspace from those of another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key {
    pub piece: i64,
    /// Eight hex digits.
    check: String,
}

/// Begins every key.
const WORD: &str = "FOOTRING";

/// Digits of the hash in a key: one foreign label in four thousand million fits by chance, and with them
/// a key still fits a code of 25 modules a side of which a quarter may be lost (29 letters).
const CHECK_DIGITS: usize = 8;

impl Key {
    /// The key of a piece, by what never changes of it.
    pub fn of(piece: i64, added: Moment, lot: &str) -> Self {
        let hash = blake3::hash(format!("{piece}\n{added}\n{lot}").as_bytes());
        let check = hash.to_hex()[..CHECK_DIGITS].to_uppercase();
        Self { piece, check }
    }

    /// Reads `FOOTRING:12:9F3A61C2`.
    pub fn read(text: &str) -> Option<Self> {
        let mut parts = text.split(':');
        let (word, piece, check) = (parts.next()?, parts.next()?, parts.next()?);
        let is_check = check.len() == CHECK_DIGITS && check.bytes().all(|b| b.is_ascii_hexdigit());
        let piece = piece.parse().ok().filter(|n| *n > 0)?;
        (word == WORD && is_check && parts.next().is_none()).then(|| Self {
            piece,
            check: check.to_owned(),
        })
    }
}

impl std::fmt::Display for Key {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{WORD}:{}:{}", self.piece, self.check)
    }
}

/// One label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    pub key: Key,
    pub title: String,
    /// A few words a line: how the maker is known, when it was made.
    pub lines: Vec<String>,
    /// What is asked for it.
    pub price: Option<String>,
}

/// Labels of a sheet: three across and seven down, each 63.5 by 38.1 mm, a common size of sheets to peel.
pub const A_SHEET: usize = 21;

/// Printed on each label.
const SHORT_CAUTION: &str = "Not for food or drink until tested. An opinion, no appraisal.";

/// Sheets of labels to print. `None` where a key does not fit into a code, which none does.
pub fn labels(all: &[Label]) -> Option<String> {
    let drawn: Option<Vec<(&Label, Markup)>> = all
        .iter()
        .map(|label| Some((label, code(&label.key.to_string())?)))
        .collect();
    let drawn = drawn?;
    let page = markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Labels" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    p {
                        (all.len()) @if all.len() == 1 { " label" } @else { " labels" }
                        ". Print at 100 %, without margins of the printer's own, on A4 sheets of three by seven."
                    }
                    @for caution in CAUTIONS { p { (caution) } }
                }
                @for sheet in drawn.chunks(A_SHEET) {
                    section { @for (label, code) in sheet { (one(label, code)) } }
                }
            }
        }
    };
    Some(page.into_string())
}

fn one(label: &Label, code: &Markup) -> Markup {
    markup! {
        article {
            (code)
            div {
                h2 { (label.title) }
                @for line in &label.lines { p { (line) } }
            }
            p.number {
                (label.key.piece)
                @if let Some(price) = &label.price { " · " (price) }
            }
            p.caution { (SHORT_CAUTION) }
        }
    }
}

/// Modules left white around a code, by the standard.
const QUIET: usize = 4;

/// A code as a drawing, one unit a module. A quarter of it may be lost.
fn code(text: &str) -> Option<Markup> {
    let code = QrCode::with_error_correction_level(text, EcLevel::Q).ok()?;
    let side = code.width();
    let mut path = String::new();
    for (at, colour) in code.to_colors().iter().enumerate() {
        if *colour == Color::Dark {
            path += &format!("M{} {}h1v1h-1z", at % side + QUIET, at / side + QUIET);
        }
    }
    let whole = side + 2 * QUIET;
    Some(markup! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {whole} {whole}"))
            shape-rendering="crispEdges" role="img" aria-label=(text) {
            rect width=(whole) height=(whole) fill="#fff" {}
            path d=(path) fill="#000" {}
        }
    })
}

/// Longer sides at which a photo is searched for codes, in pixels. A label of 22 mm beside a plate of
/// 270 mm has about four pixels a module at the first; the second is for a small label in a large photo.
const SEARCHED: [u32; 2] = [1600, 3200];

/// The keys on labels that lie in a photo, in order of their numbers.
pub fn keys_in(photo: &RgbImage) -> Vec<Key> {
    let longer = photo.width().max(photo.height());
    let mut keys: Vec<Key> = Vec::new();
    for side in SEARCHED {
        let picture = small(photo, side);
        let grey = |x: usize, y: usize| {
            let [r, g, b] = picture.get_pixel(x as u32, y as u32).0.map(u32::from);
            ((r * 54 + g * 183 + b * 19) / 256) as u8
        };
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let mut prepared = PreparedImage::prepare_from_greyscale(width, height, grey);
        for grid in prepared.detect_grids() {
            let text = grid.decode().map(|(_, text)| text);
            keys.extend(text.ok().and_then(|text| Key::read(&text)));
        }
        if !keys.is_empty() || longer <= side {
            break;
        }
    }
    keys.sort_by(|a, b| (a.piece, &a.check).cmp(&(b.piece, &b.check)));
    keys.dedup();
    keys
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use image::Rgb;

    fn key(piece: i64) -> Key {
        Key::of(piece, "2026-05-02T20:15:00Z".parse().unwrap(), "fair")
    }

    #[test]
    fn keys_read_back_and_tell_workspaces_apart() {
        let own = key(12);
        assert_eq!(Key::read(&own.to_string()), Some(own.clone()));
        assert_ne!(
            own,
            Key::of(12, "2026-05-02T20:15:01Z".parse().unwrap(), "fair")
        );
        for text in [
            "FOOTRING:12",
            "FOOTRING:0:9F3A61C2",
            "FOOTRING:12:9F3A61C",
            "FOOTRING:12:9F3A61C2:1",
            "other:12:9F3A61C2",
        ] {
            assert_eq!(Key::read(text), None, "{text}");
        }
    }

    /// The drawn path as a picture, `px` pixels a module, at a place of a grey photo.
    fn photographed(text: &str, px: u32, at: (u32, u32)) -> RgbImage {
        let svg = code(text).unwrap().into_string();
        let path = svg.split("d=\"").nth(1).unwrap().split('"').next().unwrap();
        let mut photo = RgbImage::from_pixel(900, 700, Rgb([120, 118, 110]));
        let whole = QrCode::with_error_correction_level(text, EcLevel::Q)
            .unwrap()
            .width()
            + 2 * QUIET;
        let mut fill = |x: u32, y: u32, side: u32, grey: u8| {
            for dy in 0..side {
                for dx in 0..side {
                    photo.put_pixel(at.0 + x + dx, at.1 + y + dy, Rgb([grey; 3]));
                }
            }
        };
        fill(0, 0, whole as u32 * px, 235);
        for module in path.split('M').skip(1) {
            let place = module.split('h').next().unwrap();
            let (x, y) = place.split_once(' ').unwrap();
            let (x, y): (u32, u32) = (x.parse().unwrap(), y.parse().unwrap());
            fill(x * px, y * px, px, 30);
        }
        photo
    }

    #[test]
    fn a_label_in_a_photo_is_read_whichever_way_it_lies() {
        let photo = photographed(&key(12).to_string(), 5, (300, 200));
        assert_eq!(keys_in(&photo), [key(12)]);
        for turned in [
            image::imageops::rotate90(&photo),
            image::imageops::rotate180(&photo),
        ] {
            assert_eq!(keys_in(&turned), [key(12)]);
        }
        let foreign = photographed("something else", 5, (10, 10));
        assert_eq!(keys_in(&foreign), []);
    }

    #[test]
    fn every_label_says_what_must_be_said() {
        let label = |n| Label {
            key: key(n),
            title: format!("Cup <{n}>"),
            lines: vec!["marked Hollin Vale".to_owned()],
            price: Some("EUR 12".to_owned()),
        };
        let page = labels(&(1..=30).map(label).collect::<Vec<_>>()).unwrap();
        assert_eq!(page.matches("<article").count(), 30);
        assert_eq!(page.matches("<section").count(), 2);
        assert_eq!(
            page.matches("Not for food or drink until tested.").count(),
            30
        );
        for caution in CAUTIONS {
            assert!(page.contains(caution), "{caution}");
        }
        assert!(page.contains("Cup &lt;3&gt;"));
    }
}
