//! Photo after photo: examined side by side, told in order.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use super::args::MatchArgs;
use super::matching::{Ready, examine, tell_obstacles, tell_skipped};
use super::{Failure, Outcome, error, interrupt, interrupted, warning};
use crate::answer::PhotoAnswer;
use crate::folder;
use crate::in_order::in_order;

/// Hands the answer about each photo, in their order, to `tell`, and says what went wrong.
pub(super) fn each_answer(
    args: &MatchArgs,
    ready: &Ready,
    mut tell: impl FnMut(&Path, &PhotoAnswer) -> Result<(), Failure>,
) -> Result<Outcome, Failure> {
    let listing = folder::list(&args.paths);
    let mut gaps = ready.gaps | tell_obstacles(&listing.obstacles);
    if listing.photos.is_empty() {
        warning(&"no pictures found");
    }
    interrupt::end_in_order();
    let mut done = 0;
    let stopped = in_order(
        &listing.photos,
        args.jobs(),
        |path: &PathBuf| examine(path, ready, false),
        |result| {
            if interrupted() {
                return ControlFlow::Break(Ok(Outcome::Interrupted));
            }
            // `examine` guards what may panic, so there is always an answer.
            let Ok((answer, failure)) = result else {
                return ControlFlow::Continue(());
            };
            if let Some(failure) = failure {
                gaps = true;
                error(&format!("{}: {failure}", answer.photo));
            }
            let path = &listing.photos[done];
            done += 1;
            match tell(path, &answer) {
                Ok(()) => ControlFlow::Continue(()),
                Err(failed) => ControlFlow::Break(Err(failed)),
            }
        },
    )
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))?;
    tell_skipped(listing.skipped);
    match stopped {
        Some(stopped) => stopped,
        None if gaps => Ok(Outcome::Gaps),
        None => Ok(Outcome::Done),
    }
}
