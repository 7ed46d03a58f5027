//! The wireframe as the text of a frame file.

use super::Options;
use super::snap::Wire;
use crate::units::trim;
use std::collections::BTreeMap;
use std::fmt::Write;

pub fn write(wire: &Wire, options: &Options, guesses: &[String]) -> String {
    let mut t = String::new();
    let _ =
        writeln!(t, "# Made by holdtrue from a drawing. Fill in the section, then: holdtrue check THIS-FILE");
    for g in guesses {
        let _ = writeln!(t, "# guess: {}", g.replace('\n', " "));
    }
    let _ = writeln!(t, "holdtrue = 1\n\n[frame]\nname = {}", quoted(&options.name));
    let _ = writeln!(t, "\n[sections]  # one for all; add more and name them in the tubes");
    let _ = writeln!(t, "main = {}", options.section);
    let _ = writeln!(t, "\n[points]  # mm");
    for (i, p) in wire.points.iter().enumerate() {
        if wire.runs.iter().any(|r| r.points.contains(&i)) {
            let _ = writeln!(t, "p{} = [{}, {}, {}]", i + 1, trim(p.x, 3), trim(p.y, 3), trim(p.z, 3));
        }
    }
    let _ = writeln!(t, "\n[tubes]");
    for (name, run) in names(wire).iter().zip(&wire.runs) {
        let points: Vec<String> = run.points.iter().map(|p| format!("\"p{}\"", p + 1)).collect();
        let _ = writeln!(t, "{name} = {{ section = \"main\", run = [{}] }}", points.join(", "));
    }
    t
}

/// Names from the layers, made fit for a bare key and numbered where a layer has several.
fn names(wire: &Wire) -> Vec<String> {
    let plain = |layer: &str| {
        let kept: String = layer
            .to_lowercase()
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
            .collect::<String>()
            .split('-')
            .filter(|w| !w.is_empty())
            .collect::<Vec<_>>()
            .join("-");
        if kept.is_empty() || kept == "0" { "tube".to_string() } else { kept }
    };
    let mut total: BTreeMap<String, usize> = BTreeMap::new();
    for r in &wire.runs {
        *total.entry(plain(&r.layer)).or_default() += 1;
    }
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    wire.runs
        .iter()
        .map(|r| {
            let name = plain(&r.layer);
            let n = seen.entry(name.clone()).or_default();
            *n += 1;
            if total[&name] == 1 { name } else { format!("{name}-{n}") }
        })
        .collect()
}

fn quoted(text: &str) -> String {
    serde_json::to_string(text).expect("a string always serialises")
}
