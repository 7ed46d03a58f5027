//! The frame as it is welded: symmetry plane, setups, values of the rules, joints, seams.

use super::{r, tube, v3};
use crate::frame::Frame;
use crate::plan::WeldPlan;
use schemars::JsonSchema;
use serde::Serialize;

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

pub(super) fn rules(f: &Frame) -> RulesJson {
    RulesJson {
        spacing_steps: f.rules.spacing,
        distance_mm: f.rules.distance_mm,
        opposite: f.rules.opposite,
        balance: f.rules.balance,
        max_segment_mm: f.rules.max_segment_mm,
        min_segment_mm: f.rules.min_segment_mm,
        overhead: f.rules.overhead,
        welder_distance_mm: f.rules.welder_distance_mm,
        welders: f.shop.welders,
    }
}

pub(super) fn joints(plan: &WeldPlan) -> Vec<JointJson> {
    let f = &plan.frame;
    let joint = |j: usize| plan.joints.joints[j].name.clone();
    (0..plan.joints.joints.len())
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
        .collect()
}

pub(super) fn seams(plan: &WeldPlan) -> Vec<SeamJson> {
    let f = &plan.frame;
    let joint = |j: usize| plan.joints.joints[j].name.clone();
    plan.seams
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
        .collect()
}
