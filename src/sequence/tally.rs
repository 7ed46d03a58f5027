//! An order under construction: what may come next, and what each choice adds to the shortfalls.
//!
//! The running form of `rules.rs` and `shortfall.rs`; a property test holds the two together.

use super::plain::{Pin, Plain};
use super::{Laid, Score, Step};

/// One way to go on: a pass in a setup, in a new step or beside the passes of the present step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Choice {
    pub pass: usize,
    pub setup: usize,
    pub join: bool,
}

/// Number of a step long before the first.
const NEVER: i32 = i32::MIN / 2;

#[derive(Clone)]
pub(crate) struct Tally {
    done: Vec<u64>,
    stay_of: Vec<u16>,
    /// Last step of each joint, the present step not counted.
    last: Vec<i32>,
    /// Open pairs of each seam.
    open: Vec<u16>,
    /// Left minus right, µJ, the present step included.
    diff: i64,
    /// Shortfalls, without the balance of the present step, which may still be joined.
    closed: Score,
    pub setup: usize,
    pub started: bool,
    stay: u16,
    /// Present step.
    step: i32,
    /// Passes of the present step and of the one before.
    pub now: Vec<usize>,
    before: Vec<usize>,
    firsts: usize,
    lasts: usize,
    pub laid: usize,
    pub turns: usize,
}

impl Tally {
    /// Nothing laid but what the question says is welded already.
    pub fn new(plain: &Plain) -> Self {
        let n = plain.n();
        let mut t = Tally {
            done: vec![0; n.div_ceil(64)],
            stay_of: vec![0; n],
            last: vec![NEVER; plain.joints],
            open: vec![0; plain.seam_passes.len()],
            diff: 0,
            closed: [0; 5],
            setup: 0,
            started: false,
            stay: 0,
            step: -1,
            now: Vec::new(),
            before: Vec::new(),
            firsts: 0,
            lasts: 0,
            laid: 0,
            turns: 0,
        };
        for step in &plain.q.done {
            for (i, l) in step.passes.iter().enumerate() {
                t.lay(plain, Choice { pass: l.pass, setup: step.setup, join: i > 0 });
            }
        }
        if let Some(setup) = plain.q.lying {
            (t.setup, t.turns) = (setup, 0);
        }
        t
    }

    pub fn is_done(&self, pass: usize) -> bool {
        self.done[pass / 64] >> (pass % 64) & 1 == 1
    }

    /// Number of steps so far.
    pub fn steps(&self) -> i64 {
        self.step as i64 + 1
    }

    pub fn diff(&self) -> i64 {
        self.diff
    }

    /// Shortfalls so far, the present step taken as it stands.
    pub fn score(&self, plain: &Plain) -> Score {
        let mut s = self.closed;
        s[3] += plain.excess(self.diff);
        s
    }

    /// A lower bound of the final shortfalls: steps that are closed can no longer change.
    pub fn closed(&self, plain: &Plain) -> Score {
        if plain.q.welders <= 1 { self.score(plain) } else { self.closed }
    }

    /// Whether nothing but setup, welders and neighbours can stand against this pass now.
    pub fn ready(&self, plain: &Plain, pass: usize) -> bool {
        if self.is_done(pass) || plain.q.passes[pass].below.is_some_and(|b| !self.is_done(b)) {
            return false;
        }
        match plain.pin[pass] {
            Pin::First(i) => self.firsts == i,
            Pin::Free => self.firsts == plain.firsts,
            Pin::Last(i) => self.lasts == i && self.laid + plain.lasts - self.lasts == plain.n(),
        }
    }

    /// Whether a choice keeps every rule that is never relaxed, so far as it can be seen now.
    pub fn allowed(&self, plain: &Plain, c: Choice) -> bool {
        if !self.ready(plain, c.pass) || !plain.fits(c.pass, c.setup) {
            return false;
        }
        if c.setup != self.setup && self.turns == 0 && plain.q.hold.iter().any(|&p| !self.is_done(p)) {
            return false;
        }
        let joint = plain.q.passes[c.pass].joint;
        let joint_of = |&p: &usize| plain.q.passes[p].joint;
        if !c.join {
            return !(plain.any_apart && self.now.iter().map(joint_of).any(|j| plain.apart(j, joint)));
        }
        let free = |&p: &usize| plain.pin[p] == Pin::Free;
        self.started
            && c.setup == self.setup
            && (self.step as usize) >= plain.q.done.len()
            && self.now.len() < plain.q.welders
            && free(&c.pass)
            && self.now.iter().all(|p| {
                free(p) && joint_of(p) != joint && plain.steel(joint_of(p), joint) >= plain.welder_nm
            })
            && !(plain.any_apart
                && self.now.iter().chain(&self.before).any(|p| plain.apart(joint_of(p), joint)))
    }

