//! The README does what it says: its commands run, its tables are in step with the code.

use super::bench::{Bench, holdtrue};
use clap::Parser;
use holdtrue::cli::{Cli, Exit};
use std::ffi::OsString;

const README: &str = include_str!("../../README.md");

/// Lines of all `sh` blocks of a text; a line that ends in a backslash goes on in the next.
fn commands(text: &str) -> Vec<String> {
    let mut lines = vec![];
    for block in text.split("```sh\n").skip(1) {
        let block = block.split("```").next().expect("a block ends");
        let joined = block.replace("\\\n", " ");
        lines.extend(joined.lines().map(|l| l.split(" #").next().unwrap_or("").trim().to_string()));
    }
    lines.retain(|l| !l.is_empty() && !l.starts_with('#'));
    lines
}

/// Words of the program in a line of the shell, or none if the line runs something else.
fn words(line: &str) -> Option<Vec<String>> {
    let rest = match line.strip_prefix("cargo run") {
        Some(rest) => rest.split_once(" -- ")?.1,
        None => line.strip_prefix("holdtrue ")?,
    };
    Some(rest.split_whitespace().map(|w| w.trim_matches(['"', '\'']).to_string()).collect())
}

/// Commands that serve or ask, and so never end by themselves.
const WAITING: [&str; 3] = ["serve", "page", "ask"];

/// Words with every output moved into the bench's folder, and no longer search than it takes to see
/// that the words are right.
fn harmless(words: &[String], bench: &Bench) -> Vec<OsString> {
    let mut moved: Vec<OsString> = vec![];
    let mut output = false;
    for w in words {
        if output && w != "-" {
            let name = w.rsplit('/').next().expect("a name");
            moved.push(bench.path(name).into());
        } else if bench.path(w).exists() {
            // What an earlier line of the README has made.
            moved.push(bench.path(w).into());
        } else {
            moved.push(w.into());
        }
        output = ["--pdf", "--json", "--out", "--svg", "--job"].contains(&w.as_str());
    }
    if words[0] == "new" && !words.contains(&"--out".to_string()) {
        moved.extend(["--out".into(), bench.path(&format!("{}.toml", words[1])).into()]);
    }
    let starts = words[0] == "job" && words[1] == "start";
    let searches = starts || ["plan", "compare", "draw"].contains(&words[0].as_str());
    if searches && !words.iter().any(|w| w.starts_with("--effort")) {
        moved.extend(["--effort".into(), "rules".into()]);
    }
    moved
}

#[test]
fn every_command_of_the_readme_runs() {
    let bench = Bench::new();
    let mut ran = 0;
    for line in commands(README) {
        let Some(words) = words(&line) else { continue };
        let typed = std::iter::once("holdtrue").chain(words.iter().map(String::as_str));
        Cli::try_parse_from(typed).unwrap_or_else(|e| panic!("{line}: {e}"));
        if WAITING.contains(&words[0].as_str()) {
            continue;
        }
        let said = holdtrue(harmless(&words, &bench));
        assert_eq!(said.exit, Exit::Ok, "{line}: {}", said.err);
        ran += 1;
    }
    assert!(ran >= 1, "the README shows no command");
}

/// Fenced blocks of a text, in order: the word behind the fence, and what is inside.
fn blocks(text: &str) -> Vec<(&str, &str)> {
    text.split("\n```").skip(1).step_by(2).filter_map(|b| b.split_once('\n')).collect()
}

/// Words of a line of the shell, with what stands in quotes as one.
pub fn split(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().expect("one at least").push(c),
        }
    }
    words.retain(|w| !w.is_empty());
    words
}

/// Whether a line is the one shown; `…` stands for anything. What is foreseen depends a little on the heat of
/// the moment, so a number with a decimal point may be off by this much.
const OF_THE_MOMENT: f64 = 0.15;

fn is_shown(line: &str, shown: &str) -> bool {
    if !shown.contains('…') {
        let (got, want): (Vec<&str>, Vec<&str>) = (line.split(' ').collect(), shown.split(' ').collect());
        return got.len() == want.len() && got.iter().zip(want).all(|(g, w)| same(g, w));
    }
    let mut rest = line;
    for (n, part) in shown.split('…').enumerate() {
        match rest.find(part) {
            Some(at) if n > 0 || at == 0 => rest = &rest[at + part.len()..],
            _ => return false,
        }
    }
    rest.is_empty() || shown.ends_with('…')
}

fn same(got: &str, want: &str) -> bool {
    let number = |w: &str| w.trim_matches(['(', ')', ',', ';']).parse::<f64>().ok();
    match (number(got), number(want)) {
        (Some(g), Some(w)) if want.contains('.') => (g - w).abs() <= OF_THE_MOMENT,
        _ => got == want,
    }
}

