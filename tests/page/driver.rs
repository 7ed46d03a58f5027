//! A real browser, driven over the W3C WebDriver protocol (plain HTTP and JSON).

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// The browser's driver, running; it ends with its value.
pub struct Driver {
    child: Child,
    port: u16,
    _turn: MutexGuard<'static, ()>,
}

/// One browser test at a time: several on a small machine only wait for each other.
static TURN: Mutex<()> = Mutex::new(());

/// The driver, or nothing if there is no browser here. `HOLDTRUE_BROWSER=required` makes that a fault.
pub fn driver() -> Option<Driver> {
    let turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
    let started =
        Command::new("chromedriver").arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()).spawn();
    let mut child = match started {
        Ok(c) => c,
        Err(e) => {
            assert!(!required(), "a browser is required, but chromedriver does not start: {e}");
            println!("not tested in a browser: chromedriver does not start ({e})");
            return None;
        }
    };
    let lines = BufReader::new(child.stdout.take().expect("piped")).lines();
    let port = lines
        .map_while(Result::ok)
        .find_map(|l| l.split_once("successfully on port ")?.1.trim_end_matches('.').parse().ok())
        .expect("it says its port");
    Some(Driver { child, port, _turn: turn })
}

pub fn required() -> bool {
    std::env::var("HOLDTRUE_BROWSER").is_ok_and(|v| v == "required")
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.call("GET", "/shutdown", None);
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Driver {
    fn call(&self, method: &str, path: &str, body: Option<&Value>) -> Result<Value, String> {
        let body = body.map_or(String::new(), Value::to_string);
        let mut s = TcpStream::connect(("127.0.0.1", self.port)).map_err(|e| e.to_string())?;
        s.set_read_timeout(Some(Duration::from_secs(120))).map_err(|e| e.to_string())?;
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: localhost:{}\r\nConnection: close\r\nContent-Type: \
             application/json\r\nContent-Length: {}\r\n\r\n",
            self.port,
            body.len()
        );
        s.write_all(format!("{head}{body}").as_bytes()).map_err(|e| e.to_string())?;
        let mut head = String::new();
        let mut reader = BufReader::new(s);
        let mut length = 0;
        loop {
            let mut line = String::new();
            if reader.read_line(&mut line).map_err(|e| e.to_string())? == 0 || line == "\r\n" {
                break;
            }
            if let Some(n) = line.to_lowercase().strip_prefix("content-length:") {
                length = n.trim().parse().unwrap_or(0);
            }
            head.push_str(&line);
        }
        let mut bytes = vec![0; length];
        reader.read_exact(&mut bytes).map_err(|e| e.to_string())?;
        let answer: Value = serde_json::from_slice(&bytes).map_err(|e| e.to_string())?;
        if head.starts_with("HTTP/1.1 200") {
            Ok(answer["value"].clone())
        } else {
            Err(answer["value"].to_string())
        }
    }

    /// A fresh browser with a window of this size; `dark` as a person may prefer.
    pub fn browser(&self, width: u32, height: u32, dark: bool) -> Browser<'_> {
        let touch = width < 1000;
        let mut options = json!({
            "args": ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                     format!("--window-size={},{height}", width.max(500))],
        });
        if touch {
            options["mobileEmulation"] =
                json!({"deviceMetrics": {"width": width, "height": height, "pixelRatio": 1, "touch": true}});
        }
        let asked = json!({"capabilities": {"alwaysMatch": {
            "browserName": "chrome", "goog:chromeOptions": options, "goog:loggingPrefs": {"browser": "ALL"},
        }}});
        let session = self.call("POST", "/session", Some(&asked)).expect("a browser starts");
        let id = session["sessionId"].as_str().expect("a session").to_string();
        let b = Browser { driver: self, id };
        // A person waits a moment before he presses again; here the clock is put forward instead.
        let clock = "(() => { const d = Date.now.bind(Date); let o = 0; Date.now = () => d() + o; \
                     window.theyWait = (ms) => { o += ms; }; })()";
        b.tell("Page.addScriptToEvaluateOnNewDocument", json!({"source": clock}));
        if dark {
            let media = json!({"features": [{"name": "prefers-color-scheme", "value": "dark"}]});
            b.tell("Emulation.setEmulatedMedia", media);
        }
        b
    }
}

/// One browser.
pub struct Browser<'a> {
    driver: &'a Driver,
    id: String,
}

impl Drop for Browser<'_> {
    fn drop(&mut self) {
        let _ = self.driver.call("DELETE", &format!("/session/{}", self.id), None);
    }
}

