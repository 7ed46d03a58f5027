//! Hold points: whether the controls are read with the clamps closed or free, and what to expect.
//!
//! What is clamped cannot show how it pulled. Where the clamps would hide more of a control's movement
//! than its reading error they are opened, the frame is read, and they are closed again where the frame
//! then is; else the reading is made clamped, which is less work and leaves the frame in its fixture.

use super::judge::{FULL_LIMIT_PASSES, Judge, Judged};
use super::{Act, Line};
use crate::distort::Level;
use crate::fault::Fault;
use crate::sequence::Order;

/// Reading error of a tape, mm, and of a digital level, degrees (standard deviations). Common practice,
/// no source.
const READ_MM: f64 = 0.5;
const READ_DEG: f64 = 0.1;

/// The clamps that are opened for a reading after so many passes.
pub type Opened = (usize, Vec<usize>);

/// Decide for every hold, put the lines for opening and closing the clamps in, and judge the order again
/// if that changed something.
pub(super) fn settle(
    acts: Vec<Act>,
    judge: &mut Judge,
    order: &Order,
    judged: &mut Judged,
) -> Result<Vec<Act>, Vec<Fault>> {
    let fault = |f: Fault| vec![f];
    let known = judged.pull.level != "none" && order.steps.len() <= FULL_LIMIT_PASSES;
    let mut laid: usize = order.steps[..judge.done()].iter().map(|s| s.passes.len()).sum();
    let mut closed: Vec<usize> = judge.underway.map_or(vec![], |u| u.clamps_on.clone());
    let mut tacked = 0;
    let mut out = vec![];
    for mut act in acts {
        match &mut act {
            Act::Pass { .. } => laid += 1,
            Act::Tack { .. } => tacked += 1,
            Act::Clamp { clamp } if !closed.contains(clamp) => closed.push(*clamp),
            Act::Release { clamp, .. } => closed.retain(|c| c != clamp),
            // Half tacked it is pushed to its place in the fixture.
            Act::Hold { clamped, .. } if tacked < judge.tacks.len() => *clamped = !closed.is_empty(),
            Act::Hold { controls, clamped, why, .. } if !closed.is_empty() => {
                let hides = known && hidden(judge, order, judged, laid, controls).map_err(fault)?;
                *clamped = !hides;
                if hides {
                    why.push_str(
                        "; the clamps hide more than a tape can read, so they are open. Afterwards close them where the \
                         frame then is, without pulling it back",
                    );
                    out.extend(closed.iter().map(|&clamp| Act::Release { clamp, force_n: 0.0 }));
                    out.push(act);
                    out.extend(closed.iter().map(|&clamp| Act::Clamp { clamp }));
                    judge.opened.push((laid, closed.clone()));
                    continue;
                }
            }
            _ => {}
        }
        out.push(act);
    }
    if !judge.opened.is_empty() {
        *judged = judge.full(order, Level::Fine).map_err(fault)?;
    }
    Ok(out)
}

/// Whether the clamps hide more of any of these controls than its reading error.
fn hidden(
    judge: &Judge,
    order: &Order,
    judged: &Judged,
    laid: usize,
    controls: &[usize],
) -> Result<bool, Fault> {
    let Some(model) = &judge.model else { return Ok(false) };
    let now = model.begin(&judge.until(model, order, &judged.timeline, laid), Level::Fine)?;
    let (clamped, free) = (now.controls(), now.controls_after(&[])?);
    Ok(controls.iter().any(|&c| {
        let error = if judge.frame.controls[c].kind.unit() == "deg" { READ_DEG } else { READ_MM };
        (clamped[c] - free[c]).abs() > error
    }))
}

/// The readings for which a finished sheet opens the clamps.
pub(super) fn opened(lines: &[Line]) -> Vec<Opened> {
    let mut out = vec![];
    let mut laid = 0;
    for (i, line) in lines.iter().enumerate() {
        match line.act {
            Act::Pass { .. } => laid += 1,
            Act::Hold { .. } => {
                let again = lines[i + 1..].iter().map_while(|l| match l.act {
                    Act::Clamp { clamp } => Some(clamp),
                    _ => None,
                });
                let before = lines[..i].iter().rev().map_while(|l| match l.act {
                    Act::Release { clamp, .. } => Some(clamp),
                    _ => None,
                });
                let before: Vec<usize> = before.collect();
                let again: Vec<usize> = again.filter(|c| before.contains(c)).collect();
                if !again.is_empty() {
                    out.push((laid, again));
                }
            }
            _ => {}
        }
    }
    out
}

/// Fill in what the welder is to expect: readings at the hold points, forces at the clamps.
pub(super) fn expect(
    acts: &mut [Act],
    judge: &Judge,
    order: &Order,
    judged: &Judged,
) -> Result<(), Vec<Fault>> {
    let laid_before = order.steps[..judge.done()].iter().map(|s| s.passes.len()).sum();
    let (mut laid, mut tacked): (usize, usize) = (laid_before, 0);
    let all = judge.parts.passes.passes.len();
    let foresee = judged.pull.level != "none" && order.steps.len() <= FULL_LIMIT_PASSES;
    // A clamp may be opened several times.
    let mut forces = judged.pull.clamp_forces.clone();
    let opened_before = match (&judge.model, judge.underway) {
        (Some(m), Some(_)) => m.begin(&judge.before(), Level::Fine).map_err(|f| vec![f])?.releases(),
        _ => 0,
    };
    forces.drain(..opened_before.min(forces.len()));
    for act in acts.iter_mut() {
        match act {
            Act::Pass { .. } => laid += 1,
            Act::Tack { .. } => tacked += 1,
            Act::Release { clamp, force_n } => {
                let at = forces.iter().position(|(c, _)| c == clamp);
                let force = at.map(|i| forces.remove(i).1);
                *force_n = force.map_or(0.0, |f| f.iter().map(|x| x * x).sum::<f64>().sqrt());
            }
            // Half tacked the frame hinges: what counts is where it is to be pushed, not where it went.
            Act::Hold { .. } if judged.pull.level == "none" => {}
            Act::Hold { controls, expect, .. } if tacked < judge.tacks.len() => {
                *expect = controls
                    .iter()
                    .map(|&c| (judged.pull.controls[c].set_to, judge.frame.controls[c].tolerance))
                    .collect();
            }
            Act::Hold { controls, expect, clamped, .. } if foresee => {
                let part;
                let so_far = if laid == all {
                    &judged.pull
                } else {
                    part = judge.after(order, &judged.timeline, laid)?;
                    &part
                };
                let inside = match &judge.model {
                    Some(m) if *clamped => {
                        let events = judge.until(m, order, &judged.timeline, laid);
                        Some(m.begin(&events, Level::Fine).map_err(|f| vec![f])?.controls())
                    }
                    _ => None,
                };
                *expect = controls
                    .iter()
                    .map(|&c| {
                        let p = &so_far.controls[c];
                        // Clamped it moves less; how uncertain it is then is taken from the free frame.
                        let pull = inside.as_ref().map_or(p.pull, |y| y[c]);
                        (judged.pull.controls[c].set_to + pull, 2.0 * p.scatter)
                    })
                    .collect();
            }
            _ => {}
        }
    }
    Ok(())
}
