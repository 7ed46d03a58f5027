//! How far what is left of a job can still be steered: the authority over each dimension, by order and
//! direction, by clamps that are still closed, by heat.

use super::WeldPlan;
use super::find::{force_directions, passes_of, sheet_order};
use super::judge::{FULL_LIMIT_PASSES, Judge};
use super::levers::{clamp_effects, factors, rest_by_joint};
use crate::distort::Level;
use crate::fault::Fault;
use crate::sequence::objective::{Aim, SetTo};
use crate::sequence::{self, Budget, Order, Question, Task};
use std::sync::atomic::AtomicBool;

/// The authority that is left over one control: between which ends the levers can still bring its
/// deviation at the end, all else as predicted. Found by a short search: the true range may be a little
/// wider.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reach {
    /// Deviation that the new plan leaves, in the control's unit.
    pub foreseen: f64,
    /// Its standard deviation.
    pub scatter: f64,
    /// Least, by order and direction (those of them that are free), among orders that keep the house
    /// rules as well as the plan does.
    pub least: f64,
    /// Most.
    pub most: f64,
    /// How far the clamps that are still closed could move it further, either way.
    pub by_clamps: f64,
    /// How far the heat input of what is left could move it further: least and most. Zero if the heat
    /// is no lever.
    pub by_heat: (f64, f64),
}

impl Reach {
    /// What the authority means for a tolerance, in words; empty if all is well.
    pub fn words(&self, tolerance: f64) -> &'static str {
        let within =
            |slack: (f64, f64)| self.least + slack.0 <= tolerance && self.most + slack.1 >= -tolerance;
        let more = (-self.by_clamps + self.by_heat.0, self.by_clamps + self.by_heat.1);
        if !within((0.0, 0.0)) {
            if within(more) {
                "order alone cannot bring it into tolerance: clamps or heat must help"
            } else {
                "nothing of this brings it into tolerance: see job straighten"
            }
        } else if self.foreseen.abs() > tolerance {
            "out of tolerance for the sake of the others"
        } else if self.foreseen.abs() > 0.5 * tolerance && self.foreseen.abs() + self.scatter > tolerance {
            "may still end out of tolerance: measure again"
        } else {
            ""
        }
    }
}

/// Changes that are tried for each end of the range.
const REACH_CHANGES: u64 = 3000;
/// The aim lies so many tolerances off that only the one direction counts.
const FAR_TOLERANCES: f64 = 1e3;

pub(super) fn reach(
    q: &Question,
    judge: &Judge,
    plan: &WeldPlan,
    seed: u64,
    stop: &AtomicBool,
) -> Result<Vec<Reach>, Vec<Fault>> {
    let fault = |f: Fault| vec![f];
    let (Some(model), Some(u)) = (judge.model.as_ref(), judge.underway) else { return Ok(vec![]) };
    let order = &plan.order;
    if q.passes.len() > FULL_LIMIT_PASSES || passes_of(order).len() == q.done.len() {
        return Ok(vec![]);
    }
    let coarse = model.coarse(&judge.all_tacks()).map_err(fault)?;
    let begun = model.begin(&judge.before(), Level::Fine).map_err(fault)?;
    let bare = judge.aim(&[]);
    let forced = |o: &Order| {
        let mut o = o.clone();
        force_directions(&mut o, &judge.parts.passes, q.done.len());
        judge.keep_directions(&mut o);
        o
    };
    let after = |o: &Order| begun.controls_after(&judge.rest(model, &forced(o)));
    let now = after(order).map_err(fault)?;
    let moves = clamp_effects(judge, model, &begun, order).map_err(fault)?;
    let rest = rest_by_joint(judge, plan).map_err(fault)?;
    let mut starts = vec![order.clone()];
    starts.extend(sheet_order(q, judge).filter(|o| u.levers.order && o != order));
    let mut out = Vec::new();
    for (r, &here) in now.iter().enumerate() {
        let set = bare.controls[r].set.value(0.0);
        let pull = &plan.pull.controls[r];
        let by_clamps = moves.iter().map(|m| (m.by_mm[r] * m.most_mm).abs()).sum();
        let by_heat = u.levers.heat_j_per_mm.map_or((0.0, 0.0), |range| {
            let one = |j: usize, b: f64| {
                let (lo, hi) = factors(judge, plan, j, range);
                let (x, y) = ((lo - 1.0) * b, (hi - 1.0) * b);
                (x.min(y), x.max(y))
            };
            rest[r]
                .iter()
                .enumerate()
                .map(|(j, b)| one(j, *b))
                .fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1))
        });
        let mut reach = Reach {
            foreseen: pull.residual,
            scatter: pull.scatter,
            least: here + set,
            most: here + set,
            by_clamps,
            by_heat,
        };
        // Of a dimension that is not there yet nothing is known.
        for sign in [1.0, -1.0].into_iter().filter(|_| judge.counts(r)) {
            let aim = towards(&bare, r, sign);
            let accept = |o: &mut Order, _: &[f64]| after(o).map_or(f64::INFINITY, |y| sign * y[r]).into();
            let budget = match u.levers.order {
                true => Budget::of(1, vec![REACH_CHANGES]),
                false => Budget::none(),
            };
            let task = Task {
                question: q,
                coarse: &coarse,
                aim: &aim,
                starts: &starts,
                seed,
                budget,
                stop,
                progress: &|_, _| {},
                accept: &accept,
                polish: None,
            };
            let found = sequence::search(&task);
            let mut end = sign * found.full + set;
            if u.levers.direction {
                let mut o = forced(&found.order);
                judge.turn_round(&aim, model, &begun, &mut o).map_err(fault)?;
                end = after(&o).map_err(fault)?[r] + set;
            }
            if end.is_finite() {
                (reach.least, reach.most) = (reach.least.min(end), reach.most.max(end));
            }
        }
        out.push(reach);
    }
    Ok(out)
}

/// An aim for which only one control counts, the smaller (`sign` 1) or the larger (−1) the better.
fn towards(bare: &Aim, control: usize, sign: f64) -> Aim {
    let mut aim = bare.clone();
    (aim.scatter, aim.time_per_min) = (0.0, 0.0);
    for (r, c) in aim.controls.iter_mut().enumerate() {
        c.weight = f64::from(u8::from(r == control));
        c.set = SetTo::Fixed(0.0);
        c.offset = sign * FAR_TOLERANCES * c.tolerance;
    }
    aim
}
