//! Requests that no browser sends, to the real routes: whatever comes, there is an answer, the record
//! stays whole, and the next one is served.

use crate::hard::dice::Dice;
use crate::hard::{record, rounds};
use holdtrue::journal;
use holdtrue::web::{Listen, Pairing, Server};
use std::io::{Read, Write};
use std::net::{Shutdown, TcpStream};
use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;
use tokio::sync::oneshot;

/// Requests to one server.
const EACH: usize = 40;

/// How long the answer to a sound request may take, and how long to wait for one that may never come.
const SOUND: Duration = Duration::from_secs(20);
const ODD: Duration = Duration::from_millis(30);

/// The routes, in this process; the server ends with its value.
struct Here {
    port: u16,
    shop: Option<String>,
    labels: Vec<String>,
    job: String,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Drop for Here {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(t) = self.thread.take() {
            let ended = t.join();
            assert!(std::thread::panicking() || ended.is_ok(), "the server fell over");
        }
    }
}

impl Here {
    /// None: the record is one that cannot be served, and it was said so.
    fn serve(record: &Path, shop: bool) -> Option<Here> {
        let (journal, _) = journal::open(record).ok()?;
        let labels = journal.job().labels().map(String::from).collect();
        let pairing = shop.then(|| Pairing::new([7; 32]).expect("random numbers"));
        let server = match Server::new(journal, Listen { port: 0, shop: pairing, units: None }) {
            Ok(s) => s,
            Err(Err(words)) => {
                assert!(!words.trim().is_empty());
                return None;
            }
            Err(Ok(e)) => panic!("no port: {e}"),
        };
        let host = |a: &String| a.trim_start_matches("http://").trim_end_matches('/').to_string();
        let port = server.port();
        let shop = server.addresses.first().map(host).filter(|_| shop);
        let (stop, stopped) = oneshot::channel::<()>();
        let thread = std::thread::spawn(move || {
            let end = async {
                let _ = stopped.await;
            };
            server.run_until(end).expect("served");
        });
        let mut here =
            Here { port, shop, labels, job: String::new(), stop: Some(stop), thread: Some(thread) };
        let list = here.whole("GET /list-part HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n\r\n");
        here.job = list.split("data-job=\"").nth(1).and_then(|r| r.split('"').next()).expect("a job").into();
        Some(here)
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Send a sound request; it must be answered.
    fn whole(&self, request: &str) -> String {
        let answer = self.send(request.replace("HOST", &self.host()).as_bytes(), SOUND);
        assert!(answer.starts_with("HTTP/1.1 200"), "{request:?}: {answer}");
        answer
    }

    /// Send these bytes; goes out: what came back, perhaps nothing. After `patience` without a word it says
    /// that nothing more will come.
    fn send(&self, bytes: &[u8], patience: Duration) -> String {
        let mut s = TcpStream::connect(("127.0.0.1", self.port)).expect("it listens");
        s.set_read_timeout(Some(patience)).expect("set");
        let _ = s.write_all(bytes);
        let mut all = vec![];
        let mut part = [0; 4096];
        let mut asked_for_the_end = false;
        loop {
            match s.read(&mut part) {
                Ok(0) => break,
                Ok(n) => all.extend_from_slice(&part[..n]),
                // It waits for more, or it is a stream of news: say that nothing more will come.
                Err(_) if !asked_for_the_end => {
                    asked_for_the_end = true;
                    let _ = s.shutdown(Shutdown::Write);
                    s.set_read_timeout(Some(Duration::from_secs(2))).expect("set");
                }
                Err(_) => break,
            }
        }
        String::from_utf8_lossy(&all).into_owned()
    }
}

const PATHS: [&str; 22] = [
    "/",
    "/part",
    "/list",
    "/list-part",
    "/frame.json",
    "/close-up",
    "/do",
    "/do",
    "/do",
    "/do",
    "/read",
    "/welder",
    "/pair",
    "/page.css",
    "/page.js",
    "/icon.svg",
    "/nothing",
    "//",
    "/..",
    "/%",
    "*",
    "http://evil.example/do",
];
const FIELDS: [&str; 18] = [
    "do", "id", "job", "back", "label", "ago", "n", "control", "value", "tool", "clamped", "joint", "words",
    "effort", "step", "keep", "sheet", "code",
];
const ACTS: [&str; 10] =
    ["tick", "tick", "tick", "untick", "skip", "take-back", "measure", "temperature", "note", "gate"];
const VALUES: [&str; 26] = [
    "",
    "0",
    "-0",
    "1",
    "7",
    "1e308",
    "-1e308",
    "nan",
    "inf",
    "600",
    "+1",
    "−2",
    "23 5/8",
    "1/0",
    "yes",
    "tape",
    "square",
    "width",
    "diagonals",
    "J1",
    "<script>alert(1)</script>",
    "\"><img src=x>",
    "%00%ff%fe",
    "a%0d%0aSet-Cookie:+x=y",
    "../../etc/passwd",
    "99999999999999999999",
];

fn value(dice: &mut Dice, here: &Here) -> String {
    match dice.below(6) {
        0 | 1 => dice.one(&here.labels).replace('/', "%2F"),
        2 => "é€😀\u{202e}".repeat(1 + dice.below(60)).bytes().map(|b| format!("%{b:02X}")).collect(),
        3 => format!("{:.3}", dice.between(-1e3, 1e3)),
        _ => dice.one(&VALUES).replace(' ', "+"),
    }
}

fn fields(dice: &mut Dice, here: &Here) -> String {
    let mut all = vec![];
    if !dice.once_in(6) {
        all.push(format!("do={}", dice.one(&ACTS)));
        all.push(format!("id=fuzz-{}", dice.below(1 << 40)));
        if !dice.once_in(6) {
            all.push(format!("label={}", dice.one(&here.labels).replace('/', "%2F")));
            all.push(format!("control={}", dice.one(&["width", "diagonals", "flat"])));
            all.push(format!("joint=J{}", dice.below(6)));
        }
    }
    for _ in 0..dice.below(5) {
        all.push(format!("{}={}", dice.one(&FIELDS), value(dice, here)));
    }
    all.join("&")
}

/// A request as a browser would send it, if the browser were out of its mind.
fn request(dice: &mut Dice, here: &Here) -> Vec<u8> {
    let method = *dice
        .one(&["GET", "GET", "POST", "POST", "POST", "HEAD", "PUT", "OPTIONS", "TRACE", "get", "GÉT", ""]);
    let mut path = dice.one(&PATHS).to_string();
    if dice.once_in(2) {
        path = format!("{path}?{}", fields(dice, here));
    }
    let own = here.host();
    let shop = here.shop.clone().unwrap_or_else(|| own.clone());
    let host = match dice.below(12) {
        0 => "evil.example".to_string(),
        1 | 2 => shop,
        3 => format!("[::1]:{}", here.port),
        _ => own,
    };
    let body = if method == "POST" { fields(dice, here) } else { String::new() };
    let mut head = format!("{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n");
    if method == "POST" || dice.once_in(4) {
        let origin = match dice.below(8) {
            0 => "null".into(),
            1 => "http://evil.example".into(),
            _ => format!("http://{host}"),
        };
        head.push_str(&format!("Origin: {origin}\r\n"));
    }
    if method == "POST" {
        let kind = *dice.one(&[
            "application/x-www-form-urlencoded",
            "application/x-www-form-urlencoded",
            "text/plain",
            "",
        ]);
        let length = match dice.below(12) {
            0 => "0".into(),
            1 => "-1".into(),
            2 => "99999999".into(),
            3 => "nine".into(),
            _ => body.len().to_string(),
        };
        head.push_str(&format!("Content-Type: {kind}\r\nContent-Length: {length}\r\n"));
    }
    for _ in 0..dice.below(4) {
        let v = value(dice, here).replace('%', "");
        head.push_str(&match dice.below(9) {
            0 => "Accept: application/json\r\n".into(),
            1 => format!("Cookie: holdtrue_read={}; holdtrue_name={v}\r\n", here.job),
            2 => format!("Cookie: holdtrue_{}={v}.99999999999.{v}; holdtrue_welder={v}\r\n", here.port),
            3 => "Transfer-Encoding: chunked\r\n".into(),
            4 => "Sec-Fetch-Site: cross-site\r\n".into(),
            5 => format!("Host: {v}\r\n"),
            6 => format!("X-{v}: {v}\r\n"),
            7 => "Expect: 100-continue\r\n".into(),
            _ => format!("Range: bytes={v}\r\n"),
        });
    }
    format!("{head}\r\n{body}").into_bytes()
}

/// What every answer owes, whatever was asked.
fn sound(answer: &str, asked: &[u8]) {
    if answer.is_empty() {
        return;
    }
    let shown = || format!("{:?}\n{answer:.600}", String::from_utf8_lossy(asked));
    let status: u16 = answer.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
    let may = [100, 200, 303, 400, 401, 403, 404, 405, 408, 409, 411, 413, 414, 415, 417, 421, 422, 429, 431];
    assert!(may.contains(&status), "{}", shown());
    let low = answer.to_lowercase();
    // What is refused before it is a request at all has no page and no headers.
    if ![100, 400, 411, 414, 417, 431].contains(&status) {
        assert!(low.contains("content-security-policy: default-src 'none'"), "{}", shown());
        assert!(!low.contains("access-control-allow"), "{}", shown());
    }
    for bad in ["<script>alert", "\"><img", "root:x", "\r\nset-cookie: x=y", "nan mm", "inf mm"] {
        assert!(!low.contains(bad), "{bad}: {}", shown());
    }
}

/// The record of a fresh square, made once.
fn fresh() -> &'static [u8] {
    static BYTES: OnceLock<Vec<u8>> = OnceLock::new();
    BYTES.get_or_init(|| std::fs::read(super::served::Shop::square().record).expect("a record"))
}

