//! The short code that says when a piece was made: what codes a maker used, what they mean in
//! time, and how one is read off a photo without ever being taken for a certainty.
//!
//! [`Scheme`] says which codes there are ([`read_schemes`] takes it from TOML) and holds an
//! [`Automaton`] of them. [`strip`] brings text-like lines of a crop to strips of one height,
//! [`Reader`] turns a strip into scores for every class and column, and [`decode`] weighs what
//! the scheme allows against what is there whatever the scheme says. [`look`] joins them to a photo:
//! it goes to where the code of an identified mark should stand and reads there.

mod automaton;
mod book;
mod cut_out;
pub mod decode;
mod glyphs;
pub mod look;
mod made;
mod reader;
mod reading;
mod region;
mod scheme;
pub mod sense;
mod spelling;
pub mod strip;

pub use crate::answer::{DateAnswer, DateReading};
pub use automaton::{Automaton, AutomatonError, State};
pub use book::{CodeBook, FamilyCodes, FamilyScheme};
pub use glyphs::{Glyphs, Posteriors};
pub use made::{Made, Years};
pub use reader::{Reader, ReaderError, STRIP_HIGH};
pub use reading::{codes_of, date_answer, read_strip};
pub use scheme::{
    Applies, Dates, Fit, Place, Scheme, SchemeRemark, SchemeTrouble, Symbol, Usual, fits,
    read_schemes,
};
pub use spelling::{roman, spelled, value_of_roman};
