//! Requests in, answers out: the only file of the desk that knows the ways of the web.
//!
//! One thread takes requests; what touches the disk is done on threads beside it, and pictures, which cost
//! most, only a few at a time, so that pages are answered at once.

use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, Json, Path, Query, Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE, SET_COOKIE,
};
use axum::http::{HeaderName, HeaderValue, StatusCode};
use axum::middleware::{self, Next};
use axum::response::Response;
use axum::routing::{get, post};
use serde::{Deserialize, Serialize};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;

use super::acts::{self, wrong};
use super::guard::{Keys, POLICY, Refusal};
use super::job::{self, Folder, Work};
use super::marks::{self, MarkId, Order};
use super::room::{Desk, Room};
use super::{Opening, codes, drop, front, pages, pictures, strangers};
use crate::commands::{self, Failure};
use crate::demo::DEMO;
use crate::report::Sheet;
use crate::workspace::Workspace;

/// Bytes of a change: the names of two thousand marks.
const MOST_CHANGE: usize = 256 << 10;
/// How often the server looks whether the person has asked it to end.
const LOOK_EVERY: Duration = Duration::from_millis(100);
/// How long answers under way may take at the end.
const END_WITHIN: Duration = Duration::from_secs(2);
/// Threads for what touches the disk.
const BLOCKING_THREADS: usize = 8;
/// How long a browser may keep a picture: long enough for going back and forth, short enough that an engine of
/// another day shows its own.
const PICTURE_KEPT: &str = "private, max-age=600";

struct Serving {
    desk: Arc<Desk>,
    keys: Keys,
    /// For pictures under way.
    drawing: Semaphore,
}

type Shared = State<Arc<Serving>>;

/// Listens and answers until the person ends it.
pub(super) fn serve(desk: &Arc<Desk>, opening: &Opening<'_>) -> Result<(), Failure> {
    let failed =
        |what: &str, e: &dyn std::fmt::Display| Failure::new(&format!("{what}: {e}"), None);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(BLOCKING_THREADS)
        .build()
        .map_err(|e| failed("the desk could not be started", &e))?;
    let listener = runtime
        .block_on(TcpListener::bind(SocketAddrV4::new(
            Ipv4Addr::LOCALHOST,
            opening.port,
        )))
        .map_err(|e| {
            let next = "leave `--port` away to take any that is free".to_owned();
            Failure::new(
                &format!("port {} of this machine cannot be had: {e}", opening.port),
                Some(next),
            )
        })?;
    let port = listener
        .local_addr()
        .map_err(|e| failed("the port is not known", &e))?
        .port();
    let serving = Arc::new(Serving {
        desk: desk.clone(),
        keys: Keys::new(port).map_err(|e| failed("the system gives no random numbers", &e))?,
        drawing: Semaphore::new(drawers()),
    });
    tell(&serving, opening)?;
    let app = router(serving);
    let jobs = desk.jobs.clone();
    runtime.block_on(async move {
        let asked = async || {
            while !commands::interrupted() {
                tokio::time::sleep(LOOK_EVERY).await;
            }
        };
        let serving = axum::serve(listener, app).with_graceful_shutdown(asked());
        let cut = async {
            asked().await;
            tokio::time::sleep(END_WITHIN).await;
        };
        tokio::select! {
            _ = serving => {}
            () = cut => {}
        }
    });
    jobs.end();
    desk.wait();
    runtime.shutdown_background();
    Ok(())
}

/// Pictures that are drawn at the same time.
fn drawers() -> usize {
    std::thread::available_parallelism().map_or(1, |n| n.get().clamp(1, 4))
}

fn tell(serving: &Serving, opening: &Opening<'_>) -> Result<(), Failure> {
    commands::print(|out| {
        writeln!(out, "desk: {}", serving.keys.address())?;
        writeln!(out, "  for this machine only; Ctrl-C ends it")
    })?;
    if let (true, Some(address)) = (opening.browser, serving.keys.ticket_address())
        && !open_browser(&address)
    {
        commands::hint(&"no browser could be opened: open the address above yourself");
    }
    Ok(())
}

/// Hands the address to the browser that the person uses.
fn open_browser(address: &str) -> bool {
    use std::process::{Command, Stdio};
    let (program, before): (&str, &[&str]) = match std::env::consts::OS {
        "macos" => ("open", &[]),
        "windows" => ("explorer", &[]),
        _ => ("xdg-open", &[]),
    };
    let started = Command::new(program)
        .args(before)
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    started.is_ok()
}

