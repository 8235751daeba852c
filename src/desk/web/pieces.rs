//! Requests about pieces: their pages, what is said of them, and what leaves.

use axum::extract::{Json, Path, Query, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::Deserialize;

use super::Shared;
use super::answers::{No, alone, change, file, html, json, over};
use crate::desk::{leaving, pages, piece_photos, pieces, saying};

pub(super) async fn overview(State(serving): Shared) -> Response {
    over(serving, |serving, room| {
        let all = pieces::overview(room)?;
        Ok(html(pages::pieces(&all, serving.keys.word())))
    })
    .await
}

pub(super) async fn one(State(serving): Shared, Path(number): Path<i64>) -> Response {
    over(serving, move |serving, room| {
        let collection = pieces::collection(room)?;
        let piece = collection.book.get(number).ok_or(No::Such)?;
        let (photos, choices) = piece_photos::photos(room, piece, &collection)?;
        let page = pages::piece(piece, &collection, &photos, &choices, serving.keys.word());
        Ok(html(page))
    })
    .await
}

pub(super) async fn approve(
    State(serving): Shared,
    Json(asked): Json<pieces::Approve>,
) -> Response {
    change(serving, move |_, room| {
        Ok(with_status(pieces::approve(room, &asked)?))
    })
    .await
}

pub(super) async fn change_photos(
    State(serving): Shared,
    Json(asked): Json<piece_photos::Change>,
) -> Response {
    change(serving, move |_, room| {
        Ok(with_status(piece_photos::change(room, &asked)?))
    })
    .await
}

pub(super) async fn say(State(serving): Shared, Json(asked): Json<saying::Say>) -> Response {
    change(serving, move |_, room| {
        Ok(with_status(saying::say_of(room, &asked)?))
    })
    .await
}

fn with_status(changed: pieces::Changed) -> (StatusCode, pieces::Changed) {
    match changed.refused.is_empty() {
        true => (StatusCode::OK, changed),
        false => (StatusCode::CONFLICT, changed),
    }
}

#[derive(Deserialize)]
pub(super) struct Typed {
    #[serde(default)]
    text: String,
    #[serde(default)]
    probably: bool,
}

pub(super) async fn wording(State(serving): Shared, Query(asked): Query<Typed>) -> Response {
    over(serving, move |_, _| {
        Ok(json(
            StatusCode::OK,
            &saying::wording(&asked.text, asked.probably),
        ))
    })
    .await
}

pub(super) async fn hand_out(State(serving): Shared) -> Response {
    over(serving, |serving, room| {
        let all = leaving::what_there_is(room)?;
        Ok(html(pages::hand_out(&all, serving.keys.word())))
    })
    .await
}

pub(super) async fn catalogue(State(serving): Shared, Path(volume): Path<usize>) -> Response {
    over(serving, move |_, room| {
        Ok(alone(&leaving::catalogue(room, volume)?.ok_or(No::Such)?))
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct Order {
    #[serde(default)]
    pieces: String,
}

/// As a file: its keys need a script, which no page of the desk may bring along.
pub(super) async fn talk(State(serving): Shared, Query(order): Query<Order>) -> Response {
    over(serving, move |_, room| {
        let page = leaving::talk(room, &order.pieces)?;
        Ok(file(
            "text/html; charset=utf-8",
            "talk",
            "html",
            page.into_bytes(),
        ))
    })
    .await
}

pub(super) async fn table(State(serving): Shared) -> Response {
    over(serving, |_, room| {
        let bytes = leaving::table(room)?;
        Ok(file("text/csv; charset=utf-8", "pieces", "csv", bytes))
    })
    .await
}

pub(super) async fn records(State(serving): Shared) -> Response {
    over(serving, |_, room| {
        let bytes = leaving::records(room)?;
        Ok(file("application/jsonl", "pieces", "jsonl", bytes))
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct Kept {
    /// To be kept as a file, not looked at.
    #[serde(default)]
    file: bool,
}

pub(super) async fn again(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Kept>,
) -> Response {
    over(serving, move |_, room| {
        let (sheet, name) = super::looks::sheet(room, lot)?;
        let page = crate::service::again::page_of_lot(&room.fresh()?, &sheet)?;
        if !asked.file {
            return Ok(alone(&page));
        }
        let name = format!("{name} to take again");
        Ok(file(
            "text/html; charset=utf-8",
            &name,
            "html",
            page.into_bytes(),
        ))
    })
    .await
}
