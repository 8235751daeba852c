//! Requests that look: pages, lists and pictures. None of them changes anything.

use std::sync::Arc;

use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::SET_COOKIE;
use axum::response::Response;
use serde::Deserialize;

use super::answers::{No, alone, answer, drawn, file, html, jpeg, json, over, refusal};
use super::guard::Refusal;
use super::{Serving, Shared, drawers};
use crate::desk::mark_id::MarkId;
use crate::desk::marks;
use crate::desk::order::{self, Order};
use crate::desk::room::Room;
use crate::desk::{acts, codes, front, pages, pictures, strangers};
use crate::failure::Failure;
use crate::references::References;
use crate::report::{Row, Sheet};
use crate::service::opened::Opened;
use crate::service::{eye_sheet, report_page};

#[derive(Deserialize)]
pub(super) struct Enter {
    #[serde(default)]
    pass: String,
}

/// Takes the pass for the key. The page goes on by itself: a redirect would count as begun by whoever opened
/// the address, and a strict cookie would not be sent along.
pub(super) async fn enter(State(serving): Shared, Query(asked): Query<Enter>) -> Response {
    let Some(cookie) = serving.keys.enter(&asked.pass) else {
        return refusal(Refusal::NoKey.status(), Refusal::NoKey.says());
    };
    let mut response = html(pages::entered());
    if let Ok(cookie) = cookie.parse() {
        response.headers_mut().insert(SET_COOKIE, cookie);
    }
    response
}

pub(super) async fn front_file(Path(name): Path<String>) -> Response {
    match front::file(&name) {
        Some((kind, text)) => answer(StatusCode::OK, kind, text),
        None => refusal(StatusCode::NOT_FOUND, "There is no such file."),
    }
}

pub(super) async fn lots(State(serving): Shared) -> Response {
    over(serving, |serving, room| {
        let mut open = room.open();
        let mut all = Vec::new();
        for lot in open.opened.workspace.lots()? {
            let sheet = open.sheet(&lot.name)?;
            all.push(pages::LotLine::of(&sheet));
        }
        let families = open.opened.library.families.len();
        std::mem::drop(open);
        let progress = serving.desk.jobs.progress();
        Ok(html(pages::lots(
            &all,
            families,
            &progress,
            serving.keys.word(),
        )))
    })
    .await
}

/// The lot of this number with its sheet.
pub(super) fn sheet(room: &Room, lot: usize) -> Result<(Arc<Sheet>, String), No> {
    let mut open = room.open();
    let lot = open.lot(lot)?.ok_or(No::Such)?;
    Ok((open.sheet(&lot.name)?, lot.name))
}

#[derive(Deserialize)]
pub(super) struct Listing {
    order: Option<String>,
    mark: Option<String>,
}

/// A page of a lot, made of its sheet, what was asked, and the word that its changes carry.
async fn of_lot(
    serving: Arc<Serving>,
    lot: usize,
    make: impl FnOnce(&Sheet, &str) -> String + Send + 'static,
) -> Response {
    over(serving, move |serving, room| {
        let (sheet, _) = sheet(room, lot)?;
        Ok(html(make(&sheet, serving.keys.word())))
    })
    .await
}

impl Listing {
    fn order(&self) -> Order {
        Order::of_word(self.order.as_deref())
    }

    fn mark(&self) -> Option<MarkId> {
        self.mark.as_deref().and_then(MarkId::parse)
    }
}

pub(super) async fn lot_page(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    over(serving, move |serving, room| {
        let (sheet, _) = sheet(room, lot)?;
        let fared = acts::fared(room)?;
        let word = serving.keys.word();
        Ok(html(pages::lot(lot, &sheet, asked.order(), &fared, word)))
    })
    .await
}

pub(super) async fn fared(State(serving): Shared) -> Response {
    over(serving, |_, room| {
        Ok(json(StatusCode::OK, &acts::fared(room)?))
    })
    .await
}

pub(super) async fn decide_page(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    of_lot(serving, lot, move |sheet, word| {
        pages::decide(lot, sheet, asked.order(), asked.mark().as_ref(), word)
    })
    .await
}

pub(super) async fn clear_page(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    of_lot(serving, lot, move |sheet, word| {
        pages::clear(lot, sheet, word)
    })
    .await
}

pub(super) async fn family_page(
    State(serving): Shared,
    Path((lot, maker, family)): Path<(usize, String, String)>,
) -> Response {
    of_lot(serving, lot, move |sheet, word| {
        pages::family(lot, sheet, &format!("{maker}/{family}"), word)
    })
    .await
}

pub(super) async fn codes_page(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    of_lot(serving, lot, move |sheet, word| {
        pages::codes(lot, sheet, asked.mark().as_ref(), word)
    })
    .await
}

