//! Starter frames and inches, as the user meets them.

use super::bench::{Bench, EXAMPLES, SMALL, example, holdtrue};
use super::json::frame_faults;
use holdtrue::cli::Exit;
use holdtrue::plan::{Options, Watch, audit, parts, plan};
use holdtrue::start::{Profile, SHAPES, Shape, Wish, frame_file};
use holdtrue::units::Units;

fn wish(shape: Shape, units: Units, measures: &[(&str, f64)]) -> Wish {
    let mut wish = Wish::usual(shape, "starter \"one\"", units);
    wish.measures.extend(measures.iter().map(|(k, v)| (k.to_string(), *v)));
    wish
}

/// Reads, fits the schema, has controls and clamps; gives its frame.
fn sound(wish: &Wish) -> holdtrue::frame::Frame {
    let text = frame_file(wish).unwrap_or_else(|e| panic!("{wish:?}: {e}"));
    let found = frame_faults(&text);
    assert!(found.is_empty(), "{found:#?}\n{text}");
    let read = holdtrue::frame::read(&text).expect("frame_file has read it");
    assert!(read.warnings.is_empty(), "{:?}: {:#?}", wish.shape, read.warnings);
    let frame = read.value;
    assert_eq!((frame.name.as_str(), frame.units), ("starter \"one\"", wish.units));
    assert!(frame.controls.len() >= 4, "{text}");
    assert!(frame.clamps.len() >= 4 || wish.shape == Shape::TestTee, "{text}");
    frame
}

#[test]
fn a_frame_of_each_shape_plans_and_passes_its_audit() {
    for shape in SHAPES {
        let frame = sound(&wish(shape, Units::Mm, &[]));
        let found = parts(&frame).expect("sound");
        assert!(found.warnings.is_empty(), "{shape:?}: {:#?}", found.warnings);
        let made = plan(&frame, found, &Options::default(), &Watch::default())
            .unwrap_or_else(|f| panic!("{shape:?}: {f:#?}"));
        assert_eq!(audit(&made), Vec::<String>::new(), "{shape:?}");
        assert_eq!(made.pull.controls.len(), frame.controls.len(), "{shape:?} has no pull");
    }
}

/// Small, large and slender, round and rectangular, mm and inches: the measures asked for are there.
#[test]
fn the_users_own_measures_are_kept() {
    for (shape, small, large) in [
        (Shape::Ladder, [600.0, 300.0, 0.0, 2.0], [6000.0, 1000.0, 0.0, 12.0]),
        (Shape::Base, [500.0, 400.0, 400.0, 0.0], [2000.0, 900.0, 900.0, 4.0]),
        (Shape::AFrame, [500.0, 400.0, 600.0, 0.0], [2000.0, 1200.0, 1800.0, 0.0]),
        (Shape::Cart, [800.0, 500.0, 400.0, 1.0], [3000.0, 1500.0, 1200.0, 5.0]),
        (Shape::Trike, [900.0, 500.0, 300.0, 0.0], [1600.0, 900.0, 600.0, 0.0]),
        (Shape::Gate, [600.0, 0.0, 800.0, 1.0], [3500.0, 0.0, 1200.0, 12.0]),
        (Shape::Cradle, [600.0, 500.0, 200.0, 0.0], [3000.0, 1200.0, 800.0, 0.0]),
        (Shape::TestTee, [300.0, 0.0, 200.0, 0.0], [800.0, 0.0, 600.0, 0.0]),
    ] {
        for (values, units) in [(small, Units::Mm), (large, Units::Mm), (large, Units::Inch)] {
            let named: Vec<(&str, f64)> =
                ["length", "width", "height", "rungs"].into_iter().zip(values).collect();
            let takes = shape.measures();
            let named: Vec<_> = named.into_iter().filter(|n| takes.iter().any(|m| m.key == n.0)).collect();
            let frame = sound(&wish(shape, units, &named));
            // The longest way along X, outside: middle lines and half a section at either end.
            let along = frame.tubes.iter().flat_map(|t| &t.axis).map(|p| p.x);
            let (low, high) =
                along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
            let over = high - low
                + if matches!(shape, Shape::Base | Shape::AFrame | Shape::Gate) {
                    shape.usual_section(units).width()
                } else {
                    0.0
                };
            // The cart's pole and the trike's plates reach beyond the measure.
            if shape != Shape::Cart {
                crate::support::near(over, values[0], 0.1);
            }
            assert!(frame.tubes.len() >= values[3] as usize, "{shape:?}");
        }
    }
    let mut round = wish(Shape::Ladder, Units::Mm, &[]);
    round.section = Profile::read("round 38x2", Units::Mm).expect("sound");
    sound(&round);
    round.shape = Shape::TestTee;
    sound(&round);
    let mut flat = wish(Shape::Cart, Units::Mm, &[]);
    flat.section = Profile::read("60x40x3", Units::Mm).expect("sound");
    sound(&flat);
}

