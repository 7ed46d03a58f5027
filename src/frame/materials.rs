//! `[materials]` and `[sections]`: what the tubes are made of.

use super::read::{Notes, usable_name};
use super::reader::{At, Bad, Tab, nearest, table, unknown};
use super::{ProcedureWish, Section, Shape, Tube};
use crate::fault::{Fault, Span};
use crate::library::{self, Material};

/// Materials and sections with the places of their names.
pub(super) struct Parts {
    /// Materials in use, filled as sections ask for them.
    pub materials: Vec<Material>,
    /// Own materials that were described, used or not.
    own: Vec<At<Material>>,
    /// Sections, user's and those made for plates.
    pub sections: Vec<Section>,
    /// Place of each section's name; `None` for those made for plates.
    places: Vec<Option<Span>>,
    /// Names of sections that were described with a fault, so that using them is no second fault.
    broken: Vec<String>,
    /// As `broken`, for own materials.
    broken_materials: Vec<String>,
    /// False if there is no `[sections]` at all, which is one fault, not one for each tube.
    any: bool,
}

impl Parts {
    /// Index of a material by name, put in use if need be.
    pub fn material(&mut self, said: &At<&str>, bad: &mut Bad) -> Option<usize> {
        let found = self.own.iter().find(|m| m.v.name == said.v).map(|m| &m.v);
        let found = found.or_else(|| library::material(said.v)).cloned();
        if found.is_none() && self.broken_materials.contains(&said.v.to_string()) {
            return None;
        }
        let Some(material) = found else {
            if let Some(near) = library::nearest_materials(said.v).first() {
                bad.push(
                    Fault::new("E109", format!("there is no material called \"{}\"", said.v))
                        .at(said.span.clone(), "neither built in nor in [materials]")
                        .replace(format!("\"{near}\"")),
                );
                return None;
            }
            let names: Vec<&str> = self
                .own
                .iter()
                .map(|m| m.v.name.as_str())
                .chain(library::materials().iter().map(|m| m.name.as_str()))
                .collect();
            bad.push(unknown("material", said, names.into_iter(), "the built-in materials or [materials]"));
            return None;
        };
        Some(self.in_use(material))
    }

    fn in_use(&mut self, material: Material) -> usize {
        if let Some(i) = self.materials.iter().position(|m| m.name == material.name) {
            return i;
        }
        self.materials.push(material);
        self.materials.len() - 1
    }

    /// Index of a section by name.
    pub fn section(&self, said: &At<&str>, bad: &mut Bad) -> Option<usize> {
        let named = |s: &Section| s.name == said.v;
        let found = self.sections.iter().zip(&self.places).position(|(s, at)| at.is_some() && named(s));
        if found.is_none() && self.any && !self.broken.iter().any(|b| b == said.v) {
            let names = self.sections.iter().zip(&self.places).filter(|(_, at)| at.is_some());
            let names = names.map(|(s, _)| s.name.as_str()).chain(self.broken.iter().map(String::as_str));
            bad.push(unknown("section", said, names, "[sections]"));
        }
        found
    }

    /// Index of the flat section of a plate, made if need be.
    pub fn plate_section(&mut self, width: f64, thickness: f64, material: usize) -> usize {
        let shape = Shape::Flat { width, thickness };
        let same = |s: &Section| s.shape == shape && s.material == material;
        if let Some(i) = self.sections.iter().position(same) {
            return i;
        }
        let name = format!("plate {width}x{thickness}");
        self.sections.push(Section { name, shape, material });
        self.places.push(None);
        self.sections.len() - 1
    }

    /// Material of the first section of the file, as a default for plates.
    pub fn first_material(&self) -> Option<usize> {
        self.sections.first().map(|s| s.material)
    }

