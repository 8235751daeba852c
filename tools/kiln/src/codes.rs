//! The schemes of the codes that invented marks carry, as a library's `codes.toml` tells them, and
//! what a piece carries in their place.

use crate::mark::{CodeStyle, Design};
use crate::random::Rng;
use std::fmt::Write;

/// What stands where a piece's code would.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Carried {
    Code,
    Nothing,
    /// Something that is no code of the scheme, such as the number of a pattern.
    Other,
}

/// Of twenty pieces of families with codes five carry none and two something else.
const IN_TWENTY: (usize, usize) = (5, 2);

impl Carried {
    pub fn draw(rng: &mut Rng) -> Self {
        match rng.below(20) {
            n if n < IN_TWENTY.0 => Self::Nothing,
            n if n < IN_TWENTY.0 + IN_TWENTY.1 => Self::Other,
            _ => Self::Code,
        }
    }

    /// The text that a piece of this design carries; `usual` is the code it would have.
    pub fn text(self, design: &Design, usual: String, rng: &mut Rng) -> String {
        if design.code == CodeStyle::None {
            return usual;
        }
        let number = |rng: &mut Rng| 100 + rng.below(900);
        match (self, design.code) {
            (Self::Code, _) => usual,
            (Self::Nothing, _) => String::new(),
            (Self::Other, CodeStyle::Letters) => format!("{}{}", 1 + rng.below(9), number(rng)),
            (Self::Other, _) => {
                format!("{}{}", char::from(b'A' + rng.below(26) as u8), number(rng))
            }
        }
    }
}

/// Where the codes of a family stand.
pub enum Stands<'a> {
    /// Corners in the pixels of a picture of the library.
    At([[f32; 2]; 4], &'a str),
    Below,
}

/// `codes.toml` of a family whose pieces carry codes.
pub fn codes_toml(design: &Design, stands: &Stands<'_>, source: &str) -> Option<String> {
    let first = design.years.0;
    let year = format!("year = {{ window = [{first}, {}] }}\n", first + 99);
    let month = "(?<month>[1-9]|1[0-2])";
    let (name, rule) = match design.code {
        CodeStyle::None => return None,
        CodeStyle::MonthYear => (
            "month and year",
            format!("pattern = \"{month}(?<year>[0-9]{{2}})\"\n{year}"),
        ),
        CodeStyle::Slashed => (
            "month over year",
            format!("pattern = \"{month}/(?<year>[0-9]{{2}})\"\n{year}"),
        ),
        CodeStyle::Letters => (
            "plant, decorator and kiln",
            "pattern = \"(?<plant>[A-Z])(?<decorator>[A-Z])(?<kiln>[1-9])\"\n\
             notes = [\"Tells no time.\"]\n"
                .to_string(),
        ),
    };
    let mut out = format!("[[scheme]]\nname = \"{name}\"\n{rule}codes_usual = \"mostly\"\n");
    let written = match stands {
        Stands::Below => writeln!(out, "place = \"below\""),
        Stands::At(corners, image) => {
            let corners: Vec<String> = corners
                .iter()
                .map(|[x, y]| format!("[{x:.1}, {y:.1}]"))
                .collect();
            writeln!(out, "box = [{}]\nimage = \"{image}\"", corners.join(", "))
        }
    };
    // Writing to a string cannot fail.
    written.ok()?;
    if !source.is_empty() {
        writeln!(out, "sources = [\"{source}\"]").ok()?;
    }
    Some(out)
}
