//! A new order for what is left of a job: from what is welded, measured and still warm.

use super::judge::{FULL_LIMIT_PASSES, Judge};
use super::make::{From, Options, Parts, Watch, force_directions, passes_of, question, work_out};
use super::{Effort, Remark, WeldPlan};
use crate::distort::{Event, Level};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::sequence::objective::{Aim, SetTo};
use crate::sequence::{self, Budget, Order, Question, Step, Task};
use crate::tack;
use std::sync::atomic::AtomicBool;

/// What was done already, as plain values. Times are seconds from the first arc of the new plan, so
/// negative.
#[derive(Debug, Clone, Default)]
pub struct Underway {
    /// Revision of the new plan, from 1; 0 for a further stage of a first plan.
    pub revision: u32,
    /// Passes that hold, as steps in the order in which they were laid.
    pub done: Vec<Step>,
    /// Everything that was done, as the pull model takes it.
    pub events: Vec<Event>,
    /// The heat that went in.
    pub heat: Vec<Heat>,
    /// What each control was really set to as tacked, against nominal, in its unit.
    pub set: Vec<f64>,
    /// Setup in which the frame lies.
    pub setup: usize,
    /// Clamps that are on, by index.
    pub clamps_on: Vec<usize>,
    /// Clamps that are off and stay off in this setup.
    pub clamps_off: Vec<usize>,
    /// Tacks still to be laid: seam, number.
    pub tacks_left: Vec<(usize, usize)>,
    /// Tubes whose vent is open already.
    pub vents_open: Vec<usize>,
    /// Tubes whose vent is closed already.
    pub vents_closed: Vec<usize>,
    /// The controls were read as tacked.
    pub read_as_tacked: bool,
}

/// Heat of one pass that was laid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heat {
    /// Pass index.
    pub pass: usize,
    /// Start of its arc, s from the first arc of the new plan.
    pub from_s: f64,
    /// Arc time, s.
    pub arc_s: f64,
    /// Net energy, J.
    pub energy_j: f64,
}

/// How far the order of what is left can still move a control: its deviation at the end for the order
/// that makes it least and for the one that makes it most, among orders that keep the house rules as
/// well as the plan does. Found by a short search: the true range may be a little wider.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Least, in the control's unit.
    pub least: f64,
    /// Most, in the control's unit.
    pub most: f64,
}

impl Underway {
    /// Start of the arc of a pass that is welded, s; the last time it was laid.
    pub fn arc_from(&self, pass: usize) -> f64 {
        self.heat.iter().rev().find(|h| h.pass == pass).map_or(0.0, |h| h.from_s)
    }
}

/// Plan the rest of a job. `frame` holds the shrinkage factors as they are known now, `parts` the
/// passes with the heat that they were really laid with. Goes out: the plan, and how far order can
/// still move each control (empty without a search).
///
/// # Errors
/// As [`super::plan`].
pub fn replan(
    frame: &Frame,
    parts: Parts,
    underway: &Underway,
    options: &Options,
    watch: &Watch,
) -> Result<(WeldPlan, Vec<Reach>), Vec<Fault>> {
    let mut q = question(frame, &parts.joints, &parts.seams, &parts.passes)?;
    q.done.clone_from(&underway.done);
    let tacks = (options.from == From::Tacks).then(|| tack::tacks(frame, &parts.joints, &parts.seams));
    let left = tacks.clone().map(|mut t| {
        t.tacks.retain(|t| underway.tacks_left.contains(&(t.seam, t.number)));
        t
    });
    let mut judge = Judge::new(frame, &parts, left.as_ref())?;
    judge.underway = Some(underway);
    let mut plan = work_out(&q, &judge, tacks, None, options, watch)?;
    plan.remarks.insert(
        0,
        Remark {
            code: "W707".into(),
            text: format!(
                "Revision {}: this sheet is for what is left to do. Every sheet of an earlier revision is void; take it \
                 down.",
                underway.revision
            ),
            first: true,
        },
    );
    let reach = match options.effort {
        Effort::Rules => vec![],
        _ => reach(&q, &judge, &plan.order, options.seed, watch.stop)?,
    };
    Ok((plan, reach))
}

/// Changes that are tried for each end of the range.
const REACH_CHANGES: u64 = 3000;
/// The aim lies so many tolerances off that only the one direction counts.
const FAR_TOLERANCES: f64 = 1e3;

fn reach(
    q: &Question,
    judge: &Judge,
    order: &Order,
    seed: u64,
    stop: &AtomicBool,
) -> Result<Vec<Reach>, Vec<Fault>> {
    let fault = |f: Fault| vec![f];
    let Some(model) = judge.model.as_ref().filter(|_| q.passes.len() <= FULL_LIMIT_PASSES) else {
        return Ok(vec![]);
    };
    if passes_of(order).len() == q.done.len() {
        return Ok(vec![]);
    }
    let coarse = model.coarse(&judge.all_tacks()).map_err(fault)?;
    let begun = model.begin(&judge.before(), Level::Fine).map_err(fault)?;
    let bare = judge.aim(&[]);
    let after = |o: &Order| {
        let mut o = o.clone();
        force_directions(&mut o, &judge.parts.passes, q.done.len());
        begun.controls_after(&judge.rest(model, &o))
    };
    let now = after(order).map_err(fault)?;
    let mut out = Vec::new();
    for (r, &here) in now.iter().enumerate() {
        let set = bare.controls[r].set.value(0.0);
        let mut reach = Reach { least: here + set, most: here + set };
        for sign in [1.0, -1.0] {
            let aim = towards(&bare, r, sign);
            let accept = |o: &mut Order, _: &[f64]| after(o).map_or(f64::INFINITY, |y| sign * y[r]).into();
            let task = Task {
                question: q,
                coarse: &coarse,
                aim: &aim,
                starts: std::slice::from_ref(order),
                seed,
                budget: Budget::of(1, vec![REACH_CHANGES]),
                stop,
                progress: &|_, _| {},
                accept: &accept,
                polish: None,
            };
            let end = sign * sequence::search(&task).full + set;
            if end.is_finite() {
                (reach.least, reach.most) = (reach.least.min(end), reach.most.max(end));
            }
        }
        out.push(reach);
    }
    Ok(out)
}

/// An aim for which only one control counts, the smaller (`sign` 1) or the larger (−1) the better.
fn towards(bare: &Aim, control: usize, sign: f64) -> Aim {
    let mut aim = bare.clone();
    (aim.scatter, aim.time_per_min) = (0.0, 0.0);
    for (r, c) in aim.controls.iter_mut().enumerate() {
        c.weight = f64::from(u8::from(r == control));
        c.set = SetTo::Fixed(0.0);
        c.offset = sign * FAR_TOLERANCES * c.tolerance;
    }
    aim
}
