//! The plan as JSON for other programs: documented, versioned, enough for an outsider to audit.
//!
//! These are types of their own, so that the format does not change when the model does. Fields are
//! only ever added; a change of meaning raises [`FORMAT`].

use crate::frame::Frame;
use crate::plan::{Act, WeldPlan};
use glam::DVec3;
use schemars::JsonSchema;
use serde::Serialize;

/// Version of the JSON format.
pub const FORMAT: u32 = 1;

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

/// A plane.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PlaneJson {
    /// A point in it, mm.
    pub point_mm: [f64; 3],
    /// Unit normal, pointing to the frame's left.
    pub normal: [f64; 3],
}

/// A setup.
#[derive(Debug, Serialize, JsonSchema)]
pub struct SetupJson {
    /// Name.
    pub name: String,
    /// Unit vector of the frame that points up.
    pub up: [f64; 3],
}

/// Rule values.
#[derive(Debug, Serialize, JsonSchema)]
pub struct RulesJson {
    /// Other steps between two passes on one joint.
    pub spacing_steps: usize,
    /// Steel distance from the last pass, mm.
    pub distance_mm: f64,
    /// Opposite segment first.
    pub opposite: bool,
    /// Heat of left and right kept level (needs a symmetry plane).
    pub balance: bool,
    /// Longest segment, mm.
    pub max_segment_mm: f64,
    /// Shortest segment, mm.
    pub min_segment_mm: f64,
    /// Overhead welding allowed.
    pub overhead: bool,
    /// Least steel distance of two welders, mm.
    pub welder_distance_mm: f64,
    /// Welders.
    pub welders: usize,
}

/// A joint.
#[derive(Debug, Serialize, JsonSchema)]
pub struct JointJson {
    /// Name.
    pub name: String,
    /// Place, mm.
    pub position_mm: [f64; 3],
    /// Its mirror joint.
    pub mirror: Option<String>,
    /// Side.
    pub side: &'static str,
    /// Tubes that meet there.
    pub tubes: Vec<String>,
    /// Distance along the steel to every joint (null where not connected), mm, in the order of `joints`.
    pub steel_distance_mm: Vec<Option<f64>>,
}

/// A seam.
#[derive(Debug, Serialize, JsonSchema)]
pub struct SeamJson {
    /// Name.
    pub name: String,
    /// Joint.
    pub joint: String,
    /// Kind.
    pub kind: &'static str,
    /// Tube that is added.
    pub branch: String,
    /// Tube or tubes it is welded to.
    pub carriers: Vec<String>,
    /// Angle between branch and carrier, degrees.
    pub angle_deg: f64,
    /// Welded length, mm.
    pub length_mm: f64,
    /// Closed all round.
    pub closed: bool,
    /// Which way 12 o'clock points.
    pub twelve_o_clock: &'static str,
    /// What stays unwelded.
    pub unwelded: Vec<String>,
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

/// The build-to table.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BuildToJson {
    /// Every tube.
    pub tubes: Vec<BuildTubeJson>,
    /// What is missing from a control's `set_to`, in its unit, if it cannot be reached by placing
    /// straight tubes and cutting them to length.
    pub not_reached: std::collections::BTreeMap<String, f64>,
    /// Widest gap or overlap between the parts of each seam, mm: above some tenths the end must be
    /// fitted to the changed place.
    pub gap_mm: std::collections::BTreeMap<String, f64>,
    /// Bows that only bending a tube could give.
    pub bends: Vec<BendJson>,
}

/// A tube of the build-to table: how far it lies off the drawing.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BuildTubeJson {
    /// Tube.
    pub tube: String,
    /// Start of its centre line, mm in X, Y, Z.
    pub start_mm: [f64; 3],
    /// End of its centre line, mm in X, Y, Z.
    pub end_mm: [f64; 3],
    /// Cut longer by, mm (shorter if negative); contained in `start_mm` and `end_mm`.
    pub longer_mm: f64,
}

/// What a counter-bend would take, held between two blocks and pushed at the middle.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BendJson {
    /// Control.
    pub control: String,
    /// Tube.
    pub tube: String,
    /// Wanted bow in the control's direction, mm.
    pub bow_mm: f64,
    /// Stress at the outside, MPa, elastic.
    pub stress_mpa: f64,
    /// Yield strength, MPa; below it the tube springs all the way back.
    pub yield_mpa: f64,
    /// Force at the middle, N.
    pub force_n: f64,
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

fn v3(v: DVec3) -> [f64; 3] {
    [r(v.x, 3), r(v.y, 3), r(v.z, 3)]
}

/// Rounded to so many places, so that the last bits of two machines do not differ on file.
pub(super) fn r(x: f64, places: i32) -> f64 {
    let f = 10f64.powi(places);
    let y = (x * f).round() / f;
    if y == 0.0 { 0.0 } else { y }
}

fn tube(frame: &Frame, i: usize) -> String {
    frame.tubes[i].name.clone()
}

/// The plan as JSON text, with a newline at its end.
pub fn json(plan: &WeldPlan) -> String {
    let mut text = serde_json::to_string_pretty(&of(plan)).expect("plain types always serialise");
    text.push('\n');
    text
}

