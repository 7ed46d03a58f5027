//! A job that is served by the program itself, and a plain client.

use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A folder with a record in it.
pub struct Shop {
    pub folder: tempfile::TempDir,
    pub record: PathBuf,
}

impl Shop {
    /// A job on an example; `change` may alter the frame file first.
    pub fn with(example: &str, change: impl FnOnce(String) -> String) -> Shop {
        Shop::begun(example, &[], change)
    }

    /// The same, with more words for `job start`.
    pub fn begun(example: &str, more: &[&str], change: impl FnOnce(String) -> String) -> Shop {
        let folder = tempfile::tempdir().expect("a folder");
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(example);
        let frame = folder.path().join("frame.toml");
        std::fs::write(&frame, change(std::fs::read_to_string(source).expect("the example")))
            .expect("written");
        let record = folder.path().join("frame.job");
        let shop = Shop { folder, record };
        let words: Vec<String> = ["job", "start", "--effort", "rules", "--no-shop", "--quiet"]
            .map(String::from)
            .into_iter()
            .chain([frame.display().to_string(), "--out".into(), shop.record.display().to_string()])
            .chain(more.iter().map(|w| w.to_string()))
            .collect();
        shop.run(&words);
        shop
    }

    pub fn square() -> Shop {
        Shop::with("square.toml", |t| t)
    }

    fn command(&self) -> Command {
        let mut c = Command::new(env!("CARGO_BIN_EXE_holdtrue"));
        // A key of its own for every test, and no shop file of whoever runs it.
        c.env("XDG_CONFIG_HOME", self.folder.path().join("config")).env("HOME", self.folder.path());
        c
    }

