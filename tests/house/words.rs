//! Words that may and may not stand in the files of the project.

use std::path::{Path, PathBuf};

/// All text files of the package that a reader gets: source, tests, examples, papers.
fn texts() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut folders = vec![root.to_path_buf()];
    let mut found = vec![];
    while let Some(folder) = folders.pop() {
        for e in std::fs::read_dir(&folder).expect("readable") {
            let path = e.expect("entry").path();
            let name = path.file_name().expect("a name").to_string_lossy().into_owned();
            let ending = path.extension().map(|x| x.to_string_lossy().into_owned()).unwrap_or_default();
            if path.is_dir() {
                // Build products and the version store are nobody's reading.
                if name != "target" && name != ".git" {
                    folders.push(path);
                }
            } else if ["rs", "md", "toml", "css", "js"].contains(&ending.as_str()) || name == "run" {
                found.push((path.clone(), std::fs::read_to_string(&path).expect("UTF-8")));
            }
        }
    }
    found.sort();
    found
}

/// Marks of unfinished work. Written in two halves, so that this file may be among those searched.
const UNFINISHED: [(&str, &str); 5] =
    [("TO", "DO"), ("FIX", "ME"), ("XX", "X "), ("unimplemen", "ted!"), ("place", "holder")];

#[test]
fn nothing_is_marked_as_unfinished() {
    let texts = texts();
    assert!(texts.len() > 150, "{} files found", texts.len());
    let mut wrong = vec![];
    for (path, text) in &texts {
        for (a, b) in UNFINISHED {
            let word = format!("{a}{b}");
            for (n, line) in text.lines().enumerate().filter(|(_, l)| l.contains(&word)) {
                wrong.push(format!("{}:{}: {line}", path.display(), n + 1));
            }
        }
    }
    // An input's hint has this name in HTML.
    let (a, b) = UNFINISHED[4];
    wrong.retain(|w| !w.contains(&format!("{a}{b}=(")) && !w.contains(&format!(".{a}{b}\")")));
    // The rooms test names two of them among the macros that the core must not use.
    wrong.retain(|w| !w.contains("tests/house/rooms.rs"));
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Every heading of the cautions that a plan may carry stands in safety.md, which is embedded.
#[test]
fn the_cautions_for_all_frames_are_in_the_readme_and_in_safety_md() {
    let plain = |t: &str| t.replace("> ", "").split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let safety = plain(include_str!("../../safety.md"));
    // What can hurt in such a shop, in plain words: the list of hazards that a plan must speak of.
    for hazard in [
        "eyes",
        "skin",
        "fumes",
        "zinc",
        "chromium",
        "shielding gas",
        "fire watch",
        "vent",
        "burst",
        "electric shock",
        "cylinder",
        "hot work",
        "battery",
        "preheat",
        "clamp",
        "lift",
        "cracked",
        "qualified welder",
        "qualified procedure",
        "inspection",
        "engineer",
        "local codes",
    ] {
        assert!(safety.contains(hazard), "safety.md does not speak of {hazard}");
    }
    let readme = plain(include_str!("../../README.md"));
    for part in
        ["not a qualified procedure", "qualified welder", "inspection", "engineer's approval", "safety.md"]
    {
        assert!(readme.contains(part), "the README does not say: {part}");
    }
}
