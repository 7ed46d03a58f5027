//! Drawings written by a general-purpose library (ezdxf 1.4.3, see drawings.py) become frames that plan.

use holdtrue::import::{Imported, Options, Unit, import};

fn options(unit: Option<Unit>) -> Options {
    Options {
        unit,
        snap_mm: 1.0,
        name: "gate".into(),
        section: "{ square = { side = 40, wall = 3 }, material = \"S235\" }".into(),
    }
}

fn drawing(name: &str) -> Imported {
    let path = format!("{}/tests/frames/drawings/{name}.dxf", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(path).expect("the drawing is there");
    import(&bytes, &options(None)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// The same gate from every kind of file: 4 tubes of 1200 and 900 mm with corners mitred, and a brace from
/// (0, 0, 300) to (1200, 0, 600), as drawings.py draws it.
#[test]
fn the_gate_is_the_same_from_every_kind_of_drawing() {
    for name in [
        "r12-lines-mm",
        "r12-polyline-inch",
        "r2000-lines-inch",
        "r2000-polyline-m",
        "r2018-lwpolyline-mm",
        "r2018-block-inch",
    ] {
        let made = drawing(name);
        let frame = holdtrue::frame::read(&made.toml).unwrap_or_else(|f| panic!("{name}: {f:#?}")).value;
        let mut lengths: Vec<f64> = frame.tubes.iter().map(|t| *t.s.last().expect("a run")).collect();
        lengths.sort_by(f64::total_cmp);
        assert_eq!(lengths.len(), 5, "{name}\n{}", made.toml);
        for (got, want) in lengths.iter().zip([900.0, 900.0, 1200.0, 1200.0, 1200.0_f64.hypot(300.0)]) {
            crate::support::near(*got, want, 0.01);
        }
        // It stands upright.
        let reach = |axis: fn(&glam::DVec3) -> f64| {
            let all = frame.tubes.iter().flat_map(|t| &t.axis).map(axis);
            all.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| (lo.min(v), hi.max(v)))
        };
        for (got, want) in
            [(reach(|p| p.x), (0.0, 1200.0)), (reach(|p| p.y), (0.0, 0.0)), (reach(|p| p.z), (0.0, 900.0))]
        {
            crate::support::near(got.0, want.0, 0.01);
            crate::support::near(got.1, want.1, 0.01);
        }
        let parts = holdtrue::plan::parts(&frame).unwrap_or_else(|f| panic!("{name}: {f:#?}"));
        assert_eq!((parts.joints.joints.len(), parts.seams.seams.len()), (6, 6), "{name}");
        assert!(made.toml.contains("brace = {"), "{name}: layers name the tubes\n{}", made.toml);
        assert!(made.guesses.iter().any(|g| g.contains("TEXT passed over")), "{name}: {:?}", made.guesses);
    }
}

#[test]
fn a_unit_that_the_file_does_not_say_is_a_guess_that_is_said() {
    let of = |name: &str| drawing(name).guesses.join("\n");
    assert!(of("r12-lines-mm").contains("millimetres"), "{}", of("r12-lines-mm"));
    assert!(of("r12-polyline-inch").contains("inches"), "{}", of("r12-polyline-inch"));
    // These say it themselves.
    assert!(!of("r2018-lwpolyline-mm").contains("guess") && !of("r2018-lwpolyline-mm").contains("unit"));
}

/// What is imported can be planned at once, and the plan passes its audit.
#[test]
fn an_imported_drawing_plans() {
    let made = crate::support::plans::planned(&drawing("r2018-lwpolyline-mm").toml);
    assert!(made.lines.len() > made.passes.passes.len());
    assert_eq!(holdtrue::plan::audit(&made), Vec::<String>::new());
}

#[test]
fn rubbish_is_refused_clearly() {
    let path = format!("{}/tests/frames/drawings/r2018-block-inch.dxf", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("the drawing is there");
    let refused = |text: &str| import(text.as_bytes(), &options(None)).expect_err("rubbish");
    // A block that holds itself.
    let endless = text.replacen("  2\nside\n 10\n", "  2\ngate\n 10\n", 1);
    assert_ne!(endless, text, "the drawing has another form now");
    assert!(refused(&endless).contains("without end"), "{}", refused(&endless));
    // Cut off in the middle of a pair.
    let half: String =
        text.lines().take(1 + text.lines().count() / 2 / 2 * 2).map(|l| format!("{l}\n")).collect();
    assert!(!refused(&half).is_empty());
    // A coordinate that is no number.
    let broken = text.replace("AcDbLine\n 10\n", "AcDbLine\n 10\nabc\n 999\n");
    assert_ne!(broken, text, "the drawing has another form now");
    assert!(refused(&broken).contains("is not a number"), "{}", refused(&broken));
}
