//! Runs of lines and dates of pieces along a line of time.

use super::drawing::{Anchor, Colour, Drawing, Shape};
use crate::dating::Span;
use crate::dating::words::say;

/// One bar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    pub label: String,
    pub span: Span,
    pub kind: BarKind,
}

/// What a bar stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BarKind {
    /// The run of a line, by the library.
    Run,
    /// The run of a mark, a form or a decoration of a line, by the library.
    Part,
    /// When a piece may have been made.
    Piece,
}

/// Sizes in px of the drawing.
const WIDTH: i64 = 1000;
const LABELS: i64 = 300;
const ROW: i64 = 24;
const TOP: i64 = 64;
const MARGIN: i64 = 20;
/// Years by which the scale reaches beyond the first and the last limit.
const BEYOND: i64 = 2;
/// Most marks of years on the scale: more run into each other at this width.
const MOST_TICKS: i64 = 12;

const GROUND: Colour = [0xf8, 0xf6, 0xf1];
const RULE: Colour = [0xd9, 0xd4, 0xc9];
const INK: Colour = [0x1f, 0x24, 0x28];
const SOFT: Colour = [0x56, 0x5d, 0x63];
const RUN: Colour = [0xc9, 0xa3, 0x5b];
const PIECE: Colour = [0x1d, 0x3f, 0x7d];

/// The drawing. Bars in the order given; those without any limit are left out. `None` where nothing
/// is left.
pub fn timeline(title: &str, bars: &[Bar]) -> Option<Drawing> {
    let bars: Vec<&Bar> = bars.iter().filter(|bar| !bar.span.is_always()).collect();
    let years = bars.iter().flat_map(|bar| {
        let ends = [bar.span.not_before, bar.span.not_after];
        ends.into_iter().flatten().map(|day| day.year())
    });
    let first = years.clone().min()?.saturating_sub(BEYOND);
    let last = years.max()?.saturating_add(BEYOND + 1);
    let scale = Scale { first, last };
    let height = TOP + ROW * bars.len() as i64 + MARGIN;
    let mut shapes = vec![word((MARGIN, 30), 20, title.to_owned(), INK)];
    for year in scale.ticks() {
        let x = scale.x(year);
        shapes.push(Shape::Area {
            left: x,
            top: TOP - 8,
            width: 1,
            height: height - MARGIN - TOP + 8,
            colour: RULE,
            opacity: 1.0,
            title: None,
        });
        shapes.push(Shape::Word {
            x,
            base: TOP - 14,
            size: 12,
            bold: false,
            anchor: Anchor::Middle,
            colour: SOFT,
            text: year.to_string(),
        });
    }
    for (at, bar) in bars.iter().enumerate() {
        shapes.extend(row(bar, at as i64, scale));
    }
    Some(Drawing {
        title: title.to_owned(),
        width: WIDTH,
        height,
        ground: GROUND,
        shapes,
    })
}

fn word((x, base): (i64, i64), size: i64, text: String, colour: Colour) -> Shape {
    Shape::Word {
        x,
        base,
        size,
        bold: false,
        anchor: Anchor::Start,
        colour,
        text,
    }
}

/// A label and its bar.
fn row(bar: &Bar, at: i64, scale: Scale) -> [Shape; 2] {
    let y = TOP + ROW * at;
    let from = bar.span.not_before.map(|day| day.year());
    let until = bar.span.not_after.map(|day| day.year().saturating_add(1));
    let (left, right) = (
        scale.x(from.unwrap_or(scale.first)),
        scale.x(until.unwrap_or(scale.last)),
    );
    let (colour, thick) = match bar.kind {
        BarKind::Run => (RUN, 12),
        BarKind::Part => (RUN, 4),
        BarKind::Piece => (PIECE, 8),
    };
    let open = from.is_none() || until.is_none();
    let label = Shape::Word {
        x: MARGIN,
        base: y + 17,
        size: 14,
        bold: bar.kind == BarKind::Run,
        anchor: Anchor::Start,
        colour: INK,
        text: short(&bar.label),
    };
    let area = Shape::Area {
        left,
        top: y + (ROW - thick) / 2,
        width: (right - left).max(2),
        height: thick,
        colour,
        opacity: if open { 0.45 } else { 1.0 },
        title: Some(format!("{}: {}", bar.label, say(bar.span))),
    };
    [label, area]
}

