//! `import`: pieces from an existing spreadsheet.

use std::path::{Path, PathBuf};

use clap::Args;

use super::collection::Collection;
use super::opened::now;
use super::{Failure, Outcome, print, warning};
use crate::decision::{Certainty, PhotoRole, PieceFact, PiecePhoto, write_photos};
use crate::pieces::{BadCell, Column, Row, columns, fact_words, row, separator};
use crate::workspace::{NewPiece, readable, readable_path};

const EXAMPLES: &str = "\
Examples:
  footring import old.csv --lot \"old list\"
      Says which column is taken for what, and what cannot be taken. Nothing is kept.
  footring import old.csv --lot \"old list\" --map \"Pattern=decoration\" --map \"Box=place\" --write
      The same, and makes the pieces.

Save the spreadsheet as CSV in UTF-8, its first line the names of the columns. A column whose name is the
word of a fact is taken for it. A plain name in a column of makers is kept as your judgement, \"so in a
spreadsheet\": it is no mark. The column `photo` names photos that were taken in. Importing a file twice
makes its pieces twice.";

/// What `import` is asked to do.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub(super) struct ImportArgs {
    /// The spreadsheet, saved as CSV
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// The lot of its pieces; it is made where there is none
    #[arg(long, value_name = "NAME")]
    lot: String,

    /// What a column holds; `COLUMN=` leaves it out; may be repeated
    #[arg(long, value_name = "COLUMN=FACT")]
    map: Vec<String>,

    /// Make the pieces, not only say what would be made
    #[arg(long)]
    write: bool,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,
}

/// The cells of a table, its first line apart.
struct Table {
    headers: Vec<String>,
    /// Line of the file, and cells.
    rows: Vec<(usize, Vec<String>)>,
}

pub(super) fn run(args: &ImportArgs) -> Result<Outcome, Failure> {
    let mut collection = Collection::open(args.workspace.as_deref())?;
    let table = read(&args.file)?;
    let columns = columns(&table.headers, &args.map)
        .map_err(|e| Failure::new(&e, Some(format!("facts: {}", fact_words().join(", ")))))?;
    let (mut rows, mut bad) = (Vec::new(), Vec::new());
    for (line, cells) in &table.rows {
        let (row, wrong) = row(*line, cells, &table.headers, &columns);
        rows.push(row);
        bad.extend(wrong);
    }
    let mut pieces = Vec::new();
    for row in &rows {
        let (piece, wrong) = piece(row, &args.lot, &collection);
        bad.extend(wrong);
        // A row in which nothing was said is no piece.
        pieces.extend((!piece.facts.is_empty()).then_some(piece));
    }
    bad.sort_by_key(|cell| cell.line);
    for cell in &bad {
        warning(&format!(
            "{}, line {}, column `{}`: {}: the cell is left out",
            readable_path(&args.file),
            cell.line,
            readable(&cell.column),
            readable(&cell.why)
        ));
    }
    let count = pieces.len();
    let made = match args.write && count > 0 {
        true => {
            let time = now();
            let workspace = &mut collection.opened.workspace;
            workspace.add_lot(time, &args.lot, None, None)?;
            workspace.add_pieces(time, pieces)?
        }
        false => Vec::new(),
    };
    tell(&table, &columns, count, &made)?;
    Ok(match bad.is_empty() {
        true => Outcome::Done,
        false => Outcome::Gaps,
    })
}

fn tell(table: &Table, columns: &[Column], count: usize, made: &[i64]) -> Result<(), Failure> {
    print(|out| {
        for (header, column) in table.headers.iter().zip(columns) {
            let holds = match column {
                Column::Fact(fact) => fact.word(),
                Column::Photo => "photo",
                Column::Left => "left out",
            };
            writeln!(out, "{}: {holds}", readable(header))?;
        }
        match (made.first(), made.last()) {
            (Some(first), Some(last)) => writeln!(out, "pieces {first} to {last}"),
            _ => writeln!(out, "{count} pieces would be made; `--write` makes them"),
        }
    })
}

fn read(path: &Path) -> Result<Table, Failure> {
    let name = readable_path(path);
    let failed = |why: &dyn std::fmt::Display| {
        let next = "save the spreadsheet as CSV in UTF-8, its first line the names of the columns";
        Failure::new(&format!("{name}: {why}"), Some(next.to_owned()))
    };
    let text = std::fs::read_to_string(path).map_err(|e| failed(&e))?;
    // Spreadsheets begin a file with a byte order mark.
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    // The reader counts the line of a row one too low after a carriage return and line feed.
    let text = &text.replace("\r\n", "\n");
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator(text))
        .flexible(true)
        .from_reader(text.as_bytes());
    let headers = reader.headers().map_err(|e| failed(&e))?;
    let headers: Vec<String> = headers.iter().map(str::to_owned).collect();
    if headers.iter().all(|h| h.trim().is_empty()) {
        return Err(failed(&"the first line names no columns"));
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| failed(&e))?;
        let line = record.position().map_or(0, csv::Position::line);
        let line = usize::try_from(line).unwrap_or(0);
        rows.push((line, record.iter().map(str::to_owned).collect()));
    }
    Ok(Table { headers, rows })
}

/// The piece of a row, and a photo that is not there.
fn piece(row: &Row, lot: &str, collection: &Collection) -> (NewPiece, Option<BadCell>) {
    let mut facts = Vec::new();
    let mut bad = None;
    if let Some(text) = &row.photo {
        match collection.opened.workspace.find_photo(Path::new(text)) {
            Ok(photo) => {
                let photo = PiecePhoto {
                    photo,
                    role: PhotoRole::NotSaid,
                    mark: None,
                };
                facts.push((PieceFact::Photos, write_photos(&[photo]), Certainty::Sure));
            }
            Err(why) => {
                bad = Some(BadCell {
                    line: row.line,
                    column: "photo".to_owned(),
                    why: why.to_string(),
                });
            }
        }
    }
    for (fact, text) in &row.facts {
        let text = match fact {
            PieceFact::Body => collection.line(text).unwrap_or_else(|| text.clone()),
            _ => text.clone(),
        };
        facts.push((*fact, text, Certainty::Sure));
    }
    let lot = lot.to_owned();
    (NewPiece { lot, facts }, bad)
}
