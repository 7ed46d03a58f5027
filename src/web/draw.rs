//! Pictures for the page: the frame as lines in space, which the page turns itself, and close-ups.

use super::board::Seen;
use crate::frame::Shape;
use crate::job::{Item, Task};
use crate::output::close_up::{self, SegmentNote};
use crate::output::svg::svg;
use crate::seam::Seam;
use glam::DVec3;
use serde_json::{Value, json};

/// Points along one segment.
const POINTS: usize = 8;

/// The frame in mm: tubes as lines with their width, passes by label, joints, and which way is up in
/// each setup.
pub fn frame(seen: &Seen) -> Value {
    let bench = seen.floor.bench();
    let frame = bench.frame;
    let tubes: Vec<Value> = frame
        .tubes
        .iter()
        .map(|t| {
            let width = match frame.sections[t.section].shape {
                Shape::Round { od, .. } | Shape::Solid { od } => od,
                Shape::Box { height, width, .. } => height.max(width),
                Shape::Flat { width, .. } => width,
            };
            json!({"name": t.name, "width": width, "line": t.axis.iter().map(place).collect::<Vec<_>>()})
        })
        .collect();
    let seams = &seen.floor.parts.seams.seams;
    let passes: serde_json::Map<String, Value> = bench
        .passes
        .passes
        .iter()
        .map(|p| {
            (p.label.clone(), json!(segment(&seams[p.seam], p.segment).iter().map(place).collect::<Vec<_>>()))
        })
        .collect();
    let tacks: serde_json::Map<String, Value> = bench
        .tacks
        .iter()
        .map(|(label, t)| (label.clone(), json!([place(&on(&seams[t.seam], t.line, t.at_mm))])))
        .collect();
    let joints: Vec<Value> =
        bench.joints.joints.iter().map(|j| json!({"name": j.name, "at": place(&j.at)})).collect();
    let setups: Vec<Value> =
        frame.setups.iter().map(|s| json!({"name": s.name, "up": s.up.to_array()})).collect();
    json!({
        "tubes": tubes, "passes": passes, "tacks": tacks, "joints": joints, "setups": setups,
        "forward": frame.forward.to_array(),
    })
}

/// Tenths of a millimetre are plenty for the eye.
fn place(p: &DVec3) -> [f64; 3] {
    p.to_array().map(|x| (x * 10.0).round() / 10.0)
}

fn segment(seam: &Seam, segment: usize) -> Vec<DVec3> {
    let s = &seam.segments[segment];
    let step = s.length_mm() / (POINTS - 1) as f64;
    (0..POINTS).map(|i| on(seam, s.line, s.from_mm + step * i as f64)).collect()
}

fn on(seam: &Seam, line: usize, s_mm: f64) -> DVec3 {
    seam.point(line, s_mm).at
}

/// The close-up of the seam of a line: a pass with its way, a tack with its place, nothing else.
pub fn close_up_of(seen: &Seen, item: &Item) -> Option<String> {
    let bench = seen.floor.bench();
    let seams = &seen.floor.parts.seams;
    let seam = seams.seams.iter().position(|s| Some(s.name.as_str()) == item.seam())?;
    let mut drawing = match bench.tacks.iter().find(|t| t.0 == item.label) {
        Some((_, t)) => close_up::of_tack(bench.frame, bench.joints, seams, seam, (t.line, t.at_mm)),
        None => {
            let mut notes = vec![SegmentNote::default(); seams.seams[seam].segments.len()];
            if let Task::Pass { forward, .. } = &item.task
                && let Some(p) = bench.passes.passes.iter().find(|p| p.label == item.label)
            {
                notes[p.segment] = SegmentNote { forward: Some(*forward), rows: "NOW".into() };
            }
            close_up::close_up(bench.frame, bench.joints, seams, seam, &notes)
        }
    };
    crate::output::units::picture(&mut drawing, seen.units);
    Some(svg(&drawing))
}
