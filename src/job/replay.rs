//! From what was done to what the models say about it: expected readings, what they teach, the
//! outlook at the end, how long each joint must still cool.

use super::card::Task;
use super::event::{Cut, When};
use super::learn::{Belief, Forecast, Learnt, Observation, Prior, learn};
use super::state::{Deed, DeedKind, Job, Reading};
use super::warm::pulses;
use crate::distort::{self, Level, Model, Tack};
use crate::fault::Fault;
use crate::frame::{Frame, PullSettings};
use crate::heat::{Clock, Kernels};
use crate::joint::Joints;
use crate::plan::WeldPlan;
use crate::procedure::Passes;
use crate::sequence::{Laid, Step};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// The models of the frame that a job is about.
pub struct Bench<'a> {
    /// The frame.
    pub frame: &'a Frame,
    /// Its joints.
    pub joints: &'a Joints,
    /// Its passes, as planned; [`as_welded`] for those laid with other settings.
    pub passes: &'a Passes,
    /// The pull model; none if no pull is predicted for this frame.
    pub model: Option<&'a Model>,
    /// The heat model, if heat is to be counted.
    pub kernels: Option<&'a Kernels>,
    /// The tacks by label, if the plan begins with loose tubes.
    pub tacks: Vec<(String, Tack)>,
    /// How finely to look.
    pub level: Level,
}

/// One control: the prediction of the end before and after what the readings taught, as deviations
/// from nominal.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Name of the control.
    pub control: String,
    /// Before the first reading.
    pub before: Forecast,
    /// With the readings.
    pub after: Forecast,
}

/// The passes with the heat of the sheet in force, and with the heat that they were really laid with: a
/// copy in which energy, heat input and arc time are changed where a re-plan changed them or a pass was
/// ticked with other settings.
pub fn as_welded(job: &Job, passes: &Passes) -> Passes {
    let mut out = passes.clone();
    let set = |p: &mut crate::procedure::Pass, energy_j: f64, arc_s: f64| {
        p.heat_input_j_per_mm *= energy_j / p.energy_j.max(f64::MIN_POSITIVE);
        (p.energy_j, p.arc_s) = (energy_j, arc_s);
    };
    let sheet = |label: &str| match job.item(label).map(|i| &i.task) {
        Some(Task::Pass { volts, amps, speed_mm_s, energy_j, arc_s, .. }) => {
            Some((*volts, *amps, *speed_mm_s, *energy_j, *arc_s))
        }
        _ => None,
    };
    let laid = |label: &str| {
        job.deeds.iter().any(|d| matches!(&d.kind, DeedKind::Laid { label: l, .. } if l == label))
    };
    for p in &mut out.passes {
        // A gap that was read changes what is not welded yet, whatever the sheet says.
        let joint = job.item(&p.label).and_then(|i| i.joint());
        if !laid(&p.label) && job.gaps.iter().any(|(j, _)| Some(j.as_str()) == joint) {
            continue;
        }
        if let Some((.., energy_j, arc_s)) = sheet(&p.label) {
            set(p, energy_j, arc_s);
        }
    }
    for deed in &job.deeds {
        let DeedKind::Laid { label, settings: Some(used), .. } = &deed.kind else { continue };
        let Some(p) = out.passes.iter_mut().find(|p| &p.label == label) else { continue };
        if let Some((volts, amps, speed, energy_j, arc_s)) = sheet(label) {
            let (energy, arc) = used.scaled(volts, amps, speed, energy_j, arc_s);
            set(p, energy, arc);
        }
    }
    out
}

