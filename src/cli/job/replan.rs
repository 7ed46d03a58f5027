//! `job replan`: a new order for what is left, from what is welded, measured and still warm.

use super::args::ReplanArgs;
use super::floor::{Floor, Said};
use super::{append, now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::{Exit, Stop};
use crate::cli::plan::Sheets;
use crate::cli::progress::Progress;
use crate::job::{Card, Cut, DeedKind, Event, Job, Refused, Task, When, pulses, replan_settings, steps_done};
use crate::output::json;
use crate::plan::{self, From, Heat, Options, Reach, Underway, WeldPlan};
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
    let floor = Floor::of(job)?;
    let said = floor.said(job)?;
    let mut frame = floor.frame.clone();
    let refused = said.as_ref().map_or(vec![], |s| learnt(s, &mut frame.pull));
    let underway = underway(job, &floor, said.as_ref(), now());
    let options = Options {
        seed: a.seed.unwrap_or(job.header.seed),
        effort: a.effort.into(),
        frame_sha256: job.header.frame_sha256.clone(),
        from: if floor.tacks.is_some() { From::Tacks } else { From::WeldOut },
    };
    let progress = Progress::new(common.quiet, a.effort.into());
    let (plan, reach) = plan::replan(&frame, floor.parts.clone(), &underway, &options, &progress.watch())
        .map_err(|f| no_plan(&f))?;
    progress.done();
    let findings = plan::audit_after(&plan, &underway.done);
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
        let fresh = floor.said(job)?;
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

/// What was learnt goes into the pull model, its scatter too. Goes out: kinds whose factor is out of
/// range and was left alone.
fn learnt(said: &Said, pull: &mut crate::frame::PullSettings) -> Vec<String> {
    let refused = replan_settings(&said.belief, pull);
    let widest = said.belief.kind_factors().iter().map(|k| k.2).fold(0.0, f64::max);
    if widest > 0.0 {
        pull.scatter[0] = pull.scatter[0].min(widest);
    }
    refused
}

/// The job as the planner takes it; `now` becomes its time zero.
fn underway(job: &Job, floor: &Floor, said: Option<&Said>, now: When) -> Underway {
    let frame = &floor.frame;
    let passes = &floor.parts.passes;
    let progress = job.progress();
    let index = |label: &str| passes.passes.iter().position(|p| p.label == label);
    let heat = pulses(job, now)
        .into_iter()
        .filter_map(|p| {
            let pass = index(&p.label)?;
            Some(Heat { pass, from_s: -p.ended_s_ago - p.arc_s, arc_s: p.arc_s, energy_j: p.energy_j })
        })
        .collect();
    let set = job
        .header
        .controls
        .iter()
        .enumerate()
        .map(|(r, c)| c.set_to + said.map_or(0.0, |s| s.belief.offsets()[r].0))
        .collect();
    let setup =
        progress.setup.as_ref().and_then(|s| frame.setups.iter().position(|f| &f.name == s)).unwrap_or(0);
    let tacks_left = floor
        .tack_labels()
        .into_iter()
        .filter(|(label, _)| !progress.tacked.contains(label))
        // Whoever welds has tacked before, ticked or not, unless the tack was taken out again.
        .filter(|(label, _)| progress.welded.is_empty() || taken_out(job, label))
        .map(|t| t.1)
        .collect();
    let (clamps_on, clamps_off) = clamps(job, floor, setup);
    let tubes = |open: bool| -> Vec<usize> {
        let done = job.known().filter(|i| job.done.contains_key(&i.label));
        done.filter_map(|i| match &i.task {
            Task::VentOpen { tube } if open => Some(tube),
            Task::VentClose { tube } if !open => Some(tube),
            _ => None,
        })
        .filter_map(|name| frame.tubes.iter().position(|t| &t.name == name))
        .collect()
    };
    Underway {
        revision: progress.revision,
        done: steps_done(job, frame, passes),
        events: floor.bench().done(job, &job.deeds),
        heat,
        set,
        setup,
        clamps_on,
        clamps_off,
        tacks_left,
        vents_open: tubes(true),
        vents_closed: tubes(false),
        read_as_tacked: !job.readings.is_empty(),
    }
}

fn taken_out(job: &Job, tack: &str) -> bool {
    let seam = job.item(tack).and_then(|i| i.seam());
    job.deeds.iter().any(|d| match &d.kind {
        DeedKind::Cut(Cut::Tack(t)) => t == tack,
        DeedKind::Cut(Cut::Seam(s)) => seam == Some(s.as_str()),
        _ => false,
    })
}

/// Clamps that are on, and those that were taken off in this setup and stay off. Before anything is
/// welded only ticked clamps are on; afterwards those of the setup, ticked or not.
fn clamps(job: &Job, floor: &Floor, setup: usize) -> (Vec<usize>, Vec<usize>) {
    let of_setup = |s: usize| {
        let list = floor.frame.clamps.iter().enumerate();
        list.filter(move |(_, c)| c.setups.is_empty() || c.setups.contains(&s)).map(|(i, _)| i)
    };
    let index = |name: &String| floor.frame.clamps.iter().position(|c| &c.name == name);
    let welded = job.deeds.iter().any(|d| matches!(d.kind, DeedKind::Laid { .. }));
    let mut on: Vec<usize> = if welded { of_setup(0).collect() } else { vec![] };
    let mut off = vec![];
    for d in &job.deeds {
        match &d.kind {
            DeedKind::Clamped(name) => on.extend(index(name)),
            DeedKind::Released(name) => {
                off.extend(index(name));
                on.retain(|c| Some(*c) != index(name));
            }
            DeedKind::Turned(name) => {
                let now = floor.frame.setups.iter().position(|s| &s.name == name).unwrap_or(setup);
                on = of_setup(now).collect();
                off.clear();
            }
            _ => {}
        }
    }
    on.sort_unstable();
    on.dedup();
    off.retain(|c| !on.contains(c));
    (on, off)
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
    if let Some((said, fresh)) = said {
        writeln!(out, "\nshrinkage against the first plan, as the readings have it (1 = as modelled)")?;
        for (kind, factor, sd) in said.belief.kind_factors() {
            let left = if refused.iter().any(|r| r == kind) { ", out of range: not used" } else { "" };
            writeln!(out, "  {kind} {factor:.2} ± {sd:.2}{left}")?;
        }
        writeln!(out, "\nat the end, cold and free, against nominal")?;
        let (before, after) = (words::forecasts(&said.outlook, true), words::forecasts(&fresh.outlook, true));
        write!(out, "{}", words::outlook(job, ["old order", "new order"], &before, &after))?;
    }
    if !reach.is_empty() {
        writeln!(out, "\nhow far the order of what is left can still move it (all else as predicted)")?;
        let rows: Vec<[String; 4]> =
            job.header.controls.iter().zip(reach).map(|(c, r)| one_reach(c, r)).collect();
        write!(out, "{}", words::table(&rows))?;
    }
    writeln!(out)?;
    Ok(())
}

fn one_reach(c: &crate::job::ControlCard, r: &Reach) -> [String; 4] {
    let d = words::digits(c);
    let outside = r.least > c.tolerance || r.most < -c.tolerance;
    let note = if outside { "order alone cannot bring it into tolerance" } else { "" };
    [
        c.name.clone(),
        format!("from {}", signed_to(r.least, d)),
        format!("to {} {}, tol. ±{}", signed_to(r.most, d), words::unit(&c.unit), trim(c.tolerance, 2)),
        note.into(),
    ]
}
