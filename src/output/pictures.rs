//! The pictures of a plan: weld map, close-ups, pull, paths, temperatures, heat of the sides.

use super::close_up::{self, Mark, SegmentNote, TackNote};
use super::drawing::Drawing;
use super::frame_drawing;
use super::plots::{self, Curve};
use super::pull_picture;
use super::view::View;
use crate::joint::Side;
use crate::plan::{Act, WeldPlan};
use crate::units::{MM_PER_INCH, Units};

/// The frame with its joints numbered, in a view, as it lies in the first setup.
pub fn weld_map(plan: &WeldPlan, view: View, size_mm: (f64, f64)) -> Drawing {
    let up = plan.frame.setups.first().map_or(plan.frame.up, |s| s.up);
    frame_drawing::weld_map(&plan.frame, &plan.joints, &plan.seams, view, up, size_mm)
}

/// The height a map of this width needs, mm, at most `most`.
pub fn height(plan: &WeldPlan, view: View, width_mm: f64, most: f64) -> f64 {
    let up = plan.frame.setups.first().map_or(plan.frame.up, |s| s.up);
    frame_drawing::map_height(&plan.frame, view, up, width_mm, most)
}

/// Nominal and pulled frame.
pub fn pull(plan: &WeldPlan, view: View, size_mm: (f64, f64)) -> Drawing {
    pull_picture::pull_picture(&plan.frame, &plan.pull, view, size_mm)
}

/// The close-up of a seam, with the sheet's row numbers beside its segments.
pub fn close_up(plan: &WeldPlan, seam: usize) -> Drawing {
    let mut notes = vec![SegmentNote::default(); plan.seams.seams[seam].segments.len()];
    for line in &plan.lines {
        if let Act::Pass { pass, forward, .. } = line.act
            && plan.passes.passes[pass].seam == seam
        {
            let note = &mut notes[plan.passes.passes[pass].segment];
            note.forward = Some(forward);
            if !note.rows.is_empty() {
                note.rows.push_str(" · ");
            }
            note.rows.push_str(&line.number.to_string());
        }
    }
    close_up::close_up(&plan.frame, &plan.joints, &plan.seams, seam, &notes)
}

/// The close-up of a seam with its tacks and the rows that lay them.
pub fn tacks_close_up(plan: &WeldPlan, seam: usize) -> Drawing {
    let row = |number: usize| {
        let line = plan
            .lines
            .iter()
            .find(|l| matches!(l.act, Act::Tack { seam: s, tack, .. } if s == seam && tack == number));
        line.map_or(String::new(), |l| l.number.to_string())
    };
    let mine = plan.tacks.iter().flat_map(|t| &t.tacks).filter(|t| t.seam == seam);
    let notes: Vec<TackNote> = mine
        .map(|t| TackNote {
            line: t.line,
            at_mm: t.at_mm,
            name: format!("t{}", t.number),
            rows: row(t.number),
        })
        .collect();
    close_up::tacks_close_up(&plan.frame, &plan.joints, &plan.seams, seam, &notes)
}

/// The small picture beside a row; nothing beside a row that lays no metal.
pub fn beside(plan: &WeldPlan, act: &Act) -> Option<Drawing> {
    match act {
        Act::Pass { pass, forward, .. } => {
            let p = &plan.passes.passes[*pass];
            let mark = Mark::Segment { segment: p.segment, forward: *forward };
            close_up::small(&plan.seams.seams[p.seam], mark)
        }
        Act::Tack { seam, tack, .. } => {
            let placed = plan.tacks.as_ref()?.tacks.iter().find(|t| t.seam == *seam && t.number == *tack)?;
            close_up::small(&plan.seams.seams[*seam], Mark::Tack { line: placed.line, at_mm: placed.at_mm })
        }
        _ => None,
    }
}

/// One plot for each control: its pull pass by pass, for the plan and for joint by joint.
pub fn paths(plan: &WeldPlan) -> Vec<Drawing> {
    plan.frame
        .controls
        .iter()
        .enumerate()
        .map(|(i, c)| {
            // An axis has decimals, also in inches.
            let (unit, mm) = match (plan.frame.units, c.kind.unit()) {
                (Units::Inch, "mm") => ("in", MM_PER_INCH),
                (_, unit) => (unit, 1.0),
            };
            let of = |path: &[Vec<f64>]| path.iter().map(|row| row[i] / mm).collect::<Vec<f64>>();
            let other = of(&plan.joint_by_joint);
            let beside = (!other.is_empty()).then_some(("joint by joint", other.as_slice()));
            plots::pull_plot(&c.name, unit, c.tolerance / mm, &of(&plan.pull.path), beside)
        })
        .collect()
}

/// The hottest joints over time.
pub fn heat(plan: &WeldPlan) -> Drawing {
    let curves: Vec<Curve> = plan
        .joint_heat
        .iter()
        .map(|(joint, points)| Curve {
            name: plan.joints.joints[*joint].name.clone(),
            points: points.iter().map(|&(s, c)| (s / 60.0, c)).collect(),
        })
        .collect();
    let limit = plan.passes.settings.iter().map(|s| s.interpass_c).fold(f64::INFINITY, f64::min);
    plots::temperature_plot(&curves, limit)
}

/// Heat put into the left and the right side, pass by pass.
pub fn sides(plan: &WeldPlan) -> Drawing {
    let (mut left, mut right) = (vec![], vec![]);
    let (mut l, mut r) = (0.0, 0.0);
    for p in plan.weld_order() {
        let pass = &plan.passes.passes[p];
        match pass.side {
            Side::Left => l += pass.energy_j / 1000.0,
            Side::Right => r += pass.energy_j / 1000.0,
            Side::Centre => {}
        }
        left.push(l);
        right.push(r);
    }
    plots::side_heat_plot(&left, &right)
}

/// Several drawings below each other on one.
pub fn stacked(title: &str, drawings: &[Drawing]) -> Drawing {
    const GAP_MM: f64 = 4.0;
    let width = drawings.iter().map(|d| d.width_mm).fold(0.0, f64::max);
    let height: f64 = drawings.iter().map(|d| d.height_mm + GAP_MM).sum();
    let mut all = Drawing::new(title, width, height);
    let mut y = 0.0;
    for d in drawings {
        all.place(d, super::drawing::pt(0.0, y), 1.0);
        y += d.height_mm + GAP_MM;
    }
    all
}
