//! The diamond: which letter stands for which year and month, and where.

use std::sync::OnceLock;

use serde::Deserialize;

use crate::dating::edtf::Expression;
use crate::dating::published::{Checked, date, table};
use crate::dating::{Day, Span};

const TABLE: &str = include_str!("../tables/diamond.toml");

/// What a diamond says.
#[derive(Debug, Clone, PartialEq)]
pub struct Diamond {
    /// Every day, month or year of registration that the letters can mean, earliest first; never
    /// empty.
    pub readings: Vec<RegistrationDay>,
    pub state: Checked,
    pub source: &'static str,
    pub note: &'static str,
}

/// One reading of a diamond.
#[derive(Debug, Clone, PartialEq)]
pub struct RegistrationDay {
    pub date: Expression,
    /// Name of the layout: its years.
    pub layout: &'static str,
    /// Whether other letters than the rule's were used in those days.
    pub exception: bool,
}

/// Why a diamond cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DiamondError {
    #[error(
        "`{0}` is no diamond: write its corners as `top X, right 12, bottom 3, left C`, \
         and leave out what cannot be read"
    )]
    NotCorners(String),
    #[error(
        "the right corner is needed: a number there is the layout of 1842-1867, a letter that of \
         1868-1883"
    )]
    NoRightCorner,
    #[error("in the layout of {layout} the {corner} corner is the year's letter: it is missing")]
    NoYear {
        layout: &'static str,
        corner: &'static str,
    },
    #[error("no day of {layout} has {letters}")]
    NoSuchDay {
        layout: &'static str,
        letters: String,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Part {
    Year,
    Month,
    Day,
    Parcel,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    source: String,
    state: Checked,
    note: String,
    months: String,
    layout: Vec<Layout>,
    exception: Vec<Exception>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Layout {
    name: String,
    first_year: i64,
    years: String,
    top: Part,
    right: Part,
    bottom: Part,
    left: Part,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Exception {
    layout: String,
    from: String,
    to: String,
    month: char,
    year: char,
}

impl Layout {
    fn corners(&self) -> [(&'static str, Part); 4] {
        [
            ("top", self.top),
            ("right", self.right),
            ("bottom", self.bottom),
            ("left", self.left),
        ]
    }
}

/// What stands in the corners, as far as it can be read.
#[derive(Debug, Default, PartialEq, Eq)]
struct Corners {
    /// Top, right, bottom, left.
    read: [Option<String>; 4],
}

/// The parts once the layout is known.
#[derive(Debug, Default)]
struct Letters {
    year: Option<char>,
    month: Option<char>,
    day: Option<u8>,
}

fn published() -> &'static Table {
    static DIAMOND: OnceLock<Table> = OnceLock::new();
    DIAMOND.get_or_init(|| table(TABLE))
}

/// Reads `top X, right 12, bottom 3, left C`; a `class` is passed over, corners may be left out.
/// The first layout has a number on the right, the second a letter.
///
/// # Errors
/// Where the text names no corners, or its letters no year, or no day that the layout has.
pub fn read_diamond(text: &str) -> Result<Diamond, DiamondError> {
    let table = published();
    Ok(Diamond {
        readings: readings(table, text)?,
        state: table.state,
        source: &table.source,
        note: &table.note,
    })
}

fn readings(table: &'static Table, text: &str) -> Result<Vec<RegistrationDay>, DiamondError> {
    let corners = corners(text)?;
    let right = corners.read[1]
        .as_ref()
        .ok_or(DiamondError::NoRightCorner)?;
    let on_right = match right.bytes().all(|b| b.is_ascii_digit()) {
        true => Part::Day,
        false => Part::Year,
    };
    let layout = table.layout.iter().find(|l| l.right == on_right);
    let layout = layout.ok_or(DiamondError::NoRightCorner)?;
    let letters = letters(layout, &corners, text)?;
    let Some(year) = letters.year else {
        let year = layout.corners().into_iter().find(|(_, p)| *p == Part::Year);
        return Err(DiamondError::NoYear {
            layout: &layout.name,
            corner: year.map_or("top", |(corner, _)| corner),
        });
    };
    let rule = by_rule(table, layout, year, &letters);
    let within = rule.as_ref().map(|r| r.date.span());
    let mut readings = by_exception(table, layout, year, &letters);
    // Where the month cannot be read the whole year is a reading already.
    readings.retain(|r| within.is_none_or(|all| all.or(r.date.span()) != all));
    readings.extend(rule);
    readings.sort_by_key(|r| r.date.span().not_before);
    match readings.is_empty() {
        false => Ok(readings),
        true => Err(DiamondError::NoSuchDay {
            layout: &layout.name,
            letters: spelled(year, &letters),
        }),
    }
}

fn spelled(year: char, letters: &Letters) -> String {
    let month = letters.month.map(|m| format!(", `{m}` for the month"));
    let day = letters.day.map(|d| format!(", day {d}"));
    format!(
        "`{year}` for the year{}{}",
        month.unwrap_or_default(),
        day.unwrap_or_default()
    )
}

fn corners(text: &str) -> Result<Corners, DiamondError> {
    let wrong = || DiamondError::NotCorners(text.to_owned());
    let mut corners = Corners::default();
    for piece in text.split([',', ';']).map(str::trim) {
        let (name, value) = piece.split_once([' ', ':', '=']).ok_or_else(wrong)?;
        let place = match name.to_lowercase().as_str() {
            "top" => 0,
            "right" => 1,
            "bottom" => 2,
            "left" => 3,
            "class" => continue,
            _ => return Err(wrong()),
        };
        let value = value.trim_matches([' ', ':', '=']).to_uppercase();
        if corners.read[place].is_some() || value.is_empty() {
            return Err(wrong());
        }
        corners.read[place] = Some(value);
    }
    Ok(corners)
}

fn letters(layout: &Layout, corners: &Corners, text: &str) -> Result<Letters, DiamondError> {
    let wrong = || DiamondError::NotCorners(text.to_owned());
    let mut letters = Letters::default();
    for ((_, part), read) in layout.corners().into_iter().zip(&corners.read) {
        let Some(read) = read else { continue };
        let mut chars = read.chars();
        let letter = match (chars.next(), chars.next()) {
            (Some(letter), None) if letter.is_ascii_uppercase() => Some(letter),
            _ => None,
        };
        match part {
            Part::Year => letters.year = Some(letter.ok_or_else(wrong)?),
            Part::Month => letters.month = Some(letter.ok_or_else(wrong)?),
            Part::Day => letters.day = Some(read.parse().map_err(|_| wrong())?),
            // The parcel says nothing of the date.
            Part::Parcel => {}
        }
    }
    Ok(letters)
}

/// What the letters mean by the rule; `None` where they mean nothing.
fn by_rule(
    table: &Table,
    layout: &'static Layout,
    year: char,
    letters: &Letters,
) -> Option<RegistrationDay> {
    let year = layout.first_year + layout.years.find(year)? as i64;
    let month = match letters.month {
        None => None,
        Some(letter) => Some(table.months.find(letter)? as u8 + 1),
    };
    reading(layout, year, month, letters.day)
}

/// A reading that is as fine as the parts allow; a day without a month is left out.
fn reading(
    layout: &'static Layout,
    year: i64,
    month: Option<u8>,
    day: Option<u8>,
) -> Option<RegistrationDay> {
    use crate::dating::edtf::Date;
    let date = match (month, day) {
        (None, _) => Date::of_year(year),
        (Some(month), None) => Date::of_month(year, month)?,
        (Some(month), Some(day)) => Date::of_day(year, month, day)?,
    };
    Some(RegistrationDay {
        date: date.into(),
        layout: &layout.name,
        exception: false,
    })
}

fn by_exception(
    table: &Table,
    layout: &'static Layout,
    year: char,
    letters: &Letters,
) -> Vec<RegistrationDay> {
    let fits = |e: &&Exception| {
        e.layout == layout.name && e.year == year && letters.month.is_none_or(|m| m == e.month)
    };
    let days = table.exception.iter().filter(fits).filter_map(|exception| {
        let from = date(&exception.from).span().not_before?;
        let to = date(&exception.to).span().not_after?;
        in_days(from, to, letters.day)
    });
    days.map(|date| RegistrationDay {
        date,
        layout: &layout.name,
        exception: true,
    })
    .collect()
}

/// The day of this number within the days of one month, or all of them.
fn in_days(from: Day, to: Day, day: Option<u8>) -> Option<Expression> {
    let span = Span {
        not_before: Some(from),
        not_after: Some(to),
    };
    let span = match day {
        None => span,
        Some(day) => {
            let one = Day::new(from.year(), from.month(), day)?;
            let one = Span {
                not_before: Some(one),
                not_after: Some(one),
            };
            span.and(one)?
        }
    };
    crate::dating::words::edtf_of(span)
}

#[cfg(test)]
mod tests;
