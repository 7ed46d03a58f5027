//! The plan as JSON: in step with its own schema, and with every field that is promised.

use super::bench::{EXAMPLES, array, holdtrue, plan, word};
use serde_json::Value;
use std::collections::BTreeSet;

fn schema() -> Value {
    let said = holdtrue(["schema".into(), "plan".into()]).well();
    serde_json::from_slice(&said.out).expect("a schema is JSON")
}

/// Where a value differs from a JSON Schema (2020-12, as far as such a plain format needs it). Stricter
/// than the standard in one thing: a property that the schema does not name is a fault.
fn faults(root: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    let Some(rules) = schema.as_object() else {
        assert_eq!(schema, &Value::Bool(true), "{at}");
        return;
    };
    for (key, rule) in rules {
        match key.as_str() {
            "$schema" | "$defs" | "title" | "description" | "format" => {}
            "$ref" => {
                let name = rule.as_str().expect("a reference").strip_prefix('#').expect("within the file");
                let target = root.pointer(name).unwrap_or_else(|| panic!("{at}: {name} leads nowhere"));
                faults(root, target, value, at, found);
            }
            "anyOf" => {
                let fits = rule.as_array().expect("choices").iter().any(|choice| {
                    let mut wrong = vec![];
                    faults(root, choice, value, at, &mut wrong);
                    wrong.is_empty()
                });
                if !fits {
                    found.push(format!("{at}: fits none of the choices: {value}"));
                }
            }
            "type" => {
                let is = |name: &Value| match name.as_str().expect("a type") {
                    "null" => value.is_null(),
                    "boolean" => value.is_boolean(),
                    "integer" => value.is_i64() || value.is_u64(),
                    "number" => value.is_number(),
                    "string" => value.is_string(),
                    "array" => value.is_array(),
                    "object" => value.is_object(),
                    other => panic!("{at}: type {other}"),
                };
                let names = rule.as_array().cloned().unwrap_or_else(|| vec![rule.clone()]);
                if !names.iter().any(is) {
                    found.push(format!("{at}: {value} is not {rule}"));
                }
            }
            "required" => {
                for name in rule.as_array().expect("names") {
                    if value.get(name.as_str().expect("a name")).is_none() {
                        found.push(format!("{at}: {name} is missing"));
                    }
                }
            }
            "properties" => {
                for (name, inner) in value.as_object().into_iter().flatten() {
                    match rule.get(name) {
                        Some(s) => faults(root, s, inner, &format!("{at}.{name}"), found),
                        None => found.push(format!("{at}: the schema does not know {name}")),
                    }
                }
            }
            // Unknown names are faults already, see "properties".
            "additionalProperties" if rule == &Value::Bool(false) => {}
            "enum" => {
                if !rule.as_array().expect("choices").contains(value) {
                    found.push(format!("{at}: {value} is none of {rule}"));
                }
            }
            "const" => {
                if value != rule {
                    found.push(format!("{at}: {value} is not {rule}"));
                }
            }
            "additionalProperties" => {
                for (name, inner) in value.as_object().into_iter().flatten() {
                    faults(root, rule, inner, &format!("{at}.{name}"), found);
                }
            }
            "items" => {
                for (i, inner) in value.as_array().into_iter().flatten().enumerate() {
                    faults(root, rule, inner, &format!("{at}[{i}]"), found);
                }
            }
            "minItems" | "maxItems" => {
                let n = value.as_array().map_or(0, Vec::len) as u64;
                let limit = rule.as_u64().expect("a count");
                if if key == "minItems" { n < limit } else { n > limit } {
                    found.push(format!("{at}: {n} entries"));
                }
            }
            "minimum" => {
                if value.as_f64().is_some_and(|x| x < rule.as_f64().expect("a bound")) {
                    found.push(format!("{at}: {value} is under {rule}"));
                }
            }
            "maximum" => {
                if value.as_f64().is_some_and(|x| x > rule.as_f64().expect("a bound")) {
                    found.push(format!("{at}: {value} is over {rule}"));
                }
            }
            other => panic!("{at}: this check does not know the keyword {other}"),
        }
    }
}

/// Faults of the text of a frame file against the schema of the frame file.
pub fn frame_faults(text: &str) -> Vec<String> {
    let said = holdtrue(["schema".into(), "frame".into()]).well();
    let schema: Value = serde_json::from_slice(&said.out).expect("a schema is JSON");
    let value: toml::Table = toml::from_str(text).expect("TOML");
    let value = serde_json::to_value(value).expect("a frame file has no dates");
    let mut found = vec![];
    faults(&schema, &schema, &value, "frame file", &mut found);
    found
}

