//! The lines of one sheet with what a job needs to know about each, so that a record can be read
//! without planning again.

use super::event::{FORMAT, Header, When};
use crate::plan::{Act, WeldPlan};
use serde::{Deserialize, Serialize};

/// The numbered lines of one revision of the plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Card {
    /// Revision: 0 for the first sheet.
    pub revision: u32,
    /// The plan's fingerprint, printed on the sheet.
    pub plan_id: String,
    /// Lines in order of work.
    pub items: Vec<Item>,
}

/// One numbered line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Item {
    /// Number on the sheet of this revision.
    pub number: usize,
    /// Label; never changes and is never used for anything else.
    pub label: String,
    /// What it asks for.
    pub task: Task,
}

/// What a line asks for, in names instead of indices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case", deny_unknown_fields)]
#[allow(missing_docs)] // the fields' names say it; units are in the names
pub enum Task {
    /// Lay a tack.
    Tack { joint: String, seam: String, clock: String, length_mm: f64 },
    /// Lay a pass. `below` is the pass under it, `energy_j` is net, `under_c` the interpass limit.
    Pass {
        joint: String,
        seam: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        below: Option<String>,
        clock_from: String,
        clock_to: String,
        position: String,
        forward: bool,
        welder: usize,
        step: usize,
        setup: String,
        volts: f64,
        amps: f64,
        speed_mm_s: f64,
        energy_j: f64,
        arc_s: f64,
        under_c: f64,
    },
    /// A stage of the build begins.
    Stage { stage: String, tubes: Vec<String> },
    /// Wait until a joint is cool enough.
    Wait { joint: String, minutes: f64, under_c: f64 },
    /// Stop and measure these controls; `expect`: predicted deviation and half width of the band
    /// (two standard deviations) of each, empty if there is no prediction.
    Hold { controls: Vec<String>, expect: Vec<(f64, f64)>, clamped: bool, why: String },
    /// Put a clamp on.
    Clamp { clamp: String },
    /// Take a clamp off.
    Release { clamp: String, force_n: f64 },
    /// Turn the frame.
    Turn { setup: String },
    /// Open a vent.
    VentOpen { tube: String },
    /// Close a vent.
    VentClose { tube: String },
}

/// A control as the job needs it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ControlCard {
    /// Name.
    pub name: String,
    /// `mm` or `deg`.
    pub unit: String,
    /// Nominal value, in its unit.
    pub nominal: f64,
    /// Tolerance, ±.
    pub tolerance: f64,
    /// What was to be set in the fixture (deviation from nominal).
    pub set_to: f64,
    /// Predicted deviation at the end (pull + set-to).
    pub residual: f64,
    /// Standard deviation of that prediction.
    pub scatter: f64,
}

/// A joint as the job needs it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointCard {
    /// Name.
    pub name: String,
    /// Kind of most of its seams.
    pub kind: String,
}

impl Card {
    /// The lines of a plan.
    pub fn of(plan: &WeldPlan) -> Card {
        let mut count = [0usize; 4];
        let items = plan
            .lines
            .iter()
            .map(|line| Item {
                number: line.number,
                label: label(plan, &line.act, &mut count),
                task: task(plan, &line.act),
            })
            .collect();
        Card { revision: plan.revision, plan_id: plan.plan_id.clone(), items }
    }

    /// All numbers finite.
    pub fn is_finite(&self) -> bool {
        self.items.iter().all(|i| match &i.task {
            Task::Tack { length_mm, .. } => length_mm.is_finite(),
            Task::Pass { volts, amps, speed_mm_s, energy_j, arc_s, under_c, .. } => {
                [volts, amps, speed_mm_s, energy_j, arc_s, under_c].iter().all(|v| v.is_finite())
            }
            Task::Wait { minutes, under_c, .. } => minutes.is_finite() && under_c.is_finite(),
            Task::Hold { expect, .. } => expect.iter().all(|(d, b)| d.is_finite() && b.is_finite()),
            Task::Release { force_n, .. } => force_n.is_finite(),
            _ => true,
        })
    }
}

impl Item {
    /// The joint it is at, if it is at one.
    pub fn joint(&self) -> Option<&str> {
        match &self.task {
            Task::Tack { joint, .. } | Task::Pass { joint, .. } | Task::Wait { joint, .. } => Some(joint),
            _ => None,
        }
    }

