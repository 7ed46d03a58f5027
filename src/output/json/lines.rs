//! What is done: passes in order, numbered lines, readings, rules that had to give way.

use super::{r, tube, v3};
use crate::plan::{Act, WeldPlan};
use schemars::JsonSchema;
use serde::Serialize;

/// A pass that was welded before this revision.
#[derive(Debug, Serialize, JsonSchema)]
pub struct WeldedJson {
    /// Label.
    pub label: String,
    /// How the frame lay.
    pub setup: String,
    /// `forward` = along growing arc length, or `back`.
    pub direction: &'static str,
}

/// A pass.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PassJson {
    /// Line number on the sheet.
    pub number: usize,
    /// Label that never changes.
    pub label: String,
    /// Joint.
    pub joint: String,
    /// Seam.
    pub seam: String,
    /// Segment on the seam, from 1.
    pub segment: usize,
    /// Segments on that seam.
    pub segments_on_seam: usize,
    /// Label of the opposite pass in the same layer.
    pub partner: Option<String>,
    /// Layer, from 1.
    pub layer: u8,
    /// Side: `left`, `right` or `centre`.
    pub side: &'static str,
    /// Setup.
    pub setup: String,
    /// All setups in which the arc could reach the pass: without them nobody could tell whether a
    /// partner had to wait for a turn.
    pub within_reach: Vec<String>,
    /// Step, from 1; passes of one step are laid at the same time.
    pub step: usize,
    /// Welder, from 1.
    pub welder: usize,
    /// `forward` along growing clock, or `back`.
    pub direction: &'static str,
    /// Where the arc starts, by the clock.
    pub clock_from: String,
    /// Where it stops.
    pub clock_to: String,
    /// Welding position (ISO 6947).
    pub position: String,
    /// Middle of the pass, mm.
    pub mid_point_mm: [f64; 3],
    /// Length, mm.
    pub length_mm: f64,
    /// Net heat input, J/mm.
    pub heat_input_j_per_mm: f64,
    /// Net energy, J.
    pub energy_j: f64,
    /// Arc time, s.
    pub arc_s: f64,
    /// Process (ISO 4063).
    pub process: u16,
    /// Volts.
    pub volts: f64,
    /// Amps.
    pub amps: f64,
    /// Travel speed, mm/s.
    pub speed_mm_s: f64,
    /// True if the settings are the program's starting values.
    pub starting_values: bool,
    /// Filler, g.
    pub filler_g: f64,
    /// Shielding gas, l.
    pub gas_l: f64,
    /// Temperature the joint must be under before the pass, °C.
    pub under_c: f64,
    /// Predicted temperature of the joint before the pass, °C.
    pub before_c: f64,
    /// Why here.
    pub reason: String,
}

/// A numbered line.
#[derive(Debug, Serialize, JsonSchema)]
pub struct StepJson {
    /// Number on the sheet.
    pub number: usize,
    /// `stage`, `tack`, `pass`, `wait`, `hold`, `clamp`, `release`, `turn`, `vent-open`, `vent-close`.
    pub act: &'static str,
    /// Pass or tack label, joint, clamp, setup, tube: whatever the line is about.
    pub what: String,
    /// Minutes to wait, for `wait`.
    pub minutes: Option<f64>,
    /// Limit, °C, for `wait`.
    pub under_c: Option<f64>,
    /// Force that springs, N, for `release`.
    pub force_n: Option<f64>,
    /// Clock place, for `tack`.
    pub clock: Option<String>,
    /// Length, mm, for `tack`.
    pub length_mm: Option<f64>,
    /// With the clamps on or off, for `hold`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clamped: Option<bool>,
    /// What a `tack` holds and what can still move then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub holds: Option<String>,
    /// Controls to read, for `hold`: name, expected, plus or minus.
    pub read: Vec<ReadJson>,
}

/// A reading to take.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ReadJson {
    /// Control.
    pub control: String,
    /// Expected deviation from nominal.
    pub expected: f64,
    /// Band, plus or minus.
    pub band: f64,
}

/// A shortfall.
#[derive(Debug, Serialize, JsonSchema)]
pub struct RelaxedJson {
    /// Rule.
    pub rule: String,
    /// Label of the pass.
    pub pass: String,
    /// Asked.
    pub required: f64,
    /// Got.
    pub actual: f64,
    /// Why.
    pub why: String,
}

