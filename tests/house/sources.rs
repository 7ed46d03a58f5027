//! A number has a source: the constants of the pull model, the tables of the library, and whatever is
//! common practice says that it has none.

use holdtrue::distort::constants;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// How a value that only habit stands for says so.
const NO_SOURCE: &str = "common practice, no source";

fn src() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

#[test]
fn every_constant_of_the_pull_model_says_where_it_is_from() {
    let from = ["assumption", "fitted to finite-element runs", "derived for", "spread between two published"];
    let listed = constants::all();
    for c in &listed {
        assert!(from.iter().any(|f| c.from.starts_with(f)), "{}: from `{}`", c.name, c.from);
    }
    // None is left out of the list that `all` gives.
    let text = read(&src().join("distort/constants.rs"));
    let declared = text.lines().filter(|l| l.starts_with("pub const ") && l.contains(": Constant")).count();
    assert!(declared >= 14, "constants.rs was not understood");
    assert_eq!(declared, listed.len(), "a constant stands in constants.rs and not in `all`");
}

#[test]
fn every_source_of_the_library_is_named_and_used() {
    for file in ["materials.toml", "processes.toml", "settings.toml"] {
        let text = read(&src().join("library").join(file));
        let table: toml::Table = text.parse().unwrap_or_else(|e| panic!("{file}: {e}"));
        let sources = table["source"].as_table().expect("a table of sources");
        assert!(sources.len() > 4, "{file}: {} sources", sources.len());
        for (key, source) in sources {
            let said = source["text"].as_str().expect("text").trim();
            assert!(said.len() > 5, "{file}: {key} says nothing: `{said}`");
            let seen = source["seen"].as_bool().expect("true or false");
            let habit = said.to_lowercase().contains("practice");
            assert!(!habit || said.starts_with(NO_SOURCE), "{file}: {key}: `{said}`");
            assert!(!habit || !seen, "{file}: {key}: nobody has seen a source of common practice");
        }
        let mut used = BTreeSet::new();
        table.iter().filter(|(k, _)| *k != "source").for_each(|(_, v)| keys_of_from(v, &mut used));
        let named: BTreeSet<String> = sources.keys().cloned().collect();
        assert_eq!(used, named, "{file}: sources used, sources named");
    }
}

/// The keys that stand behind `from`, at any depth.
fn keys_of_from(value: &toml::Value, used: &mut BTreeSet<String>) {
    match value {
        toml::Value::Table(t) => {
            for (key, inner) in t {
                match inner.as_str() {
                    Some(source) if key == "from" => drop(used.insert(source.to_string())),
                    _ => keys_of_from(inner, used),
                }
            }
        }
        toml::Value::Array(list) => list.iter().for_each(|v| keys_of_from(v, used)),
        _ => {}
    }
}

#[test]
fn what_is_common_practice_says_that_it_has_no_source() {
    let (mut folders, mut wrong, mut found) = (vec![src()], vec![], 0);
    while let Some(folder) = folders.pop() {
        for e in std::fs::read_dir(folder).expect("readable") {
            let path = e.expect("entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|x| x == "rs" || x == "toml" || x == "md") {
                // A sentence may run over two lines of a comment or of a text.
                let text = read(&path).to_lowercase().replace("\\\n", " ").replace("///", " ");
                let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                for (at, _) in text.match_indices("common practice") {
                    found += 1;
                    let near: String = text[..at].chars().rev().take(40).collect();
                    let near: String = near.chars().rev().chain(text[at..].chars().take(60)).collect();
                    let says = near.contains("no source");
                    if !says && !path.ends_with("procedure/tests.rs") {
                        wrong.push(format!("{}: …{near}…", path.display()));
                    }
                }
            }
        }
    }
    assert!(found > 20, "{found} found");
    assert!(wrong.is_empty(), "{wrong:#?}");
}
