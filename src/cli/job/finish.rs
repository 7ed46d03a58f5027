//! `job finish`: the end of a job, and what it taught.

use super::args::FinishArgs;
use super::{append, look, now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::Stop;
use crate::job::learn::Belief;
use crate::job::shop::FinishedJob;
use crate::job::{Event, Job, Refused};
use crate::job::{Floor, Said};
use crate::journal::ShopFile;
use std::io::Write;

pub fn run(a: &FinishArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    // Found out before the end is written down.
    let shop = if a.keep { Some(ShopFile::at(a.shop.as_deref()).map_err(words::stop)?) } else { None };
    let floor = super::floor(journal.job(), common)?;
    let said = super::said(&floor, journal.job())?;
    let again = journal.job().finished.is_some();
    if again && !a.keep {
        return Err(words::refused(Refused::new(
            "this job is finished",
            "take the finish back first (undo)",
        )));
    }
    if !again {
        append(&mut journal, &[Event::Finished { why: a.why.clone() }], &a.record.by, common, err)?;
    }
    let job = journal.job();
    let (done, all) = job.passes_done();
    writeln!(out, "{} finished: {done} of {all} passes welded", job.header.name)?;
    let Some(said) = said else {
        writeln!(out, "{}", words::no_pull(job))?;
        return last_readings(job, out);
    };
    look::readings(job, floor.frame.units, &said, out)?;
    last_readings(job, out)?;
    let used = said.judged.iter().filter(|j| j.1.usable).count();
    writeln!(out, "\nshrinkage, from {used} readings (1 = as modelled in this job's plan)")?;
    for (kind, factor, sd) in said.belief.kind_factors() {
        writeln!(out, "  {kind} {factor:.2} ± {sd:.2}")?;
    }
    if used == 0 {
        writeln!(out, "without readings a job teaches nothing")?;
        return Ok(());
    }
    match shop {
        Some(file) => keep(job, &floor, &said, used, &file, out),
        None => {
            writeln!(
                out,
                "to predict the next frame better, keep this in the shop's own file: holdtrue job finish {} --keep",
                journal.path().display()
            )?;
            Ok(())
        }
    }
}

/// The last reading of each control against its tolerance.
fn last_readings(job: &Job, out: &mut dyn Write) -> Result<(), Stop> {
    for (r, c) in job.header.controls.iter().enumerate() {
        let last = job.readings.iter().rev().find(|x| x.control == r && x.after == job.deeds.len());
        match last {
            None => writeln!(out, "  {} was not read after the last pass", c.name)?,
            Some(x) if x.deviation.abs() > c.tolerance => {
                writeln!(out, "  {} ended out of tolerance", c.name)?;
            }
            Some(_) => {}
        }
    }
    Ok(())
}

fn keep(
    job: &Job,
    floor: &Floor,
    said: &Said,
    used: usize,
    file: &ShopFile,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let kinds: Vec<&str> = job.header.joints.iter().map(|j| j.kind.as_str()).collect();
    let prior = Belief::new(&kinds, &floor.bench().prior(job));
    let pull = &floor.frame.pull;
    let before =
        |kind: &str| pull.common_factor * pull.kind_factors.iter().find(|k| k.0 == kind).map_or(1.0, |k| k.1);
    let done = FinishedJob::of(
        &job.header.name,
        &job.header.card.plan_id,
        job.finished.unwrap_or_else(now),
        used,
        &before,
        &prior,
        &said.belief,
    );
    let shop = file.change(|s| s.with(done)).map_err(words::stop)?;
    writeln!(out, "kept in {}; the next plan uses it and says so", file.path().display())?;
    super::shop::factors(&shop, out)
}
