//! The rules while an order is being changed: what a change of a few places does to the shortfalls.
//!
//! The places keep their step and their setup; passes change places. `rules.rs` says what the rules
//! are; a property test holds the two together.

use super::plain::{Pin, Plain};
use super::{Score, Step};

pub(crate) struct Ledger<'a> {
    pub plain: &'a Plain<'a>,
    /// Pass at each place, step by step.
    pub row: Vec<usize>,
    /// Step of each place.
    pub step_of: Vec<usize>,
    /// First place of each step, and one past the last.
    pub first: Vec<usize>,
    setup: Vec<usize>,
    stay: Vec<usize>,
    /// Place of each pass.
    pub place: Vec<usize>,
    /// Left minus right after each step, µJ.
    diff: Vec<i64>,
    by_step: Vec<Score>,
    pub total: Score,
    /// No change may be worse than this.
    pub bound: Score,
    /// Places that may change.
    pub free: std::ops::Range<usize>,
    pending: Option<Pending>,
    /// Steps that the proposal touches: score, difference of sides.
    scratch: Vec<(usize, Score, i64)>,
    later: Vec<usize>,
    before: Vec<usize>,
}

struct Pending {
    lo: usize,
    len: usize,
    total: Score,
}

impl<'a> Ledger<'a> {
    pub fn new(plain: &'a Plain<'a>, steps: &[Step]) -> Self {
        let mut l = Ledger {
            plain,
            row: Vec::new(),
            step_of: Vec::new(),
            first: vec![0],
            setup: steps.iter().map(|s| s.setup).collect(),
            stay: Vec::new(),
            place: vec![0; plain.n()],
            diff: vec![0; steps.len()],
            by_step: vec![[0; 5]; steps.len()],
            total: [0; 5],
            bound: [i64::MAX; 5],
            free: 0..0,
            pending: None,
            scratch: Vec::new(),
            later: Vec::new(),
            before: Vec::new(),
        };
        for (s, step) in steps.iter().enumerate() {
            for laid in &step.passes {
                l.place[laid.pass] = l.row.len();
                l.row.push(laid.pass);
                l.step_of.push(s);
            }
            l.first.push(l.row.len());
            let turned = s > 0 && steps[s - 1].setup != step.setup;
            l.stay.push(if s == 0 { 0 } else { l.stay[s - 1] + usize::from(turned) });
        }
        let done: usize = plain.q.done.iter().map(|s| s.passes.len()).sum();
        l.free = done + plain.firsts..l.row.len() - plain.lasts;
        for s in 0..steps.len() {
            let (score, diff) = l.step_score(s, true);
            (l.by_step[s], l.diff[s]) = (score, diff);
            (0..5).for_each(|r| l.total[r] += score[r]);
        }
        l.bound = l.total;
        l
    }

    fn passes(&self, step: usize) -> &[usize] {
        &self.row[self.first[step]..self.first[step + 1]]
    }

    fn joint(&self, pass: usize) -> usize {
        self.plain.q.passes[pass].joint
    }

    /// Put these passes at the places from `lo` on (the same passes in another order). If a rule that
    /// is never relaxed breaks or the shortfalls exceed the bound, nothing changes and the answer is
    /// `false`; else the change stands until [`Ledger::commit`] or [`Ledger::revert`].
    pub fn propose(&mut self, lo: usize, new: &[usize]) -> bool {
        let hi = lo + new.len();
        self.before.clear();
        self.before.extend_from_slice(&self.row[lo..hi]);
        for (i, &p) in new.iter().enumerate() {
            self.row[lo + i] = p;
            self.place[p] = lo + i;
        }
        let (from, to) = (self.step_of[lo], self.step_of[hi - 1] + 1);
        let total = if self.sound(lo, hi, from, to) { self.rescore(from, to) } else { [i64::MAX; 5] };
        self.pending = Some(Pending { lo, len: new.len(), total });
        if total > self.bound {
            self.revert();
            return false;
        }
        true
    }

    pub fn commit(&mut self) {
        let p = self.pending.take().expect("a proposal stands");
        for (step, score, diff) in self.scratch.drain(..) {
            self.by_step[step] = score;
            self.diff[step] = diff;
        }
        self.total = p.total;
    }

    pub fn revert(&mut self) {
        let p = self.pending.take().expect("a proposal stands");
        for i in 0..p.len {
            self.row[p.lo + i] = self.before[i];
            self.place[self.before[i]] = p.lo + i;
        }
    }

    /// Total shortfall with the proposal that stands.
    pub fn proposed(&self) -> Score {
        self.pending.as_ref().map_or(self.total, |p| p.total)
    }

