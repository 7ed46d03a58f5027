//! What was understood of a frame file, in words: the answer of `check`.

use crate::frame::{Frame, Role, Shape, Tube};
use crate::joint::Joints;
use crate::procedure::{self, Passes};
use crate::seam::Seams;
use crate::units::{MM_PER_INCH, Units, trim};
use comfy_table::{CellAlignment, Table, presets};
use std::fmt::Write;

/// Joints, seams, passes, weights, sealed cells, controls and defaults as text of a given width.
pub fn understood(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes, width: u16) -> String {
    let u = frame.units;
    let inch = u == Units::Inch;
    // A length in a column whose head has the unit.
    let bare = |mm: f64| if inch { u.length(mm) } else { format!("{mm:.0}") };
    let mut t = String::new();
    let _ = writeln!(t, "{}", frame.name.to_uppercase());
    let _ = writeln!(
        t,
        "{}, {}, {}, {}; {:.1} kg of metal",
        count(frame.tubes.iter().filter(|b| b.role == Role::Tube).count(), "tube", "tubes"),
        count(joints.joints.len(), "joint", "joints"),
        count(seams.seams.len(), "seam", "seams"),
        count(passes.passes.len(), "pass", "passes"),
        mass_kg(frame)
    );
    let _ = writeln!(
        t,
        "{}, {:.0} g of filler, {:.0} min of arc",
        u.sentence(&format!(
            "{:.2} m of weld",
            seams.seams.iter().map(|s| s.length_mm).sum::<f64>() / 1000.0
        )),
        passes.passes.iter().map(|p| p.filler_g).sum::<f64>(),
        passes.passes.iter().map(|p| p.arc_s).sum::<f64>() / 60.0
    );
    let _ = match joints.symmetry {
        Some((p, n)) => writeln!(
            t,
            "left and right mirror in the plane through ({}, {}, {}) square to ({}, {}, {})",
            bare(p.x),
            bare(p.y),
            bare(p.z),
            trim(n.x, 2),
            trim(n.y, 2),
            trim(n.z, 2)
        ),
        None => writeln!(t, "no symmetry plane: heat cannot be balanced between left and right"),
    };
    for (tube, by) in &seams.sealed {
        let names: Vec<&str> = by.iter().map(|&s| seams.seams[s].name.as_str()).collect();
        let _ = writeln!(
            t,
            "SEALED: {} is closed by {}; it can burst: vent it before welding",
            frame.tubes[*tube].name,
            names.join(", ")
        );
    }

    let _ = writeln!(t, "\nTUBES AND PLATES");
    let mut table =
        sheet(width, &["name", "section", "material", if inch { "length" } else { "length mm" }, "kg"]);
    for tube in &frame.tubes {
        let section = &frame.sections[tube.section];
        table.add_row(vec![
            tube.name.clone(),
            shape_in(&section.shape, u),
            frame.materials[section.material].name.clone(),
            bare(tube.s.last().copied().unwrap_or(0.0)),
            format!("{:.1}", tube_kg(frame, tube)),
        ]);
    }
    [3, 4].into_iter().for_each(|c| right(&mut table, c));
    let _ = writeln!(t, "{table}");

    let _ = writeln!(t, "\nJOINTS AND SEAMS");
    let mut table = sheet(
        width,
        &["seam", "kind", "branch", "onto", "angle", if inch { "long" } else { "mm" }, "passes", "side"],
    );
    for (i, (seam, meet)) in seams.seams.iter().zip(&joints.meets).enumerate() {
        let onto: Vec<&str> = meet.carriers.iter().map(|c| frame.tubes[c.0].name.as_str()).collect();
        table.add_row(vec![
            seam.name.clone(),
            seam.kind.word().into(),
            frame.tubes[meet.branch.0].name.clone(),
            onto.join(" + "),
            format!("{:.0}°", seam.angle_deg),
            bare(seam.length_mm),
            passes.passes.iter().filter(|p| p.seam == i).count().to_string(),
            joints.joints[seam.joint].side.word().into(),
        ]);
    }
    [4, 5, 6].into_iter().for_each(|c| right(&mut table, c));
    [0, 1, 7].into_iter().for_each(|c| whole(&mut table, c));
    let _ = writeln!(t, "{table}");
    for seam in &seams.seams {
        for left in &seam.unwelded {
            let _ = writeln!(t, "{}: not welded: {}", seam.name, u.sentence(left));
        }
    }

    let _ = writeln!(t, "\nCONTROLS");
    if frame.controls.is_empty() {
        let _ = writeln!(t, "none: add [[control]] tables to learn how far the frame will pull");
    } else {
        let mut table = sheet(width, &["name", "kind", "nominal", "tolerance", "from", "set by"]);
        for c in &frame.controls {
            table.add_row(vec![
                c.name.clone(),
                c.kind.word().into(),
                if inch && c.kind.unit() == "mm" {
                    u.reading(c.nominal)
                } else {
                    format!("{:.1} {}", c.nominal, c.kind.unit())
                },
                if inch && c.kind.unit() == "mm" {
                    format!("±{}", u.band(c.tolerance))
                } else {
                    format!("±{}", trim(c.tolerance, 2))
                },
                u.sentence(&c.tolerance_from),
                format!("{:?}", c.set_by).to_lowercase(),
            ]);
        }
        right(&mut table, 2);
        [1, 3, 5].into_iter().for_each(|c| whole(&mut table, c));
        let _ = writeln!(t, "{table}");
    }

    let _ = writeln!(t, "\nSETTINGS OF THE SEAMS (starting values are no welding procedure)");
    let mut table = sheet(
        width,
        if inch {
            &["proc.", "layers", "leg", "V", "A", "in/min", "kJ/in", "°C", "from"]
        } else {
            &["proc.", "layers", "leg", "V", "A", "mm/s", "J/mm", "°C", "from"]
        },
    );
    for s in &passes.settings {
        table.add_row(vec![
            s.process.to_string(),
            s.layers.to_string(),
            // A butt or a mitre has no fillet.
            match (s.leg_mm > 0.0, inch) {
                (false, _) => "–".into(),
                (true, true) => u.reading(s.leg_mm),
                (true, false) => trim(s.leg_mm, 1),
            },
            trim(s.volts, 1),
            trim(s.amps, 0),
            trim(if inch { s.speed_mm_s * 60.0 / MM_PER_INCH } else { s.speed_mm_s }, 1),
            match s.k * s.volts * s.amps / s.speed_mm_s {
                q if inch => trim(q * MM_PER_INCH / 1000.0, 1),
                q => format!("{q:.0}"),
            },
            format!("{:.0}", s.interpass_c),
            u.sentence(&if s.starting_values {
                format!("starting values: {}", s.source)
            } else {
                s.source.clone()
            }),
        ]);
    }
    (0..8).for_each(|c| right(&mut table, c));
    let _ = writeln!(t, "{table}");

    t.push_str(&behind(frame, joints, seams, passes, width));
    let _ = writeln!(t, "\nDEFAULTS IN USE (write the key in the frame file to change one)");
    let mut table = sheet(width, &["key", "value", "why"]);
    for d in &frame.defaults {
        // Two of them carry their unit in the key.
        let value = match (inch && d.key.ends_with("(mm)"), d.value.parse::<f64>()) {
            (true, Ok(mm)) => u.band(mm),
            _ => u.sentence(&d.value),
        };
        let key = if inch { d.key.replace("(mm)", "(length)") } else { d.key.clone() };
        table.add_row(vec![key, value, u.sentence(&d.why)]);
    }
    whole(&mut table, 0);
    let _ = writeln!(t, "{table}");
    t
}

