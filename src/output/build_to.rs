//! The build-to table: where the tubes go in the fixture and how long they are cut, so that welding
//! draws the frame to its drawing.

use super::sheet::{Block, Column, Table};
use crate::distort::BuildTo;
use crate::plan::WeldPlan;
use crate::units::{Units, signed_to, trim};

/// Tubes that move less than this, mm, are left where the drawing has them.
const SHOWN_MM: f64 = 0.1;
/// A gap of less than this, mm, is closed by the arc without a thought.
const GAP_MM: f64 = 0.3;

/// What stands on the sheet about it; nothing if the plan has no such table.
pub fn blocks(plan: &WeldPlan) -> Vec<Block> {
    let Some(b) = &plan.build_to else { return vec![] };
    let rows = rows(plan, b);
    let mut out = Vec::new();
    if !rows.is_empty() {
        out.push(Block::Table(table(rows, plan.frame.units)));
        out.push(Block::Words(HOW.into()));
    }
    let lines: Vec<String> = [not_reached(plan, b), gaps(plan, b)].into_iter().flatten().collect();
    if !lines.is_empty() {
        out.push(Block::Words(lines.join(" ")));
    }
    out.extend(bends(plan, b).into_iter().map(Block::Words));
    out
}

const HOW: &str = "Build to: how far the two ends of a tube's centre line lie off the drawing, along the frame's X, Y and \
     Z, and how much longer (−: shorter) to cut it; one way, the least, to give the dimensions above their set-to \
     values before the first tack. Tubes that are not listed stay within 0.1 mm of the drawing. Use it while tubes are \
     still to be cut and to place stops. \"Set to\" above says the same as dimensions to measure, and it governs: use \
     it alone when the tubes are cut already, and check every dimension against it before the first tack.";

fn rows(plan: &WeldPlan, b: &BuildTo) -> Vec<Vec<String>> {
    let say = |v: f64| match plan.frame.units {
        Units::Mm if v.abs() < 0.05 => "0".to_string(),
        Units::Mm => signed_to(v, 1),
        Units::Inch => plan.frame.units.change(v),
    };
    let mut rows = Vec::new();
    for (t, (ends, longer)) in b.ends_mm.iter().zip(&b.longer_mm).enumerate() {
        let moves = ends.iter().flat_map(|e| e.to_array()).chain([*longer]);
        if moves.map(f64::abs).fold(0.0, f64::max) < SHOWN_MM {
            continue;
        }
        let mut row = vec![plan.frame.tubes[t].name.clone()];
        row.extend(ends.iter().flat_map(|e| e.to_array()).chain([*longer]).map(say));
        rows.push(row);
    }
    rows
}

fn table(rows: Vec<Vec<String>>, units: Units) -> Table {
    let mut columns = vec![Column::words("Tube")];
    columns.extend(
        ["Start X", "Start Y", "Start Z", "End X", "End Y", "End Z", "Longer by"].map(Column::numbers),
    );
    Table { title: format!("Build to, {} off the drawing", units.word()), columns, rows }
}

fn not_reached(plan: &WeldPlan, b: &BuildTo) -> Option<String> {
    let list: Vec<String> = plan
        .frame
        .controls
        .iter()
        .zip(&b.left)
        .filter(|(c, left)| left.abs() > 0.1 * c.tolerance)
        .map(|(c, left)| {
            let unit = if c.kind.unit() == "deg" { "°" } else { " mm" };
            format!("{} ({}{unit})", c.name, signed_to(*left, 2))
        })
        .collect();
    (!list.is_empty()).then(|| {
        format!(
            "Not to be had by placing straight tubes and cutting them to length, and therefore missing from the \
             set-to value: {}.",
            list.join(", ")
        )
    })
}

fn gaps(plan: &WeldPlan, b: &BuildTo) -> Option<String> {
    let list: Vec<String> = plan
        .seams
        .seams
        .iter()
        .zip(&b.gap_mm)
        .filter(|(_, gap)| **gap > GAP_MM)
        .map(|(s, gap)| format!("{} ({} mm)", s.name, trim(*gap, 1)))
        .collect();
    (!list.is_empty())
        .then(|| format!("Fit these ends to the changed place, or they gape or bind: {}.", list.join(", ")))
}

/// Counter-bends: what it would take, never advice to do it.
fn bends(plan: &WeldPlan, b: &BuildTo) -> Vec<String> {
    b.bends
        .iter()
        .map(|x| {
            let elastic = x.bow_mm.abs() * x.yield_mpa / x.stress_mpa.max(1e-9);
            format!(
                "{}: only a counter-bend of {} by {} mm could take it out. Held so far between two blocks and pushed \
                 at its middle it carries {} MPa at its outside, with {} N; its yield is {} MPa, so up to about {} mm \
                 it springs all the way back, and it must be pushed past that to stay bent. Often it is better to \
                 weld, measure and straighten.",
                plan.frame.controls[x.control].name,
                plan.frame.tubes[x.tube].name,
                signed_to(x.bow_mm, 1),
                trim(x.stress_mpa, 0),
                trim((x.force_n / 10.0).round() * 10.0, 0),
                trim(x.yield_mpa, 0),
                trim(elastic, 1),
            )
        })
        .collect()
}
