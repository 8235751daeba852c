//! Answers: what is made beside the thread that answers, and how it is sent.

use std::sync::Arc;

use axum::body::Body;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE,
};
use axum::http::{HeaderValue, StatusCode};
use axum::response::Response;
use serde::Serialize;

use super::Serving;
use crate::desk::pages;
use crate::desk::room::Room;
use crate::failure::Failure;

/// How long a browser may keep a picture: long enough for going back and forth, short enough that an engine of
/// another day shows its own.
const PICTURE_KEPT: &str = "private, max-age=600";

pub(super) fn answer(status: StatusCode, kind: &'static str, body: impl Into<Body>) -> Response {
    let mut response = Response::new(body.into());
    *response.status_mut() = status;
    response
        .headers_mut()
        .insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

const HTML: &str = "text/html; charset=utf-8";

pub(super) fn html(page: String) -> Response {
    answer(StatusCode::OK, HTML, page)
}

pub(super) fn refusal(status: StatusCode, says: &str) -> Response {
    answer(status, HTML, pages::refusal(says))
}

#[derive(Serialize)]
pub(super) struct Told<'a> {
    pub(super) told: &'a str,
}

pub(super) fn json(status: StatusCode, value: &impl Serialize) -> Response {
    let body = serde_json::to_vec(value).unwrap_or_default();
    answer(status, "application/json", body)
}

/// Why there is no page: nothing of that name, or work that failed.
pub(super) enum No {
    Such,
    Failed(Failure),
}

impl<E: Into<Failure>> From<E> for No {
    fn from(error: E) -> Self {
        Self::Failed(error.into())
    }
}

/// Does what touches the disk beside the thread that answers.
pub(super) async fn beside<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Option<T> {
    tokio::task::spawn_blocking(work).await.ok()
}

/// A page or a list over the open workspace.
pub(super) async fn over(
    serving: Arc<Serving>,
    work: impl FnOnce(&Serving, &Arc<Room>) -> Result<Response, No> + Send + 'static,
) -> Response {
    let Some(room) = serving.desk.room() else {
        return html(pages::welcome(&serving.desk.root, serving.keys.word()));
    };
    match beside(move || work(&serving, &room)).await {
        Some(Ok(response)) => response,
        Some(Err(No::Such)) => refusal(StatusCode::NOT_FOUND, "There is no such page."),
        Some(Err(No::Failed(failure))) => {
            let hint = failure
                .hint
                .clone()
                .map(|h| format!(" Next: {h}."))
                .unwrap_or_default();
            refusal(
                StatusCode::INTERNAL_SERVER_ERROR,
                &format!("{failure}.{hint}"),
            )
        }
        None => refusal(
            StatusCode::INTERNAL_SERVER_ERROR,
            "This page could not be made.",
        ),
    }
}

/// A change; what is wrong with it is told in words.
pub(super) async fn change<T: Serialize + 'static>(
    serving: Arc<Serving>,
    work: impl FnOnce(&Serving, &Arc<Room>) -> Result<(StatusCode, T), Failure> + Send + 'static,
) -> Response {
    let Some(room) = serving.desk.room() else {
        return json(
            StatusCode::CONFLICT,
            &Told {
                told: "there is no workspace yet",
            },
        );
    };
    let done =
        beside(move || work(&serving, &room).map(|(status, made)| json(status, &made))).await;
    match done {
        Some(Ok(response)) => response,
        Some(Err(failure)) => {
            let hint = failure
                .hint
                .clone()
                .map(|h| format!(": {h}"))
                .unwrap_or_default();
            let told = format!("{failure}{hint}");
            json(StatusCode::UNPROCESSABLE_ENTITY, &Told { told: &told })
        }
        None => json(
            StatusCode::INTERNAL_SERVER_ERROR,
            &Told {
                told: "this could not be done",
            },
        ),
    }
}

/// A picture; few are drawn at a time.
pub(super) async fn drawn(
    serving: Arc<Serving>,
    work: impl FnOnce(&Room) -> Option<Response> + Send + 'static,
) -> Response {
    let none = || refusal(StatusCode::NOT_FOUND, "There is no such picture.");
    let (Some(room), Ok(_turn)) = (serving.desk.room(), serving.drawing.acquire().await) else {
        return none();
    };
    beside(move || work(&room))
        .await
        .flatten()
        .unwrap_or_else(none)
}

pub(super) fn jpeg(bytes: &[u8]) -> Response {
    let mut response = answer(StatusCode::OK, "image/jpeg", bytes.to_vec());
    response
        .headers_mut()
        .insert(CACHE_CONTROL, HeaderValue::from_static(PICTURE_KEPT));
    response
}

/// Something to keep as a file of this name.
pub(super) fn file(kind: &'static str, name: &str, ending: &str, bytes: Vec<u8>) -> Response {
    let mut response = answer(StatusCode::OK, kind, bytes);
    let stem = crate::report::file_stem(name);
    let stem: String = stem.chars().filter(char::is_ascii).collect();
    let stem = match stem.is_empty() {
        true => "footring".to_owned(),
        false => stem,
    };
    if let Ok(value) = format!("attachment; filename=\"{stem}.{ending}\"").parse() {
        response.headers_mut().insert(CONTENT_DISPOSITION, value);
    }
    response
}

/// A page that stands alone: its one style is allowed by a word of chance, its pictures are inside it.
pub(super) fn alone(page: &str) -> Response {
    let mut chance = [0_u8; 16];
    if getrandom::fill(&mut chance).is_err() {
        return refusal(
            StatusCode::INTERNAL_SERVER_ERROR,
            "The system gives no random numbers.",
        );
    }
    let nonce: String = chance.iter().map(|b| format!("{b:02x}")).collect();
    let page = page.replace("<style>", &format!("<style nonce=\"{nonce}\">"));
    let policy = format!(
        "default-src 'none'; style-src 'nonce-{nonce}'; img-src data:; font-src data:; form-action 'none'; \
         base-uri 'none'; frame-ancestors 'none'"
    );
    let mut response = html(page);
    if let Ok(policy) = policy.parse() {
        response
            .headers_mut()
            .insert(CONTENT_SECURITY_POLICY, policy);
    }
    response
}
