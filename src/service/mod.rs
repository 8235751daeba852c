//! What is done with an open workspace: asked by the commands and by the desk alike. Nothing here knows the command
//! line or a page.

pub(crate) mod again;
pub(crate) mod alike;
pub(crate) mod carried;
pub(crate) mod catalogue;
pub(crate) mod codes;
pub(crate) mod collection;
mod compared;
pub(crate) mod confirmed;
pub(crate) mod eye_sheet;
pub(crate) mod fused;
pub(crate) mod gathered;
pub(crate) mod intake;
pub(crate) mod legible;
pub(crate) mod look;
pub(crate) mod look_again;
pub(crate) mod met;
pub(crate) mod new_family;
pub(crate) mod opened;
pub(crate) mod pictured;
pub(crate) mod proposed;
pub(crate) mod remarks;
pub(crate) mod report_page;
pub(crate) mod rounding;
pub(crate) mod shelf;
pub(crate) mod subject;
pub(crate) mod talk;
