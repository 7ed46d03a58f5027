//! What can be changed by hand on the way besides the order: clamps that are still closed, moved as a
//! counter-bend, and the heat of what is left.

use super::judge::{FULL_LIMIT_PASSES, Judge};
use super::make::Parts;
use super::steer::Reach;
use super::{Remark, WeldPlan};
use crate::distort::{Begun, Event, Level, Model};
use crate::fault::Fault;
use crate::sequence::Order;
use crate::units;

/// No clamp is moved further than this, mm.
const MOST_MOVE_MM: f64 = 3.0;
/// Clamps are moved in steps of this, mm. Common practice, no source.
const MOVE_STEP_MM: f64 = 0.5;
/// A clamp that is moved may bend the tube it holds up to this share of its yield. Assumption.
const MOST_YIELD: f64 = 0.5;
/// No more clamps than this are moved at a time: each must be read again.
const MOST_MOVES: usize = 3;
/// A move must make the sum of squared deviations (in tolerances) less by this, or it is not worth it.
const WORTH: f64 = 0.05;

/// A clamp that could be moved.
pub(super) struct ClampEffect {
    clamp: usize,
    direction: usize,
    /// Effect of one millimetre on each control at the end.
    pub by_mm: Vec<f64>,
    /// Force for one millimetre, N.
    force_n: f64,
    /// Bending stress in the tube it holds for one millimetre, as a share of yield.
    yield_share: f64,
    /// As far as it may be moved, mm.
    pub most_mm: f64,
}

/// What moving each closed clamp would do at the end. The stress is that of the held tube bent over its
/// whole length as a beam on two supports, M = F·L/4: an estimate that stands in for a strength check.
pub(super) fn clamp_effects(
    judge: &Judge,
    model: &Model,
    begun: &Begun,
    order: &Order,
) -> Result<Vec<ClampEffect>, Fault> {
    let Some(u) = judge.underway.filter(|u| u.levers.set_to) else { return Ok(vec![]) };
    let rest = judge.rest(model, order);
    let base = begun.controls_after(&rest)?;
    let mut out = vec![];
    for &clamp in &u.clamps_on {
        let k = &judge.frame.clamps[clamp];
        let tube = &judge.frame.tubes[k.tube];
        let section = &judge.frame.sections[tube.section];
        let p = section.shape.properties();
        let modulus = (p.i_height_mm4 / p.half_height_mm).min(p.i_across_mm4 / p.half_across_mm);
        let length = tube.s[tube.s.len() - 1];
        let before = begun.clamp_force_n(clamp)?;
        for direction in 0..k.holds.len() {
            let mut moved = begun.clone();
            moved.go_on(&[Event::Shift { clamp, direction, by_mm: 1.0 }])?;
            let after = moved.controls_after(&rest)?;
            let force = moved.clamp_force_n(clamp)?;
            let force_n = match (force.get(direction), before.get(direction)) {
                (Some(a), Some(b)) => (a - b).abs(),
                _ => 0.0,
            };
            let stress = force_n * length / 4.0 / modulus;
            let yield_share = stress / judge.frame.materials[section.material].yield_mpa;
            out.push(ClampEffect {
                clamp,
                direction,
                by_mm: after.iter().zip(&base).map(|(a, b)| a - b).collect(),
                force_n,
                yield_share,
                most_mm: (MOST_YIELD / yield_share.max(1e-9)).min(MOST_MOVE_MM),
            });
        }
    }
    Ok(out)
}

fn squares(judge: &Judge, left: &[f64]) -> f64 {
    let all = judge.frame.controls.iter().zip(left).enumerate().filter(|(r, _)| judge.counts(*r));
    all.map(|(_, (c, x))| (x / c.tolerance).powi(2)).sum()
}

