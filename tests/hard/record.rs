//! Records that nobody wrote: bytes mutilated, and, with their checksums made right again, JSON that says
//! what no program of ours would say.

use super::dice::Dice;
use super::rounds;
use holdtrue::job::{self, Event, Floor, Item, Job, When, deviations, pulses};
use holdtrue::{cli, journal};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::Path;
use std::sync::OnceLock;

/// A job with every kind of entry, on the smallest example: its lines.
fn sound() -> &'static [String] {
    static LINES: OnceLock<Vec<String>> = OnceLock::new();
    LINES.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let record = folder.path().join("sound.job");
        let run = |words: &str| {
            let example = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/square.toml");
            let typed = words.split_whitespace().map(|w| match w {
                "SQUARE" => OsString::from(example),
                "RECORD" => record.clone().into_os_string(),
                w => OsString::from(w.replace('~', " ")),
            });
            let (mut out, mut err) = (vec![], vec![]);
            let exit = cli::run(std::iter::once("holdtrue".into()).chain(typed), &mut out, &mut err);
            assert_eq!(exit, cli::Exit::Ok, "{words}: {}", String::from_utf8_lossy(&err));
        };
        run("job start SQUARE --out RECORD --effort rules --no-shop");
        let first = |label: &str| {
            let (journal, _) = journal::open(&record).expect("sound");
            journal.job().card().items.iter().find(|i| i.label == label).map_or(0, |i| i.number)
        };
        let pass = {
            let (journal, _) = journal::open(&record).expect("sound");
            let items = &journal.job().card().items;
            items.iter().find(|i| i.is_pass()).expect("a pass").number
        };
        run(&format!("job tick RECORD 1-{}", pass - 1));
        run("job measure RECORD width 600.5 --tool tape");
        run("job measure RECORD diagonals +9 --tool tape --confirm");
        run("job gate RECORD --because tape~is~broken");
        run(&format!("job tick RECORD {pass}-{} --amps 120", pass + 4));
        run("job temperature RECORD J1 140");
        run("job gap RECORD J3 0.8");
        run("job note RECORD a~note");
        run(&format!("job skip RECORD {}", pass + 6));
        run(&format!("job redo RECORD {pass} --why pores"));
        run("job cut RECORD J1a --why crack");
        run("job replan RECORD --effort rules");
        assert_eq!(first("no such line"), 0);
        run("job tick RECORD J1a-1/1");
        run("job undo RECORD");
        run("job finish RECORD");
        let text = std::fs::read_to_string(&record).expect("text");
        text.lines().map(str::to_string).collect()
    })
}

/// The line with a checksum that fits, as the journal seals it.
fn sealed(value: &Value) -> String {
    let mut text = value.to_string();
    text.pop();
    let sum: String = Sha256::digest(text.as_bytes()).iter().take(8).map(|b| format!("{b:02x}")).collect();
    format!("{text},\"sum\":\"{sum}\"}}")
}

fn opened(line: &str) -> Value {
    let mut value: Value = serde_json::from_str(line).expect("JSON");
    value.as_object_mut().expect("an object").remove("sum");
    value
}

/// Values that go wrong.
fn bad(dice: &mut Dice) -> Value {
    match dice.below(16) {
        0 => Value::Null,
        1 => json!(true),
        2 => json!([]),
        3 => json!({}),
        4 => json!(""),
        5 => json!("\u{0}\u{202e}\u{feff}"),
        6 => json!("J1a-1/1"),
        7 => json!("9999-12-30T22:00:00Z"),
        8 => json!("-009999-01-02T01:59:59Z"),
        9 => json!(-1),
        10 => json!(u64::MAX),
        11 => json!(1e308),
        12 => json!(-1e-308),
        13 => json!(0),
        14 => json!("x".repeat(1 << dice.below(14))),
        _ => json!(dice.between(-1e4, 1e4)),
    }
}

/// Change one thing somewhere inside.
fn changed(dice: &mut Dice, value: &mut Value) {
    let deeper = |dice: &mut Dice, n: usize| n > 0 && !dice.once_in(4);
    match value {
        Value::Object(map) if deeper(dice, map.len()) => {
            let keys: Vec<String> = map.keys().cloned().collect();
            let key = dice.one(&keys).clone();
            match dice.below(12) {
                0 => drop(map.remove(&key)),
                1 => drop(map.insert("unheard-of".into(), json!(1))),
                2 => {
                    let other = map[dice.one(&keys)].clone();
                    map.insert(key, other);
                }
                _ => changed(dice, map.get_mut(&key).expect("its key")),
            }
        }
        Value::Array(list) if deeper(dice, list.len()) => {
            let at = dice.below(list.len());
            match dice.below(8) {
                0 => drop(list.remove(at)),
                1 => list.push(list[at].clone()),
                2 => {
                    let other = dice.below(list.len());
                    list.swap(at, other);
                }
                _ => changed(dice, &mut list[at]),
            }
        }
        Value::Number(n) if !dice.once_in(3) => {
            let x = n.as_f64().unwrap_or(0.0);
            let factor = *dice.one(&[-1.0, 0.0, 1e3, 1e9, 1e-9, 1.01]);
            *value = if n.is_u64() { json!((x * factor).max(0.0) as u64) } else { json!(x * factor) };
        }
        Value::String(s) if !dice.once_in(3) => {
            let mut letters: Vec<char> = s.chars().collect();
            let at = dice.below(letters.len().max(1));
            match dice.below(3) {
                0 => letters.truncate(at),
                1 => letters.splice(at..at.min(letters.len()), "0.9".chars()).for_each(drop),
                _ if at < letters.len() => drop(letters.remove(at)),
                _ => letters.push('é'),
            }
            *value = json!(letters.into_iter().collect::<String>());
        }
        other => *other = bad(dice),
    }
}

