//! An order judged in full: its timeline, the warmth of the tubes, the fine pull, the objective.

use super::again::{Spread, Underway};
use super::make::Parts;
use crate::distort::{self, Begun, BuildTo, Event, Level, Model, Pull, Tack, tack_events};
use crate::fault::Fault;
use crate::frame::{Frame, SetBy};
use crate::heat::{Clock, HeatStep, Kernels, Timeline};
use crate::sequence::objective::{Aim, AimControl, SetTo};
use crate::sequence::{Full, Order, Step};
use crate::tack::Tacks;

/// Largest frame whose pull is worked out, passes: its dense elimination grows with the cube of their
/// number. The order of a larger frame is the best of a few by a coarser model ([`crate::distort::Wide`]), and
/// the sheet says so.
pub const PULL_LIMIT_PASSES: usize = 1000;
/// Largest frame for which the readings at the hold points and the habit beside the plan are worked
/// out as well, passes: each costs as much as the plan's own judgement.
pub const FULL_LIMIT_PASSES: usize = 300;

/// All that judging needs; made once per frame.
pub struct Judge<'a> {
    /// The frame.
    pub frame: &'a Frame,
    /// Its parts.
    pub parts: &'a Parts,
    /// The pull model.
    /// None if the frame is above [`PULL_LIMIT_PASSES`].
    pub model: Option<Model>,
    /// The heat kernels.
    pub kernels: Kernels,
    /// The tacks as events, in order; empty if the weld-out starts from an ideally tacked frame.
    pub tacks: Vec<Event>,
    /// What was done already, if this is a re-plan; `tacks` are then those that are still to be laid.
    pub underway: Option<&'a Underway>,
    /// Clamps that are opened for a reading on the way and closed again where the frame then is. Known
    /// once there is an order; the search knows nothing of them.
    pub openings: Vec<Opening>,
    /// Whether each control counts yet: of a frame built in stages, those whose tubes are all there.
    /// Empty: all.
    pub there: Vec<bool>,
}

/// Clamps opened for a reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opening {
    /// After so many passes of the order.
    pub after: usize,
    /// Which.
    pub clamps: Vec<usize>,
}

/// An order with all that follows from it.
pub struct Judged {
    /// When and how hot.
    pub timeline: Timeline,
    /// What it does to the controls.
    pub pull: Pull,
}

impl<'a> Judge<'a> {
    /// Build the models of a frame.
    ///
    /// # Errors
    /// A tube that nothing holds.
    pub fn new(frame: &'a Frame, parts: &'a Parts, tacks: Option<&Tacks>) -> Result<Self, Vec<Fault>> {
        let model = match parts.passes.passes.len() {
            n if n > PULL_LIMIT_PASSES => {
                distort::held(frame, &parts.joints, &parts.seams, &parts.passes)?;
                None
            }
            _ => Some(Model::new(frame, &parts.joints, &parts.seams, &parts.passes)?),
        };
        let kernels = Kernels::new(frame, &parts.joints, &parts.seams, &parts.passes);
        let tacks = tacks.map_or(vec![], |t| tack_events(&as_laid(t)));
        Ok(Judge { frame, parts, model, kernels, tacks, underway: None, openings: vec![], there: vec![] })
    }

    /// Timeline of an order.
    pub fn timeline(&self, steps: &[Step]) -> Timeline {
        self.timed(steps).0
    }

    /// Timeline of an order, and the clock after it. Of a re-plan, time zero is its first arc: what was
    /// welded before has negative times.
    fn timed(&self, steps: &[Step]) -> (Timeline, Clock<'_>) {
        let done = self.done().min(steps.len());
        let mut setup = self.underway.map_or(0, |u| u.setup);
        let heat: Vec<HeatStep> = steps[done..]
            .iter()
            .map(|s| {
                let turn = s.setup != setup;
                setup = s.setup;
                HeatStep { passes: s.passes.iter().map(|l| l.pass).collect(), turn }
            })
            .collect();
        let Some(u) = self.underway else { return self.kernels.run(&heat) };
        let begun = self.clock();
        let (mut rest, clock) = self.kernels.run_on(begun.clone(), &heat);
        let mut line = Timeline::default();
        for l in steps[..done].iter().flat_map(|s| &s.passes) {
            let from_s = u.arc_from(l.pass);
            line.start_s.push(from_s);
            line.before_c.push(begun.temperature_at_pass(l.pass, from_s));
            line.wait_s.push(0.0);
            line.tube_rise_k.push(vec![]);
        }
        line.start_s.append(&mut rest.start_s);
        line.before_c.append(&mut rest.before_c);
        line.wait_s.append(&mut rest.wait_s);
        line.tube_rise_k.append(&mut rest.tube_rise_k);
        (Timeline { end_s: rest.end_s, cold_s: rest.cold_s, peak: rest.peak, ..line }, clock)
    }

