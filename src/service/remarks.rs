//! What is wrong with a library, told.

use crate::console::{error, warning};
use crate::date_code::CodeBook;
use crate::library::{self, Library, Remark, Severity};

/// The library's schemes of date codes; tells what is wrong in them. True where one is lost.
pub(crate) fn told_codes(library: &Library) -> (CodeBook, bool) {
    let (codes, remarks) = library::code_book(library);
    remarks.iter().for_each(|remark| error(remark));
    (codes, !remarks.is_empty())
}

pub(crate) fn tell_remarks(remarks: &[Remark]) -> bool {
    let mut lost = false;
    for remark in remarks {
        match remark.severity() {
            Severity::Error => {
                lost = true;
                error(remark);
            }
            Severity::Warning => warning(remark),
        }
    }
    lost
}
