//! Answers as a table for people, one photo at a time.

use std::io::{self, Write};

use anstyle::{AnsiColor, Style};
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::console::clean;
use crate::answer::{Candidate, MarkAnswer, PhotoAnswer, Verdict};

/// Width of the longest verdict.
const VERDICT: usize = 14;
/// Width of a probability, `1.00`.
const SHARE: usize = 4;
/// Room between columns.
const GAP: usize = 2;
/// The reasons keep at least this much room on a narrow terminal.
const LEAST_WHY: usize = 24;
/// Candidates printed for a mark on which the photo does not decide.
const CHOICES: usize = 3;

/// Widths of the columns, in terminal cells.
#[derive(Debug, Clone, Copy)]
pub(super) struct Table {
    photo: usize,
    family: usize,
    /// `None`: as long as the text is, for files and pipes.
    why: Option<usize>,
}

struct Row<'a> {
    verdict: Option<Verdict>,
    family: &'a str,
    share: Option<f64>,
    why: String,
}

impl Table {
    /// Fits the columns to what will stand in them and to a terminal `width` cells wide.
    pub(super) fn fit<'a>(
        photos: impl Iterator<Item = &'a str>,
        families: impl Iterator<Item = &'a str>,
        width: Option<usize>,
    ) -> Self {
        let widest = |texts: &mut dyn Iterator<Item = &'a str>, title: &str| {
            texts
                .map(|t| clean(t).width())
                .fold(title.width(), usize::max)
        };
        let mut photo = widest(&mut { photos }, "photo");
        let mut family = widest(&mut { families }, "family");
        let why = width.map(|width| {
            let fixed = VERDICT + SHARE + 4 * GAP;
            photo = photo.min(width * 3 / 10).max(8);
            family = family.min(width * 3 / 10).max(8);
            width.saturating_sub(fixed + photo + family).max(LEAST_WHY)
        });
        Self { photo, family, why }
    }

    pub(super) fn head(&self, out: &mut dyn Write) -> io::Result<()> {
        let bold = Style::new().bold();
        self.line(out, bold, ["photo", "verdict", "family", "p", "why"])
    }

    /// The photo's rows: its verdict with the best family, then what else it may be.
    pub(super) fn photo(&self, out: &mut dyn Write, answer: &PhotoAnswer) -> io::Result<()> {
        let name = clean(&answer.photo);
        for (i, row) in rows(answer).iter().enumerate() {
            let photo = if i == 0 { name.as_str() } else { "" };
            let share = row.share.map_or_else(String::new, |p| format!("{p:.2}"));
            let verdict = row.verdict.map_or("", Verdict::word);
            let style = row.verdict.map_or(Style::new(), style_of);
            for (k, why) in wrap(&row.why, self.why).iter().enumerate() {
                let cells = if k == 0 {
                    [photo, verdict, row.family, share.as_str(), why]
                } else {
                    ["", "", "", "", why]
                };
                self.line(out, style, cells)?;
            }
        }
        Ok(())
    }

    fn line(&self, out: &mut dyn Write, style: Style, cells: [&str; 5]) -> io::Result<()> {
        let [photo, verdict, family, share, why] = cells;
        let line = format!(
            "{}  {style}{}{style:#}  {}  {}  {}",
            self.cell(photo, self.photo, Cut::Front),
            self.cell(verdict, VERDICT, Cut::Back),
            self.cell(family, self.family, Cut::Back),
            self.cell(share, SHARE, Cut::Back),
            why
        );
        writeln!(out, "{}", line.trim_end())
    }

    /// `text` padded to `width`, and cut to it on a terminal.
    fn cell(&self, text: &str, width: usize, cut: Cut) -> String {
        let has = text.width();
        if has <= width || self.why.is_none() {
            return format!("{text}{}", " ".repeat(width.saturating_sub(has)));
        }
        let keep = |chars: &mut dyn Iterator<Item = char>| {
            let mut room = width - 1;
            chars
                .take_while(|c| {
                    let w = c.width().unwrap_or(0);
                    let fits = w <= room;
                    room -= if fits { w } else { 0 };
                    fits
                })
                .collect::<String>()
        };
        let shown = match cut {
            Cut::Back => format!("{}…", keep(&mut text.chars())),
            Cut::Front => {
                let tail = keep(&mut text.chars().rev());
                format!("…{}", tail.chars().rev().collect::<String>())
            }
        };
        let pad = width.saturating_sub(shown.width());
        format!("{shown}{}", " ".repeat(pad))
    }
}

/// Which end of a text gives way.
#[derive(Clone, Copy)]
enum Cut {
    Front,
    Back,
}

fn style_of(verdict: Verdict) -> Style {
    let colour = match verdict {
        Verdict::Named => AnsiColor::Green,
        Verdict::Choose | Verdict::Unknown => AnsiColor::Yellow,
        Verdict::NoMark | Verdict::NotUnderside => AnsiColor::Blue,
        Verdict::Reshoot | Verdict::NotAPicture => AnsiColor::Red,
    };
    Style::new().fg_color(Some(colour.into()))
}

fn rows(answer: &PhotoAnswer) -> Vec<Row<'_>> {
    let took = answer.elapsed_ms.map(|ms| format!("{ms:.0} ms"));
    let why = answer
        .reasons
        .iter()
        .map(|r| clean(&r.text))
        .chain(took)
        .collect::<Vec<_>>()
        .join("; ");
    let mut rows = Vec::new();
    for mark in &answer.marks {
        let verdict = Some(mark.verdict);
        let mut shown = shown(mark).iter();
        rows.push(match shown.next() {
            Some(first) => row(verdict, first),
            None => bare(verdict),
        });
        rows.extend(shown.map(|candidate| row(None, candidate)));
    }
    if rows.is_empty() {
        rows.push(bare(None));
    }
    rows[0].verdict = Some(answer.verdict);
    rows[0].why = why;
    rows
}

/// The candidates worth a row: all that may be it, or the best one as a lead to look at.
fn shown(mark: &MarkAnswer) -> &[Candidate] {
    let n = match mark.verdict {
        Verdict::Choose => CHOICES,
        Verdict::Named => 1,
        _ => 0,
    };
    &mark.candidates[..n.min(mark.candidates.len())]
}

fn row(verdict: Option<Verdict>, candidate: &Candidate) -> Row<'_> {
    Row {
        verdict,
        family: &candidate.family,
        share: Some(candidate.probability),
        why: String::new(),
    }
}

fn bare(verdict: Option<Verdict>) -> Row<'static> {
    Row {
        verdict,
        family: "",
        share: None,
        why: String::new(),
    }
}

/// Breaks `text` between words into lines of at most `width` cells; a longer word stands alone.
fn wrap(text: &str, width: Option<usize>) -> Vec<String> {
    let Some(width) = width else {
        return vec![text.to_owned()];
    };
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.len() - 1;
        if lines[last].is_empty() {
            lines[last].push_str(word);
        } else if lines[last].width() + 1 + word.width() <= width {
            lines[last].push(' ');
            lines[last].push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_cut_by_their_width_on_the_screen() {
        let table = Table {
            photo: 6,
            family: 8,
            why: Some(30),
        };
        assert_eq!(table.cell("皿の裏の写真", 6, Cut::Back), "皿の… ");
        assert_eq!(table.cell("sale/plate.jpg", 6, Cut::Front), "…e.jpg");
        assert_eq!(table.cell("a", 3, Cut::Back), "a  ");
        assert_eq!(wrap("one two three", Some(7)), ["one two", "three"]);
    }
}
