//! The models of a running job, built from what its record holds; what its readings say; what a
//! re-plan starts from.

use super::learn::Belief;
use super::shop::Shop;
use super::{
    Bench, Cut, DeedKind, GateState, Header, Job, Judged, Outlook, Task, When, as_welded, pulses,
    replan_settings, steps_done,
};
use crate::distort::{Level, Model, Tack, tack_heat};
use crate::fault::Fault;
use crate::frame::{self, Frame};
use crate::heat::Kernels;
use crate::plan::{self, Effort, From, Heat, Levers, Options, PULL_LIMIT_PASSES, Parts, Spread, Underway};
use crate::procedure;
use crate::sequence::{Laid, Step};
use crate::tack::{self, Tacks};

/// Frame, parts and models of a job. The passes carry the heat that they were really laid with, so it
/// must be built again when a pass was ticked with other settings.
pub struct Floor {
    /// The frame as it was when the job began, with the shop's factors that its plan used.
    pub frame: Frame,
    /// Joints, seams, passes.
    pub parts: Parts,
    /// The tacks of the frame, if the job began with loose tubes.
    pub tacks: Option<Tacks>,
    /// Heat with which the tacks were laid, J/mm, by seam.
    tack_q_j_mm: Vec<f64>,
    /// None if the frame is too large for the pull model or has no controls.
    model: Option<Model>,
    kernels: Kernels,
}

/// What the readings say: the outlook of every control and what was learnt.
pub struct Said {
    /// What is known of the shrinkage.
    pub belief: Belief,
    /// Verdict of each reading that counts, by number of its record.
    pub judged: Vec<(u64, Judged)>,
    /// Every control at the end.
    pub outlook: Vec<Outlook>,
}

impl super::Header {
    /// The frame as it was when the job began, with the shop's materials and factors that its plan used.
    ///
    /// # Errors
    /// The frame or the shop's file in the record cannot be read (written by another version).
    pub fn frame_as_begun(&self) -> Result<Frame, Vec<Fault>> {
        let shop = match self.shop.as_str() {
            "" => Shop::default(),
            text => Shop::read(text)
                .map_err(|e| vec![Fault::new("E701", format!("the shop's factors in this record: {e}"))])?,
        };
        let mut frame = frame::read_with(&self.frame, &shop.own_materials())?.value;
        if let Some(w) = self.welders {
            // As many as a frame file may name.
            if !(1..=4).contains(&w) {
                return Err(vec![Fault::new("E702", format!("{w} welders cannot have begun this job"))]);
            }
            frame.shop.welders = w;
        }
        shop.factors().apply(&mut frame.pull);
        Ok(frame)
    }
}

impl Floor {
    /// Build everything from the record's own copy of the frame file.
    ///
    /// # Errors
    /// The frame or the shop's factors in the record cannot be read (written by another version).
    pub fn of(job: &Job) -> Result<Floor, Vec<Fault>> {
        let h = &job.header;
        let frame = job.header.frame_as_begun()?;
        let mut parts = plan::parts(&frame)?;
        fits(h, &frame, &parts)?;
        // Tacks were laid with the heat of the first plan, whatever came after.
        let tack_q_j_mm = tack_heat(&parts.seams, &parts.passes);
        // Gaps that were read hold for what is not welded yet; what is welded carries its own heat.
        let laid: Vec<String> = job
            .deeds
            .iter()
            .filter_map(|d| match &d.kind {
                DeedKind::Laid { label, .. } => Some(label.clone()),
                _ => None,
            })
            .collect();
        for (name, gap_mm) in &job.gaps {
            let joint = parts.joints.joints.iter().position(|j| j.name.eq_ignore_ascii_case(name));
            if let Some(joint) = joint {
                let Parts { joints, seams, passes, .. } = &mut parts;
                procedure::with_gap(&frame, joints, seams, passes, joint, *gap_mm, &laid);
            }
        }
        parts.passes = as_welded(job, &parts.passes);
        let tacked = job.known().any(|i| matches!(i.task, Task::Tack { .. }));
        let tacks = tacked.then(|| tack::tacks(&frame, &parts.joints, &parts.seams));
        let model = if frame.controls.is_empty() || parts.passes.passes.len() > PULL_LIMIT_PASSES {
            None
        } else {
            let mut model = Model::new(&frame, &parts.joints, &parts.seams, &parts.passes)?;
            model.set_tack_heat(tack_q_j_mm.clone());
            Some(model)
        };
        let kernels = Kernels::new(&frame, &parts.joints, &parts.seams, &parts.passes);
        Ok(Floor { frame, parts, tacks, tack_q_j_mm, model, kernels })
    }

