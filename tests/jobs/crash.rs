//! Real processes: killed at random moments, and two of them ticking at once.
//!
//! The other process is this test program again, running [`child`] alone. It says on its standard
//! output what was acknowledged; whatever it said must be in the record afterwards.

use super::{at, header, tick};
use holdtrue::job::{Event, Task};
use holdtrue::journal;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

const FILE: &str = "HOLDTRUE_TEST_JOB";
const NAME: &str = "HOLDTRUE_TEST_NAME";
const COUNT: &str = "HOLDTRUE_TEST_COUNT";

/// Not a test of its own: what the other process does. Without the variables it does nothing.
#[test]
fn child() {
    let (Ok(file), Ok(name), Ok(count)) = (std::env::var(FILE), std::env::var(NAME), std::env::var(COUNT))
    else {
        return;
    };
    let (mut j, _) = journal::open(Path::new(&file)).unwrap();
    for i in 0..count.parse::<u32>().unwrap() {
        let text = format!("{name} {i}");
        j.append(&[Event::Note { text: text.clone() }], &name, at(i64::from(i))).unwrap();
        let mut out = std::io::stdout().lock();
        writeln!(out, "\nacknowledged {text}").unwrap();
        out.flush().unwrap();
    }
}

fn start(file: &Path, name: &str, count: u32) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "jobs::crash::child", "--nocapture"])
        .env(FILE, file)
        .env(NAME, name)
        .env(COUNT, count.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// What a child says was acknowledged, as it says it.
fn heard(child: &mut Child) -> impl Iterator<Item = String> + use<> {
    BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map_while(Result::ok)
        .filter_map(|l| l.strip_prefix("acknowledged ").map(String::from))
}

/// All that a child says, to its end.
fn said(child: &mut Child) -> Vec<String> {
    heard(child).collect()
}

/// A hundred kills (`HOLDTRUE_KILLS` for more); moments from a fixed linear congruence (Numerical
/// Recipes, 2nd ed., chapter 7.1), so that a failure can be repeated as far as a kill can.
#[test]
fn killed_at_random_moments_nothing_acknowledged_is_lost() {
    let kills: u32 = std::env::var("HOLDTRUE_KILLS").ok().and_then(|k| k.parse().ok()).unwrap_or(100);
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("kill.job");
    let mut acknowledged: Vec<String> = vec![];
    let (mut dice, mut torn, mut cut_short) = (20_261_125_u32, 0, 0);
    for round in 0..kills {
        // A new file now and then keeps the records short and the test quick.
        if round % 25 == 0 {
            let _ = std::fs::remove_file(&path);
            journal::create(&path, header()).unwrap();
            acknowledged.clear();
        }
        let mut child = start(&path, &format!("r{round}"), 400);
        dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        // The moment: after so many answers, and a little later; a busy machine only makes it take longer.
        let mut hears = heard(&mut child);
        let mut now: Vec<String> = hears.by_ref().take((dice >> 16) as usize % 60).collect();
        std::thread::sleep(Duration::from_micros(u64::from(dice >> 8) % 3_000));
        child.kill().unwrap();
        now.extend(hears);
        child.wait().unwrap();
        cut_short += u32::from(!now.is_empty() && now.len() < 400);
        acknowledged.extend(now);
        let (j, notices) = journal::open(&path).unwrap();
        torn += u32::from(notices.iter().any(|n| n.contains("unfinished")));
        let recorded: Vec<&str> = j.job().notes.iter().map(|n| n.1.as_str()).collect();
        for a in &acknowledged {
            assert!(recorded.contains(&a.as_str()), "round {round}: {a} was acknowledged and is lost");
        }
        // At most one event of each child was written and not yet acknowledged.
        assert!(recorded.len() <= acknowledged.len() + (round % 25) as usize + 1, "round {round}");
    }
    println!("{kills} kills: {cut_short} in the middle of the work, {torn} left half a line");
    assert!(
        cut_short > kills / 5,
        "only {cut_short} of {kills} kills met a child at work: the moments are badly chosen"
    );
}

#[test]
fn two_processes_writing_at_once_both_succeed() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("two.job");
    journal::create(&path, header()).unwrap();
    let mut children = [start(&path, "page", 60), start(&path, "terminal", 60)];
    let heard: Vec<Vec<String>> = children.iter_mut().map(said).collect();
    for c in &mut children {
        assert!(c.wait().unwrap().success());
    }
    assert_eq!((heard[0].len(), heard[1].len()), (60, 60));
    let (j, notices) = journal::open(&path).unwrap();
    assert!(notices.is_empty(), "{notices:?}");
    assert_eq!(j.job().records.len(), 120);
    for text in heard.iter().flatten() {
        assert_eq!(j.job().notes.iter().filter(|n| n.1 == *text).count(), 1, "{text}");
    }
}

/// Threads of one process, all ticking the same lines: each line is ticked once, and everybody who
/// was told "done" is the one in the record.
#[test]
fn the_same_lines_ticked_by_four_at_once_are_ticked_once() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("four.job");
    let mut first = journal::create(&path, header()).unwrap();
    first.append(&[Event::GateOpened { why: "four at once".into() }], "test", at(0)).unwrap();
    let labels: Vec<String> = header()
        .card
        .items
        .iter()
        .filter(|i| !matches!(i.task, Task::Hold { .. }))
        .map(|i| i.label.clone())
        .collect();
    let done: Vec<Vec<String>> = std::thread::scope(|s| {
        let work = |name: &'static str| {
            let (path, labels) = (&path, &labels);
            s.spawn(move || {
                let (mut j, _) = journal::open(path).unwrap();
                let mut told = |l: &&String| match j.append(&[tick(l)], name, at(1)) {
                    Ok(_) => true,
                    Err(journal::Error::Refused(_)) => false,
                    Err(e) => panic!("{e}"),
                };
                labels.iter().filter(|l| told(l)).cloned().collect::<Vec<String>>()
            })
        };
        let all = ["a", "b", "c", "d"].map(work);
        all.into_iter().map(|t| t.join().unwrap()).collect()
    });
    let mut told: Vec<&String> = done.iter().flatten().collect();
    told.sort();
    let mut want: Vec<&String> = labels.iter().collect();
    want.sort();
    assert_eq!(told, want);
    let (j, _) = journal::open(&path).unwrap();
    for (name, lines) in ["a", "b", "c", "d"].iter().zip(&done) {
        for l in lines {
            assert_eq!(j.job().done[l].by, *name);
        }
    }
}
