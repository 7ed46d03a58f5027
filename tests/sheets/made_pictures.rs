//! The pictures of the README and the schemas are those that the program makes today.
//!
//! `HOLDTRUE_MAKE=1 cargo test --test main made_pictures` draws and writes them anew.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Name in `examples/made`, and the words that draw it.
const PICTURES: [(&str, &[&str]); 6] = [
    ("trike-map.svg", &["draw", "examples/cargo-trike.toml", "--view", "three-quarter"]),
    ("trike-J13.svg", &["draw", "examples/cargo-trike.toml", "--joint", "J13"]),
    ("trike-heat.svg", &["draw", "examples/cargo-trike.toml", "--view", "heat"]),
    ("trailer-map.svg", &["draw", "examples/trailer.toml", "--view", "top"]),
    ("trailer-pull.svg", &["draw", "examples/trailer.toml", "--view", "pull"]),
    ("ladder-path.svg", &["draw", "examples/ladder.toml", "--view", "path"]),
];

#[test]
fn the_pictures_of_the_readme_are_current() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).expect("README");
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, words) in PICTURES {
        assert!(readme.contains(&format!("examples/made/{name}")), "README does not show {name}");
        let out: PathBuf = folder.path().join(name);
        let mut line: Vec<OsString> = vec!["holdtrue".into(), words[0].into(), root.join(words[1]).into()];
        line.extend(words[2..].iter().map(OsString::from));
        line.extend(["--effort", "rules", "--quiet", "--force", "--out"].map(OsString::from));
        line.push(out.clone().into());
        let mut said = Vec::new();
        let exit = holdtrue::cli::run(line, &mut Vec::new(), &mut said);
        assert_eq!(exit, holdtrue::cli::Exit::Ok, "{name}: {}", String::from_utf8_lossy(&said));
        current(name, &std::fs::read_to_string(&out).expect("drawn"));
    }
}

/// A picture in `examples/made` is what is drawn now; with `HOLDTRUE_MAKE` it becomes so.
#[track_caller]
pub fn current(name: &str, now: &str) {
    let on_record = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/made").join(name);
    if std::env::var_os("HOLDTRUE_MAKE").is_some() {
        std::fs::write(&on_record, now).expect("written");
    }
    let then = std::fs::read_to_string(on_record).expect("on record");
    if let Some(difference) = difference(&then, now) {
        panic!("{name} is not current ({difference}); HOLDTRUE_MAKE=1 draws it anew");
    }
}

#[test]
fn the_schemas_on_record_are_current() {
    for (of, now) in
        [("plan", holdtrue::output::json::schema()), ("frame", holdtrue::frame::SCHEMA.to_string())]
    {
        let on_record = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/made/{of}.schema.json"));
        if std::env::var_os("HOLDTRUE_MAKE").is_some() {
            std::fs::write(&on_record, &now).expect("written");
        }
        let then = std::fs::read_to_string(on_record).expect("on record");
        assert_eq!(then, now, "`holdtrue schema {of}` says something else now");
    }
}

/// The first difference between two pictures that is more than the last bits of another processor:
/// words must be the same, numbers within 0.05 mm.
fn difference(a: &str, b: &str) -> Option<String> {
    let pieces = |s: &str| -> Vec<String> {
        s.split(|c: char| c.is_whitespace() || ",\"<>=".contains(c))
            .filter(|w| !w.is_empty())
            .map(str::to_string)
            .collect()
    };
    let (a, b) = (pieces(a), pieces(b));
    if a.len() != b.len() {
        return Some(format!("{} pieces on record, {} now", a.len(), b.len()));
    }
    a.iter().zip(&b).find(|(x, y)| !same(x, y)).map(|(x, y)| format!("{x} on record, {y} now"))
}

fn same(x: &str, y: &str) -> bool {
    let number = |w: &str| w.trim_start_matches(|c: char| c.is_ascii_alphabetic()).parse::<f64>().ok();
    x == y || matches!((number(x), number(y)), (Some(x), Some(y)) if (x - y).abs() <= 0.05)
}

#[test]
fn a_moved_line_is_seen() {
    assert_eq!(difference("<line x1=\"3.00\"/>", "<line x1=\"3.01\"/>"), None);
    assert!(difference("<line x1=\"3.00\"/>", "<line x1=\"3.10\"/>").is_some());
    assert!(difference("<text>J1</text>", "<text>J2</text>").is_some());
    assert!(difference("M1 2", "M1 2 L3 4").is_some());
}