    fn run(&self, words: &[String]) -> String {
        let out = self.command().args(words).output().expect("it runs");
        assert!(out.status.success(), "{words:?}: {}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).expect("text")
    }

    /// `holdtrue job WORD RECORD …`
    pub fn job(&self, word: &str, rest: &[&str]) -> String {
        let mut words = vec!["job".to_string(), word.into(), self.record.display().to_string()];
        words.extend(rest.iter().map(|w| w.to_string()));
        self.run(&words)
    }

    pub fn serve(&self) -> Served {
        self.serve_with(0, &[])
    }

    /// Serve it; comes back when it answers.
    pub fn serve_with(&self, port: u16, more: &[&str]) -> Served {
        let mut child = self
            .command()
            .args(["serve", &self.record.display().to_string(), "--port", &port.to_string()])
            .args(more)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        let mut said = String::new();
        while !said.contains("Ctrl-C") {
            match lines.next() {
                Some(Ok(l)) => said.push_str(&format!("{l}\n")),
                _ => {
                    let mut why = String::new();
                    let _ = child.stderr.take().map(|mut e| e.read_to_string(&mut why));
                    panic!("it ended: {said}{why}");
                }
            }
        }
        let port = said
            .split_once("http://")
            .and_then(|(_, rest)| rest.split_once('/')?.0.rsplit_once(':')?.1.parse().ok())
            .unwrap_or(port);
        Served { child, port, said }
    }

    /// The lines of the record after its header, as JSON.
    pub fn records(&self) -> Vec<Value> {
        let text = std::fs::read_to_string(&self.record).expect("the record");
        text.lines().skip(1).map(|l| serde_json::from_str(l).expect("a line")).collect()
    }

    /// How many times a label was ticked.
    pub fn ticks(&self, label: &str) -> usize {
        let hit = |r: &&Value| r["event"]["what"] == "ticked" && r["event"]["label"] == label;
        self.records().iter().filter(hit).count()
    }

    /// The first line of the record.
    pub fn header(&self) -> Value {
        let text = std::fs::read_to_string(&self.record).expect("the record");
        serde_json::from_str(text.lines().next().expect("a header")).expect("JSON")
    }

    /// Labels of the sheet in order.
    pub fn labels(&self) -> Vec<String> {
        let head = self.header();
        let items = head["card"]["items"].as_array().expect("lines");
        items.iter().map(|i| i["label"].as_str().expect("label").to_string()).collect()
    }

    /// Labels of everything before the first pass.
    pub fn before_weld_out(&self) -> Vec<String> {
        self.labels().into_iter().take_while(|l| !l.contains('/')).collect()
    }
}

/// A running server; it ends with its value.
pub struct Served {
    child: Child,
    pub port: u16,
    pub said: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Served {
    /// Stop it at once, as a power cut would.
    pub fn kill(mut self) {
        self.child.kill().expect("killed");
        self.child.wait().expect("gone");
    }

    /// Ask it to stop; goes out: whether it did within half a minute, with exit code 0.
    #[cfg(unix)]
    pub fn stop(mut self) -> bool {
        let id = self.child.id().to_string();
        Command::new("kill").args(["-TERM", &id]).status().expect("kill");
        let until = Instant::now() + Duration::from_secs(30);
        while Instant::now() < until {
            if let Some(status) = self.child.try_wait().expect("waited") {
                return status.success();
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        false
    }

    pub fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    pub fn address(&self, path: &str) -> String {
        format!("http://{}{path}", self.host())
    }

    pub fn connect(&self) -> TcpStream {
        let s = TcpStream::connect(("127.0.0.1", self.port)).expect("it listens");
        s.set_read_timeout(Some(Duration::from_secs(30))).expect("set");
        s
    }

    /// Send these bytes as they are; goes out: status, head, body.
    pub fn raw(&self, bytes: &[u8]) -> Answer {
        let mut s = self.connect();
        // It may refuse before it has read everything.
        let _ = s.write_all(bytes);
        let mut all = vec![];
        let _ = s.read_to_end(&mut all);
        Answer::of(&all)
    }

    pub fn get_with(&self, path: &str, heads: &[(&str, &str)]) -> Answer {
        let mut text = format!("GET {path} HTTP/1.1\r\nConnection: close\r\n");
        if !heads.iter().any(|h| h.0 == "Host") {
            text.push_str(&format!("Host: {}\r\n", self.host()));
        }
        for (n, v) in heads {
            text.push_str(&format!("{n}: {v}\r\n"));
        }
        self.raw(format!("{text}\r\n").as_bytes())
    }

    /// As a person who has read the cautions.
    pub fn get(&self, path: &str) -> Answer {
        self.get_with(path, &[("Cookie", &format!("holdtrue_read={}", self.job_id()))])
    }

    pub fn job_id(&self) -> String {
        let page = self.get_with("/list-part", &[]).body;
        page.split_once("data-job=\"").expect("a job").1.split('"').next().expect("an id").to_string()
    }

    pub fn post_with(&self, path: &str, form: &[(&str, &str)], heads: &[(&str, &str)]) -> Answer {
        let body: Vec<String> = form.iter().map(|(n, v)| format!("{n}={}", encoded(v))).collect();
        let body = body.join("&");
        let mut text = format!(
            "POST {path} HTTP/1.1\r\nConnection: close\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\n",
            body.len()
        );
        if !heads.iter().any(|h| h.0 == "Host") {
            text.push_str(&format!("Host: {}\r\n", self.host()));
        }
        for (n, v) in heads {
            text.push_str(&format!("{n}: {v}\r\n"));
        }
        self.raw(format!("{text}\r\n{body}").as_bytes())
    }

    /// An entry as the page's script sends it.
    pub fn enter(&self, form: &[(&str, &str)]) -> Answer {
        let origin = format!("http://{}", self.host());
        self.post_with("/do", form, &[("Origin", &origin), ("Accept", "application/json")])
    }

    pub fn tick(&self, label: &str, id: &str) -> Answer {
        self.enter(&[("do", "tick"), ("label", label), ("id", id)])
    }
}

fn encoded(text: &str) -> String {
    text.bytes()
        .map(|b| if b.is_ascii_alphanumeric() { char::from(b).into() } else { format!("%{b:02X}") })
        .collect()
}

/// What came back.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    fn of(bytes: &[u8]) -> Answer {
        let text = String::from_utf8_lossy(bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        Answer { status, head: head.to_lowercase(), body: body.into() }
    }

    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }
}

/// Wait until something holds; panics after four times `seconds`, for the machine may be busy.
#[track_caller]
pub fn until(what: &str, seconds: u64, holds: impl Fn() -> bool) {
    let end = Instant::now() + Duration::from_secs(4 * seconds);
    while !holds() {
        assert!(Instant::now() < end, "not within 4 x {seconds} s: {what}");
        std::thread::sleep(Duration::from_millis(25));
    }
}
