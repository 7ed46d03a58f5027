//! The rules that are never relaxed, one function each, each with its reason; and the judgement of
//! an order by all rules.
//!
//! The ranked rules, which may fall short where the frame forces it, stand in `shortfall.rs`.

pub use super::shortfall::{score, shortfalls};
use super::{Order, Question, Step};

/// A rule that is never relaxed and yet is broken.
#[derive(Debug, Clone, PartialEq)]
pub struct Broken {
    /// Name of the rule.
    pub rule: &'static str,
    /// Pass index.
    pub pass: usize,
    /// What is wrong, in plain words.
    pub why: String,
}

/// An order from steps, with its shortfalls named. Direction, welder and setup are taken as given.
pub fn judge(q: &Question, steps: Vec<Step>) -> Order {
    let relaxed = shortfalls(q, &steps);
    let proved = relaxed.is_empty();
    Order { steps, relaxed, proved }
}

/// Everything in an order that breaks a rule which is never relaxed. An empty answer means sound.
pub fn broken(q: &Question, steps: &[Step]) -> Vec<Broken> {
    let mut found = once(q, steps);
    if !found.is_empty() {
        return found; // the other rules ask for the place of each pass
    }
    let place = places(q, steps);
    found.extend(layers(q, &place));
    found.extend(reach(q, steps));
    found.extend(welders(q, steps));
    found.extend(first(q, &place));
    found.extend(last(q, &place));
    found.extend(apart(q, steps));
    if !q.holds_before_turning(steps) {
        let why = "the frame is turned before an opposite pair holds at every joint".to_string();
        found.push(no("holds before turning", q.hold[0], why));
    }
    found
}

/// Every pass once.
fn once(q: &Question, steps: &[Step]) -> Vec<Broken> {
    let mut times = vec![0; q.passes.len()];
    let mut found = Vec::new();
    for l in steps.iter().flat_map(|s| &s.passes) {
        match times.get_mut(l.pass) {
            Some(t) => *t += 1,
            None => found.push(no("every pass once", l.pass, "there is no such pass".into())),
        }
    }
    for (p, t) in times.into_iter().enumerate().filter(|&(_, t)| t != 1) {
        found.push(no("every pass once", p, format!("{} is welded {t} times", q.passes[p].label)));
    }
    found
}

/// Layers in turn: a pass comes in a later step than the pass under it.
fn layers(q: &Question, place: &[usize]) -> Vec<Broken> {
    let under = q.passes.iter().enumerate().filter_map(|(p, item)| item.below.map(|b| (p, b)));
    under
        .filter(|&(p, b)| place[b] >= place[p])
        .map(|(p, b)| {
            let why =
                format!("{} lies on {}, which is not welded before it", q.passes[p].label, q.passes[b].label);
            no("layers in turn", p, why)
        })
        .collect()
}

/// Reach: a pass is welded in a setup in which it can be reached.
fn reach(q: &Question, steps: &[Step]) -> Vec<Broken> {
    let mut found = Vec::new();
    for step in steps {
        for l in &step.passes {
            if !q.passes[l.pass].setups.contains(&step.setup) {
                let why = format!("{} cannot be welded as the frame lies", q.passes[l.pass].label);
                found.push(no("reach", l.pass, why));
            }
        }
    }
    found
}

/// Welders: no more passes in a step than welders, each welder once, never two on one joint, and
/// never closer than `welder_distance_mm` along the steel.
fn welders(q: &Question, steps: &[Step]) -> Vec<Broken> {
    let mut found = Vec::new();
    for step in steps {
        for (i, a) in step.passes.iter().enumerate() {
            if a.welder >= q.welders.max(1) {
                found.push(no("welders", a.pass, format!("there is no welder {}", a.welder + 1)));
            }
            for b in &step.passes[..i] {
                let (ja, jb) = (q.passes[a.pass].joint, q.passes[b.pass].joint);
                let (la, lb) = (&q.passes[a.pass].label, &q.passes[b.pass].label);
                if a.welder == b.welder {
                    let why = format!("welder {} is to lay {lb} and {la} at once", a.welder + 1);
                    found.push(no("welders", a.pass, why));
                }
                if ja == jb {
                    found.push(no("welders", a.pass, format!("{lb} and {la} are on one joint")));
                } else if q.steel_mm[ja][jb] < q.rules.welder_distance_mm - 1e-6 {
                    let why = format!("{lb} and {la} are only {:.0} mm apart", q.steel_mm[ja][jb]);
                    found.push(no("welders", a.pass, why));
                }
            }
        }
    }
    found
}

/// Pinned first: these passes come one per step in the order given, before all others that are not
/// welded already.
fn first(q: &Question, place: &[usize]) -> Vec<Broken> {
    let pins: Vec<usize> = q.first.iter().copied().filter(|&p| place[p] >= q.done.len()).collect();
    pins.iter()
        .enumerate()
        .filter(|&(i, &p)| place[p] != q.done.len() + i || crowded(place, p))
        .map(|(_, &p)| no("pinned first", p, format!("{} is not where it is pinned", q.passes[p].label)))
        .collect()
}

/// Pinned last: these passes come one per step in the order given, after all others.
fn last(q: &Question, place: &[usize]) -> Vec<Broken> {
    let end = place.iter().max().map_or(0, |s| s + 1);
    let pins: Vec<usize> = q.last.iter().copied().filter(|&p| place[p] >= q.done.len()).collect();
    pins.iter()
        .rev()
        .enumerate()
        .filter(|&(i, &p)| place[p] + i + 1 != end || crowded(place, p))
        .map(|(_, &p)| no("pinned last", p, format!("{} is not where it is pinned", q.passes[p].label)))
        .collect()
}

/// Apart: two joints that must not follow each other are neither in neighbouring steps nor in one.
fn apart(q: &Question, steps: &[Step]) -> Vec<Broken> {
    let clash = |a: usize, b: usize| {
        let (a, b) = (q.passes[a].joint, q.passes[b].joint);
        q.apart.iter().any(|&(x, y)| (x, y) == (a, b) || (y, x) == (a, b))
    };
    let mut found = Vec::new();
    for (s, step) in steps.iter().enumerate().skip(q.done.len()) {
        for (i, l) in step.passes.iter().enumerate() {
            let before = if s > 0 { &steps[s - 1].passes[..] } else { &[] };
            for b in before.iter().chain(&step.passes[..i]).filter(|b| clash(l.pass, b.pass)) {
                let why = format!("{} must not follow {}", q.passes[l.pass].label, q.passes[b.pass].label);
                found.push(no("apart", l.pass, why));
            }
        }
    }
    found
}

/// Step of each pass.
fn places(q: &Question, steps: &[Step]) -> Vec<usize> {
    let mut place = vec![0; q.passes.len()];
    for (s, step) in steps.iter().enumerate() {
        for l in &step.passes {
            place[l.pass] = s;
        }
    }
    place
}

fn crowded(place: &[usize], p: usize) -> bool {
    place.iter().filter(|&&s| s == place[p]).count() > 1
}

fn no(rule: &'static str, pass: usize, why: String) -> Broken {
    Broken { rule, pass, why }
}
