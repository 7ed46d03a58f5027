//! The head of the plan: what program, frame and plan it is, cautions, remarks, times; and the whole
//! put together.

use super::build_to::BuildToJson;
use super::frame::{self, JointJson, PlaneJson, RulesJson, SeamJson, SetupJson};
use super::lines::{self, PassJson, RelaxedJson, StepJson, WeldedJson};
use super::pull::ControlJson;
use super::{FORMAT, build_to, pull, r, tube, v3};
use crate::plan::WeldPlan;
use schemars::JsonSchema;
use serde::Serialize;

/// A weld plan. Lengths mm, angles degrees, temperatures °C, heat input J/mm, energies J (both net:
/// the process's efficiency k is included), times s or minutes as named.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PlanJson {
    /// Version of this format.
    pub format: u32,
    /// Program and its version.
    pub program: String,
    /// Units of all numbers.
    pub units: UnitsJson,
    /// Name of the frame.
    pub frame: String,
    /// SHA-256 of the frame file, hex.
    pub frame_sha256: String,
    /// Short fingerprint of frame, options and order.
    pub plan_id: String,
    /// Revision: 0 for a first plan.
    pub revision: u32,
    /// Seed of the search.
    pub seed: u64,
    /// Effort of the search.
    pub effort: String,
    /// Cautions and the deferral that belong to this plan.
    pub cautions: Vec<CautionJson>,
    /// What the user must know first.
    pub remarks: Vec<RemarkJson>,
    /// Symmetry plane, if there is one.
    pub symmetry_plane: Option<PlaneJson>,
    /// Ways the frame lies.
    pub setups: Vec<SetupJson>,
    /// Rule values in force.
    pub rules: RulesJson,
    /// Joints.
    pub joints: Vec<JointJson>,
    /// Seams.
    pub seams: Vec<SeamJson>,
    /// Passes that were welded before this revision, in the order in which they were laid; they count
    /// for the house rules and have no line.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub welded_before: Vec<WeldedJson>,
    /// Passes in weld order; of a re-plan, those that are left.
    pub passes: Vec<PassJson>,
    /// All numbered lines of the sheet in order of work.
    pub steps: Vec<StepJson>,
    /// Every shortfall of a rule, no more and no less than an audit finds.
    pub relaxed_rules: Vec<RelaxedJson>,
    /// True if no order has smaller shortfalls (proved).
    pub shortfalls_proved_least: bool,
    /// Dimensions that must come out true, with what welding is predicted to do to them. Empty if
    /// `pull_level` is `none`.
    pub controls: Vec<ControlJson>,
    /// Where the tubes go, and how long they are cut, so that the controls start at their `set_to`; one
    /// way of many, the least. Missing from a re-plan and where there is no pull model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub build_to: Option<BuildToJson>,
    /// `fine` or `coarse`: the level of the pull model behind `controls`; `none` for a frame that is too
    /// large for it.
    pub pull_level: String,
    /// Tubes that welding would seal.
    pub sealed_tubes: Vec<String>,
    /// Arc time, whole time and cooling.
    pub times: TimesJson,
}

/// Units.
#[derive(Debug, Serialize, JsonSchema)]
pub struct UnitsJson {
    /// mm
    pub length: &'static str,
    /// J/mm, net
    pub heat_input: &'static str,
    /// J, net
    pub energy: &'static str,
    /// s
    pub arc_time: &'static str,
    /// °C
    pub temperature: &'static str,
    /// degrees
    pub angle: &'static str,
}

/// A caution.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CautionJson {
    /// Heading.
    pub heading: String,
    /// Words.
    pub text: String,
}

/// A remark.
#[derive(Debug, Serialize, JsonSchema)]
pub struct RemarkJson {
    /// Code.
    pub code: String,
    /// Words.
    pub text: String,
}

/// Times.
#[derive(Debug, Serialize, JsonSchema)]
pub struct TimesJson {
    /// Arc time, s.
    pub arc_s: f64,
    /// From the first arc to the end of the last, s.
    pub whole_s: f64,
    /// Waiting for joints to cool, s.
    pub waiting_s: f64,
    /// After the last arc until cold enough to measure, s.
    pub cold_s: f64,
    /// Turns of the frame.
    pub turns: usize,
    /// Filler laid down, g.
    pub filler_g: f64,
    /// Shielding gas, l.
    pub gas_l: f64,
}

pub(super) fn of(plan: &WeldPlan) -> PlanJson {
    let f = &plan.frame;
    PlanJson {
        format: FORMAT,
        program: format!("holdtrue {}", env!("CARGO_PKG_VERSION")),
        units: UnitsJson {
            length: "mm",
            heat_input: "J/mm, net (process efficiency k included)",
            energy: "J, net (process efficiency k included)",
            arc_time: "s",
            temperature: "°C",
            angle: "degrees",
        },
        frame: f.name.clone(),
        frame_sha256: plan.frame_sha256.clone(),
        plan_id: plan.plan_id.clone(),
        revision: plan.revision,
        seed: plan.seed,
        effort: plan.effort.word().into(),
        cautions: crate::output::facts::all_cautions(plan)
            .into_iter()
            .map(|c| CautionJson { heading: c.heading, text: c.lines.join(" ") })
            .collect(),
        remarks: plan
            .remarks
            .iter()
            .map(|m| RemarkJson { code: m.code.clone(), text: m.text.clone() })
            .collect(),
        symmetry_plane: plan
            .joints
            .symmetry
            .map(|(p, n)| PlaneJson { point_mm: v3(p), normal: [r(n.x, 9), r(n.y, 9), r(n.z, 9)] }),
        setups: f.setups.iter().map(|s| SetupJson { name: s.name.clone(), up: v3(s.up) }).collect(),
        rules: frame::rules(f),
        joints: frame::joints(plan),
        seams: frame::seams(plan),
        welded_before: lines::welded_before(plan),
        passes: lines::passes(plan),
        steps: plan.lines.iter().map(|l| lines::step(plan, l)).collect(),
        relaxed_rules: lines::relaxed(plan),
        shortfalls_proved_least: plan.order.proved,
        controls: pull::controls(plan),
        build_to: plan.build_to.as_ref().map(|b| build_to::build_to(plan, b)),
        pull_level: plan.pull.level.into(),
        sealed_tubes: plan.seams.sealed.iter().map(|(t, _)| tube(f, *t)).collect(),
        times: times(plan),
    }
}

fn times(plan: &WeldPlan) -> TimesJson {
    TimesJson {
        arc_s: r(plan.passes.passes.iter().map(|p| p.arc_s).sum(), 1),
        whole_s: r(plan.timeline.end_s, 1),
        waiting_s: r(plan.timeline.wait_s.iter().sum(), 1),
        cold_s: r(plan.timeline.cold_s, 1),
        turns: plan.turns(),
        filler_g: r(plan.passes.passes.iter().map(|p| p.filler_g).sum(), 1),
        gas_l: r(plan.passes.passes.iter().map(|p| p.gas_l).sum(), 1),
    }
}
