//! Frames and plans, made the way the program makes them.

use holdtrue::frame::Frame;
use holdtrue::plan::{self, Options, Parts, Watch, WeldPlan};

/// The text of an example.
pub fn example(name: &str) -> String {
    let path = format!("{}/examples/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("an example")
}

/// A frame whose file has no faults.
#[track_caller]
pub fn read(text: &str) -> Frame {
    holdtrue::frame::read(text).unwrap_or_else(|faults| panic!("{faults:#?}")).value
}

/// Its joints, seams and passes.
#[track_caller]
pub fn parts(frame: &Frame) -> Parts {
    plan::parts(frame).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

/// Its plan.
#[track_caller]
pub fn plan_of(frame: &Frame, options: &Options) -> WeldPlan {
    plan::plan(frame, parts(frame), options, &Watch::default()).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

/// The plan of a frame file by the rules alone, from loose tubes.
#[track_caller]
pub fn planned(text: &str) -> WeldPlan {
    plan_of(&read(text), &Options::default())
}