#[test]
fn new_writes_a_file_says_what_next_and_never_overwrites() {
    let bench = Bench::new();
    let said =
        bench.run("new rack --shape ladder --out @rack.toml --length 900 --rungs 3 --section 30x2").well();
    assert!(said.err.contains("holdtrue plan rack.toml --pdf wall.pdf"), "{}", said.err);
    let text = String::from_utf8(bench.bytes("rack.toml")).expect("UTF-8");
    assert!(text.contains("side = 30, wall = 2") && text.contains("[900, "), "{text}");
    assert!(text.lines().filter(|l| l.starts_with('#')).count() > 8, "a starter explains itself\n{text}");
    let again = bench.run("new rack --shape gate --out @rack.toml");
    assert_eq!(again.exit, Exit::CannotCreate);
    assert!(again.err.contains("--force"), "{}", again.err);
    assert_eq!(bench.bytes("rack.toml"), text.as_bytes());
    bench.run("new rack --shape gate --out @rack.toml --force").well();
    assert_ne!(bench.bytes("rack.toml"), text.as_bytes());
    bench.run("check @rack.toml --out @rack.svg -q").well();
    assert!(bench.bytes("rack.svg").starts_with(b"<svg"));
    assert_eq!(bench.run("check @rack.toml --out @rack.svg -q").exit, Exit::CannotCreate);
    for (words, want) in [
        ("new rack --shape ladder --width 9 --out -", "width over both rails"),
        ("new rack --shape ladder --section 40 --out -", "no section"),
        ("new rack --shape ladder --material cheese --out -", "no built-in material"),
        ("new rack --shape ladder --process 7 --out -", "no process 7"),
        ("new rack --shape gate --width 900 --out -", "takes length, height, rungs"),
        ("new rack --shape trike --section 40x3 --out -", "round tube"),
    ] {
        let said = bench.run(words);
        assert_eq!(said.exit, Exit::Usage, "{words}");
        assert!(said.err.contains(want) && said.out.is_empty(), "{words}: {}", said.err);
    }
}

/// The unit of a sheet is that of its reader; what is computed, and the JSON, is the same to the byte.
#[test]
fn in_inches_no_millimetre_is_left_on_the_sheet_and_the_json_is_the_same() {
    let run = |words: &str, name: &str| {
        let words = words.split(' ').map(std::ffi::OsString::from).chain([example(name).into()]);
        holdtrue(words).well()
    };
    for name in EXAMPLES {
        let inch = run("check --units inch", name);
        for line in inch.text().lines() {
            let mm = line.split(|c: char| !c.is_alphanumeric()).any(|w| w == "mm");
            assert!(!mm, "{name}: {line}");
        }
    }
    for name in SMALL {
        let sheet = run("plan --effort rules --why --quiet --units inch", name);
        for line in sheet.text().lines() {
            let mm = line.split(|c: char| !c.is_alphanumeric()).any(|w| w == "mm");
            assert!(!mm, "{name}: {line}");
        }
        assert!(sheet.text().contains("nearest 1/64\""));
        let json =
            |units: &str| run(&format!("plan --effort rules --json - --quiet --units {units}"), name).out;
        assert_eq!(json("inch"), json("mm"), "{name}");
        let mm = run("plan --effort rules --quiet", name);
        assert!(!mm.text().contains("inches"), "{name}");
    }
}

/// By hand: 600 mm is 23.622 inches, 23 5/8 on a tape to the nearest 1/64 (23 40/64 = 23.625).
#[test]
fn the_numbers_on_an_inch_sheet_are_right() {
    let said = holdtrue(["check".into(), "--units".into(), "inch".into(), example("square").into()]).well();
    let row = said.text().lines().find(|l| l.contains("width")).expect("the control");
    assert!(row.contains("23 5/8\"") && row.contains("±1/8\""), "{row}");
    let tube = said.text().lines().find(|l| l.trim_start().starts_with("front ")).expect("the tube");
    // 40 x 3 mm is 1.575 x 0.118 in: no fractions of a tape.
    assert!(tube.contains("□1.575\" × 0.118\"") && tube.contains("23 5/8\""), "{tube}");
}
