//! Why the plan is as it is: the terms of the objective, what was tried, the rules that gave way; and
//! common orders side by side.

use super::understood::{right, sheet};
use crate::plan::{Row, WeldPlan};
use crate::units::{MM_PER_INCH, Units, signed_to, trim};
use std::fmt::Write;

/// The terms of the objective, control by control, and what the search tried.
pub fn why(plan: &WeldPlan, width: u16) -> String {
    let mut t = String::new();
    let o = &plan.objective;
    let _ = writeln!(t, "\nWHY THIS ORDER");
    let [deviation, scatter, minute] = o.weights;
    let _ = writeln!(
        t,
        "Compared in this order: shortfalls of the house rules, highest rank first; then the objective: the sum over \
         the controls of {deviation} × (deviation left / tolerance)² and {scatter} × (scatter / tolerance)², plus \
         {minute} for each minute. Orders whose objectives agree to 0.0001 are ties: then the smaller largest \
         excursion, then fewer turns, then less time."
    );
    if let (Some(c), "none") = (&o.coarse, plan.pull.level) {
        let _ = writeln!(
            t,
            "{} whole orders were compared by a coarser model, which only ranks: the frame stiffens in steps of a \
             twelfth of its passes; the pull of the tacks, warmth, directions of travel and clamps opened before the \
             end of their setup are left out. Objective {:.4} = deviation {:.4} + scatter {:.4} + time {:.4} (arcs \
             and {} turns); the order by the house rules alone had {}.",
            o.judged_in_full,
            o.full,
            c.deviation,
            c.scatter,
            c.time,
            c.turns,
            o.start.map_or("none".into(), |s| format!("{s:.4}"))
        );
    } else if let Some(c) = &o.coarse {
        let minutes = plan.timeline.end_s / 60.0;
        let time = minute * minutes;
        let _ = writeln!(
            t,
            "Objective in full {:.4} = deviation {:.4} (fine model) + scatter {:.4} + time {:.4} ({minutes:.0} minutes \
             with waits, {} turns); the scheduler's own order, before any search, had {}.",
            o.full,
            c.deviation,
            o.full - c.deviation - time,
            time,
            c.turns,
            o.start.map_or("none".into(), |s| format!("{s:.4}"))
        );
        let _ = writeln!(
            t,
            "{} changes judged by the coarse model in {} chains, {} orders judged in full, {} passes turned round by \
             the fine model.",
            o.tried, o.restarts, o.judged_in_full, o.flips
        );
    } else {
        let _ = writeln!(t, "No search was made: the order follows from the house rules alone.");
    }
    if !plan.frame.controls.is_empty() {
        let mut table =
            sheet(width, &["control", "pull", "set", "left", "±", "most", "(left/tol)²", "(±/tol)²"]);
        for (c, p) in plan.frame.controls.iter().zip(&plan.pull.controls) {
            let inch = plan.frame.units == Units::Inch && c.kind.unit() == "mm";
            let change = |v: f64| if inch { plan.frame.units.change(v) } else { signed_to(v, 2) };
            table.add_row(vec![
                c.name.clone(),
                change(p.pull),
                change(p.set_to),
                change(p.residual),
                if inch { plan.frame.units.band(p.scatter) } else { trim(p.scatter, 2) },
                change(p.largest),
                format!("{:.3}", (p.residual / c.tolerance).powi(2)),
                format!("{:.3}", (p.scatter / c.tolerance).powi(2)),
            ]);
        }
        (1..8).for_each(|c| right(&mut table, c));
        let _ = writeln!(t, "{table}");
        let _ =
            writeln!(t, "set: what to set beforehand; ±: one standard deviation; most: largest on the way.");
        let _ = writeln!(t, "\nJOINTS THAT CAUSE MOST OF EACH PULL");
        for (c, p) in plan.frame.controls.iter().zip(&plan.pull.controls) {
            let inch = plan.frame.units == Units::Inch && c.kind.unit() == "mm";
            let by = causes(plan, &p.by_joint, if inch { MM_PER_INCH } else { 1.0 });
            if !by.is_empty() {
                let _ = writeln!(t, "{}: {by}", c.name);
            }
        }
    }
    t
}