    /// Total shortfalls if this choice were made, the present step taken as it then stands.
    pub fn score_with(&self, plain: &Plain, c: Choice) -> Score {
        let mut s = self.closed;
        let diff = self.diff + plain.sign[c.pass] * plain.energy_uj[c.pass];
        if !c.join {
            s[3] += plain.excess(self.diff);
        }
        s[3] += plain.excess(diff);
        let add = self.adds(plain, c);
        for r in [0, 1, 2, 4] {
            s[r] += add[r];
        }
        s
    }

    /// What a choice adds to the ranks other than balance.
    fn adds(&self, plain: &Plain, c: Choice) -> Score {
        let item = &plain.q.passes[c.pass];
        let step = if c.join { self.step } else { self.step + 1 };
        let before = if c.join { &self.before } else { &self.now };
        let mut add = [0; 5];
        let mut nearest = i64::MAX;
        for &b in before {
            nearest = nearest.min(plain.steel(plain.q.passes[b].joint, item.joint));
            if plain.q.passes[b].joint == item.joint {
                add[0] = 1;
            }
        }
        let last = if before.iter().any(|&b| plain.q.passes[b].joint == item.joint) {
            step - 1
        } else {
            self.last[item.joint]
        };
        if last != NEVER {
            add[1] = (plain.spacing - (step - last - 1) as i64).max(0);
        }
        if self.open[item.seam] > 0 && plain.q.rules.opposite {
            add[2] = self.passed_over(plain, c);
        }
        if !before.is_empty() {
            add[4] = plain.lack(nearest);
        }
        add
    }

    /// Open pairs of its seam that a choice passes over.
    fn passed_over(&self, plain: &Plain, c: Choice) -> i64 {
        let q = plain.q;
        let item = &q.passes[c.pass];
        let stay = if self.started && c.setup != self.setup { self.stay + 1 } else { self.stay };
        let waited = item.partner.is_some_and(|b| self.is_done(b) && self.stay_of[b] != stay);
        let mut over = 0;
        for &open in &plain.seam_passes[item.seam] {
            let Some(partner) = q.passes[open].partner else { continue };
            if !self.is_done(open)
                || self.is_done(partner)
                || partner == c.pass
                || !plain.fits(partner, c.setup)
            {
                continue;
            }
            let counts =
                if self.stay_of[open] == stay { q.passes[open].layer == item.layer } else { !waited };
            over += counts as i64;
        }
        over
    }

    /// Make a choice.
    pub fn lay(&mut self, plain: &Plain, c: Choice) {
        let add = self.adds(plain, c);
        for r in [0, 1, 2, 4] {
            self.closed[r] += add[r];
        }
        if !c.join {
            self.closed[3] += plain.excess(self.diff);
            for &b in &self.now {
                self.last[plain.q.passes[b].joint] = self.step;
            }
            std::mem::swap(&mut self.before, &mut self.now);
            self.now.clear();
            self.step += 1;
            if self.started && c.setup != self.setup {
                self.stay += 1;
                self.turns += 1;
            } else if !self.started && c.setup != 0 {
                self.turns += 1; // the frame starts in the first setup
            }
            self.setup = c.setup;
            self.started = true;
        }
        self.now.push(c.pass);
        self.done[c.pass / 64] |= 1 << (c.pass % 64);
        self.stay_of[c.pass] = self.stay;
        self.laid += 1;
        self.diff += plain.sign[c.pass] * plain.energy_uj[c.pass];
        let item = &plain.q.passes[c.pass];
        if let Some(partner) = item.partner {
            if self.is_done(partner) {
                self.open[item.seam] = self.open[item.seam].saturating_sub(1);
            } else {
                self.open[item.seam] += 1;
            }
        }
        match plain.pin[c.pass] {
            Pin::First(_) => self.firsts += 1,
            Pin::Last(_) => self.lasts += 1,
            Pin::Free => {}
        }
    }
}

/// Steps from choices, behind the steps that are welded already. Within a step the left side goes to
/// the first welder, so that each welder keeps to one side of the frame.
pub(crate) fn steps_of(plain: &Plain, choices: &[Choice]) -> Vec<Step> {
    let mut steps = plain.q.done.clone();
    for c in choices {
        if !c.join {
            steps.push(Step { setup: c.setup, passes: Vec::new() });
        }
        let step = steps.last_mut().expect("a first choice opens a step");
        step.passes.push(Laid { pass: c.pass, welder: 0, forward: true });
    }
    for step in &mut steps[plain.q.done.len()..] {
        assign_welders(plain, step);
    }
    steps
}

/// Passes of a step from left to right, welders counted up.
pub(crate) fn assign_welders(plain: &Plain, step: &mut Step) {
    step.passes.sort_by_key(|l| (-plain.sign[l.pass], plain.q.passes[l.pass].joint, l.pass));
    for (w, l) in step.passes.iter_mut().enumerate() {
        l.welder = w;
    }
}