pub(super) fn passes(plan: &WeldPlan) -> Vec<PassJson> {
    // In a re-plan the passes that are welded already come first in the order and have no line.
    let mut order_index = welded_before(plan).len();
    let mut out = Vec::new();
    for line in &plan.lines {
        let Act::Pass { pass, step, welder, forward, setup } = line.act else { continue };
        let p = &plan.passes.passes[pass];
        let set = &plan.passes.settings[p.settings];
        let seam = &plan.seams.seams[p.seam];
        let (clock_from, clock_to) = plan.clock(pass, forward);
        out.push(PassJson {
            number: line.number,
            label: p.label.clone(),
            joint: plan.joints.joints[p.joint].name.clone(),
            seam: seam.name.clone(),
            segment: p.segment + 1,
            segments_on_seam: seam.segments.len(),
            partner: p.partner.map(|q| plan.passes.passes[q].label.clone()),
            layer: p.layer + 1,
            side: p.side.word(),
            setup: plan.frame.setups[setup].name.clone(),
            within_reach: p.setups.iter().map(|&s| plan.frame.setups[s].name.clone()).collect(),
            step: step + 1,
            welder: welder + 1,
            direction: if forward { "forward" } else { "back" },
            clock_from: clock_from.into(),
            clock_to: clock_to.into(),
            position: plan.position(pass, setup, forward).into(),
            mid_point_mm: v3(p.mid),
            length_mm: r(p.length_mm, 3),
            heat_input_j_per_mm: r(p.heat_input_j_per_mm, 3),
            energy_j: r(p.energy_j, 3),
            arc_s: r(p.arc_s, 2),
            process: set.process,
            volts: set.volts,
            amps: set.amps,
            speed_mm_s: r(set.speed_mm_s, 3),
            starting_values: set.starting_values,
            filler_g: r(p.filler_g, 3),
            gas_l: r(p.gas_l, 3),
            under_c: set.interpass_c,
            before_c: r(
                plan.timeline.before_c.get(order_index).copied().unwrap_or(plan.frame.shop.ambient_c),
                1,
            ),
            reason: plan.reasons[pass].clone(),
        });
        order_index += 1;
    }
    out
}

pub(super) fn welded_before(plan: &WeldPlan) -> Vec<WeldedJson> {
    let on_sheet: std::collections::BTreeSet<usize> = plan
        .lines
        .iter()
        .filter_map(|l| if let Act::Pass { pass, .. } = l.act { Some(pass) } else { None })
        .collect();
    let laid = plan.order.steps.iter().flat_map(|s| s.passes.iter().map(move |l| (s.setup, l)));
    laid.filter(|(_, l)| !on_sheet.contains(&l.pass))
        .map(|(setup, l)| WeldedJson {
            label: plan.passes.passes[l.pass].label.clone(),
            setup: plan.frame.setups[setup].name.clone(),
            direction: if l.forward { "forward" } else { "back" },
        })
        .collect()
}

pub(in crate::output) fn step(plan: &WeldPlan, line: &crate::plan::Line) -> StepJson {
    let f = &plan.frame;
    let mut s = StepJson {
        number: line.number,
        act: line.act.word(),
        what: String::new(),
        minutes: None,
        under_c: None,
        force_n: None,
        clock: None,
        length_mm: None,
        clamped: None,
        holds: None,
        read: vec![],
    };
    match &line.act {
        Act::Stage { stage } => s.what = f.stages[*stage].name.clone(),
        Act::Tack { seam, tack, clock, length_mm } => {
            s.what = plan.tack_label(*seam, *tack);
            s.clock = Some(clock.clone());
            s.length_mm = Some(r(*length_mm, 2));
            s.holds = Some(crate::output::tack_sheet::note(plan, *seam, *tack)).filter(|n| !n.is_empty());
        }
        Act::Pass { pass, .. } => s.what = plan.passes.passes[*pass].label.clone(),
        Act::Wait { minutes, joint, under_c } => {
            s.what = plan.joints.joints[*joint].name.clone();
            s.minutes = Some(r(*minutes, 2));
            s.under_c = Some(*under_c);
        }
        Act::Hold { controls, expect, why, clamped } => {
            s.what = why.clone();
            s.clamped = Some(*clamped);
            s.read = controls
                .iter()
                .zip(expect)
                .map(|(&c, &(e, b))| ReadJson {
                    control: f.controls[c].name.clone(),
                    expected: r(e, 3),
                    band: r(b, 3),
                })
                .collect();
        }
        Act::Clamp { clamp } => s.what = f.clamps[*clamp].name.clone(),
        Act::Release { clamp, force_n } => {
            s.what = f.clamps[*clamp].name.clone();
            s.force_n = Some(r(*force_n, 0));
        }
        Act::Turn { setup } => s.what = f.setups[*setup].name.clone(),
        Act::VentOpen { tube: t } | Act::VentClose { tube: t } => s.what = tube(f, *t),
    }
    s
}

pub(super) fn relaxed(plan: &WeldPlan) -> Vec<RelaxedJson> {
    plan.order
        .relaxed
        .iter()
        .map(|x| RelaxedJson {
            rule: x.rule.into(),
            pass: plan.passes.passes[x.pass].label.clone(),
            required: r(x.required, 3),
            actual: r(x.actual, 3),
            why: x.why.clone(),
        })
        .collect()
}
