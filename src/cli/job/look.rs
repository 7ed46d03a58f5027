//! `job next` and `job status`: what to do now, and how the job stands.

use super::args::RecordArg;
use super::{now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::Stop;
use crate::job::{self, Event, Item, Job, Standing, Task};
use crate::job::{Floor, Said};
use crate::units::{Units, trim};
use std::io::Write;

pub fn next(a: &RecordArg, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let journal = open(a, common, err)?;
    let floor = super::floor(journal.job(), common)?;
    say_next(journal.job(), &floor, out).map(|_| ())
}

/// The line to do now with what the welder needs, what else could be welded, what comes after. Goes
/// out: its label.
pub fn say_next(job: &Job, floor: &Floor, out: &mut dyn Write) -> Result<Option<String>, Stop> {
    let units = floor.frame.units;
    let minutes = floor.bench().minutes(job, now());
    let wait = |i: &Item| minutes.get(&i.label).copied().unwrap_or(0.0);
    let n = job::next(job, &wait);
    let Some(item) = n.now else {
        let why = if n.why.is_empty() { "nothing is left to do: holdtrue job finish" } else { &n.why };
        writeln!(out, "{why}")?;
        return Ok(None);
    };
    if job.revision() > 0 {
        let (now, old) = (job.revision(), job.revision() - 1);
        writeln!(out, "revision {now}; sheets of revision {old} and earlier are void")?;
    }
    writeln!(out, "NOW {}", words::line(job, item, units))?;
    if let Task::Pass { amps, volts, speed_mm_s, under_c, setup, welder, .. } = &item.task {
        let who = if floor.frame.shop.welders > 1 {
            format!("welder {}, ", char::from(b'A' + (*welder).min(25) as u8))
        } else {
            String::new()
        };
        writeln!(
            out,
            "     {who}{} A, {} V, {}, joint under {under_c:.0} °C, {setup}: {}",
            trim(*amps, 0),
            trim(*volts, 1),
            units.sentence(&format!("{} mm/s", trim(*speed_mm_s, 1))),
            words::minutes(wait(item))
        )?;
    }
    if let Task::Hold { controls, expect, .. } = &item.task {
        for (name, e) in controls.iter().zip(expect) {
            if let Some(c) = job.control(name) {
                let say = c.figures(units);
                let (at, off) = (say.value(c.nominal + e.0), say.change(e.0));
                let (unit, spread) = (say.unit(), say.spread(e.1));
                writeln!(out, "     {name}: about {at}{unit} ({off}), give or take {spread}")?;
            }
        }
    }
    if !n.why.is_empty() {
        writeln!(out, "     {}", n.why)?;
    }
    let others: Vec<String> = n
        .ready
        .iter()
        .filter(|r| r.item.label != item.label)
        .take(6)
        .map(|r| format!("{} {}", r.item.label, words::minutes(r.minutes)))
        .collect();
    if !others.is_empty() {
        writeln!(out, "\nalso possible: {}", others.join(", "))?;
    }
    if !n.then.is_empty() {
        writeln!(out, "\nthen")?;
        for i in &n.then {
            writeln!(out, "    {}", words::line(job, i, units))?;
        }
    }
    Ok(Some(item.label.clone()))
}

pub fn status(a: &RecordArg, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let journal = open(a, common, err)?;
    let job = journal.job();
    let card = job.card();
    let floor = super::floor(job, common)?;
    let units = floor.frame.units;
    writeln!(
        out,
        "{}, plan {}, revision {}, begun {}",
        job.header.name,
        card.plan_id,
        card.revision,
        words::clock(job.header.began)
    )?;
    if card.revision > 0 {
        writeln!(out, "sheets of revision {} and earlier are void", card.revision - 1)?;
    }
    if let Some(t) = job.finished {
        writeln!(out, "finished {}", words::clock(t))?;
    }
    writeln!(out, "{}", words::so_far(job))?;
    if let Some(s) = job.setup() {
        writeln!(out, "the frame lies: {s}")?;
    }
    let on = job.clamps_on(job.deeds.len());
    if !on.is_empty() {
        writeln!(out, "clamps on: {}", on.join(", "))?;
    }
    for i in card.items.iter().filter(|i| job.standing(&i.label) == Standing::Skipped) {
        let why = job.skipped.get(&i.label).filter(|w| !w.is_empty());
        writeln!(
            out,
            "skipped {}{}",
            words::line(job, i, units),
            why.map_or(String::new(), |w| format!(": {w}"))
        )?;
    }
    for (joint, c, t) in &job.temperatures {
        writeln!(out, "{joint} at {} °C, {}", trim(*c, 0), words::clock(*t))?;
    }
    for (joint, mm) in &job.gaps {
        writeln!(out, "gap at {joint}: {}", words::gap(*mm, units))?;
    }
    if let Some(said) = super::said(&floor, job)? {
        readings(job, units, &said, out)?;
        writeln!(out, "\nat the end, cold and free, against nominal")?;
        let (before, after) = (words::forecasts(&said.outlook, false), words::forecasts(&said.outlook, true));
        write!(
            out,
            "{}",
            words::outlook(job, units, ["without readings", "with the readings"], &before, &after)
        )?;
    } else {
        writeln!(out, "\n{}", words::no_pull(job))?;
    }
    for (t, text) in &job.notes {
        writeln!(out, "note {}: {text}", words::clock(*t))?;
    }
    Ok(())
}

/// Every reading that counts, with what it said.
pub fn readings(job: &Job, units: Units, said: &Said, out: &mut dyn Write) -> Result<(), Stop> {
    if said.judged.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nreadings, against nominal")?;
    let mut rows = vec![];
    for r in job.readings.iter().filter(|r| !r.replaced) {
        let Some((_, j)) = said.judged.iter().find(|j| j.0 == r.n) else { continue };
        let c = &job.header.controls[r.control];
        let say = c.figures(units);
        rows.push([
            words::clock(r.at),
            c.name.clone(),
            format!("{} ± {}{}", say.change(r.deviation), say.band(r.error), say.unit()),
            format!("expected {}", say.change(r.deviation - j.off)),
            j.verdict.words().to_string(),
        ]);
    }
    write!(out, "{}", words::table(&rows))?;
    Ok(())
}

/// A record in a few words.
pub fn event_words(job: &Job, e: &Event, units: Units) -> String {
    match e {
        Event::Started {} => "begun".into(),
        Event::Ticked { label, .. } => format!("{label} done"),
        Event::Unticked { label, .. } => format!("{label} not done"),
        Event::Skipped { label, .. } => format!("{label} skipped"),
        Event::Redone { label, .. } => format!("{label} laid again"),
        Event::Cut { place: job::Cut::Seam(n) | job::Cut::Tack(n), .. } => format!("{n} taken out"),
        Event::Measured { control, value, .. } => match job.control(control).map(|c| c.figures(units)) {
            Some(say) => format!("{control} read as {}{}", say.value(*value), say.unit()),
            None => format!("{control} read as {value}"),
        },
        Event::Temperature { joint, value_c } => format!("{joint} at {value_c} °C"),
        Event::Gap { joint, value_mm } => format!("gap at {joint} {}", words::gap(*value_mm, units)),
        Event::Note { text } => format!("note: {text}"),
        Event::GateOpened { why } => format!("gate opened: {why}"),
        Event::Moved { clamp, along, by_mm } => {
            format!("clamp {clamp} moved {} along {along}", words::moved(*by_mm, units))
        }
        Event::Replanned { card, .. } => format!("revision {}", card.revision),
        Event::Withdrawn { n } => format!("record {n} taken back"),
        Event::Finished { .. } => "finished".into(),
    }
}