    /// The pull model, if there is one.
    pub fn model(&self) -> Option<&Model> {
        self.model.as_ref()
    }

    /// From what the cautions of this job follow.
    pub fn cautions_of(&self, job: &Job) -> (Option<(f64, String)>, bool) {
        let items = || job.cards.iter().flat_map(|c| &c.items);
        let spring = items()
            .filter_map(|i| match &i.task {
                Task::Release { clamp, force_n } if *force_n > 0.0 => Some((*force_n, clamp.clone())),
                _ => None,
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        (spring, items().any(|i| matches!(i.task, Task::Turn { .. })))
    }

    /// The tacks with their labels: label, (seam, number).
    pub fn tack_labels(&self) -> Vec<(String, (usize, usize))> {
        let tacks = self.tacks.iter().flat_map(|t| &t.tacks);
        tacks
            .map(|t| (format!("{}-t{}", self.parts.seams.seams[t.seam].name, t.number), (t.seam, t.number)))
            .collect()
    }

    /// The models as the job's questions take them.
    pub fn bench(&self) -> Bench<'_> {
        let laid = self.tacks.iter().flat_map(|t| &t.tacks).map(|t| Tack {
            seam: t.seam,
            line: t.line,
            at_mm: t.at_mm,
            length_mm: t.length_mm,
            pull: 1.0,
        });
        Bench {
            frame: &self.frame,
            joints: &self.parts.joints,
            passes: &self.parts.passes,
            model: self.model.as_ref(),
            kernels: Some(&self.kernels),
            tacks: self.tack_labels().into_iter().map(|t| t.0).zip(laid).collect(),
            level: Level::Fine,
        }
    }

    /// What the readings say; nothing if no pull is predicted for this frame.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn said(&self, job: &Job) -> Result<Option<Said>, Fault> {
        if self.model.is_none() {
            return Ok(None);
        }
        let bench = self.bench();
        let (learnt, numbers) = bench.learn(job)?;
        let other = self.other_at_the_end(job, &learnt.belief)?;
        let outlook = bench.outlook_with(job, &learnt.belief, other.as_deref())?;
        Ok(Some(Said {
            belief: learnt.belief,
            judged: numbers.into_iter().zip(learnt.judged).collect(),
            outlook,
        }))
    }

    /// The scatter at the end of what is not learnt, with the shrinkage as it was learnt; none if nothing
    /// was.
    fn other_at_the_end(&self, job: &Job, belief: &Belief) -> Result<Option<Vec<f64>>, Fault> {
        let (factors, _) = belief.usable_factors();
        if factors.iter().all(|f| *f == 1.0) {
            return Ok(None);
        }
        let mut frame = self.frame.clone();
        frame.pull.joint_factors = factors;
        let (p, bench) = (&self.parts, self.bench());
        let made = Model::new(&frame, &p.joints, &p.seams, &p.passes);
        let mut model = made.map_err(|mut f| f.remove(0))?;
        model.set_tack_heat(self.tack_q_j_mm.clone());
        let mut events = bench.done(job, &job.deeds);
        events.extend(bench.rest(job));
        Ok(Some(model.moment(&events, Level::Fine, &[], true)?.other))
    }

