//! Dating that reasons: clues with what each of them can bound, and what follows from all.
//!
//! [`edtf`] reads and writes dates, [`spoken`] understands what people say, [`published`],
//! [`wordings`] and [`registered`] hold public tables with their sources, [`clue`] says which ends a
//! kind of clue bounds, and [`reason()`] puts clues together. Nothing here knows files, the database
//! or the clock.

pub mod clue;
mod day;
pub mod edtf;
pub mod published;
pub mod reach;
pub mod read_clue;
pub mod reason;
pub mod registered;
mod span;
pub mod spoken;
pub mod tell;
pub mod wordings;
pub mod words;

pub use clue::{Clue, ClueKind, Limits, Source, Standing};
pub use day::Day;
pub use read_clue::{ClueError, read_clue, split_clue};
pub use reason::{Answer, Dating, Effect, reason};
pub use span::Span;