fn router(serving: Arc<Serving>) -> Router {
    Router::new()
        .route("/", get(lots))
        .route("/enter", get(enter))
        .route("/front/{name}", get(front_file))
        .route("/lot/{lot}", get(lot_page))
        .route("/lot/{lot}/decide", get(decide_page))
        .route("/lot/{lot}/clear", get(clear_page))
        .route("/lot/{lot}/clear/{maker}/{family}", get(family_page))
        .route("/lot/{lot}/codes", get(codes_page))
        .route("/lot/{lot}/marks", get(lot_marks))
        .route("/lot/{lot}/mark/{id}", get(lot_mark))
        .route("/lot/{lot}/report", get(report))
        .route("/lot/{lot}/to-look-at", get(to_look_at))
        .route("/lot/{lot}/table", get(table))
        .route("/strangers", get(strangers_page))
        .route("/view/{id}", get(view))
        .route("/picture/{id}/{what}", get(picture))
        .route("/exemplar/{maker}/{family}", get(exemplar))
        .route("/meaning", get(meaning))
        .route("/job", get(job_now))
        .route("/begin", post(begin))
        .route("/decide", post(decide))
        .route("/undo", post(undo))
        .route("/intake", post(intake))
        .route("/pause", post(pause))
        .route("/strangers/compare", post(compare))
        .route("/strangers/name", post(name_strangers))
        .layer(DefaultBodyLimit::max(MOST_CHANGE))
        // Its own limit: a photo is larger than a decision.
        .route(
            "/drop",
            post(dropped).layer(DefaultBodyLimit::max(drop::MOST_BYTES)),
        )
        .fallback(async || refusal(StatusCode::NOT_FOUND, "There is no such page."))
        .layer(middleware::from_fn_with_state(serving.clone(), guarded))
        .with_state(serving)
}

