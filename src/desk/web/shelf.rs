//! Requests about the library of marks.

use axum::extract::{Json, Path, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};

use super::Shared;
use super::answers::{No, change, drawn, html, json, over};
use crate::desk::records::{self, Kept, Mend};
use crate::desk::{pages, rings, shelf};
use crate::library::change::RecordId;

#[derive(Deserialize)]
pub(super) struct Search {
    #[serde(default)]
    q: String,
}

pub(super) async fn all(State(serving): Shared, Query(asked): Query<Search>) -> Response {
    over(serving, move |serving, room| {
        let makers = shelf::makers(&room.open().opened.library, &asked.q);
        Ok(html(pages::marks(&makers, &asked.q, serving.keys.word())))
    })
    .await
}

pub(super) async fn one(
    State(serving): Shared,
    Path((maker, family)): Path<(String, String)>,
) -> Response {
    over(serving, move |serving, room| {
        let shown = shelf::shown(room, &format!("{maker}/{family}"))?.ok_or(No::Such)?;
        Ok(html(pages::mark(&shown, serving.keys.word())))
    })
    .await
}

/// A line by its name, of which the id follows.
#[derive(Deserialize)]
pub(super) struct Called {
    line: Option<String>,
}

pub(super) async fn maker(
    State(serving): Shared,
    Path(maker): Path<String>,
    Query(asked): Query<Called>,
) -> Response {
    over(serving, move |serving, room| {
        let name = asked
            .line
            .as_deref()
            .map(str::trim)
            .filter(|n| !n.is_empty());
        let id = match name {
            Some(name) => records::line_called(&maker, name),
            None => RecordId::parse(&maker),
        };
        let shown = id.and_then(|id| records::shown(room, &id, name));
        let shown = shown.ok_or(No::Such)?;
        Ok(html(pages::record(&shown, serving.keys.word())))
    })
    .await
}

pub(super) async fn line(
    State(serving): Shared,
    Path((maker, line)): Path<(String, String)>,
) -> Response {
    over(serving, move |serving, room| {
        let id = RecordId::parse(&format!("{maker}/{line}"));
        let shown = id.and_then(|id| records::shown(room, &id, None));
        let shown = shown.ok_or(No::Such)?;
        Ok(html(pages::record(&shown, serving.keys.word())))
    })
    .await
}

#[derive(Serialize)]
struct Edited {
    told: String,
    /// Fields that cannot be written as they are.
    wrong: Vec<Mend>,
}

fn kept(kept: Kept) -> (StatusCode, Edited) {
    let (status, told, wrong) = match kept {
        Kept::Told(told) => (StatusCode::OK, told, Vec::new()),
        Kept::Stale => {
            let told = "this record was changed elsewhere meanwhile: yours was not kept. \
                Load the page again, and write it once more";
            (StatusCode::CONFLICT, told.to_owned(), Vec::new())
        }
        Kept::Wrong(wrong) => {
            let told = match wrong.len() {
                1 => "nothing was written: one field has to be mended first".to_owned(),
                n => format!("nothing was written: {n} fields have to be mended first"),
            };
            (StatusCode::UNPROCESSABLE_ENTITY, told, wrong)
        }
    };
    (status, Edited { told, wrong })
}

pub(super) async fn edit(State(serving): Shared, Json(asked): Json<shelf::Edit>) -> Response {
    change(serving, move |_, room| shelf::edit(room, &asked).map(kept)).await
}

pub(super) async fn edit_record(
    State(serving): Shared,
    Json(asked): Json<records::Edit>,
) -> Response {
    change(serving, move |_, room| {
        records::edit(room, &asked).map(kept)
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct Against {
    against: String,
    content: Option<String>,
}

pub(super) async fn rings_of(
    State(serving): Shared,
    Path((maker, family)): Path<(String, String)>,
    Query(asked): Query<Against>,
) -> Response {
    drawn(serving, move |room| {
        let family = format!("{maker}/{family}");
        let found = rings::rings(room, &family, asked.content.as_deref(), &asked.against)?;
        Some(json(StatusCode::OK, &found))
    })
    .await
}
