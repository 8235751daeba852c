//! Which pieces a command takes, and what leaves with them.

use clap::Args;

use super::collection::Collection;
use super::{Failure, warning};
use crate::dating::reach::reach;
use crate::dating::{ClueKind, Span, Standing, read_clue};
use crate::handout::With;
use crate::pieces::{Filter, Piece, RunAsked};

/// Which pieces are meant. Without any of these, all.
#[derive(Debug, Args)]
#[command(next_help_heading = "Which pieces")]
pub(super) struct Chosen {
    /// By their numbers
    #[arg(value_name = "PIECE")]
    pieces: Vec<i64>,

    /// Of this lot
    #[arg(long, value_name = "NAME")]
    lot: Option<String>,

    /// Of this form; "cup" takes coffee cups too
    #[arg(long, value_name = "FORM")]
    form: Option<String>,

    /// Made by, decorated by or made for
    #[arg(long, value_name = "NAME")]
    maker: Option<String>,

    /// Of this line: maker/line, or its name
    #[arg(long, value_name = "LINE")]
    line: Option<String>,

    /// Whose maker is known so: marked, attributed or unknown
    #[arg(long, value_name = "WORD", value_parser = ["marked", "attributed", "unknown"])]
    known_by: Option<String>,

    /// Of this set
    #[arg(long, value_name = "NAME")]
    set: Option<String>,

    /// With this decoration
    #[arg(long, value_name = "NAME")]
    decoration: Option<String>,

    /// In this glaze
    #[arg(long, value_name = "TEXT")]
    glaze: Option<String>,

    /// That may have been made then: 1931, 1920/1935, "late 1920s"
    #[arg(long, value_name = "DATE")]
    made: Option<String>,

    /// That you said carry no mark
    #[arg(long)]
    unmarked: bool,

    /// Whose lid is missing; pieces made without a lid are not among them
    #[arg(long)]
    lid_missing: bool,

    /// Of which this was said anywhere
    #[arg(long, value_name = "TEXT")]
    text: Option<String>,
}

impl Chosen {
    fn filter(&self, collection: &Collection) -> Result<Filter, Failure> {
        for number in &self.pieces {
            collection.piece(*number)?;
        }
        if let Some(lot) = &self.lot {
            collection.opened.workspace.lot(lot)?;
        }
        Ok(Filter {
            numbers: self.pieces.iter().copied().collect(),
            lot: self.lot.clone(),
            form: self.form.clone(),
            maker: self.maker.clone(),
            line: self.line(collection),
            known_by: self.known_by.clone(),
            set: self.set.clone(),
            decoration: self.decoration.clone(),
            glaze: self.glaze.clone(),
            made: self.made(collection)?,
            text: self.text.clone(),
            unmarked: self.unmarked,
            lid_missing: self.lid_missing,
        })
    }

    /// The lot that is meant.
    pub(super) fn lot(&self) -> Option<&String> {
        self.lot.as_ref()
    }

    /// The id of the line that is meant, or what was typed where there is none.
    fn line(&self, collection: &Collection) -> Option<String> {
        let text = self.line.as_ref()?;
        let id = collection.line(text).unwrap_or_else(|| {
            warning(&format!(
                "`{text}` is no line of the library, or of several"
            ));
            text.clone()
        });
        Some(id)
    }

    /// Which line and years are asked after, where what lacks is told.
    pub(super) fn run_asked(&self, collection: &Collection) -> Result<RunAsked, Failure> {
        let known = |text: &String| collection.line(text);
        Ok(RunAsked {
            line: self.line.as_ref().and_then(known),
            made: self.made(collection)?,
        })
    }

    fn made(&self, collection: &Collection) -> Result<Option<Span>, Failure> {
        let Some(text) = &self.made else {
            return Ok(None);
        };
        let spoken = collection.known().spoken;
        let clue = read_clue(ClueKind::Line, text, Standing::Sure, spoken)?;
        Ok(clue.meaning.as_ref().map(reach))
    }

    /// The pieces, by number.
    pub(super) fn pieces<'c>(&self, collection: &'c Collection) -> Result<Vec<&'c Piece>, Failure> {
        let filter = self.filter(collection)?;
        let known = collection.known();
        let all = collection.book.pieces();
        let chosen = all.filter(|piece| filter.takes(piece, &collection.book, &known));
        Ok(chosen.collect())
    }
}

/// What leaves only when asked for.
#[derive(Debug, Args)]
pub(super) struct WithArgs {
    /// What leaves only when you ask: cost, owner, place (where it stands), lot-place (date and
    /// place of its lot), notes; separated by commas
    #[arg(long, value_name = "WORDS", value_delimiter = ',')]
    with: Vec<String>,
}

impl WithArgs {
    pub(super) fn with(&self) -> Result<With, Failure> {
        let mut with = With::default();
        for word in &self.with {
            if !with.ask(word.trim()) {
                let none = format!("`{word}` is nothing that `--with` knows");
                let next = format!("known: {}", With::WORDS.join(", "));
                return Err(Failure::new(&none, Some(next)));
            }
        }
        Ok(with)
    }
}
