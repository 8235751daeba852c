//! `library check --fit`: what the person's photos and finished lots teach, written into the library's limits.

use super::check_told::Found;
use super::opened::Opened;
use super::{Failure, print};
use crate::library;
use crate::trial::Limit;
use crate::verdict::strangers::Strangers;

/// Sets the limit where the trials say so, and the share of strangers where the finished lots do.
pub(super) fn fit(opened: &Opened, found: &Found) -> Result<(), Failure> {
    let limit = match found.limit {
        Limit::Raised(to) | Limit::Fitted(to) if found.tally.told().is_some() => Some(to),
        _ => None,
    };
    let share = found.learnt();
    if limit.is_none() && share.is_none() {
        super::hint(&"`--fit` changes nothing: there is not enough to fit by");
    }
    if let Some(share) = share {
        fit_strangers(opened, found, share)?;
    }
    match limit {
        Some(to) => fit_limit(opened, found, to),
        None => Ok(()),
    }
}

fn fit_strangers(opened: &Opened, found: &Found, share: Strangers) -> Result<(), Failure> {
    let day = super::opened::now().day();
    let why = format!(
        "The share of marks that the library does not have. Set on {day} by {} of {} marks in finished lots;\n\
         without this line it is {}.",
        found.met.strangers,
        found.met.marks,
        Strangers::default().share()
    );
    let share = (1000.0 * share.share()).round() / 1000.0;
    let root = opened.workspace.library();
    library::set_strangers(&root, share, &why).map_err(|e| Failure::new(&e, None))?;
    print(|out| {
        writeln!(
            out,
            "from now on {:.0} % of the marks are reckoned not to be in the library",
            100.0 * share
        )
    })
}

fn fit_limit(opened: &Opened, found: &Found, to: f64) -> Result<(), Failure> {
    let day = super::opened::now().day();
    let why = format!(
        "From this probability on a family is named. Set on {day} by {} confirmed marks;\n\
         delete this line to go back to what the program came with.",
        found.tally.confirmed
    );
    let root = opened.workspace.library();
    library::set_named_at(&root, to, &why).map_err(|e| Failure::new(&e, None))?;
    print(|out| {
        writeln!(
            out,
            "from now on a family is named from {:.1} % on",
            100.0 * to
        )
    })
}
