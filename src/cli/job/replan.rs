//! `job replan`: a new order for what is left, from what is welded, measured and still warm.

use super::args::ReplanArgs;
use super::{append, now, open, words};
use crate::cli::args::Common;
use crate::cli::exit::{Exit, Stop};
use crate::cli::progress::Progress;
use crate::job::{Anew, Asked, Card, Event, Job, NoNewPlan, Refused, Said};
use crate::output::json;
use crate::plan::{Levers, Reach, WeldPlan};
use crate::units::{MM_PER_INCH, Units};
use std::io::Write;

pub fn run(a: &ReplanArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    a.sheets.free(common)?;
    let mut journal = open(&a.record, common, err)?;
    let job = journal.job();
    job.can_be_planned_anew().map_err(words::refused)?;
    let floor = super::floor(job, common)?;
    let levers = Levers {
        order: !a.keep_order,
        direction: !a.keep_directions,
        set_to: !a.leave_clamps,
        heat_j_per_mm: a.heat_input.as_deref().map(|r| range(r, floor.frame.units)).transpose()?,
    };
    let asked = Asked { effort: a.effort.into(), seed: a.seed, levers };
    let progress = Progress::new(common.quiet, a.effort.into());
    let Anew { plan, reach, said, refused } =
        floor.replan(job, &asked, now(), &progress.watch()).map_err(|no| no_plan(&no))?;
    progress.done();
    let event = Event::Replanned { card: Card::of(&plan), plan: json::json(&plan), why: a.because.clone() };
    append(&mut journal, &[event], &a.record.by, common, err)?;
    let job = journal.job();
    // The plan is on the disk from here on; what cannot be written as a sheet can be drawn again.
    if !a.sheets.prints_json() {
        // Both orders foreseen from the same readings, so that the columns can be compared.
        let fresh = super::said(&floor, job)?;
        summary(job, &plan, said.as_ref().zip(fresh.as_ref()), &reach, &refused, out)?;
    }
    a.sheets.put_out(&plan, common, out, err)
}

fn no_plan(no: &NoNewPlan) -> Stop {
    let exit = match no {
        NoNewPlan::Audit(_) => Exit::Internal,
        NoNewPlan::Refused(_) | NoNewPlan::Faults(_) => Exit::BadInput,
    };
    Stop::new(exit, format!("error: no new plan: {}\nhelp: the old sheet stays in force", no.words()))
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
        write!(
            out,
            "{}",
            words::outlook(job, plan.frame.units, ["old order", "new order"], &before, &after)
        )?;
    }
    if !reach.is_empty() {
        writeln!(
            out,
            "\nthe authority that is left: how far the levers can still move each (all else as foreseen)"
        )?;
        let mut rows =
            vec![["control", "foreseen", "order, direction", "clamps", "heat", ""].map(String::from)];
        rows.extend(job.header.controls.iter().zip(reach).map(|(c, r)| one_reach(c, r, plan.frame.units)));
        write!(out, "{}", words::table(&rows))?;
    }
    for m in plan.remarks.iter().filter(|m| m.code == "W709" || m.code == "W710") {
        writeln!(out, "\n{}", plan.frame.units.sentence(&m.text))?;
    }
    writeln!(out)?;
    Ok(())
}

fn one_reach(c: &crate::job::ControlCard, r: &Reach, units: Units) -> [String; 6] {
    let say = c.figures(units);
    let heat = if r.by_heat == (0.0, 0.0) {
        "–".into()
    } else {
        format!("{} to {}", say.change(r.by_heat.0), say.change(r.by_heat.1))
    };
    [
        c.name.clone(),
        format!("{} ± {}{}", say.change(r.foreseen), say.spread(r.scatter), say.unit()),
        format!("{} to {}", say.change(r.least), say.change(r.most)),
        if r.by_clamps == 0.0 { "–".into() } else { format!("± {}", say.spread(r.by_clamps)) },
        heat,
        r.words(c.tolerance).into(),
    ]
}

/// `0.18-0.25` in kJ/mm, or `4.5-6.3` in kJ/in, as J/mm; a unit that is typed behind it goes before the
/// reader's.
fn range(typed: &str, units: Units) -> Result<(f64, f64), Stop> {
    let bare = typed.trim();
    let (bare, inch) = match (bare.strip_suffix("kJ/in"), bare.strip_suffix("kJ/mm")) {
        (Some(b), _) => (b, true),
        (_, Some(b)) => (b, false),
        _ => (bare, units == Units::Inch),
    };
    let per_mm = if inch { 1000.0 / MM_PER_INCH } else { 1000.0 };
    let number = |s: &str| {
        let n = s.trim().replace(',', ".").parse::<f64>().ok().map(|v| v * per_mm);
        n.filter(|v| *v > 0.0 && *v < 10_000.0)
    };
    match bare.split_once(['-', '–']).and_then(|(a, b)| Some((number(a)?, number(b)?))) {
        Some((a, b)) if a <= b => Ok((a, b)),
        _ => Err(words::refused(Refused::new(
            format!("\"{typed}\" is no range of heat input"),
            match units {
                Units::Mm => "write net kJ/mm, least and most, like 0.18-0.25",
                Units::Inch => "write net kJ/in, least and most, like 4.5-6.3",
            },
        ))),
    }
}
