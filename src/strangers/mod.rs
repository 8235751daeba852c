//! Marks that are in no library yet, sorted into those that are one mark.
//!
//! Each mark is prepared as an exemplar of its own and looked at as a photo beside all others; what two
//! marks say of each other, each looked at beside the other, is joined to one number a pair. Pure:
//! pictures and numbers in, groups out.

mod compare;
mod exemplars;
mod groups;
mod name;
mod pair;
mod turned;

pub use compare::{Seen, compare, references};
pub use exemplars::exemplars;
pub use groups::{Group, Grouping, PERHAPS_AT, Perhaps, TOGETHER_AT, group};
pub use name::short_name;
pub use pair::{Pair, WEIGHTS, Weights, pairs};
pub use turned::{Turned, turned};
