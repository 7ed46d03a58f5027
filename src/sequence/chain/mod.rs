//! One restart of the search: late acceptance over changes of windows, sweeping along the order.
//!
//! At a place of the order the compliance of what is not yet welded is at hand, reduced by all that
//! is. Every change that begins there is judged from a small part of it, and taking it costs nothing,
//! because the set welded before has not changed. Then the sweep welds the step and goes on.

mod best;
#[cfg(test)]
mod tests;

use best::Best;
pub(crate) use best::{Mark, Rank};

use super::Step;
use super::ledger::Ledger;
use super::moves;
use super::objective::{Aim, Sums, minutes};
use super::plain::Plain;
use super::search::Full;
use super::window::{Field, closing, contributions_with};
use crate::distort::Coarse;
use rand::rngs::ChaCha8Rng;
use std::sync::atomic::{AtomicBool, Ordering};

/// Passes in a block: how far apart the two ends of a change may lie.
const BLOCK: usize = 32;
/// Length of the row of earlier objectives with which a change is compared (late acceptance).
const LATE: usize = 400;
/// Changes without a new best after which the row is set to a worse level again.
const PATIENCE: u64 = 30 * LATE as u64;
/// That level, as a share of the objective.
const REHEAT: f64 = 0.1;

/// Counts of a chain.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tried {
    /// Changes judged by the coarse model.
    pub judged: u64,
    /// Changes refused by a rule before that.
    pub refused: u64,
    /// Changes taken.
    pub taken: u64,
}

pub(crate) struct Chain<'a> {
    coarse: &'a Coarse,
    given_aim: &'a Aim,
    /// The aim with what the coarse model missed at the last full evaluation as an offset.
    aim: Aim,
    /// Shrinkage of each pass less the τ of the last full evaluation.
    close: Vec<[f64; 3]>,
    joint_of: Vec<usize>,
    ledger: Ledger<'a>,
    given: Vec<Step>,
    /// No step holds two passes.
    one_by_one: bool,
    turns: usize,
    minutes: f64,
    minutes_new: f64,
    y: Vec<f64>,
    sums: Sums,
    now: f64,
    late: Vec<f64>,
    since: u64,
    pub tried: Tried,
    best: Option<Best>,
    // Working space.
    field: Field,
    /// Passes in the large field, in its order.
    held: Vec<usize>,
    local: Field,
    spare: Field,
    window: Field,
    /// Index of each pass in the large field, and in the local one.
    in_field: Vec<usize>,
    at: Vec<usize>,
    ids: Vec<usize>,
    new: Vec<usize>,
    out: Vec<f64>,
}

impl<'a> Chain<'a> {
    pub fn new(plain: &'a Plain<'a>, coarse: &'a Coarse, aim: &'a Aim, steps: &[Step]) -> Self {
        let q = plain.q;
        let ledger = Ledger::new(plain, steps);
        let close = closing(coarse);
        let y = contributions_with(coarse, &close, &passes(steps));
        let joint_of: Vec<usize> = q.passes.iter().map(|p| p.joint).collect();
        let sums = Sums::new(aim, &coarse.start, &joint_of, plain.joints, &y);
        let (minutes, turns) = minutes(q, steps);
        let mut chain = Chain {
            coarse,
            given_aim: aim,
            aim: aim.clone(),
            close,
            joint_of,
            ledger,
            given: steps.to_vec(),
            one_by_one: steps.iter().all(|s| s.passes.len() == 1),
            turns,
            minutes,
            minutes_new: minutes,
            y,
            sums,
            now: 0.0,
            late: Vec::new(),
            since: 0,
            tried: Tried::default(),
            best: None,
            field: Field::default(),
            held: Vec::new(),
            local: Field::default(),
            spare: Field::default(),
            window: Field::default(),
            in_field: vec![usize::MAX; plain.n()],
            at: vec![usize::MAX; plain.n()],
            ids: Vec::new(),
            new: Vec::new(),
            out: Vec::new(),
        };
        chain.settle();
        chain.late = vec![chain.now; LATE];
        chain.note_best();
        chain
    }

    /// Work out the sums afresh: carried along, they gather rounding.
    fn settle(&mut self) {
        self.sums =
            Sums::new(&self.aim, &self.coarse.start, &self.joint_of, self.ledger.plain.joints, &self.y);
        self.now = self.sums.value(&self.aim) + self.aim.time_per_min * self.minutes;
    }

