//! `[materials]` and `[sections]`: what the tubes are made of.

use super::read::{Notes, usable_name};
use super::reader::{At, Bad, Tab, table, unknown};
use super::shapes::shape;
use super::{ProcedureWish, Section, Shape, Tube};
use crate::fault::{Fault, Span};
use crate::library::{self, Material};

/// Materials and sections with the places of their names.
pub(super) struct Parts {
    /// Materials in use, filled as sections ask for them.
    pub materials: Vec<Material>,
    /// Own materials that were described, used or not.
    own: Vec<At<Material>>,
    /// Materials of the shop, for names that are neither own nor built in.
    shop: Vec<Material>,
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
        let found = found.or_else(|| library::material(said.v));
        let found = found.or_else(|| self.shop.iter().find(|m| m.name == said.v)).cloned();
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
                .chain(self.shop.iter().map(|m| m.name.as_str()))
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

/// The materials that a text describes under `[materials]`, as in a frame file; what else is in it is not
/// looked at. `whose`: what the text is, as it stands before each source.
///
/// # Errors
/// All faults of these tables.
pub fn described(text: &str, whose: &str) -> Result<Vec<Material>, Vec<Fault>> {
    let mut bad = Bad::new();
    let (tree, _) = toml::de::DeTable::parse_recoverable(text);
    let tree = tree.into_inner();
    let (own, _) = own(&Tab::free(&tree, 0..0, whose, &["materials"]), whose, &mut bad);
    match bad.iter().all(Fault::is_warning) {
        true => Ok(own.into_iter().map(|m| m.v).collect()),
        false => Err(bad),
    }
}

/// Materials the user describes: a built-in one with some values replaced, each with its source; and
/// the names of those that have a fault.
pub(super) fn own(top: &Tab<'_>, whose: &str, bad: &mut Bad) -> (Vec<At<Material>>, Vec<String>) {
    let (mut own, mut broken) = (Vec::new(), Vec::new());
    let Some(value) = top.get("materials") else { return (own, broken) };
    let Some(t) = table(value, "`materials`", bad) else { return (own, broken) };
    for (name, span, value) in Tab::free(t, value.span(), "[materials]", &[]).entries() {
        let place = format!("material \"{name}\"");
        usable_name("material", name, span, bad);
        let Some(t) = table(value, &place, bad) else { continue };
        let tab = Tab::open(t, span.clone(), place, MATERIAL, bad);
        match own_material(name, &tab, whose, bad) {
            Some(m) => own.push(At { v: m, span: span.clone() }),
            None => broken.push(name.to_string()),
        }
    }
    (own, broken)
}

fn own_material(name: &str, tab: &Tab<'_>, whose: &str, bad: &mut Bad) -> Option<Material> {
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
                    m.sources.push((key.to_string(), format!("{whose}: {}", s.v)));
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
    shop: &[Material],
    notes: &mut Notes,
    bad: &mut Bad,
) -> Parts {
    let mut parts = Parts {
        materials: Vec::new(),
        own,
        shop: shop.to_vec(),
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
