//! What a sound file becomes.

use super::{SOUND, edited, said, sound};
use crate::support::near;
use glam::DVec3;
use holdtrue::fault::render;
use holdtrue::frame::{ControlKind, Release, Role, Shape, Spot, SymmetryWish, decode, measure_at, read};

#[track_caller]
fn same(got: DVec3, want: [f64; 3]) {
    assert!(got.distance(DVec3::from(want)) < 1e-6, "got {got}, want {want:?}");
}

#[test]
fn bytes_that_are_no_text_and_files_that_are_too_large() {
    let faults = decode(b"holdtrue = 1\nname = \"R\xe4der\"\n").unwrap_err();
    let want = "error[E101]: the file is not UTF-8 text: byte 0xE4 in line 2 (byte 22 of the file)
--> frame.toml
 = help: save it as UTF-8; most editors offer this under \"save as\"

1 error
";
    assert_eq!(render(&faults, "", "frame.toml", false), want);
    let faults = decode(&vec![b'#'; 10_000_000]).unwrap_err();
    let want = "error[E102]: the file is 10.0 MB; a frame file is never larger than 4 MB
--> frame.toml
 = help: is this the right file? a frame of 2,000 welds fits into half a megabyte

1 error
";
    assert_eq!(render(&faults, "", "frame.toml", false), want);
    assert_eq!(decode("Räder".as_bytes()), Ok("Räder"));
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_do_not_matter() {
    let text = format!("\u{feff}{}", SOUND.replace('\n', "\r\n"));
    assert_eq!(sound(&text).tubes.len(), 2);
}

#[test]
fn every_default_is_recorded_with_its_reason_and_what_is_said_is_not() {
    let frame = sound(SOUND);
    let key = |k: &str| frame.defaults.iter().find(|d| d.key == k);
    for k in [
        "frame.up",
        "frame.carries_people",
        "sections.box.corner",
        "rules.spacing",
        "shop.ambient",
        "pull.c_t",
        "procedure.process",
        "setup",
        "control.set_by",
        "tube.height",
    ] {
        let d = key(k).unwrap_or_else(|| panic!("{k} is not recorded"));
        assert!(!d.value.is_empty() && !d.why.is_empty(), "{k}");
    }
    assert_eq!(key("sections.box.corner").unwrap().value, "6");
    assert_eq!(frame.rules.spacing, 2);
    let said = sound(&format!("{SOUND}[rules]\nspacing = 4\n"));
    assert_eq!(said.rules.spacing, 4);
    assert!(said.defaults.iter().all(|d| d.key != "rules.spacing"));
}

#[test]
fn a_place_on_a_face_lies_on_that_face() {
    // "one" runs along X from (0,0,0), 40 square; the middle of the frame is at (300, 250, 0).
    let on = |extra: &str| {
        let tube =
            format!("three = {{ section = \"main\", run = [\"c\", {{ on = \"one\", {extra} }}] }}\ntwo = {{");
        let frame = sound(&edited(&[("two = {", &tube)]));
        let tube = frame.tubes.iter().find(|t| t.name == "three").expect("it is there").clone();
        (*tube.axis.last().unwrap(), tube.lands[1].clone().expect("it lands"))
    };
    same(on("at = 200").0, [200.0, 0.0, 0.0]);
    same(on("at = 200, face = \"inner\"").0, [200.0, 20.0, 0.0]);
    same(on("at = 200, face = \"outer\"").0, [200.0, -20.0, 0.0]);
    same(on("at = 200, face = \"top\"").0, [200.0, 0.0, 20.0]);
    same(on("at = 200, face = \"-Z\"").0, [200.0, 0.0, -20.0]);
    // Offsets: up on a side, to the left on top.
    same(on("at = 200, face = \"inner\", offset = 5").0, [200.0, 20.0, 5.0]);
    same(on("at = 200, face = \"right\", offset = 5").0, [200.0, -20.0, 5.0]);
    same(on("at = 200, face = \"top\", offset = 5").0, [200.0, 5.0, 20.0]);
    same(on("at = \"middle\"").0, [300.0, 0.0, 0.0]);
    same(on("at = \"a\"").0, [0.0, 0.0, 0.0]);
    let landing = on("at = 200, face = \"inner\", offset = 5, slot = 12").1;
    assert_eq!((landing.on, landing.at_mm, landing.offset_mm, landing.slot_mm), (0, 200.0, 5.0, Some(12.0)));
}

#[test]
fn a_place_on_a_round_tube_lies_on_its_skin() {
    // "two" is round, 40 across, and runs along Y from (600, 0, 0).
    let tube = "three = { section = \"box\", run = [\"a\", { on = \"two\", at = 100, face = \"back\", offset = 12 }] }\ntwo = {";
    let frame = sound(&edited(&[("two = {", tube)]));
    let at = *frame.tubes.iter().find(|t| t.name == "three").unwrap().axis.last().unwrap();
    // 12 up, and so 16 back: 12² + 16² = 20².
    same(at, [584.0, 100.0, 12.0]);
}

#[test]
fn a_bend_keeps_its_radius_and_its_ends() {
    let tube =
        "three = { section = \"main\", run = [\"a\", [0, 500, 0], \"c\"], bend_radius = 100 }\ntwo = {";
    let frame = sound(&edited(&[("two = {", tube)]));
    let tube = frame.tubes.iter().find(|t| t.name == "three").unwrap();
    same(tube.axis[0], [0.0, 0.0, 0.0]);
    same(*tube.axis.last().unwrap(), [600.0, 500.0, 0.0]);
    // The arc's middle lies on the bisector, one radius from the centre (100, 400, 0).
    let root = 100.0 - 100.0 / 2f64.sqrt();
    let (_, far) = tube.nearest(DVec3::new(root, 400.0 + 100.0 / 2f64.sqrt(), 0.0));
    assert!(far < 0.4, "chords of ten degrees cut off less than 0.4 mm, got {far}");
    // Two straight pieces of 400 and 500 mm and a quarter of a circle; chords are a little shorter.
    near(tube.length_mm(), 400.0 + 500.0 + 50.0 * std::f64::consts::PI, 0.3);
    for (t, h) in tube.axis.windows(2).map(|p| (p[1] - p[0]).normalize()).zip(&tube.height_dir) {
        near(t.dot(*h), 0.0, 1e-9);
        same(*h, [0.0, 0.0, 1.0]);
    }
}

#[test]
fn heights_stand_up_unless_said_otherwise() {
    let height = |run: &str| {
        let text = edited(&[
            ("run = [\"a\", \"b\"]", run),
            ("of = [\"a\", \"b\"]", "of = [\"two:start\", \"two:end\"]"),
        ]);
        sound(&text).tubes[0].height_dir[0]
    };
    same(height("run = [\"a\", [0, 300, 0]]"), [0.0, 0.0, 1.0]);
    same(height("run = [\"a\", [0, 0, 300]]"), [1.0, 0.0, 0.0]);
    same(height("run = [\"a\", [300, 0, 0]], height = \"left\""), [0.0, 1.0, 0.0]);
    same(height("run = [\"a\", [300, 0, 0]], roll = 90"), [0.0, -1.0, 0.0]);
    let s = 0.5f64.sqrt();
    same(height("run = [\"a\", [300, 0, 300]]"), [-s, 0.0, s]);
}

#[test]
fn plates_and_bars_lie_on_their_faces() {
    let frame = sound(&format!(
        "{SOUND}[plates]
pad = {{ on = \"one\", at = 100, face = \"top\", size = [80, 30], thickness = 10 }}
free = {{ centre = [0, 300, 0], normal = \"X\", along = \"Z\", size = [80, 30], thickness = 10 }}
[[along]]
name = \"rib\"
section = \"strip\"
on = \"one\"
from = 50
to = 350
face = \"bottom\"
[sections.strip]
flat = {{ width = 20, thickness = 4 }}
material = \"S235\"
"
    ));
    let tube = |name: &str| frame.tubes.iter().find(|t| t.name == name).unwrap();
    let pad = tube("pad");
    assert_eq!(pad.role, Role::Plate { on: Some(0) });
    same(pad.axis[0], [60.0, 0.0, 25.0]);
    same(pad.axis[1], [140.0, 0.0, 25.0]);
    same(pad.height_dir[0], [0.0, 0.0, 1.0]);
    assert_eq!(frame.sections[pad.section].shape, Shape::Flat { width: 30.0, thickness: 10.0 });
    same(tube("free").axis[1], [0.0, 300.0, 40.0]);
    let rib = tube("rib");
    assert_eq!(rib.role, Role::Along { on: 0 });
    same(rib.axis[0], [50.0, 0.0, -22.0]);
    same(rib.axis[1], [350.0, 0.0, -22.0]);
    assert_eq!(
        frame.tubes.iter().map(|t| t.name.as_str()).collect::<Vec<_>>(),
        ["one", "two", "pad", "free", "rib"]
    );
}

#[test]
fn controls_know_their_nominal_and_their_class() {
    let control = |words: &str| {
        let frame = sound(&format!("{SOUND}more = {{ {words} }}\n"));
        (frame.controls[1].nominal, frame.controls[1].tolerance)
    };
    assert_eq!(control("kind = \"distance\", of = [\"a\", \"c\"], tolerance = \"B\""), (781.024967591, 3.0));
    assert_eq!(control("kind = \"angle\", of = [\"one\", \"two\"], tolerance = \"B\""), (90.0, 0.5));
    assert_eq!(
        control("kind = \"from-line\", of = [\"c\", \"a\", \"b\"], direction = \"Y\", tolerance = \"E\""),
        (500.0, 1.5)
    );
    assert_eq!(control("kind = \"bow\", of = [\"one@100\", \"one@500\"]"), (0.0, 1.5));
    assert_eq!(
        control("kind = \"difference\", of = [\"a\", \"b\", \"b\", \"c\"], tolerance = 1"),
        (100.0, 1.0)
    );
    assert_eq!(
        control("kind = \"from-plane\", of = [\"c\", \"a\", \"b\", \"two@250\"], tolerance = 1"),
        (0.0, 1.0)
    );
    let frame = sound(
        &format!("{SOUND}more = {{ kind = \"distance\", of = [\"one:b\", \"two:b\"] }}\n")
            .replace("two:b", "two:end"),
    );
    let ControlKind::Distance(a, b) = &frame.controls[1].kind else { panic!() };
    assert_eq!((a.tube, a.s_mm, b.tube, b.s_mm), (0, 600.0, 1, 500.0));
}

/// What each kind reads on a frame that is out of true by known amounts.
#[test]
fn controls_read_what_a_tape_would() {
    let at = |s: Spot| {
        // Spots 0 to 3 of "tube" 0 are the corners of a square of 100, the last one 3 up and 4 out.
        [[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [100.0, 100.0, 0.0], [0.0, 104.0, 3.0]][s.s_mm as usize].into()
    };
    let s = |i: usize| Spot { tube: 0, s_mm: i as f64 };
    let read = |kind| measure_at(&kind, DVec3::Z, at);
    near(read(ControlKind::Distance(s(0), s(2))), 141.421_356, 1e-6);
    near(read(ControlKind::Twist([s(0), s(1), s(2), s(3)])), 3.0, 1e-9);
    near(read(ControlKind::FromPlane { spot: s(3), plane: [s(0), s(2), s(1)] }), -3.0, 1e-9);
    near(read(ControlKind::FromLine { spot: s(3), line: [s(0), s(1)], dir: DVec3::Y }), 104.0, 1e-9);
    let diagonals = 2f64.sqrt() * 100.0 - (100f64.powi(2) + 104f64.powi(2) + 9.0).sqrt();
    near(read(ControlKind::Squareness([s(0), s(2)], [s(1), s(3)])), diagonals, 1e-9);
    // Left side against right side, either way round: 104.04 less 100.
    let left = (104f64.powi(2) + 9.0).sqrt();
    near(read(ControlKind::Parallel([s(0), s(1)], [s(3), s(2)])), left - 100.0, 1e-9);
    near(read(ControlKind::Parallel([s(0), s(1)], [s(2), s(3)])), left - 100.0, 1e-9);
    near(read(ControlKind::Angle([s(0), s(1)], [s(1), s(2)])), 90.0, 1e-9);
    // The far side rises by 3 to the left, the near side by nothing; both span 100.
    near(read(ControlKind::Level([s(3), s(2)], [s(0), s(1)])), 3.0, 1e-9);
}

/// Tilting and shifting the whole frame changes no control.
#[test]
fn controls_are_blind_to_how_the_frame_lies() {
    let text =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/trailer.toml")).unwrap();
    let text = format!(
        "{text}[[control]]\nname = \"level\"\nkind = \"level\"\nof = [\"rear-left\", \"rear-right\", \"front-left\", \"front-right\"]\n"
    );
    let frame = sound(&text);
    // A small turn: controls are read along fixed directions, so the change is of second order.
    let turn = glam::DQuat::from_scaled_axis(DVec3::new(3e-6, -2e-6, 4e-6));
    for c in &frame.controls {
        let place = |s: Spot| turn * frame.tubes[s.tube].point_at(s.s_mm) + DVec3::new(5.0, 7.0, -3.0);
        near(measure_at(&c.kind, frame.up, place), c.nominal, 1e-5);
    }
}

#[test]
fn a_procedure_for_a_pair_takes_over_what_it_does_not_say() {
    let frame = sound(&format!(
        "{SOUND}[procedure]\nprocess = 135\nleg = 3\nk = 0.7\nk_source = \"own calorimeter\"\n[[procedure_for]]\nbetween = [\"main\", \"box\"]\nlayers = 2\nvertical = \"down\"\n"
    ));
    assert_eq!(frame.procedures.len(), 2);
    let (pair, all) = (&frame.procedures[0], &frame.procedures[1]);
    assert_eq!(
        (pair.between.clone(), pair.leg_mm, pair.layers, pair.vertical_up),
        (vec![0, 1], Some(3.0), Some(2), Some(false))
    );
    assert_eq!((all.between.len(), all.process.k, all.layers), (0, 0.7, None));
    let source = all.process.sources.iter().find(|s| s.0 == "k").unwrap();
    assert_eq!(source.1, "frame file: own calorimeter");
}

#[test]
fn clamps_setups_symmetry_and_wishes() {
    let frame = sound(&format!(
        "{}[[setup]]\nname = \"flat\"\nup = \"Z\"\n[[setup]]\nname = \"turned\"\nup = \"down\"\n[clamps]\nstop = {{ point = \"b\", holds = \"XZ\", setup = \"turned\", release = \"after J1a-2/1\" }}\n[order]\nfirst = [\"J1\"]\napart = [[\"J1\", \"J2\"]]\n[[joint]]\npoint = \"b\"\nopen = [\"10:30-1\"]\ncarrier = \"one\"\n",
        edited(&[("name = \"test\"", "name = \"test\"\nsymmetry = { point = [300, 0, 0], normal = \"X\" }")])
    ));
    assert_eq!(frame.symmetry, SymmetryWish::Plane(DVec3::new(300.0, 0.0, 0.0), DVec3::X));
    let clamp = &frame.clamps[0];
    assert_eq!((clamp.tube, clamp.at_mm, clamp.setups.clone()), (0, 600.0, vec![1]));
    assert_eq!(
        (clamp.holds.clone(), clamp.release.clone()),
        (vec![DVec3::X, DVec3::Z], Release::AfterPass("J1a-2/1".into()))
    );
    assert_eq!(frame.setups[1].up, -DVec3::Z);
    assert_eq!(
        (frame.joint_wishes[0].open.clone(), frame.joint_wishes[0].carrier),
        (vec![(10.5, 1.0)], Some(0))
    );
    assert_eq!((frame.wishes.first.clone(), frame.wishes.apart.len()), (vec!["J1".to_string()], 1));
}

#[test]
fn an_own_material_is_a_built_in_one_with_other_values() {
    let frame = sound(&format!(
        "{}[materials.mine]\nlike = \"S235\"\nyield_mpa = 280\nsource = \"certificate 12\"\n",
        edited(&[("wall = 3 }, material = \"S235\"", "wall = 3 }, material = \"mine\"")])
    ));
    let mine = &frame.materials[frame.sections[0].material];
    let base = holdtrue::library::material("S235").unwrap();
    assert_eq!((mine.name.as_str(), mine.yield_mpa, mine.e_mpa), ("mine", 280.0, base.e_mpa));
    assert!(mine.sources.iter().any(|s| s.0 == "yield_mpa" && s.1.contains("certificate 12")));
}

/// The reader must never panic and never hang, whatever it is given.
#[test]
fn nonsense_is_answered_not_crashed_on() {
    for text in [
        "",
        "\0",
        "]]]]",
        "= = =",
        "holdtrue",
        "holdtrue = {",
        "[[[[",
        "a = [[[[[[",
        "points = 3",
        "tube = 3\nframe = []",
        "'''",
        "\u{feff}",
    ] {
        assert!(read(text).is_err(), "{text:?}");
    }
    // Each way of cutting the file short gives faults or a frame, and text that can be printed.
    for end in 0..SOUND.len() {
        assert!(!said(&SOUND[..end]).is_empty() || read(&SOUND[..end]).is_ok());
    }
    // Each character replaced by a bracket, a quote, nothing.
    for at in 0..SOUND.len() {
        for with in ["[", "\"", "", "-"] {
            let mut text = SOUND.to_string();
            text.replace_range(at..at + 1, with);
            said(&text);
        }
    }
}

proptest::proptest! {
    #![proptest_config(crate::support::cases(200))]
    /// Whole lines taken out, doubled and swapped.
    #[test]
    fn shuffled_lines_are_answered(picks in proptest::collection::vec(0usize..15, 0..20)) {
        let lines: Vec<&str> = SOUND.lines().collect();
        let text: Vec<&str> = picks.iter().map(|i| lines[*i]).collect();
        said(&text.join("\n"));
    }
}
