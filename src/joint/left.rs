//! What is left of a tube between the cuts of its ends.
//!
//! Every line of the tube's wall runs from the cut of one end to the cut of the other. Where the cuts
//! reach each other there is no wall, and nothing to weld: such a tube is refused. A bend that begins
//! before the cut has ended is said, for the seam is traced along the straight end.

use super::checks::{FLATTEST_DEG, flattest_angle_deg, mitre_angle_deg};
use super::curve::{branch_end, trace};
use super::place::{TOUCH_MM, axes, length};
use super::trace::Trace;
use super::{Meet, MeetKind};
use crate::fault::Fault;
use crate::frame::Frame;

/// Lines of the wall that are looked at, on each edge of the outline.
const LINES: usize = 16;

/// The cuts of the two ends, with the meet that each belongs to.
type Cuts<'a> = [Option<(Trace, &'a Meet)>; 2];

/// Tubes of which nothing is left (E211), and bends that begin in a cut (W204).
pub(super) fn faults(frame: &Frame, meets: &[Meet]) -> Vec<Fault> {
    let mut cuts: Vec<Cuts> = frame.tubes.iter().map(|_| [None, None]).collect();
    for m in meets {
        for side in sides(m) {
            let Some((end, _)) = branch_end(frame, &side) else { continue };
            let Some(t) = trace(frame, &side) else { continue };
            let angle = match m.kind {
                MeetKind::Mitre => mitre_angle_deg(frame, m),
                _ => flattest_angle_deg(frame, m, &t),
            };
            // A landing that is too flat has a fault of its own, and a cut without end.
            if angle >= FLATTEST_DEG {
                cuts[side.branch.0][end] = Some((t, m));
            }
        }
    }
    let mut faults = Vec::new();
    for (tube, cuts) in cuts.iter().enumerate() {
        faults.extend(nothing_left(frame, tube, cuts).or_else(|| bent_in_the_cut(frame, tube, cuts)));
    }
    faults
}

/// A meet as seen from each tube that is cut there.
fn sides(m: &Meet) -> Vec<Meet> {
    match m.kind {
        MeetKind::Saddle | MeetKind::SquareOnRound | MeetKind::FlatFaced => vec![m.clone()],
        MeetKind::Mitre => {
            let (tube, s, _) = m.carriers[0];
            let other =
                Meet { branch: (tube, s), carriers: vec![(m.branch.0, m.branch.1, 1.0)], ..m.clone() };
            vec![m.clone(), other]
        }
        _ => Vec::new(),
    }
}

/// How far the cut of an end reaches up the tube, mm: the deepest line.
fn depth_mm(t: &Trace) -> f64 {
    lines(t).map(|(_, z)| z).fold(0.0, f64::max)
}

/// The lines of the wall at an end: where each starts on the square cut through the work point, and
/// the height of the seam on it, mm.
fn lines(t: &Trace) -> impl Iterator<Item = (glam::DVec3, f64)> + '_ {
    (0..t.edges.len()).flat_map(move |e| {
        (0..LINES).map(move |i| {
            let p = t.place(e, i as f64 / LINES as f64).at;
            let z = (p - t.origin).dot(t.away);
            (p - t.away * z, z)
        })
    })
}

fn nothing_left(frame: &Frame, tube: usize, cuts: &Cuts) -> Option<Fault> {
    let t = &frame.tubes[tube];
    let long = length(t);
    let (taken, others) = match cuts {
        [None, None] => return None,
        [Some((cut, m)), None] | [None, Some((cut, m))] => (depth_mm(cut), vec![*m]),
        [Some((a, m)), Some((b, n))] if t.axis.len() == 2 => {
            // Line by line: slanted cuts may lie deep on opposite sides of the tube.
            let both = lines(a).map(|(from, z)| z + b.height(from - a.away * (from - b.origin).dot(a.away)));
            (both.fold(0.0, f64::max), vec![*m, *n])
        }
        [Some((a, m)), Some((b, n))] => (depth_mm(a) + depth_mm(b), vec![*m, *n]),
    };
    if taken < long - TOUCH_MM {
        return None;
    }
    let name = |i: usize| format!("\"{}\"", frame.tubes[i].name);
    let other = |m: &Meet| name(m.tubes().find(|i| *i != tube).unwrap_or(tube));
    let long_words = format!("{long:.1} mm from end to end");
    let (message, label) = match &others[..] {
        [m, n] if other(m) == other(n) => (
            format!("nothing is left of {} outside {}", name(tube), other(m)),
            format!("{long_words}, all inside"),
        ),
        [m, n] => (
            format!("nothing is left of {} between {} and {}", name(tube), other(m), other(n)),
            format!("{long_words}, and the cuts of its ends take {taken:.1} mm"),
        ),
        all => (
            format!("nothing is left of {} outside {}", name(tube), other(all[0])),
            format!("{long_words}, and the cut of its end takes {taken:.1} mm"),
        ),
    };
    let help = "lengths run from axis to axis: make it longer, move the two apart, or leave it out";
    Some(Fault::new("E211", message).at(t.span.clone(), label).help(help))
}

fn bent_in_the_cut(frame: &Frame, tube: usize, cuts: &Cuts) -> Option<Fault> {
    let t = &frame.tubes[tube];
    cuts.iter().enumerate().filter_map(|(end, cut)| Some((end, cut.as_ref()?))).find_map(|(end, (cut, m))| {
        let deep = depth_mm(cut);
        let s = if end == 0 { deep } else { length(t) - deep };
        let aside = axes(t, s).at.distance(cut.origin + cut.away * deep);
        let other = m.tubes().find(|i| *i != tube)?;
        (aside > TOUCH_MM).then(|| {
            let message = format!(
                "\"{}\" is already bent where it lands on \"{}\"",
                t.name, frame.tubes[other].name
            );
            Fault::new("W204", message)
                .at(t.span.clone(), format!("{aside:.1} mm off the straight at the end of its cut"))
                .help("the seam is worked out for a straight end: expect its length and place to differ by as much, or let the bend begin later")
        })
    })
}
