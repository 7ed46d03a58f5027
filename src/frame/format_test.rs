//! The explanation of the frame file names every key, and its examples are sound.

use super::{FORMAT, SCHEMA, read};
use std::collections::BTreeSet;

/// All lists of keys in the sources of this room: `const NAME: &[&str] = &[ … ];`.
fn keys() -> Vec<String> {
    let sources = [
        include_str!("read.rs"),
        include_str!("materials.rs"),
        include_str!("tubes.rs"),
        include_str!("controls.rs"),
        include_str!("wishes.rs"),
        include_str!("settings.rs"),
        include_str!("procedures.rs"),
    ];
    let mut keys = Vec::new();
    for source in sources {
        for list in source.split(": &[&str] =").skip(1) {
            let list = list.split("];").next().unwrap_or("");
            keys.extend(list.split('"').skip(1).step_by(2).map(str::to_string));
        }
    }
    keys
}

#[test]
fn every_key_is_explained() {
    let keys = keys();
    assert!(keys.len() > 80, "the lists of keys were not found");
    let words: Vec<&str> = FORMAT.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == '-')).collect();
    let missing: Vec<_> = keys.iter().filter(|k| !words.contains(&k.as_str())).collect();
    assert!(missing.is_empty(), "format.md does not explain {missing:?}");
}

/// Names of all properties of a schema.
fn properties(schema: &serde_json::Value, found: &mut BTreeSet<String>) {
    if let Some(here) = schema.get("properties").and_then(|p| p.as_object()) {
        found.extend(here.keys().cloned());
    }
    match schema {
        serde_json::Value::Object(parts) => parts.values().for_each(|v| properties(v, found)),
        serde_json::Value::Array(parts) => parts.iter().for_each(|v| properties(v, found)),
        _ => {}
    }
}

#[test]
fn the_schema_has_every_key_and_no_other() {
    let schema: serde_json::Value = serde_json::from_str(SCHEMA).expect("JSON");
    let mut in_schema = BTreeSet::new();
    properties(&schema, &mut in_schema);
    let mut known: BTreeSet<String> = keys().into_iter().collect();
    // Keys that stand in no list of the reader but where they are read: sizes, setups, stages, order.
    for more in
        ["od", "wall", "side", "corner", "width", "tubes", "weld_out", "first", "last", "apart", "by_hand"]
    {
        known.insert(more.into());
    }
    assert_eq!(in_schema, known);
}

#[test]
fn the_examples_are_sound() {
    let blocks: Vec<&str> = FORMAT.split("```toml\n").skip(1).filter_map(|b| b.split("```").next()).collect();
    assert_eq!(blocks.len(), 3);
    // The first is a whole file, the others are pieces of one.
    for piece in ["", blocks[1], blocks[2]] {
        let text = format!("{}\n{piece}", blocks[0]);
        let faults = read(&text).err().unwrap_or_default();
        assert!(faults.is_empty(), "{}", crate::fault::render(&faults, &text, "format.md", false));
    }
}

#[test]
fn the_defaults_are_the_ones_in_force() {
    let text = FORMAT.split("```toml\n").nth(1).and_then(|b| b.split("```").next()).expect("an example");
    let frame = read(text).expect("it is sound").value;
    let rules = FORMAT.split("## House rules").nth(1).expect("the tables of defaults");
    let plain: String = rules.replace('`', "");
    for d in &frame.defaults {
        let Some((table, key)) = d.key.split_once('.') else { continue };
        if !matches!(table, "rules" | "shop" | "pull") {
            continue;
        }
        // The row that names the key holds the value, without its unit.
        let value = d.value.split_whitespace().next().unwrap_or("").trim_end_matches(',');
        let row = plain.lines().find(|l| l.starts_with('|') && l.split([' ', ',']).any(|w| w == key));
        let row = row.unwrap_or_else(|| panic!("no row for {}", d.key));
        assert!(row.contains(value), "{} is {} but the row says {row}", d.key, d.value);
    }
}
