//! What stands below the name of a line, each at a place of its own: a rule, a country, small print, a sign. The forms
//! of one family differ there and nowhere else.

use crate::drawing::{Bounds, Font, Ink, Setting, Shape, bounds_of, ellipse, polyline};
use serde::Serialize;

/// Something that may stand below the name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    /// Thin rules, one below the other.
    Rules(u8),
    /// A line of small print; a country is one.
    Print(String),
    Dots(u8),
    Letter(char),
}

/// By what a form differs from its family's main one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Difference {
    /// A country line more or less.
    Country,
    /// A line of small print more or less.
    Print,
    /// Other words at the same place.
    Wording,
    Letter,
    Dots,
    Rule,
}

impl Difference {
    pub const ALL: [Self; 6] = [
        Self::Country,
        Self::Print,
        Self::Wording,
        Self::Letter,
        Self::Dots,
        Self::Rule,
    ];
}

/// Which part a form shows at each of its family's places, by number; None where it leaves the place empty.
pub type Shown = Vec<Option<usize>>;

/// The places below the name, and what forms of the family show there. Empty for marks that have no such places.
#[derive(Clone, Debug, Default)]
pub struct Foot {
    /// Everything that stands at each place on some form, from the top.
    pub places: Vec<Vec<Part>>,
    pub shown: Shown,
    /// What the family's other forms show.
    pub rivals: Vec<Shown>,
    /// None for the main form.
    pub differs: Option<Difference>,
}

/// A place as it was drawn.
#[derive(Clone, Debug)]
pub struct Stood {
    /// Box of all that may stand there, in drawing units.
    pub bounds: Bounds,
    /// Whether forms of the family differ there.
    pub varies: bool,
    /// Signs that stand beside each other and are each to be seen; 0 where the place is empty.
    pub signs: usize,
    /// Height of the smallest letters or signs that may stand there, in drawing units.
    pub letter: f32,
}

/// Where the foot hangs: middle and base line of the name, and the widest print.
#[derive(Clone, Copy, Debug)]
pub struct Stand {
    pub x: f32,
    pub base: f32,
    pub most: f32,
}

/// Lengths in drawing units, of which a mark is about two wide: what the descenders of the name need, the size of
/// small print and of a lone letter, half of a rule, and from rule to rule.
const BELOW: f32 = 0.1;
const PRINT: f32 = 0.17;
const LETTER: f32 = 0.24;
const RULE: f32 = 0.55;
const RULES_APART: f32 = 0.06;
const DOTS_APART: f32 = 0.16;
/// Share of its size that a small letter is high.
const X_HEIGHT: f32 = 0.5;

impl Part {
    /// How much room it takes below what is above it.
    fn room(&self) -> f32 {
        match self {
            Self::Rules(n) => 0.05 + RULES_APART * f32::from(*n),
            Self::Print(_) => 0.22,
            Self::Dots(_) => 0.18,
            Self::Letter(_) => 0.26,
        }
    }

    fn signs(&self) -> usize {
        match self {
            Self::Dots(n) => usize::from(*n),
            _ => 1,
        }
    }

    /// Its shapes below `top`, and the height of its letters.
    fn draw(&self, font: &Font, stand: &Stand, top: f32, w: f32) -> (Vec<Shape>, f32) {
        let x = stand.x;
        match self {
            Self::Rules(n) => {
                let rule = |i| {
                    let y = top + 0.05 + RULES_APART * f32::from(i);
                    polyline(&[(x - RULE, y), (x + RULE, y)], w * 0.7)
                };
                ((0..*n).flat_map(rule).collect(), 0.08)
            }
            Self::Print(text) => {
                let spacing = 0.06;
                let usual = Setting {
                    size: PRINT,
                    spacing,
                };
                let wide = font.width(text, usual).max(1e-6);
                let size = PRINT * (stand.most / wide).min(1.0);
                let set = Setting { size, spacing };
                (font.line(text, x, top + 0.17, set), size * X_HEIGHT)
            }
            Self::Dots(n) => {
                let r = 0.03 + w * 0.4;
                let dot = |i| {
                    let at = x + (f32::from(i) - f32::from(n - 1) / 2.0) * DOTS_APART;
                    ellipse(at, top + 0.1, r, r, Ink::Fill)
                };
                ((0..*n).flat_map(dot).collect(), 2.0 * r)
            }
            Self::Letter(c) => {
                let set = Setting {
                    size: LETTER,
                    spacing: 0.0,
                };
                (font.line(&c.to_string(), x, top + 0.22, set), 0.16)
            }
        }
    }
}

impl Foot {
    /// Whether forms of the family differ at a place.
    pub fn varies(&self, place: usize) -> bool {
        self.rivals.iter().any(|r| r[place] != self.shown[place])
            || self.rivals.windows(2).any(|r| r[0][place] != r[1][place])
    }

    /// The ink below the name, and the places.
    pub fn draw(&self, font: &Font, stand: &Stand, w: f32) -> (Vec<Shape>, Vec<Stood>) {
        let mut top = stand.base + BELOW;
        let (mut ink, mut places) = (Vec::new(), Vec::new());
        for (at, parts) in self.places.iter().enumerate() {
            let mut bounds = Bounds::EMPTY;
            let mut letter = f32::MAX;
            for (number, part) in parts.iter().enumerate() {
                let (shapes, high) = part.draw(font, stand, top, w);
                bounds = bounds.join(bounds_of(&shapes));
                letter = letter.min(high);
                if self.shown[at] == Some(number) {
                    ink.extend(shapes);
                }
            }
            places.push(Stood {
                bounds,
                varies: self.varies(at),
                signs: self.shown[at].map_or(0, |number| parts[number].signs()),
                letter,
            });
            top += parts.iter().map(Part::room).fold(0.0, f32::max);
        }
        (ink, places)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn foot(shown: Option<usize>) -> Foot {
        Foot {
            places: vec![
                vec![Part::Rules(1)],
                vec![Part::Dots(1), Part::Dots(2), Part::Dots(3)],
            ],
            shown: vec![Some(0), shown],
            rivals: vec![vec![Some(0), Some(1)]],
            differs: Some(Difference::Dots),
        }
    }

    const STAND: Stand = Stand {
        x: 0.0,
        base: 0.0,
        most: 1.6,
    };

    #[test]
    fn a_place_stays_where_it_is_when_it_is_empty() {
        let font = Font::blank();
        let (ink, full) = foot(Some(2)).draw(&font, &STAND, 0.03);
        let (less, empty) = foot(None).draw(&font, &STAND, 0.03);
        assert_eq!((ink.len(), less.len()), (4, 1));
        assert_eq!(full[1].bounds, empty[1].bounds);
        assert_eq!((full[1].signs, empty[1].signs), (3, 0));
    }

    #[test]
    fn only_where_forms_differ_a_place_varies() {
        let (_, places) = foot(Some(0)).draw(&Font::blank(), &STAND, 0.03);
        assert_eq!([places[0].varies, places[1].varies], [false, true]);
    }
}
