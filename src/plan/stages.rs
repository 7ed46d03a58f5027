//! A frame built in stages: each planned in turn, in one and the same elimination.
//!
//! The model is the simplest honest one. Tubes of later stages are not joined yet, they lie at their
//! nominal places. What an earlier stage was welded to has pulled; the next stage's tacks set at the
//! gaps that are then there, with no force, and everything goes on from that. Clamps stay on between
//! stages. So deviations carry over into the fit-up, and forces do not appear from nowhere.

use super::again::{Heat, Underway};
use super::judge::{Judge, as_laid};
use super::lines::{self, StageRun, stage_of};
use super::make::{Options, Parts, Watch, audit_after, open_at_gate, question, work_out};
use super::{Act, Remark, Tacking, WeldPlan};
use crate::distort::{Event, tack_events};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::procedure::Passes;
use crate::sequence::{Laid, Step};
use crate::tack::{self, Tacks};

/// The plan of a frame with stages, from loose tubes.
///
/// # Errors
/// As [`super::plan`]; an order by hand does not go with stages.
pub(super) fn plan(
    frame: &Frame,
    parts: &Parts,
    options: &Options,
    watch: &Watch,
) -> Result<WeldPlan, Vec<Fault>> {
    if !frame.wishes.by_hand.is_empty() {
        let fault = Fault::new("E504", "an order by hand cannot be judged for a frame built in stages");
        return Err(vec![fault.help("take out the [[stage]] tables, or `by_hand`")]);
    }
    let seam_stage: Vec<usize> = parts
        .joints
        .meets
        .iter()
        .map(|m| {
            let tubes = m.carriers.iter().map(|c| c.0).chain([m.branch.0]);
            tubes.filter_map(|t| stage_of(frame, t)).max().unwrap_or(0)
        })
        .collect();
    let all_tacks = tack::tacks(frame, &parts.joints, &parts.seams);
    let mut carried = Carried::default();
    let mut made: Option<WeldPlan> = None;
    for run in runs(frame, &seam_stage) {
        let now = |seam: usize| (run.first..=run.welded).contains(&seam_stage[seam]);
        let passes = only(&parts.passes, |seam| seam_stage[seam] <= run.welded);
        let sub = Parts { passes, ..parts.clone() };
        let index = |label: &str| sub.passes.passes.iter().position(|p| p.label == label);
        let here = wishes_of(frame, &sub);
        let mut q = question(&here, &sub.joints, &sub.seams, &sub.passes)?;
        q.done = carried
            .steps
            .iter()
            .map(|s| Step {
                setup: s.setup,
                passes: s
                    .passes
                    .iter()
                    .map(|(label, welder, forward)| Laid {
                        pass: index(label).expect("earlier stages are part of later ones"),
                        welder: *welder,
                        forward: *forward,
                    })
                    .collect(),
            })
            .collect();
        q.hold_before_turning();
        let mut tacks: Vec<tack::Tack> = Vec::new();
        let mut second_round = 0;
        for stage in run.first..=run.welded {
            let own: Vec<&tack::Tack> =
                all_tacks.tacks.iter().filter(|t| seam_stage[t.seam] == stage).collect();
            // The stop half way belongs to the last stage of a run: the others are tacked to it whole.
            second_round = tacks.len() + own.iter().filter(|t| t.number <= 2).count();
            tacks.extend(own.into_iter().cloned());
        }
        let warnings = if run.last { all_tacks.warnings.clone() } else { vec![] };
        let tacks = Tacks { tacks, second_round, warnings };
        let underway = carried.underway(&tacks, &q.done, &index);
        let mut judge = Judge::new(&here, &sub, None)?;
        judge.tacks = tack_events(&as_laid(&tacks));
        judge.underway = underway.as_ref();
        open_at_gate(&mut judge).map_err(|f| vec![f])?;
        debug_assert!(tacks.tacks.iter().all(|t| now(t.seam)));
        let plan = work_out(&q, &judge, Some(tacks), Some(run), options, watch)?;
        let wrong = audit_after(&plan, &q.done);
        if !wrong.is_empty() {
            let words = format!(
                "a stage did not pass the plan's own audit, a fault of the program: {}",
                wrong.join("; ")
            );
            return Err(vec![Fault::new("E505", words)]);
        }
        carried.take(&plan, &judge, &parts.passes);
        made = Some(plan);
    }
    let mut plan = made.expect("a frame with stages has a run of them");
    carried.set_as(&plan);
    plan.frame = frame.clone();
    plan.stage_steps = carried.stage_steps;
    plan.lines = lines::number(carried.acts);
    plan.tacks = Some(carried.tacks);
    plan.tacking = Some(Tacking {
        numbers: tack::numbers(
            frame,
            &parts.joints,
            &parts.seams,
            &parts.passes,
            plan.tacks.as_ref().expect("just set"),
        ),
        ..carried.tacking
    });
    plan.remarks.push(Remark {
        code: "W708".into(),
        text: "Built in stages: tubes of a later stage are taken to lie at their nominal places until they are tacked; \
               what an earlier stage has pulled is bridged by the gap of the next tacks, without force. Clamps stay on \
               between stages. Push a fitted stage where the readings want it before it is tacked."
            .into(),
        first: false,
    });
    Ok(plan)
}