/// Put what was learnt into the settings of the pull model for a re-plan, joint by joint: the model is
/// linear in these factors, so the re-plan's prediction is the one that the job itself shows. Goes
/// out: joints (by index) whose factor is out of range and was left at 1.
pub fn replan_settings(belief: &Belief, pull: &mut PullSettings) -> Vec<usize> {
    let (factors, outside) = belief.usable_factors();
    pull.joint_factors = factors;
    // What the search takes for the scatter of all joints together.
    let widest = belief.kind_factors().iter().map(|k| k.2).fold(0.0, f64::max);
    if widest > 0.0 {
        pull.scatter[0] = pull.scatter[0].min(widest);
    }
    outside.into_iter().map(|(j, _)| j).collect()
}

impl<'a> Bench<'a> {
    /// The bench of a plan. `model` and `kernels` are those of the plan's frame, made with
    /// [`as_welded`] passes if any was laid with other settings.
    pub fn of(plan: &'a WeldPlan, model: &'a Model, kernels: &'a Kernels) -> Bench<'a> {
        let tacks = plan.tacks.iter().flat_map(|t| &t.tacks).map(|t| {
            let as_laid =
                Tack { seam: t.seam, line: t.line, at_mm: t.at_mm, length_mm: t.length_mm, pull: 1.0 };
            (plan.tack_label(t.seam, t.number), as_laid)
        });
        Bench {
            frame: &plan.frame,
            joints: &plan.joints,
            passes: &plan.passes,
            model: Some(model),
            kernels: Some(kernels),
            tacks: tacks.collect(),
            level: Level::Fine,
        }
    }
}

/// The passes that hold, as steps at the front of a re-plan's order: in the order in which they were
/// laid, each in the setup in which the frame then lay and in the direction in which it was welded.
pub fn steps_done(job: &Job, frame: &Frame, passes: &Passes) -> Vec<Step> {
    let held = job.progress().welded;
    let mut setup = 0;
    let mut at: Vec<(usize, Laid, usize)> = vec![];
    for deed in &job.deeds {
        match &deed.kind {
            DeedKind::Turned(name) => {
                setup = frame.setups.iter().position(|s| &s.name == name).unwrap_or(setup)
            }
            DeedKind::Laid { label, forward, again: false, .. } if held.contains(label) => {
                if let Some(pass) = passes.passes.iter().position(|p| &p.label == label) {
                    // Welded, cut out and welded again: the last time counts.
                    at.retain(|(p, ..)| *p != pass);
                    at.push((pass, Laid { pass, welder: 0, forward: *forward }, setup));
                }
            }
            _ => {}
        }
    }
    at.into_iter().map(|(_, laid, setup)| Step { setup, passes: vec![laid] }).collect()
}

impl Bench<'_> {
    /// Whether a tack of a seam may still be missing when passes are welded: whoever welds has tacked
    /// before, ticked or not, all that belongs to that weld-out.
    pub(super) fn to_tack(&self) -> impl Fn(usize, &[usize]) -> bool {
        let run = crate::plan::seam_runs(self.frame, self.joints);
        move |seam, welded| welded.iter().all(|&p| run[self.passes.passes[p].seam] < run[seam])
    }

