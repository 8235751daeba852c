//! Pieces: what was said of them, what follows from it, and how surely.
//!
//! A stamp is evidence about a piece, and not the piece. Who made a piece, who decorated it and
//! whom it was made for are three questions, and each answer is *marked* (a mark on the piece says
//! so), *attributed* (something else says so, and it is told what) or *unknown*; see
//! [`Attribution`]. Nothing here knows files, the database or the clock; the rules of lines and
//! makers come from the person's own library.

mod attribution;
mod bodies;
mod book;
mod clues;
mod filter;
mod form;
mod lacking;
mod marks;
mod notable;
mod origin;
mod rows;
mod sets;
mod tell;
mod told_of;
mod values;
mod which_line;

pub use attribution::{Attribution, Ground, NotAnAttribution, Opinion};
pub use bodies::{
    Fit, Holds, INDEPENDENT_LOTS, OddKind, OddPairing, Proposal, body_and_stamp, odd_pairings,
    proposals, rule_holds,
};
pub use book::{Book, Piece, Told};
pub use clues::date;
pub use filter::{
    Across, Duplicates, Filter, LotMoney, across, duplicates, general_form, lot_money, say_sums,
};
pub use form::{Form, Vessel, form, same_form};
pub use lacking::{RunAsked, Runs, beyond_set, runs, say_form, say_forms};
pub use marks::{SeenCode, SeenMark, Stamp};
pub use notable::{Notable, notable};
pub use origin::{Origin, origin};
pub use rows::{BadCell, BadMap, Column, Row, columns, fact_words, row, separator};
pub use sets::{Completeness, Set, Togetherness, set, sets};
pub use tell::{say_fact, say_lid, say_needs, say_opinion, say_set, say_stamp, tell_piece};
pub use values::{Dimension, Lid, Money, Needs, NotAValue, Size, check, join_list, split_list};
pub use which_line::{LineOf, WhichLine};

use crate::dating::spoken::SpokenTable;
use crate::library::{CodeSchemes, Library};

/// What the person knows apart from their pieces.
#[derive(Debug, Clone, Copy)]
pub struct Known<'a> {
    pub library: &'a Library,
    pub schemes: &'a CodeSchemes,
    /// What spoken dates mean.
    pub spoken: &'a SpokenTable,
}
