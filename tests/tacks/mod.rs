//! The tack half: places and order, what holds, what it pulls, gaps, hold points, the command.

mod command;
mod gaps;
mod hold_points;
mod holding;
mod order;

use holdtrue::frame::{self, Frame};
use holdtrue::plan::{self, Effort, From, Options, Parts, Watch, WeldPlan};
use std::sync::atomic::AtomicBool;

pub fn read(text: &str) -> Frame {
    frame::read(text).expect("a sound frame").value
}

pub fn example(name: &str) -> String {
    let path = format!("{}/examples/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("an example")
}

pub fn parts(frame: &Frame) -> Parts {
    plan::parts(frame).expect("sound geometry")
}

/// A plan by the rules alone.
pub fn planned(text: &str) -> WeldPlan {
    let frame = read(text);
    let options = Options { seed: 1, effort: Effort::Rules, frame_sha256: "ab".into(), from: From::Tacks };
    let stop = AtomicBool::new(false);
    let watch = Watch { stop: &stop, progress: Box::new(|_, _| {}) };
    plan::plan(&frame, parts(&frame), &options, &watch).expect("a plan")
}
