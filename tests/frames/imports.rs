//! Drawings written by a general-purpose library (ezdxf 1.4.3, see drawings.py) become frames that plan.

use holdtrue::import::{Imported, Options, Unit, import};
use holdtrue::units::Units;

fn options(unit: Option<Unit>) -> Options {
    Options {
        unit,
        write_in: Units::Mm,
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

/// A drawing does not say what must come out true: the shape proposes it, the file says that it is a guess,
/// and the lines for clamps and the bench hold when their # is taken away.
#[test]
fn dimensions_and_clamps_are_proposed_and_plan() {
    let made = drawing("r2018-lwpolyline-mm");
    let frame = holdtrue::frame::read(&made.toml).expect("it reads").value;
    let names: Vec<&str> = frame.controls.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(
        names,
        ["length-low", "length-high", "height-back", "height-front", "diagonals", "flat", "frame-2-straight"],
        "{}",
        made.toml
    );
    for (c, want) in frame.controls.iter().zip([1200.0, 1200.0, 900.0, 900.0, 0.0, 0.0, 0.0]) {
        crate::support::near(c.nominal, want, 0.01);
    }
    assert!(made.guesses.iter().any(|g| g.contains("proposed from the shape")), "{:?}", made.guesses);
    assert!(frame.clamps.is_empty() && frame.setups.len() <= 1);
    let live = |line: &str| {
        let bare = line.strip_prefix("# ").unwrap_or(line);
        let starts = ["[clamps]", "[[setup]]", "[procedure]", "name = ", "up = ", "process = "];
        let clamp = bare.contains("= { point = ");
        if clamp || starts.iter().any(|s| bare.starts_with(s)) { bare.to_string() } else { line.to_string() }
    };
    let filled: Vec<String> = made.toml.lines().map(live).collect();
    let filled = holdtrue::frame::read(&filled.join("\n")).expect("the proposed lines hold").value;
    assert_eq!((filled.clamps.len(), filled.setups.len()), (4, 2));
    for frame in [frame, filled] {
        let made = crate::support::plans::plan_of(&frame, &holdtrue::plan::Options::default());
        assert_eq!(holdtrue::plan::audit(&made), Vec::<String>::new());
        assert_eq!(made.pull.controls.len(), 7);
        let hold = |l: &holdtrue::plan::Line| matches!(l.act, holdtrue::plan::Act::Hold { .. });
        assert!(made.lines.iter().any(hold), "nothing is measured");
    }
}

/// A box has depth too; what suggests nothing gets its farthest points; a lone line gets nothing.
#[test]
fn what_is_proposed_follows_the_shape() {
    let names = |rows: &[[f64; 6]]| {
        let mut text = String::new();
        for (n, r) in rows.iter().enumerate() {
            let (a, b) = (2 * n + 1, 2 * n + 2);
            text += &format!("v {} {} {}\nv {} {} {}\nl {a} {b}\n", r[0], r[1], r[2], r[3], r[4], r[5]);
        }
        let made = import(text.as_bytes(), &options(Some(Unit::Mm))).expect("sound");
        let frame =
            holdtrue::frame::read(&made.toml).unwrap_or_else(|f| panic!("{f:#?}\n{}", made.toml)).value;
        frame.controls.iter().map(|c| format!("{} {:.0}", c.name, c.nominal)).collect::<Vec<_>>()
    };
    let ring = |z: f64| {
        [
            [0.0, 0.0, 800.0, 0.0],
            [800.0, 0.0, 800.0, 500.0],
            [800.0, 500.0, 0.0, 500.0],
            [0.0, 500.0, 0.0, 0.0],
        ]
        .map(|[a, b, c, d]| [a, b, z, c, d, z])
    };
    let legs =
        [[0.0, 0.0], [800.0, 0.0], [800.0, 500.0], [0.0, 500.0]].map(|[x, y]| [x, y, 0.0, x, y, 600.0]);
    let bench: Vec<[f64; 6]> = ring(600.0).into_iter().chain(legs).collect();
    // Longest sides X and Z: the box stands 600 high and is 500 deep.
    let got = names(&bench);
    assert!(got.contains(&"length-low 800".into()) && got.contains(&"height-back 600".into()), "{got:?}");
    assert!(
        got.contains(&"width-back-low 500".into()) || got.contains(&"width-front-high 500".into()),
        "{got:?}"
    );
    let star = [[0.0, 0.0, 0.0, 700.0, 0.0, 0.0], [350.0, 0.0, 0.0, 350.0, 60.0, 0.0]];
    assert_eq!(names(&star), ["over-all 700", "tube-1-straight 0"]);
    let lone = import(b"v 0 0 0\nv 500 0 0\nl 1 2\n", &options(Some(Unit::Mm))).expect("sound");
    assert!(!lone.toml.contains("[controls]") && lone.guesses.is_empty(), "{}", lone.toml);
}

/// In inches: the same frame, and `--units` says in what the file is written, `--drawn-in` in what the drawing is.
#[test]
fn a_frame_file_in_inches_is_the_same_frame() {
    let path = format!("{}/tests/frames/drawings/r2018-lwpolyline-mm.dxf", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(path).expect("the drawing is there");
    let section = "{ square = { side = \"1 1/2\", wall = \"1/8\" }, material = \"S235\" }".into();
    let inch = import(&bytes, &Options { write_in: Units::Inch, section, ..options(None) }).expect("sound");
    let frame = holdtrue::frame::read(&inch.toml).unwrap_or_else(|f| panic!("{f:#?}\n{}", inch.toml)).value;
    assert_eq!(frame.units, Units::Inch);
    let over = frame.controls.iter().find(|c| c.name == "length-low").expect("proposed");
    crate::support::near(over.nominal, 1200.0, 0.005);
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
