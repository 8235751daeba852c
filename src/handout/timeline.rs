//! Runs of lines and dates of pieces along a line of time, as SVG.

use maud::{Markup, html as markup};

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

/// The drawing. Bars in the order given; those without any limit are left out. `None` where nothing
/// is left.
pub fn timeline(title: &str, bars: &[Bar]) -> Option<String> {
    let bars: Vec<&Bar> = bars.iter().filter(|bar| !bar.span.is_always()).collect();
    let years = bars.iter().flat_map(|bar| {
        let ends = [bar.span.not_before, bar.span.not_after];
        ends.into_iter().flatten().map(|day| day.year())
    });
    let first = years.clone().min()?.saturating_sub(BEYOND);
    let last = years.max()?.saturating_add(BEYOND + 1);
    let scale = Scale { first, last };
    let height = TOP + ROW * bars.len() as i64 + MARGIN;
    let svg = markup! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDTH} {height}"))
            width=(WIDTH) height=(height) font-family="Georgia, 'DejaVu Serif', serif" font-size="14" {
            title { (title) }
            rect width=(WIDTH) height=(height) fill="#f8f6f1" {}
            text x=(MARGIN) y="30" font-size="20" fill="#1f2428" { (title) }
            @for year in scale.ticks() {
                @let x = scale.x(year);
                line x1=(x) x2=(x) y1=(TOP - 8) y2=(height - MARGIN) stroke="#d9d4c9" {}
                text x=(x) y=(TOP - 14) text-anchor="middle" font-size="12" fill="#565d63" { (year) }
            }
            @for (at, bar) in bars.iter().enumerate() { (row(bar, at as i64, scale)) }
        }
    };
    Some(svg.into_string())
}

fn row(bar: &Bar, at: i64, scale: Scale) -> Markup {
    let y = TOP + ROW * at;
    let from = bar.span.not_before.map(|day| day.year());
    let until = bar.span.not_after.map(|day| day.year().saturating_add(1));
    let (x1, x2) = (
        scale.x(from.unwrap_or(scale.first)),
        scale.x(until.unwrap_or(scale.last)),
    );
    let (colour, thick) = match bar.kind {
        BarKind::Run => ("#c9a35b", 12),
        BarKind::Piece => ("#1d3f7d", 8),
    };
    let open = from.is_none() || until.is_none();
    let top = y + (ROW - thick) / 2;
    let weight = if bar.kind == BarKind::Run {
        "600"
    } else {
        "400"
    };
    markup! {
        text x=(MARGIN) y=(y + 17) fill="#1f2428" font-weight=(weight) { (short(&bar.label)) }
        rect x=(x1) y=(top) width=((x2 - x1).max(2)) height=(thick) rx="2" fill=(colour)
            fill-opacity=(if open { "0.45" } else { "1" }) {
            title { (bar.label) ": " (say(bar.span)) }
        }
    }
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
        let svg = timeline("Two & more", &bars).unwrap();
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
