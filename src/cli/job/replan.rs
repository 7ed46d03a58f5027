//! `job replan`: a new order for what is left, from what is welded, measured and still warm.

use super::args::ReplanArgs;
use super::{append, now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::{Exit, Stop};
use crate::cli::plan::Sheets;
use crate::cli::progress::Progress;
use crate::job::Said;
use crate::job::{Card, Event, Job, Refused};
use crate::output::json;
use crate::plan::{self, Levers, Reach, WeldPlan};
use crate::units::{signed_to, trim};
use std::io::Write;
use std::path::Path;

pub fn run(a: &ReplanArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let s = &a.sheets;
    let sheets = Sheets {
        pdf: s.pdf.as_deref(),
        paper: s.paper,
        colour: s.colour,
        json: s.json.as_deref(),
        why: s.why,
    };
    sheets.free(common)?;
    let mut journal = open(&a.record, common, err)?;
    let job = journal.job();
    if job.finished.is_some() {
        return Err(words::refused(Refused::new(
            "this job is finished",
            "take the finish back first (undo)",
        )));
    }
    if !job.open().iter().any(|i| i.is_pass()) {
        let help = "holdtrue job finish says what the job taught";
        return Err(words::refused(Refused::new(
            "every pass is welded: there is nothing to plan anew",
            help,
        )));
    }
    let floor = super::floor(job)?;
    let said = super::said(&floor, job)?;
    let (frame, refused) = floor.learnt_frame(said.as_ref());
    let mut underway = floor.underway(job, said.as_ref(), now());
    underway.levers = Levers {
        order: !a.keep_order,
        direction: !a.keep_directions,
        set_to: !a.leave_clamps,
        heat_j_per_mm: a.heat_input.as_deref().map(range).transpose()?,
    };
    let options = floor.options(job, a.effort.into(), a.seed);
    let progress = Progress::new(common.quiet, a.effort.into());
    let (plan, reach) = plan::replan(&frame, floor.parts.clone(), &underway, &options, &progress.watch())
        .map_err(|f| no_plan(&f))?;
    progress.done();
    let findings = plan::audit(&plan);
    if !findings.is_empty() {
        let words = format!(
            "error: the new plan did not pass its own audit; this is a fault of the program:\n{}",
            findings.join("\n")
        );
        return Err(Stop::new(Exit::Internal, words));
    }
    let event = Event::Replanned { card: Card::of(&plan), plan: json::json(&plan), why: a.because.clone() };
    append(&mut journal, &[event], &a.record.by, common, err)?;
    let job = journal.job();
    // The plan is on the disk from here on; what cannot be written as a sheet can be drawn again.
    if s.json.as_deref() != Some(Path::new("-")) {
        // Both orders foreseen from the same readings, so that the columns can be compared.
        let fresh = super::said(&floor, job)?;
        summary(job, &plan, said.as_ref().zip(fresh.as_ref()), &reach, &refused, out)?;
    }
    sheets.put_out(&plan, common, out, err)
}

fn no_plan(faults: &[crate::fault::Fault]) -> Stop {
    let words: Vec<&str> = faults.iter().map(|f| f.message.as_str()).collect();
    Stop::new(
        Exit::BadInput,
        format!("error: no new plan: {}\nhelp: the old sheet stays in force", words.join("; ")),
    )
}

/// What the new order changes, how far order can still reach, what was learnt.
fn summary(
    job: &Job,
    plan: &WeldPlan,
    said: Option<(&Said, &Said)>,
    reach: &[Reach],
    refused: &[String],
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let revision = plan.revision;
    writeln!(
        out,
        "REVISION {revision}, plan {}: every sheet of revision {} and earlier is VOID; take it down",
        plan.plan_id,
        revision - 1
    )?;
    if said.is_none() {
        writeln!(out, "\n{}", words::no_pull(job))?;
    }
    if let Some((said, fresh)) = said {
        writeln!(out, "\nshrinkage against the first plan, as the readings have it (1 = as modelled)")?;
        for (kind, factor, sd) in said.belief.kind_factors() {
            writeln!(out, "  {kind} {factor:.2} ± {sd:.2}")?;
        }
        if !refused.is_empty() {
            writeln!(out, "  out of range and not used: the factors of {}", refused.join(", "))?;
        }
        writeln!(out, "\nat the end, cold and free, against nominal")?;
        let (before, after) = (words::forecasts(&said.outlook, true), words::forecasts(&fresh.outlook, true));
        write!(out, "{}", words::outlook(job, ["old order", "new order"], &before, &after))?;
    }
    if !reach.is_empty() {
        writeln!(
            out,
            "\nthe authority that is left: how far the levers can still move each (all else as foreseen)"
        )?;
        let mut rows =
            vec![["control", "foreseen", "order, direction", "clamps", "heat", ""].map(String::from)];
        rows.extend(job.header.controls.iter().zip(reach).map(|(c, r)| one_reach(c, r)));
        write!(out, "{}", words::table(&rows))?;
    }
    for m in plan.remarks.iter().filter(|m| m.code == "W709" || m.code == "W710") {
        writeln!(out, "\n{}", m.text)?;
    }
    writeln!(out)?;
    Ok(())
}

fn one_reach(c: &crate::job::ControlCard, r: &Reach) -> [String; 6] {
    let d = words::digits(c);
    let heat = if r.by_heat == (0.0, 0.0) {
        "–".into()
    } else {
        format!("{} to {}", signed_to(r.by_heat.0, d), signed_to(r.by_heat.1, d))
    };
    [
        c.name.clone(),
        format!("{} ± {} {}", signed_to(r.foreseen, d), trim(r.scatter, d), words::unit(&c.unit)),
        format!("{} to {}", signed_to(r.least, d), signed_to(r.most, d)),
        if r.by_clamps == 0.0 { "–".into() } else { format!("± {}", trim(r.by_clamps, d)) },
        heat,
        r.words(c.tolerance).into(),
    ]
}

/// `0.18-0.25` in kJ/mm as J/mm.
fn range(typed: &str) -> Result<(f64, f64), Stop> {
    let number = |s: &str| s.trim().replace(',', ".").parse::<f64>().ok().filter(|v| *v > 0.0 && *v < 10.0);
    match typed.split_once(['-', '–']).and_then(|(a, b)| Some((number(a)?, number(b)?))) {
        Some((a, b)) if a <= b => Ok((1000.0 * a, 1000.0 * b)),
        _ => Err(words::refused(Refused::new(
            format!("\"{typed}\" is no range of heat input"),
            "write net kJ/mm, least and most, like 0.18-0.25",
        ))),
    }
}
