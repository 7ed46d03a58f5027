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
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/square.toml")).unwrap();
    assert!(text.lines().count() <= 20);
    let frame = example("square");
    assert_eq!((frame.tubes.len(), frame.controls.len()), (4, 3));
    // ISO 13920: class F for a longest side over 400 up to 1000 mm is 3 mm, class B 3 mm.
    let tolerances: Vec<f64> = frame.controls.iter().map(|c| c.tolerance).collect();
    assert_eq!(tolerances, [2.0, 3.0, 3.0]);
    assert_eq!(frame.controls[2].nominal, 600.0);
}
