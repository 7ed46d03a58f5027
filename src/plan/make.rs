//! The main line: parts, question, order, timeline, pull, lines.

use super::fingerprint::fingerprint;
use super::lines::{self, Course};
use super::{Act, Effort, Remark, WeldPlan};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::joint::{self, Joints};
use crate::procedure::{self, Passes};
use crate::seam::{self, Seams};
use crate::sequence::{Item, Question};
use std::sync::atomic::AtomicBool;

/// Everything about a frame that no order changes.
#[derive(Debug, Clone)]
pub struct Parts {
    /// Joints.
    pub joints: Joints,
    /// Seams.
    pub seams: Seams,
    /// Passes.
    pub passes: Passes,
    /// Warnings that point into the frame file.
    pub warnings: Vec<Fault>,
}

/// How to plan.
#[derive(Debug, Clone)]
pub struct Options {
    /// Seed of the search.
    pub seed: u64,
    /// Effort of the search.
    pub effort: Effort,
    /// SHA-256 of the frame file, hex.
    pub frame_sha256: String,
}

/// How the caller watches the search, and stops it.
pub struct Watch<'a> {
    /// Set to true to get the best order so far.
    pub stop: &'a AtomicBool,
    /// Called now and then with the part done (0 to 1) and the best objective so far.
    pub progress: Box<dyn Fn(f64, f64) + Sync + 'a>,
}

/// Find joints, trace seams, cut passes.
///
/// # Errors
/// All faults of the geometry and of the heat settings at once.
pub fn parts(frame: &Frame) -> Result<Parts, Vec<Fault>> {
    let found = joint::joints(frame)?;
    let joints = found.value;
    let seams = seam::seams(frame, &joints);
    let passes = procedure::passes(frame, &joints, &seams);
    let faults = crate::heat::check(frame, &passes);
    if faults.iter().any(|f| !f.is_warning()) {
        return Err(faults);
    }
    let warnings = found.warnings.into_iter().chain(faults).collect();
    Ok(Parts { joints, seams, passes, warnings })
}

/// The scheduler's question: the frame without its geometry.
///
/// # Errors
/// An order wish names something that is not there.
pub fn question(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Result<Question, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut find = |names: &[String]| -> Vec<usize> {
        names
            .iter()
            .flat_map(|name| {
                let hits: Vec<usize> = (0..passes.passes.len())
                    .filter(|&i| {
                        let p = &passes.passes[i];
                        [&p.label, &seams.seams[p.seam].name, &joints.joints[p.joint].name]
                            .iter()
                            .any(|n| n.eq_ignore_ascii_case(name))
                    })
                    .collect();
                if hits.is_empty() {
                    faults.push(
                        Fault::new("E501", format!("the order names \"{name}\", which is no pass, seam or joint of this frame"))
                            .help("`check` lists the names; a pass is written like J7a-3/1"),
                    );
                }
                hits
            })
            .collect()
    };
    let first = find(&frame.wishes.first);
    let last = find(&frame.wishes.last);
    let by_name = |name: &str| joints.joints.iter().position(|j| j.name.eq_ignore_ascii_case(name));
    let mut apart = Vec::new();
    for (a, b) in &frame.wishes.apart {
        match (by_name(a), by_name(b)) {
            (Some(a), Some(b)) => apart.push((a, b)),
            (found, _) => faults.push(Fault::new(
                "E501",
                format!("the order names joint \"{}\", which this frame does not have", if found.is_none() { a } else { b }),
            )),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    Ok(Question {
        passes: passes
            .passes
            .iter()
            .map(|p| Item {
                label: p.label.clone(),
                joint: p.joint,
                seam: p.seam,
                segment: p.segment,
                layer: p.layer,
                partner: p.partner,
                below: p.below,
                side: p.side,
                energy_j: p.energy_j,
                setups: p.setups.clone(),
                arc_s: p.arc_s,
            })
            .collect(),
        steel_mm: joints.steel_mm.clone(),
        mirror: joints.joints.iter().map(|j| j.mirror).collect(),
        setups: frame.setups.len(),
        rules: frame.rules.clone(),
        has_plane: joints.symmetry.is_some(),
        welders: frame.shop.welders,
        first,
        last,
        apart,
        turn_min: frame.shop.turn_min,
        done: vec![],
    })
}
