//! Where everything goes, for somebody who has loose tubes and this sheet: the ends of the tubes, the
//! points of the fixture, the places between which each dimension is read.

use super::sheet::{Block, Column, Table};
use crate::frame::{ControlKind, Frame, Spot};
use crate::plan::{WeldPlan, along};
use crate::units;
use glam::DVec3;

/// How the clock of a seam is read.
pub const CLOCK: &str = "Clock places are seen along the branch (the first tube named) towards the tube it lands on: 12 \
                         o'clock is up, or forward where the branch stands upright. The close-ups at the end show every \
                         seam that way.";

/// The tables of the bench: tubes, fixture, dimensions.
pub fn blocks(plan: &WeldPlan) -> Vec<Block> {
    let mut out = vec![Block::Table(ends(plan))];
    if !plan.frame.clamps.is_empty() {
        out.push(Block::Table(fixture(plan)));
        out.push(Block::Words(
            "Fixture points lie on the centre line of the tube that they hold. Where a build-to table stands above, its \
             moves are in them already."
                .into(),
        ));
    }
    out
}

/// Where each dimension is read.
pub fn measured(plan: &WeldPlan) -> Table {
    let rows =
        plan.frame.controls.iter().map(|c| vec![c.name.clone(), between(&plan.frame, &c.kind)]).collect();
    Table {
        title: "How each dimension is read".into(),
        columns: vec![Column::words("Control"), Column::words("Read")],
        rows,
    }
}

/// The ends of the centre lines as drawn.
fn ends(plan: &WeldPlan) -> Table {
    let mut columns = vec![Column::words("Tube")];
    columns.extend(
        ["Start X mm", "Start Y mm", "Start Z mm", "End X mm", "End Y mm", "End Z mm"].map(Column::numbers),
    );
    let rows = plan
        .frame
        .tubes
        .iter()
        .filter_map(|t| {
            let (a, b) = (t.axis.first()?, t.axis.last()?);
            let mut row = vec![t.name.clone()];
            row.extend(a.to_array().into_iter().chain(b.to_array()).map(|v| units::trim(v, 1)));
            Some(row)
        })
        .collect();
    Table { title: "Where the centre lines end, as drawn".into(), columns, rows }
}

fn fixture(plan: &WeldPlan) -> Table {
    let mut columns = vec![Column::words("Clamp or stop"), Column::words("On")];
    columns.extend(["X mm", "Y mm", "Z mm"].map(Column::numbers));
    columns.push(Column::words("Holds"));
    let rows = plan
        .frame
        .clamps
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let at = place(&plan.frame, c.tube, c.at_mm) + moved(plan, c.tube, c.at_mm);
            let holds: Vec<String> = c.holds.iter().map(|d| along(*d)).collect();
            let mut row = vec![c.name.clone(), plan.frame.tubes[plan.frame.clamps[i].tube].name.clone()];
            row.extend(at.to_array().map(|v| units::trim(v, 1)));
            row.push(if c.one_way { format!("pushes {}", holds.join(" ")) } else { holds.join(" ") });
            row
        })
        .collect();
    Table { title: "Fixture points, where to set them".into(), columns, rows }
}

/// How far the build-to table moves a place on a tube.
fn moved(plan: &WeldPlan, tube: usize, at_mm: f64) -> DVec3 {
    let Some([a, b]) = plan.build_to.as_ref().and_then(|b| b.ends_mm.get(tube)) else { return DVec3::ZERO };
    let length = plan.frame.tubes[tube].s.last().copied().unwrap_or(0.0).max(1e-9);
    *a + (*b - *a) * (at_mm / length).clamp(0.0, 1.0)
}

fn place(frame: &Frame, tube: usize, s_mm: f64) -> DVec3 {
    let t = &frame.tubes[tube];
    let i = t.s.partition_point(|x| *x < s_mm).clamp(1, t.s.len() - 1);
    let part = (s_mm - t.s[i - 1]) / (t.s[i] - t.s[i - 1]).max(1e-9);
    t.axis[i - 1] + (t.axis[i] - t.axis[i - 1]) * part.clamp(0.0, 1.0)
}

fn spot(frame: &Frame, s: &Spot) -> String {
    let tube = &frame.tubes[s.tube];
    let length = tube.s.last().copied().unwrap_or(0.0);
    if s.s_mm < 0.5 {
        format!("the start of {}", tube.name)
    } else if s.s_mm > length - 0.5 {
        format!("the end of {}", tube.name)
    } else if (s.s_mm - 0.5 * length).abs() < 0.5 {
        format!("the middle of {}", tube.name)
    } else {
        format!("{} at {} mm from its start", tube.name, units::trim(s.s_mm, 0))
    }
}

/// What is read, in words.
fn between(frame: &Frame, kind: &ControlKind) -> String {
    let s = |p: &Spot| spot(frame, p);
    let pair = |p: &[Spot; 2]| format!("{} to {}", s(&p[0]), s(&p[1]));
    match kind {
        ControlKind::Distance(a, b) => format!("from {} to {}", s(a), s(b)),
        ControlKind::FromLine { spot, line, dir } => {
            format!("how far {} lies off the line {}, along {}", s(spot), pair(line), along(*dir))
        }
        ControlKind::FromPlane { spot, plane } => {
            let three: Vec<String> = plane.iter().map(s).collect();
            format!("how far {} lies off the plane through {}", s(spot), three.join(", "))
        }
        ControlKind::Angle(a, b) => format!("angle between the lines {} and {}", pair(a), pair(b)),
        ControlKind::Parallel(a, b) => {
            let far =
                |p: &Spot, q: &Spot| (place(frame, p.tube, p.s_mm) - place(frame, q.tube, q.s_mm)).length();
            let straight = far(&a[0], &b[0]) + far(&a[1], &b[1]) <= far(&a[0], &b[1]) + far(&a[1], &b[0]);
            let (first, second) = if straight { (&b[0], &b[1]) } else { (&b[1], &b[0]) };
            format!("from {} to {}, less from {} to {}", s(&a[0]), s(first), s(&a[1]), s(second))
        }
        ControlKind::Twist([a, b, c, d]) => {
            format!("how far {} lies off the plane through {}, {} and {}", s(d), s(a), s(b), s(c))
        }
        ControlKind::Bow { tube, from_to, dir } => format!(
            "{} against a string from {} to {} mm of its length: the middle, along {}",
            frame.tubes[*tube].name,
            units::trim(from_to[0], 0),
            units::trim(from_to[1], 0),
            along(*dir)
        ),
        ControlKind::Squareness(a, b) => format!("{}, less {}", pair(a), pair(b)),
        ControlKind::Level(a, b) => {
            format!("height of {} over {}, less that of {} over {}", s(&a[0]), s(&a[1]), s(&b[0]), s(&b[1]))
        }
    }
}
