//! `--help` of every command: what it is for, and an example that can be typed.

use clap::CommandFactory;
use clap::Parser;
use holdtrue::cli::Cli;

/// Every command without commands of its own, with the words that call it.
fn leaves(command: &clap::Command, before: &[String], out: &mut Vec<(Vec<String>, String)>) {
    for sub in command.get_subcommands().filter(|s| s.get_name() != "help") {
        let words = [before, &[sub.get_name().to_string()]].concat();
        let after = sub.get_after_help().map(ToString::to_string).unwrap_or_default();
        if sub.get_subcommands().count() == 0 || words.ends_with(&["shop".into()]) {
            out.push((words, after));
        } else {
            leaves(sub, &words, out);
        }
    }
}

#[test]
fn every_command_has_an_example_that_is_understood() {
    let mut all = vec![];
    leaves(&Cli::command(), &[], &mut all);
    assert!(all.len() > 30, "{} commands", all.len());
    for (words, help) in all {
        let name = format!("holdtrue {}", words.join(" "));
        let examples: Vec<&str> =
            help.lines().map(str::trim).filter(|l| l.starts_with("holdtrue ")).collect();
        assert!(examples.iter().any(|e| e.starts_with(&name)), "{name} --help shows no example\n{help}");
        for example in examples {
            let typed = example.split(['|', '>', '&']).next().expect("a command");
            let words = super::readme::split(typed.split("    ").next().expect("a command").trim());
            Cli::try_parse_from(&words).unwrap_or_else(|e| panic!("{example}: {e}"));
        }
    }
}
