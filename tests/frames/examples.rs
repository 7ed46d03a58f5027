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

/// Joints, seams and controls of each example, counted by hand from its drawing.
#[test]
fn every_example_has_the_joints_its_drawing_shows() {
    for (name, joints, seams, controls) in [
        ("square", 4, 4, 3),
        ("t-joint", 1, 1, 6),
        ("h-frame", 2, 2, 11),
        ("ladder", 4, 4, 15),
        // 10 cross member ends, 4 hangers, 4 laps of the arms, the plate on both arms at one joint.
        ("trailer", 19, 20, 13),
        // 4 corners (mitre and leg each), 2 ends of the cross member, 4 pads, 4 feet, 4 legs with two
        // ends of the lower ring each, 4 ends of braces.
        ("machine-base", 22, 30, 16),
        // Sleeves 2; axle tube: rails 2 x 2, spine 1; box corners 4; spine: rear bar 2, down tube 1;
        // shell: spine, seat tube, 2 stays; seat tube: top tube, 2 stubs; drop-outs 2 x 2; stubs 2;
        // steering sleeve 2: 29 seams.
        ("cargo-trike", 22, 29, 11),
    ] {
        let frame = example(name);
        let found = holdtrue::joint::joints(&frame).unwrap_or_else(|f| panic!("{name}: {f:#?}"));
        assert!(found.warnings.is_empty(), "{name}: {:#?}", found.warnings);
        let found = found.value;
        let lines = holdtrue::seam::seams(&frame, &found);
        assert_eq!(
            (found.joints.len(), lines.seams.len(), frame.controls.len()),
            (joints, seams, controls),
            "{name}"
        );
        assert!(found.symmetry.is_some(), "{name} is symmetric");
        for seam in &lines.seams {
            assert!(!seam.segments.is_empty() && seam.length_mm > 20.0, "{name} {}", seam.name);
        }
    }
}

/// The reference frames are welded with 300 J/mm at the arc and 210 J/mm net.
#[test]
fn reference_frames_have_the_heat_of_the_reference_runs() {
    for name in ["t-joint", "h-frame", "ladder"] {
        let frame = example(name);
        let p = frame.procedures.last().expect("there is one");
        let (volts, amps, speed) = (p.volts.unwrap(), p.amps.unwrap(), p.speed_mm_s.unwrap());
        crate::support::near(volts * amps / speed, 300.0, 1e-9);
        crate::support::near(p.process.k * volts * amps / speed, 210.0, 1e-9);
        assert!(frame.clamps.is_empty());
    }
}

/// A frame of a thousand tubes is read in a blink, also in a debug build.
#[test]
fn a_large_frame_is_read_quickly() {
    let mut text = String::from(
        "holdtrue = 1\n[frame]\nname = \"rack\"\n[sections]\nmain = { square = { side = 40, wall = 3 }, material = \"S235\" }\n[tubes]\n",
    );
    text += "rail-1 = { section = \"main\", run = [[0, 0, 0], [50000, 0, 0]] }\n";
    text += "rail-2 = { section = \"main\", run = [[0, 600, 0], [50000, 600, 0]] }\n";
    for i in 0..1000 {
        let at = 30 + 49 * i;
        text += &format!(
            "rung-{i} = {{ section = \"main\", run = [{{ on = \"rail-1\", at = {at}, face = \"left\" }}, {{ on = \"rail-2\", at = {at}, face = \"right\" }}] }}\n"
        );
    }
    text += "[controls]\nwide = { kind = \"distance\", of = [\"rail-1@100\", \"rail-2@100\"] }\n";
    let started = std::time::Instant::now();
    assert_eq!(read(&text).expect("it is sound").value.tubes.len(), 1002);
    assert!(started.elapsed().as_secs_f64() < 3.0, "took {:?}", started.elapsed());
}
