//! One restart of the search: late acceptance over changes of windows, sweeping along the order.
//!
//! At a place of the order the compliance of what is not yet welded is at hand, reduced by all that
//! is. Every change that begins there is judged from a small part of it, and taking it costs nothing,
//! because the set welded before has not changed. Then the sweep welds the step and goes on.

use super::Score;
use super::Step;
use super::ledger::Ledger;
use super::moves;
use super::objective::{Aim, Sums, minutes};
use super::plain::Plain;
use super::window::{Field, contributions};
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

/// How good an order is; compared from the front. Objective and excursion are rounded, so that ties
/// are ties.
pub(crate) type Rank = (Score, i64, i64, usize, i64);

/// What a chain has found at the end of one level of effort.
pub(crate) struct Mark {
    pub rank: Rank,
    pub steps: Vec<Step>,
}

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
    aim: &'a Aim,
    joint_of: Vec<usize>,
    ledger: Ledger<'a>,
    given: Vec<Step>,
    turns: usize,
    minutes: f64,
    minutes_new: f64,
    y: Vec<f64>,
    sums: Sums,
    now: f64,
    late: Vec<f64>,
    since: u64,
    pub tried: Tried,
    best: Option<(Rank, Vec<usize>)>,
    // Working space.
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
        let y = contributions(coarse, &passes(steps));
        let joint_of: Vec<usize> = q.passes.iter().map(|p| p.joint).collect();
        let sums = Sums::new(aim, &coarse.start, &joint_of, plain.joints, &y);
        let (minutes, turns) = minutes(q, steps);
        let mut chain = Chain {
            coarse,
            aim,
            joint_of,
            ledger,
            given: steps.to_vec(),
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
            local: Field::default(),
            spare: Field::default(),
            window: Field::default(),
            in_field: vec![usize::MAX; plain.n()],
            at: vec![usize::MAX; plain.n()],
            ids: Vec::new(),
            new: Vec::new(),
            out: Vec::new(),
        };
        chain.now = chain.sums.value(aim) + aim.time_per_min * minutes;
        chain.late = vec![chain.now; LATE];
        chain.note_best();
        chain
    }

    /// Sweep until so many changes have been judged in all (or refused: sixteen times as many), or
    /// the flag is up. Then say what is best.
    pub fn run(&mut self, base: &Field, until: u64, dice: &mut ChaCha8Rng, stop: &AtomicBool) -> Mark {
        let mut fields = [Field::default(), Field::default()];
        while self.tried.judged < until && self.tried.refused < 16 * until && !stop.load(Ordering::Relaxed) {
            let before = self.tried;
            if !self.sweep(base, &mut fields, until, dice, stop) || before == self.tried {
                break;
            }
            self.sums =
                Sums::new(self.aim, &self.coarse.start, &self.joint_of, self.ledger.plain.joints, &self.y);
            self.now = self.sums.value(self.aim) + self.aim.time_per_min * self.minutes;
        }
        self.mark()
    }

    /// The best so far.
    pub fn mark(&self) -> Mark {
        let (rank, row) = self.best.as_ref().expect("the start is noted");
        Mark { rank: *rank, steps: self.steps_of(row) }
    }

    /// Changes per step of a sweep. The larger the frame, the more a sweep costs by itself.
    pub fn draws(n: usize) -> u64 {
        100 + n as u64
    }

    fn sweep(
        &mut self,
        base: &Field,
        [field, spare]: &mut [Field; 2],
        until: u64,
        dice: &mut ChaCha8Rng,
        stop: &AtomicBool,
    ) -> bool {
        let free = self.ledger.free.clone();
        if free.len() < 2 {
            return false;
        }
        let first = self.ledger.step_of[free.start];
        let last = self.ledger.step_of[free.end - 1] + 1;
        // Steps that cannot change are welded at once.
        field.gather(base, &self.ledger.row);
        self.ledger.row.iter().enumerate().for_each(|(i, &p)| self.in_field[p] = i);
        for s in (0..first).step_by(BLOCK) {
            self.absorb(field, spare, s, (s + BLOCK).min(first));
        }
        let mut s0 = first;
        while s0 < last {
            let mut s1 = s0 + 1;
            while s1 < last && self.ledger.first[s1 + 1] - self.ledger.first[s0] <= BLOCK {
                s1 += 1;
            }
            let upto = if s1 == last { last } else { s0 + (s1 - s0).div_ceil(2) };
            if !self.block(field, s0, s1, upto, until, dice) || stop.load(Ordering::Relaxed) {
                return false;
            }
            if upto < last {
                self.absorb(field, spare, s0, upto);
            }
            s0 = upto;
        }
        true
    }

    /// Weld the steps from..to in a field that holds them and all later ones, and drop them from it.
    fn absorb(&mut self, field: &mut Field, spare: &mut Field, from: usize, to: usize) {
        let l = &self.ledger;
        let (set, keep) = l.row[l.first[from]..].split_at(l.first[to] - l.first[from]);
        let ids = |passes: &[usize]| passes.iter().map(|&p| self.in_field[p]).collect::<Vec<_>>();
        spare.absorb(field, &ids(set), &ids(keep));
        std::mem::swap(field, spare);
        keep.iter().enumerate().for_each(|(i, &p)| self.in_field[p] = i);
    }

    /// Changes that begin in the steps s0..upto and end before s1.
    fn block(
        &mut self,
        field: &Field,
        s0: usize,
        s1: usize,
        upto: usize,
        until: u64,
        dice: &mut ChaCha8Rng,
    ) -> bool {
        let end = self.ledger.first[s1];
        self.ids.clear();
        let row = &self.ledger.row[self.ledger.first[s0]..end];
        self.ids.extend(row.iter().map(|&p| self.in_field[p]));
        self.local.gather(field, &self.ids);
        row.iter().enumerate().for_each(|(i, &p)| self.at[p] = i);
        for s in s0..upto {
            for _ in 0..Self::draws(self.ledger.row.len()) {
                let mut new = std::mem::take(&mut self.new);
                if moves::draw(dice, &self.ledger, s, end, &mut new) {
                    self.consider(s, &new);
                }
                self.new = new;
            }
            if self.tried.judged >= until || self.tried.refused >= 16 * until {
                return false;
            }
            self.weld(s, end);
        }
        true
    }

    /// Weld step s in the local field and drop what was welded before it.
    fn weld(&mut self, s: usize, end: usize) {
        let (lo, next) = (self.ledger.first[s], self.ledger.first[s + 1]);
        self.ids.clear();
        self.ids.extend(self.ledger.row[lo..end].iter().map(|&p| self.at[p]));
        self.spare.gather(&self.local, &self.ids);
        std::mem::swap(&mut self.local, &mut self.spare);
        self.out.resize((next - lo) * self.coarse.r, 0.0);
        self.local.weld::<false>(0, next - lo, &mut self.out);
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
        self.window.gather_in_order(&self.local, &self.ids);
        self.out.resize(new.len() * r, 0.0);
        let (mut at, mut step) = (0, s);
        while at < new.len() {
            let m = self.ledger.first[step + 1] - self.ledger.first[step];
            self.window.weld::<true>(at, m, &mut self.out[at * r..(at + m) * r]);
            at += m;
            step += 1;
        }
        if self.ledger.plain.q.welders > 1 {
            self.minutes_new = self.minutes_now();
        }
        let time = self.aim.time_per_min * self.minutes_new;
        self.sums.judge(self.aim, &self.joint_of, new, &self.out, &self.y) + time
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

    fn note_best(&mut self) {
        let value = (self.now / self.aim.grain).round() as i64;
        let known = self.best.as_ref().map(|(rank, _)| *rank);
        if known.is_some_and(|k| (k.0, k.1) < (self.ledger.total, value)) {
            return;
        }
        let rank =
            (self.ledger.total, value, self.excursion(), self.turns, (self.minutes * 10.0).round() as i64);
        if known.is_none_or(|k| rank < k) {
            if known.is_none_or(|k| (k.0, k.1) != (rank.0, rank.1)) {
                self.since = 0;
            }
            let row = self.ledger.row.clone();
            self.best = Some((rank, row));
        }
    }

    /// Largest deviation on the way, in hundredths of a tolerance.
    fn excursion(&self) -> i64 {
        let r = self.coarse.r;
        let mut at: Vec<f64> = (0..r).map(|c| self.sums.before_welding(self.aim, c)).collect();
        let mut largest = 0.0f64;
        for s in 0..self.ledger.first.len() - 1 {
            for &p in &self.ledger.row[self.ledger.first[s]..self.ledger.first[s + 1]] {
                (0..r).for_each(|c| at[c] += self.y[p * r + c]);
            }
            for (x, c) in at.iter().zip(&self.aim.controls) {
                largest = largest.max(x.abs() / c.tolerance);
            }
        }
        (largest * 100.0).round() as i64
    }

    fn steps_of(&self, row: &[usize]) -> Vec<Step> {
        let mut steps = self.given.clone();
        let mut forward = vec![true; row.len()];
        self.given.iter().flat_map(|s| &s.passes).for_each(|l| forward[l.pass] = l.forward);
        let plain = self.ledger.plain;
        for (s, step) in steps.iter_mut().enumerate().skip(plain.q.done.len()) {
            for (i, laid) in step.passes.iter_mut().enumerate() {
                laid.pass = row[self.ledger.first[s] + i];
                laid.forward = forward[laid.pass];
            }
            super::tally::assign_welders(plain, step);
        }
        steps
    }
}

/// Passes of each step.
pub(crate) fn passes(steps: &[Step]) -> Vec<Vec<usize>> {
    steps.iter().map(|s| s.passes.iter().map(|l| l.pass).collect()).collect()
}