    /// Sweep until so many changes have been judged in all (or refused: sixteen times as many), or
    /// the flag is up. A sweep that was begun is finished. Then say what is best.
    pub fn run(&mut self, until: u64, dice: &mut ChaCha8Rng, stop: &AtomicBool) -> Mark {
        while self.tried.judged < until && self.tried.refused < 16 * until && !stop.load(Ordering::Relaxed) {
            let before = self.tried;
            if !self.sweep(dice, stop) || before == self.tried {
                break;
            }
            self.settle();
        }
        self.mark()
    }

    /// The best so far.
    pub fn mark(&self) -> Mark {
        let best = self.best.as_ref().expect("the start is noted");
        Mark { rank: best.rank, steps: self.steps_of(&best.row) }
    }

    /// From now on judge with what a full evaluation of an order has found: the τ of each pass, and for
    /// each control what the coarse model missed. What was judged before cannot be compared, so the best
    /// so far is now `best`, an order with the same steps as this chain's (its directions are kept too).
    pub fn freeze(&mut self, full: &Full, judged: &[Step], best: &[Step]) {
        let turned: Vec<(usize, bool)> =
            best.iter().flat_map(|s| &s.passes).map(|l| (l.pass, l.forward)).collect();
        let mut forward = vec![true; self.ledger.row.len()];
        turned.iter().for_each(|&(p, f)| forward[p] = f);
        self.given.iter_mut().flat_map(|s| &mut s.passes).for_each(|l| l.forward = forward[l.pass]);
        if full.tau.is_empty() && full.controls.is_empty() {
            return;
        }
        self.close = full.closing(self.coarse);
        let judged = passes(judged);
        let with = |steps: &[Vec<usize>]| contributions_with(self.coarse, &self.close, steps);
        let judged_y = with(&judged);
        let aim = full.aim(self.given_aim, self.coarse, &judged_y);
        let same = |other: &[Vec<usize>]| other == judged;
        let best = passes(best);
        let best_y = if same(&best) { judged_y.clone() } else { with(&best) };
        let first = &self.ledger.first;
        let now: Vec<Vec<usize>> = first.windows(2).map(|w| self.ledger.row[w[0]..w[1]].to_vec()).collect();
        self.y = if same(&now) { judged_y } else { with(&now) };
        self.aim = aim;
        self.settle();
        self.late.fill(self.now);
        self.since = 0;
        self.best = None;
        let row = best.concat();
        if row != self.ledger.row {
            self.best = Some(self.rank(row, best_y));
        }
        self.note_best();
    }

    /// Changes per step of a sweep. The larger the frame, the more a sweep costs by itself.
    pub fn draws(n: usize) -> u64 {
        100 + n as u64
    }

    fn sweep(&mut self, dice: &mut ChaCha8Rng, stop: &AtomicBool) -> bool {
        let free = self.ledger.free.clone();
        if free.len() < 2 {
            return false;
        }
        let first = self.ledger.step_of[free.start];
        let last = self.ledger.step_of[free.end - 1] + 1;
        // Steps that cannot change are welded at once.
        self.field.of(self.coarse, &self.close, &self.ledger.row);
        self.held.clone_from(&self.ledger.row);
        self.ledger.row.iter().enumerate().for_each(|(i, &p)| self.in_field[p] = i);
        for s in (0..first).step_by(BLOCK) {
            self.absorb(s, (s + BLOCK).min(first));
        }
        let mut s0 = first;
        while s0 < last {
            let mut s1 = s0 + 1;
            while s1 < last && self.ledger.first[s1 + 1] - self.ledger.first[s0] <= BLOCK {
                s1 += 1;
            }
            let upto = if s1 == last { last } else { s0 + (s1 - s0).div_ceil(2) };
            self.block(s0, s1, upto, dice);
            if stop.load(Ordering::Relaxed) {
                return false;
            }
            if upto < last {
                self.absorb(s0, upto);
            }
            s0 = upto;
        }
        true
    }

    /// Weld the steps from..to in the large field, and drop them from it.
    fn absorb(&mut self, from: usize, to: usize) {
        let l = &self.ledger;
        let mut set: Vec<usize> =
            l.row[l.first[from]..l.first[to]].iter().map(|&p| self.in_field[p]).collect();
        set.sort_unstable();
        self.field.absorb(&set);
        let mut index = 0;
        self.held.retain(|_| {
            index += 1;
            set.binary_search(&(index - 1)).is_err()
        });
        self.held.iter().enumerate().for_each(|(i, &p)| self.in_field[p] = i);
    }

