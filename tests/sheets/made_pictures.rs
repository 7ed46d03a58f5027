//! The pictures of the README and the schemas are those that the program makes today.
//!
//! `HOLDTRUE_MAKE=1 cargo test --test main made_pictures` draws and writes them anew.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Name in `examples/made`, and the words that draw it.
const PICTURES: [(&str, &[&str]); 7] = [
    ("first-trike.svg", &["check", "examples/first-trike.toml"]),
    ("first-trike-pull.svg", &["draw", "examples/first-trike.toml", "--view", "pull", "--effort", "quick"]),
    ("trike-map.svg", &["draw", "examples/cargo-trike.toml", "--view", "three-quarter"]),
    ("trike-J13.svg", &["draw", "examples/cargo-trike.toml", "--joint", "J13"]),
    ("trike-heat.svg", &["draw", "examples/cargo-trike.toml", "--view", "heat"]),
    ("trailer-map.svg", &["draw", "examples/trailer.toml", "--view", "top"]),
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
        line.extend(["--no-shop", "--quiet", "--force"].map(OsString::from));
        if words[0] == "draw" && !words.contains(&"--effort") {
            line.extend(["--effort", "rules"].map(OsString::from));
        }
        line.push("--out".into());
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

/// The sheet of the README's tricycle as text, JSON and PDF: the same bytes on one thread and on two, and what
/// is kept in `examples/made`, so that it can be looked at without building anything.
#[test]
fn the_sheet_on_record_is_current_and_the_same_on_any_number_of_threads() {
    const NAMES: [&str; 3] = ["first-trike-sheet.txt", "first-trike-plan.json", "first-trike-sheet.pdf"];
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let run = |threads: &str| -> Vec<Vec<u8>> {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let said = std::process::Command::new(env!("CARGO_BIN_EXE_holdtrue"))
            .current_dir(root)
            .args(["plan", "examples/first-trike.toml", "--effort", "quick", "--no-shop", "--quiet"])
            .args(["--json".into(), folder.path().join(NAMES[1])])
            .args(["--pdf".into(), folder.path().join(NAMES[2])])
            .env("RAYON_NUM_THREADS", threads)
            .env("COLUMNS", "80")
            .env_remove("CLICOLOR_FORCE")
            .output()
            .expect("it runs");
        assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
        let files = NAMES[1..].iter().map(|n| std::fs::read(folder.path().join(n)).expect("written"));
        std::iter::once(said.stdout).chain(files).collect()
    };
    let (one, two) = (run("1"), run("2"));
    for ((name, now), other) in NAMES.iter().zip(&one).zip(&two) {
        assert!(now == other, "{name} differs on two threads");
        let path = root.join("examples/made").join(name);
        if std::env::var_os("HOLDTRUE_MAKE").is_some() {
            std::fs::write(&path, now).expect("written");
        }
        let then = std::fs::read(&path).expect("on record");
        if *now == then {
            continue;
        }
        // Not the same bytes: the last bits of another processor, or another sheet.
        let words = |bytes: &[u8]| {
            if name.ends_with(".pdf") { words_of_pdf(bytes) } else { String::from_utf8_lossy(bytes).into() }
        };
        if let Some(difference) = difference(&words(&then), &words(now)) {
            panic!("{name} is not current ({difference}); HOLDTRUE_MAKE=1 makes it anew");
        }
    }
}

fn words_of_pdf(bytes: &[u8]) -> String {
    let file = tempfile::NamedTempFile::new().expect("a temporary file");
    std::fs::write(file.path(), bytes).expect("written");
    let said =
        std::process::Command::new("pdftotext").arg(file.path()).arg("-").output().expect("pdftotext runs");
    String::from_utf8_lossy(&said.stdout).into()
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
