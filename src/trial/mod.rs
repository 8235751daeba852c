//! How well a library does on photos whose family the person has confirmed.
//!
//! A photo is tried with what stems from its own piece left out of the library, as otherwise it would be compared with
//! itself; and as a stranger, with its whole family left out. The mark is given where it was found before: what is
//! tried are the exemplars, and not the search in the photo. Pure: pictures and references in, numbers out.

mod claim;
mod lesson;
mod limit;
mod look;
mod tally;
mod wilson;

pub use claim::{imprints_of, may_claim};
pub use lesson::{LEAST_GAIN, Lesson, SECOND_BELOW, lesson, lesson_alone};
pub use limit::{Limit, MOST_FALSE, limit};
pub use look::{Look, look};
pub use tally::{
    BELONGS_AT, CONFUSED_AT, Confusion, Elsewhere, FIGURES_FROM, Figures, Poor, REFIT_FROM, Share,
    Source, Tally, Trial, Weak, tally,
};
pub use wilson::wilson;