/// Text blocks whose lines begin with `$` are a session: each command is run by the program itself in a folder
/// that begins empty but for the tutorial's file, and each line shown beneath it must be said, in that order.
#[test]
fn every_session_of_the_readme_says_what_is_shown() {
    let bench = Bench::new();
    let home = bench.path("home");
    let tutorial =
        README.split("\n## ").find(|s| s.contains("an empty file `first-trike.toml`")).expect("there");
    let file: Vec<&str> = blocks(tutorial).iter().filter(|b| b.0 == "toml").map(|b| b.1.trim_end()).collect();
    let file = format!("{}\n", file.join("\n\n"));
    assert_eq!(
        file,
        include_str!("../../examples/first-trike.toml"),
        "the tutorial's blocks are the example"
    );
    bench.file("first-trike.toml", &file);
    let (mut ran, mut seen) = (0, 0);
    for (_, block) in blocks(README).into_iter().filter(|b| b.1.starts_with("$ ")) {
        for session in block.split("$ ").skip(1) {
            let mut lines = session.lines();
            let typed = lines.next().expect("a command");
            let words = split(typed.strip_prefix("holdtrue ").expect("only this program is shown"));
            let said = std::process::Command::new(env!("CARGO_BIN_EXE_holdtrue"))
                .args(words)
                .current_dir(bench.path(""))
                .env("HOME", &home)
                .env("XDG_CONFIG_HOME", home.join("config"))
                .env("COLUMNS", "80")
                .env_remove("CLICOLOR_FORCE")
                .output()
                .expect("it runs");
            let text = [said.stdout, said.stderr].map(|b| String::from_utf8(b).expect("UTF-8")).concat();
            assert_eq!(said.status.code(), Some(0), "{typed}\n{text}");
            ran += 1;
            let mut all = text.lines();
            for shown in lines.filter(|l| !l.trim().is_empty()) {
                assert!(
                    all.any(|l| is_shown(l.trim_end(), shown)),
                    "{typed}\nsays no\n{shown}\nin this place:\n{text}"
                );
                seen += 1;
            }
        }
    }
    assert!(ran > 30 && seen > 40, "{ran} commands, {seen} lines");
}

/// The example of the library in the README is the one of the crate's front page, which the documentation tests
/// run.
#[test]
fn the_example_of_the_library_is_that_of_the_crate() {
    let (_, code) = *blocks(README).iter().find(|b| b.0 == "rust").expect("a block of Rust");
    let front = include_str!("../../src/lib.rs");
    let lines: Vec<&str> = front
        .lines()
        .filter_map(|l| l.strip_prefix("//!"))
        .map(|l| l.strip_prefix(' ').unwrap_or(l))
        .collect();
    assert!(lines.join("\n").contains(code.trim_end()), "they differ");
}

#[test]
fn lines_of_the_shell_are_understood() {
    assert!(
        is_shown("off by 2.5 of 24", "off by 2.6 of 24") && !is_shown("off by 2.5 of 23", "off by 2.6 of 24")
    );
    assert!(!is_shown("off by 2.5 of 24", "off by 2.9 of 24") && !is_shown("1 a", "1  a"));
    assert!(is_shown("kept in /x/shop.toml; so", "kept in …shop.toml; so"));
    assert!(!is_shown("a kept in /x/shop.toml; so", "kept in …shop.toml; so") && !is_shown("ab", "a"));
    assert_eq!(split("job note a.job \"two words\" 3"), ["job", "note", "a.job", "two words", "3"]);
    let text = "x\n```sh\ncargo run --release -- plan a.toml --pdf b.pdf # paper\ncargo test\n```\ny\n```toml\nz\n```\n\
                ```sh\n# a remark\nholdtrue check \\\n  a.toml\n```\n";
    let lines = commands(text);
    assert_eq!(lines.len(), 3, "{lines:?}");
    assert_eq!(words(&lines[0]).expect("a command"), ["plan", "a.toml", "--pdf", "b.pdf"]);
    assert_eq!(words(&lines[1]), None);
    assert_eq!(words(&lines[2]).expect("a command"), ["check", "a.toml"]);
}

/// Rows of tables whose first column is a number or a code: every one must be the code's own.
#[test]
fn tables_of_exits_and_faults_are_in_step_with_the_program() {
    let codes = holdtrue(["codes".into()]).well();
    for line in README.lines().filter(|l| l.starts_with('|')) {
        let first =
            line.trim_matches('|').split('|').next().unwrap_or("").trim().trim_matches('`').to_string();
        if let Ok(number) = first.parse::<u8>() {
            let known = [
                Exit::Ok,
                Exit::Usage,
                Exit::BadInput,
                Exit::NoInput,
                Exit::Internal,
                Exit::CannotCreate,
                Exit::Io,
                Exit::Busy,
            ];
            assert!(known.iter().any(|&e| e as u8 == number), "no exit {number}: {line}");
        }
        let is_code = first.len() == 4
            && first.starts_with(['E', 'W'])
            && first[1..].bytes().all(|b| b.is_ascii_digit());
        assert!(!is_code || codes.text().contains(&first), "no code {first}: {line}");
    }
}
