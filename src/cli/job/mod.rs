//! `job`: a plan being carried out, from the first tick to what it taught.
//!
//! Comes in: the words typed, and the clock. Goes out: events in the record, answers in words.
//! Out of bounds: what an event means, and arithmetic.

pub mod args;
mod enter;
mod finish;
mod look;
mod measure;
mod replan;
mod report;
mod run;
mod shop;
mod start;
mod steer;
mod words;

use super::args::Common;
use super::exit::{Exit, Stop};
use crate::job::{Event, Floor, Job, Said, When};
use crate::journal::{self, Journal};
use crate::units::Units;
use args::{JobCommand, RecordArg};
use std::io::Write;
pub use words::stop;

pub fn run(c: &JobCommand, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    match c {
        JobCommand::Start(a) => start::run(a, common, out, err),
        JobCommand::Next(a) => look::next(a, common, out, err),
        JobCommand::Status(a) => look::status(a, common, out, err),
        JobCommand::Tick(a) => enter::tick(a, false, common, out, err),
        JobCommand::Redo(a) => enter::tick(a, true, common, out, err),
        JobCommand::Untick(a) => enter::untick(a, common, out, err),
        JobCommand::Skip(a) => enter::skip(a, common, out, err),
        JobCommand::Cut(a) => enter::cut(a, common, out, err),
        JobCommand::Temperature(a) => enter::temperature(a, common, out, err),
        JobCommand::Gap(a) => enter::gap(a, common, out, err),
        JobCommand::Note(a) => enter::note(a, common, out, err),
        JobCommand::Undo(a) => enter::undo(a, common, out, err),
        JobCommand::Measure(a) => measure::run(a, common, out, err),
        JobCommand::Gate(a) => steer::gate(a, common, out, err),
        JobCommand::Move(a) => steer::shift(a, common, out, err),
        JobCommand::Straighten(a) => steer::straighten(a, common, out, err),
        JobCommand::Report(a) => report::run(a, common, out, err),
        JobCommand::Replan(a) => replan::run(a, common, out, err),
        JobCommand::Finish(a) => finish::run(a, common, out, err),
        JobCommand::Run(a) => run::run(a, common, &mut std::io::stdin().lock(), out, err),
        JobCommand::Recover(a) => shop::recover(a, out),
        JobCommand::Shop(a) => shop::run(a, out),
    }
}

/// The clock of this machine: the only place where a job looks at it.
fn now() -> When {
    When::now()
}

/// The models of a job, its frame in the units of whoever reads.
fn floor(job: &Job, common: &Common) -> Result<Floor, Stop> {
    let mut floor = Floor::of(job).map_err(|f| {
        let words: Vec<&str> = f.iter().map(|f| f.message.as_str()).collect();
        let words = format!("error: the frame in this record cannot be read: {}", words.join("; "));
        Stop::new(Exit::BadInput, words)
    })?;
    if let Some(u) = common.units {
        floor.frame.units = u.into();
    }
    Ok(floor)
}

/// The units of whoever reads and types: `--units`, otherwise those of the frame file. The record itself
/// is in mm.
fn units(job: &Job, common: &Common) -> Units {
    let of_frame = || job.header.frame_as_begun().map_or(Units::Mm, |f| f.units);
    common.units.map_or_else(of_frame, Units::from)
}

/// What the readings say.
fn said(floor: &Floor, job: &Job) -> Result<Option<Said>, Stop> {
    floor.said(job).map_err(|f| Stop::new(Exit::BadInput, format!("error: {}", f.message)))
}

/// Open a record and say what is odd about it.
fn open(a: &RecordArg, common: &Common, err: &mut dyn Write) -> Result<Journal, Stop> {
    let (journal, notices) = journal::open(&a.record).map_err(words::stop)?;
    notes(&notices, common, err)?;
    let h = &journal.job().header;
    if let Ok(text) = std::fs::read_to_string(&h.frame_file)
        && let Some(words) = h.differs_from(&text)
    {
        notes(&[words], common, err)?;
    }
    Ok(journal)
}

/// Write events down; they are on the disk when this returns.
fn append(
    journal: &mut Journal,
    events: &[Event],
    by: &str,
    common: &Common,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    let refused = |e: journal::Error, job: &Job| {
        let stop = words::stop(e);
        Stop::new(stop.exit, units(job, common).sentence(&stop.words))
    };
    let notices = match journal.append(events, by, now()) {
        Ok(notices) => notices,
        Err(e) => return Err(refused(e, journal.job())),
    };
    notes(&notices, common, err)
}

fn notes(list: &[String], common: &Common, err: &mut dyn Write) -> Result<(), Stop> {
    if !common.quiet {
        // A range of ticks may have one and the same thing to say many times.
        let mut said: Vec<&String> = vec![];
        for n in list {
            if !said.contains(&n) {
                writeln!(err, "note: {n}")?;
                said.push(n);
            }
        }
    }
    Ok(())
}
