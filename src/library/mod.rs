//! What the shop can buy: materials, processes, fillers, each value with its source, embedded as
//! TOML.
//!
//! Comes in: a name. Goes out: a [`Material`] or [`Process`], or the nearest names.
//! Out of bounds: a value without a source; the frame.

mod record;

use record::TABLES;
pub use record::{Practice, StartingRow, StartingTable};

/// A parent metal. Mechanical and thermal values are at 20 °C unless said otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// Name as written in a frame file, for instance `S235`.
    pub name: String,
    /// Other names of the same thing (`4130` for `25CrMo4`).
    pub aliases: Vec<String>,
    /// What family of welding advice applies.
    pub group: MaterialGroup,
    /// Young's modulus, MPa.
    pub e_mpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Yield strength (minimum), MPa.
    pub yield_mpa: f64,
    /// Coefficient of thermal expansion used for shrinkage, 1/K.
    pub alpha_per_k: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Specific heat, J/(kg·K).
    pub specific_heat_j_kgk: f64,
    /// Thermal conductivity, W/(m·K).
    pub conductivity_w_mk: f64,
    /// Surface emissivity for the cooling model.
    pub emissivity: f64,
    /// Chemical composition limits or typical values, mass per cent, as (element, value).
    pub composition: Vec<(String, f64)>,
    /// Carbon-equivalent limit CEV of the grade (IIW), if its standard states one.
    pub cev_limit: Option<f64>,
    /// Highest interpass temperature, °C.
    pub interpass_c: f64,
    /// Lowest temperature at which to start welding, °C (preheat is worked out in `procedure`).
    pub min_start_c: f64,
    /// Where each value comes from, as (value's name, source, `seen` or `from memory`).
    pub sources: Vec<(String, String)>,
}

impl Material {
    /// α/(ρ·c), mm³/J: free shrinkage volume per joule of net heat, an upper bound of what a pass can
    /// shrink.
    pub fn shrink_mm3_per_j(&self) -> f64 {
        // kg/m³ = 1e-9 kg/mm³
        self.alpha_per_k / (self.density_kg_m3 * 1e-9 * self.specific_heat_j_kgk)
    }
    /// Shear modulus, MPa.
    pub fn g_mpa(&self) -> f64 {
        self.e_mpa / (2.0 * (1.0 + self.poisson))
    }
}

/// Families of parent metal that share welding advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MaterialGroup {
    /// Unalloyed and fine-grained structural steel.
    CarbonSteel,
    /// Low-alloy chromium-molybdenum tube (25CrMo4, 4130).
    ChromeMoly,
    /// Austenitic stainless steel.
    Stainless,
    /// Heat-treatable aluminium (6xxx).
    Aluminium,
}

/// An arc welding process.
#[derive(Debug, Clone, PartialEq)]
pub struct Process {
    /// Number in ISO 4063, for instance 135.
    pub number: u16,
    /// Plain name ("MAG, solid wire").
    pub name: String,
    /// Thermal efficiency k (EN 1011-1 table 1, ISO/TR 17671-1).
    pub k: f64,
    /// Filler that ends in the weld, as a fraction of filler used.
    pub deposition_efficiency: f64,
    /// Where each value comes from.
    pub sources: Vec<(String, String)>,
}

/// All built-in materials, in the order of the table.
pub fn materials() -> &'static [Material] {
    &TABLES.materials
}

/// All built-in processes, in the order of the table.
pub fn processes() -> &'static [Process] {
    &TABLES.processes
}

/// A material by name or alias (case, blanks and the marks `-`, `_`, `+`, `.` do not matter).
pub fn material(name: &str) -> Option<&'static Material> {
    let wanted = plain(name);
    if wanted.is_empty() {
        return None;
    }
    materials().iter().find(|m| names(m).any(|n| plain(n) == wanted))
}

/// A process by its ISO 4063 number.
pub fn process(number: u16) -> Option<&'static Process> {
    processes().iter().find(|p| p.number == number)
}

/// The materials whose names look most like `name`, nearest first, at most three; empty if nothing
/// is near. For "did you mean".
pub fn nearest_materials(name: &str) -> Vec<&'static str> {
    let wanted = plain(name);
    let mut near: Vec<(f64, &'static str)> = materials()
        .iter()
        .map(|m| {
            let best = names(m).map(|n| strsim::jaro_winkler(&plain(n), &wanted)).fold(0.0, f64::max);
            (best, m.name.as_str())
        })
        .filter(|(likeness, _)| *likeness >= NEAR_NAME)
        .collect();
    // A stable sort keeps the order of the table among equals.
    near.sort_by(|a, b| b.0.total_cmp(&a.0));
    near.into_iter().take(3).map(|(_, name)| name).collect()
}

/// What the shop knows about a process besides its row: layer size and usual voltage.
pub fn practice(number: u16) -> Option<&'static Practice> {
    let index = processes().iter().position(|p| p.number == number)?;
    TABLES.practice.get(index)
}

/// Published starting settings for a process on a family of metal (`fillet` true, or butt).
pub fn starting_table(process: u16, group: MaterialGroup, fillet: bool) -> Option<&'static StartingTable> {
    let family = match group {
        MaterialGroup::CarbonSteel | MaterialGroup::ChromeMoly => "steel",
        MaterialGroup::Stainless => "stainless",
        MaterialGroup::Aluminium => "aluminium",
    };
    let weld = if fillet { "fillet" } else { "butt" };
    TABLES
        .starting
        .iter()
        .find(|t| t.process == process && t.family == family && (t.weld == weld || t.weld == "any"))
}

/// All tables of starting settings.
pub fn starting_tables() -> &'static [StartingTable] {
    &TABLES.starting
}

/// Below this likeness (Jaro-Winkler, 0 to 1) a name is not offered.
const NEAR_NAME: f64 = 0.75;

fn names(material: &Material) -> impl Iterator<Item = &str> {
    std::iter::once(material.name.as_str()).chain(material.aliases.iter().map(String::as_str))
}

fn plain(name: &str) -> String {
    name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests;
