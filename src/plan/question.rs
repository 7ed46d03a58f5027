//! The scheduler's question: the frame without its geometry, and the orders that the file itself wishes for.

use crate::fault::Fault;
use crate::frame::Frame;
use crate::joint::Joints;
use crate::procedure::Passes;
use crate::seam::Seams;
use crate::sequence::{Item, Question};

/// The scheduler's question: the frame without its geometry.
///
/// # Errors
/// An order wish names something that is not there.
pub fn question(
    frame: &Frame,
    joints: &Joints,
    seams: &Seams,
    passes: &Passes,
) -> Result<Question, Vec<Fault>> {
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
                        Fault::new(
                            "E501",
                            format!(
                                "the order names \"{name}\", which is no pass, seam or joint of this frame"
                            ),
                        )
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
                format!(
                    "the order names joint \"{}\", which this frame does not have",
                    if found.is_none() { a } else { b }
                ),
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
        lying: None,
        hold: vec![],
    })
}

/// The row of passes that the frame file gives by hand.
pub(super) fn row_by_hand(q: &Question, frame: &Frame) -> Result<Vec<usize>, Vec<Fault>> {
    let mut faults = Vec::new();
    let mut row = Vec::new();
    for name in &frame.wishes.by_hand {
        match q.passes.iter().position(|p| p.label.eq_ignore_ascii_case(name)) {
            Some(p) if row.contains(&p) => {
                faults.push(Fault::new("E501", format!("the order by hand names pass \"{name}\" twice")))
            }
            Some(p) => row.push(p),
            None => faults.push(
                Fault::new(
                    "E501",
                    format!("the order by hand names \"{name}\", which is no pass of this frame"),
                )
                .help("a pass is written like J7a-3/1; `check` lists the seams"),
            ),
        }
    }
    let missing: Vec<&str> =
        (0..q.passes.len()).filter(|p| !row.contains(p)).map(|p| q.passes[p].label.as_str()).collect();
    if !missing.is_empty() {
        faults.push(Fault::new("E501", format!("the order by hand leaves out {}", missing.join(", "))));
    }
    if faults.is_empty() { Ok(row) } else { Err(faults) }
}