    /// The seam, if it lays weld metal.
    pub fn seam(&self) -> Option<&str> {
        match &self.task {
            Task::Tack { seam, .. } | Task::Pass { seam, .. } => Some(seam),
            _ => None,
        }
    }

    /// Whether it is a pass.
    pub fn is_pass(&self) -> bool {
        matches!(self.task, Task::Pass { .. })
    }

    /// Whether it lays weld metal.
    pub fn is_weld(&self) -> bool {
        self.seam().is_some()
    }

    /// The line in one sentence without number and label.
    pub fn words(&self) -> String {
        match &self.task {
            Task::Tack { seam, clock, length_mm, .. } => format!("tack {seam} at {clock}, {length_mm:.0} mm"),
            Task::Pass { seam, clock_from, clock_to, position, .. } => {
                format!("weld {seam} from {clock_from} to {clock_to}, position {position}")
            }
            Task::Stage { stage, tubes } => format!("stage {stage}: put in {}", tubes.join(", ")),
            Task::Wait { joint, minutes, under_c } => {
                format!("wait {minutes:.0} min, until {joint} is under {under_c:.0} °C")
            }
            Task::Hold { why, clamped, .. } => {
                format!("stop and measure, {}: {why}", if *clamped { "clamped" } else { "free" })
            }
            Task::Clamp { clamp } => format!("put clamp {clamp} on"),
            Task::Release { clamp, force_n } => {
                format!("stand clear and take clamp {clamp} off (springs with {force_n:.0} N)")
            }
            Task::Turn { setup } => format!("turn the frame: {setup}"),
            Task::VentOpen { tube } => format!("open the vent of {tube}"),
            Task::VentClose { tube } => format!("close the vent of {tube}"),
        }
    }
}

impl Header {
    /// What a job on this plan begins from. `plan_json` is the plan as JSON text, `shop` the text of
    /// the shop file that was used (or empty).
    pub fn of(
        plan: &WeldPlan,
        frame_file: &str,
        frame_text: &str,
        plan_json: &str,
        shop: &str,
        began: When,
    ) -> Header {
        Header {
            format: FORMAT,
            program: concat!("holdtrue ", env!("CARGO_PKG_VERSION")).into(),
            name: plan.frame.name.clone(),
            began,
            frame_file: frame_file.into(),
            frame_sha256: plan.frame_sha256.clone(),
            frame: frame_text.into(),
            plan: plan_json.into(),
            seed: plan.seed,
            effort: plan.effort.word().into(),
            shop: shop.into(),
            welders: Some(plan.frame.shop.welders),
            card: Card::of(plan),
            controls: controls(plan),
            joints: joints(plan),
        }
    }

    /// A notice if the frame file, as it is now, is not the one that the job began from; the job goes
    /// on with the text that it holds itself.
    pub fn differs_from(&self, frame_text: &str) -> Option<String> {
        (self.frame != frame_text).then(|| {
            format!(
                "{} has been changed since this job began; the job goes on with the frame as it was",
                self.frame_file
            )
        })
    }

    /// All numbers finite.
    pub fn is_finite(&self) -> bool {
        self.card.is_finite()
            && self.controls.iter().all(|c| {
                [c.nominal, c.tolerance, c.set_to, c.residual, c.scatter].iter().all(|v| v.is_finite())
            })
    }
}

fn controls(plan: &WeldPlan) -> Vec<ControlCard> {
    let pulls = &plan.pull.controls;
    plan.frame
        .controls
        .iter()
        .enumerate()
        .map(|(i, c)| ControlCard {
            name: c.name.clone(),
            unit: c.kind.unit().into(),
            nominal: c.nominal,
            tolerance: c.tolerance,
            set_to: pulls.get(i).map_or(0.0, |p| p.set_to),
            residual: pulls.get(i).map_or(0.0, |p| p.residual),
            scatter: pulls.get(i).map_or(0.0, |p| p.scatter),
        })
        .collect()
}

fn joints(plan: &WeldPlan) -> Vec<JointCard> {
    plan.joints
        .joints
        .iter()
        .map(|j| {
            let kinds: Vec<&str> = j.meets.iter().map(|&m| plan.joints.meets[m].kind.word()).collect();
            // The kind that most of its seams have; the first named of several.
            let kind = kinds
                .iter()
                .rev()
                .max_by_key(|k| kinds.iter().filter(|o| o == k).count())
                .copied()
                .unwrap_or("butt");
            JointCard { name: j.name.clone(), kind: kind.into() }
        })
        .collect()
}

