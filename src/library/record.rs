//! The embedded tables, read once. Every value names a source; a table with a value that does not
//! is refused, and a unit test reads them all.

use super::{Material, MaterialGroup, Process};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// Everything the library holds.
pub(super) struct Tables {
    pub materials: Vec<Material>,
    pub processes: Vec<Process>,
    pub practice: Vec<Practice>,
    pub starting: Vec<StartingTable>,
}

/// What belongs to a process besides its [`Process`] row. Same index as the processes.
#[derive(Debug, Clone)]
pub struct Practice {
    /// Largest cross-section laid in one layer, mm².
    pub layer_mm2: f64,
    /// Usual arc voltage `a + b·A`, volts.
    pub volts_at: [f64; 2],
    /// Sources, as in [`Process::sources`].
    pub sources: Vec<(String, String)>,
}

/// Published settings for one process, family and kind of weld, by wall.
#[derive(Debug, Clone)]
pub struct StartingTable {
    /// ISO 4063 number.
    pub process: u16,
    /// `steel`, `stainless` or `aluminium`.
    pub family: String,
    /// `fillet`, `butt` or `any`.
    pub weld: String,
    /// Rows by growing wall.
    pub rows: Vec<StartingRow>,
    /// Where they were printed.
    pub source: String,
}

/// One printed row: ranges from, to.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(from = "(f64, [f64; 2], [f64; 2], [f64; 2], [f64; 2])")]
pub struct StartingRow {
    /// Wall, mm.
    pub wall_mm: f64,
    /// Current, A.
    pub amps: [f64; 2],
    /// Arc voltage, V.
    pub volts: [f64; 2],
    /// Travel speed, cm/min as printed.
    pub cm_min: [f64; 2],
    /// Shielding gas, l/min.
    pub gas_l_min: [f64; 2],
}

type RowTuple = (f64, [f64; 2], [f64; 2], [f64; 2], [f64; 2]);

impl From<RowTuple> for StartingRow {
    fn from((wall_mm, amps, volts, cm_min, gas_l_min): RowTuple) -> Self {
        StartingRow { wall_mm, amps, volts, cm_min, gas_l_min }
    }
}

/// A value with the key of its source.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Is<T> {
    is: T,
    from: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Source {
    text: String,
    seen: bool,
}

type Sources = BTreeMap<String, Source>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MaterialFile {
    source: Sources,
    material: Vec<MaterialRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MaterialRow {
    name: String,
    aliases: Vec<String>,
    group: String,
    e_mpa: Is<f64>,
    poisson: Is<f64>,
    yield_mpa: Is<f64>,
    alpha_per_k: Is<f64>,
    density_kg_m3: Is<f64>,
    specific_heat_j_kgk: Is<f64>,
    conductivity_w_mk: Is<f64>,
    emissivity: Is<f64>,
    composition: Is<Vec<(String, f64)>>,
    cev_limit: Option<Is<f64>>,
    interpass_c: Is<f64>,
    min_start_c: Is<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ProcessFile {
    source: Sources,
    process: Vec<ProcessRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ProcessRow {
    number: u16,
    name: Is<String>,
    k: Is<f64>,
    deposition: Is<f64>,
    layer_mm2: Is<f64>,
    volts_at: Is<[f64; 2]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingsFile {
    source: Sources,
    row: Vec<SettingsRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingsRow {
    process: u16,
    family: String,
    weld: String,
    from: String,
    rows: Vec<StartingRow>,
}

/// The tables, read on first use.
pub(super) static TABLES: LazyLock<Tables> = LazyLock::new(|| {
    let materials: MaterialFile = embedded(include_str!("materials.toml"), "materials.toml");
    let processes: ProcessFile = embedded(include_str!("processes.toml"), "processes.toml");
    let settings: SettingsFile = embedded(include_str!("settings.toml"), "settings.toml");
    let from = &processes.source;
    Tables {
        materials: materials.material.into_iter().map(|row| material(row, &materials.source)).collect(),
        practice: processes.process.iter().map(|row| practice(row, from)).collect(),
        processes: processes.process.iter().map(|row| process(row, from)).collect(),
        starting: settings
            .row
            .into_iter()
            .map(|row| StartingTable {
                source: source(&settings.source, &row.from),
                process: row.process,
                family: row.family,
                weld: row.weld,
                rows: row.rows,
            })
            .collect(),
    }
});

/// The tables are part of the program: a fault in them is a fault of ours, not of the user.
fn embedded<T: serde::de::DeserializeOwned>(text: &str, name: &str) -> T {
    toml::from_str(text).unwrap_or_else(|e| panic!("built-in table {name}: {e}"))
}

fn source(sources: &Sources, key: &str) -> String {
    let source = sources.get(key).unwrap_or_else(|| panic!("built-in table: no source named {key}"));
    format!("{} ({})", source.text, if source.seen { "seen" } else { "from memory" })
}

fn material(row: MaterialRow, all: &Sources) -> Material {
    let group = match row.group.as_str() {
        "carbon-steel" => MaterialGroup::CarbonSteel,
        "chrome-moly" => MaterialGroup::ChromeMoly,
        "stainless" => MaterialGroup::Stainless,
        "aluminium" => MaterialGroup::Aluminium,
        other => panic!("built-in table materials.toml: unknown group {other}"),
    };
    let mut sources = Vec::new();
    let mut note = |value: &str, key: &str| sources.push((value.to_string(), source(all, key)));
    note("e_mpa", &row.e_mpa.from);
    note("poisson", &row.poisson.from);
    note("yield_mpa", &row.yield_mpa.from);
    note("alpha_per_k", &row.alpha_per_k.from);
    note("density_kg_m3", &row.density_kg_m3.from);
    note("specific_heat_j_kgk", &row.specific_heat_j_kgk.from);
    note("conductivity_w_mk", &row.conductivity_w_mk.from);
    note("emissivity", &row.emissivity.from);
    note("composition", &row.composition.from);
    if let Some(limit) = &row.cev_limit {
        note("cev_limit", &limit.from);
    }
    note("interpass_c", &row.interpass_c.from);
    note("min_start_c", &row.min_start_c.from);
    Material {
        name: row.name,
        aliases: row.aliases,
        group,
        e_mpa: row.e_mpa.is,
        poisson: row.poisson.is,
        yield_mpa: row.yield_mpa.is,
        alpha_per_k: row.alpha_per_k.is,
        density_kg_m3: row.density_kg_m3.is,
        specific_heat_j_kgk: row.specific_heat_j_kgk.is,
        conductivity_w_mk: row.conductivity_w_mk.is,
        emissivity: row.emissivity.is,
        composition: row.composition.is,
        cev_limit: row.cev_limit.map(|limit| limit.is),
        interpass_c: row.interpass_c.is,
        min_start_c: row.min_start_c.is,
        sources,
    }
}

fn process(row: &ProcessRow, all: &Sources) -> Process {
    Process {
        number: row.number,
        name: row.name.is.clone(),
        k: row.k.is,
        deposition_efficiency: row.deposition.is,
        sources: vec![
            ("name".into(), source(all, &row.name.from)),
            ("k".into(), source(all, &row.k.from)),
            ("deposition_efficiency".into(), source(all, &row.deposition.from)),
        ],
    }
}

fn practice(row: &ProcessRow, all: &Sources) -> Practice {
    Practice {
        layer_mm2: row.layer_mm2.is,
        volts_at: row.volts_at.is,
        sources: vec![
            ("layer_mm2".into(), source(all, &row.layer_mm2.from)),
            ("volts_at".into(), source(all, &row.volts_at.from)),
        ],
    }
}
