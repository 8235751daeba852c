//! The sheet as plain text.

use std::io::{self, Write};

use super::codes::{readings, say_reading};
use super::evidence::say_form;
use super::words::{counts_line, heading, per_cent, photos, say_decision, what_next};
use super::{Row, Sheet};
use crate::workspace::readable;

/// Widest name that gets a column of its own; a longer one pushes its line out.
const NAME_COLUMN: usize = 44;

/// Writes the groups with one line a mark.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write_text(sheet: &Sheet, out: &mut dyn Write) -> io::Result<()> {
    let told: Vec<&str> = [Some(&sheet.lot), sheet.date.as_ref(), sheet.place.as_ref()]
        .into_iter()
        .flatten()
        .map(String::as_str)
        .collect();
    writeln!(out, "{}", told.join(" · "))?;
    let photos = photos(sheet.shots.len());
    writeln!(out, "{photos}: {}", counts_line(&sheet.counts()))?;
    let names = sheet.shots.iter().map(|s| s.name.chars().count());
    let column = names.max().unwrap_or(0).min(NAME_COLUMN);
    for (verdict, range) in sheet.groups() {
        let rows = &sheet.rows[range];
        writeln!(out)?;
        writeln!(
            out,
            "{} ({}): {}",
            heading(verdict),
            rows.len(),
            what_next(verdict)
        )?;
        for row in rows {
            writeln!(out, "  {}", line(sheet, row, column).trim_end())?;
        }
    }
    if !sheet.unattached.is_empty() {
        writeln!(out)?;
        writeln!(out, "Decisions whose mark was not found this time:")?;
        for loose in &sheet.unattached {
            let name = &sheet.shots[loose.shot].name;
            writeln!(out, "  {name}  {}", say_decision(&loose.decision))?;
        }
    }
    Ok(())
}

fn line(sheet: &Sheet, row: &Row, column: usize) -> String {
    let shot = sheet.shot(row);
    let mut name = shot.name.clone();
    if let (Some(mark), true) = (row.mark, row.marks_in_photo > 1) {
        name += &format!(" [{}]", mark + 1);
    }
    let mut text = format!("{name:<column$}  ");
    if let Some(decision) = &row.decision {
        text += &format!(
            "{}  (your decision of {}; the program says: {})",
            say_decision(decision),
            decision.time.day(),
            program_says(sheet, row)
        );
    } else {
        text += &program_says(sheet, row);
    }
    match &row.code {
        Some(code) => text += &format!("; {}", say_decision(code)),
        None => text += &program_reads(sheet, row),
    }
    text
}

/// The likeliest reading of each code, as the suggestion it is.
fn program_reads(sheet: &Sheet, row: &Row) -> String {
    let dates = sheet.mark(row).map_or(&[][..], |m| m.dates.as_slice());
    let first = dates.iter().filter_map(|date| readings(date).next());
    first
        .map(|reading| format!("; code {}, unconfirmed", say_reading(reading)))
        .collect()
}

/// What the program found, on one line.
fn program_says(sheet: &Sheet, row: &Row) -> String {
    let reasons: Vec<String> = sheet
        .reasons(row)
        .iter()
        .map(|r| readable(&r.text))
        .collect();
    let Some(verdict) = row.verdict else {
        return "not looked at: run the intake again".to_owned();
    };
    let fits: Vec<String> = sheet
        .mark(row)
        .map_or(&[][..], |m| m.candidates.as_slice())
        .iter()
        .take(super::CHOICES_SHOWN)
        .map(|c| format!("{} {}", c.family, per_cent(c.probability)))
        .collect();
    let form = sheet.mark(row).and_then(say_form);
    let with_form = |family: String| match &form {
        Some(form) => format!("{family}, {form}"),
        None => family,
    };
    match verdict {
        crate::answer::Verdict::Named => with_form(fits.into_iter().next().unwrap_or_default()),
        crate::answer::Verdict::Choose => fits.join(", "),
        other if reasons.is_empty() => heading(other).to_lowercase(),
        _ => reasons.join("; "),
    }
}
