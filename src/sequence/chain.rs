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

/// The best row of passes so far.
struct Best {
    rank: Rank,
    row: Vec<usize>,
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

    /// The rank of a row of passes in the steps of this chain.
    fn rank(&self, row: Vec<usize>, y: Vec<f64>) -> Best {
        let steps = self.steps_of(&row);
        let q = self.ledger.plain.q;
        let minutes = minutes(q, &steps).0;
        let mut sums = Sums::new(&self.aim, &self.coarse.start, &self.joint_of, self.ledger.plain.joints, &y);
        let value = self.rounded(sums.value(&self.aim) + self.aim.time_per_min * minutes);
        let largest = self.excursion(&sums, &row, &y, i64::MAX);
        let score = super::shortfall::total(self.ledger.plain, &steps);
        let rank = (score, value, largest, self.turns, (minutes * 10.0).round() as i64);
        Best { rank, row }
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

    fn rounded(&self, value: f64) -> i64 {
        (value / self.aim.grain).round() as i64
    }

    fn note_best(&mut self) {
        let value = self.rounded(self.now);
        let known = self.best.as_ref().map(|b| b.rank);
        if known.is_some_and(|k| (k.0, k.1) < (self.ledger.total, value)) {
            return;
        }
        let tie = known.filter(|k| (k.0, k.1) == (self.ledger.total, value));
        // Of a tie, only a smaller excursion is of interest, and then the smaller time.
        let enough = tie.map_or(i64::MAX, |k| k.2);
        let largest = self.excursion(&self.sums, &self.ledger.row, &self.y, enough);
        let rank = (self.ledger.total, value, largest, self.turns, (self.minutes * 10.0).round() as i64);
        if known.is_none_or(|k| rank < k) {
            if tie.is_none() {
                self.since = 0;
            }
            match &mut self.best {
                Some(b) => {
                    b.rank = rank;
                    b.row.clone_from(&self.ledger.row);
                }
                None => self.best = Some(Best { rank, row: self.ledger.row.clone() }),
            }
        }
    }

    /// Largest deviation on the way, in hundredths of a tolerance; beyond `enough` it does not matter
    /// by how much.
    fn excursion(&self, sums: &Sums, row: &[usize], y: &[f64], enough: i64) -> i64 {
        let r = self.coarse.r;
        let mut at: Vec<f64> = (0..r).map(|c| sums.before_welding(&self.aim, c)).collect();
        let per: Vec<f64> = self.aim.controls.iter().map(|c| 100.0 / c.tolerance).collect();
        let limit = enough as f64 + 1.0;
        let mut largest = 0.0f64;
        for s in 0..self.ledger.first.len() - 1 {
            for &p in &row[self.ledger.first[s]..self.ledger.first[s + 1]] {
                (0..r).for_each(|c| at[c] += y[p * r + c]);
            }
            for (x, per) in at.iter().zip(&per) {
                largest = largest.max(x.abs() * per);
            }
            if largest > limit {
                return i64::MAX;
            }
        }
        largest.round() as i64
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

#[cfg(test)]
mod tests {
    use super::super::rules::{broken, score};
    use super::super::{Item, Question, start};
    use super::*;
    use crate::frame::HouseRules;
    use crate::joint::Side;
    use crate::sequence::objective::{AimControl, SetTo, terms};
    use crate::sequence::window::contributions;
    use rand::{RngExt, SeedableRng};

    /// Joints in a row, two opposite pairs on each, two setups, so many welders.
    fn question(joints: usize, welders: usize) -> Question {
        let item = |p: usize| Item {
            label: format!("J{}a-{}/1", p / 4 + 1, p % 4 + 1),
            joint: p / 4,
            seam: p / 4,
            segment: p % 4,
            layer: 0,
            partner: Some(p / 4 * 4 + (p % 4 + 2) % 4),
            below: None,
            side: [Side::Left, Side::Right, Side::Centre][p / 4 % 3],
            energy_j: 1000.0 + 37.0 * (p % 7) as f64,
            setups: if p % 4 < 2 { vec![0] } else { vec![1, 0] },
            arc_s: 10.0 + (p % 5) as f64,
        };
        let away = |i: usize, j: usize| 120.0 * i.abs_diff(j) as f64;
        Question {
            passes: (0..4 * joints).map(item).collect(),
            steel_mm: (0..joints).map(|i| (0..joints).map(|j| away(i, j)).collect()).collect(),
            mirror: vec![None; joints],
            setups: 2,
            rules: HouseRules {
                spacing: 2,
                distance_mm: 150.0,
                opposite: true,
                balance: true,
                max_segment_mm: 40.0,
                min_segment_mm: 15.0,
                overhead: false,
                welder_distance_mm: 200.0,
            },
            has_plane: true,
            welders,
            first: vec![3],
            last: vec![],
            apart: vec![(0, 1)],
            turn_min: 5.0,
            done: vec![],
            lying: None,
            hold: vec![],
        }
    }

    fn coarse(n: usize, r: usize, dice: &mut ChaCha8Rng) -> Coarse {
        let cols = 4 * n + r;
        let dim = 2 * n + 4;
        let x: Vec<f64> = (0..cols * dim).map(|_| dice.random_range(-0.02..0.02f64)).collect();
        let table = |a: std::ops::Range<usize>, b: std::ops::Range<usize>| -> Vec<f64> {
            let dot = |i: usize, j: usize| (0..dim).map(|d| x[i * dim + d] * x[j * dim + d]).sum::<f64>();
            a.flat_map(|i| b.clone().map(move |j| (i, j))).map(|(i, j)| dot(i, j)).collect()
        };
        let (b, g, h) = (0..3 * n, 3 * n..4 * n, 4 * n..cols);
        Coarse {
            n,
            r,
            k: (0..3 * n).map(|i| if i % 3 == 0 { 6e4 } else { 3e4 }).collect(),
            delta: (0..n).map(|p| 0.1 + 0.01 * (p % 4) as f64).collect(),
            tau: vec![[0.0; 3]; n],
            c_bb: table(b.clone(), b.clone()),
            c_hb: table(h.clone(), b.clone()),
            c_bg: table(b, g.clone()),
            c_hg: table(h, g),
            start: vec![0.1; r],
        }
    }

    fn aim(r: usize) -> Aim {
        let set = |c: usize| if c == 0 { SetTo::Free { step: 0.5, limit: 2.0 } } else { SetTo::Fixed(0.1) };
        let control = |c: usize| AimControl {
            tolerance: 0.05,
            weight: 1.0 + c as f64,
            offset: 0.0,
            set: set(c),
            other_scatter: 0.01,
        };
        Aim::new((0..r).map(control).collect(), [0.3, 0.2, 0.15])
    }

    /// After thousands of changes taken and refused, what the chain carries along equals the whole
    /// elimination and the rules from scratch.
    #[test]
    fn carried_sums_equal_the_whole_evaluation() {
        for (joints, welders) in [(5, 1), (11, 1), (6, 2), (12, 2)] {
            let mut dice = ChaCha8Rng::seed_from_u64(joints as u64);
            let mut q = question(joints, welders);
            if welders == 2 {
                // Room for two to work at the same time.
                (q.rules.spacing, q.rules.distance_mm) = (0, 0.0);
            }
            let c = coarse(4 * joints, 3, &mut dice);
            let a = aim(3);
            let plain = Plain::new(&q);
            let order = start(&q).expect("a sound question");
            let mut chain = Chain::new(&plain, &c, &a, &order.steps);
            let mut frozen = Full::default();
            for until in [300, 1500, 4000] {
                chain.run(until, &mut dice, &AtomicBool::new(false));
                let steps = chain.steps_of(&chain.ledger.row);
                // The whole elimination with the τ that is frozen in.
                let mut with_tau = c.clone();
                frozen.tau.iter().for_each(|&(p, t)| with_tau.tau[p] = t);
                let whole = contributions(&with_tau, &passes(&steps));
                let worst = whole.iter().zip(&chain.y).map(|(w, y)| (w - y).abs()).fold(0.0, f64::max);
                assert!(worst < 1e-10, "{joints} joints: {worst:e}");
                let t = terms(&q, &chain.aim, &c.start, &steps, &whole);
                assert!((t.total() - chain.now).abs() < 1e-9, "{} {}", t.total(), chain.now);
                let largest = chain.excursion(&chain.sums, &chain.ledger.row, &chain.y, i64::MAX);
                assert!((t.excursion * 100.0 - largest as f64).abs() < 0.51);
                assert_eq!(chain.ledger.total, score(&q, &steps));
                assert_eq!(broken(&q, &steps), []);
                // A full evaluation finds other controls and some warmth.
                let best = chain.mark().steps;
                frozen.controls = (0..3).map(|_| dice.random_range(-0.1..0.1f64)).collect();
                frozen.tau = (0..4 * joints)
                    .map(|p| (p, std::array::from_fn(|_| dice.random_range(-0.03..0.03f64))))
                    .collect();
                chain.freeze(&frozen, &best, &best);
                // Then the coarse model agrees with it about that order.
                frozen.tau.iter().for_each(|&(p, t)| with_tau.tau[p] = t);
                let t = terms(&q, &chain.aim, &c.start, &best, &contributions(&with_tau, &passes(&best)));
                for (c, full) in frozen.controls.iter().enumerate() {
                    let [pull, set, left, _] = t.controls[c];
                    assert!(
                        (chain.aim.controls[c].offset - a.controls[c].offset + pull - full).abs() < 1e-12
                    );
                    assert!((left - set - a.controls[c].offset - full).abs() < 1e-12);
                }
            }
            let doubles = order.steps.iter().filter(|s| s.passes.len() == 2).count();
            assert_eq!(doubles > 3, welders == 2, "{doubles} steps of two passes");
            assert!(chain.tried.taken > 100 && chain.tried.taken < chain.tried.judged, "{:?}", chain.tried);
        }
    }

    /// The ledger's shortfalls after any change equal those of the rules from scratch, and it refuses
    /// exactly what breaks a rule that is never relaxed or exceeds the bound.
    #[test]
    fn ledger_equals_the_rules_from_scratch() {
        for welders in [1, 2] {
            let q = question(7, welders);
            let plain = Plain::new(&q);
            let order = start(&q).expect("a sound question");
            let mut ledger = Ledger::new(&plain, &order.steps);
            ledger.bound = [i64::MAX - 1; 5];
            let mut dice = ChaCha8Rng::seed_from_u64(welders as u64);
            let (mut stood, mut fell) = (0, 0);
            for _ in 0..4000 {
                let lo = 1 + dice.random_range(0..26u32) as usize;
                let lo = ledger.first[ledger.step_of[lo]].max(1);
                let hi = (lo + 2 + dice.random_range(0..6u32) as usize).min(28);
                let mut new = ledger.row[lo..hi].to_vec();
                let (i, j) = (dice.random_range(0..new.len() as u32), dice.random_range(0..new.len() as u32));
                new.swap(i as usize, j as usize);
                let mut row = ledger.row.clone();
                row[lo..hi].copy_from_slice(&new);
                let mut steps = order.steps.clone();
                for (place, &p) in row.iter().enumerate() {
                    let s = ledger.step_of[place];
                    steps[s].passes[place - ledger.first[s]].pass = p;
                }
                if ledger.propose(lo, &new) {
                    assert_eq!(broken(&q, &steps), []);
                    assert_eq!(ledger.proposed(), score(&q, &steps));
                    stood += 1;
                    if dice.random_range(0..2u32) == 0 { ledger.commit() } else { ledger.revert() }
                } else {
                    assert_ne!(broken(&q, &steps), []);
                    fell += 1;
                }
            }
            assert!(stood > 200 && fell > 200, "{stood} {fell}");
        }
    }
}