    /// Warn about sections and own materials that nothing uses.
    pub fn warn_unused(&self, tubes: &[Tube], procedures: &[ProcedureWish], bad: &mut Bad) {
        for (i, at) in self.places.iter().enumerate() {
            let used =
                tubes.iter().any(|t| t.section == i) || procedures.iter().any(|p| p.between.contains(&i));
            if let (Some(at), false) = (at, used) {
                let name = &self.sections[i].name;
                bad.push(
                    Fault::new("W101", format!("section \"{name}\" is never used"))
                        .at(at.clone(), "no tube has it"),
                );
            }
        }
        for own in &self.own {
            if !self.materials.iter().any(|m| m.name == own.v.name) {
                bad.push(
                    Fault::new("W101", format!("material \"{}\" is never used", own.v.name))
                        .at(own.span.clone(), "no section has it"),
                );
            }
        }
    }
}

const MATERIAL: &[&str] = &[
    "like",
    "source",
    "e_mpa",
    "poisson",
    "yield_mpa",
    "alpha_per_k",
    "density_kg_m3",
    "specific_heat_j_kgk",
    "conductivity_w_mk",
    "emissivity",
    "composition",
    "interpass_c",
    "min_start_c",
    "cev_limit",
];

/// Materials the user describes: a built-in one with some values replaced, each with its source; and
/// the names of those that have a fault.
pub(super) fn own(top: &Tab<'_>, bad: &mut Bad) -> (Vec<At<Material>>, Vec<String>) {
    let (mut own, mut broken) = (Vec::new(), Vec::new());
    let Some(value) = top.get("materials") else { return (own, broken) };
    let Some(t) = table(value, "`materials`", bad) else { return (own, broken) };
    for (name, span, value) in Tab::free(t, value.span(), "[materials]", &[]).entries() {
        let place = format!("material \"{name}\"");
        usable_name("material", name, span, bad);
        let Some(t) = table(value, &place, bad) else { continue };
        let tab = Tab::open(t, span.clone(), place, MATERIAL, bad);
        match own_material(name, &tab, bad) {
            Some(m) => own.push(At { v: m, span: span.clone() }),
            None => broken.push(name.to_string()),
        }
    }
    (own, broken)
}

fn own_material(name: &str, tab: &Tab<'_>, bad: &mut Bad) -> Option<Material> {
    let like = tab.need("like", "`like = \"S235\"`, the built-in material it resembles", bad)?;
    let like = super::reader::text(like, "`like`", bad)?;
    let Some(base) = library::material(like.v) else {
        let names = library::materials().iter().map(|m| m.name.as_str());
        bad.push(unknown("built-in material", &like, names, "the built-in materials"));
        return None;
    };
    let mut m = base.clone();
    m.name = name.to_string();
    m.aliases.clear();
    let before = m.clone();
    let source = tab.text("source", bad);
    let mut put = |key: &'static str, range: std::ops::RangeInclusive<f64>, unit: &str, to: &mut f64| {
        if let Some(n) = tab.number_in(key, range, unit, bad) {
            *to = n.v;
        }
    };
    put("e_mpa", 1e4..=4e5, "MPa", &mut m.e_mpa);
    put("poisson", 0.0..=0.49, "", &mut m.poisson);
    put("yield_mpa", 10.0..=2000.0, "MPa", &mut m.yield_mpa);
    put("alpha_per_k", 1e-6..=5e-5, "1/K", &mut m.alpha_per_k);
    put("density_kg_m3", 1000.0..=20000.0, "kg/m3", &mut m.density_kg_m3);
    put("specific_heat_j_kgk", 100.0..=2000.0, "J/(kg K)", &mut m.specific_heat_j_kgk);
    put("conductivity_w_mk", 5.0..=500.0, "W/(m K)", &mut m.conductivity_w_mk);
    put("emissivity", 0.01..=1.0, "", &mut m.emissivity);
    put("interpass_c", 20.0..=500.0, "degrees C", &mut m.interpass_c);
    put("min_start_c", -20.0..=300.0, "degrees C", &mut m.min_start_c);
    if let Some(n) = tab.number_in("cev_limit", 0.0..=1.0, "", bad) {
        m.cev_limit = Some(n.v);
    }
    if let Some(value) = tab.get("composition") {
        composition(value, &mut m, bad);
    }
    match source {
        Some(s) if !s.v.trim().is_empty() => {
            m.sources.retain(|(key, _)| !tab.has(key));
            for (key, _, _) in tab.entries() {
                if !matches!(*key, "like" | "source") {
                    m.sources.push((key.to_string(), format!("frame file: {}", s.v)));
                }
            }
        }
        _ if m != before => bad.push(
            Fault::new("E123", format!("material \"{name}\" does not say where its values come from"))
                .at(tab.span.clone(), "`source` is missing here")
                .help("write `source = \"…\"`: the data sheet, certificate or standard"),
        ),
        _ => {}
    }
    Some(m)
}

