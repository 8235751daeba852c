//! Requests that change something: decisions, undo, taking in, naming strangers.

use axum::body::Bytes;
use axum::extract::{Json, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::Deserialize;

use super::Shared;
use super::answers::{Told, beside, change, json};
use crate::demo::DEMO;
use crate::desk::acts::{self, wrong};
use crate::desk::job::{self, Folder, Work};
use crate::desk::{drop, named_folder, strangers, undo as undoing};
use crate::failure::Failure;
use crate::workspace::Workspace;

#[derive(Deserialize)]
pub(super) struct Begin {
    /// With the invented sale in it.
    demo: bool,
}

/// Makes the first workspace.
pub(super) async fn begin(State(serving): Shared, Json(asked): Json<Begin>) -> Response {
    let made = beside(move || -> Result<(), Failure> {
        let root = &serving.desk.root;
        if serving.desk.room().is_some() {
            return Err(wrong("there is a workspace already"));
        }
        let sale = match asked.demo {
            true => Some(DEMO.write(root).map_err(|e| Failure::new(&e, None))?),
            false => None,
        };
        Workspace::init(root)?;
        serving.desk.open()?;
        if let Some(folder) = sale {
            serving.desk.jobs.add(Work::Intake(Folder {
                folder,
                lot: "demo sale".to_owned(),
                date: None,
                place: None,
                paused: false,
            }));
        }
        Ok(())
    })
    .await;
    match made {
        Some(Ok(())) => json(StatusCode::OK, &Told { told: "" }),
        Some(Err(failure)) => json(
            StatusCode::UNPROCESSABLE_ENTITY,
            &Told {
                told: &failure.to_string(),
            },
        ),
        None => json(
            StatusCode::INTERNAL_SERVER_ERROR,
            &Told {
                told: "this could not be done",
            },
        ),
    }
}

pub(super) async fn decide(State(serving): Shared, Json(asked): Json<acts::Decide>) -> Response {
    change(serving, move |_, room| {
        let decided = acts::decide(room, &asked)?;
        let status = match decided.refused.is_empty() {
            true => StatusCode::OK,
            false => StatusCode::CONFLICT,
        };
        Ok((status, decided))
    })
    .await
}

pub(super) async fn undo(State(serving): Shared, Json(asked): Json<undoing::Undo>) -> Response {
    change(serving, move |_, room| {
        Ok((StatusCode::OK, undoing::undo(room, &asked)?))
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct TakeIn {
    /// A folder on this machine; else the one of dropped photos.
    folder: Option<String>,
    lot: String,
    #[serde(default)]
    date: String,
    #[serde(default)]
    place: String,
}

/// Longest name of a lot, and of its date and place, in characters.
const LONGEST_WORDS: usize = 200;

pub(super) async fn intake(State(serving): Shared, Json(asked): Json<TakeIn>) -> Response {
    change(serving, move |serving, room| {
        let lot = asked.lot.trim();
        if lot.is_empty() {
            return Err(wrong("give the lot a name"));
        }
        if [lot, &asked.date, &asked.place]
            .iter()
            .any(|t| t.chars().count() > LONGEST_WORDS)
        {
            return Err(wrong(
                "name, date and place of a lot have at most 200 characters each",
            ));
        }
        let folder = match &asked.folder {
            Some(named) => named_folder(named)?,
            None => drop::folder(&room.root, lot),
        };
        let some = |text: &str| Some(text.trim().to_owned()).filter(|t| !t.is_empty());
        let folder = Folder {
            folder,
            lot: lot.to_owned(),
            date: some(&asked.date),
            place: some(&asked.place),
            paused: serving.desk.jobs.is_paused(),
        };
        job::note(&room.root, &folder);
        serving.desk.jobs.add(Work::Intake(folder));
        Ok((StatusCode::OK, serving.desk.jobs.progress()))
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct Pause {
    paused: bool,
}

pub(super) async fn pause(State(serving): Shared, Json(asked): Json<Pause>) -> Response {
    change(serving, move |serving, room| {
        serving.desk.jobs.pause(asked.paused);
        job::note_paused(&room.root, asked.paused);
        Ok((StatusCode::OK, serving.desk.jobs.progress()))
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct Dropped {
    lot: String,
    name: String,
}

pub(super) async fn dropped(
    State(serving): Shared,
    Query(asked): Query<Dropped>,
    bytes: Bytes,
) -> Response {
    change(serving, move |_, room| {
        drop::keep(&room.root, &asked.lot, &asked.name, &bytes)?;
        Ok((StatusCode::OK, Told { told: "" }))
    })
    .await
}

pub(super) async fn compare(State(serving): Shared) -> Response {
    change(serving, |serving, _| {
        serving.desk.jobs.add(Work::Strangers);
        Ok((StatusCode::OK, serving.desk.jobs.progress()))
    })
    .await
}

pub(super) async fn name_strangers(
    State(serving): Shared,
    Json(asked): Json<strangers::NewFamily>,
) -> Response {
    change(serving, move |serving, room| {
        let made = strangers::make(room, &serving.desk.jobs, &asked)?;
        Ok((StatusCode::OK, made))
    })
    .await
}
