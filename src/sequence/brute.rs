//! Every order of a few passes, to prove which falls least short.

use super::Score;
use super::plain::Plain;
use super::tally::{Choice, Tally};

/// Passes up to which the least shortfall is proved.
pub(crate) const PROVED_UP_TO: usize = 9;
/// Places in the tree of orders that are looked at before the proof is given up.
const NODES: usize = 4_000_000;

/// Shortfalls, turns, steps.
pub(crate) type Worth = (Score, usize, i64);

/// The best order, starting from the best one known; and whether all others were ruled out.
pub(crate) fn best(plain: &Plain, known: Option<Vec<Choice>>) -> (Option<Vec<Choice>>, bool) {
    let start = Tally::new(plain);
    let bar = known.as_ref().map(|way| {
        let mut t = start.clone();
        way.iter().for_each(|&c| t.lay(plain, c));
        (t.score(plain), t.turns, t.steps())
    });
    let mut tree = Tree { plain, best: known, bar, way: Vec::new(), nodes: 0 };
    tree.look(&start);
    let proved = tree.nodes < NODES;
    (tree.best, proved)
}

struct Tree<'a> {
    plain: &'a Plain<'a>,
    best: Option<Vec<Choice>>,
    bar: Option<Worth>,
    way: Vec<Choice>,
    nodes: usize,
}

impl Tree<'_> {
    fn look(&mut self, t: &Tally) {
        if self.nodes >= NODES {
            return;
        }
        self.nodes += 1;
        let plain = self.plain;
        if t.laid == plain.n() {
            let worth = (t.score(plain), t.turns, t.steps());
            if self.bar.is_none_or(|bar| worth < bar) {
                self.bar = Some(worth);
                self.best = Some(self.way.clone());
            }
            return;
        }
        if self.bar.is_some_and(|bar| self.at_least(t) >= bar) {
            return;
        }
        let mut choices = Vec::new();
        for pass in 0..plain.n() {
            if !t.ready(plain, pass) {
                continue;
            }
            // Within a step the passes are taken by rising index, so that each step is seen once.
            let joins = plain.q.welders > 1 && t.now.last().is_some_and(|&l| l < pass);
            if joins {
                choices.push(Choice { pass, setup: t.setup, join: true });
            }
            for setup in 0..plain.q.setups {
                choices.push(Choice { pass, setup, join: false });
            }
        }
        choices.retain(|&c| t.allowed(plain, c));
        choices.sort_by_key(|&c| (t.score_with(plain, c), c.setup != t.setup, c.pass));
        for c in choices {
            let mut next = t.clone();
            next.lay(plain, c);
            self.way.push(c);
            self.look(&next);
            self.way.pop();
        }
    }

    /// What every completion of this state is worth at least. The last joint's passes that are left
    /// need gaps that the rest may be too few to fill.
    fn at_least(&self, t: &Tally) -> Worth {
        let plain = self.plain;
        let mut score = t.closed(plain);
        let mut count = vec![0i64; plain.joints];
        let mut left = 0;
        for p in (0..plain.n()).filter(|&p| !t.is_done(p)) {
            count[plain.q.passes[p].joint] += 1;
            left += 1;
        }
        let most = count.into_iter().max().unwrap_or(0);
        score[0] += ((most - 1).max(0) - (left - most)).max(0);
        score[1] += ((most - 1).max(0) * plain.spacing - (left - most)).max(0);
        (score, t.turns, t.steps())
    }
}