/// Which closed clamps to move, and how far, so that the deviations foreseen become least; nothing if
/// none is worth moving.
pub(super) fn clamps(judge: &Judge, plan: &WeldPlan) -> Result<Option<Remark>, Vec<Fault>> {
    let fault = |f: Fault| vec![f];
    let Some(model) = judge.model.as_ref() else { return Ok(None) };
    if plan.passes.passes.len() > FULL_LIMIT_PASSES {
        return Ok(None);
    }
    let begun = model.begin(&judge.before(), Level::Fine).map_err(fault)?;
    let effects = clamp_effects(judge, model, &begun, &plan.order).map_err(fault)?;
    let mut left: Vec<f64> = plan.pull.controls.iter().map(|c| c.residual).collect();
    let mut moves: Vec<(usize, f64)> = vec![];
    for _ in 0..MOST_MOVES {
        let now = squares(judge, &left);
        let mut best: Option<(f64, usize, f64)> = None;
        for (i, e) in effects.iter().enumerate().filter(|(i, _)| !moves.iter().any(|m| m.0 == *i)) {
            let steps = (e.most_mm / MOVE_STEP_MM).floor() as i32;
            for step in (-steps..=steps).filter(|s| *s != 0) {
                let by = f64::from(step) * MOVE_STEP_MM;
                let with: Vec<f64> = left.iter().zip(&e.by_mm).map(|(x, a)| x + by * a).collect();
                let then = squares(judge, &with);
                if best.is_none_or(|b| then < b.0 - 1e-9) {
                    best = Some((then, i, by));
                }
            }
        }
        match best {
            Some((then, i, by)) if then < now - WORTH => {
                left.iter_mut().zip(&effects[i].by_mm).for_each(|(x, a)| *x += by * a);
                moves.push((i, by));
            }
            _ => break,
        }
    }
    if moves.is_empty() {
        return Ok(None);
    }
    let words: Vec<String> = moves
        .iter()
        .map(|&(i, by)| {
            let e = &effects[i];
            let k = &judge.frame.clamps[e.clamp];
            format!(
                "clamp {} by {} mm along {} (about {:.0} N more, the tube bent to about {:.0} % of yield)",
                k.name,
                units::signed(by),
                along(k.holds[e.direction]),
                (e.force_n * by.abs() / 10.0).round() * 10.0,
                100.0 * e.yield_share * by.abs()
            )
        })
        .collect();
    let ends: Vec<String> = judge
        .frame
        .controls
        .iter()
        .zip(&plan.pull.controls)
        .zip(&left)
        .filter(|((c, p), x)| (p.residual - **x).abs() > 0.1 * c.tolerance)
        .map(|((c, p), x)| {
            let (unit, digits) = if c.kind.unit() == "deg" { ("°", 2) } else { (" mm", 1) };
            format!(
                "{} {} instead of {}{unit}",
                c.name,
                units::signed_to(*x, digits),
                units::signed_to(p.residual, digits)
            )
        })
        .collect();
    Ok(Some(Remark {
        code: "W709".into(),
        text: format!(
            "Clamps that are still closed could be moved before going on, as a counter-bend: {}. Foreseen then: {}. \
             Stand clear, enter it (job move) and plan anew.",
            words.join("; "),
            ends.join("; ")
        ),
        first: true,
    }))
}

/// A direction as it is written in a clamp's `holds`: X, Y or Z, or its three parts.
pub fn along(d: glam::DVec3) -> String {
    for (axis, name) in [(glam::DVec3::X, "X"), (glam::DVec3::Y, "Y"), (glam::DVec3::Z, "Z")] {
        if d.dot(axis) > 0.999 {
            return name.into();
        }
        if d.dot(axis) < -0.999 {
            return format!("-{name}");
        }
    }
    format!("({:.2}, {:.2}, {:.2})", d.x, d.y, d.z)
}

/// What each joint's passes that are still to be laid contribute: `[control][joint]`.
pub(super) fn rest_by_joint(judge: &Judge, plan: &WeldPlan) -> Result<Vec<Vec<f64>>, Fault> {
    let Some(model) = judge.model.as_ref() else { return Ok(vec![]) };
    let now = model.moment(&judge.before(), Level::Fine, &[], true)?;
    let diff = |(end, now): (&crate::distort::ControlPull, &Vec<f64>)| {
        end.by_joint.iter().zip(now).map(|(e, n)| e - n).collect()
    };
    Ok(plan.pull.controls.iter().zip(&now.by_joint).map(diff).collect())
}

/// Between which factors the heat of a joint's open passes may lie.
pub(super) fn factors(judge: &Judge, plan: &WeldPlan, joint: usize, (lo, hi): (f64, f64)) -> (f64, f64) {
    let laid =
        |p: usize| plan.order.steps[..judge.done()].iter().flat_map(|s| &s.passes).any(|l| l.pass == p);
    let open = plan.passes.passes.iter().enumerate().filter(|(i, p)| p.joint == joint && !laid(*i));
    let mut range = (0.0_f64, f64::INFINITY);
    for (_, p) in open {
        range = (range.0.max(lo / p.heat_input_j_per_mm), range.1.min(hi / p.heat_input_j_per_mm));
    }
    if range.1.is_finite() && range.0 <= range.1 { (range.0.min(1.0), range.1.max(1.0)) } else { (1.0, 1.0) }
}

