//! The shop page under load: twenty devices on one job, a thousand entries, every one listening.
//! Prints how long an answer takes and how soon everybody has heard of the last entry; ends with a
//! fault if an entry is lost or doubled.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Barrier};
use std::time::{Duration, Instant};

const CLIENTS: usize = 20;
const ENTRIES: usize = 1000;

struct End(Child);
impl Drop for End {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let record = folder.path().join("load.job");
    let example = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/cargo-trike.toml");
    let program = env!("CARGO_BIN_EXE_holdtrue");
    let start = Command::new(program)
        .args(["job", "start", example, "--effort", "rules", "--no-shop", "--quiet", "--out"])
        .arg(&record)
        .output()
        .expect("it runs");
    assert!(start.status.success());
    let mut child = Command::new(program)
        .args(["serve", "--port", "0"])
        .arg(&record)
        .stdout(Stdio::piped())
        .spawn()
        .expect("it serves");
    let mut said = String::new();
    let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines().map_while(Result::ok);
    let _end = End(child);
    for l in lines.by_ref() {
        said.push_str(&l);
        if l.contains("Ctrl-C") {
            break;
        }
    }
    let port: u16 = said
        .split_once("127.0.0.1:")
        .and_then(|(_, r)| r.split_once('/')?.0.parse().ok())
        .expect("it says its port");
    let text = std::fs::read_to_string(&record).expect("the record");
    let head: serde_json::Value = serde_json::from_str(text.lines().next().expect("a header")).expect("JSON");
    let labels: Vec<String> = head["card"]["items"]
        .as_array()
        .expect("lines")
        .iter()
        .map(|i| i["label"].as_str().expect("a label").to_string())
        .take(CLIENTS)
        .collect();

    let gate = Arc::new(Barrier::new(CLIENTS + 1));
    let listeners: Vec<_> = (0..CLIENTS).map(|_| std::thread::spawn(move || listen(port))).collect();
    let writers: Vec<_> = (0..CLIENTS)
        .map(|c| {
            let (gate, label) = (gate.clone(), labels[c].clone());
            std::thread::spawn(move || {
                gate.wait();
                (0..ENTRIES / CLIENTS)
                    .map(|i| {
                        let act = if i % 2 == 0 { "tick" } else { "untick" };
                        let began = Instant::now();
                        let answer = enter(port, act, &label, &format!("client-{c}-entry-{i}"));
                        assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
                        began.elapsed()
                    })
                    .collect::<Vec<Duration>>()
            })
        })
        .collect();
    gate.wait();
    let began = Instant::now();
    let mut times: Vec<Duration> = writers.into_iter().flat_map(|w| w.join().expect("no fault")).collect();
    let all = began.elapsed();
    let last: Vec<Duration> =
        listeners.into_iter().map(|l| l.join().expect("no fault").duration_since(began)).collect();
    let heard = last.into_iter().max().expect("listeners").saturating_sub(all);
    times.sort();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e3;
    let text = std::fs::read_to_string(&record).expect("the record");
    let mut ids: Vec<String> = text
        .lines()
        .skip(1)
        .filter_map(|l| serde_json::from_str::<serde_json::Value>(l).ok()?["id"].as_str().map(String::from))
        .collect();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), ENTRIES, "entries lost");
    assert_eq!(text.lines().filter(|l| l.contains("\"id\":\"client-")).count(), ENTRIES, "entries doubled");
    println!(
        "{CLIENTS} devices, {ENTRIES} entries in {:.1} s ({:.0} a second), none lost or doubled",
        all.as_secs_f64(),
        ENTRIES as f64 / all.as_secs_f64()
    );
    println!(
        "answer: half within {:.1} ms, 99 of 100 within {:.1} ms, longest {:.1} ms",
        at(0.5),
        at(0.99),
        at(1.0)
    );
    println!("everybody had heard of the last entry {:.0} ms after it", heard.as_secs_f64() * 1e3);
    // One at a time, nobody else about.
    let mut alone: Vec<f64> = (0..100)
        .map(|i| {
            let began = Instant::now();
            enter(port, if i % 2 == 0 { "tick" } else { "untick" }, &labels[0], &format!("alone-entry-{i}"));
            began.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    alone.sort_by(f64::total_cmp);
    println!("one device alone: half within {:.1} ms, longest {:.1} ms", alone[50], alone[99]);
}

/// Listen until every entry is known; goes out: when that was.
fn listen(port: u16) -> Instant {
    let mut s = TcpStream::connect(("127.0.0.1", port)).expect("it listens");
    write!(s, "GET /events HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n").expect("sent");
    for l in BufReader::new(s).lines().map_while(Result::ok) {
        let records =
            l.split_once("\"revision\":\"").and_then(|(_, r)| r.split_once('.')?.0.parse::<usize>().ok());
        // One record says that the job began.
        if records.is_some_and(|n| n >= ENTRIES) {
            return Instant::now();
        }
    }
    panic!("the stream ended early");
}

fn enter(port: u16, act: &str, label: &str, id: &str) -> String {
    let body = format!("do={act}&label={}&id={id}", label.replace('/', "%2F"));
    let mut s = TcpStream::connect(("127.0.0.1", port)).expect("it listens");
    write!(
        s,
        "POST /do HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nAccept: \
         application/json\r\nConnection: close\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: \
         {}\r\n\r\n{body}",
        body.len()
    )
    .expect("sent");
    let mut answer = String::new();
    s.read_to_string(&mut answer).expect("an answer");
    answer
}
