//! Which address leads where.

use super::act::Form;
use super::board::{Board, Seen};
use super::guard::{self, Door, Peer, say, value_of};
use super::page::{self, Ask};
use super::pairing::{Answer, MARK_S};
use super::step::{Wanted, letter};
use super::words::Say;
use super::{anew, clash, draw, list, words};
use crate::job::{Event, Job, Refused};
use crate::journal::Error;
use axum::extract::rejection::FormRejection;
use axum::extract::{DefaultBodyLimit, Form as Typed, Query, State};
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap};
use axum::response::sse::{self, Sse};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Extension, Router, middleware};
use maud::{Markup, html};
use serde::Deserialize;
use serde_json::json;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio_stream::wrappers::ReceiverStream;

/// Largest form, bytes: the longest note with room to spare.
const FORM: usize = 16 * 1024;
/// A sign of life on an event stream, so that a page finds out that the network is away.
const PULSE: Duration = Duration::from_secs(5);

/// What the routes share.
pub struct App {
    /// The job.
    pub board: Arc<Board>,
    /// Who is let in.
    pub door: Arc<Door>,
    /// Turns when the server is to end.
    pub stop: watch::Receiver<bool>,
}

type Shared = State<Arc<App>>;

/// The whole of what can be asked for.
pub fn router(app: Arc<App>) -> Router {
    let door = app.door.clone();
    Router::new()
        .route("/", get(work))
        .route("/part", get(part))
        .route("/list", get(all))
        .route("/list-part", get(list_part))
        .route("/events", get(events))
        .route("/frame.json", get(frame))
        .route("/close-up", get(close_up))
        .route("/do", post(act))
        .route("/read", post(read))
        .route("/welder", post(welder))
        .route("/pair", get(pair_page).post(pair))
        .route("/page.css", get(async || asset("text/css; charset=utf-8", include_str!("assets/page.css"))))
        .route(
            "/page.js",
            get(async || asset("text/javascript; charset=utf-8", include_str!("assets/page.js"))),
        )
        .route("/icon.svg", get(async || asset("image/svg+xml", include_str!("assets/icon.svg"))))
        .fallback(async || say(StatusCode::NOT_FOUND, "there is nothing here"))
        .layer(DefaultBodyLimit::max(FORM))
        .layer(middleware::from_fn_with_state(door, guard::guard))
        .with_state(app)
}

fn asset(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, kind)], text).into_response()
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct Which {
    step: String,
    keep: String,
    sheet: String,
    label: String,
    code: String,
}

/// The name that this device gave itself; it travels as hex, as a cookie knows few letters.
fn name(headers: &HeaderMap) -> String {
    let hex = value_of(headers, "holdtrue_name").unwrap_or("");
    let byte = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    let bytes: Option<Vec<u8>> = hex.as_bytes().chunks(2).map(byte).collect();
    words::name(&String::from_utf8_lossy(&bytes.unwrap_or_default()))
}

/// The welder whose lines this device shows.
fn shown_welder(headers: &HeaderMap, seen: &Seen) -> Option<usize> {
    let chosen = value_of(headers, "holdtrue_welder")?;
    (0..seen.welders()).find(|w| seen.welders() > 1 && chosen == letter(*w).to_string())
}

impl Which {
    /// The lines that are looked for. What stands before a person stays, unless the sheet is another one.
    fn wanted<'a>(&'a self, headers: &HeaderMap, seen: &Seen) -> Wanted<'a> {
        let [picked, keep] = [&self.step, &self.keep].map(|s| Some(s.as_str()).filter(|s| !s.is_empty()));
        let same_sheet = self.sheet.is_empty() || self.sheet == seen.job.revision().to_string();
        Wanted { picked, keep: keep.filter(|_| same_sheet), welder: shown_welder(headers, seen) }
    }
}

async fn work(State(app): Shared, Query(q): Query<Which>, headers: HeaderMap) -> Markup {
    let (seen, name) = (app.board.now(), name(&headers));
    let ask = Ask { job_id: &app.board.job_id, wanted: q.wanted(&headers, &seen), name: &name };
    if value_of(&headers, "holdtrue_read") != Some(app.board.job_id.as_str()) {
        return page::start(&seen, ask);
    }
    page::work(&seen, ask, words::now())
}

async fn all(State(app): Shared, headers: HeaderMap) -> Markup {
    let name = name(&headers);
    page::all(&app.board.now(), Ask { job_id: &app.board.job_id, wanted: Wanted::default(), name: &name })
}

/// The parts that change, and which revision they show.
async fn part(State(app): Shared, Query(q): Query<Which>, headers: HeaderMap) -> Response {
    let seen = app.board.now();
    let ask = Ask { job_id: &app.board.job_id, wanted: q.wanted(&headers, &seen), name: "" };
    let now = words::now();
    with_revision(&app, &seen, page::parts(&seen, ask, now))
}

async fn list_part(State(app): Shared) -> Response {
    let seen = app.board.now();
    let ask = Ask { job_id: &app.board.job_id, wanted: Wanted::default(), name: "" };
    with_revision(&app, &seen, list::parts(&seen, ask))
}