/// Labels of lines without weld metal are counted within a revision; from revision 1 on they carry
/// its number, so that none is ever used twice.
fn label(plan: &WeldPlan, act: &Act, count: &mut [usize; 4]) -> String {
    let mut counted = |kind: usize, word: &str| {
        count[kind] += 1;
        let n = count[kind];
        if plan.revision == 0 { format!("{word}-{n}") } else { format!("r{}-{word}-{n}", plan.revision) }
    };
    match act {
        Act::Tack { seam, tack, .. } => plan.tack_label(*seam, *tack),
        Act::Pass { pass, .. } => plan.passes.passes[*pass].label.clone(),
        Act::Stage { stage } => format!("stage-{}", stage + 1),
        Act::Wait { .. } => counted(0, "wait"),
        Act::Hold { .. } => counted(1, "hold"),
        Act::Clamp { .. } | Act::Release { .. } => counted(2, "clamp"),
        Act::Turn { .. } => counted(3, "turn"),
        Act::VentOpen { tube } => format!("open-{}", one_word(&plan.frame.tubes[*tube].name)),
        Act::VentClose { tube } => format!("close-{}", one_word(&plan.frame.tubes[*tube].name)),
    }
}

/// A name without blanks and commas, so that it can be typed in a list.
fn one_word(name: &str) -> String {
    name.chars().map(|c| if c.is_whitespace() || c == ',' { '_' } else { c }).collect()
}

fn task(plan: &WeldPlan, act: &Act) -> Task {
    let joint_name = |j: usize| plan.joints.joints[j].name.clone();
    let tube_name = |t: usize| plan.frame.tubes[t].name.clone();
    match act {
        Act::Tack { seam, clock, length_mm, .. } => {
            let s = &plan.seams.seams[*seam];
            Task::Tack {
                joint: joint_name(s.joint),
                seam: s.name.clone(),
                clock: clock.clone(),
                length_mm: *length_mm,
            }
        }
        Act::Pass { pass, step, welder, forward, setup } => {
            let p = &plan.passes.passes[*pass];
            let settings = &plan.passes.settings[p.settings];
            let (from, to) = plan.clock(*pass, *forward);
            Task::Pass {
                joint: joint_name(p.joint),
                seam: plan.seams.seams[p.seam].name.clone(),
                below: p.below.map(|b| plan.passes.passes[b].label.clone()),
                clock_from: from.into(),
                clock_to: to.into(),
                position: plan.position(*pass, *setup, *forward).into(),
                forward: *forward,
                welder: *welder,
                step: *step,
                setup: plan.frame.setups[*setup].name.clone(),
                volts: settings.volts,
                amps: settings.amps,
                speed_mm_s: settings.speed_mm_s,
                energy_j: p.energy_j,
                arc_s: p.arc_s,
                under_c: settings.interpass_c,
            }
        }
        Act::Stage { stage } => {
            let s = &plan.frame.stages[*stage];
            Task::Stage { stage: s.name.clone(), tubes: s.tubes.iter().map(|&t| tube_name(t)).collect() }
        }
        Act::Wait { minutes, joint, under_c } => {
            Task::Wait { joint: joint_name(*joint), minutes: *minutes, under_c: *under_c }
        }
        Act::Hold { controls, expect, clamped, why } => Task::Hold {
            controls: controls.iter().map(|&c| plan.frame.controls[c].name.clone()).collect(),
            expect: expect.clone(),
            clamped: *clamped,
            why: why.clone(),
        },
        Act::Clamp { clamp } => Task::Clamp { clamp: plan.frame.clamps[*clamp].name.clone() },
        Act::Release { clamp, force_n } => {
            Task::Release { clamp: plan.frame.clamps[*clamp].name.clone(), force_n: *force_n }
        }
        Act::Turn { setup } => Task::Turn { setup: plan.frame.setups[*setup].name.clone() },
        Act::VentOpen { tube } => Task::VentOpen { tube: tube_name(*tube) },
        Act::VentClose { tube } => Task::VentClose { tube: tube_name(*tube) },
    }
}
