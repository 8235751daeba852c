//! The sheet as CSV (RFC 4180), one row a mark.

use std::io::Write;

use super::Sheet;
use crate::decision::Certainty;
use crate::workspace::readable;

const COLUMNS: [&str; 20] = [
    "lot",
    "file",
    "path",
    "hash",
    "taken",
    "mark",
    "verdict",
    "family",
    "variant",
    "probability",
    "runner_up",
    "runner_up_probability",
    "none",
    "reasons",
    "decision",
    "decision_family",
    "certainty",
    "decided",
    "holds",
    "current",
];

/// Spreadsheets take a cell that begins like this for a formula; an apostrophe before it makes it
/// text (OWASP, CSV injection).
const FORMULA_BEGINS: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// Writes the rows in the sheet's order.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write_csv(sheet: &Sheet, out: impl Write) -> csv::Result<()> {
    let mut csv = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(out);
    csv.write_record(COLUMNS)?;
    for row in &sheet.rows {
        csv.write_record(cells(sheet, row).map(|c| defused(&c)))?;
    }
    csv.flush()?;
    Ok(())
}

fn cells(sheet: &Sheet, row: &super::Row) -> [String; 20] {
    let shot = sheet.shot(row);
    let mark = sheet.mark(row);
    let candidate = |at: usize| mark.and_then(|m| m.candidates.get(at));
    let family = |at| candidate(at).map_or_else(String::new, |c| c.family.clone());
    let probability = |at| candidate(at).map_or_else(String::new, |c| decimal(c.probability));
    let reasons: Vec<&str> = sheet.reasons(row).iter().map(|r| r.code.word()).collect();
    let decision = row.decision.as_ref();
    let said = |f: fn(&crate::decision::Decision) -> String| decision.map_or_else(String::new, f);
    [
        sheet.lot.clone(),
        shot.name.clone(),
        shot.path.clone(),
        shot.hash.to_string(),
        shot.taken.clone().unwrap_or_default(),
        row.mark.map_or_else(String::new, |m| (m + 1).to_string()),
        row.verdict.map_or("not-looked-at", |v| v.word()).to_owned(),
        family(0),
        candidate(0)
            .and_then(|c| c.variant.clone())
            .unwrap_or_default(),
        probability(0),
        family(1),
        probability(1),
        mark.map_or_else(String::new, |m| decimal(m.none)),
        reasons.join(" "),
        said(|d| d.statement.kind().to_owned()),
        said(|d| d.statement.value().unwrap_or_default().to_owned()),
        said(|d| match d.certainty {
            Certainty::NotStated => String::new(),
            stated => stated.word().to_owned(),
        }),
        said(|d| d.time.to_string()),
        row.holds.word().to_owned(),
        if shot.current { "yes" } else { "no" }.to_owned(),
    ]
}

/// Four decimals: finer than any probability is known.
fn decimal(value: f64) -> String {
    format!("{value:.4}")
}

/// A cell that no spreadsheet runs, without control characters.
pub(crate) fn defused(cell: &str) -> String {
    let formula = cell.starts_with(FORMULA_BEGINS);
    let cell = readable(cell);
    if formula { format!("'{cell}") } else { cell }
}
