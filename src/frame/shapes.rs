//! The shape of a section and the slips of unit that show in its sizes.

use super::Shape;
use super::read::Notes;
use super::reader::{At, Bad, Tab, nearest, table};
use crate::fault::Fault;

/// Keys for a shape in a section.
pub(super) const SHAPES: [&str; 5] = ["round", "square", "rectangular", "flat", "solid"];

/// The one shape of a section.
pub(super) fn shape(name: &str, tab: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> Option<Shape> {
    let kinds = &SHAPES;
    let said: Vec<_> = tab.entries().iter().filter(|e| kinds.contains(&e.0)).collect();
    let (kind, key_at, value) = match said.as_slice() {
        [one] => *one,
        [] => {
            // A misspelt kind was already reported as an unknown key.
            let misspelt = tab.entries().iter().any(|e| nearest(e.0, kinds.iter().copied()).is_some());
            if !misspelt {
                bad.push(
                    Fault::new("E113", format!("{} has no shape", tab.place))
                        .at(tab.span.clone(), "one shape wanted")
                        .help("write one of round, square, rectangular, flat, solid; for instance `round = { od = 33.7, wall = 2.6 }`"),
                );
            }
            return None;
        }
        [first, second, ..] => {
            bad.push(
                Fault::new("E113", format!("{} has two shapes", tab.place))
                    .at(second.1.clone(), "second shape")
                    .also(first.1.clone(), "first shape")
                    .help("a section has one shape; make two sections"),
            );
            return None;
        }
    };
    let t = table(value, &format!("`{kind}`"), bad)?;
    let place = format!("{} of section \"{name}\"", *kind);
    let keys: &'static [&'static str] = match *kind {
        "round" => &["od", "wall"],
        "square" => &["side", "wall", "corner"],
        "rectangular" => &["height", "width", "wall", "corner"],
        "flat" => &["width", "thickness"],
        _ => &["od"],
    };
    let size = Tab::open(t, key_at.clone(), place, keys, bad);
    let mut need = |key: &'static str| -> Option<At<f64>> {
        let value = size.need(key, &format!("`{key} = …` in mm"), bad)?;
        super::reader::number(value, &format!("`{key}`"), bad)
    };
    let shape = match *kind {
        "round" => {
            let (od, wall) = (need("od"), need("wall"));
            let (od, wall) = (od?, wall?);
            sane(&[("od", &od)], Some(&wall), bad)?;
            wall_fits(&od, &wall, "solid", bad)?;
            Shape::Round { od: od.v, wall: wall.v }
        }
        "square" | "rectangular" => {
            let (height, width) = match *kind {
                "square" => {
                    let side = need("side");
                    (side.clone(), side)
                }
                _ => {
                    let height = need("height");
                    (height, need("width"))
                }
            };
            let wall = need("wall");
            let (height, width, wall) = (height?, width?, wall?);
            let names: &[(&str, &At<f64>)] = match *kind {
                "square" => &[("side", &height)],
                _ => &[("height", &height), ("width", &width)],
            };
            sane(names, Some(&wall), bad)?;
            let small = if width.v < height.v { &width } else { &height };
            wall_fits(small, &wall, "flat", bad)?;
            let corner = corner(name, &size, small.v, wall.v, notes, bad)?;
            Shape::Box { height: height.v, width: width.v, wall: wall.v, corner }
        }
        "flat" => {
            let (width, thickness) = (need("width"), need("thickness"));
            let (width, thickness) = (width?, thickness?);
            sane(&[("width", &width)], Some(&thickness), bad)?;
            Shape::Flat { width: width.v, thickness: thickness.v }
        }
        _ => {
            let od = need("od")?;
            sane(&[("od", &od)], None, bad)?;
            Shape::Solid { od: od.v }
        }
    };
    if shape.hollow() && !(0.8..=40.0).contains(&shape.wall_mm()) {
        bad.push(
            Fault::new("W104", format!("a wall of {} mm is unusual", shape.wall_mm()))
                .at(size.get("wall").map_or(size.span.clone(), |v| v.span()), "outside 0.8 to 40 mm"),
        );
    }
    Some(shape)
}

