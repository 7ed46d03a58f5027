//! Common orders and the planned one, judged side by side: what the order is worth, and what not.

use super::find::{force_directions, habits, passes_of};
use super::judge::{Judge, deviation};
use super::{Objective, WeldPlan};
use crate::distort::Level;
use crate::fault::Fault;
use crate::sequence::baselines::Habit;
use crate::sequence::{self, Order, Question, RANKS, Wish, start_with};
use rayon::prelude::*;

/// One order in the comparison.
#[derive(Debug, Clone)]
pub struct Row {
    /// Plain name.
    pub name: String,
    /// `plan`, `as it is` or `repaired` to obey the house rules.
    pub how: &'static str,
    /// Hard rules it breaks, in words; empty if none.
    pub breaks: Vec<String>,
    /// Shortfalls of the ranked rules.
    pub shortfalls: usize,
    /// Pull of each control.
    pub pull: Vec<f64>,
    /// Residual of each control after set-to.
    pub residual: Vec<f64>,
    /// Largest and root-mean-square pull in tolerances, before set-to.
    pub before: [f64; 2],
    /// The same after set-to.
    pub after: [f64; 2],
    /// Largest excursion on the way, in tolerances, before set-to.
    pub largest: f64,
    /// Minutes from the first arc to the last.
    pub minutes: f64,
    /// Turns.
    pub turns: usize,
    /// Weighted squared deviation after set-to.
    pub deviation: f64,
    /// Where an order that is no plan of ours leaves less than the plan: what each rule it breaks costs,
    /// as the change of the root-mean-square left, in tolerances, when the same habit is repaired with
    /// that rule switched off. Empty otherwise.
    pub costs: Vec<(&'static str, f64)>,
    /// No real difference from the plan: every residual within the model's own error for differences
    /// between orders.
    pub tie: bool,
}

/// Judge the plan and every habit, as it is and repaired.
///
/// # Errors
/// As [`super::plan`].
pub fn compare(plan: &WeldPlan) -> Result<Vec<Row>, Vec<Fault>> {
    let parts = super::Parts {
        joints: plan.joints.clone(),
        seams: plan.seams.clone(),
        passes: plan.passes.clone(),
        warnings: vec![],
    };
    let mut q = super::question(&plan.frame, &parts.joints, &parts.seams, &parts.passes)?;
    q.hold_before_turning();
    let judge = Judge::new(&plan.frame, &parts, plan.tacks.as_ref())?;
    if judge.model.is_none() {
        return Err(vec![Fault::new(
            "W705",
            "this frame is too large for the pull model: there is nothing to compare",
        )]);
    }
    let mut rows = match plan.frame.stages.is_empty() || plan.tacks.is_none() {
        true => vec![row(&q, &judge, "the plan", "plan", &plan.order, vec![])?],
        // All rows below build the frame in one piece.
        false => vec![in_stages(plan, &judge)],
    };
    let clock = super::warm::Warm::new(&judge.kernels);
    let skip = start_with(&q, &Wish::Skip, &clock).map_err(no_order)?;
    let rules =
        if rows[0].name == "the plan" { "house rules, no search" } else { "in one piece, house rules" };
    rows.push(row(&q, &judge, rules, "rules", &skip, vec![])?);
    let habits = habits(&q, &judge);
    let of_habit = |h: &Habit| -> Result<[Row; 2], Vec<Fault>> {
        let (as_is, broken) = h.as_is(&q);
        let words = broken.into_iter().map(|b| b.why).collect();
        let mut free = row(&q, &judge, h.name, "as it is", &as_is, words)?;
        let repaired = start_with(&q, &h.wish(), &clock).map_err(no_order)?;
        let kept = row(&q, &judge, h.name, "repaired", &repaired, vec![])?;
        if free.after[1] < rows[0].after[1] - SAME_RMS {
            free.costs = costs(&q, &judge, h, &as_is, kept.after[1])?;
        }
        Ok([free, kept])
    };
    let found: Vec<Result<[Row; 2], Vec<Fault>>> = habits.par_iter().map(of_habit).collect();
    for pair in found {
        rows.extend(pair?);
    }
    let best = rows[0].clone();
    for r in rows.iter_mut().skip(1) {
        r.tie = tie(plan, &best, r);
    }
    Ok(rows)
}

/// Root-mean-square deviations that print the same.
const SAME_RMS: f64 = 0.005;

/// What each rule that a habit as it is falls short of costs: the root-mean-square left by the habit
/// repaired to all rules, less that of the habit repaired to all rules but this one.
fn costs(
    q: &Question,
    judge: &Judge,
    habit: &Habit,
    as_is: &Order,
    repaired: f64,
) -> Result<Vec<(&'static str, f64)>, Vec<Fault>> {
    let mut out = Vec::new();
    for rule in RANKS {
        if !as_is.relaxed.iter().any(|r| r.rule == rule) {
            continue;
        }
        let mut without = q.clone();
        match rule {
            "spacing" => without.rules.spacing = 0,
            "opposite" => without.rules.opposite = false,
            "side balance" => without.rules.balance = false,
            "distance" => without.rules.distance_mm = 0.0,
            // Never the same joint twice running: it cannot be switched off.
            _ => continue,
        }
        let clock = super::warm::Warm::new(&judge.kernels);
        let order = start_with(&without, &habit.wish(), &clock).map_err(no_order)?;
        let after = row(&without, judge, habit.name, "repaired", &order, vec![])?.after[1];
        out.push((rule, repaired - after));
    }
    Ok(out)
}

/// Two orders differ for real only where their residuals differ by more than what is left of the
/// scatter when both share the same factors: the pass and joint part, and the lean of each branch.
/// That part is taken as a third of the whole scatter (assumption), at least a tenth of the tolerance.
fn tie(plan: &WeldPlan, a: &Row, b: &Row) -> bool {
    plan.frame
        .controls
        .iter()
        .zip(&plan.pull.controls)
        .enumerate()
        .all(|(i, (c, p))| (a.residual[i] - b.residual[i]).abs() <= (p.scatter / 3.0).max(0.1 * c.tolerance))
}

/// The plan of a frame built in stages, as it was judged when it was made.
fn in_stages(plan: &WeldPlan, judge: &Judge) -> Row {
    let tolerances: Vec<f64> = plan.frame.controls.iter().map(|c| c.tolerance).collect();
    let pull: Vec<f64> = plan.pull.controls.iter().map(|c| c.pull).collect();
    let residual: Vec<f64> = plan.pull.controls.iter().map(|c| c.residual).collect();
    let largest =
        plan.pull.controls.iter().zip(&tolerances).map(|(c, t)| c.largest.abs() / t).fold(0.0, f64::max);
    let first = plan.timeline.start_s.iter().copied().fold(0.0, f64::min);
    Row {
        name: "the plan, in stages".into(),
        how: "plan",
        breaks: vec![],
        shortfalls: plan.order.relaxed.len(),
        before: worst_and_rms(&pull, &tolerances),
        after: worst_and_rms(&residual, &tolerances),
        deviation: deviation(&judge.aim(&[]), &pull),
        pull,
        residual,
        largest,
        minutes: (plan.timeline.end_s - first) / 60.0,
        costs: vec![],
        turns: plan.turns(),
        tie: false,
    }
}

fn no_order(e: sequence::NoOrder) -> Vec<Fault> {
    e.clashes.into_iter().map(|c| Fault::new("E502", format!("no order keeps the rules: {c}"))).collect()
}

fn row(
    q: &Question,
    judge: &Judge,
    name: &str,
    how: &'static str,
    order: &Order,
    breaks: Vec<String>,
) -> Result<Row, Vec<Fault>> {
    let mut order = order.clone();
    force_directions(&mut order, &judge.parts.passes, q.done.len());
    let order = &order;
    let judged = judge.full(order, Level::Fine).map_err(|f| vec![f])?;
    let aim = judge.aim(&[]);
    let tolerances: Vec<f64> = judge.frame.controls.iter().map(|c| c.tolerance).collect();
    let pull: Vec<f64> = judged.pull.controls.iter().map(|c| c.pull).collect();
    let residual: Vec<f64> = judged.pull.controls.iter().map(|c| c.residual).collect();
    let largest =
        judged.pull.controls.iter().zip(&tolerances).map(|(c, t)| c.largest.abs() / t).fold(0.0, f64::max);
    let (_, turns) = sequence::objective::minutes(q, &order.steps);
    debug_assert_eq!(passes_of(order).concat().len(), q.passes.len());
    Ok(Row {
        name: name.into(),
        how,
        breaks,
        shortfalls: order.relaxed.len(),
        before: worst_and_rms(&pull, &tolerances),
        after: worst_and_rms(&residual, &tolerances),
        deviation: deviation(&aim, &pull),
        pull,
        residual,
        largest,
        minutes: judged.timeline.end_s / 60.0,
        turns,
        costs: vec![],
        tie: false,
    })
}

fn worst_and_rms(values: &[f64], tolerances: &[f64]) -> [f64; 2] {
    let ratio: Vec<f64> = values.iter().zip(tolerances).map(|(v, t)| (v / t).abs()).collect();
    let worst = ratio.iter().copied().fold(0.0, f64::max);
    let rms = (ratio.iter().map(|r| r * r).sum::<f64>() / ratio.len().max(1) as f64).sqrt();
    [worst, rms]
}

impl Objective {
    /// Whether a search was made.
    pub fn searched(&self) -> bool {
        self.coarse.is_some()
    }
}