impl Browser<'_> {
    fn ask(&self, method: &str, path: &str, body: Value) -> Result<Value, String> {
        self.driver.call(method, &format!("/session/{}{path}", self.id), Some(&body))
    }

    fn tell(&self, command: &str, with: Value) -> Value {
        self.ask("POST", "/goog/cdp/execute", json!({"cmd": command, "params": with})).expect("understood")
    }

    #[track_caller]
    pub fn go(&self, address: &str) {
        self.ask("POST", "/url", json!({"url": address})).expect("the page opens");
    }

    /// Run a script; goes out: what it returns.
    #[track_caller]
    pub fn js(&self, script: &str) -> Value {
        self.ask("POST", "/execute/sync", json!({"script": script, "args": []})).expect("the script runs")
    }

    /// Run a script that calls its last argument back.
    #[track_caller]
    pub fn js_later(&self, script: &str) -> Value {
        self.ask("POST", "/execute/async", json!({"script": script, "args": []})).expect("the script runs")
    }

    #[track_caller]
    pub fn text(&self, script: &str) -> String {
        self.js(script).as_str().unwrap_or_default().to_string()
    }

    #[track_caller]
    fn element(&self, css: &str) -> String {
        let found = self.ask("POST", "/element", json!({"using": "css selector", "value": css}));
        let found = found.unwrap_or_else(|e| panic!("{css}: {e}"));
        found.as_object().and_then(|o| o.values().next()?.as_str()).expect("a handle").to_string()
    }

    /// Press something as a person does: it must be there, in sight and not covered.
    #[track_caller]
    pub fn press(&self, css: &str) {
        if let Err(why) = self.try_press(css) {
            panic!("{css} cannot be pressed: {why}");
        }
    }

    /// As [`Browser::press`]; what stands in the way is no fault.
    #[track_caller]
    pub fn try_press(&self, css: &str) -> Result<(), String> {
        let e = self.element(css);
        self.ask("POST", &format!("/element/{e}/click"), json!({})).map(drop)
    }

    #[track_caller]
    pub fn type_in(&self, css: &str, words: &str) {
        let e = self.element(css);
        self.ask("POST", &format!("/element/{e}/value"), json!({"text": words})).expect("typed");
    }

    /// Press keys wherever the focus is.
    pub fn keys(&self, keys: &[&str]) {
        let mut acts = vec![];
        for k in keys {
            acts.push(json!({"type": "keyDown", "value": k}));
            acts.push(json!({"type": "keyUp", "value": k}));
        }
        let body = json!({"actions": [{"type": "key", "id": "keyboard", "actions": acts}]});
        self.ask("POST", "/actions", body).expect("keys");
    }

    /// Cut the network of this browser, or bring it back.
    pub fn network(&self, there: bool) {
        let body = json!({"network_conditions": {"offline": !there, "latency": 0, "throughput": 50_000_000}});
        self.ask("POST", "/chromium/network_conditions", body).expect("set");
    }

    /// What the browser itself complained about.
    pub fn complaints(&self) -> Vec<String> {
        let log = self.ask("POST", "/se/log", json!({"type": "browser"})).unwrap_or_default();
        let list = log.as_array().cloned().unwrap_or_default();
        list.iter().filter_map(|l| l["message"].as_str().map(String::from)).collect()
    }

    /// Keep a picture to be looked at: what is in the window, or the whole page.
    pub fn picture(&self, name: &str, whole: bool) {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("page");
        std::fs::create_dir_all(&folder).expect("a folder");
        let shot = self.tell("Page.captureScreenshot", json!({"captureBeyondViewport": whole}));
        let bytes = bytes_of(shot["data"].as_str().unwrap_or_default());
        assert!(bytes.starts_with(b"\x89PNG"), "no picture");
        std::fs::write(folder.join(format!("{name}.png")), bytes).expect("written");
    }
}

/// Base64, RFC 4648.
fn bytes_of(text: &str) -> Vec<u8> {
    let value = |c: u8| match c {
        b'A'..=b'Z' => Some(c - b'A'),
        b'a'..=b'z' => Some(c - b'a' + 26),
        b'0'..=b'9' => Some(c - b'0' + 52),
        b'+' => Some(62),
        b'/' => Some(63),
        _ => None,
    };
    let (mut bits, mut n, mut out) = (0u32, 0, vec![]);
    for v in text.bytes().filter_map(value) {
        bits = bits << 6 | u32::from(v);
        n += 6;
        if n >= 8 {
            n -= 8;
            out.push((bits >> n) as u8);
            bits &= (1 << n) - 1;
        }
    }
    out
}

#[test]
fn base64_is_the_published_one() {
    // RFC 4648, section 10.
    for (text, want) in [("Zg==", "f"), ("Zm8=", "fo"), ("Zm9v", "foo"), ("Zm9vYmFy", "foobar")] {
        assert_eq!(bytes_of(text), want.as_bytes());
    }
}
