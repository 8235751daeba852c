//! British registered designs: the diamond of 1842 to 1883, and the "Rd No." from 1884 on.
//!
//! Both give a day or year of registration, which bounds the making from one side only.

mod diamond;
mod number;

pub use diamond::{Diamond, DiamondError, RegistrationDay, read_diamond};
pub use number::{RdNumber, RdNumberError, read_rd_number};
