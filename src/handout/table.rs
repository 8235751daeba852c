//! Pieces as CSV (RFC 4180), one row a piece; cells that a spreadsheet would run are made text.

use std::io::Write;

use super::With;
use super::record::{OpinionRecord, PieceRecord};
use crate::report::defused;

const COLUMNS: [&str; 40] = [
    "piece",
    "lot",
    "form",
    "form_aat",
    "handle",
    "foot",
    "finial",
    "lid",
    "mark",
    "marks",
    "codes",
    "made_by_status",
    "made_by",
    "made_by_by",
    "made_by_certainty",
    "decorated_by_status",
    "decorated_by",
    "decorated_by_by",
    "decorated_by_certainty",
    "made_for_status",
    "made_for",
    "made_for_by",
    "made_for_certainty",
    "line",
    "line_status",
    "body",
    "body_and_stamp",
    "techniques",
    "decoration",
    "colourway",
    "numbers",
    "glaze",
    "size_mm",
    "condition",
    "set",
    "date",
    "date_text",
    "asked",
    "probably",
    "photos",
];

/// Writes the rows in the order given. Columns that leave only when asked for stand at the end.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write_csv(
    records: impl Iterator<Item = PieceRecord>,
    with: With,
    out: impl Write,
) -> csv::Result<()> {
    let mut csv = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(out);
    let more = [
        (with.cost, "cost"),
        (with.owner, "owner"),
        (with.place, "place"),
        (with.lot_place, "lot_date"),
        (with.lot_place, "lot_place"),
        (with.notes, "notes"),
    ];
    let asked = more
        .iter()
        .filter(|(asked, _)| *asked)
        .map(|(_, name)| *name);
    csv.write_record(COLUMNS.into_iter().chain(asked))?;
    for record in records {
        let more = [
            (with.cost, &record.cost),
            (with.owner, &record.owner),
            (with.place, &record.place),
            (with.lot_place, &record.lot_date),
            (with.lot_place, &record.lot_place),
            (with.notes, &record.notes),
        ];
        let more = more.into_iter().filter(|(asked, _)| *asked);
        let more: Vec<String> = more.map(|(_, text)| said(text)).collect();
        let cells = cells(&record).into_iter().chain(more);
        csv.write_record(cells.map(|cell| defused(&cell)))?;
    }
    csv.flush()?;
    Ok(())
}

fn said(text: &Option<String>) -> String {
    text.clone().unwrap_or_default()
}

fn four(opinion: &OpinionRecord) -> [String; 4] {
    [
        opinion.status.to_owned(),
        said(&opinion.who),
        said(&opinion.by),
        opinion.certainty.to_owned(),
    ]
}

fn cells(record: &PieceRecord) -> [String; 40] {
    let [made_status, made_by, made_how, made_sure] = four(&record.made_by);
    let [deco_status, deco_by, deco_how, deco_sure] = four(&record.decorated_by);
    let [for_status, made_for, for_how, for_sure] = four(&record.made_for);
    let line = |of: fn(&super::record::LineRecord) -> String| {
        record.line.as_ref().map_or_else(String::new, of)
    };
    let marks: Vec<&str> = record.marks.iter().map(|m| m.family.as_str()).collect();
    let size: Vec<String> = record
        .size
        .iter()
        .map(|(d, mm)| format!("{d} {mm}"))
        .collect();
    let photos: Vec<String> = record
        .photos
        .iter()
        .map(|p| format!("{} {}", p.role, p.file.as_ref().unwrap_or(&p.hash)))
        .collect();
    [
        record.piece.to_string(),
        record.lot.clone(),
        said(&record.form),
        record.form_aat.unwrap_or_default().to_owned(),
        said(&record.handle),
        said(&record.foot),
        said(&record.finial),
        said(&record.lid),
        record.mark.to_owned(),
        marks.join("; "),
        record.codes.join("; "),
        made_status,
        made_by,
        made_how,
        made_sure,
        deco_status,
        deco_by,
        deco_how,
        deco_sure,
        for_status,
        made_for,
        for_how,
        for_sure,
        line(|l| l.name.clone()),
        line(|l| l.status.to_owned()),
        said(&record.body),
        record.body_and_stamp.unwrap_or_default().to_owned(),
        record.techniques.join("; "),
        said(&record.decoration),
        said(&record.colourway),
        record.numbers.join("; "),
        said(&record.glaze),
        size.join("; "),
        said(&record.condition),
        said(&record.set),
        said(&record.date.edtf),
        record.date.text.clone(),
        said(&record.asked),
        record.probably.join(" "),
        photos.join("; "),
    ]
}
