//! The tack half of a plan as JSON: documented, versioned.

use super::facts;
use super::json::{CautionJson, RemarkJson, StepJson, r, step};
use super::tack_sheet;
use crate::plan::{Act, WeldPlan};
use schemars::JsonSchema;
use serde::Serialize;

/// Version of the format.
pub const FORMAT: u32 = 1;

/// The tack half of a weld plan. Lengths mm, angles degrees, energies J (net), times s.
#[derive(Debug, Serialize, JsonSchema)]
pub struct TackPlanJson {
    /// Version of this format.
    pub tack_format: u32,
    /// Program and its version.
    pub program: String,
    /// Name of the frame.
    pub frame: String,
    /// SHA-256 of the frame file, hex.
    pub frame_sha256: String,
    /// Fingerprint of the plan whose first half this is.
    pub plan_id: String,
    /// Cautions and the deferral that belong to this plan.
    pub cautions: Vec<CautionJson>,
    /// What the user must know.
    pub remarks: Vec<RemarkJson>,
    /// Joint that tacking starts from.
    pub datum: String,
    /// Defaults in use.
    pub defaults: Vec<TackDefaultJson>,
    /// Tacks in order of work.
    pub tacks: Vec<TackJson>,
    /// Numbered lines of the sheet up to the reading as tacked.
    pub steps: Vec<StepJson>,
    /// Dimensions that must come out true.
    pub controls: Vec<TackedJson>,
    /// From the first tack to the last, s.
    pub end_s: f64,
}

/// Tack defaults of seams that share them.
#[derive(Debug, Serialize, JsonSchema)]
pub struct TackDefaultJson {
    /// Seams.
    pub seams: Vec<String>,
    /// Walls of branch and carrier, mm.
    pub walls_mm: [f64; 2],
    /// Tacks on each seam.
    pub number: usize,
    /// Length by the published rule, mm.
    pub rule_mm: f64,
    /// Length in use, mm.
    pub length_mm: f64,
    /// Largest distance between tacks on open seams, mm.
    pub apart_mm: Option<f64>,
    /// Arc time of one, s.
    pub arc_s: f64,
    /// Net heat of one, J.
    pub heat_j: f64,
    /// Source of the length.
    pub length_from: &'static str,
    /// Source of number and places.
    pub number_from: &'static str,
}

/// A tack.
#[derive(Debug, Serialize, JsonSchema)]
pub struct TackJson {
    /// Label, `J7a-t1`.
    pub label: String,
    /// Its seam.
    pub seam: String,
    /// Place by the clock.
    pub clock: String,
    /// Length, mm.
    pub length_mm: f64,
    /// True in the second round, after every tube hangs on an opposite pair.
    pub second_round: bool,
    /// Wait before it, s.
    pub wait_s: f64,
    /// How far the parts have moved apart there when it sets, mm.
    pub opening_mm: Option<f64>,
    /// What it holds and what can still move; empty if nothing changes.
    pub holds: String,
}

/// A dimension as tacked.
#[derive(Debug, Serialize, JsonSchema)]
pub struct TackedJson {
    /// Name.
    pub name: String,
    /// `mm` or `deg`.
    pub unit: &'static str,
    /// Nominal value.
    pub nominal: f64,
    /// Tolerance, ±.
    pub tolerance: f64,
    /// Change by the tacks, cold and free.
    pub tack_pull: f64,
    /// Standard deviation of it.
    pub tack_scatter: f64,
    /// Change by tacks and weld-out.
    pub pull: f64,
    /// What to set in the fixture before the first tack, against nominal.
    pub set_to: f64,
}

/// The tack half of a plan as text.
pub fn json(plan: &WeldPlan) -> String {
    let mut text = serde_json::to_string_pretty(&of(plan)).expect("a plan always serialises");
    text.push('\n');
    text
}

/// The JSON Schema of the format.
pub fn schema() -> String {
    let mut text = serde_json::to_string_pretty(&schemars::schema_for!(TackPlanJson))
        .expect("a schema always serialises");
    text.push('\n');
    text
}

fn of(plan: &WeldPlan) -> TackPlanJson {
    let tacking = plan.tacking.clone().unwrap_or_default();
    let tacks = plan.tacks.clone().unwrap_or_default();
    let seam = |s: usize| plan.seams.seams[s].name.clone();
    let steps: Vec<_> = tack_sheet::lines(plan).iter().collect();
    debug_assert!(!steps.iter().any(|l| matches!(l.act, Act::Pass { .. })));
    TackPlanJson {
        tack_format: FORMAT,
        program: format!("holdtrue {}", env!("CARGO_PKG_VERSION")),
        frame: plan.frame.name.clone(),
        frame_sha256: plan.frame_sha256.clone(),
        plan_id: plan.plan_id.clone(),
        cautions: facts::all_cautions(plan)
            .into_iter()
            .map(|c| CautionJson { heading: c.heading, text: c.lines.join(" ") })
            .collect(),
        remarks: plan
            .remarks
            .iter()
            .map(|m| RemarkJson { code: m.code.clone(), text: m.text.clone() })
            .collect(),
        datum: plan
            .joints
            .joints
            .get(crate::tack::datum(&plan.frame, &plan.joints))
            .map_or(String::new(), |j| j.name.clone()),
        defaults: tacking
            .numbers
            .iter()
            .map(|n| TackDefaultJson {
                seams: n.seams.iter().map(|&s| seam(s)).collect(),
                walls_mm: n.walls_mm,
                number: n.number,
                rule_mm: r(n.rule_mm, 2),
                length_mm: r(n.length_mm, 2),
                apart_mm: n.apart_mm.map(|d| r(d, 1)),
                arc_s: r(n.arc_s, 2),
                heat_j: r(n.heat_j, 0),
                length_from: n.length_from,
                number_from: n.number_from,
            })
            .collect(),
        tacks: tacks
            .tacks
            .iter()
            .enumerate()
            .map(|(i, t)| TackJson {
                label: plan.tack_label(t.seam, t.number),
                seam: seam(t.seam),
                clock: t.clock.clone(),
                length_mm: r(t.length_mm, 2),
                second_round: t.number > 2,
                wait_s: r(tacking.wait_s.get(i).copied().unwrap_or(0.0), 1),
                opening_mm: tacking.opening_mm.get(i).map(|o| r(*o, 3)),
                holds: tacking.notes.get(i).cloned().unwrap_or_default(),
            })
            .collect(),
        steps: steps.into_iter().map(|l| step(plan, l)).collect(),
        controls: plan
            .frame
            .controls
            .iter()
            .zip(&plan.pull.controls)
            .zip(&tacking.pull)
            .map(|((c, all), p)| TackedJson {
                name: c.name.clone(),
                unit: c.kind.unit(),
                nominal: r(c.nominal, 3),
                tolerance: c.tolerance,
                tack_pull: r(p.pull, 4),
                tack_scatter: r(p.scatter, 4),
                pull: r(all.pull, 4),
                set_to: r(all.set_to, 4),
            })
            .collect(),
        end_s: r(tacking.end_s, 0),
    }
}