/// The numbers behind the settings: heat for the wall, cooling time, carbon equivalents, preheat. Seams
/// with the same numbers share a row.
fn behind(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes, width: u16) -> String {
    let mut rows: Vec<(Vec<String>, Vec<String>)> = Vec::new();
    for n in procedure::numbers(frame, joints, seams, passes) {
        let cooling = n.cooling.as_ref().map_or("-".into(), |c| format!("{:.0}", c.t85_s));
        let steels = if n.steels.is_empty() { vec![None] } else { n.steels.iter().map(Some).collect() };
        for steel in steels {
            let (ce, cet, pcm) = steel.map_or(("-".into(), "-".into(), "-".into()), |s| {
                let e = &s.equivalents;
                (format!("{:.2}", e.ce), format!("{:.2}", e.cet), format!("{:.2}", e.pcm))
            });
            let preheat = match steel.map(|s| (&s.method_b_c, &s.method_a_mm)) {
                None => "not by these methods".to_string(),
                Some((Ok(t), _)) => format!("{t:.0} °C (B)"),
                Some((Err(_), Ok(mm))) => {
                    frame.units.sentence(&format!("none up to {mm:.0} mm together (A)"))
                }
                Some((Err(_), Err(_))) => "outside A and B".to_string(),
            };
            let row = vec![
                steel.map_or("-".into(), |s| s.name.clone()),
                match n.heat_for_wall_j_per_mm2 {
                    q if frame.units == Units::Inch => {
                        format!("{:.0}", q * MM_PER_INCH * MM_PER_INCH / 1000.0)
                    }
                    q => format!("{q:.0}"),
                },
                cooling.clone(),
                ce,
                cet,
                pcm,
                preheat,
            ];
            let name = seams.seams[n.seam].name.clone();
            match rows.iter_mut().find(|r| r.0 == row) {
                Some(r) => r.1.push(name),
                None => rows.push((row, vec![name])),
            }
        }
    }
    let mut t = String::new();
    let _ = writeln!(
        t,
        "\nBEHIND THE SETTINGS: q/t {} of the thinner wall; t8/5 s and preheat by EN 1011-2, never beyond its range",
        if frame.units == Units::Inch { "kJ/in²" } else { "J/mm²" }
    );
    let mut table = sheet(width, &["steel", "q/t", "t8/5", "CE", "CET", "Pcm", "preheat", "seams"]);
    for (mut row, names) in rows {
        row.push(names.join(" "));
        table.add_row(row);
    }
    (1..6).for_each(|c| right(&mut table, c));
    [0, 6].into_iter().for_each(|c| whole(&mut table, c));
    let _ = writeln!(t, "{table}");
    t
}

