//! Everything that is simply written down: ticks, cuts, temperatures, notes.

use super::args::{CutArgs, GapArgs, NoteArgs, RecordArg, TickArgs, ValueArgs, WhatArgs};
use super::{append, now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::{Exit, Stop};
use crate::job::{self, Event, Job, Task, UsedSettings, When, parse_ticks};
use crate::procedure::GAP_LIMIT_MM;
use crate::units::{MM_PER_INCH, Units};
use std::io::Write;

pub fn tick(
    a: &TickArgs,
    redo: bool,
    common: &Common,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    let labels = if redo {
        labels(journal.job(), &a.what, true)?
    } else {
        let picked = parse_ticks(journal.job(), &a.what.join(" ")).map_err(words::all_refused)?;
        super::notes(&picked.notices, common, err)?;
        picked.labels
    };
    let last = labels.last().cloned();
    let units = super::units(journal.job(), common);
    // As the sheet prints it: mm/s, or in/min.
    let per_s = |v: f64| if units == Units::Inch { v * MM_PER_INCH / 60.0 } else { v };
    let time = time(a.time.as_deref())?;
    let used =
        UsedSettings { volts: a.volts, amps: a.amps, speed_mm_s: a.speed.map(per_s), arc_s: a.arc_time };
    let settings = (used != UsedSettings::default()).then_some(used);
    let events: Vec<Event> = labels
        .iter()
        .map(|l| {
            let label = l.clone();
            // One time is that of the last line: when the others were done nobody said.
            let when = time.filter(|_| Some(l) == last.as_ref());
            let (settings, reversed) = (settings.clone(), a.back);
            if redo {
                Event::Redone { label, when, settings, reversed, why: a.why.clone() }
            } else {
                Event::Ticked { label, when, settings, reversed }
            }
        })
        .collect();
    let events = match &a.without_readings {
        Some(why) => [vec![Event::GateOpened { why: why.clone() }], events].concat(),
        None => events,
    };
    append(&mut journal, &events, &a.record.by, common, err)?;
    let job = journal.job();
    for l in &labels {
        let item = job.item(l).map_or_else(|| l.clone(), |i| words::line(job, i, units));
        writeln!(out, "{} {item}", if redo { "laid again" } else { "done" })?;
    }
    count(job, out)
}

/// `None`: time unknown.
fn time(typed: Option<&str>) -> Result<Option<When>, Stop> {
    let Some(typed) = typed else { return Ok(Some(now())) };
    if typed.eq_ignore_ascii_case("unknown") {
        return Ok(None);
    }
    if let Ok(t) = typed.parse::<When>() {
        return Ok(Some(t));
    }
    let zone = jiff::tz::TimeZone::system();
    let today = zone.to_datetime(now()).date();
    let of_day = typed.parse::<jiff::civil::Time>().ok();
    let of_day = of_day.and_then(|t| zone.to_timestamp(today.to_datetime(t)).ok());
    of_day.map(Some).ok_or_else(|| {
        Stop::new(
            Exit::Usage,
            format!(
                "error: \"{typed}\" is no time\nhelp: write `unknown`, 14:05 for today, or a moment like \
                 2026-11-25T14:05:00+01:00"
            ),
        )
    })
}

fn count(job: &Job, out: &mut dyn Write) -> Result<(), Stop> {
    writeln!(out, "{}", words::so_far(job))?;
    Ok(())
}

pub fn untick(a: &WhatArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let why = a.why.clone();
    each(a, true, common, out, err, "not done", |label| Event::Unticked { label, why: why.clone() })
}

pub fn skip(a: &WhatArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let why = a.why.clone();
    each(a, false, common, out, err, "skipped", |label| Event::Skipped { label, why: why.clone() })
}

fn each(
    a: &WhatArgs,
    done: bool,
    common: &Common,
    out: &mut dyn Write,
    err: &mut dyn Write,
    word: &str,
    event: impl Fn(String) -> Event,
) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    let labels = labels(journal.job(), &a.what, done)?;
    let events: Vec<Event> = labels.iter().cloned().map(event).collect();
    append(&mut journal, &events, &a.record.by, common, err)?;
    let job = journal.job();
    let units = super::units(job, common);
    for l in &labels {
        let item = job.item(l).map_or_else(|| l.clone(), |i| words::line(job, i, units));
        writeln!(out, "{word} {item}")?;
    }
    count(journal.job(), out)
}

