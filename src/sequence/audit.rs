//! The auditor: re-reads a finished order from scratch and says everything that is wrong with it.
//!
//! It shares no code with the rules, the scheduler or the search, on purpose, and is written
//! another way: those walk along the order with a running state; this one first notes when each pass
//! is welded and then asks about passes, pairs and joints.

use super::{Item, Order, Question};
use crate::joint::Side;

/// One thing that is wrong with an order.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The rule; for an entry of the list of relaxed rules that does not hold: `relaxed list`.
    pub rule: &'static str,
    /// Pass index, if it is about one pass.
    pub pass: Option<usize>,
    /// What is wrong.
    pub what: String,
}

/// A shortfall as the auditor sees it: rule, pass, required, actual.
type Short = (&'static str, usize, f64, f64);

/// Joules that are not worth mentioning in the balance of sides.
const JOULE_GRAIN: f64 = 0.01;
/// Millimetres that are not worth mentioning.
const MM_GRAIN: f64 = 0.001;

/// All findings. An order is clean if there are none: every rule that is never relaxed holds, and the
/// list of relaxed rules names each shortfall there is, with its numbers, and no other.
pub fn audit(q: &Question, order: &Order) -> Vec<Finding> {
    let mut found = Vec::new();
    let when = match timetable(q, order, &mut found) {
        Some(when) => when,
        None => return found, // nothing else can be asked of an order that is not complete
    };
    let a = Audit { q, order, when, lying: order.steps.iter().map(|s| s.setup).collect() };
    a.welded_already(&mut found);
    a.stacking(&mut found);
    a.reachable(&mut found);
    a.crowding(&mut found);
    a.pins(&mut found);
    a.kept_apart(&mut found);
    let mut short = a.returns();
    short.extend(a.pairs());
    short.extend(a.sides());
    short.extend(a.walks());
    compare(q, order, short, &mut found);
    found
}

struct Audit<'a> {
    q: &'a Question,
    order: &'a Order,
    /// Step of each pass.
    when: Vec<usize>,
    /// Setup of each step.
    lying: Vec<usize>,
}

/// Step in which each pass is welded, if each is welded exactly once.
fn timetable(q: &Question, order: &Order, found: &mut Vec<Finding>) -> Option<Vec<usize>> {
    let mut when: Vec<Vec<usize>> = vec![vec![]; q.passes.len()];
    for (s, step) in order.steps.iter().enumerate() {
        if step.passes.is_empty() {
            say(found, "every pass once", None, format!("step {} is empty", s + 1));
        }
        for laid in &step.passes {
            if laid.pass >= when.len() {
                say(found, "every pass once", None, format!("step {} names a pass that is not there", s + 1));
            } else {
                when[laid.pass].push(s);
            }
        }
    }
    for (p, at) in when.iter().enumerate() {
        match at.len() {
            1 => {}
            0 => say(found, "every pass once", Some(p), format!("{} is never welded", q.passes[p].label)),
            _ => say(
                found,
                "every pass once",
                Some(p),
                format!("{} is welded more than once", q.passes[p].label),
            ),
        }
    }
    if found.is_empty() { Some(when.into_iter().map(|at| at[0]).collect()) } else { None }
}

