//! Requests about the library of marks.

use axum::extract::{Json, Path, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};

use super::Shared;
use super::answers::{No, change, drawn, html, json, over};
use crate::desk::{pages, rings, shelf};

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

#[derive(Serialize)]
struct Edited {
    told: String,
}

pub(super) async fn edit(State(serving): Shared, Json(asked): Json<shelf::Edit>) -> Response {
    change(serving, move |_, room| {
        Ok(match shelf::edit(room, &asked)? {
            Some(told) => (StatusCode::OK, Edited { told }),
            None => {
                let told = "this record was changed elsewhere meanwhile: yours was not kept. \
                    Load the page again, and write it once more";
                let told = told.to_owned();
                (StatusCode::CONFLICT, Edited { told })
            }
        })
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
