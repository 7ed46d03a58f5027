//! The controls and how far welding is expected to pull them.

use super::r;
use crate::plan::WeldPlan;
use schemars::JsonSchema;
use serde::Serialize;

/// A control and its prediction. `pull`, `scatter`, `set_to`, `residual` in its unit.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ControlJson {
    /// Name.
    pub name: String,
    /// Kind.
    pub kind: String,
    /// `mm` or `deg`.
    pub unit: &'static str,
    /// Nominal value.
    pub nominal: f64,
    /// Tolerance, plus or minus.
    pub tolerance: f64,
    /// Where the tolerance comes from.
    pub tolerance_from: String,
    /// Predicted change.
    pub pull: f64,
    /// Its standard deviation.
    pub scatter: f64,
    /// Largest excursion on the way.
    pub largest: f64,
    /// What to set beforehand.
    pub set_to: f64,
    /// pull + set_to.
    pub residual: f64,
    /// Share of each joint.
    pub contributions: std::collections::BTreeMap<String, f64>,
    /// The control after each pass, in weld order.
    pub path: Vec<f64>,
}

pub(super) fn controls(plan: &WeldPlan) -> Vec<ControlJson> {
    let f = &plan.frame;
    f.controls.iter().zip(&plan.pull.controls).enumerate().map(|(i, (c, p))| control(plan, i, c, p)).collect()
}

fn control(
    plan: &WeldPlan,
    i: usize,
    c: &crate::frame::Control,
    p: &crate::distort::ControlPull,
) -> ControlJson {
    ControlJson {
        name: c.name.clone(),
        kind: c.kind.word().into(),
        unit: c.kind.unit(),
        nominal: r(c.nominal, 4),
        tolerance: r(c.tolerance, 4),
        tolerance_from: c.tolerance_from.clone(),
        pull: r(p.pull, 4),
        scatter: r(p.scatter, 4),
        largest: r(p.largest, 4),
        set_to: r(p.set_to, 4),
        residual: r(p.residual, 4),
        contributions: plan
            .joints
            .joints
            .iter()
            .zip(&p.by_joint)
            .map(|(j, &x)| (j.name.clone(), r(x, 4)))
            .collect(),
        path: plan.pull.path.iter().map(|row| r(row[i], 4)).collect(),
    }
}