fn with_revision(app: &App, seen: &Seen, parts: Markup) -> Response {
    let (revision, sheet) = (seen.revision(), seen.job.revision());
    html! { div data-revision=(revision) data-sheet=(sheet) data-job=(app.board.job_id) { (parts) } }
        .into_response()
}

/// Server-sent events: the revision whenever there is a new one, and a sign of life.
async fn events(State(app): Shared) -> impl IntoResponse {
    let (tx, rx) = mpsc::channel::<Result<sse::Event, Infallible>>(4);
    let (mut seen, mut stop) = (app.board.watch(), app.stop.clone());
    let job_id = app.board.job_id.clone();
    tokio::spawn(async move {
        let mut pulse = tokio::time::interval(PULSE);
        seen.mark_changed();
        loop {
            let event = tokio::select! {
                changed = seen.changed() => {
                    if changed.is_err() { return; }
                    let now = json!({"revision": seen.borrow_and_update().revision(), "job": job_id});
                    sse::Event::default().data(now.to_string())
                }
                _ = pulse.tick() => sse::Event::default().event("here").data("1"),
                // An open stream would keep the server from ending.
                _ = stop.changed() => return,
                () = tx.closed() => return,
            };
            if tx.send(Ok(event)).await.is_err() {
                return;
            }
        }
    });
    Sse::new(ReceiverStream::new(rx))
}

async fn frame(State(app): Shared) -> axum::response::Response {
    let text = draw::frame(&app.board.now()).to_string();
    ([(header::CONTENT_TYPE, "application/json")], text).into_response()
}

async fn close_up(State(app): Shared, Query(q): Query<Which>) -> Response {
    let seen = app.board.now();
    match seen.job.item(&q.label).and_then(|i| draw::close_up_of(&seen, i)) {
        Some(svg) => ([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response(),
        None => say(StatusCode::NOT_FOUND, "there is no such line"),
    }
}

/// Somebody did something.
async fn act(State(app): Shared, headers: HeaderMap, typed: Result<Typed<Form>, FormRejection>) -> Response {
    let script = headers.get(header::ACCEPT).is_some_and(|v| v.as_bytes() == b"application/json");
    let form = match typed {
        Ok(Typed(form)) => form,
        Err(e) => return refused(script, e.status(), &e.body_text(), ""),
    };
    if !form.has_id() {
        return refused(
            script,
            StatusCode::BAD_REQUEST,
            "the form has no name of its own",
            "load the page again",
        );
    }
    if !form.job.is_empty() && form.job != app.board.job_id {
        return refused(
            script,
            StatusCode::CONFLICT,
            "this was meant for another job",
            "another job is served here now; enter it there",
        );
    }
    let by = match name(&headers) {
        n if n.is_empty() => "page".to_string(),
        n => format!("{n} (page)"),
    };
    let board = app.board.clone();
    if let Some(answer) = plan(&board, &form, &by) {
        return match answer {
            Ok(said) if script => axum_json(StatusCode::OK, &json!({"ok": true, "words": said})),
            Ok(_) => Redirect::to("/").into_response(),
            Err(r) => refused(script, StatusCode::CONFLICT, &r.what, r.help.as_deref().unwrap_or("")),
        };
    }
    let back = if form.back == "/list" { "/list" } else { "/" };
    let done = tokio::task::spawn_blocking(move || enter(&board, &form, &by)).await;
    match done {
        Ok(Ok(answer)) if script => axum_json(StatusCode::OK, &answer.json()),
        Ok(Ok(answer)) => {
            // Without a script the next page must show it already.
            let mut seen = app.board.watch();
            let there = seen.wait_for(|s| s.job.records.last().is_some_and(|r| r.n >= answer.n));
            let _ = tokio::time::timeout(Duration::from_secs(3), there).await;
            Redirect::to(back).into_response()
        }
        Ok(Err(e)) => {
            let (status, what) = match &e {
                Error::Refused(_) | Error::NewerFormat { .. } => (StatusCode::CONFLICT, e.to_string()),
                _ => (StatusCode::SERVICE_UNAVAILABLE, e.to_string()),
            };
            refused(script, status, &what, &e.help().unwrap_or_default())
        }
        Err(_) => refused(script, StatusCode::INTERNAL_SERVER_ERROR, "the program has a fault here", ""),
    }
}

/// What does not go into the record at once: a re-plan.
fn plan(board: &Arc<Board>, form: &Form, by: &str) -> Option<Result<&'static str, Refused>> {
    match form.act.as_str() {
        "replan" => {
            let begun = anew::effort(&form.effort).and_then(|e| anew::begin(board, e, by, &form.id));
            Some(begun.map(|()| "the rest is being planned anew"))
        }
        "replan-enough" => Some(anew::enough(board).map(|()| "it takes the best order so far")),
        _ => None,
    }
}

/// What came of an entry.
struct Entered {
    n: u64,
    before: bool,
    words: String,
    notices: Vec<String>,
    verdict: Option<&'static str>,
}

impl Entered {
    fn json(&self) -> serde_json::Value {
        json!({
            "ok": true, "n": self.n, "before": self.before, "words": self.words,
            "notices": self.notices, "verdict": self.verdict,
        })
    }
}

fn enter(board: &Board, form: &Form, by: &str) -> Result<Entered, Error> {
    let now = words::now();
    let seen = board.now();
    let say = Say { units: seen.units };
    let event = form.event(&seen.job, say, now).map_err(Error::Refused)?;
    let said = words::event(&event, &seen.job, say);
    let reading = matches!(event, Event::Measured { .. });
    let (written, job) = match board.enter(event.clone(), by, &form.id, now) {
        Err(Error::Refused(r)) => {
            if let Some(note) = clash::note(&board.job(), &event) {
                // It is told to everybody; that it was refused is told to him who sent it in any case.
                let _ = board.enter(note, by, &clash::id(&form.id), now);
            }
            return Err(Error::Refused(r));
        }
        other => other?,
    };
    let mut notices = written.notices;
    notices.sort();
    notices.dedup();
    let verdict = if reading { verdict(board, &job, written.n) } else { None };
    Ok(Entered { n: written.n, before: written.before, words: said, notices, verdict })
}

/// What a reading says, at once and not only when the whole outlook has been worked out.
fn verdict(board: &Board, job: &Job, n: u64) -> Option<&'static str> {
    let seen = board.now();
    let bench = seen.floor.bench();
    bench.model?;
    let (learnt, numbers) = bench.learn(job).ok()?;
    let at = numbers.iter().position(|m| *m == n)?;
    Some(learnt.judged[at].verdict.words())
}

