//! All orders of a few passes that fall least short of the rules, the best of them by the coarse model.

use super::chain::{Rank, passes};
use super::objective::{Aim, terms};
use super::plain::Plain;
use super::tally::{Choice, Tally, steps_of};
use super::window::contributions;
use super::{Score, Step};
use crate::distort::Coarse;
use std::collections::HashMap;

/// Passes up to which all orders are looked at.
const UP_TO: usize = 9;
/// Orders that are judged at most; beyond that this is given up.
const ORDERS: usize = 400_000;
/// Places in the tree of orders that are looked at at most.
const NODES: usize = 2_000_000;

/// The best `keep` orders among all that fall no shorter than `least`, best first. None if there are
/// too many passes or orders.
pub(crate) fn best_orders(
    plain: &Plain,
    coarse: &Coarse,
    aim: &Aim,
    least: Score,
    keep: usize,
) -> Option<Vec<(Rank, Vec<Step>)>> {
    let start = Tally::new(plain);
    if plain.n() - start.laid > UP_TO {
        return None;
    }
    let mut all = All {
        plain,
        coarse,
        aim,
        least,
        keep,
        way: Vec::new(),
        best: Vec::new(),
        orders: 0,
        nodes: 0,
        kept: HashMap::new(),
    };
    all.look(&start);
    (all.orders < ORDERS && all.nodes < NODES).then_some(all.best)
}

struct All<'a> {
    plain: &'a Plain<'a>,
    coarse: &'a Coarse,
    aim: &'a Aim,
    least: Score,
    keep: usize,
    way: Vec<Choice>,
    best: Vec<(Rank, Vec<Step>)>,
    orders: usize,
    nodes: usize,
    /// What a pass adds to the controls, by the set welded before it: on nothing else it hangs.
    kept: HashMap<(u64, usize), Vec<f64>>,
}

impl All<'_> {
    fn look(&mut self, t: &Tally) {
        let plain = self.plain;
        self.nodes += 1;
        if self.orders >= ORDERS || self.nodes >= NODES || t.closed(plain) > self.least {
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

    /// As [`contributions`], each worked out once; passes laid at the same time are not kept.
    fn contributions(&mut self, steps: &[Vec<usize>]) -> Vec<f64> {
        if steps.len() != self.plain.n() {
            return contributions(self.coarse, steps);
        }
        let r = self.coarse.r;
        let mut y = vec![0.0; steps.len() * r];
        let mut before = 0u64;
        let mut all = None;
        for p in steps.iter().flatten().copied() {
            let added = self.kept.entry((before, p)).or_insert_with(|| {
                let all = all.get_or_insert_with(|| contributions(self.coarse, steps));
                all[p * r..(p + 1) * r].to_vec()
            });
            y[p * r..(p + 1) * r].copy_from_slice(added);
            before |= 1 << p;
        }
        y
    }

    fn judge(&mut self, score: Score) {
        self.orders += 1;
        let steps = steps_of(self.plain, &self.way);
        let y = self.contributions(&passes(&steps));
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