/// The JSON Schema of the format.
pub fn schema() -> String {
    let mut text =
        serde_json::to_string_pretty(&schemars::schema_for!(PlanJson)).expect("a schema always serialises");
    text.push('\n');
    text
}

fn of(plan: &WeldPlan) -> PlanJson {
    let f = &plan.frame;
    let joint = |j: usize| plan.joints.joints[j].name.clone();
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
        cautions: super::facts::all_cautions(plan)
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
        rules: RulesJson {
            spacing_steps: f.rules.spacing,
            distance_mm: f.rules.distance_mm,
            opposite: f.rules.opposite,
            balance: f.rules.balance,
            max_segment_mm: f.rules.max_segment_mm,
            min_segment_mm: f.rules.min_segment_mm,
            overhead: f.rules.overhead,
            welder_distance_mm: f.rules.welder_distance_mm,
            welders: f.shop.welders,
        },
        joints: (0..plan.joints.joints.len())
            .map(|i| {
                let j = &plan.joints.joints[i];
                JointJson {
                    name: j.name.clone(),
                    position_mm: v3(j.at),
                    mirror: j.mirror.map(joint),
                    side: j.side.word(),
                    tubes: j.tubes.iter().map(|&(t, _)| tube(f, t)).collect(),
                    steel_distance_mm: plan.joints.steel_mm[i]
                        .iter()
                        .map(|&d| d.is_finite().then(|| r(d, 2)))
                        .collect(),
                }
            })
            .collect(),
        seams: plan
            .seams
            .seams
            .iter()
            .zip(&plan.joints.meets)
            .map(|(s, m)| SeamJson {
                name: s.name.clone(),
                joint: joint(s.joint),
                kind: s.kind.word(),
                branch: tube(f, m.branch.0),
                carriers: m.carriers.iter().map(|c| tube(f, c.0)).collect(),
                angle_deg: r(s.angle_deg, 3),
                length_mm: r(s.length_mm, 3),
                closed: s.closed,
                twelve_o_clock: s.clock_up.1,
                unwelded: s.unwelded.clone(),
            })
            .collect(),
        welded_before: welded_before(plan),
        passes: passes(plan),
        steps: plan.lines.iter().map(|l| step(plan, l)).collect(),
        relaxed_rules: plan
            .order
            .relaxed
            .iter()
            .map(|x| RelaxedJson {
                rule: x.rule.into(),
                pass: plan.passes.passes[x.pass].label.clone(),
                required: r(x.required, 3),
                actual: r(x.actual, 3),
                why: x.why.clone(),
            })
            .collect(),
        shortfalls_proved_least: plan.order.proved,
        controls: f
            .controls
            .iter()
            .zip(&plan.pull.controls)
            .enumerate()
            .map(|(i, (c, p))| control(plan, i, c, p))
            .collect(),
        build_to: plan.build_to.as_ref().map(|b| build_to(plan, b)),
        pull_level: plan.pull.level.into(),
        sealed_tubes: plan.seams.sealed.iter().map(|(t, _)| tube(f, *t)).collect(),
        times: TimesJson {
            arc_s: r(plan.passes.passes.iter().map(|p| p.arc_s).sum(), 1),
            whole_s: r(plan.timeline.end_s, 1),
            waiting_s: r(plan.timeline.wait_s.iter().sum(), 1),
            cold_s: r(plan.timeline.cold_s, 1),
            turns: plan.turns(),
            filler_g: r(plan.passes.passes.iter().map(|p| p.filler_g).sum(), 1),
            gas_l: r(plan.passes.passes.iter().map(|p| p.gas_l).sum(), 1),
        },
    }
}

fn build_to(plan: &WeldPlan, b: &crate::distort::BuildTo) -> BuildToJson {
    let f = &plan.frame;
    BuildToJson {
        tubes: (b.ends_mm.iter().zip(&b.longer_mm).enumerate())
            .map(|(t, (ends, longer))| BuildTubeJson {
                tube: tube(f, t),
                start_mm: v3(ends[0]),
                end_mm: v3(ends[1]),
                longer_mm: r(*longer, 3),
            })
            .collect(),
        not_reached: (f.controls.iter().zip(&b.left))
            .filter(|(c, left)| left.abs() > 0.1 * c.tolerance)
            .map(|(c, left)| (c.name.clone(), r(*left, 4)))
            .collect(),
        gap_mm: (plan.seams.seams.iter().zip(&b.gap_mm)).map(|(s, g)| (s.name.clone(), r(*g, 3))).collect(),
        bends: (b.bends.iter())
            .map(|x| BendJson {
                control: f.controls[x.control].name.clone(),
                tube: tube(f, x.tube),
                bow_mm: r(x.bow_mm, 3),
                stress_mpa: r(x.stress_mpa, 1),
                yield_mpa: r(x.yield_mpa, 1),
                force_n: r(x.force_n, 0),
            })
            .collect(),
    }
}

fn passes(plan: &WeldPlan) -> Vec<PassJson> {
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

fn welded_before(plan: &WeldPlan) -> Vec<WeldedJson> {
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

pub(super) fn step(plan: &WeldPlan, line: &crate::plan::Line) -> StepJson {
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
            s.holds = Some(super::tack_sheet::note(plan, *seam, *tack)).filter(|n| !n.is_empty());
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
