//! `[procedure]` and `[[procedure_for]]`: how seams are to be welded, as far as the user says.

use super::ProcedureWish;
use super::materials::Parts;
use super::read::Notes;
use super::reader::{Bad, Tab, number, quoted, table};
use super::tables::tables;
use crate::fault::Fault;
use crate::library::{self, Process};

const PROCEDURE: &[&str] = &[
    "between",
    "process",
    "volts",
    "amps",
    "speed",
    "leg",
    "layers",
    "hydrogen",
    "vertical",
    "interpass",
    "preheat",
    "k",
    "k_source",
];

/// The process that is assumed if none is named.
const USUAL_PROCESS: u16 = 135;

/// Procedures in the order in which they are tried; the last fits everything.
pub(super) fn read(top: &Tab<'_>, parts: &Parts, notes: &mut Notes, bad: &mut Bad) -> Vec<ProcedureWish> {
    let general = top.get("procedure").and_then(|value| {
        let t = table(value, "`procedure`", bad)?;
        let tab = Tab::open(t, top.key_span("procedure"), "[procedure]", PROCEDURE, bad);
        if tab.has("between") {
            bad.push(
                Fault::new("E113", "[procedure] holds for all seams")
                    .at(tab.key_span("between"), "only for some")
                    .help("write `[[procedure_for]]` for one pair of sections"),
            );
        }
        one(&tab, None, notes, bad)
    });
    let general = general.unwrap_or_else(|| nothing_said(usual(notes)));
    let mut all = Vec::new();
    for tab in tables(top, "procedure_for", PROCEDURE, bad) {
        let example = "`between = [\"main\", \"stay\"]`, one or two of [sections]";
        tab.need("between", example, bad);
        let said = tab.texts("between", bad).unwrap_or_default();
        let between: Vec<usize> = said.iter().filter_map(|s| parts.section(s, bad)).collect();
        if tab.has("between") && !(1..=2).contains(&said.len()) {
            let at = tab.get("between").map_or(tab.span.clone(), |v| v.span());
            bad.push(
                Fault::new("E106", format!("`between` needs one or two sections, not {}", said.len()))
                    .at(at, "one or two wanted")
                    .help(format!("write {example}")),
            );
        }
        if let Some(mut wish) = one(&tab, Some(&general), notes, bad) {
            wish.between = between;
            all.push(wish);
        }
    }
    all.push(general);
    all
}

fn usual(notes: &mut Notes) -> Process {
    notes.default("procedure.process", "135", "MAG with solid wire, the usual process for light frames");
    library::process(USUAL_PROCESS).cloned().unwrap_or_else(|| library::processes()[0].clone())
}

fn nothing_said(process: Process) -> ProcedureWish {
    ProcedureWish {
        between: Vec::new(),
        process,
        volts: None,
        amps: None,
        speed_mm_s: None,
        leg_mm: None,
        layers: None,
        hydrogen_ml: None,
        vertical_up: None,
        interpass_c: None,
        preheat_c: None,
    }
}

/// One procedure; what it leaves out is taken from `general` unless it names another process.
fn one(
    tab: &Tab<'_>,
    general: Option<&ProcedureWish>,
    notes: &mut Notes,
    bad: &mut Bad,
) -> Option<ProcedureWish> {
    let before = bad.len();
    let named = process(tab, bad);
    if tab.has("process") && named.is_none() {
        return None;
    }
    let mut wish = match (named, general) {
        (None, Some(g)) => g.clone(),
        (Some(p), Some(g)) if p.number == g.process.number => g.clone(),
        (Some(p), _) => nothing_said(p),
        (None, None) => nothing_said(usual(notes)),
    };
    let mut put =
        |key: &'static str, range: std::ops::RangeInclusive<f64>, unit: &str, to: &mut Option<f64>| {
            if let Some(n) = tab.number_in(key, range, unit, bad) {
                *to = Some(n.v);
            }
        };
    put("volts", 5.0..=60.0, "V", &mut wish.volts);
    put("amps", 5.0..=1000.0, "A", &mut wish.amps);
    put("speed", 0.2..=100.0, "mm/s", &mut wish.speed_mm_s);
    put("leg", 1.0..=40.0, "mm", &mut wish.leg_mm);
    put("hydrogen", 0.0..=50.0, "ml/100 g", &mut wish.hydrogen_ml);
    put("interpass", 20.0..=500.0, "degrees C", &mut wish.interpass_c);
    put("preheat", 0.0..=500.0, "degrees C", &mut wish.preheat_c);
    if let Some(n) = tab.whole_in("layers", 1.0..=30.0, "", bad) {
        wish.layers = Some(n as u8);
    }
    if let Some(word) = tab.word("vertical", &["up", "down"], bad) {
        wish.vertical_up = Some(word == "up");
    }
    let source = tab.text("k_source", bad);
    if let Some(k) = tab.number_in("k", 0.05..=1.0, "", bad) {
        match source {
            Some(s) if !s.v.trim().is_empty() => {
                wish.process.k = k.v;
                wish.process.sources.retain(|(key, _)| key != "k");
                wish.process.sources.push(("k".to_string(), format!("frame file: {}", s.v)));
            }
            _ => bad.push(
                Fault::new("E123", "a thermal efficiency of one's own needs a source")
                    .at(k.span, "where does it come from?")
                    .help("add `k_source = \"…\"`, or leave out `k` for the value of EN 1011-1"),
            ),
        }
    }
    (bad.len() == before).then_some(wish)
}

fn process(tab: &Tab<'_>, bad: &mut Bad) -> Option<Process> {
    let n = number(tab.get("process")?, "`process`", bad)?;
    let whole = (n.v.fract() == 0.0 && (0.0..=9999.0).contains(&n.v)).then_some(n.v as u16);
    let found = whole.and_then(library::process).cloned();
    if found.is_none() {
        let known: Vec<String> =
            library::processes().iter().map(|p| format!("{} ({})", p.number, p.name)).collect();
        let words: Vec<&str> = known.iter().map(String::as_str).collect();
        bad.push(
            Fault::new("E161", format!("process {} is not known", n.v))
                .at(n.span, "a number of ISO 4063")
                .help(format!("one of {}", quoted(&words).replace('"', ""))),
        );
    }
    found
}