/// Lines by number, label, seam or joint. A seam or joint stands for its passes that are done, or for
/// those that are not.
fn labels(job: &Job, what: &[String], done: bool) -> Result<Vec<String>, Stop> {
    let mut all = vec![];
    for word in what.iter().flat_map(|w| w.split(',')).filter(|w| !w.is_empty()) {
        let range = word
            .split_once('-')
            .and_then(|(a, b)| Some((a.parse::<usize>().ok()?, b.parse::<usize>().ok()?)));
        let at = |i: &&job::Item| {
            i.is_pass() && [i.seam(), i.joint()].into_iter().flatten().any(|n| n.eq_ignore_ascii_case(word))
        };
        let laid = |i: &&job::Item| job.standing(&i.label) == job::Standing::Done;
        if done && job.known().filter(at).any(|i| laid(&i)) {
            all.extend(job.known().filter(at).filter(laid).map(|i| i.label.clone()));
        } else if let Some((a, b)) = range {
            let within = a.min(b)..=a.max(b);
            let hit = job.card().items.iter().filter(|i| within.contains(&i.number));
            all.extend(hit.map(|i| i.label.clone()));
        } else {
            all.extend(parse_ticks(job, word).map_err(words::all_refused)?.labels);
        }
    }
    Ok(all)
}

pub fn cut(a: &CutArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    let places = journal.job().find_cut(&a.place).map_err(words::refused)?;
    let event = |place: &job::Cut| Event::Cut { place: place.clone(), why: a.why.clone() };
    let events: Vec<Event> = if places.len() == 1 {
        places.iter().map(event).collect()
    } else {
        // A joint: those of its seams that are welded.
        places.iter().map(event).filter(|e| journal.job().check(e, now()).is_ok()).collect()
    };
    if events.is_empty() {
        return Err(words::refused(job::Refused::new(
            format!("nothing is welded at {}", a.place),
            "nothing to take out",
        )));
    }
    append(&mut journal, &events, &a.record.by, common, err)?;
    for e in &events {
        if let Event::Cut { place: job::Cut::Seam(n) | job::Cut::Tack(n), .. } = e {
            writeln!(out, "taken out: {n}")?;
        }
    }
    let job = journal.job();
    let open: Vec<_> =
        job.open().into_iter().filter(|i| i.is_weld()).filter(|i| at(&i.task, &events)).collect();
    for i in open {
        writeln!(out, "open again {}", words::line(job, i, super::units(job, common)))?;
    }
    writeln!(out, "plan anew before going on: holdtrue job replan {}", a.record.record.display())?;
    Ok(())
}

fn at(task: &Task, events: &[Event]) -> bool {
    let (Task::Pass { seam, .. } | Task::Tack { seam, .. }) = task else { return false };
    events.iter().any(|e| matches!(e, Event::Cut { place: job::Cut::Seam(s), .. } if s == seam))
}

pub fn temperature(
    a: &ValueArgs,
    common: &Common,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    let joint = journal.job().find_joint(&a.joint).map_err(words::refused)?.to_string();
    let event = Event::Temperature { joint: joint.clone(), value_c: a.value };
    append(&mut journal, &[event], &a.record.by, common, err)?;
    writeln!(out, "{joint} at {} °C", a.value)?;
    Ok(())
}

pub fn gap(a: &GapArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    let joint = journal.job().find_joint(&a.joint).map_err(words::refused)?.to_string();
    let units = super::units(journal.job(), common);
    let value_mm = words::length(&a.value, units, "gap")?;
    let event = Event::Gap { joint: joint.clone(), value_mm };
    append(&mut journal, &[event], &a.record.by, common, err)?;
    writeln!(out, "gap at {joint}: {}", words::gap(value_mm, units))?;
    if value_mm > GAP_LIMIT_MM {
        writeln!(
            out,
            "do not weld over it: {} is the most (AWS D1.1, from memory), on thin tube far less. Cut a \
             new tube or let in a fitted piece, then enter the gap that is left",
            words::gap(GAP_LIMIT_MM, units)
        )?;
    } else if value_mm > 0.0 {
        writeln!(
            out,
            "what is still to be welded there takes more metal and heat and pulls more; it counts from now on, and \
             `job replan` finds the order that suits"
        )?;
    }
    Ok(())
}

pub fn note(a: &NoteArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    append(&mut journal, &[Event::Note { text: a.words.join(" ") }], &a.record.by, common, err)?;
    writeln!(out, "noted")?;
    Ok(())
}

pub fn undo(a: &RecordArg, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(a, common, err)?;
    let event = job::undo(journal.job()).map_err(words::refused)?;
    let units = super::units(journal.job(), common);
    append(&mut journal, std::slice::from_ref(&event), &a.by, common, err)?;
    if let Event::Withdrawn { n } = event
        && let Some(r) = journal.job().records.iter().find(|r| r.n == n)
    {
        let words = super::look::event_words(journal.job(), &r.event, units);
        writeln!(out, "taken back: record {n}, {}", words)?;
    }
    Ok(())
}
