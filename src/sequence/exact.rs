//! All orders of a few passes that fall least short of the rules, the best of them by the coarse model.

use super::chain::{Rank, passes};
use super::objective::{Aim, terms};
use super::plain::Plain;
use super::tally::{Choice, Tally, steps_of};
use super::window::{Field, closing, contributions};
use super::{Score, Step};
use crate::distort::Coarse;
use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, Ordering};

/// Passes up to which all orders are looked at.
const UP_TO: usize = 9;
/// Orders that are judged at most; beyond that this is given up.
const ORDERS: usize = 400_000;
/// Places in the tree of orders that are looked at at most.
const NODES: usize = 2_000_000;

/// The best `keep` orders among all that fall no shorter than `least`, best first. None if there are
/// too many passes or orders, or if it is stopped.
pub(crate) fn best_orders(
    plain: &Plain,
    coarse: &Coarse,
    aim: &Aim,
    least: Score,
    keep: usize,
    stop: &AtomicBool,
) -> Option<Vec<(Rank, Vec<Step>)>> {
    let start = Tally::new(plain);
    if plain.n() - start.laid > UP_TO {
        return None;
    }
    // What is welded already comes first in every order: it becomes part of the frame once for all.
    let done: Vec<usize> = plain.q.done.iter().flat_map(|s| &s.passes).map(|l| l.pass).collect();
    let mut bit = vec![None; plain.n()];
    let free: Vec<usize> = (0..plain.n()).filter(|p| !done.contains(p)).collect();
    free.iter().enumerate().for_each(|(i, p)| bit[*p] = Some(i));
    let mut field = Field::default();
    field.of(coarse, &closing(coarse), &[&done[..], &free[..]].concat());
    field.absorb(&(0..done.len()).collect::<Vec<_>>());
    let row: Vec<Vec<usize>> = passes(&plain.q.done).into_iter().chain([free]).collect();
    let mut all = All {
        plain,
        coarse,
        aim,
        least,
        keep,
        stop,
        bit,
        field,
        welded: contributions(coarse, &row),
        way: Vec::new(),
        best: Vec::new(),
        orders: 0,
        nodes: 0,
        kept: HashMap::new(),
    };
    all.look(&start);
    (!all.given_up()).then_some(all.best)
}

struct All<'a> {
    plain: &'a Plain<'a>,
    coarse: &'a Coarse,
    aim: &'a Aim,
    least: Score,
    keep: usize,
    stop: &'a AtomicBool,
    /// The place of each pass that is not welded yet among such passes.
    bit: Vec<Option<usize>>,
    /// Those passes, the others being part of the frame.
    field: Field,
    /// What the passes that are welded already add; what stands there for the others counts for nothing.
    welded: Vec<f64>,
    way: Vec<Choice>,
    best: Vec<(Rank, Vec<Step>)>,
    orders: usize,
    nodes: usize,
    /// What the passes of a step add to the controls, by the set welded before it and the step: on nothing
    /// else it hangs. Sets as bits.
    kept: HashMap<(u16, u16), Vec<f64>>,
}

impl All<'_> {
    fn given_up(&self) -> bool {
        self.orders >= ORDERS || self.nodes >= NODES || self.stop.load(Ordering::Relaxed)
    }

    fn look(&mut self, t: &Tally) {
        let plain = self.plain;
        self.nodes += 1;
        if self.given_up() || t.closed(plain) > self.least {
            return;
        }
        if t.laid == plain.n() {
            if t.score(plain) <= self.least {
                self.judge(t.score(plain));
            }
            return;
        }
        for pass in 0..plain.n() {
            if !t.ready(plain, pass) {
                continue;
            }
            let joins = plain.q.welders > 1 && t.now.last().is_some_and(|&l| l < pass);
            let fresh = (0..plain.q.setups).map(|setup| Choice { pass, setup, join: false });
            let beside = joins.then_some(Choice { pass, setup: t.setup, join: true });
            for c in fresh.chain(beside) {
                if t.allowed(plain, c) {
                    let mut next = t.clone();
                    next.lay(plain, c);
                    self.way.push(c);
                    self.look(&next);
                    self.way.pop();
                }
            }
        }
    }

    /// As [`contributions`], each step worked out once for each set welded before it. A step is kept by its
    /// set, so its passes must stand in the order of their numbers.
    fn contributions(&mut self, steps: &[Vec<usize>]) -> Vec<f64> {
        let r = self.coarse.r;
        let mut y = self.welded.clone();
        let rest = &steps[self.plain.q.done.len()..];
        let bits = |step: &[usize]| step.iter().filter_map(|p| self.bit[*p]).fold(0u16, |b, i| b | 1 << i);
        let mut welded = None;
        let mut before = 0;
        for (s, step) in rest.iter().enumerate() {
            let added = self.kept.entry((before, bits(step))).or_insert_with(|| {
                let all: &Vec<Vec<f64>> = welded.get_or_insert_with(|| weld(&self.field, &self.bit, rest));
                all[s].clone()
            });
            for (p, added) in step.iter().zip(added.chunks_exact(r.max(1))) {
                y[p * r..(p + 1) * r].copy_from_slice(added);
            }
            before |= bits(step);
        }
        y
    }

    fn judge(&mut self, score: Score) {
        self.orders += 1;
        let steps = steps_of(self.plain, &self.way);
        let mut row = passes(&steps);
        row.iter_mut().for_each(|step| step.sort_unstable());
        let y = self.contributions(&row);
        let t = terms(self.plain.q, self.aim, &self.coarse.start, &steps, &y);
        let hundredths = (t.excursion * 100.0).round() as i64;
        let value = (t.total() / self.aim.grain).round() as i64;
        let rank = (score, value, hundredths, t.turns, (t.minutes * 10.0).round() as i64);
        let at = self.best.partition_point(|b| b.0 <= rank);
        if at < self.keep {
            self.best.insert(at, (rank, steps));
            self.best.truncate(self.keep);
        }
    }
}

/// What the passes of each step add to the controls.
fn weld(field: &Field, bit: &[Option<usize>], steps: &[Vec<usize>]) -> Vec<Vec<f64>> {
    let row: Vec<usize> = steps.iter().flatten().filter_map(|p| bit[*p]).collect();
    let mut local = Field::default();
    local.gather(field, &row);
    let mut at = 0;
    steps
        .iter()
        .map(|step| {
            let mut added = vec![0.0; step.len() * field.r];
            local.weld(at, step.len(), &mut added);
            at += step.len();
            added
        })
        .collect()
}
