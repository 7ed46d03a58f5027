//! A frame built in stages: each planned in turn, in one and the same elimination.
//!
//! The model is the simplest honest one. Tubes of later stages are not joined yet, they lie at their
//! nominal places. What an earlier stage was welded to has pulled; the next stage's tacks set at the
//! gaps that are then there, with no force, and everything goes on from that. Clamps stay on between
//! stages. So deviations carry over into the fit-up, and forces do not appear from nowhere.

use super::again::{Heat, Steered, Underway, steered};
use super::judge::{Judge, as_laid};
use super::lines::{self, StageRun, stage_of_seam, there};
use super::make::{Options, Parts, Watch, audit_stage, open_at_gate, work_out};
use super::question::question;
use super::{Act, Remark, Tacking, WeldPlan};
use crate::distort::{Event, Level, tack_events};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::joint::Joints;
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
    Ok(in_turn(frame, parts, None, options, watch)?.0)
}

/// The rest of a job on such a frame: what is left of the stage in hand, then the stages that follow.
/// What the levers can do is said of the stage in hand; the authority is moved to the end that is foreseen.
///
/// # Errors
/// As [`super::plan`].
pub(super) fn replan(
    frame: &Frame,
    parts: &Parts,
    underway: &Underway,
    options: &Options,
    watch: &Watch,
) -> Result<(WeldPlan, Steered), Vec<Fault>> {
    let (plan, mut steered) = in_turn(frame, parts, Some(underway), options, watch)?;
    for (r, p) in steered.reach.iter_mut().zip(&plan.pull.controls) {
        let later = p.residual - r.foreseen;
        (r.foreseen, r.scatter) = (p.residual, p.scatter);
        (r.least, r.most) = (r.least + later, r.most + later);
    }
    Ok((plan, steered))
}

/// To which weld-out of a frame built in stages each seam belongs, counted from 0; all to the first of
/// a frame built in one go.
pub fn seam_runs(frame: &Frame, joints: &Joints) -> Vec<usize> {
    let stage: Vec<usize> = (0..joints.meets.len()).map(|s| stage_of_seam(frame, joints, s)).collect();
    if frame.stages.is_empty() {
        return stage;
    }
    let runs = runs(frame, &stage);
    stage.iter().map(|&s| runs.iter().position(|r| s <= r.welded).unwrap_or(0)).collect()
}