fn composition(value: &super::reader::Val<'_>, m: &mut Material, bad: &mut Bad) {
    const ELEMENTS: [&str; 22] = [
        "C", "Si", "Mn", "P", "S", "Cr", "Mo", "Ni", "V", "Cu", "Nb", "Ti", "Al", "N", "B", "Mg", "Zn", "Fe",
        "Co", "W", "Pb", "Sn",
    ];
    let Some(t) = table(value, "`composition`", bad) else { return };
    for (element, span, value) in Tab::free(t, value.span(), "`composition`", &[]).entries() {
        let Some(n) = super::reader::number(value, &format!("`{element}`"), bad) else { continue };
        if !ELEMENTS.contains(element) {
            let near = ELEMENTS.iter().find(|e| e.eq_ignore_ascii_case(element));
            let fault = Fault::new("E112", format!("there is no element `{element}` to weigh"))
                .at(span.clone(), "a chemical symbol wanted");
            bad.push(match near {
                Some(e) => fault.replace(*e),
                None => fault.help("write mass per cent, such as `composition = { C = 0.17, Mn = 1.2 }`"),
            });
        } else if !(0.0..=100.0).contains(&n.v) {
            bad.push(super::reader::out_of_range(element, n.v, n.span, &(0.0..=100.0), "%"));
        } else {
            m.composition.retain(|(e, _)| e != element);
            m.composition.push((element.to_string(), n.v));
        }
    }
}

const SECTION: &[&str] = &["round", "square", "rectangular", "flat", "solid", "material"];

/// `[sections.NAME]`: a shape and a material.
pub(super) fn sections(
    top: &Tab<'_>,
    (own, broken_materials): (Vec<At<Material>>, Vec<String>),
    notes: &mut Notes,
    bad: &mut Bad,
) -> Parts {
    let mut parts = Parts {
        materials: Vec::new(),
        own,
        sections: Vec::new(),
        places: Vec::new(),
        broken: Vec::new(),
        broken_materials,
        any: top.has("sections"),
    };
    let Some(value) = top.get("sections") else {
        bad.push(
            Fault::new("E107", "the file lacks `[sections]`")
                .help("write `[sections]` and under it `main = { square = { side = 40, wall = 3 }, material = \"S235\" }`"),
        );
        return parts;
    };
    let Some(t) = table(value, "`sections`", bad) else { return parts };
    for (name, span, value) in Tab::free(t, value.span(), "[sections]", &[]).entries() {
        let place = format!("section \"{name}\"");
        usable_name("section", name, span, bad);
        let section = table(value, &place, bad).and_then(|t| {
            let tab = Tab::open(t, span.clone(), place, SECTION, bad);
            let shape = shape(name, &tab, notes, bad);
            let material = tab
                .need("material", "`material = \"S235\"`", bad)
                .and_then(|v| super::reader::text(v, "`material`", bad))
                .and_then(|m| parts.material(&m, bad));
            Some(Section { name: name.to_string(), shape: shape?, material: material? })
        });
        match section {
            Some(s) => {
                parts.sections.push(s);
                parts.places.push(Some(span.clone()));
            }
            None => parts.broken.push(name.to_string()),
        }
    }
    parts
}

fn shape(name: &str, tab: &Tab<'_>, notes: &mut Notes, bad: &mut Bad) -> Option<Shape> {
    let kinds = &SECTION[..5];
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
