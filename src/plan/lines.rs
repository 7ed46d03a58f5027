//! From an order to the numbered lines of the sheet: clamps, vents, tacks, passes, waits, turns,
//! holds, in the order of work.

use super::again::Underway;
use super::hold::Hold;
use super::{Act, Line};
use crate::frame::{Frame, Release};
use crate::heat::Timeline;
use crate::joint::Joints;
use crate::procedure::Passes;
use crate::seam::Seams;
use crate::sequence::Order;
use crate::tack::Tacks;

/// What the lines are made from.
pub struct Course<'a> {
    /// The frame.
    pub frame: &'a Frame,
    /// Its joints.
    pub joints: &'a Joints,
    /// Its seams.
    pub seams: &'a Seams,
    /// Its passes.
    pub passes: &'a Passes,
    /// Its tacks, if the sheet begins with loose tubes.
    pub tacks: Option<&'a Tacks>,
    /// Wait before each tack, s (may be empty).
    pub tack_wait_s: &'a [f64],
    /// Where to stop in the weld-out.
    pub holds: &'a [Hold],
    /// Stages that begin here, and whether the last of all is among them; nothing for a frame built in
    /// one go.
    pub stages: Option<StageRun>,
    /// The order.
    pub order: &'a Order,
    /// Its timeline.
    pub timeline: &'a Timeline,
    /// What was done already, if this is a re-plan: it gets no line.
    pub underway: Option<&'a Underway>,
}

/// The shortest wait that gets a line of its own, s; a shorter one is lost in walking over.
const SHORTEST_WAIT_S: f64 = 5.0;

/// A run of stages that ends with a weld-out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StageRun {
    /// First stage of the run.
    pub first: usize,
    /// Last stage of the run: it is welded out.
    pub welded: usize,
    /// Nothing comes after it.
    pub last: bool,
    /// The stage that a re-plan finds begun already: it gets no line of its own.
    pub begun: Option<usize>,
}

/// The words of the gate after tacking.
pub const GATE: &str = "as tacked: these readings are the starting state";