/// Runs of stages that end with a weld-out; the last stage of all always ends one. A run without a seam
/// of its own joins the next.
fn runs(frame: &Frame, seam_stage: &[usize]) -> Vec<StageRun> {
    let last = frame.stages.len() - 1;
    let mut out = Vec::new();
    let mut first = 0;
    for (i, s) in frame.stages.iter().enumerate() {
        let seams = seam_stage.iter().any(|&s| (first..=i).contains(&s));
        if i == last || (s.weld_out && seams) {
            out.push(StageRun { first, welded: i, last: i == last });
            first = i + 1;
        }
    }
    // A last run that brings tubes but no seam cannot be: every tube is joined. Kept whole all the same.
    if out.len() > 1 && !seam_stage.iter().any(|&s| s >= out[out.len() - 1].first) {
        let end = out.pop().expect("there are two");
        let before = out.last_mut().expect("there are two");
        (before.welded, before.last) = (end.welded, true);
    }
    out
}

/// The passes of some seams, with their own numbering.
fn only(passes: &Passes, seam: impl Fn(usize) -> bool) -> Passes {
    let kept: Vec<usize> = (0..passes.passes.len()).filter(|&i| seam(passes.passes[i].seam)).collect();
    let new = |old: Option<usize>| old.and_then(|o| kept.iter().position(|&k| k == o));
    let mut out = passes.clone();
    out.passes = kept
        .iter()
        .map(|&i| {
            let mut p = passes.passes[i].clone();
            (p.partner, p.below) = (new(p.partner), new(p.below));
            p
        })
        .collect();
    out
}

/// The frame with only those wishes on the order that name something of these parts.
fn wishes_of(frame: &Frame, parts: &Parts) -> Frame {
    let mut here = frame.clone();
    let known = |name: &String| {
        parts.passes.passes.iter().any(|p| {
            [&p.label, &parts.seams.seams[p.seam].name, &parts.joints.joints[p.joint].name]
                .iter()
                .any(|n| n.eq_ignore_ascii_case(name))
        })
    };
    if parts.passes.passes.iter().map(|p| p.seam).collect::<std::collections::BTreeSet<_>>().len()
        < parts.seams.seams.len()
    {
        here.wishes.first.retain(known);
        here.wishes.last.retain(known);
    }
    here
}

/// A step by labels, which no stage changes.
struct LaidStep {
    setup: usize,
    passes: Vec<(String, usize, bool)>,
}

/// What earlier stages leave to the next.
#[derive(Default)]
struct Carried {
    steps: Vec<LaidStep>,
    stage_steps: Vec<usize>,
    events: Vec<Event>,
    /// Label, start before the end of the last stage, arc time, energy.
    heat: Vec<(String, f64, f64, f64)>,
    acts: Vec<Act>,
    /// Number of acts after each run, and what each control was set to in it.
    set: Vec<(usize, Vec<f64>)>,
    tacks: Tacks,
    tacking: Tacking,
    clamps_on: Vec<usize>,
    vents_open: Vec<usize>,
    setup: usize,
}