    /// The clock before the first arc: cold, or with the heat of what was welded already.
    pub fn clock(&self) -> Clock<'_> {
        let mut clock = Clock::new(&self.kernels);
        for h in self.underway.iter().flat_map(|u| &u.heat) {
            clock.put(h.pass, h.from_s, h.arc_s, h.energy_j);
        }
        clock
    }

    /// Steps that are welded already.
    pub fn done(&self) -> usize {
        self.underway.map_or(0, |u| u.done.len())
    }

    /// Everything about an order.
    ///
    /// # Errors
    /// A clamp is released while it is the last restraint of a tube.
    pub fn full(&self, order: &Order, level: Level) -> Result<Judged, Fault> {
        let timeline = self.timeline(&order.steps);
        let mut pull = match &self.model {
            Some(m) => m.evaluate(&self.events(m, &order.steps, &timeline), level)?,
            None => unknown(),
        };
        if let Some(u) = self.underway {
            for (p, set) in pull.controls.iter_mut().zip(&u.set) {
                (p.set_to, p.residual) = (*set, p.pull + set);
            }
            if let Some(spread) = &u.spread {
                self.known_better(&mut pull, spread);
            }
        }
        Ok(Judged { timeline, pull })
    }

    /// The scatter of a job under way: the factors are known as well as the readings have it, what is
    /// beside them (single passes, lean, stiffness of joints and clamps) is as before.
    fn known_better(&self, pull: &mut Pull, spread: &Spread) {
        let Some(model) = &self.model else { return };
        let [common, joint, _] = self.frame.pull.scatter;
        let learnt = &self.frame.pull.joint_factors;
        for (r, p) in pull.controls.iter_mut().enumerate() {
            let all: f64 = p.by_joint.iter().sum();
            let joints: f64 = p.by_joint.iter().map(|b| (joint * b).powi(2)).sum();
            let before = (common * all).powi(2) + joints + model.fit_up_sd(r).powi(2);
            let at_one: Vec<f64> = p
                .by_joint
                .iter()
                .enumerate()
                .map(|(j, b)| b / learnt.get(j).copied().unwrap_or(1.0))
                .collect();
            let other = (p.scatter * p.scatter - before).max(0.0);
            p.scatter = (other + spread.variance(r, &at_one)).sqrt();
        }
    }

    /// An order judged in full, from the tacked frame on: deviation from the fine model, time from the
    /// timeline; the scatter is taken from the coarse contributions (`scatter`), whose order of
    /// magnitude is all it is good for.
    pub fn objective(&self, aim: &Aim, model: &Model, tacked: &Begun, order: &Order, scatter: f64) -> Full {
        let timeline = self.timeline(&order.steps);
        match tacked.warmth_after(&self.weld_out(model, &order.steps, &timeline)) {
            Ok((controls, tau)) => {
                let time = aim.time_per_min * timeline.end_s / 60.0;
                Full { objective: deviation(aim, &controls) + aim.scatter * scatter + time, controls, tau }
            }
            Err(_) => f64::INFINITY.into(),
        }
    }

    /// The controls after each pass of an order; nothing if the frame has no pull model.
    ///
    /// # Errors
    /// As [`Judge::full`].
    pub fn path(&self, order: &Order) -> Result<Vec<Vec<f64>>, Fault> {
        let Some(model) = &self.model else { return Ok(vec![]) };
        let timeline = self.timeline(&order.steps);
        Ok(model.controls_after(&self.events(model, &order.steps, &timeline), Level::Fine)?.1)
    }

    /// Where to put the tubes so that the controls start at the set-to values of this pull, lengths still
    /// free; none once something is welded.
    pub fn build_to(&self, pull: &Pull) -> Option<BuildTo> {
        let model = self.model.as_ref().filter(|_| self.underway.is_none() && !pull.controls.is_empty())?;
        let set_to: Vec<f64> = pull.controls.iter().map(|c| c.set_to).collect();
        let mut to = model.build_to(&set_to, &vec![true; self.frame.tubes.len()]);
        // A bow that is not set at all: what it would take to bend against all of it.
        let wanted = pull.controls.iter().zip(&self.frame.controls).zip(&to.left);
        let wanted = wanted.map(|((p, c), left)| if c.set_by == SetBy::None { -p.pull } else { *left });
        to.bends = model.bends(&wanted.collect::<Vec<_>>());
        Some(to)
    }

    /// Whether a control counts yet.
    pub(super) fn counts(&self, control: usize) -> bool {
        self.there.get(control).copied().unwrap_or(true)
    }

    /// What is aimed at: the frame's controls. `other` is the scatter that no order changes.
    pub fn aim(&self, other: &[f64]) -> Aim {
        let controls = self
            .frame
            .controls
            .iter()
            .enumerate()
            .map(|(i, c)| AimControl {
                tolerance: c.tolerance,
                weight: f64::from(u8::from(self.counts(i))),
                offset: 0.0,
                set: match (self.underway.filter(|u| u.revision > 0), c.set_by) {
                    (Some(u), _) => SetTo::Fixed(u.set.get(i).copied().unwrap_or(0.0)),
                    (None, SetBy::None) => SetTo::Fixed(0.0),
                    (None, _) => SetTo::Free { step: c.step, limit: c.limit },
                },
                other_scatter: other.get(i).copied().unwrap_or(0.0),
            })
            .collect();
        Aim::new(controls, self.frame.pull.scatter)
    }
}

