//! The wireframe as the text of a frame file.

use super::Options;
use super::propose::Proposal;
use super::snap::Wire;
use crate::units::{Units, trim};
use std::collections::BTreeMap;
use std::fmt::Write;

pub fn write(wire: &Wire, options: &Options, guesses: &[String], proposal: &Proposal) -> String {
    let units = options.write_in;
    let at = |x: f64| match units {
        Units::Mm => trim(x, 3),
        Units::Inch => trim(x / units.mm(), 4),
    };
    let mut t = String::new();
    let _ =
        writeln!(t, "# Made by holdtrue from a drawing. Fill in the section, then: holdtrue check THIS-FILE");
    for g in guesses {
        let _ = writeln!(t, "# guess: {}", g.replace('\n', " "));
    }
    let _ = writeln!(t, "holdtrue = 1\n\n[frame]\nname = {}", quoted(&options.name));
    if units == Units::Inch {
        let _ = writeln!(t, "units = \"inch\"");
    }
    let _ = writeln!(t, "\n[sections]  # one for all; add more and name them in the tubes");
    let _ = writeln!(t, "main = {}", options.section);
    let _ = writeln!(t, "\n[points]  # {}", units.word());
    for (i, p) in wire.points.iter().enumerate() {
        if wire.runs.iter().any(|r| r.points.contains(&i)) {
            let _ = writeln!(t, "p{} = [{}, {}, {}]", i + 1, at(p.x), at(p.y), at(p.z));
        }
    }
    let _ = writeln!(t, "\n[tubes]");
    for (name, run) in names(wire).iter().zip(&wire.runs) {
        let points: Vec<String> = run.points.iter().map(|p| format!("\"p{}\"", p + 1)).collect();
        let _ = writeln!(t, "{name} = {{ section = \"main\", run = [{}] }}", points.join(", "));
    }
    rest(&mut t, proposal);
    t
}

/// What a drawing does not say: dimensions as a proposal, clamps and settings as lines to fill in.
fn rest(t: &mut String, proposal: &Proposal) {
    if !proposal.controls.is_empty() {
        let _ =
            writeln!(t, "\n# Proposed from the shape: keep what must come out true, add what is missing.");
        let _ = writeln!(t, "# A tolerance is a number (plus or minus) or a class of ISO 13920.\n[controls]");
        for (name, line) in &proposal.controls {
            let _ = writeln!(t, "{name} = {{ {line} }}");
        }
    }
    if !proposal.clamps.is_empty() {
        let _ = writeln!(
            t,
            "\n# Where your fixture holds the frame, and in which directions. Take the # away and put yours:"
        );
        let _ = writeln!(t, "# without clamps the frame is taken to lie free.\n# [clamps]");
        for (name, line) in &proposal.clamps {
            let _ = writeln!(t, "# {name} = {{ {line} }}");
        }
    }
    if let Some(axis) = proposal.flat {
        let _ = writeln!(t, "\n# How it lies on the bench; the first is the one it starts in.");
        for (name, sign) in [("flat", ""), ("turned over", "-")] {
            let _ = writeln!(t, "# [[setup]]\n# name = \"{name}\"\n# up = \"{sign}{axis}\"");
        }
    }
    let _ = writeln!(t, "\n# How it is welded: your process (number of ISO 4063), volts, amps and speed.");
    let _ = writeln!(t, "# [procedure]\n# process = 135");
}

/// Names from the layers, made fit for a bare key and numbered where a layer has several.
pub fn names(wire: &Wire) -> Vec<String> {
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