impl Course<'_> {
    /// The acts of the weld-out in order. Forces and expected readings are still empty: the pull
    /// model fills them in.
    pub fn acts(&self) -> Vec<Act> {
        let mut acts = Vec::new();
        // Drilled while the tube lies loose, before it is in the fixture.
        let opened = |tube: usize| self.underway.is_some_and(|u| u.vents_open.contains(&tube));
        let vents = self.seams.sealed.iter().map(|&(tube, _)| tube);
        acts.extend(vents.filter(|&t| !opened(t)).map(|tube| Act::VentOpen { tube }));
        let done = self.underway.map_or(0, |u| u.done.len());
        let mut setup = match self.underway {
            Some(u) => u.setup,
            None => self.order.steps.first().map_or(0, |s| s.setup),
        };
        // Clamps that were taken off on purpose are not asked for again.
        let mut closed: Vec<bool> = (0..self.frame.clamps.len())
            .map(|c| self.underway.is_some_and(|u| u.clamps_on.contains(&c) || u.clamps_off.contains(&c)))
            .collect();
        // Every stage is measured as tacked.
        let read = self.underway.is_some_and(|u| u.read_as_tacked || (!u.staged && done > 0));
        let gate = !self.frame.controls.is_empty() && !read;
        if gate && self.tacks.is_none() {
            // A frame that comes tacked is measured before anything pushes at it.
            acts.extend(self.hold("as tacked, lying free: these readings are the starting state"));
        }
        let mut stage = self.stages.map(|r| r.begun.unwrap_or(r.first));
        if let (Some(stage), None) = (stage, self.stages.and_then(|r| r.begun)) {
            acts.push(Act::Stage { stage });
        }
        self.close_clamps_of(setup, stage.unwrap_or(usize::MAX), &mut closed, &mut acts);
        self.underway.iter().flat_map(|u| &u.clamps_off).for_each(|&c| closed[c] = false);
        if let Some(t) = self.tacks {
            let left = |seam, number| self.underway.is_none_or(|u| u.tacks_left.contains(&(seam, number)));
            for (i, tack) in t.tacks.iter().enumerate().filter(|(_, t)| left(t.seam, t.number)) {
                let own = self.stage_of_seam(tack.seam);
                if stage.is_some_and(|s| own > s) {
                    stage = Some(own);
                    acts.push(Act::Stage { stage: own });
                    self.close_clamps_of(setup, own, &mut closed, &mut acts);
                }
                if i == t.second_round && i > 0 && !self.frame.controls.is_empty() {
                    acts.extend(self.hold_of(
                        "half tacked: every tube hangs on a pair of tacks; push it to these values now",
                        |c| {
                            self.stages.is_none_or(|r| {
                                r.first == 0 || !there(self.frame, self.joints, c, r.first - 1)
                            })
                        },
                    ));
                }
                let wait_s = self.tack_wait_s.get(i).copied().unwrap_or(0.0);
                let first = self.passes.passes.iter().find(|p| p.seam == tack.seam);
                if let Some(p) = first.filter(|_| wait_s >= SHORTEST_WAIT_S) {
                    acts.push(Act::Wait {
                        minutes: wait_s / 60.0,
                        joint: p.joint,
                        under_c: self.passes.settings[p.settings].interpass_c,
                    });
                }
                acts.push(Act::Tack {
                    seam: tack.seam,
                    tack: tack.number,
                    clock: tack.clock.clone(),
                    length_mm: tack.length_mm,
                });
            }
        }
        if gate && self.tacks.is_some() {
            acts.extend(self.hold(GATE));
        }
        let mut left: Vec<usize> = vec![0; self.joints.joints.len()];
        for p in &self.passes.passes {
            left[p.joint] += 1;
        }
        let mut laid = 0;
        for l in self.order.steps[..done].iter().flat_map(|s| &s.passes) {
            left[self.passes.passes[l.pass].joint] -= 1;
            laid += 1;
        }
        for (index, step) in self.order.steps.iter().enumerate().skip(done) {
            if step.setup != setup {
                // Nobody turns a frame that the fixture holds.
                self.open_clamps(|_| true, &mut closed, &mut acts);
                setup = step.setup;
                acts.push(Act::Turn { setup });
                let there = self.stages.map_or(usize::MAX, |r| r.welded);
                self.close_clamps_of(setup, there, &mut closed, &mut acts);
            }
            let wait = step
                .passes
                .iter()
                .enumerate()
                .map(|(i, l)| (self.timeline.wait_s.get(laid + i).copied().unwrap_or(0.0), l.pass))
                .fold((0.0, usize::MAX), |a, b| if b.0 > a.0 { b } else { a });
            if wait.0 >= SHORTEST_WAIT_S {
                let p = &self.passes.passes[wait.1];
                acts.push(Act::Wait {
                    minutes: wait.0 / 60.0,
                    joint: p.joint,
                    under_c: self.passes.settings[p.settings].interpass_c,
                });
            }
            for l in &step.passes {
                acts.push(Act::Pass {
                    pass: l.pass,
                    step: index,
                    welder: l.welder,
                    forward: l.forward,
                    setup: step.setup,
                });
                laid += 1;
                let p = &self.passes.passes[l.pass];
                left[p.joint] -= 1;
                let joint = &self.joints.joints[p.joint].name;
                let done = left[p.joint] == 0;
                self.open_clamps(
                    |c| match &c.release {
                        Release::End => false,
                        Release::AfterJoint(j) => done && j.eq_ignore_ascii_case(joint),
                        Release::AfterPass(label) => label.eq_ignore_ascii_case(&p.label),
                    },
                    &mut closed,
                    &mut acts,
                );
            }
            if let Some(h) = self.holds.iter().find(|h| h.step == index)
                && !self.frame.controls.is_empty()
            {
                acts.extend(self.hold(&h.why));
            }
        }
        if self.stages.is_some_and(|r| !r.last) {
            // The clamps stay on; what comes next is fitted to what is welded.
            self.cool(&mut acts);
            if !self.frame.controls.is_empty() {
                acts.extend(self.hold("this stage is welded out and cold: what the next is fitted to"));
            }
            return acts;
        }
        if closed.iter().any(|&c| c) {
            self.cool(&mut acts);
            self.open_clamps(|_| true, &mut closed, &mut acts);
        }
        if !self.frame.controls.is_empty() {
            if !matches!(acts.last(), Some(Act::Release { .. })) {
                self.cool(&mut acts);
            }
            acts.extend(self.hold("cold and free: the result"));
        }
        let shut = |tube: usize| self.underway.is_some_and(|u| u.vents_closed.contains(&tube));
        let vents = self.seams.sealed.iter().map(|&(tube, _)| tube);
        acts.extend(vents.filter(|&t| !shut(t)).map(|tube| Act::VentClose { tube }));
        acts
    }

    /// Wait until everything is within 10 K of the air.
    fn cool(&self, acts: &mut Vec<Act>) {
        if self.timeline.cold_s >= SHORTEST_WAIT_S
            && let Some(last) = self.order.steps.last().and_then(|s| s.passes.last())
        {
            acts.push(Act::Wait {
                minutes: self.timeline.cold_s / 60.0,
                joint: self.passes.passes[last.pass].joint,
                under_c: self.frame.shop.ambient_c + 10.0,
            });
        }
    }

    /// A stop to read every control that is there; none if there is nothing to read yet.
    fn hold(&self, why: &str) -> Option<Act> {
        self.hold_of(why, |_| true)
    }

    /// The same for some controls: what an earlier stage has joined cannot be pushed any more.
    fn hold_of(&self, why: &str, which: impl Fn(usize) -> bool) -> Option<Act> {
        let all = 0..self.frame.controls.len();
        let controls: Vec<usize> = all.filter(|&c| self.there(c) && which(c)).collect();
        let act = Act::Hold { controls, expect: vec![], clamped: false, why: why.into() };
        matches!(&act, Act::Hold { controls, .. } if !controls.is_empty()).then_some(act)
    }

    fn stage_of_seam(&self, seam: usize) -> usize {
        stage_of_seam(self.frame, self.joints, seam)
    }

    fn there(&self, control: usize) -> bool {
        self.stages.is_none_or(|run| there(self.frame, self.joints, control, run.welded))
    }

    /// Clamps on tubes of later stages stay open.
    fn close_clamps_of(&self, setup: usize, stage: usize, closed: &mut [bool], acts: &mut Vec<Act>) {
        for (i, c) in self.frame.clamps.iter().enumerate() {
            let there = stage_of(self.frame, c.tube).is_none_or(|s| s <= stage);
            if !closed[i] && in_setup(c, setup) && there {
                closed[i] = true;
                acts.push(Act::Clamp { clamp: i });
            }
        }
    }

    fn open_clamps(
        &self,
        which: impl Fn(&crate::frame::Clamp) -> bool,
        closed: &mut [bool],
        acts: &mut Vec<Act>,
    ) {
        for (i, c) in self.frame.clamps.iter().enumerate() {
            if closed[i] && which(c) {
                closed[i] = false;
                acts.push(Act::Release { clamp: i, force_n: 0.0 });
            }
        }
    }
}

