//! `job gate`, `job move`, `job straighten`: what steers a frame beside the order.

use super::args::{GateArgs, MoveArgs, StraightenArgs};
use super::{append, open, words};
use crate::cli::args::Common;
use crate::cli::exit::Stop;
use crate::job::straighten::{Advice, Straightening};
use crate::job::{Event, GateState, Job, Refused};
use crate::plan;
use crate::units::{Units, trim};
use std::io::Write;

pub fn gate(a: &GateArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    if let Some(why) = &a.because {
        append(&mut journal, &[Event::GateOpened { why: why.clone() }], &a.record.by, common, err)?;
    }
    match journal.job().gate() {
        GateState::None => writeln!(out, "this job has no gate: nothing is to be read before weld-out")?,
        GateState::Open => writeln!(out, "OPEN: every dimension is read as tacked")?,
        GateState::OpenedWithout(why) => writeln!(out, "OPENED WITHOUT ALL READINGS: {why}")?,
        GateState::Passed { unread } if unread.is_empty() => {
            writeln!(out, "passed: every dimension was read before the first pass")?;
        }
        GateState::Passed { unread } => writeln!(out, "passed; not read as tacked: {}", unread.join("; "))?,
        GateState::Shut { missing } => {
            writeln!(out, "SHUT: no pass is to be welded before these are read as tacked")?;
            for m in missing {
                writeln!(out, "  {m}")?;
            }
        }
    }
    Ok(())
}

pub fn shift(a: &MoveArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut journal = open(&a.record, common, err)?;
    let name = journal.job().find_clamp(&a.clamp).map_err(words::refused)?.to_string();
    let floor = super::floor(journal.job(), common)?;
    let holds: Vec<String> = floor
        .frame
        .clamps
        .iter()
        .filter(|c| c.name == name)
        .flat_map(|c| c.holds.iter().map(|d| plan::along(*d)))
        .collect();
    let Some(along) = holds.iter().find(|h| h.eq_ignore_ascii_case(&a.along)) else {
        return Err(words::refused(Refused::new(
            format!("clamp {name} does not hold along {}", a.along),
            format!("it holds along {}", holds.join(", ")),
        )));
    };
    let units = floor.frame.units;
    let by_mm = words::length(&a.way, units, "way")?;
    let event = Event::Moved { clamp: name.clone(), along: along.clone(), by_mm };
    append(&mut journal, &[event], &a.record.by, common, err)?;
    writeln!(out, "clamp {name} moved {} along {along}", words::moved(by_mm, units))?;
    let floor = super::floor(journal.job(), common)?;
    if let Some(said) = super::said(&floor, journal.job())? {
        writeln!(out, "\nat the end, cold and free, against nominal, if the rest is welded by the sheet")?;
        let now = words::forecasts(&said.outlook, true);
        let before = words::forecasts(&said.outlook, false);
        write!(
            out,
            "{}",
            words::outlook(journal.job(), units, ["without readings", "with the readings"], &before, &now)
        )?;
    }
    Ok(())
}

/// What stands above every list of ways to straighten.
const CAUTION: &str = "\
ADVICE FOR A QUALIFIED PERSON, not a procedure. Straightening by heat or force changes the steel and can
crack a weld. The steel maker's and the procedure's limits on temperature decide; no water on hot steel; not
on galvanized, painted or closed tubes; never on a frame under load. Fire watch, eyes, hands, stored force:
stand clear of a press. Inspect every weld nearby afterwards. Structural, lifting and riding frames: an
engineer decides first.";

pub fn straighten(
    a: &StraightenArgs,
    common: &Common,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Result<(), Stop> {
    let journal = open(&a.record, common, err)?;
    let job = journal.job();
    let floor = super::floor(job, common)?;
    let fault =
        |f: crate::fault::Fault| Stop::new(crate::cli::exit::Exit::BadInput, format!("error: {}", f.message));
    let Some(said) = super::said(&floor, job)? else {
        writeln!(out, "{}", words::no_pull(job))?;
        return Ok(());
    };
    let advice = floor.straighten(job, &said, a.any_material).map_err(fault)?;
    match advice {
        None | Some(Advice::NotNeeded) => {
            writeln!(out, "every dimension is foreseen within half its tolerance: leave the frame alone")?;
        }
        Some(Advice::Material(tubes)) => {
            writeln!(
                out,
                "no list: {} must not simply be heated or bent (25CrMo4 / 4130 hardens, aluminium softens). Ask the \
                 procedure's owner; --any-material shows the list all the same",
                tubes.join(", ")
            )?;
        }
        Some(Advice::Ways { now, ways, left_out }) => {
            writeln!(out, "{CAUTION}\n")?;
            let (done, all) = job.passes_done();
            if done < all {
                writeln!(
                    out,
                    "{} passes are still to be welded: plan anew first, the rest of the order is milder\n",
                    all - done
                )?;
            }
            if !left_out.is_empty() {
                writeln!(out, "left out for their material: {} (--any-material)\n", left_out.join(", "))?;
            }
            if ways.is_empty() {
                writeln!(
                    out,
                    "no single place brings it nearer: a new cut, or an engineer's leave to stay as it is"
                )?;
            }
            for (n, w) in ways.iter().enumerate() {
                way(job, floor.frame.units, n + 1, w, &now, out)?;
            }
            if !ways.is_empty() {
                writeln!(
                    out,
                    "Each way stands by itself. Do half of one, let it cool, read every dimension, ask again."
                )?;
            }
        }
    }
    Ok(())
}

fn way(
    job: &Job,
    units: Units,
    n: usize,
    w: &Straightening,
    now: &[f64],
    out: &mut dyn Write,
) -> Result<(), Stop> {
    writeln!(out, "{n}. {}, beside {}, {}: {:.2}° hollow on that side", w.tube, w.joint, w.side, w.kink_deg)?;
    match w.line_mm {
        Some(mm) => {
            let says = format!(
                "   by heat: a line {:.0} mm long along the tube on that side, about {} kJ/mm net, once",
                (mm / 5.0).ceil() * 5.0,
                trim(w.q_j_mm / 1000.0, 2)
            );
            writeln!(out, "{}", units.sentence(&says))?
        }
        None => writeln!(out, "   by heat: it would take too long a line")?,
    }
    let says = format!(
        "   or cold: on two supports {:.0} mm apart on that side, pressed from the other: yields from about {:.1} kN, \
         about {:.1} mm in all, then let go",
        w.span_mm,
        w.press_n / 1000.0,
        w.press_mm
    );
    writeln!(out, "{}", units.sentence(&says))?;
    let mut rows = vec![];
    for ((c, now), after) in job.header.controls.iter().zip(now).zip(&w.after) {
        let say = c.figures(units);
        // What hardly moves and is no trouble is not listed.
        if (after - now).abs() < 0.1 * c.tolerance && after.abs() <= c.tolerance {
            continue;
        }
        let beyond = if after.abs() > c.tolerance { "out of tolerance" } else { "" };
        rows.push([
            format!(" {}", c.name),
            format!("{} → {}{}", say.change(*now), say.change(*after), say.unit()),
            format!("tol. ±{}", say.band(c.tolerance)),
            beyond.to_string(),
        ]);
    }
    writeln!(out, "{}", words::table(&rows))?;
    Ok(())
}