    /// The frame for a re-plan: what was learnt of the shrinkage is in it. Goes out beside it: joints
    /// whose factor is out of range and was left alone.
    pub fn learnt_frame(&self, said: Option<&Said>) -> (Frame, Vec<String>) {
        let mut frame = self.frame.clone();
        let Some(said) = said else { return (frame, vec![]) };
        let outside = replan_settings(&said.belief, &mut frame.pull);
        let names = outside.into_iter().map(|j| self.parts.joints.joints[j].name.clone()).collect();
        (frame, names)
    }

    /// How a re-plan of this job begins.
    pub fn options(&self, job: &Job, effort: Effort, seed: Option<u64>) -> Options {
        Options {
            seed: seed.unwrap_or(job.header.seed),
            effort,
            frame_sha256: job.header.frame_sha256.clone(),
            from: if self.tacks.is_some() { From::Tacks } else { From::WeldOut },
        }
    }

    /// The job as the planner takes it; `now` becomes its time zero. What the re-plan may change is in
    /// `levers` (as a rule, order, direction and clamps).
    pub fn underway(&self, job: &Job, said: Option<&Said>, now: When) -> Underway {
        let frame = &self.frame;
        let passes = &self.parts.passes;
        let progress = job.progress();
        let index = |label: &str| passes.passes.iter().position(|p| p.label == label);
        let heat = pulses(job, now)
            .into_iter()
            .filter_map(|p| {
                let pass = index(&p.label)?;
                Some(Heat { pass, from_s: -p.ended_s_ago - p.arc_s, arc_s: p.arc_s, energy_j: p.energy_j })
            })
            .collect();
        let offsets = said.map(|s| s.belief.offsets());
        let set = job
            .header
            .controls
            .iter()
            .enumerate()
            .map(|(r, c)| c.set_to + offsets.as_ref().map_or(0.0, |o| o[r].0))
            .collect();
        let setup =
            progress.setup.as_ref().and_then(|s| frame.setups.iter().position(|f| &f.name == s)).unwrap_or(0);
        let bench = self.bench();
        let to_tack = bench.to_tack();
        let welded: Vec<usize> = progress.welded.iter().filter_map(|l| index(l)).collect();
        let tacks_left = self
            .tack_labels()
            .into_iter()
            .filter(|(label, _)| !progress.tacked.contains(label))
            // Whoever welds has tacked before, ticked or not, unless the tack was taken out again.
            .filter(|(label, (seam, _))| to_tack(*seam, &welded) || taken_out(job, label))
            .map(|t| t.1)
            .collect();
        let (clamps_on, clamps_off) = self.clamps(job, setup);
        let tubes = |open: bool| -> Vec<usize> {
            let done = job.known().filter(|i| job.done.contains_key(&i.label));
            done.filter_map(|i| match &i.task {
                Task::VentOpen { tube } if open => Some(tube),
                Task::VentClose { tube } if !open => Some(tube),
                _ => None,
            })
            .filter_map(|name| frame.tubes.iter().position(|t| &t.name == name))
            .collect()
        };
        Underway {
            revision: progress.revision,
            done: steps_done(job, frame, passes),
            events: self.bench().done(job, &job.deeds),
            tack_q_j_mm: self.tack_q_j_mm.clone(),
            heat,
            set,
            setup,
            clamps_on,
            clamps_off,
            tacks_left,
            vents_open: tubes(true),
            vents_closed: tubes(false),
            read_as_tacked: !matches!(job.gate(), GateState::Shut { .. }),
            staged: false,
            authority: true,
            levers: Levers::default(),
            sheet: self.sheet_left(job),
            spread: said.map(|s| {
                let (joints, covariance) = s.belief.joints_and_offsets();
                Spread { joints, covariance }
            }),
        }
    }

    /// What is left, as steps in the order of the sheet in force.
    fn sheet_left(&self, job: &Job) -> Vec<Step> {
        let mut steps: Vec<(usize, Step)> = vec![];
        for item in job.open() {
            let Task::Pass { step, setup, forward, welder, .. } = &item.task else { continue };
            let pass = self.parts.passes.passes.iter().position(|p| p.label == item.label);
            let setup = self.frame.setups.iter().position(|s| &s.name == setup);
            let (Some(pass), Some(setup)) = (pass, setup) else { continue };
            let laid = Laid { pass, welder: *welder, forward: *forward };
            match steps.last_mut() {
                Some((s, list)) if s == step => list.passes.push(laid),
                _ => steps.push((*step, Step { setup, passes: vec![laid] })),
            }
        }
        steps.into_iter().map(|s| s.1).collect()
    }