    /// Changes that begin in the steps s0..upto and end before s1.
    fn block(&mut self, s0: usize, s1: usize, upto: usize, dice: &mut ChaCha8Rng) {
        let end = self.ledger.first[s1];
        self.ids.clear();
        let row = &self.ledger.row[self.ledger.first[s0]..end];
        self.ids.extend(row.iter().map(|&p| self.in_field[p]));
        self.local.gather(&self.field, &self.ids);
        row.iter().enumerate().for_each(|(i, &p)| self.at[p] = i);
        for s in s0..upto {
            for _ in 0..Self::draws(self.ledger.row.len()) {
                let mut new = std::mem::take(&mut self.new);
                if moves::draw(dice, &self.ledger, s, end, &mut new) {
                    self.consider(s, &new);
                }
                self.new = new;
            }
            self.weld(s, end);
        }
    }

    /// Weld step s in the local field and drop what was welded before it.
    fn weld(&mut self, s: usize, end: usize) {
        let (lo, next) = (self.ledger.first[s], self.ledger.first[s + 1]);
        self.ids.clear();
        self.ids.extend(self.ledger.row[lo..end].iter().map(|&p| self.at[p]));
        self.spare.gather(&self.local, &self.ids);
        std::mem::swap(&mut self.local, &mut self.spare);
        self.out.resize((next - lo) * self.coarse.r, 0.0);
        self.local.weld(0, next - lo, &mut self.out);
        for (i, place) in (lo..end).enumerate() {
            self.at[self.ledger.row[place]] = i;
        }
    }

    /// Judge one change that begins at step s, and take it or leave it.
    fn consider(&mut self, s: usize, new: &[usize]) {
        let lo = self.ledger.first[s];
        if !self.ledger.propose(lo, new) {
            self.tried.refused += 1;
            return;
        }
        let value = self.judge(s, new);
        let (slot, better) = (self.tried.judged as usize % LATE, self.ledger.proposed() < self.ledger.total);
        self.tried.judged += 1;
        self.since += 1;
        if better || value <= self.now || value <= self.late[slot] {
            self.tried.taken += 1;
            self.ledger.commit();
            self.ledger.bound = self.ledger.total;
            self.sums.take(&self.joint_of, new, &self.out, &mut self.y);
            self.now = value;
            self.minutes = self.minutes_new;
            if better {
                self.late.fill(value);
            }
            self.note_best();
        } else {
            self.ledger.revert();
        }
        self.late[slot] = self.late[slot].min(self.now);
        if self.since > PATIENCE {
            self.since = 0;
            self.late.fill(self.now * (1.0 + REHEAT));
        }
    }

    /// The objective with the passes `new` from step s on; their contributions go to `out`.
    fn judge(&mut self, s: usize, new: &[usize]) -> f64 {
        let r = self.coarse.r;
        self.ids.clear();
        self.ids.extend(new.iter().map(|&p| self.at[p]));
        self.out.resize(new.len() * r, 0.0);
        if self.one_by_one {
            self.window.gather_in_order(&self.local, &self.ids);
            for (at, out) in self.out.chunks_exact_mut(r).enumerate() {
                self.window.weld_one::<true>(at, out);
            }
        } else {
            self.window.gather(&self.local, &self.ids);
            let (mut at, mut step) = (0, s);
            while at < new.len() {
                let m = self.ledger.first[step + 1] - self.ledger.first[step];
                self.window.weld(at, m, &mut self.out[at * r..(at + m) * r]);
                at += m;
                step += 1;
            }
            self.minutes_new = self.minutes_now();
        }
        let time = self.aim.time_per_min * self.minutes_new;
        self.sums.judge(&self.aim, &self.joint_of, new, &self.out, &self.y) + time
    }

    /// Minutes with the order in the ledger; only passes of one step in another make a difference.
    fn minutes_now(&self) -> f64 {
        let q = self.ledger.plain.q;
        let mut arc_s = 0.0;
        for s in 0..self.ledger.first.len() - 1 {
            let row = &self.ledger.row[self.ledger.first[s]..self.ledger.first[s + 1]];
            arc_s += row.iter().map(|&p| q.passes[p].arc_s).fold(0.0, f64::max);
        }
        arc_s / 60.0 + self.turns as f64 * q.turn_min
    }
}

/// Passes of each step.
pub(crate) fn passes(steps: &[Step]) -> Vec<Vec<usize>> {
    steps.iter().map(|s| s.passes.iter().map(|l| l.pass).collect()).collect()
}