/// Heat factors are tried in steps of this.
const HEAT_STEP: f64 = 0.05;

/// Joints whose open passes are better welded with other heat: (joint, factor). Keeps the procedure's
/// range; a joint is changed only if that is worth it.
pub(super) fn heat(
    judge: &Judge,
    plan: &WeldPlan,
    reach: &[Reach],
    range: (f64, f64),
) -> Result<Vec<(usize, f64)>, Vec<Fault>> {
    if reach.is_empty() {
        return Ok(vec![]);
    }
    let rest = rest_by_joint(judge, plan).map_err(|f| vec![f])?;
    let mut left: Vec<f64> = plan.pull.controls.iter().map(|c| c.residual).collect();
    let mut out: Vec<(usize, f64)> = vec![];
    loop {
        let now = squares(judge, &left);
        let mut best: Option<(f64, usize, f64)> = None;
        for j in (0..plan.joints.joints.len()).filter(|j| !out.iter().any(|o| o.0 == *j)) {
            let (lo, hi) = factors(judge, plan, j, range);
            let (first, last) =
                (((lo - 1.0) / HEAT_STEP).ceil() as i32, ((hi - 1.0) / HEAT_STEP).floor() as i32);
            for step in (first..=last).filter(|s| *s != 0) {
                let f = 1.0 + f64::from(step) * HEAT_STEP;
                let with: Vec<f64> = left.iter().zip(&rest).map(|(x, b)| x + (f - 1.0) * b[j]).collect();
                let then = squares(judge, &with);
                if best.is_none_or(|b| then < b.0 - 1e-9) {
                    best = Some((then, j, f));
                }
            }
        }
        match best {
            Some((then, j, f)) if then < now - WORTH => {
                left.iter_mut().zip(&rest).for_each(|(x, b)| *x += (f - 1.0) * b[j]);
                out.push((j, f));
            }
            _ => break,
        }
    }
    out.sort_by_key(|o| o.0);
    Ok(out)
}

/// The passes that stand on the sheet of a plan, by label.
pub(super) fn on_sheet(plan: &WeldPlan) -> Vec<String> {
    let passes = plan.lines.iter().filter_map(|l| match l.act {
        super::Act::Pass { pass, .. } => Some(plan.passes.passes[pass].label.clone()),
        _ => None,
    });
    passes.collect()
}

/// The parts with other heat in these open passes of some joints, by travel speed.
pub(super) fn with_heat(parts: &Parts, open: &[String], factors: &[(usize, f64)]) -> Parts {
    let mut parts = parts.clone();
    for &(joint, f) in factors {
        let mut fresh: Vec<(usize, usize)> = vec![];
        for i in 0..parts.passes.passes.len() {
            let p = &parts.passes.passes[i];
            if p.joint != joint || !open.contains(&p.label) {
                continue;
            }
            let old = p.settings;
            let settings = match fresh.iter().find(|x| x.0 == old) {
                Some(x) => x.1,
                None => {
                    let mut s = parts.passes.settings[old].clone();
                    s.speed_mm_s /= f;
                    parts.passes.settings.push(s);
                    fresh.push((old, parts.passes.settings.len() - 1));
                    parts.passes.settings.len() - 1
                }
            };
            let p = &mut parts.passes.passes[i];
            p.settings = settings;
            p.heat_input_j_per_mm *= f;
            p.energy_j *= f;
            p.arc_s *= f;
        }
    }
    parts
}

pub(super) fn heat_remark(plan: &WeldPlan, factors: &[(usize, f64)]) -> Remark {
    let words: Vec<String> =
        factors.iter().map(|(j, f)| format!("{} {:.0} %", plan.joints.joints[*j].name, 100.0 * f)).collect();
    Remark {
        code: "W710".into(),
        text: format!(
            "Heat input of what is left, against before: {}. By travel speed, within the range that was said to be the qualified procedure's; its owner must agree. The settings on each line are the new ones.",
            words.join(", ")
        ),
        first: true,
    }
}
