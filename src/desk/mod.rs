//! The desk: a page on the person's own machine on which a lot is looked through, compared and decided.
//!
//! `web` answers requests and says who may ask. What is answered is
//! made by plain functions over an open workspace: `marks` lists, `acts` decides, `codes` reads what a
//! person types, `pictures` draws by id, `pages` writes HTML. `job` does what takes minutes.

mod acts;
mod codes;
mod drop;
mod front;
mod job;
mod leaving;
mod mark_id;
mod marks;
mod order;
mod pages;
mod pictures;
mod piece_photos;
mod pieces;
mod records;
mod rings;
mod room;
mod saying;
mod shelf;
mod strangers;
mod undo;
mod web;
mod worker;

use std::path::{Path, PathBuf};

use crate::failure::{Failure, Outcome};
use crate::workspace::{Workspace, WorkspaceError};

/// How the desk is opened.
#[derive(Debug)]
pub struct Opening<'a> {
    /// The workspace; else the nearest one from the current folder upward.
    pub dir: Option<&'a Path>,
    /// 0 for any that is free.
    pub port: u16,
    /// Whether to open a browser.
    pub browser: bool,
}

/// Serves the desk until the person ends it.
///
/// # Errors
/// Where the named workspace cannot be opened, or the port is taken.
pub fn run(opening: &Opening<'_>) -> Result<Outcome, Failure> {
    let (root, found) = place(opening.dir)?;
    let desk = room::Desk::new(root);
    if found {
        desk.open()?;
    }
    web::serve(&desk, opening)?;
    Ok(Outcome::Done)
}

/// The workspace's folder, and whether there is one; else where one would be made.
fn place(dir: Option<&Path>) -> Result<(PathBuf, bool), Failure> {
    if let Some(dir) = dir {
        return Ok((dir.to_owned(), true));
    }
    match Workspace::find(Path::new(".")) {
        Ok(root) => Ok((root, true)),
        Err(WorkspaceError::NotFound { .. }) => {
            let here = std::path::absolute(".").unwrap_or_else(|_| PathBuf::from("."));
            Ok((here.join(NEW_FOLDER), false))
        }
        Err(other) => Err(other.into()),
    }
}

/// A folder that a person typed; `~/` is their home.
fn named_folder(text: &str) -> Result<PathBuf, Failure> {
    let text = text.trim();
    let path = match (text.strip_prefix("~/"), std::env::home_dir()) {
        (Some(rest), Some(home)) => home.join(rest),
        _ => PathBuf::from(text),
    };
    let shown = crate::workspace::readable_path(&path);
    if !path.is_absolute() {
        let next = "write the whole path, from the root of the disk on".to_owned();
        return Err(Failure::new(
            &format!("`{shown}` is no whole path"),
            Some(next),
        ));
    }
    match path.is_dir() {
        true => Ok(path),
        false => Err(Failure::new(&format!("there is no folder {shown}"), None)),
    }
}

/// The folder in which a person without a workspace begins.
const NEW_FOLDER: &str = "footring-workspace";
