//! The top level holds what the design card names and nothing else.

use std::path::Path;

/// Names allowed at the top level besides dot-files.
const ALLOWED: [&str; 9] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "safety.md",
    "src",
    "tests",
    "examples",
];

#[test]
fn the_top_level_holds_only_what_the_design_card_names() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut extra: Vec<String> = std::fs::read_dir(root)
        .expect("the package's folder is readable")
        .map(|e| e.expect("entry").file_name().to_string_lossy().into_owned())
        .filter(|n| !n.starts_with('.') && n != "target" && n != "benches" && !ALLOWED.contains(&n.as_str()))
        .collect();
    extra.sort();
    assert!(extra.is_empty(), "not on the design card: {extra:?}");
    for name in ALLOWED {
        assert!(root.join(name).exists(), "{name} is missing");
    }
}

#[test]
fn the_readme_opens_with_the_job_in_one_paragraph() {
    let readme = include_str!("../../README.md");
    let mut blocks = readme.split("\n\n");
    assert_eq!(blocks.next(), Some("# holdtrue"));
    let job = blocks.next().expect("a paragraph follows the title");
    assert!(
        job.lines().count() >= 4 && !job.starts_with(['#', '-', '`', '>', '!']),
        "no plain paragraph: {job}"
    );
    assert!(readme.contains("cargo run --release -- plan examples/cargo-trike.toml"));
    let ci = include_str!("../../.ci/run");
    assert!(
        readme.contains("\ncargo test\n") && ci.contains("\ncargo test\n"),
        "README and .ci/run test differently"
    );
}

#[test]
fn every_dependency_has_its_reason() {
    let reasons = include_str!("../../DEVELOPERS.md");
    let manifest = include_str!("../../Cargo.toml");
    let names: Vec<&str> = manifest
        .lines()
        .skip_while(|l| *l != "[dependencies]")
        .take_while(|l| !l.starts_with("[["))
        .filter_map(|l| Some(l.split_once(" = ")?.0))
        .filter(|n| !n.starts_with('#'))
        .collect();
    assert!(names.len() > 20, "Cargo.toml was not understood: {names:?}");
    let missing: Vec<_> = names.iter().filter(|n| !reasons.contains(**n)).collect();
    assert!(missing.is_empty(), "DEVELOPERS.md gives no reason for {missing:?}");
}