/// Sizes that are surely slips of unit: inches or metres written for millimetres.
fn sane(sizes: &[(&str, &At<f64>)], wall: Option<&At<f64>>, bad: &mut Bad) -> Option<()> {
    let mut fine = true;
    for (key, size) in sizes {
        fine &= sane_size(key, size, 3.0..=2000.0, bad);
    }
    if let (true, Some(wall)) = (fine, wall) {
        fine &= sane_size("wall", wall, 0.3..=200.0, bad);
    }
    fine.then_some(())
}

fn sane_size(key: &str, size: &At<f64>, range: std::ops::RangeInclusive<f64>, bad: &mut Bad) -> bool {
    if range.contains(&size.v) {
        return true;
    }
    let v = size.v;
    if v <= 0.0 {
        bad.push(super::reader::out_of_range(key, v, size.span.clone(), &range, "mm"));
        return false;
    }
    let fault = Fault::new(
        "E122",
        format!("`{key}` of {v} mm is too {} to weld", if v < *range.start() { "small" } else { "large" }),
    )
    .at(size.span.clone(), "all lengths are in mm");
    let round = |mm: f64| (mm * 100.0).round() / 100.0;
    let (inch, metre) = (round(v * crate::units::MM_PER_INCH), round(v * 1000.0));
    let as_inch = range.contains(&inch) && (key != "wall" || inch <= 15.0);
    let as_metre = v < 0.3 && key != "wall" && range.contains(&metre);
    bad.push(match (as_metre, as_inch) {
        (true, true) => fault.help(format!("write {metre} if you meant metres, {inch} if you meant inches")),
        (true, false) => fault.help(format!("write {metre} if you meant metres")),
        (false, true) => fault.help(format!("write {inch} if you meant inches")),
        (false, false) => fault.help(format!("between {} and {} mm", range.start(), range.end())),
    });
    false
}

fn wall_fits(size: &At<f64>, wall: &At<f64>, instead: &str, bad: &mut Bad) -> Option<()> {
    if 2.0 * wall.v < size.v {
        return Some(());
    }
    bad.push(
        Fault::new("E120", format!("a wall of {} mm leaves no hole in {} mm", wall.v, size.v))
            .at(wall.span.clone(), "half the size or more")
            .also(size.span.clone(), "outside size")
            .help(format!("a bar without a hole is written `{instead} = {{ … }}`")),
    );
    None
}

fn corner(
    name: &str,
    size: &Tab<'_>,
    small: f64,
    wall: f64,
    notes: &mut Notes,
    bad: &mut Bad,
) -> Option<f64> {
    let Some(value) = size.get("corner") else {
        // EN 10219-2:2006, table 3 and annex A: outer corner radius for calculation 2.0 t up to
        // 6 mm, 2.5 t above 6 to 10 mm, 3.0 t above 10 mm.
        let times = if wall <= 6.0 {
            2.0
        } else if wall <= 10.0 {
            2.5
        } else {
            3.0
        };
        let corner = (times * wall).min(small / 2.0);
        notes.default(
            format!("sections.{name}.corner"),
            format!("{corner}"),
            format!("outer corner radius {times:.1} x wall, EN 10219-2 annex B (cold-formed; from memory)"),
        );
        return Some(corner);
    };
    let corner = super::reader::number(value, "`corner`", bad)?;
    if corner.v < 0.0 || corner.v > small / 2.0 {
        bad.push(
            Fault::new(
                "E121",
                format!("an outer corner radius of {} mm does not fit a side of {small} mm", corner.v),
            )
            .at(corner.span, "outer corner radius")
            .help(format!("between 0 and {} mm; leave it out for the usual radius", small / 2.0)),
        );
        return None;
    }
    Some(corner.v)
}