/// Refuses whoever may not ask, and tells the browser what the answer may do.
async fn guarded(State(serving): Shared, request: Request, next: Next) -> Response {
    let allowed = allowed(&serving.keys, &request);
    let mut response = match allowed {
        Ok(()) => next.run(request).await,
        Err(refused) => refusal(refused.status(), refused.says()),
    };
    let headers = response.headers_mut();
    let fixed = [
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("referrer-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
    ];
    for (name, value) in fixed {
        headers.insert(
            HeaderName::from_static(name),
            HeaderValue::from_static(value),
        );
    }
    headers
        .entry(CONTENT_SECURITY_POLICY)
        .or_insert(HeaderValue::from_static(POLICY));
    headers
        .entry(CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    response
}

fn allowed(keys: &Keys, request: &Request) -> Result<(), Refusal> {
    keys.name_is_ours(request.headers())?;
    let path = request.uri().path();
    // The look of the page that says what is missing is no secret.
    let open = path == "/enter" || path.starts_with("/front/");
    if !open {
        keys.may_read(request.headers())?;
    }
    keys.may_change(request.method(), request.headers())
}

fn answer(status: StatusCode, kind: &'static str, body: impl Into<Body>) -> Response {
    let mut response = Response::new(body.into());
    *response.status_mut() = status;
    response
        .headers_mut()
        .insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

const HTML: &str = "text/html; charset=utf-8";

fn html(page: String) -> Response {
    answer(StatusCode::OK, HTML, page)
}

fn refusal(status: StatusCode, says: &str) -> Response {
    answer(status, HTML, pages::refusal(says))
}

#[derive(Serialize)]
struct Told<'a> {
    told: &'a str,
}

fn json(status: StatusCode, value: &impl Serialize) -> Response {
    let body = serde_json::to_vec(value).unwrap_or_default();
    answer(status, "application/json", body)
}

/// Why there is no page: nothing of that name, or work that failed.
enum No {
    Such,
    Failed(Failure),
}

impl<E: Into<Failure>> From<E> for No {
    fn from(error: E) -> Self {
        Self::Failed(error.into())
    }
}

/// Does what touches the disk beside the thread that answers.
async fn beside<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Option<T> {
    tokio::task::spawn_blocking(work).await.ok()
}

/// A page or a list over the open workspace.
async fn over(
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
async fn change<T: Serialize + 'static>(
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
async fn drawn(
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

fn jpeg(bytes: &[u8]) -> Response {
    let mut response = answer(StatusCode::OK, "image/jpeg", bytes.to_vec());
    response
        .headers_mut()
        .insert(CACHE_CONTROL, HeaderValue::from_static(PICTURE_KEPT));
    response
}

#[derive(Deserialize)]
struct Enter {
    #[serde(default)]
    pass: String,
}

/// Takes the pass for the key. The page goes on by itself: a redirect would count as begun by whoever opened
/// the address, and a strict cookie would not be sent along.
async fn enter(State(serving): Shared, Query(asked): Query<Enter>) -> Response {
    let Some(cookie) = serving.keys.enter(&asked.pass) else {
        return refusal(Refusal::NoKey.status(), Refusal::NoKey.says());
    };
    let mut response = html(pages::entered());
    if let Ok(cookie) = cookie.parse() {
        response.headers_mut().insert(SET_COOKIE, cookie);
    }
    response
}

async fn front_file(Path(name): Path<String>) -> Response {
    match front::file(&name) {
        Some((kind, text)) => answer(StatusCode::OK, kind, text),
        None => refusal(StatusCode::NOT_FOUND, "There is no such file."),
    }
}

async fn lots(State(serving): Shared) -> Response {
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
fn sheet(room: &Room, lot: usize) -> Result<(Arc<Sheet>, String), No> {
    let mut open = room.open();
    let lot = open.lot(lot)?.ok_or(No::Such)?;
    Ok((open.sheet(&lot.name)?, lot.name))
}

#[derive(Deserialize)]
struct Listing {
    order: Option<String>,
    mark: Option<String>,
}

async fn lot_page(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    over(serving, move |serving, room| {
        let (sheet, _) = sheet(room, lot)?;
        let order = Order::of_word(asked.order.as_deref());
        Ok(html(pages::lot(lot, &sheet, order, serving.keys.word())))
    })
    .await
}

async fn decide_page(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    over(serving, move |serving, room| {
        let (sheet, _) = sheet(room, lot)?;
        let order = Order::of_word(asked.order.as_deref());
        let mark = asked.mark.as_deref().and_then(MarkId::parse);
        Ok(html(pages::decide(
            lot,
            &sheet,
            order,
            mark.as_ref(),
            serving.keys.word(),
        )))
    })
    .await
}

async fn clear_page(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    over(serving, move |serving, room| {
        let (sheet, _) = sheet(room, lot)?;
        Ok(html(pages::clear(lot, &sheet, serving.keys.word())))
    })
    .await
}

async fn family_page(
    State(serving): Shared,
    Path((lot, maker, family)): Path<(usize, String, String)>,
) -> Response {
    over(serving, move |serving, room| {
        let (sheet, _) = sheet(room, lot)?;
        let family = format!("{maker}/{family}");
        Ok(html(pages::family(
            lot,
            &sheet,
            &family,
            serving.keys.word(),
        )))
    })
    .await
}

async fn codes_page(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    over(serving, move |serving, room| {
        let (sheet, _) = sheet(room, lot)?;
        let mark = asked.mark.as_deref().and_then(MarkId::parse);
        Ok(html(pages::codes(
            lot,
            &sheet,
            mark.as_ref(),
            serving.keys.word(),
        )))
    })
    .await
}

async fn lot_marks(
    State(serving): Shared,
    Path(lot): Path<usize>,
    Query(asked): Query<Listing>,
) -> Response {
    over(serving, move |_, room| {
        let (sheet, _) = sheet(room, lot)?;
        let order = Order::of_word(asked.order.as_deref());
        let rows = marks::ordered(&sheet, order);
        let listed: Vec<marks::Listed> =
            rows.into_iter().map(|r| marks::listed(&sheet, r)).collect();
        Ok(json(StatusCode::OK, &listed))
    })
    .await
}

async fn lot_mark(State(serving): Shared, Path((lot, id)): Path<(usize, String)>) -> Response {
    over(serving, move |_, room| {
        let id = MarkId::parse(&id).ok_or(No::Such)?;
        let (_, name) = sheet(room, lot)?;
        let mark = acts::one(&mut room.open(), &name, &id)?.ok_or(No::Such)?;
        Ok(json(StatusCode::OK, &mark))
    })
    .await
}

/// A page that stands alone: its one style is allowed by a word of chance, its pictures are inside it.
fn alone(page: &str) -> Response {
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

async fn report(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    over(serving, move |_, room| {
        let (sheet, _) = sheet(room, lot)?;
        let shelf = room.shelf();
        let opened = room.fresh()?;
        let page = commands::reporting::page(&opened, &sheet, &shelf.references, drawers())?;
        Ok(alone(&page))
    })
    .await
}

async fn to_look_at(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    over(serving, move |_, room| {
        let (sheet, _) = sheet(room, lot)?;
        let shelf = room.shelf();
        let opened = room.fresh()?;
        let (page, _) = commands::sheet::page(&opened, &sheet, &shelf.references, drawers())?;
        Ok(alone(&page))
    })
    .await
}

async fn table(State(serving): Shared, Path(lot): Path<usize>) -> Response {
    over(serving, move |_, room| {
        let (sheet, name) = sheet(room, lot)?;
        let mut bytes = Vec::new();
        crate::report::write_csv(&sheet, &mut bytes).map_err(|e| Failure::new(&e, None))?;
        let mut response = answer(StatusCode::OK, "text/csv; charset=utf-8", bytes);
        let stem: String = crate::report::file_stem(&name)
            .chars()
            .filter(char::is_ascii)
            .collect();
        let stem = if stem.is_empty() {
            "lot".to_owned()
        } else {
            stem
        };
        if let Ok(value) = format!("attachment; filename=\"{stem}.csv\"").parse() {
            response.headers_mut().insert(CONTENT_DISPOSITION, value);
        }
        Ok(response)
    })
    .await
}

async fn strangers_page(State(serving): Shared) -> Response {
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
struct Wanted {
    beside: Option<String>,
    at: Option<usize>,
    turn: Option<f64>,
    content: Option<String>,
}

async fn view(
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

async fn picture(
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

async fn exemplar(
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
struct Typed {
    #[serde(default)]
    family: String,
    #[serde(default)]
    code: String,
}

async fn meaning(State(serving): Shared, Query(asked): Query<Typed>) -> Response {
    over(serving, move |_, room| {
        let meaning = codes::meaning(&room.shelf(), &asked.family, &asked.code);
        Ok(json(StatusCode::OK, &meaning))
    })
    .await
}

async fn job_now(State(serving): Shared) -> Response {
    json(StatusCode::OK, &serving.desk.jobs.progress())
}

#[derive(Deserialize)]
struct Begin {
    /// With the invented sale in it.
    demo: bool,
}

/// Makes the first workspace.
async fn begin(State(serving): Shared, Json(asked): Json<Begin>) -> Response {
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

async fn decide(State(serving): Shared, Json(asked): Json<acts::Decide>) -> Response {
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

async fn undo(State(serving): Shared, Json(asked): Json<acts::Undo>) -> Response {
    change(serving, move |_, room| {
        Ok((StatusCode::OK, acts::undo(room, &asked)?))
    })
    .await
}

#[derive(Deserialize)]
struct TakeIn {
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

async fn intake(State(serving): Shared, Json(asked): Json<TakeIn>) -> Response {
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
            Some(named) => super::named_folder(named)?,
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
struct Pause {
    paused: bool,
}

async fn pause(State(serving): Shared, Json(asked): Json<Pause>) -> Response {
    change(serving, move |serving, room| {
        serving.desk.jobs.pause(asked.paused);
        job::note_paused(&room.root, asked.paused);
        Ok((StatusCode::OK, serving.desk.jobs.progress()))
    })
    .await
}

#[derive(Deserialize)]
struct Dropped {
    lot: String,
    name: String,
}

async fn dropped(State(serving): Shared, Query(asked): Query<Dropped>, bytes: Bytes) -> Response {
    change(serving, move |_, room| {
        drop::keep(&room.root, &asked.lot, &asked.name, &bytes)?;
        Ok((StatusCode::OK, Told { told: "" }))
    })
    .await
}

async fn compare(State(serving): Shared) -> Response {
    change(serving, |serving, _| {
        serving.desk.jobs.add(Work::Strangers);
        Ok((StatusCode::OK, serving.desk.jobs.progress()))
    })
    .await
}

async fn name_strangers(
    State(serving): Shared,
    Json(asked): Json<strangers::NewFamily>,
) -> Response {
    change(serving, move |serving, room| {
        let made = strangers::make(room, &serving.desk.jobs, &asked)?;
        Ok((StatusCode::OK, made))
    })
    .await
}