/// Whether all tubes of a control are in the frame, and joined to each other, by the end of a stage.
pub fn there(frame: &Frame, joints: &Joints, control: usize, stage: usize) -> bool {
    let mut part = petgraph::unionfind::UnionFind::<usize>::new(frame.tubes.len());
    for s in (0..joints.meets.len()).filter(|&s| stage_of_seam(frame, joints, s) <= stage) {
        let m = &joints.meets[s];
        m.carriers.iter().for_each(|c| {
            part.union(c.0, m.branch.0);
        });
    }
    let tubes: Vec<usize> =
        crate::distort::spots(&frame.controls[control].kind).into_iter().map(|s| s.tube).collect();
    tubes.iter().all(|&t| stage_of(frame, t).is_none_or(|s| s <= stage) && part.equiv(t, tubes[0]))
}

/// The stage that adds a tube.
pub fn stage_of(frame: &Frame, tube: usize) -> Option<usize> {
    frame.stages.iter().position(|s| s.tubes.contains(&tube))
}

/// The stage in which a seam can be tacked: that of the last tube it joins.
pub fn stage_of_seam(frame: &Frame, joints: &Joints, seam: usize) -> usize {
    let m = &joints.meets[seam];
    let tubes = m.carriers.iter().map(|c| c.0).chain([m.branch.0]);
    tubes.filter_map(|t| stage_of(frame, t)).max().unwrap_or(0)
}

fn in_setup(clamp: &crate::frame::Clamp, setup: usize) -> bool {
    clamp.setups.is_empty() || clamp.setups.contains(&setup)
}

/// Give every act its number.
pub fn number(acts: Vec<Act>) -> Vec<Line> {
    acts.into_iter().enumerate().map(|(i, act)| Line { number: i + 1, act }).collect()
}
