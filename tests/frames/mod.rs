//! Frame files: what is read, and what is said about what cannot be read.
mod codes;
mod examples;
mod imports;
mod faults_controls;
mod faults_reading;
mod faults_sections;
mod faults_tubes;
mod iso13920;
mod reading;
mod sections;

use holdtrue::fault::render;
use holdtrue::frame::{Frame, read};

/// A small sound frame; each test spoils it in one way.
const SOUND: &str = r#"holdtrue = 1
[frame]
name = "test"
[sections]
main = { round = { od = 40, wall = 3 }, material = "S235" }
box = { square = { side = 40, wall = 3 }, material = "S235" }
[points]
a = [0, 0, 0]
b = [600, 0, 0]
c = [600, 500, 0]
[tubes]
one = { section = "box", run = ["a", "b"] }
two = { section = "main", run = ["b", "c"] }
[controls]
width = { kind = "distance", of = ["a", "b"], tolerance = 2 }
"#;

/// The sound frame with some words replaced.
fn edited(edits: &[(&str, &str)]) -> String {
    let mut text = SOUND.to_string();
    for (from, to) in edits {
        assert!(text.contains(from), "{from:?} is not in the text");
        text = text.replacen(from, to, 1);
    }
    text
}

/// Everything that is said about the spoilt frame, errors and warnings.
fn said(text: &str) -> String {
    let faults = match read(text) {
        Ok(checked) => checked.warnings,
        Err(faults) => faults,
    };
    render(&faults, text, "frame.toml", false)
}

/// Spoils the sound frame and compares the whole message, to the letter.
#[track_caller]
fn says(edits: &[(&str, &str)], want: &str) {
    let got = said(&edited(edits));
    let got: Vec<&str> = got.trim().lines().map(str::trim_end).collect();
    assert_eq!(got.join("\n"), want.trim(), "\n{}", got.join("\n"));
}

/// A frame that must read.
#[track_caller]
fn sound(text: &str) -> Frame {
    match read(text) {
        Ok(checked) => checked.value,
        Err(faults) => panic!("{}", render(&faults, text, "frame.toml", false)),
    }
}