/// An empty table. Numbers and short words keep their width; only columns that [`right`] has not fixed
/// give way when the terminal is narrow.
pub(super) fn sheet(width: u16, head: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_content_arrangement(comfy_table::ContentArrangement::Dynamic);
    table.set_width(width);
    table.set_header(head.iter().map(|h| h.to_uppercase()).collect::<Vec<_>>());
    table
}

/// A column of numbers: right-aligned, never broken.
pub(super) fn right(table: &mut Table, column: usize) {
    if let Some(c) = table.column_mut(column) {
        c.set_cell_alignment(CellAlignment::Right);
        c.set_constraint(comfy_table::ColumnConstraint::ContentWidth);
    }
}

/// A column of names that are never broken.
pub(super) fn whole(table: &mut Table, column: usize) {
    if let Some(c) = table.column_mut(column) {
        c.set_constraint(comfy_table::ColumnConstraint::ContentWidth);
    }
}

pub(super) fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// A section in the trade's short form, in mm.
pub fn shape(shape: &Shape) -> String {
    shape_in(shape, Units::Mm)
}

/// A section in the trade's short form.
pub fn shape_in(shape: &Shape, units: Units) -> String {
    // A wall that no fraction says is in thousandths.
    let n = |mm: f64| match units {
        Units::Mm => trim(mm, 2),
        Units::Inch => {
            let parts = mm / MM_PER_INCH * 64.0;
            let exact = (parts - parts.round()).abs() < 0.02;
            if exact { crate::units::tape(mm) } else { format!("{}\"", trim(mm / MM_PER_INCH, 3)) }
        }
    };
    match *shape {
        Shape::Round { od, wall } => format!("Ø{} × {}", n(od), n(wall)),
        Shape::Box { height, width, wall, .. } if height == width => format!("□{} × {}", n(height), n(wall)),
        Shape::Box { height, width, wall, .. } => format!("{} × {} × {}", n(height), n(width), n(wall)),
        Shape::Flat { width, thickness } => format!("flat {} × {}", n(width), n(thickness)),
        Shape::Solid { od } => format!("rod Ø{}", n(od)),
    }
}

/// Mass of all tubes and plates before trimming, kg.
fn mass_kg(frame: &Frame) -> f64 {
    frame.tubes.iter().map(|t| tube_kg(frame, t)).sum()
}

fn tube_kg(frame: &Frame, tube: &Tube) -> f64 {
    let section = &frame.sections[tube.section];
    let per_m = section.shape.properties().kg_per_m(frame.materials[section.material].density_kg_m3);
    per_m * tube.s.last().copied().unwrap_or(0.0) / 1000.0
}
