//! What leaves the workspace about pieces: words for a sale, a catalogue to print, tables, a talk, labels,
//! formats of museums and photo managers.
//!
//! Pure: records in, text out; pictures are made by the caller. No sentence stands here without a
//! confirmed fact behind it, or it begins with "Possibly". Cost, owner, where a piece stands, where
//! its lot came from and notes leave only when asked for, see [`With`]. Where a photo was taken and
//! the serial number of the camera never leave: pictures are drawn anew, and their EXIF is not read.

mod catalogue;
mod cautions;
mod describe;
mod drawing;
mod heading;
mod label;
mod lido;
mod record;
mod table;
mod talk;
mod timeline;
mod xml;
mod xmp;

pub use catalogue::{Entry, Heading, VOLUME, catalogue, say_limits, volumes};
pub use cautions::{CAUTIONS, Limit, OPINION, limits, of_vessel};
pub use describe::{Sentence, dated, describe, sentences};
pub use drawing::{Drawing, LONGEST};
pub use heading::{standing, title, two_lines};
pub use label::{A_SHEET, Key, Label, keys_in, labels};
pub use lido::{Described, lido};
pub use record::{LotTold, PieceRecord, SCHEMA, record};
pub use table::write_csv;
pub use talk::{LINES, NotATalk, Slide, Written, read_talk, talk, write_talk};
pub use timeline::{Bar, BarKind, timeline};
pub use xmp::{Sidecar, TOOLKIT, is_ours, sidecar};

/// What leaves only when asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct With {
    pub cost: bool,
    pub owner: bool,
    /// Where the piece stands.
    pub place: bool,
    /// Where its lot came from.
    pub lot_place: bool,
    pub notes: bool,
}

impl With {
    /// The words by which a person asks.
    pub const WORDS: [&'static str; 5] = ["cost", "owner", "place", "lot-place", "notes"];

    /// Adds what a word asks for; false where there is no such word.
    pub fn ask(&mut self, word: &str) -> bool {
        match word {
            "cost" => self.cost = true,
            "owner" => self.owner = true,
            "place" => self.place = true,
            "lot-place" => self.lot_place = true,
            "notes" => self.notes = true,
            _ => return false,
        }
        true
    }
}