/// A record with right checksums and numbers that says strange things.
pub fn strange(dice: &mut Dice) -> String {
    strange_of(dice, sound())
}

fn strange_of(dice: &mut Dice, sound: &[String]) -> String {
    let mut lines: Vec<Value> = sound.iter().map(|l| opened(l)).collect();
    for _ in 0..1 + dice.below(3) {
        let at = if dice.once_in(3) { 0 } else { 1 + dice.below(lines.len().max(2) - 1) };
        match dice.below(6) {
            0 if lines.len() > 2 && at > 0 => drop(lines.remove(at.min(lines.len() - 1))),
            1 if at > 0 => {
                let again = lines[at.min(lines.len() - 1)].clone();
                let to = 1 + dice.below(lines.len());
                lines.insert(to, again);
            }
            2 if lines.len() > 2 => {
                let (a, b) = (1 + dice.below(lines.len() - 1), 1 + dice.below(lines.len() - 1));
                lines.swap(a, b);
            }
            _ => {
                let last = lines.len() - 1;
                changed(dice, &mut lines[at.min(last)]);
            }
        }
    }
    // Numbers without gaps, or nothing of it would be read.
    for (n, line) in lines.iter_mut().enumerate().skip(1) {
        if let Some(map) = line.as_object_mut()
            && !dice.once_in(200)
        {
            map.insert("n".into(), json!(n));
        }
    }
    lines.iter().map(|l| sealed(l) + "\n").collect()
}

/// Every question that is put to a job.
fn asked(job: &Job, deep: bool) {
    let now: When = "2026-11-28T12:00:00Z".parse().expect("a time");
    let minutes = |_: &Item| 0.0;
    let next = job::next(job, &minutes);
    assert!(next.now.is_none() || next.now.is_some_and(|n| job.standing(&n.label) != job::Standing::Done));
    let _ = (job.gate(), job.gate_line(), job.passes_done(), job.setup(), job.progress(), job::undo(job));
    let _ = deviations(job, &BTreeMap::new(), &|t| t.to_string());
    let _ = pulses(job, now);
    let _ = job::again_advised(job, &BTreeMap::new());
    for r in &job.records {
        let _ = job.check(&r.event, now);
    }
    for label in job.labels() {
        let _ = job.check(&Event::tick(label, Some(now)), now);
    }
    assert!(Job::fold(job.header.clone(), job.records.clone()) == *job, "read again it is another job");
    if !deep {
        return;
    }
    let Ok(floor) = Floor::of(job) else { return };
    for (label, m) in floor.bench().minutes(job, now) {
        assert!(!m.is_nan() && m >= 0.0, "{label} waits {m} min");
    }
    let said = floor.said(job).ok().flatten();
    let _ = floor.learnt_frame(said.as_ref());
    let _ = floor.underway(job, said.as_ref(), now);
}

fn read(folder: &Path, bytes: &[u8], deep: bool) -> bool {
    let path = folder.join("strange.job");
    std::fs::write(&path, bytes).expect("written");
    match journal::open(&path) {
        Err(e) => {
            assert!(!e.to_string().trim().is_empty(), "refused without a word");
            let _ = e.help();
            false
        }
        Ok((journal, _)) => {
            asked(journal.job(), deep);
            true
        }
    }
}

/// Found by the target below: one joint more in the record than in its frame ended in a panic.
#[test]
fn a_record_that_does_not_fit_its_frame_is_refused() {
    let mut header = opened(&sound()[0]);
    for list in ["joints", "controls"] {
        let whole = header[list].clone();
        let more = whole
            .as_array()
            .expect("a list")
            .iter()
            .chain(whole.as_array().expect("a list").first())
            .cloned();
        header[list] = more.collect();
        let job = Job::fold(serde_json::from_value::<job::Header>(header.clone()).expect("a header"), vec![]);
        let faults = Floor::of(&job).err().expect("refused");
        assert!(faults[0].code == "E702" && faults[0].message.contains(list), "{faults:?}");
        header[list] = whole;
    }
    // Found by the pages of strange records: a page with a button for each of them filled the memory.
    for (welders, sound) in [(0, false), (u64::from(u32::MAX), false), (5, false), (4, true), (1, true)] {
        header["welders"] = json!(welders);
        let job = Job::fold(serde_json::from_value::<job::Header>(header.clone()).expect("a header"), vec![]);
        assert_eq!(Floor::of(&job).is_ok(), sound, "{welders}");
    }
}

#[test]
fn mutilated_records_are_answered() {
    let sound = sound().join("\n") + "\n";
    let folder = tempfile::tempdir().expect("a folder");
    assert!(read(folder.path(), sound.as_bytes(), true));
    rounds("records", 60, |seed| {
        let mut dice = Dice::new(seed);
        let bytes =
            super::bytes::mutilated(&mut dice, sound.as_bytes(), &["{", "}", "\n", "null", "\"", "\\u0000"]);
        read(folder.path(), &bytes, false);
    });
}

#[test]
fn records_that_say_strange_things_are_answered() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut read_through = std::cell::Cell::new(0);
    rounds("strange records", 60, |seed| {
        let mut dice = Dice::new(seed);
        let text = strange(&mut dice);
        let deep = dice.once_in(10);
        if read(folder.path(), text.as_bytes(), deep) {
            read_through.set(read_through.get() + 1);
        }
    });
    assert!(*read_through.get_mut() > 5, "nearly all of them were refused at the door: nothing was tried");
}