/// Most letters of a label: what fits before the bars at this size.
const LETTERS: usize = 36;

fn short(label: &str) -> String {
    match label.chars().count() > LETTERS {
        true => label.chars().take(LETTERS - 1).chain(['…']).collect(),
        false => label.to_owned(),
    }
}

/// Years to px.
#[derive(Debug, Clone, Copy)]
struct Scale {
    first: i64,
    last: i64,
}

impl Scale {
    /// In wide numbers: a year may be any that the date format can write.
    fn x(self, year: i64) -> i64 {
        let room = i128::from(WIDTH - LABELS - MARGIN);
        let from = i128::from(year) - i128::from(self.first);
        let all = (i128::from(self.last) - i128::from(self.first)).max(1);
        LABELS + i64::try_from(from * room / all).unwrap_or(0)
    }

    fn ticks(self) -> impl Iterator<Item = i64> {
        let all = self.last.saturating_sub(self.first);
        let steps = [1, 2, 5, 10, 20, 50, 100, 200, 500];
        let step = steps.into_iter().find(|step| all / step <= MOST_TICKS);
        let step = step.unwrap_or((all / MOST_TICKS).max(1));
        let begin = self.first.div_euclid(step).saturating_mul(step);
        let years = (0..=MOST_TICKS + 1).map(move |n| begin.saturating_add(n.saturating_mul(step)));
        years.filter(move |year| (self.first..=self.last).contains(year))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn bar(label: &str, span: Span) -> Bar {
        Bar {
            label: label.to_owned(),
            span,
            kind: BarKind::Piece,
        }
    }

    #[test]
    fn bars_lie_where_their_years_are() {
        let bars = [
            bar("a", Span::of_years(1921, 1930)),
            bar("b <c>", Span::of_years(1925, 1925)),
            bar("none", Span::ALWAYS),
        ];
        let drawing = timeline("Two & more", &bars).unwrap();
        let svg = drawing.svg();
        assert!(svg.contains("Two &amp; more") && svg.contains("b &lt;c&gt;"));
        assert!(!svg.contains("none:"));
        let scale = Scale {
            first: 1919,
            last: 1933,
        };
        assert_eq!((scale.x(1919), scale.x(1933)), (LABELS, WIDTH - MARGIN));
        assert!(scale.x(1925) > scale.x(1921));
        assert_eq!(timeline("nothing", &[bar("none", Span::ALWAYS)]), None);
    }

    #[test]
    fn the_picture_shows_what_the_drawing_does() {
        let bars = [bar("a", Span::of_years(1921, 1930))];
        let drawing = timeline("One", &bars).unwrap();
        let picture = drawing.pixels().unwrap();
        let scale = Scale {
            first: 1919,
            last: 1933,
        };
        let middle = TOP + ROW / 2;
        let at = |year| {
            let (x, y) = (2 * (scale.x(year) + 3), 2 * middle);
            picture.get_pixel(x as u32, y as u32).0
        };
        assert_eq!((at(1920), at(1925)), (GROUND, PIECE));
        // The title leaves ink.
        let title = |x: u32, y: u32| picture.get_pixel(x, y).0[0] < 100;
        let ink = (0..200).flat_map(|x| (20..70).map(move |y| (x, y)));
        assert!(ink.filter(|(x, y)| title(*x, *y)).count() > 50);
        let many = vec![bar("b", Span::of_years(1921, 1922)); 1000];
        assert_eq!(timeline("many", &many).unwrap().pixels(), None);
    }

    #[test]
    fn ticks_are_few_at_any_length() {
        for (first, last) in [(1930, 1931), (1900, 2000), (-500, 2000), (0, 1_000_000)] {
            let ticks = Scale { first, last }.ticks().count() as i64;
            assert!(
                (1..=MOST_TICKS + 2).contains(&ticks),
                "{first} {last} {ticks}"
            );
        }
    }
}