#[test]
fn every_example_fits_the_schema_of_the_frame_file() {
    for name in EXAMPLES {
        let text = std::fs::read_to_string(super::bench::example(name)).expect("the example");
        let found = frame_faults(&text);
        assert!(found.is_empty(), "{name}: {found:#?}");
        let spoilt = |from: &str, to: &str| {
            assert!(text.contains(from), "{name} has no {from}");
            frame_faults(&text.replacen(from, to, 1)).join("\n")
        };
        assert!(spoilt("name = ", "nmae = ").contains("nmae"));
        assert!(spoilt("holdtrue = 1", "holdtrue = 2").contains("2 is not 1"));
        assert!(spoilt("kind = \"", "kind = \"x").contains("is none of"));
    }
}

fn all_faults(value: &Value) -> Vec<String> {
    let schema = schema();
    let mut found = vec![];
    faults(&schema, &schema, value, "plan", &mut found);
    found
}

#[test]
fn every_example_fits_the_schema() {
    for name in EXAMPLES {
        let found = all_faults(&plan(name, "rules", 1));
        assert!(found.is_empty(), "{name}: {found:#?}");
    }
}

#[test]
fn the_check_sees_a_missing_field_a_wrong_type_and_an_unknown_field() {
    let sound = plan("square", "rules", 1);
    let spoilt = |change: &dyn Fn(&mut Value)| {
        let mut value = (*sound).clone();
        change(&mut value);
        all_faults(&value).join("\n")
    };
    let check = |want: &str, said: String| assert!(said.contains(want), "{want}: {said}");
    check("\"seed\" is missing", spoilt(&|v| drop(v.as_object_mut().unwrap().remove("seed"))));
    check("plan.seed: \"one\" is not", spoilt(&|v| v["seed"] = "one".into()));
    check("plan.seed: -1", spoilt(&|v| v["seed"] = (-1).into()));
    check("does not know colour", spoilt(&|v| v["passes"][2]["colour"] = "red".into()));
    check("plan.passes[2].partner: 4 is not", spoilt(&|v| v["passes"][2]["partner"] = 4.into()));
    check(
        "mid_point_mm: 2 entries",
        spoilt(&|v| {
            v["passes"][0]["mid_point_mm"].as_array_mut().unwrap().pop();
        }),
    );
    check("symmetry_plane: fits none", spoilt(&|v| v["symmetry_plane"]["normal"] = "up".into()));
    check("contributions.J1: ", spoilt(&|v| v["controls"][0]["contributions"]["J1"] = "x".into()));
}

#[test]
fn every_field_carries_words_in_the_schema() {
    let schema = schema();
    let defs = schema["$defs"].as_object().expect("parts").values();
    for part in defs.chain([&schema]) {
        assert!(!word(part, "description").is_empty());
        for (name, field) in part["properties"].as_object().expect("fields") {
            assert!(field["description"].as_str().is_some_and(|d| !d.is_empty()), "{name} is not explained");
        }
    }
}

/// What an outsider was promised, whatever else is there.
#[test]
fn the_promised_fields_are_there() {
    let top = "passes joints seams rules relaxed_rules symmetry_plane setups steps frame_sha256 plan_id seed \
               program units";
    let pass = "number label joint seam segment segments_on_seam partner layer side setup step welder direction \
                clock_from clock_to position mid_point_mm length_mm heat_input_j_per_mm energy_j arc_s";
    let acts = ["tack", "pass", "wait", "hold", "clamp", "release", "turn", "vent-open", "vent-close"];
    let mut seen = BTreeSet::new();
    for name in EXAMPLES {
        let plan = plan(name, "rules", 1);
        let has = |value: &Value, names: &str| {
            for field in names.split_whitespace() {
                assert!(value.get(field).is_some(), "{name}: {field} is missing");
            }
        };
        has(&plan, top);
        array(&plan, "passes").iter().for_each(|p| has(p, pass));
        array(&plan, "joints").iter().for_each(|j| has(j, "name position_mm mirror steel_distance_mm"));
        array(&plan, "seams").iter().for_each(|s| has(s, "name joint kind length_mm"));
        array(&plan, "relaxed_rules").iter().for_each(|r| has(r, "rule pass required actual why"));
        for s in array(&plan, "steps") {
            assert!(acts.contains(&word(s, "act")), "{s}");
            seen.insert(word(s, "act").to_string());
        }
        for p in array(&plan, "passes") {
            assert!(["left", "right", "centre"].contains(&word(p, "side")));
            assert!(["PA", "PB", "PC", "PD", "PE", "PF", "PG"].contains(&word(p, "position")), "{p}");
            // Energy is heat input times length, both net.
            let (q, l, e) = (&p["heat_input_j_per_mm"], &p["length_mm"], &p["energy_j"]);
            let [q, l, e] = [q, l, e].map(|x| x.as_f64().expect("a number"));
            crate::support::near(q * l, e, 1e-3 * l + 1e-3 * q + 1e-3);
        }
        let text = std::fs::read(super::bench::example(name)).expect("the example");
        let sum: String = {
            use sha2::Digest;
            sha2::Sha256::digest(&text).iter().map(|b| format!("{b:02x}")).collect()
        };
        assert_eq!(word(&plan, "frame_sha256"), sum);
    }
    assert_eq!(seen.len(), acts.len(), "some kind of line stands in no example: {seen:?}");
}
