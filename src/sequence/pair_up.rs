//! Work for the second welder: passes of a single-file order that can be laid at the same time.

use super::plain::Plain;
use super::rules;
use super::shortfall::total;
use super::tally::{Choice, assign_welders, steps_of};

/// Passes up to which this is done; each trial reads the whole order.
const UP_TO: usize = 600;
/// How many steps a pass may be brought forward.
const FORWARD: usize = 6;

/// Bring passes forward into steps that have room, mirror joints first, wherever no rule that is never
/// relaxed breaks and no shortfall grows.
pub(crate) fn pair_up(plain: &Plain, choices: Vec<Choice>) -> Vec<Choice> {
    let q = plain.q;
    if plain.n() > UP_TO {
        return choices;
    }
    let mut steps = steps_of(plain, &choices);
    let mut score = total(plain, &steps);
    let mut s = q.done.len();
    while s < steps.len() {
        let joint = q.passes[steps[s].passes[0].pass].joint;
        let near = (s + 1..steps.len().min(s + 1 + FORWARD))
            .filter(|&t| steps[t].setup == steps[s].setup && steps[t].passes.len() == 1);
        let mut near: Vec<usize> = near.collect();
        near.sort_by_key(|&t| (q.mirror[joint] != Some(q.passes[steps[t].passes[0].pass].joint), t));
        let room = steps[s].passes.len() < q.welders;
        let better = near.into_iter().filter(|_| room).find_map(|t| {
            let mut tried = steps.clone();
            let moved = tried.remove(t).passes[0];
            tried[s].passes.push(moved);
            assign_welders(plain, &mut tried[s]);
            let with = total(plain, &tried);
            (with <= score && rules::broken(q, &tried).is_empty()).then_some((tried, with))
        });
        match better {
            Some(b) => (steps, score) = b,
            None => s += 1,
        }
    }
    let fresh = steps[q.done.len()..].iter();
    fresh
        .flat_map(|step| {
            let laid = step.passes.iter().enumerate();
            laid.map(|(i, l)| Choice { pass: l.pass, setup: step.setup, join: i > 0 })
        })
        .collect()
}
