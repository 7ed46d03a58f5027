//! `holdtrue tack`: the tack half as a document.

use crate::commands::bench::{Bench, array, example, word};
use serde_json::Value;

#[test]
fn the_tack_half_alone() {
    let bench = Bench::new();
    let said = bench.run(&format!("tack {} --effort rules --no-shop", example("cargo-trike"))).well();
    let text = said.text().to_string();
    for words in [
        "not a qualified welding procedure",
        "Tacks only, from loose tubes",
        "One tack: the tube swings",
        "still hinges about the line through",
        "held now",
        "Tack defaults in use",
        "EN 1011-2, clause 13",
        "common practice, no source",
        "half tacked",
        "as tacked",
        "Tacks and welds",
    ] {
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words), "{words:?} is missing:\n{text}");
    }
    assert!(!text.contains("-1/1"), "no pass on the tack sheet");
    // The same plan as `plan` makes, so that the second sheet fits.
    let plan = bench.run(&format!("plan {} --effort rules --no-shop", example("cargo-trike"))).well();
    let id = |t: &str| t.lines().find(|l| l.starts_with("plan ")).unwrap().to_string();
    assert_eq!(id(&text), id(plan.text()));
    let refused = bench.run(&format!("tack {} --from weld-out", example("square")));
    assert_eq!(refused.exit, holdtrue::cli::Exit::Usage);
}

#[test]
fn json_and_paper() {
    let bench = Bench::new();
    bench
        .run(&format!(
            "tack {} --effort rules --no-shop --quiet --json @t.json --pdf @t.pdf",
            example("ladder")
        ))
        .well();
    assert!(bench.bytes("t.pdf").starts_with(b"%PDF"));
    let t: Value = serde_json::from_slice(&bench.bytes("t.json")).unwrap();
    let tacks = array(&t, "tacks");
    let steps: Vec<&Value> = array(&t, "steps").iter().filter(|s| word(s, "act") == "tack").collect();
    assert_eq!(tacks.len(), steps.len());
    assert!(tacks.iter().zip(&steps).all(|(a, b)| word(a, "label") == word(b, "what")));
    assert!(array(&t, "steps").iter().all(|s| word(s, "act") != "pass"));
    assert!(array(&t, "controls").iter().all(|c| c["tack_pull"].is_number() && c["set_to"].is_number()));
    let schema: Value = serde_json::from_slice(&bench.run("schema tack").well().out).unwrap();
    for key in schema["required"].as_array().unwrap() {
        assert!(t.get(key.as_str().unwrap()).is_some(), "{key}");
    }
    assert!(!array(&t, "cautions").is_empty());
}