/// The three joints with the largest share.
fn causes(plan: &WeldPlan, by_joint: &[f64], one: f64) -> String {
    let mut rank: Vec<usize> = (0..by_joint.len()).collect();
    rank.sort_by(|&a, &b| by_joint[b].abs().total_cmp(&by_joint[a].abs()).then(a.cmp(&b)));
    rank.iter()
        .take(3)
        .filter(|&&j| by_joint[j].abs() >= 0.005)
        .map(|&j| {
            format!(
                "{} {}",
                plan.joints.joints[j].name,
                signed_to(by_joint[j] / one, if one == 1.0 { 2 } else { 3 })
            )
        })
        .collect::<Vec<_>>()
        .join(", ")
}

/// Common orders beside the plan.
pub fn side_by_side(plan: &WeldPlan, rows: &[Row], width: u16) -> String {
    let mut t = String::new();
    let _ = writeln!(t, "{}: ORDERS SIDE BY SIDE", plan.frame.name.to_uppercase());
    let _ = writeln!(
        t,
        "Deviations in tolerances of the {} controls: 1.0 is just within. Set-to values take out what no order \
         changes; the order keeps the rest, and the scatter, small.",
        plan.frame.controls.len()
    );
    let mut table =
        sheet(width, &["order", "rules", "pull", "rms", "way", "left", "rms", "min", "turns", ""]);
    for r in rows {
        let against = match () {
            () if r.how == "plan" => "",
            () if r.tie => "no real difference",
            () if r.after[1] < rows[0].after[1] => "better",
            () => "worse",
        };
        let broken = if r.breaks.is_empty() { String::new() } else { format!("+{}!", r.breaks.len()) };
        table.add_row(vec![
            if r.how == "plan" || r.how == "rules" {
                r.name.clone()
            } else {
                format!("{}, {}", r.name, r.how)
            },
            format!("{}{broken}", r.shortfalls),
            format!("{:.2}", r.before[0]),
            format!("{:.2}", r.before[1]),
            format!("{:.2}", r.largest),
            format!("{:.2}", r.after[0]),
            format!("{:.2}", r.after[1]),
            format!("{:.0}", r.minutes),
            r.turns.to_string(),
            against.into(),
        ]);
    }
    (1..9).for_each(|c| right(&mut table, c));
    let _ = writeln!(t, "{table}");
    let _ = writeln!(
        t,
        "rules: how often a house rule fell short (! a rule that is never relaxed); pull and rms: worst and \
         root-mean-square before set-to; way: largest on the way; left and rms: after set-to; min: minutes from the \
         first arc to the last. As it is: whatever the house rules say. Repaired: as near as they allow."
    );
    for r in rows.iter().filter(|r| r.how == "as it is" && r.after[1] < rows[0].after[1] - 0.005) {
        let _ = writeln!(t, "{}", better_as_it_is(r, &rows[0]));
    }
    let _ = writeln!(
        t,
        "The model is good to about its scatter: before this shop has calibrated, orders that differ by less than a \
         third of the scatter in every control count as the same. The time is of one welder at the settings of the \
         file."
    );
    t
}

/// A habit that leaves less than the plan because it breaks rules: which, and what each costs.
fn better_as_it_is(r: &Row, plan: &Row) -> String {
    let mut t = format!(
        "{}, as it is, leaves {:.2} (rms) against {:.2} of the plan{}",
        r.name,
        r.after[1],
        plan.after[1],
        if r.tie { ", no real difference" } else { "" }
    );
    if !r.breaks.is_empty() {
        let _ = write!(t, ", but breaks rules that are never relaxed ({} times)", r.breaks.len());
    }
    let costs: Vec<String> = r
        .costs
        .iter()
        .map(|(rule, cost)| match cost {
            c if c.abs() < 0.005 => format!("{rule} nothing"),
            c if *c > 0.0 => format!("{rule} {c:.2}"),
            c => format!("{rule} nothing (it gains {:.2})", -c),
        })
        .collect();
    if !costs.is_empty() {
        let _ = write!(
            t,
            ". What each rule that it falls short of costs when it is repaired: {}",
            costs.join(", ")
        );
    }
    t + "."
}
