//! A new order for what is left of a job: from what is welded, measured and still warm.

use super::judge::Judge;
use super::make::{From, Options, Parts, Watch, open_at_gate, work_out};
use super::question::question;
use super::steer::{self, Reach};
use super::{Effort, Remark, WeldPlan, levers, stages};
use crate::distort::Event;
use crate::fault::Fault;
use crate::frame::Frame;
use crate::sequence::{Question, Step};
use crate::tack::{self, Tacks};

/// What was done already, as plain values. Times are seconds from the first arc of the new plan, so
/// negative.
#[derive(Debug, Clone, Default)]
pub struct Underway {
    /// Revision of the new plan, from 1; 0 for a further stage of a first plan, whose set-to values are still free.
    pub revision: u32,
    /// Passes that hold, as steps in the order in which they were laid.
    pub done: Vec<Step>,
    /// Everything that was done, as the pull model takes it.
    pub events: Vec<Event>,
    /// Net heat with which the tacks of each seam were laid, J/mm (see [`crate::distort::tack_heat`]);
    /// empty: that of their passes.
    pub tack_q_j_mm: Vec<f64>,
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
    /// The controls were read as tacked; of a frame built in stages, with the stage in hand.
    pub read_as_tacked: bool,
    /// A stage of the build: what was welded in earlier ones does not stand for its reading as tacked.
    pub staged: bool,
    /// Whether the authority that is left is worked out (the longest part of the work).
    pub authority: bool,
    /// What a re-plan may change.
    pub levers: Levers,
    /// What is left in the order of the sheet in force, as steps: one more order to begin the search with,
    /// so that the new one is not judged worse than it.
    pub sheet: Vec<Step>,
    /// What is still unknown of the shrinkage and of the controls as tacked; none: as before a job.
    pub spread: Option<Spread>,
}

/// What readings have left unknown, so that a re-plan's scatter is the one that the job itself shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Number of joints.
    pub joints: usize,
    /// Covariance of the joints' shrinkage factors (relative to the first plan) and, after them, of
    /// the controls' deviations as tacked (in their units); row by row.
    pub covariance: Vec<f64>,
}

impl Spread {
    /// Variance of a control to which the joints contribute `by_joint` at factor 1.
    pub(super) fn variance(&self, control: usize, by_joint: &[f64]) -> f64 {
        let n = self.covariance.len().isqrt();
        let mut h = vec![0.0; n];
        h[..self.joints].copy_from_slice(by_joint);
        h[self.joints + control] = 1.0;
        let row = |i: usize| &self.covariance[i * n..(i + 1) * n];
        let times = |i: usize| row(i).iter().zip(&h).map(|(c, h)| c * h).sum::<f64>();
        (0..n).map(|i| h[i] * times(i)).sum::<f64>().max(0.0)
    }
}

/// What a re-plan may change to steer the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levers {
    /// The order of what is left.
    pub order: bool,
    /// The direction of passes that the procedure leaves free.
    pub direction: bool,
    /// Where the clamps stand that are still closed (as advice: somebody must move them).
    pub set_to: bool,
    /// The heat input of what is left, within the range that the qualified procedure allows: net J/mm,
    /// least and most. None: it stays.
    pub heat_j_per_mm: Option<(f64, f64)>,
}

impl Default for Levers {
    fn default() -> Self {
        Levers { order: true, direction: true, set_to: true, heat_j_per_mm: None }
    }
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

impl Underway {
    /// Those of these tacks that are still to be laid.
    pub(super) fn left(&self, tacks: Option<&Tacks>) -> Option<Tacks> {
        let mut left = tacks?.clone();
        left.tacks.retain(|t| self.tacks_left.contains(&(t.seam, t.number)));
        Some(left)
    }

    /// Start of the arc of a pass that is welded, s; the last time it was laid.
    pub fn arc_from(&self, pass: usize) -> f64 {
        self.heat.iter().rev().find(|h| h.pass == pass).map_or(0.0, |h| h.from_s)
    }
}

/// Plan the rest of a job. `frame` holds the shrinkage factors as they are known now, `parts` the
/// passes with the heat that they were really laid with. Goes out: the plan, and how far order can
/// still move each control (empty without a search; of a frame built in stages: what the stage in hand
/// can still do).
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
    let in_stages = !frame.stages.is_empty() && options.from == From::Tacks;
    let (mut plan, steered) = match in_stages {
        true => stages::replan(frame, &parts, underway, options, watch)?,
        false => in_one_go(frame, &parts, underway, options, watch)?,
    };
    let reach = steered.reach;
    if !steered.hotter.is_empty() {
        // Once more with other heat, in the order just found.
        let parts = levers::with_heat(&parts, &steered.open, &steered.hotter);
        let mut kept = underway.clone();
        kept.levers = Levers { order: false, heat_j_per_mm: None, ..underway.levers };
        kept.sheet = plan.order.steps[underway.done.len()..].to_vec();
        let (mut plan, _) = replan(frame, parts, &kept, options, watch)?;
        plan.remarks.insert(1, levers::heat_remark(&plan, &steered.hotter));
        return Ok((plan, reach));
    }
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
    if let Some(remark) = steered.clamps {
        plan.remarks.insert(1, remark);
    }
    Ok((plan, reach))
}

fn in_one_go(
    frame: &Frame,
    parts: &Parts,
    underway: &Underway,
    options: &Options,
    watch: &Watch,
) -> Result<(WeldPlan, Steered), Vec<Fault>> {
    let mut q = question(frame, &parts.joints, &parts.seams, &parts.passes)?;
    q.done.clone_from(&underway.done);
    q.hold_before_turning();
    let tacks = (options.from == From::Tacks).then(|| tack::tacks(frame, &parts.joints, &parts.seams));
    let mut judge = Judge::new(frame, parts, underway.left(tacks.as_ref()).as_ref())?;
    judge.underway = Some(underway);
    if let Some(model) = judge.model.as_mut().filter(|_| !underway.tack_q_j_mm.is_empty()) {
        model.set_tack_heat(underway.tack_q_j_mm.clone());
    }
    open_at_gate(&mut judge).map_err(|f| vec![f])?;
    let plan = work_out(&q, &mut judge, tacks, None, options, watch)?;
    let steered = steered(&q, &judge, &plan, options, watch)?;
    Ok((plan, steered))
}

/// What the levers can still do with a plan that was just made.
#[derive(Default)]
pub(super) struct Steered {
    /// Authority over each control.
    pub reach: Vec<Reach>,
    /// Joints with other heat: (joint, factor).
    pub hotter: Vec<(usize, f64)>,
    /// Labels of the passes that these are about.
    pub open: Vec<String>,
    /// Clamps worth moving.
    pub clamps: Option<Remark>,
}

pub(super) fn steered(
    q: &Question,
    judge: &Judge,
    plan: &WeldPlan,
    options: &Options,
    watch: &Watch,
) -> Result<Steered, Vec<Fault>> {
    let Some(u) = judge.underway else { return Ok(Steered::default()) };
    let reach = match options.effort {
        Effort::Rules => vec![],
        _ if !u.authority => vec![],
        _ => steer::reach(q, judge, plan, options.seed, watch.stop)?,
    };
    let hotter = match u.levers.heat_j_per_mm {
        Some(range) => levers::heat(judge, plan, &reach, range)?,
        None => vec![],
    };
    let clamps = if u.levers.set_to { levers::clamps(judge, plan)? } else { None };
    Ok(Steered { reach, hotter, open: levers::on_sheet(plan), clamps })
}
