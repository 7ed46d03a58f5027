//! What the welder is to expect: readings at the stops, forces at the clamps. Where the clamps hide what
//! a reading should show they are opened for it and closed again, and all that follows knows of it.

use super::Act;
use super::hold::Seen;
use super::judge::{FULL_LIMIT_PASSES, Judge, Judged, Opening};
use crate::distort::Event;
use crate::fault::Fault;
use crate::sequence::Order;

/// A stop, and what can be seen of the frame through its clamps.
pub(super) struct Look {
    /// Passes laid before it.
    laid: usize,
    /// Half tacked: what counts is where the frame is to be pushed, not where it went.
    half_tacked: bool,
    /// Through the clamps, if any is closed and they are not opened in any case.
    seen: Option<Seen>,
    /// Clamps that are opened for it.
    open: Vec<usize>,
}

/// Look at every stop in turn. Clamps that must be opened on the way are noted in `judge`, stop by
/// stop, so that a later one knows what an earlier one let go.
///
/// # Errors
/// A tube comes loose when the clamps are opened.
pub(super) fn look(
    acts: &[Act],
    judge: &mut Judge,
    order: &Order,
    judged: &Judged,
) -> Result<Vec<Look>, Vec<Fault>> {
    let before = laid_before(judge, order);
    let (mut laid, mut tacked) = (before, 0);
    let tacks = judge.tacks.iter().filter(|e| matches!(e, Event::Tack(_))).count();
    let gate_open = judge.tacks.iter().any(|e| matches!(e, Event::Release { .. }));
    let foresee = judged.pull.level != "none" && order.steps.len() <= FULL_LIMIT_PASSES;
    let clamps = judge.frame.clamps.len();
    let mut closed = closed_before(judge);
    let mut looks = Vec::new();
    for act in acts {
        match act {
            Act::Pass { .. } => laid += 1,
            Act::Tack { .. } => tacked += 1,
            Act::Clamp { clamp } => closed[*clamp] = true,
            Act::Release { clamp, .. } => closed[*clamp] = false,
            Act::Hold { controls, .. } => {
                let half_tacked = tacked < tacks && laid == before;
                let mut look = Look { laid, half_tacked, seen: None, open: vec![] };
                if foresee && !half_tacked && closed.contains(&true) {
                    let opened = laid == before && gate_open;
                    if !opened {
                        look.seen = judge.seen_after(order, &judged.timeline, laid).map_err(|f| vec![f])?;
                    }
                    let hidden =
                        |s: &Seen| laid > before && controls.iter().all(|&c| !s.shows(judge.frame, c));
                    if opened || look.seen.as_ref().is_some_and(hidden) {
                        look.open = (0..clamps).filter(|&c| closed[c]).collect();
                    }
                    if !opened && !look.open.is_empty() {
                        judge.openings.push(Opening { after: laid, clamps: look.open.clone() });
                    }
                }
                looks.push(look);
            }
            _ => {}
        }
    }
    Ok(looks)
}

/// Fill in the readings to expect and the forces that spring; lines to open and close clamps.
///
/// # Errors
/// As [`super::plan`].
pub(super) fn fill_in(
    acts: Vec<Act>,
    looks: &[Look],
    judge: &Judge,
    order: &Order,
    judged: &Judged,
) -> Result<Vec<Act>, Vec<Fault>> {
    let before = laid_before(judge, order);
    let foresee = judged.pull.level != "none" && order.steps.len() <= FULL_LIMIT_PASSES;
    let all = judge.parts.passes.passes.len();
    let set = |c: usize| judged.pull.controls[c].set_to;
    let mut looks = looks.iter();
    let mut out = Vec::with_capacity(acts.len());
    for mut act in acts {
        if let Act::Hold { controls, expect, clamped, why } = &mut act {
            let look = looks.next().expect("every stop was looked at");
            if judged.pull.level == "none" {
            } else if look.half_tacked {
                *clamped = !judge.frame.clamps.is_empty();
                *expect = controls.iter().map(|&c| (set(c), judge.frame.controls[c].tolerance)).collect();
            } else if foresee {
                let part;
                let so_far = if look.laid == all {
                    &judged.pull
                } else {
                    part = judge.after(order, &judged.timeline, look.laid)?;
                    &part
                };
                // Through the clamps only what they do not hide, but for the gate: there all is read.
                if let Some(s) = look.seen.as_ref().filter(|_| look.open.is_empty()) {
                    if look.laid > before {
                        controls.retain(|&c| s.shows(judge.frame, c));
                    }
                    *clamped = true;
                }
                let y = |c: usize| match &look.seen {
                    Some(s) if *clamped => s.clamped[c],
                    _ => so_far.controls[c].pull,
                };
                *expect =
                    controls.iter().map(|&c| (set(c) + y(c), 2.0 * so_far.controls[c].scatter)).collect();
            }
            if !look.open.is_empty() {
                why.insert_str(0, "clamps off, they would hide it; ");
                out.extend(look.open.iter().map(|&clamp| Act::Release { clamp, force_n: 0.0 }));
                out.push(act);
                out.extend(look.open.iter().map(|&clamp| Act::Clamp { clamp }));
                continue;
            }
        }
        out.push(act);
    }
    forces(&mut out, judge, &judged.pull.clamp_forces);
    Ok(out)
}

/// The force of each line that opens a clamp: the model lets go in the same order, clamp by clamp; it
/// also lets go what the job did before, and at the end what a stage leaves closed.
fn forces(acts: &mut [Act], judge: &Judge, sprung: &[(usize, Vec<f64>)]) {
    let mut closed = closed_before(judge);
    let mut lines: Vec<Vec<usize>> = vec![vec![]; judge.frame.clamps.len()];
    for (i, act) in acts.iter().enumerate() {
        match act {
            Act::Clamp { clamp } => closed[*clamp] = true,
            Act::Release { clamp, .. } => {
                closed[*clamp] = false;
                lines[*clamp].push(i);
            }
            _ => {}
        }
    }
    for (clamp, lines) in lines.iter().enumerate() {
        let of: Vec<f64> = sprung
            .iter()
            .filter(|(c, _)| *c == clamp)
            .map(|(_, f)| f.iter().map(|x| x * x).sum::<f64>().sqrt())
            .collect();
        let end = of.len() - usize::from(closed[clamp]).min(of.len());
        for (line, force) in lines.iter().rev().zip(of[..end].iter().rev()) {
            if let Act::Release { force_n, .. } = &mut acts[*line] {
                *force_n = *force;
            }
        }
    }
}

fn laid_before(judge: &Judge, order: &Order) -> usize {
    order.steps[..judge.done()].iter().map(|s| s.passes.len()).sum()
}

fn closed_before(judge: &Judge) -> Vec<bool> {
    let on = |c: usize| judge.underway.is_some_and(|u| u.clamps_on.contains(&c));
    (0..judge.frame.clamps.len()).map(on).collect()
}