#[test]
fn requests_that_nobody_sends_are_answered() {
    rounds("requests", 6, |seed| {
        let mut dice = Dice::new(seed);
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("fuzz.job");
        std::fs::write(&path, fresh()).expect("written");
        let here = Here::serve(&path, dice.once_in(3)).expect("a sound record is served");
        for _ in 0..EACH {
            let mut bytes = request(&mut dice, &here);
            if dice.once_in(4) {
                bytes = crate::hard::bytes::mutilated(
                    &mut dice,
                    &bytes,
                    &["\r\n", "\n", "\0", ":", " ", "%", "\u{feff}"],
                );
            }
            sound(&here.send(&bytes, ODD), &bytes);
        }
        // One after the other on one connection, too.
        let two = format!(
            "GET /part HTTP/1.1\r\nHost: {0}\r\n\r\nGET /list HTTP/1.1\r\nHost: {0}\r\nConnection: close\r\n\r\n",
            here.host()
        );
        assert_eq!(here.send(two.as_bytes(), SOUND).matches("HTTP/1.1 200").count(), 2, "it serves on");
        let (journal, notices) = journal::open(&path).expect("the record is whole");
        assert_eq!(notices, Vec::<String>::new());
        let ids: Vec<&str> =
            journal.job().records.iter().map(|r| r.id.as_str()).filter(|i| !i.is_empty()).collect();
        let mut once = ids.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(once.len(), ids.len(), "an entry was doubled");
    });
}

#[test]
fn a_page_of_a_record_that_says_strange_things_is_served() {
    rounds("pages of strange records", 6, |seed| {
        let mut dice = Dice::new(seed);
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("strange.job");
        std::fs::write(&path, record::strange(&mut dice)).expect("written");
        let Some(here) = Here::serve(&path, false) else { return };
        let label = dice.one(&here.labels).clone();
        for page in ["/", "/part", "/list", "/frame.json", "/close-up?label="] {
            let page = if page.ends_with('=') {
                format!("{page}{}", label.replace('/', "%2F").replace(' ', "+"))
            } else {
                page.into()
            };
            let asked = format!(
                "GET {page} HTTP/1.1\r\nHost: {}\r\nCookie: holdtrue_read={}\r\nConnection: close\r\n\r\n",
                here.host(),
                here.job
            );
            let answer = here.send(asked.as_bytes(), SOUND);
            assert!(!answer.is_empty(), "{page}: no answer");
            sound(&answer, asked.as_bytes());
        }
        for _ in 0..6 {
            let bytes = request(&mut dice, &here);
            sound(&here.send(&bytes, ODD), &bytes);
        }
    });
}
