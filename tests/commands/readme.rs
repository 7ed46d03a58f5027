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

#[test]
fn lines_of_the_shell_are_understood() {
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