pub(super) async fn lot_marks(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    over(serving, move |_, room| {
        let (sheet, _) = sheet(room, lot)?;
        let order = Order::of_word(asked.order.as_deref());
        let rows = order::ordered(&sheet, order);
        let listed = |row: &Row| {
            let one = marks::listed(&sheet, row);
            match order == Order::Unprompted && order::is_unprompted(&sheet, row) {
                true => one.without_hint(),
                false => one,
            }
        };
        let listed: Vec<marks::Listed> = rows.into_iter().map(listed).collect();
        Ok(json(StatusCode::OK, &listed))
    })
    .await
}

pub(super) async fn lot_mark(
    State(serving): Shared,
    Path((lot, id)): Path<(usize, String)>,
) -> Response {
    over(serving, move |_, room| {
        let id = MarkId::parse(&id).ok_or(No::Such)?;
        let (_, name) = sheet(room, lot)?;
        let mark = acts::one(&mut room.open(), &name, &id)?.ok_or(No::Such)?;
        Ok(json(StatusCode::OK, &mark))
    })
    .await
}

/// A page of a lot that stands alone, with its pictures inside.
async fn page_alone(
    serving: Arc<Serving>,
    lot: usize,
    make: impl FnOnce(&Opened, &Sheet, &References) -> Result<String, Failure> + Send + 'static,
) -> Response {
    over(serving, move |_, room| {
        let (sheet, _) = sheet(room, lot)?;
        let shelf = room.shelf();
        let opened = room.fresh()?;
        Ok(alone(&make(&opened, &sheet, &shelf.references)?))
    })
    .await
}

pub(super) async fn report(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    page_alone(serving, lot, |opened, sheet, references| {
        report_page::page(opened, sheet, references, drawers())
    })
    .await
}

pub(super) async fn to_look_at(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    page_alone(serving, lot, |opened, sheet, references| {
        eye_sheet::page(opened, sheet, references, drawers()).map(|made| made.0)
    })
    .await
}

pub(super) async fn table(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    over(serving, move |_, room| {
        let (sheet, name) = sheet(room, lot)?;
        let mut bytes = Vec::new();
        crate::report::write_csv(&sheet, &mut bytes).map_err(|e| Failure::new(&e, None))?;
        Ok(file("text/csv; charset=utf-8", &name, "csv", bytes))
    })
    .await
}

pub(super) async fn strangers_page(State(serving): Shared) -> Response {
    over(serving, |serving, room| {
        let groups = strangers::groups(room)?;
        let progress = serving.desk.jobs.progress();
        Ok(html(pages::strangers(
            &groups,
            &progress,
            serving.keys.word(),
        )))
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct Wanted {
    beside: Option<String>,
    at: Option<usize>,
    turn: Option<f64>,
    content: Option<String>,
}

pub(super) async fn view(
    State(serving): Shared,
    Path(id): Path<String>,
    Query(asked): Query<Wanted>,
) -> Response {
    drawn(serving, move |room| {
        let id = MarkId::parse(&id)?;
        Some(json(
            StatusCode::OK,
            &pictures::view(room, &id, asked.beside.as_deref())?,
        ))
    })
    .await
}

pub(super) async fn picture(
    State(serving): Shared,
    Path((id, what)): Path<(String, String)>,
    Query(asked): Query<Wanted>,
) -> Response {
    drawn(serving, move |room| {
        let id = MarkId::parse(&id)?;
        let beside = asked.beside.as_deref();
        let made = match what.as_str() {
            "small" => pictures::small(room, &id, beside),
            "whole" => pictures::whole(room, &id.photo),
            "code" => pictures::code(room, &id, asked.at.unwrap_or(0)),
            "turned" => pictures::stranger(room, &id, asked.turn.unwrap_or(0.0)),
            what => pictures::panel(room, &id, beside, what),
        };
        Some(jpeg(&made?))
    })
    .await
}

pub(super) async fn exemplar(
    State(serving): Shared,
    Path((maker, family)): Path<(String, String)>,
    Query(asked): Query<Wanted>,
) -> Response {
    drawn(serving, move |room| {
        let family = format!("{maker}/{family}");
        Some(jpeg(&pictures::exemplar(
            room,
            &family,
            asked.content.as_deref(),
        )?))
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct Typed {
    #[serde(default)]
    family: String,
    #[serde(default)]
    code: String,
}

pub(super) async fn meaning(State(serving): Shared, Query(asked): Query<Typed>) -> Response {
    over(serving, move |_, room| {
        let meaning = codes::meaning(&room.shelf(), &asked.family, &asked.code);
        Ok(json(StatusCode::OK, &meaning))
    })
    .await
}

pub(super) async fn job_now(State(serving): Shared) -> Response {
    json(StatusCode::OK, &serving.desk.jobs.progress())
}