    /// Whether a tube is in the frame yet: of one built in stages, if something of its stage was laid.
    fn there(&self, job: &Job, tube: usize) -> bool {
        let stage_of = |t: usize| self.frame.stages.iter().position(|s| s.tubes.contains(&t));
        let Some(stage) = stage_of(tube) else { return true };
        job.deeds.iter().any(|d| {
            let DeedKind::Laid { label, .. } = &d.kind else { return false };
            let seam = job.item(label).and_then(|i| i.seam());
            let seam = self.parts.seams.seams.iter().position(|s| Some(s.name.as_str()) == seam);
            seam.is_some_and(|s| {
                let m = &self.parts.joints.meets[s];
                m.carriers.iter().map(|c| c.0).chain([m.branch.0]).any(|t| stage_of(t) >= Some(stage))
            })
        })
    }

    /// Clamps that are on, and those that were taken off in this setup and stay off. Before anything
    /// is welded only ticked clamps are on; afterwards those of the setup, ticked or not.
    fn clamps(&self, job: &Job, setup: usize) -> (Vec<usize>, Vec<usize>) {
        let of_setup = |s: usize| {
            let list = self.frame.clamps.iter().enumerate();
            // Of a frame built in stages, clamps on tubes that are not there yet are not on.
            list.filter(move |(_, c)| c.setups.is_empty() || c.setups.contains(&s))
                .filter(|(_, c)| self.there(job, c.tube))
                .map(|(i, _)| i)
        };
        let index = |name: &String| self.frame.clamps.iter().position(|c| &c.name == name);
        let welded = job.deeds.iter().any(|d| matches!(d.kind, DeedKind::Laid { .. }));
        let mut on: Vec<usize> = if welded { of_setup(0).collect() } else { vec![] };
        let mut off = vec![];
        for d in &job.deeds {
            match &d.kind {
                DeedKind::Clamped(name) => on.extend(index(name)),
                DeedKind::Released(name) => {
                    off.extend(index(name));
                    on.retain(|c| Some(*c) != index(name));
                }
                DeedKind::Turned(name) => {
                    let now = self.frame.setups.iter().position(|s| &s.name == name).unwrap_or(setup);
                    on = of_setup(now).collect();
                    off.clear();
                }
                _ => {}
            }
        }
        on.sort_unstable();
        on.dedup();
        off.retain(|c| !on.contains(c));
        (on, off)
    }
}

/// Joints and controls of a record are counted as its own frame has them; another version of the program, or
/// another hand, may have it otherwise.
fn fits(h: &Header, frame: &Frame, parts: &Parts) -> Result<(), Vec<Fault>> {
    let joints = h.joints.iter().map(|j| &j.name).eq(parts.joints.joints.iter().map(|j| &j.name));
    let of_record = h.controls.iter().map(|c| (c.name.as_str(), c.unit.as_str()));
    let controls = of_record.eq(frame.controls.iter().map(|c| (c.name.as_str(), c.kind.unit())));
    if joints && controls {
        return Ok(());
    }
    let what = if joints { "controls" } else { "joints" };
    let words =
        format!("its {what} are not those that the record names; another version of the program wrote it");
    Err(vec![Fault::new("E702", words)])
}

fn taken_out(job: &Job, tack: &str) -> bool {
    let seam = job.item(tack).and_then(|i| i.seam());
    job.deeds.iter().any(|d| match &d.kind {
        DeedKind::Cut(Cut::Tack(t)) => t == tack,
        DeedKind::Cut(Cut::Seam(s)) => seam == Some(s.as_str()),
        _ => false,
    })
}
