//! The example frames read without a fault.

use holdtrue::fault::render;
use holdtrue::frame::{Frame, read};

/// An example by name.
fn example(name: &str) -> Frame {
    let path = format!("{}/examples/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).expect("the example is there");
    match read(&text) {
        Ok(frame) => {
            assert!(frame.warnings.is_empty(), "{}", render(&frame.warnings, &text, name, false));
            frame.value
        }
        Err(faults) => panic!("{}", render(&faults, &text, name, false)),
    }
}

#[test]
fn twenty_lines_make_a_square() {
    let frame = example("square");
    println!("{frame:#?}");
    assert_eq!((frame.tubes.len(), frame.controls.len()), (4, 3));
}
