//! Every code that the sources use is explained, and every explained code is used and tested.

use holdtrue::fault::CODES;
use std::collections::BTreeSet;
use std::path::Path;

/// Names of steels that look like codes.
const STEELS: [&str; 2] = ["E235", "E355"];

/// All `"E123"` and `"W123"` in the Rust sources under a folder, except the table itself.
fn used(folder: &Path) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("the folder is there") {
            let path = entry.expect("readable").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("fault/codes.rs") {
                let text = std::fs::read_to_string(&path).expect("readable");
                // Tests in the sources may use codes that do not exist.
                let text = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or("");
                found.extend(codes(text));
            }
        }
    }
    found
}

fn codes(text: &str) -> impl Iterator<Item = String> {
    text.split('"').filter(|w| is_code(w)).map(str::to_string)
}

fn is_code(word: &str) -> bool {
    word.len() == 4
        && word.starts_with(['E', 'W'])
        && word[1..].chars().all(|c| c.is_ascii_digit())
        && !STEELS.contains(&word)
}

#[test]
fn every_code_is_explained_and_every_explanation_is_used() {
    let used = used(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    let known: BTreeSet<String> = CODES.iter().map(|c| c.0.to_string()).collect();
    assert_eq!(known.len(), CODES.len(), "a code stands twice in the table");
    let unexplained: Vec<_> = used.difference(&known).collect();
    let unused: Vec<_> = known.difference(&used).collect();
    assert!(unexplained.is_empty(), "used in src but not in fault::CODES: {unexplained:?}");
    assert!(unused.is_empty(), "in fault::CODES but not used in src: {unused:?}");
}

#[test]
fn the_table_is_in_order_and_says_something() {
    let order: Vec<_> = CODES.iter().map(|c| (&c.0[1..2], &c.0[..1], &c.0[1..])).collect();
    assert!(order.is_sorted(), "codes stand in order: by hundred, errors before warnings");
    for (code, title, words) in CODES {
        assert!(is_code(code) && !title.is_empty() && words.ends_with('.'), "{code}");
    }
}

#[test]
fn each_code_of_the_frame_file_has_a_full_text_test() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/frames");
    let mut tested = String::new();
    for entry in std::fs::read_dir(here).expect("the folder is there") {
        let path = entry.expect("readable").path();
        if path.is_file() {
            tested += &std::fs::read_to_string(path).expect("readable");
        }
    }
    let missing: Vec<_> = CODES
        .iter()
        .map(|c| c.0)
        .filter(|c| c[1..].starts_with('1') && !tested.contains(&format!("[{c}]")))
        .collect();
    assert!(missing.is_empty(), "no test shows the message of {missing:?}");
}