    /// What was done, as the pull model takes it. A seam that was cut out counts as if it had not been
    /// laid before (its walls keep their shrinkage in truth: an approximation).
    pub fn done(&self, job: &Job, deeds: &[Deed]) -> Vec<distort::Event> {
        let clock = self.clock(job, job.header.began);
        let mut events = vec![];
        let mut tacks_left: Vec<&(String, Tack)> = self.tacks.iter().collect();
        let to_tack = self.to_tack();
        for (i, deed) in deeds.iter().enumerate() {
            match &deed.kind {
                DeedKind::Laid { label, .. } if deeds[i..].iter().any(|d| takes_out(job, d, label)) => {
                    tacks_left.retain(|t| &t.0 != label);
                }
                DeedKind::Laid { label, forward, .. } => {
                    if let Some(pass) = self.passes.passes.iter().position(|p| &p.label == label) {
                        let (kept, before): (Vec<_>, Vec<_>) =
                            tacks_left.drain(..).partition(|t| to_tack(t.1.seam, &[pass]));
                        tacks_left = kept;
                        events.extend(before.into_iter().map(|t| distort::Event::Tack(t.1)));
                        if let Some(clock) = &clock {
                            let when = deed.when.unwrap_or(deed.recorded);
                            let t = seconds(job.header.began, when) - self.passes.passes[pass].arc_s;
                            events.push(distort::Event::Warm(clock.tube_rise_k(t)));
                        }
                        events.push(distort::Event::Pass { pass, forward: *forward });
                    } else if let Some(tack) = self.tacks.iter().find(|t| &t.0 == label) {
                        tacks_left.retain(|t| &t.0 != label);
                        events.push(distort::Event::Tack(tack.1));
                    }
                }
                DeedKind::Cut(_) => {}
                DeedKind::Clamped(name) => {
                    events.extend(
                        self.clamp(name).map(|clamp| distort::Event::Clamp { clamp, to_nominal: false }),
                    );
                }
                DeedKind::Released(name) => {
                    events.extend(self.clamp(name).map(|clamp| distort::Event::Release { clamp }));
                }
                DeedKind::Shifted { clamp, along, by_mm } => {
                    let at = self.clamp(clamp).and_then(|c| {
                        let holds = &self.frame.clamps[c].holds;
                        let direction = holds.iter().position(|d| &crate::plan::along(*d) == along)?;
                        Some(distort::Event::Shift { clamp: c, direction, by_mm: *by_mm })
                    });
                    events.extend(at);
                }
                DeedKind::Turned(name) => {
                    let setup = self.frame.setups.iter().position(|s| &s.name == name);
                    events.extend(setup.map(|setup| distort::Event::Turn { setup }));
                }
            }
        }
        events
    }

    /// What is still to be done, in the order of the sheet in force, cold.
    pub fn rest(&self, job: &Job) -> Vec<distort::Event> {
        let mut events = vec![distort::Event::Warm(vec![])];
        let mut together: Option<(usize, Vec<distort::Event>)> = None;
        let welded: Vec<usize> = (0..self.passes.passes.len())
            .filter(|&p| job.done.contains_key(&self.passes.passes[p].label))
            .collect();
        let missing = self.to_tack();
        let to_tack = |label: &str| {
            let tack = self.tacks.iter().find(|t| t.0 == label);
            tack.is_some_and(|t| missing(t.1.seam, &welded))
                || job.deeds.iter().any(|d| takes_out(job, d, label))
        };
        for item in job.open() {
            if let Task::Pass { step, forward, .. } = &item.task {
                let Some(pass) = self.passes.passes.iter().position(|p| p.label == item.label) else {
                    continue;
                };
                let laid = distort::Event::Pass { pass, forward: *forward };
                match &mut together {
                    Some((s, list)) if s == step => list.push(laid),
                    _ => {
                        events.extend(flush(&mut together));
                        together = Some((*step, vec![laid]));
                    }
                }
                continue;
            }
            events.extend(flush(&mut together));
            match &item.task {
                // Whoever welds has tacked before (see `done`), unless the tack was taken out again.
                Task::Tack { .. } if to_tack(&item.label) => {
                    events.extend(
                        self.tacks.iter().find(|t| t.0 == item.label).map(|t| distort::Event::Tack(t.1)),
                    );
                }
                Task::Clamp { clamp } => {
                    events.extend(
                        self.clamp(clamp).map(|clamp| distort::Event::Clamp { clamp, to_nominal: false }),
                    );
                }
                Task::Release { clamp, .. } => {
                    events.extend(self.clamp(clamp).map(|clamp| distort::Event::Release { clamp }));
                }
                Task::Turn { setup } => {
                    let at = self.frame.setups.iter().position(|s| &s.name == setup);
                    events.extend(at.map(|setup| distort::Event::Turn { setup }));
                }
                _ => {}
            }
        }
        events.extend(flush(&mut together));
        events
    }

