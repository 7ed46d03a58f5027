//! `job run`: line by line over a plain terminal; everything is a line of text and Enter.

use super::args::{MeasureArgs, RecordArg};
use super::{append, look, measure, now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::Stop;
use crate::job::Floor;
use crate::job::{self, Event, parse_ticks};
use crate::journal::Journal;
use std::io::{BufRead, Write};

const KEYS: &str = "Enter: done   t 3,5-7: these are done   m CONTROL VALUE [tool]: measure   s: skip   u: take back   \
                    n WORDS: note   w: look again   q: quit";

pub fn run(
    a: &RecordArg,
    common: &Common,
    input: &mut dyn BufRead,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    let mut journal = open(a, common, err)?;
    let mut floor = super::floor(journal.job(), common)?;
    writeln!(out, "{KEYS}")?;
    loop {
        writeln!(out)?;
        // Enter means the line that was shown, however long ago.
        let shown = look::say_next(journal.job(), &floor, out)?;
        write!(out, "> ")?;
        out.flush()?;
        let mut typed = String::new();
        // The end of the input is as good as `q`: everything entered is on the disk.
        if input.read_line(&mut typed)? == 0 {
            writeln!(out)?;
            return Ok(());
        }
        let (key, rest) = typed.trim().split_once(char::is_whitespace).unwrap_or((typed.trim(), ""));
        if key.eq_ignore_ascii_case("q") {
            return Ok(());
        }
        let known = journal.job().records.len();
        match one(key, rest.trim(), shown, a, &mut journal, &floor, common, out, err) {
            Ok(()) => {}
            // A slip of the fingers ends nothing.
            Err(stop) if !stop.words.is_empty() => writeln!(out, "{}", stop.words)?,
            Err(stop) => return Err(stop),
        }
        // Others may have written; settings that differed change the heat.
        super::notes(&journal.refresh().map_err(words::stop)?, common, err)?;
        if journal.job().records.len() != known {
            floor = super::floor(journal.job(), common)?;
        }
    }
}

#[allow(clippy::too_many_arguments)] // one answer to one line: everything there is
fn one(
    key: &str,
    rest: &str,
    shown: Option<String>,
    a: &RecordArg,
    journal: &mut Journal,
    floor: &Floor,
    common: &Common,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    match key.to_lowercase().as_str() {
        "" | "s" => {
            let Some(label) = shown else { return Ok(()) };
            let event = if key.is_empty() {
                Event::tick(label.clone(), Some(now()))
            } else {
                Event::Skipped { label: label.clone(), why: rest.into() }
            };
            append(journal, &[event], &a.by, common, err)?;
            writeln!(out, "{} {label}", if key.is_empty() { "done" } else { "skipped" })?;
        }
        "t" => {
            let picked = parse_ticks(journal.job(), rest).map_err(words::all_refused)?;
            super::notes(&picked.notices, common, err)?;
            let last = picked.labels.last().cloned();
            let when = |l: &String| (Some(l) == last.as_ref()).then(now);
            let events: Vec<Event> = picked.labels.iter().map(|l| Event::tick(l.clone(), when(l))).collect();
            append(journal, &events, &a.by, common, err)?;
            writeln!(out, "done {}", picked.labels.join(", "))?;
        }
        "m" => {
            let words: Vec<&str> = rest.split_whitespace().collect();
            let (control, value, tool) = match words.as_slice() {
                [control, value] => (control, value, None),
                [control, value, tool] => (control, value, Some((*tool).to_string())),
                _ => {
                    let names: Vec<&str> =
                        journal.job().header.controls.iter().map(|c| c.name.as_str()).collect();
                    writeln!(out, "m CONTROL VALUE [tool]; controls are {}", names.join(", "))?;
                    return Ok(());
                }
            };
            let args = MeasureArgs {
                record: RecordArg { record: a.record.clone(), by: a.by.clone() },
                control: (*control).into(),
                value: (*value).into(),
                tool,
                error: None,
                clamped: false,
                free: false,
                confirm: false,
            };
            measure::enter(&args, journal, floor, common, out, err)?;
        }
        "u" => {
            let event = job::undo(journal.job()).map_err(words::refused)?;
            append(journal, &[event], &a.by, common, err)?;
            writeln!(out, "taken back")?;
        }
        "n" if !rest.is_empty() => {
            append(journal, &[Event::Note { text: rest.into() }], &a.by, common, err)?;
            writeln!(out, "noted")?;
        }
        "w" => {}
        _ => writeln!(out, "{KEYS}")?,
    }
    Ok(())
}
