//! The best order a chain has met: how two are compared, and its row of passes made steps again.

use super::Chain;
use crate::sequence::objective::{Sums, minutes};
use crate::sequence::{Score, Step, shortfall, tally};

/// How good an order is; compared from the front. Objective and excursion are rounded, so that ties
/// are ties.
pub(crate) type Rank = (Score, i64, i64, usize, i64);

/// What a chain has found at the end of one level of effort.
pub(crate) struct Mark {
    pub rank: Rank,
    pub steps: Vec<Step>,
}

/// The best row of passes so far.
pub(super) struct Best {
    pub(super) rank: Rank,
    pub(super) row: Vec<usize>,
}

impl Chain<'_> {
    /// The rank of a row of passes in the steps of this chain.
    pub(super) fn rank(&self, row: Vec<usize>, y: Vec<f64>) -> Best {
        let steps = self.steps_of(&row);
        let q = self.ledger.plain.q;
        let minutes = minutes(q, &steps).0;
        let mut sums = Sums::new(&self.aim, &self.coarse.start, &self.joint_of, self.ledger.plain.joints, &y);
        let value = self.rounded(sums.value(&self.aim) + self.aim.time_per_min * minutes);
        let largest = self.excursion(&sums, &row, &y, i64::MAX);
        let score = shortfall::total(self.ledger.plain, &steps);
        let rank = (score, value, largest, self.turns, (minutes * 10.0).round() as i64);
        Best { rank, row }
    }

    pub(super) fn rounded(&self, value: f64) -> i64 {
        (value / self.aim.grain).round() as i64
    }

    pub(super) fn note_best(&mut self) {
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
    pub(super) fn excursion(&self, sums: &Sums, row: &[usize], y: &[f64], enough: i64) -> i64 {
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

    pub(super) fn steps_of(&self, row: &[usize]) -> Vec<Step> {
        let mut steps = self.given.clone();
        let mut forward = vec![true; row.len()];
        self.given.iter().flat_map(|s| &s.passes).for_each(|l| forward[l.pass] = l.forward);
        let plain = self.ledger.plain;
        for (s, step) in steps.iter_mut().enumerate().skip(plain.q.done.len()) {
            for (i, laid) in step.passes.iter_mut().enumerate() {
                laid.pass = row[self.ledger.first[s] + i];
                laid.forward = forward[laid.pass];
            }
            tally::assign_welders(plain, step);
        }
        steps
    }
}