impl Carried {
    /// As a re-plan takes it; nothing before the first stage.
    fn underway(
        &self,
        tacks: &Tacks,
        done: &[Step],
        index: &impl Fn(&str) -> Option<usize>,
    ) -> Option<Underway> {
        if self.steps.is_empty() {
            return None;
        }
        Some(Underway {
            revision: 0,
            done: done.to_vec(),
            events: self.events.clone(),
            heat: self
                .heat
                .iter()
                .filter_map(|(label, from_s, arc_s, energy_j)| {
                    Some(Heat { pass: index(label)?, from_s: *from_s, arc_s: *arc_s, energy_j: *energy_j })
                })
                .collect(),
            set: vec![],
            setup: 0,
            clamps_on: self.clamps_on.clone(),
            clamps_off: vec![],
            tacks_left: tacks.tacks.iter().map(|t| (t.seam, t.number)).collect(),
            vents_open: self.vents_open.clone(),
            vents_closed: vec![],
            read_as_tacked: false,
            ..Underway::default()
        })
    }

    /// What is set in the fixture is known at the end only: the readings expected on the way follow it.
    fn set_as(&mut self, plan: &WeldPlan) {
        let mut first = 0;
        for (end, set) in &self.set {
            for act in &mut self.acts[first..*end] {
                let Act::Hold { controls, expect, .. } = act else { continue };
                for (c, e) in controls.iter().zip(expect) {
                    let now = plan.pull.controls.get(*c).map_or(0.0, |p| p.set_to);
                    e.0 += now - set.get(*c).copied().unwrap_or(now);
                }
            }
            first = *end;
        }
    }

    /// Take over what a stage did.
    fn take(&mut self, plan: &WeldPlan, judge: &Judge, all: &Passes) {
        let label = |p: usize| plan.passes.passes[p].label.clone();
        let done = judge.done();
        self.stage_steps.push(done);
        self.events = judge.before();
        if let Some(m) = &judge.model {
            self.events.extend(judge.rest(m, &plan.order));
        }
        let first = plan.order.steps[..done].iter().map(|s| s.passes.len()).sum::<usize>();
        let end_s = plan.timeline.end_s + plan.timeline.cold_s;
        self.heat.iter_mut().for_each(|h| h.1 -= end_s);
        let laid = plan.order.steps[done..].iter().flat_map(|s| &s.passes);
        for (i, l) in laid.enumerate() {
            let p = &plan.passes.passes[l.pass];
            let start_s = plan.timeline.start_s.get(first + i).copied().unwrap_or(0.0);
            self.heat.push((p.label.clone(), start_s - end_s, p.arc_s, p.energy_j));
        }
        for s in &plan.order.steps[done..] {
            self.steps.push(LaidStep {
                setup: s.setup,
                passes: s.passes.iter().map(|l| (label(l.pass), l.welder, l.forward)).collect(),
            });
        }
        for line in &plan.lines {
            let mut act = line.act.clone();
            match &mut act {
                Act::Pass { pass, .. } => {
                    let name = label(*pass);
                    *pass = all.passes.iter().position(|p| p.label == name).expect("a pass of the frame");
                }
                Act::Clamp { clamp } => self.clamps_on.push(*clamp),
                Act::Release { clamp, .. } => self.clamps_on.retain(|c| c != clamp),
                Act::VentOpen { tube } => self.vents_open.push(*tube),
                Act::Turn { setup } => self.setup = *setup,
                _ => {}
            }
            self.acts.push(act);
        }
        self.set.push((self.acts.len(), plan.pull.controls.iter().map(|c| c.set_to).collect()));
        self.clamps_on.sort_unstable();
        self.clamps_on.dedup();
        // The next stage is fitted as the first was: the frame is turned back for it.
        if self.setup != 0
            && !plan.lines.is_empty()
            && !matches!(self.acts.last(), Some(Act::VentClose { .. }))
        {
            let more = judge.frame.stages.len() > 1 && self.stage_steps.len() < judge.frame.stages.len();
            if more && plan.passes.passes.len() < all.passes.len() {
                self.acts.push(Act::Turn { setup: 0 });
                self.events.push(Event::Turn { setup: 0 });
                self.setup = 0;
            }
        }
        if let Some(t) = &plan.tacks {
            self.tacks.second_round = self.tacks.tacks.len() + t.second_round;
            self.tacks.tacks.extend(t.tacks.iter().cloned());
            self.tacks.warnings.extend(t.warnings.iter().cloned());
        }
        if let Some(t) = &plan.tacking {
            self.tacking.notes.extend(t.notes.iter().cloned());
            self.tacking.wait_s.extend(&t.wait_s);
            self.tacking.opening_mm.extend(&t.opening_mm);
            self.tacking.pull.clone_from(&t.pull);
            self.tacking.end_s += t.end_s;
        }
    }
}