/// Weighted squared deviation that is left after set-to, in tolerances squared.
pub fn deviation(aim: &Aim, y: &[f64]) -> f64 {
    aim.controls
        .iter()
        .zip(y)
        .map(|(c, &y)| {
            let left = c.offset + y + c.set.value(c.offset + y);
            aim.deviation * c.weight * (left / c.tolerance).powi(2)
        })
        .sum()
}

/// The pull of a frame that is too large for the model: nothing is said.
fn unknown() -> Pull {
    Pull {
        controls: vec![],
        path: vec![],
        shape: vec![],
        course: vec![],
        level: "none",
        clamp_forces: vec![],
        remarks: vec![],
    }
}

pub(super) fn as_laid(tacks: &Tacks) -> Vec<Tack> {
    tacks
        .tacks
        .iter()
        .map(|t| Tack { seam: t.seam, line: t.line, at_mm: t.at_mm, length_mm: t.length_mm, pull: 1.0 })
        .collect()
}

impl Judge<'_> {
    /// The pull after the first `laid` passes of an order, all clamps off and cold: what a reading
    /// shows then.
    ///
    /// # Errors
    /// As [`Judge::full`].
    pub fn after(&self, order: &Order, timeline: &Timeline, laid: usize) -> Result<Pull, Vec<Fault>> {
        let Some(m) = &self.model else { return Ok(unknown()) };
        let mut pull = m.evaluate(&self.until(m, order, timeline, laid), Level::Fine).map_err(|f| vec![f])?;
        if let Some(spread) = self.underway.and_then(|u| u.spread.as_ref()) {
            self.known_better(&mut pull, spread);
        }
        Ok(pull)
    }

    /// Start of each step, s, and the clock after the whole order.
    pub fn run(&self, order: &Order) -> (Vec<f64>, Clock<'_>) {
        let (line, clock) = self.timed(&order.steps);
        let mut first = 0;
        let starts = order
            .steps
            .iter()
            .map(|s| {
                let start = line.start_s.get(first).copied().unwrap_or(0.0);
                first += s.passes.len();
                start
            })
            .collect();
        (starts, clock)
    }

    /// How stiff the frame is at each joint: metal that meets there, as the sum of E·I/L of the
    /// lengths of tube around it, N·mm. Good enough to rank joints for the habit "stiffest first".
    pub fn stiffness(&self) -> Vec<f64> {
        let graph = &self.parts.joints.graph;
        let mut out = vec![0.0; self.parts.joints.joints.len()];
        for e in graph.edge_indices() {
            let (Some((a, b)), Some(steel)) = (graph.edge_endpoints(e), graph.edge_weight(e)) else {
                continue;
            };
            let section = &self.frame.sections[self.frame.tubes[steel.tube].section];
            let p = section.shape.properties();
            let e_mpa = self.frame.materials[section.material].e_mpa;
            let k = e_mpa * p.i_height_mm4.min(p.i_across_mm4) / steel.length_mm.max(1.0);
            out[a.index()] += k;
            out[b.index()] += k;
        }
        out
    }
}
