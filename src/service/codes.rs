//! What may be a date code, and which schemes speak of a family's.

use crate::date_code::{Applies, Scheme};
use crate::library::{CodeSchemes, FamilyId};

/// Most characters of a code; what is longer is no code.
pub(crate) const LONGEST: usize = 60;

/// The schemes that may hold for a family's codes.
pub(crate) fn of_family<'s>(schemes: &'s CodeSchemes, id: &FamilyId) -> Vec<&'s Scheme> {
    let mark = Applies {
        family: Some(id.family().to_owned()),
        ..Applies::default()
    };
    let all = schemes.get(id.maker()).into_iter().flatten();
    all.filter(|scheme| scheme.speaks_of(&mark)).collect()
}