    /// A reading with what the models say about its moment.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn observation(&self, job: &Job, reading: &Reading) -> Result<Observation, Fault> {
        self.observed(job, reading, &mut BTreeMap::new())
    }

    /// As [`Bench::observation`]; readings of one stop share their moment.
    fn observed(
        &self,
        job: &Job,
        reading: &Reading,
        moments: &mut BTreeMap<(usize, bool), distort::Moment>,
    ) -> Result<Observation, Fault> {
        let key = (reading.after, reading.clamped);
        let m = match moments.entry(key) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(free) => {
                let events = self.done(job, &job.deeds[..reading.after]);
                free.insert(self.model()?.moment(&events, self.level, &[], !reading.clamped)?)
            }
        };
        let t = seconds(job.header.began, reading.at);
        m.warm(&self.clock(job, job.header.began).map_or(vec![], |c| c.tube_rise_k(t)));
        let (r, control) = (reading.control, &job.header.controls[reading.control]);
        Ok(Observation {
            control: r,
            deviation: reading.deviation,
            error: reading.error,
            expected: control.set_to + m.controls[r] + m.thermal[r],
            thermal: m.thermal[r],
            by_joint: m.by_joint[r].clone(),
            other: m.other[r],
            confirmed: reading.confirmed,
            tolerance: control.tolerance,
        })
    }

    /// Learn from all readings of the job that count. Goes out: what was learnt, and the number of the
    /// record of each reading that was judged, in the same order.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn learn(&self, job: &Job) -> Result<(Learnt, Vec<u64>), Fault> {
        let counted: Vec<&Reading> = job.readings.iter().filter(|r| !r.replaced).collect();
        let mut moments = BTreeMap::new();
        let observations: Vec<Observation> =
            counted.iter().map(|r| self.observed(job, r, &mut moments)).collect::<Result<_, _>>()?;
        let learnt = learn(&kinds(job), &self.prior(job), &observations);
        Ok((learnt, counted.iter().map(|r| r.n).collect()))
    }

    /// What is believed before the first reading.
    pub fn prior(&self, job: &Job) -> Prior {
        let units: Vec<&str> = job.header.controls.iter().map(|c| c.unit.as_str()).collect();
        let mut prior = Prior::new(self.frame.pull.scatter, self.frame.shop.fit_up_mm, &units);
        if let Some(model) = self.model {
            // An angle as tacked is as uncertain as its shorter arm makes it.
            let known = self.frame.controls.len();
            for (r, sd) in prior.offset.iter_mut().enumerate().take(known) {
                *sd = model.fit_up_sd(r);
            }
        }
        prior
    }

    /// The prediction of the end, cold and free, if the rest is welded as the sheet says.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn outlook(&self, job: &Job, belief: &Belief) -> Result<Vec<Outlook>, Fault> {
        self.outlook_with(job, belief, None)
    }

    /// As [`Bench::outlook`]; `other`: the scatter of what is not learnt after the readings, if it is known
    /// better than that before them (it grows and shrinks with the shrinkage itself).
    pub(super) fn outlook_with(
        &self,
        job: &Job,
        belief: &Belief,
        other: Option<&[f64]>,
    ) -> Result<Vec<Outlook>, Fault> {
        let mut events = self.done(job, &job.deeds);
        events.extend(self.rest(job));
        let m = self.model()?.moment(&events, self.level, &[], true)?;
        let fresh = Belief::new(&kinds(job), &self.prior(job));
        let one = |(r, c): (usize, &super::card::ControlCard)| {
            let expected = c.set_to + m.controls[r];
            let now = other.map_or(m.other[r], |o| o[r]);
            Outlook {
                control: c.name.clone(),
                before: fresh.forecast(r, expected, &m.by_joint[r], m.other[r]),
                after: belief.forecast(r, expected, &m.by_joint[r], now),
            }
        };
        Ok(job.header.controls.iter().enumerate().map(one).collect())
    }

    /// Minutes until each open pass is under its interpass limit, by label; 0 = now. What was read at
    /// a joint corrects what the model says of it.
    pub fn minutes(&self, job: &Job, now: When) -> BTreeMap<String, f64> {
        let Some(clock) = self.clock(job, now) else { return BTreeMap::new() };
        let air = self.frame.shop.ambient_c;
        let mut out = BTreeMap::new();
        for item in job.open() {
            let Task::Pass { joint, under_c, .. } = &item.task else { continue };
            let Some(pass) = self.passes.passes.iter().position(|p| p.label == item.label) else { continue };
            let ratio = self.read_against_model(job, &clock, joint, now);
            // The rise is `ratio` times what the model says, so the model must be lower by as much.
            let limit = air + (under_c - air) / ratio;
            out.insert(item.label.clone(), clock.wait_under(pass, 0.0, limit) / 60.0);
        }
        out
    }

    /// What the heat model says of the joint at the start of each pass that was laid at a known time, °C,
    /// by number of its record.
    pub fn before_c(&self, job: &Job) -> BTreeMap<u64, f64> {
        let zero = job.header.began;
        let Some(clock) = self.clock(job, zero) else { return BTreeMap::new() };
        let mut out = BTreeMap::new();
        for d in &job.deeds {
            let (DeedKind::Laid { label, .. }, Some(when)) = (&d.kind, d.when) else { continue };
            if let Some(pass) = self.passes.passes.iter().position(|p| &p.label == label) {
                let start = seconds(zero, when) - self.passes.passes[pass].arc_s;
                out.insert(d.n, clock.temperature_at_pass(pass, start));
            }
        }
        out
    }

    /// How many times warmer (rise above air) a joint was when it was last read than the model said.
    fn read_against_model(&self, job: &Job, clock: &Clock, joint: &str, now: When) -> f64 {
        let last = job.temperatures.iter().rev().find(|t| t.0 == joint);
        let index = self.joints.joints.iter().position(|j| j.name == joint);
        let (Some((_, read_c, at)), Some(index)) = (last, index) else { return 1.0 };
        let air = self.frame.shop.ambient_c;
        let model = clock.temperature(index, seconds(now, *at)) - air;
        // Near the air both are noise.
        if model < 10.0 || read_c - air < 1.0 {
            return 1.0;
        }
        ((read_c - air) / model).clamp(0.2, 5.0)
    }

    /// All heat that went in so far; its time 0 is `zero`.
    fn clock(&self, job: &Job, zero: When) -> Option<Clock<'_>> {
        let mut clock = Clock::new(self.kernels?);
        for p in pulses(job, zero) {
            if let Some(pass) = self.passes.passes.iter().position(|q| q.label == p.label) {
                clock.put(pass, -p.ended_s_ago - p.arc_s, p.arc_s, p.energy_j);
            }
        }
        Some(clock)
    }

    fn model(&self) -> Result<&Model, Fault> {
        self.model.ok_or_else(|| Fault::new("W705", "no pull is predicted for this frame"))
    }

    fn clamp(&self, name: &str) -> Option<usize> {
        self.frame.clamps.iter().position(|c| c.name == name)
    }
}

fn flush(together: &mut Option<(usize, Vec<distort::Event>)>) -> Option<distort::Event> {
    let (_, mut list) = together.take()?;
    if list.len() == 1 { list.pop() } else { Some(distort::Event::Together(list)) }
}

fn takes_out(job: &Job, deed: &Deed, label: &str) -> bool {
    match &deed.kind {
        DeedKind::Cut(Cut::Tack(t)) => t == label,
        DeedKind::Cut(Cut::Seam(s)) => job.item(label).and_then(|i| i.seam()) == Some(s),
        _ => false,
    }
}

fn kinds(job: &Job) -> Vec<&str> {
    job.header.joints.iter().map(|j| j.kind.as_str()).collect()
}

fn seconds(from: When, to: When) -> f64 {
    to.duration_since(from).as_secs_f64()
}