impl Audit<'_> {
    fn item(&self, p: usize) -> &Item {
        &self.q.passes[p]
    }

    fn mm(&self, a: usize, b: usize) -> f64 {
        self.q.steel_mm[self.item(a).joint][self.item(b).joint]
    }

    fn in_step(&self, s: usize) -> Vec<usize> {
        (0..self.when.len()).filter(|&p| self.when[p] == s).collect()
    }

    fn welded_already(&self, found: &mut Vec<Finding>) {
        let n = self.q.done.len();
        if self.order.steps.len() < n || self.order.steps[..n] != self.q.done[..] {
            say(found, "done stays", None, "the steps that are welded already were changed".into());
        }
    }

    fn stacking(&self, found: &mut Vec<Finding>) {
        for p in 0..self.when.len() {
            if let Some(under) = self.item(p).below
                && self.when[p] <= self.when[under]
            {
                let what = format!("{} is not after {}", self.item(p).label, self.item(under).label);
                say(found, "layers in turn", Some(p), what);
            }
        }
    }

    fn reachable(&self, found: &mut Vec<Finding>) {
        for p in 0..self.when.len() {
            if self.item(p).setups.iter().all(|&s| s != self.lying[self.when[p]]) {
                say(found, "reach", Some(p), format!("{} is out of reach", self.item(p).label));
            }
        }
    }

    fn crowding(&self, found: &mut Vec<Finding>) {
        for step in &self.order.steps {
            let mut hands: Vec<usize> = step.passes.iter().map(|l| l.welder).collect();
            hands.sort_unstable();
            hands.dedup();
            let most = self.q.welders.max(1);
            if hands.len() != step.passes.len() || hands.iter().any(|&h| h >= most) {
                say(found, "welders", step.passes.first().map(|l| l.pass), "more passes than welders".into());
            }
            for (i, x) in step.passes.iter().enumerate() {
                for y in &step.passes[i + 1..] {
                    let same = self.item(x.pass).joint == self.item(y.pass).joint;
                    if same || self.mm(x.pass, y.pass) < self.q.rules.welder_distance_mm - MM_GRAIN {
                        let what = format!(
                            "{} and {} are too close",
                            self.item(x.pass).label,
                            self.item(y.pass).label
                        );
                        say(found, "welders", Some(y.pass), what);
                    }
                }
            }
        }
    }

    fn pins(&self, found: &mut Vec<Finding>) {
        let start = self.q.done.len();
        let fresh = |row: &[usize]| -> Vec<usize> {
            row.iter().copied().filter(|&p| self.when[p] >= start).collect()
        };
        let (first, last) = (fresh(&self.q.first), fresh(&self.q.last));
        let others = |row: &[usize]| -> Vec<usize> {
            (0..self.when.len()).filter(|&p| self.when[p] >= start && !row.contains(&p)).collect()
        };
        for (i, &p) in first.iter().enumerate() {
            let late = others(&first).iter().any(|&o| self.when[o] <= self.when[p]);
            if late || (i > 0 && self.when[first[i - 1]] >= self.when[p]) {
                say(found, "pinned first", Some(p), format!("{} comes too late", self.item(p).label));
            }
        }
        for (i, &p) in last.iter().enumerate() {
            let early = others(&last).iter().any(|&o| self.when[o] >= self.when[p]);
            if early || (i > 0 && self.when[last[i - 1]] >= self.when[p]) {
                say(found, "pinned last", Some(p), format!("{} comes too early", self.item(p).label));
            }
        }
    }

    fn kept_apart(&self, found: &mut Vec<Finding>) {
        for &(a, b) in &self.q.apart {
            let on = |j: usize| (0..self.when.len()).filter(move |&p| self.item(p).joint == j);
            for x in on(a) {
                for y in on(b) {
                    let later = self.when[x].max(self.when[y]);
                    if x != y && self.when[x].abs_diff(self.when[y]) <= 1 && later >= self.q.done.len() {
                        let what =
                            format!("{} and {} follow each other", self.item(x).label, self.item(y).label);
                        say(found, "apart", Some(y), what);
                    }
                }
            }
        }
    }

    /// Same joint twice, and spacing: visits of each joint in order of time.
    fn returns(&self) -> Vec<Short> {
        let mut short = Vec::new();
        for joint in 0..self.q.steel_mm.len() {
            let mut visits: Vec<usize> =
                (0..self.when.len()).filter(|&p| self.item(p).joint == joint).collect();
            visits.sort_by_key(|&p| self.when[p]);
            for pair in visits.windows(2) {
                let gap = self.when[pair[1]] - self.when[pair[0]];
                if gap == 1 {
                    short.push(("same joint twice", pair[1], 1.0, 0.0));
                }
                if gap >= 1 && gap - 1 < self.q.rules.spacing {
                    short.push(("spacing", pair[1], self.q.rules.spacing as f64, (gap - 1) as f64));
                }
            }
        }
        short
    }

    /// Opposite: for each pair, who was welded on the seam while it stood open.
    fn pairs(&self) -> Vec<Short> {
        if !self.q.rules.opposite {
            return vec![];
        }
        // Turns before each step: two steps belong to one stay if they agree.
        let turns: Vec<usize> = (0..self.lying.len())
            .map(|s| (1..=s).filter(|&i| self.lying[i] != self.lying[i - 1]).count())
            .collect();
        let stay = |p: usize| turns[self.when[p]];
        let mut over = vec![0usize; self.when.len()];
        for open in 0..self.when.len() {
            let Some(close) = self.item(open).partner else { continue };
            if self.when[open] >= self.when[close] {
                continue;
            }
            for (p, count) in over.iter_mut().enumerate() {
                let between =
                    self.when[open] < self.when[p] && self.when[p] <= self.when[close] && p != close;
                if !between || self.item(p).seam != self.item(open).seam {
                    continue;
                }
                let could_close = self.item(close).setups.contains(&self.lying[self.when[p]]);
                let same_stay = stay(open) == stay(p);
                let p_came_late =
                    self.item(p).partner.is_some_and(|o| self.when[o] < self.when[p] && stay(o) != stay(p));
                let passed =
                    if same_stay { self.item(p).layer == self.item(open).layer } else { !p_came_late };
                *count += usize::from(could_close && passed);
            }
        }
        (0..over.len()).filter(|&p| over[p] > 0).map(|p| ("opposite", p, 0.0, over[p] as f64)).collect()
    }

    /// Side balance after each step, from the sums of both sides.
    fn sides(&self) -> Vec<Short> {
        if !self.q.has_plane || !self.q.rules.balance {
            return vec![];
        }
        let sum = |side: Side, until: usize| -> f64 {
            let welded = (0..self.when.len()).filter(|&p| self.when[p] <= until && self.item(p).side == side);
            welded.map(|p| self.item(p).energy_j).sum()
        };
        let end = self.order.steps.len();
        let largest = self.q.passes.iter().map(|p| p.energy_j).fold(0.0, f64::max);
        let allowed = largest + (sum(Side::Left, end) - sum(Side::Right, end)).abs();
        let mut short = Vec::new();
        let (mut left, mut right) = (0.0, 0.0);
        for step in &self.order.steps {
            for l in &step.passes {
                match self.item(l.pass).side {
                    Side::Left => left += self.item(l.pass).energy_j,
                    Side::Right => right += self.item(l.pass).energy_j,
                    Side::Centre => {}
                }
            }
            let heavy = if left > right { Side::Left } else { Side::Right };
            let gap = f64::abs(left - right);
            if gap > allowed + JOULE_GRAIN {
                let blamed =
                    step.passes.iter().find(|l| self.item(l.pass).side == heavy).unwrap_or(&step.passes[0]);
                short.push(("side balance", blamed.pass, allowed, gap));
            }
        }
        short
    }

    /// Distance from the passes of the step before.
    fn walks(&self) -> Vec<Short> {
        let mut short = Vec::new();
        let mut last: Vec<usize> = vec![];
        for s in 0..self.order.steps.len() {
            let now = self.in_step(s);
            for &p in &now {
                let way = last.iter().map(|&b| self.mm(b, p)).fold(f64::INFINITY, f64::min);
                if way < self.q.rules.distance_mm - MM_GRAIN {
                    short.push(("distance", p, self.q.rules.distance_mm, way));
                }
            }
            last = now;
        }
        short
    }
}

/// The list in the order against the shortfalls found, both ways.
fn compare(q: &Question, order: &Order, mut short: Vec<Short>, found: &mut Vec<Finding>) {
    for entry in &order.relaxed {
        let grain = if entry.rule == "side balance" { 10.0 * JOULE_GRAIN } else { MM_GRAIN };
        let same = short.iter().position(|s| {
            s.0 == entry.rule
                && s.1 == entry.pass
                && (s.2 - entry.required).abs() <= grain
                && (s.3 - entry.actual).abs() <= grain
        });
        match same {
            Some(i) => {
                short.swap_remove(i);
            }
            None => {
                let what =
                    format!("says that {} falls short at pass {}, which is not so", entry.rule, entry.pass);
                say(found, "relaxed list", Some(entry.pass), what);
            }
        }
    }
    for (rule, pass, required, actual) in short {
        let what = format!(
            "{rule} at {}: {required} asked, {actual} kept, and it is not listed",
            q.passes[pass].label
        );
        say(found, "relaxed list", Some(pass), what);
    }
}

fn say(found: &mut Vec<Finding>, rule: &'static str, pass: Option<usize>, what: String) {
    found.push(Finding { rule, pass, what });
}