fn in_turn(
    frame: &Frame,
    parts: &Parts,
    base: Option<&Underway>,
    options: &Options,
    watch: &Watch,
) -> Result<(WeldPlan, Steered), Vec<Fault>> {
    if !frame.wishes.by_hand.is_empty() {
        let fault = Fault::new("E504", "an order by hand cannot be judged for a frame built in stages");
        return Err(vec![fault.help("take out the [[stage]] tables, or `by_hand`")]);
    }
    let seam_stage: Vec<usize> =
        (0..parts.joints.meets.len()).map(|s| stage_of_seam(frame, &parts.joints, s)).collect();
    let all_tacks = tack::tacks(frame, &parts.joints, &parts.seams);
    let left = |t: &tack::Tack| base.is_none_or(|u| u.tacks_left.contains(&(t.seam, t.number)));
    let is_laid = |p: usize| base.is_some_and(|u| u.done.iter().flat_map(|s| &s.passes).any(|l| l.pass == p));
    let mut carried = base.map_or_else(Carried::default, |u| Carried::of(u, parts));
    let (mut made, mut in_hand): (Option<WeldPlan>, Option<Steered>) = (None, None);
    for mut run in runs(frame, &seam_stage) {
        let mut tacks: Vec<tack::Tack> = Vec::new();
        let mut second_round = 0;
        for stage in run.first..=run.welded {
            let own: Vec<&tack::Tack> =
                all_tacks.tacks.iter().filter(|t| seam_stage[t.seam] == stage).collect();
            // The stop half way belongs to the last stage of a run: the others are tacked to it whole.
            second_round = tacks.len() + own.iter().filter(|t| t.number <= 2).count();
            tacks.extend(own.into_iter().cloned());
            let all = &parts.passes.passes;
            let begun = all_tacks.tacks.iter().any(|t| seam_stage[t.seam] == stage && !left(t))
                || (0..all.len()).any(|p| seam_stage[all[p].seam] == stage && is_laid(p));
            run.begun = if begun { Some(stage) } else { run.begun };
        }
        let warnings = if run.last { all_tacks.warnings.clone() } else { vec![] };
        let tacks = Tacks { tacks, second_round, warnings };
        let own = |p: usize| (run.first..=run.welded).contains(&seam_stage[parts.passes.passes[p].seam]);
        let open = (0..parts.passes.passes.len()).any(|p| own(p) && !is_laid(p));
        if !run.last && !open && !tacks.tacks.iter().any(left) {
            // Welded out already.
            carried.passed(&tacks);
            continue;
        }
        // A seam that somebody welded ahead of its stage is there already.
        let ahead = |seam: usize| {
            (0..parts.passes.passes.len()).any(|p| parts.passes.passes[p].seam == seam && is_laid(p))
        };
        let passes = only(&parts.passes, |seam| seam_stage[seam] <= run.welded || ahead(seam));
        let sub = Parts { passes, ..parts.clone() };
        let index = |label: &str| sub.passes.passes.iter().position(|p| p.label == label);
        let here = wishes_of(frame, &sub);
        let mut q = question(&here, &sub.joints, &sub.seams, &sub.passes)?;
        let steps = |list: &[LaidStep]| -> Vec<Step> {
            let one = |s: &LaidStep| Step {
                setup: s.setup,
                passes: (s.passes.iter())
                    .filter_map(|(label, welder, forward)| {
                        Some(Laid { pass: index(label)?, welder: *welder, forward: *forward })
                    })
                    .collect(),
            };
            list.iter().map(one).filter(|s| !s.passes.is_empty()).collect()
        };
        q.done = steps(&carried.steps);
        // A stage begins as the first did, unless it was turned over already.
        let further = !q.done.is_empty()
            && carried.steps.iter().all(|s| {
                let own = |(l, ..): &(String, usize, bool)| {
                    (0..parts.passes.passes.len()).any(|p| own(p) && &parts.passes.passes[p].label == l)
                };
                s.setup == carried.setup || !s.passes.iter().any(own)
            });
        q.lying = further.then_some(carried.setup);
        q.hold_before_turning();
        let local = |p: usize| index(&parts.passes.passes[p].label).expect("what is welded is there");
        let mut underway = carried.underway(base, &tacks, &q.done, &index, &local);
        if let Some(u) = &mut underway {
            u.sheet = steps(&carried.sheet);
            // The gate that the job knows of is that of the stage in hand.
            u.read_as_tacked = made.is_none()
                && base.is_some_and(|b| {
                    b.read_as_tacked || (0..parts.passes.passes.len()).any(|p| own(p) && is_laid(p))
                });
        }
        let mut judge = Judge::new(&here, &sub, None)?;
        let to_lay =
            Tacks { tacks: tacks.tacks.iter().filter(|t| left(t)).cloned().collect(), ..tacks.clone() };
        judge.tacks = tack_events(&as_laid(&to_lay));
        judge.underway = underway.as_ref();
        judge.there = (0..frame.controls.len()).map(|c| there(frame, &parts.joints, c, run.welded)).collect();
        if let (Some(model), Some(u)) = (judge.model.as_mut(), base.filter(|u| !u.tack_q_j_mm.is_empty())) {
            model.set_tack_heat(u.tack_q_j_mm.clone());
        }
        open_at_gate(&mut judge).map_err(|f| vec![f])?;
        let mut plan = work_out(&q, &mut judge, Some(tacks), Some(run), options, watch)?;
        let wrong = audit_stage(&plan, &q.done, q.lying);
        if !wrong.is_empty() {
            let words = format!(
                "a stage did not pass the plan's own audit, a fault of the program: {}",
                wrong.join("; ")
            );
            return Err(vec![Fault::new("E505", words)]);
        }
        if base.is_some() && in_hand.is_none() {
            in_hand = Some(steered(&q, &judge, &plan, options, watch)?);
        }
        if run.last && base.is_none() {
            plan.build_to = judge.build_to(&plan.pull);
        }
        carried.take(&plan, &judge, parts, run)?;
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
               what an earlier stage has pulled is bridged by the gap of the next tacks, without force. Push a fitted \
               stage where the readings want it before it is tacked."
            .into(),
        first: false,
    });
    Ok((plan, in_hand.unwrap_or_default()))
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
            out.push(StageRun { first, welded: i, last: i == last, begun: None });
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

