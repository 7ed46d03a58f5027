//! Large frames: planned within a stated limit, or refused in words.

use super::frames::{Fate, whole_line};
use std::fmt::Write;

/// A truss of so many bays: two tubes a bay along, two across.
fn truss(bays: usize) -> String {
    let mut file = String::from(
        "holdtrue = 1\n[frame]\nname = \"truss\"\n[sections]\nchord = { square = { side = 40, wall = 3 }, material = \
         \"S235\" }\nweb = { round = { od = 20, wall = 2 }, material = \"S235\" }\n[tubes]\n",
    );
    let long = 500 * bays;
    let _ = writeln!(file, "low = {{ section = \"chord\", run = [[0, 0, 0], [{long}, 0, 0]] }}");
    let _ = writeln!(file, "high = {{ section = \"chord\", run = [[0, 0, 600], [{long}, 0, 600]] }}");
    for i in 0..bays {
        let x = 500 * i + 100;
        let _ = writeln!(file, "u{i} = {{ section = \"web\", run = [[{x}, 0, 0], [{x}, 0, 600]] }}");
        let _ = writeln!(
            file,
            "d{i} = {{ section = \"web\", run = [[{}, 0, 0], [{}, 0, 600]] }}",
            x + 100,
            x + 300
        );
    }
    file.push_str("[controls]\nbow = { kind = \"bow\", of = [\"low\"], direction = \"Z\", tolerance = 2 }\n");
    file
}

/// Bars along ninety metres of rail, in short segments.
#[test]
fn more_passes_than_anybody_puts_in_order_are_refused() {
    let mut file = String::from(
        "holdtrue = 1\n[frame]\nname = \"rail\"\n[sections]\nrail = { square = { side = 40, wall = 3 }, material = \
         \"S235\" }\nbar = { flat = { width = 20, thickness = 4 }, material = \"S235\" }\n[tubes]\nrail = { section = \
         \"rail\", run = [[0, 0, 0], [90000, 0, 0]] }\n[rules]\nmax_segment = 20\nmin_segment = 10\n",
    );
    for face in ["top", "bottom", "left"] {
        let _ = writeln!(
            file,
            "[[along]]\nname = \"{face}\"\nsection = \"bar\"\non = \"rail\"\nface = \"{face}\""
        );
    }
    match whole_line(&file) {
        Fate::Refused(codes) => assert_eq!(codes, ["E405"]),
        Fate::Planned(n) => panic!("{n} passes are put in order"),
    }
}

#[test]
fn hundreds_of_tubes_get_an_order() {
    match whole_line(&truss(150)) {
        Fate::Planned(n) => assert!(n > 1000, "{n} passes"),
        Fate::Refused(codes) => panic!("refused: {codes:?}"),
    }
}
