//! Common orders and the planned one, judged side by side: what the order is worth, and what not.

use super::judge::{Judge, deviation};
use super::make::{habits, passes_of};
use super::{Objective, WeldPlan};
use crate::distort::Level;
use crate::fault::Fault;
use crate::sequence::{self, Order, Question, Wish, start_with};

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
    let q = super::question(&plan.frame, &parts.joints, &parts.seams, &parts.passes)?;
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
    for h in habits(&q, &judge) {
        let (as_is, broken) = h.as_is(&q);
        let words = broken.into_iter().map(|b| b.why).collect();
        rows.push(row(&q, &judge, h.name, "as it is", &as_is, words)?);
        let repaired = start_with(&q, &h.wish(), &clock).map_err(no_order)?;
        rows.push(row(&q, &judge, h.name, "repaired", &repaired, vec![])?);
    }
    let best = rows[0].clone();
    for r in rows.iter_mut().skip(1) {
        r.tie = tie(plan, &best, r);
    }
    Ok(rows)
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
