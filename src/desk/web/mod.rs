//! Requests in, answers out: the only folder of the desk that knows the ways of the web.
//!
//! One thread takes requests; what touches the disk is done on threads beside it, and pictures, which cost
//! most, only a few at a time, so that pages are answered at once.

mod answers;
mod changes;
mod guard;
mod looks;
mod pieces;
mod shelf;

use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY};
use axum::http::{HeaderName, HeaderValue, StatusCode};
use axum::middleware::{self, Next};
use axum::response::Response;
use axum::routing::{get, post};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;

use super::room::Desk;
use super::{Opening, drop};
use crate::failure::Failure;
use answers::refusal;
use guard::{Keys, POLICY, Refusal};

/// Bytes of a change: the names of two thousand marks.
const MOST_CHANGE: usize = 256 << 10;
/// How often the server looks whether the person has asked it to end.
const LOOK_EVERY: Duration = Duration::from_millis(100);
/// How long answers under way may take at the end.
const END_WITHIN: Duration = Duration::from_secs(2);
/// Threads for what touches the disk.
const BLOCKING_THREADS: usize = 8;

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
            while !crate::interrupt::interrupted() {
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
    crate::console::print(|out| {
        writeln!(out, "desk: {}", serving.keys.address())?;
        writeln!(out, "  for this machine only; Ctrl-C ends it")
    })?;
    if let (true, Some(address)) = (opening.browser, serving.keys.ticket_address())
        && !open_browser(&address)
    {
        crate::console::hint(&"no browser could be opened: open the address above yourself");
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
        .route("/", get(looks::lots))
        .route("/enter", get(looks::enter))
        .route("/front/{name}", get(looks::front_file))
        .route("/lot/{lot}", get(looks::lot_page))
        .route("/lot/{lot}/decide", get(looks::decide_page))
        .route("/lot/{lot}/clear", get(looks::clear_page))
        .route("/lot/{lot}/clear/{maker}/{family}", get(looks::family_page))
        .route("/lot/{lot}/codes", get(looks::codes_page))
        .route("/lot/{lot}/marks", get(looks::lot_marks))
        .route("/lot/{lot}/mark/{id}", get(looks::lot_mark))
        .route("/lot/{lot}/report", get(looks::report))
        .route("/lot/{lot}/to-look-at", get(looks::to_look_at))
        .route("/lot/{lot}/table", get(looks::table))
        .route("/lot/{lot}/again", get(pieces::again))
        .route("/strangers", get(looks::strangers_page))
        .route("/pieces", get(pieces::overview))
        .route("/piece/{number}", get(pieces::one))
        .route("/wording", get(pieces::wording))
        .route("/marks", get(shelf::all))
        .route("/marks/{maker}/{family}", get(shelf::one))
        .route("/makers/{maker}", get(shelf::maker))
        .route("/makers/{maker}/{line}", get(shelf::line))
        .route("/rings/{maker}/{family}", get(shelf::rings_of))
        .route("/hand-out", get(pieces::hand_out))
        .route("/hand-out/catalogue/{volume}", get(pieces::catalogue))
        .route("/hand-out/talk", get(pieces::talk))
        .route("/hand-out/pieces.csv", get(pieces::table))
        .route("/hand-out/pieces.jsonl", get(pieces::records))
        .route("/view/{id}", get(looks::view))
        .route("/picture/{id}/{what}", get(looks::picture))
        .route("/exemplar/{maker}/{family}", get(looks::exemplar))
        .route("/meaning", get(looks::meaning))
        .route("/fared", get(looks::fared))
        .route("/job", get(looks::job_now))
        .route("/begin", post(changes::begin))
        .route("/decide", post(changes::decide))
        .route("/undo", post(changes::undo))
        .route("/intake", post(changes::intake))
        .route("/pieces/approve", post(pieces::approve))
        .route("/pieces/say", post(pieces::say))
        .route("/pieces/photos", post(pieces::change_photos))
        .route("/marks/edit", post(shelf::edit))
        .route("/facts/edit", post(shelf::edit_record))
        .route("/pause", post(changes::pause))
        .route("/strangers/compare", post(changes::compare))
        .route("/strangers/name", post(changes::name_strangers))
        .layer(DefaultBodyLimit::max(MOST_CHANGE))
        // Its own limit: a photo is larger than a decision.
        .route(
            "/drop",
            post(changes::dropped).layer(DefaultBodyLimit::max(drop::MOST_BYTES)),
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
