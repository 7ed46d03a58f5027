//! `job measure`: a reading, and at once what it means.

use super::args::MeasureArgs;
use super::{append, open, words};
use crate::cli::args::Common;
use crate::cli::exit::Stop;
use crate::job::Floor;
use crate::job::{Event, Refused, Tool, parse_reading_in};
use crate::journal::Journal;
use crate::units::{Units, trim};
use std::io::Write;

pub fn run(a: &MeasureArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    let floor = super::floor(journal.job(), common)?;
    enter(a, &mut journal, &floor, common, out, err)
}

/// Write the reading down, then say what it means.
pub fn enter(
    a: &MeasureArgs,
    journal: &mut Journal,
    floor: &Floor,
    common: &Common,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    let job = journal.job();
    let name = job.find_control(&a.control).map_err(words::refused)?.to_string();
    let Some(control) = job.control(&name).cloned() else {
        return Err(words::refused(Refused::new(format!("there is no control \"{name}\""), "")));
    };
    let units = floor.frame.units;
    let value = parse_reading_in(&a.value, &control, units).map_err(words::refused)?;
    let tool = match &a.tool {
        None => Tool::usual(&control.unit),
        Some(word) => Tool::from_word(word).ok_or_else(|| {
            let all: Vec<&str> = Tool::ALL.iter().map(|t| t.1).collect();
            words::refused(Refused::new(
                format!("\"{word}\" is no tool"),
                format!("tools are {}", all.join(", ")),
            ))
        })?,
    };
    let typed = match (&a.error, control.unit.as_str()) {
        (None, _) => None,
        (Some(e), "mm") => Some(words::length(e, units, "reading error")?),
        (Some(e), _) => Some(words::length(e, Units::Mm, "reading error")?),
    };
    let error = match (typed, tool.error(&control.unit)) {
        (Some(e), _) | (None, Some(e)) => e,
        (None, None) => {
            return Err(words::refused(Refused::new(
                format!("a {} does not read {}", tool.word(), control.unit),
                format!("{name} is read in {}; take another tool, or say --error", control.unit),
            )));
        }
    };
    // Unless it is said: as the clamps are ticked.
    let clamped = a.clamped || (!a.free && !job.clamps_on(job.deeds.len()).is_empty());
    let before = super::said(floor, job)?;
    let event = Event::Measured { control: name.clone(), value, error, clamped, tool: tool.word().into() };
    // Confirmed: read twice, so it stands there twice.
    let events = vec![event; if a.confirm { 2 } else { 1 }];
    append(journal, &events, &a.record.by, common, err)?;
    let job = journal.job();
    let say = control.figures(units);
    let unit = say.unit();
    let how = if clamped { "clamped" } else { "free" };
    writeln!(
        out,
        "{name}: {}{unit} ({} against nominal) read with {} ± {}{unit}, {how}",
        say.value(value),
        say.change(value - control.nominal),
        tool.word(),
        say.band(error)
    )?;
    let after = super::said(floor, job)?;
    let (Some(before), Some(after)) = (before, after) else {
        let beyond = (value - control.nominal).abs() > control.tolerance;
        let words = if beyond { "OUT OF TOLERANCE" } else { "IN TOLERANCE" };
        writeln!(out, "{words} (±{}{unit})\n{}", say.band(control.tolerance), words::no_pull(job))?;
        return Ok(());
    };
    let Some((_, judged)) = job.readings.last().and_then(|r| after.judged.iter().find(|j| j.0 == r.n)) else {
        return Ok(());
    };
    let expected = value - control.nominal - judged.off;
    writeln!(
        out,
        "expected {}{unit}: {} standard deviations of prediction and reading off; tolerance ±{}{unit}",
        say.change(expected),
        trim(judged.sigmas.abs(), 1),
        say.band(control.tolerance)
    )?;
    writeln!(out, "{}", judged.verdict.words().to_uppercase())?;
    if !judged.usable {
        writeln!(out, "nothing is learnt from this reading")?;
    }
    writeln!(out, "\nat the end, cold and free, against nominal, if the rest is welded by the sheet")?;
    let (b, a) = (words::forecasts(&before.outlook, true), words::forecasts(&after.outlook, true));
    write!(out, "{}", words::outlook(job, units, ["before this reading", "now"], &b, &a))?;
    Ok(())
}