    /// The rules that are never relaxed, as far as a change of places lo..hi can break them.
    fn sound(&self, lo: usize, hi: usize, from: usize, to: usize) -> bool {
        let q = self.plain.q;
        for place in lo..hi {
            let p = self.row[place];
            let s = self.step_of[place];
            if !self.plain.fits(p, self.setup[s])
                || self.plain.pin[p] != Pin::Free && self.before[place - lo] != p
            {
                return false;
            }
            if q.passes[p].below.is_some_and(|b| self.step_of[self.place[b]] >= s) {
                return false;
            }
        }
        for s in from..to {
            let here = self.passes(s);
            for (i, &a) in here.iter().enumerate() {
                for &b in &here[..i] {
                    let (a, b) = (self.joint(a), self.joint(b));
                    if a == b || self.plain.steel(a, b) < self.plain.welder_nm || self.plain.apart(a, b) {
                        return false;
                    }
                }
            }
        }
        if self.plain.any_apart {
            for s in from.max(1)..(to + 1).min(self.setup.len()) {
                for &a in self.passes(s) {
                    if self.passes(s - 1).iter().any(|&b| self.plain.apart(self.joint(a), self.joint(b))) {
                        return false;
                    }
                }
            }
        }
        true
    }

    /// Scores of all steps that a change of the steps from..to can touch, into the scratch; the total.
    fn rescore(&mut self, from: usize, to: usize) -> Score {
        let steps = self.setup.len();
        let near = (to + self.plain.q.rules.spacing.max(1)).min(steps);
        let mut scratch = std::mem::take(&mut self.scratch);
        scratch.clear();
        let mut total = self.total;
        let mut diff = if from > 0 { self.diff[from - 1] } else { 0 };
        for s in from..near {
            let (mut score, change) = self.step_score_from(s, s < to, diff);
            diff = change;
            if s >= to {
                (score[2], score[3]) = (self.by_step[s][2], self.by_step[s][3]);
            }
            (0..5).for_each(|r| total[r] += score[r] - self.by_step[s][r]);
            scratch.push((s, score, diff));
        }
        // Across a turn, pairs may come to wait for it or cease to: look at what comes later of their
        // seams.
        if self.stay[from] != self.stay[to - 1] && self.plain.q.rules.opposite {
            self.later.clear();
            for place in self.first[from]..self.first[to] {
                for &p in &self.plain.seam_passes[self.plain.q.passes[self.row[place]].seam] {
                    let s = self.step_of[self.place[p]];
                    if s >= to {
                        self.later.push(s);
                    }
                }
            }
            self.later.sort_unstable();
            self.later.dedup();
            for &s in &self.later {
                let over: i64 = self.passes(s).iter().map(|&p| self.passed_over(p, s)).sum();
                total[2] += over - self.by_step[s][2];
                match scratch.iter_mut().find(|x| x.0 == s) {
                    Some(known) => known.1[2] = over,
                    None => {
                        let mut score = self.by_step[s];
                        score[2] = over;
                        scratch.push((s, score, self.diff[s]));
                    }
                }
            }
        }
        self.scratch = scratch;
        total
    }

    fn step_score(&self, s: usize, whole: bool) -> (Score, i64) {
        self.step_score_from(s, whole, if s > 0 { self.diff[s - 1] } else { 0 })
    }

    /// Shortfalls of one step and the difference of sides after it, from that before it.
    fn step_score_from(&self, s: usize, whole: bool, mut diff: i64) -> (Score, i64) {
        let plain = self.plain;
        let mut score = [0; 5];
        let last = if s > 0 { self.passes(s - 1) } else { &[] };
        for &p in self.passes(s) {
            let joint = self.joint(p);
            diff += plain.sign[p] * plain.energy_uj[p];
            let mut nearest = i64::MAX;
            for &b in last {
                nearest = nearest.min(plain.steel(self.joint(b), joint));
                score[0] += i64::from(self.joint(b) == joint);
            }
            score[4] += if last.is_empty() { 0 } else { plain.lack(nearest) };
            for back in 1..=(plain.spacing as usize).min(s) {
                if self.passes(s - back).iter().any(|&b| self.joint(b) == joint) {
                    score[1] += plain.spacing - (back as i64 - 1);
                    break;
                }
            }
            if whole && plain.q.rules.opposite {
                score[2] += self.passed_over(p, s);
            }
        }
        score[3] = plain.excess(diff);
        (score, diff)
    }

    /// Open pairs of its seam that a pass passes over.
    fn passed_over(&self, pass: usize, s: usize) -> i64 {
        let plain = self.plain;
        let q = plain.q;
        let item = &q.passes[pass];
        let step = |p: usize| self.step_of[self.place[p]];
        let mut over = 0;
        for &open in &plain.seam_passes[item.seam] {
            let Some(partner) = q.passes[open].partner else { continue };
            let opened = step(open);
            if opened >= s || step(partner) < s || partner == pass || !plain.fits(partner, self.setup[s]) {
                continue;
            }
            over += i64::from(if self.stay[opened] == self.stay[s] {
                q.passes[open].layer == item.layer
            } else {
                !item.partner.is_some_and(|o| step(o) < s && self.stay[step(o)] != self.stay[s])
            });
        }
        over
    }
}
