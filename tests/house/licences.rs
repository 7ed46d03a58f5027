//! Every crate that is built into the program has a licence that the project can ship.

use std::process::Command;

/// Licences named in DEVELOPERS.md.
fn allowed() -> Vec<&'static str> {
    let text = include_str!("../../DEVELOPERS.md");
    let list = text.split("Licences that may be built in:").nth(1).expect("DEVELOPERS.md has the list");
    let sentence = list.split("\n\n").next().expect("a paragraph");
    sentence.split('`').skip(1).step_by(2).collect()
}

/// Whether a licence expression (SPDX) can be met with these alone: `OR` leaves the choice, `AND` asks for both.
fn met(expression: &str, allowed: &[&str]) -> bool {
    let mut words: Vec<String> = vec![];
    for word in expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ").split_whitespace() {
        // `Apache-2.0 WITH LLVM-exception` is one licence.
        match (words.last().is_some_and(|w| w.ends_with(" WITH")), word) {
            (true, _) => words.last_mut().expect("just seen").push_str(&format!(" {word}")),
            (false, "WITH") => words.last_mut().expect("a licence before").push_str(" WITH"),
            _ => words.push(word.into()),
        }
    }
    let mut at = 0;
    let value = any(&words, &mut at, allowed);
    value && at == words.len()
}

fn any(words: &[String], at: &mut usize, allowed: &[&str]) -> bool {
    let mut value = all(words, at, allowed);
    while words.get(*at).is_some_and(|w| w == "OR") {
        *at += 1;
        value |= all(words, at, allowed);
    }
    value
}

fn all(words: &[String], at: &mut usize, allowed: &[&str]) -> bool {
    let mut value = one(words, at, allowed);
    while words.get(*at).is_some_and(|w| w == "AND") {
        *at += 1;
        value &= one(words, at, allowed);
    }
    value
}

fn one(words: &[String], at: &mut usize, allowed: &[&str]) -> bool {
    let Some(word) = words.get(*at) else { return false };
    *at += 1;
    if word != "(" {
        return allowed.contains(&word.as_str());
    }
    let value = any(words, at, allowed);
    *at += 1;
    value
}

#[test]
fn every_crate_built_in_has_a_licence_on_the_list() {
    let rustc = std::env::var("RUSTC").unwrap_or("rustc".into());
    let said = Command::new(rustc).arg("-vV").output().expect("rustc runs");
    let said = String::from_utf8_lossy(&said.stdout).into_owned();
    let host = said.lines().find_map(|l| l.strip_prefix("host: ")).expect("rustc says its host");
    // What the build has fetched is here; what other systems would need is not.
    let out = Command::new(std::env::var("CARGO").unwrap_or("cargo".into()))
        .args(["metadata", "--offline", "--locked", "--format-version", "1", "--filter-platform", host])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let packages = metadata["packages"].as_array().expect("packages");
    assert!(packages.len() > 100, "{} packages", packages.len());
    let allowed = allowed();
    assert!(allowed.contains(&"MIT"), "{allowed:?}");
    let wrong: Vec<String> = packages
        .iter()
        .filter(|p| !p["license"].as_str().is_some_and(|l| met(l, &allowed)))
        .map(|p| format!("{} {}: {}", p["name"], p["version"], p["license"]))
        .collect();
    assert!(wrong.is_empty(), "not on the list in DEVELOPERS.md:\n{}", wrong.join("\n"));
}

#[test]
fn licence_expressions_are_understood() {
    let list = ["MIT", "Unicode-3.0", "Apache-2.0 WITH LLVM-exception"];
    for (expression, want) in [
        ("MIT", true),
        ("MIT OR Apache-2.0", true),
        ("GPL-3.0/MIT", true),
        ("Apache-2.0", false),
        ("MIT AND Apache-2.0", false),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
        ("(GPL-3.0 OR Apache-2.0) AND MIT", false),
        ("Apache-2.0 WITH LLVM-exception OR GPL-2.0", true),
        ("", false),
        ("MIT MIT", false),
    ] {
        assert_eq!(met(expression, &list), want, "{expression}");
    }
}