/// An event with its passes numbered otherwise.
fn renumber(event: &Event, number: &impl Fn(usize) -> usize) -> Event {
    match event {
        Event::Pass { pass, forward } => Event::Pass { pass: number(*pass), forward: *forward },
        Event::Together(list) => Event::Together(list.iter().map(|e| renumber(e, number)).collect()),
        other => other.clone(),
    }
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
    /// What is left in the order of a job's old sheet.
    sheet: Vec<LaidStep>,
    stage_steps: Vec<usize>,
    /// With passes numbered as in the whole frame.
    events: Vec<Event>,
    /// Label, start before the end of the last stage, arc time, energy.
    heat: Vec<(String, f64, f64, f64)>,
    acts: Vec<Act>,
    /// Number of acts after each run, and what each control was set to in it.
    set: Vec<(usize, Vec<f64>)>,
    tacks: Tacks,
    tacking: Tacking,
    clamps_on: Vec<usize>,
    clamps_off: Vec<usize>,
    vents_open: Vec<usize>,
    setup: usize,
}

impl Carried {
    /// What a job has done so far.
    fn of(u: &Underway, parts: &Parts) -> Carried {
        let label = |p: usize| parts.passes.passes[p].label.clone();
        let by_label = |steps: &[Step]| {
            let one = |s: &Step| LaidStep {
                setup: s.setup,
                passes: s.passes.iter().map(|l| (label(l.pass), l.welder, l.forward)).collect(),
            };
            steps.iter().map(one).collect()
        };
        Carried {
            steps: by_label(&u.done),
            sheet: by_label(&u.sheet),
            events: u.events.clone(),
            heat: u.heat.iter().map(|h| (label(h.pass), h.from_s, h.arc_s, h.energy_j)).collect(),
            clamps_on: u.clamps_on.clone(),
            clamps_off: u.clamps_off.clone(),
            vents_open: u.vents_open.clone(),
            setup: u.setup,
            ..Carried::default()
        }
    }

    /// As a re-plan takes it; nothing before the first stage of a first plan.
    fn underway(
        &self,
        base: Option<&Underway>,
        tacks: &Tacks,
        done: &[Step],
        index: &impl Fn(&str) -> Option<usize>,
        local: &impl Fn(usize) -> usize,
    ) -> Option<Underway> {
        if self.acts.is_empty() && base.is_none() {
            return None;
        }
        let left = |t: &&tack::Tack| base.is_none_or(|u| u.tacks_left.contains(&(t.seam, t.number)));
        Some(Underway {
            done: done.to_vec(),
            events: self.events.iter().map(|e| renumber(e, local)).collect(),
            heat: self
                .heat
                .iter()
                .filter_map(|(label, from_s, arc_s, energy_j)| {
                    Some(Heat { pass: index(label)?, from_s: *from_s, arc_s: *arc_s, energy_j: *energy_j })
                })
                .collect(),
            setup: self.setup,
            clamps_on: self.clamps_on.clone(),
            clamps_off: self.clamps_off.clone(),
            tacks_left: tacks.tacks.iter().filter(left).map(|t| (t.seam, t.number)).collect(),
            vents_open: self.vents_open.clone(),
            staged: true,
            sheet: vec![],
            ..base.cloned().unwrap_or_default()
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

    /// A run that was welded out before: only its tacks are told of.
    fn passed(&mut self, tacks: &Tacks) {
        self.tacks.tacks.extend(tacks.tacks.iter().cloned());
        self.tacking.notes.extend(tacks.tacks.iter().map(|_| String::new()));
        self.tacking.wait_s.extend(tacks.tacks.iter().map(|_| 0.0));
        self.tacking.opening_mm.extend(tacks.tacks.iter().map(|_| 0.0));
    }

    /// Take over what a stage did.
    fn take(
        &mut self,
        plan: &WeldPlan,
        judge: &Judge,
        parts: &Parts,
        run: StageRun,
    ) -> Result<(), Vec<Fault>> {
        let label = |p: usize| plan.passes.passes[p].label.clone();
        let whole = |p: usize| {
            let name = label(p);
            parts.passes.passes.iter().position(|p| p.label == name).expect("a pass of the frame")
        };
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
                Act::Pass { pass, .. } => *pass = whole(*pass),
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
        self.clamps_off.clear();
        // The next stage is fitted as the first was: the frame is turned back for it.
        if self.setup != 0 && !run.last {
            if let Some(model) = &judge.model {
                let begun = model.begin(&self.events, Level::Fine).map_err(|f| vec![f])?;
                for &clamp in &self.clamps_on {
                    let force = begun.clamp_force_n(clamp).map_err(|f| vec![f])?;
                    let force_n = force.iter().map(|f| f * f).sum::<f64>().sqrt();
                    self.acts.push(Act::Release { clamp, force_n });
                }
            }
            self.clamps_on.clear();
            self.acts.push(Act::Turn { setup: 0 });
            self.events.push(Event::Turn { setup: 0 });
            self.setup = 0;
        }
        self.events = self.events.iter().map(|e| renumber(e, &whole)).collect();
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
        Ok(())
    }
}