fn refused(script: bool, status: StatusCode, what: &str, help: &str) -> Response {
    if script {
        axum_json(status, &json!({"ok": false, "what": what, "help": help}))
    } else {
        (status, page::trouble(what, help)).into_response()
    }
}

fn axum_json(status: StatusCode, value: &serde_json::Value) -> Response {
    (status, [(header::CONTENT_TYPE, "application/json")], value.to_string()).into_response()
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct Read {
    name: String,
    welder: Option<String>,
}

/// Back to the work, with these cookies.
fn with_cookies(cookies: &[(&str, &str)]) -> Response {
    let mut response = Redirect::to("/").into_response();
    for (name, value) in cookies {
        let text = format!("{name}={value}; Path=/; HttpOnly; SameSite=Strict; Max-Age={MARK_S}");
        if let Ok(value) = text.parse() {
            response.headers_mut().append(header::SET_COOKIE, value);
        }
    }
    response
}

/// The letter of a welder of this job, or nothing for everybody's lines.
fn a_welder(typed: &str, seen: &Seen) -> String {
    let letters = (0..seen.welders()).map(|w| letter(w).to_string());
    letters.into_iter().find(|l| l == typed).unwrap_or_default()
}

/// The cautions were read; and who it was.
async fn read(State(app): Shared, Typed(form): Typed<Read>) -> Response {
    let hex: String = words::name(&form.name).bytes().map(|b| format!("{b:02x}")).collect();
    let welder = form.welder.map(|w| a_welder(&w, &app.board.now()));
    let mut cookies = vec![("holdtrue_read", app.board.job_id.as_str()), ("holdtrue_name", &hex)];
    cookies.extend(welder.as_deref().map(|w| ("holdtrue_welder", w)));
    with_cookies(&cookies)
}

/// Whose lines this device shows from now on.
async fn welder(State(app): Shared, Typed(form): Typed<Read>) -> Response {
    let welder = a_welder(form.welder.as_deref().unwrap_or(""), &app.board.now());
    with_cookies(&[("holdtrue_welder", &welder)])
}

async fn pair_page(State(app): Shared, Query(q): Query<Which>) -> Response {
    if app.door.pairing.is_none() {
        return Redirect::to("/").into_response();
    }
    page::pair(&q.code, None).into_response()
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct Code {
    code: String,
}

async fn pair(State(app): Shared, Extension(peer): Extension<Peer>, Typed(form): Typed<Code>) -> Response {
    let Some(pairing) = &app.door.pairing else { return Redirect::to("/").into_response() };
    match pairing.try_code(&form.code, peer.0.ip(), words::now().as_second()) {
        Answer::Welcome(mark) => {
            let cookie =
                format!("{}={mark}; Path=/; HttpOnly; SameSite=Strict; Max-Age={MARK_S}", app.door.cookie);
            ([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response()
        }
        Answer::Wrong => {
            (StatusCode::FORBIDDEN, page::pair("", Some("That is not the code."))).into_response()
        }
        Answer::Wait(s) => {
            let words = format!("Too many wrong codes. Try again in {} minutes.", s.div_ceil(60));
            (
                StatusCode::TOO_MANY_REQUESTS,
                [(header::RETRY_AFTER, s.to_string())],
                page::pair("", Some(&words)),
            )
                .into_response()
        }
    }
}
