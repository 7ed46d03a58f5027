//! Random frames of every kind of joint, sound and degenerate: an answer each time, and no number that
//! is none.

use super::dice::Dice;
use super::rounds;
use holdtrue::output::{fill, json, text};
use holdtrue::plan::{self, Effort, From, Options, Watch};
use std::fmt::Write;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed};

/// What became of a frame file.
pub enum Fate {
    /// It was refused, with reasons.
    Refused(Vec<&'static str>),
    /// It was planned: so many passes.
    Planned(usize),
}

/// The whole line from the text of a frame file to its sheet.
pub fn whole_line(file: &str) -> Fate {
    let refused = |faults: Vec<holdtrue::fault::Fault>| {
        assert!(!faults.is_empty(), "refused without a reason");
        for f in &faults {
            assert!(!f.message.trim().is_empty() && f.code.len() == 4, "{f:?}");
            if let Some(at) = &f.at {
                assert!(at.start <= at.end && at.end <= file.len(), "{f:?} points outside the file");
                assert!(file.is_char_boundary(at.start) && file.is_char_boundary(at.end), "{f:?}");
            }
            for words in [&f.message, &f.label] {
                assert!(!unsound(words, file), "{}: {words}", f.code);
            }
        }
        Fate::Refused(faults.iter().map(|f| f.code).collect())
    };
    let frame = match holdtrue::frame::read(file) {
        Ok(read) => read.value,
        Err(faults) => return refused(faults),
    };
    let parts = match plan::parts(&frame) {
        Ok(parts) => parts,
        Err(faults) => return refused(faults),
    };
    let options = Options { seed: 1, effort: Effort::Rules, frame_sha256: String::new(), from: From::Tacks };
    let stop = AtomicBool::new(false);
    let watch = Watch { stop: &stop, progress: Box::new(|_, _| {}) };
    let plan = match plan::plan(&frame, parts, &options, &watch) {
        Ok(plan) => plan,
        Err(faults) => return refused(faults),
    };
    let found = plan::audit(&plan);
    assert!(found.is_empty(), "{found:?}");
    let sheet = fill::sheet(&plan, "");
    let printed = text::text(&sheet, text::TextLook { width: 100, colour: false, reasons: true });
    for word in printed.split_whitespace() {
        assert!(!unsound(word, file), "on the sheet: {word}");
    }
    // JSON has no word for what is not a number: `null` stands where one was.
    let value: serde_json::Value = serde_json::from_str(&json::json(&plan)).expect("JSON");
    no_null(&value, "plan");
    Fate::Planned(plan.passes.passes.len())
}

/// A number that is none, as Rust prints it; not if the file of the frame calls something so.
fn unsound(words: &str, file: &str) -> bool {
    let named = |w: &str| file.contains(&format!("\"{w}\"")) || file.contains(&format!("{w} ="));
    let bare = |w: &&str| ["NaN", "inf"].contains(&w.trim_start_matches('-'));
    words.split(|c: char| !c.is_alphanumeric() && c != '-' && c != '_').filter(bare).any(|w| !named(w))
}

fn no_null(value: &serde_json::Value, at: &str) {
    match value {
        serde_json::Value::Array(all) => all.iter().enumerate().for_each(|(i, v)| match v {
            serde_json::Value::Null => panic!("{at}[{i}] is no number"),
            _ => no_null(v, at),
        }),
        serde_json::Value::Object(all) => all.iter().for_each(|(k, v)| no_null(v, &format!("{at}.{k}"))),
        _ => {}
    }
}

/// A length that somebody, or somebody's mistake, might write.
fn length(dice: &mut Dice) -> f64 {
    match dice.below(12) {
        0 => 0.0,
        1 => dice.between(0.0, 1e-3),
        2 => dice.between(0.0, 3.0),
        3 => dice.between(1e4, 1e7),
        4 => -dice.between(0.0, 100.0),
        _ => dice.between(20.0, 1500.0),
    }
}

fn section(dice: &mut Dice) -> String {
    // Sound most of the time; inch sizes, equal sizes (β = 1) and impossible walls among them.
    let size = *dice.one(&[25.4, 30.0, 40.0, 40.0, 50.8, 60.3, 114.3]);
    let wall = *dice.one(&[1.2, 1.65, 2.0, 3.0, 3.0, 5.0, 8.0, 25.0]);
    let material = *dice.one(&["S235", "S355", "E355", "25CrMo4", "304", "316L", "6061", "6082", "1020"]);
    let shape = match dice.below(9) {
        0..=2 => format!("round = {{ od = {size}, wall = {wall} }}"),
        3..=4 => format!("square = {{ side = {size}, wall = {wall} }}"),
        5 => format!("rectangular = {{ height = {size}, width = {}, wall = {wall} }}", size * 1.5),
        6 => format!("flat = {{ width = {size}, thickness = {wall} }}"),
        7 => format!("solid = {{ od = {size} }}"),
        _ => format!("round = {{ od = {}, wall = {} }}", length(dice), length(dice)),
    };
    format!("{{ {shape}, material = \"{material}\" }}")
}

/// A frame file: a jumble of tubes between points, some on one another, with plates, bars along tubes,
/// controls, clamps and setups; `wild` ones may hold any number.
pub fn jumble(dice: &mut Dice, wild: bool) -> String {
    let mut file = String::from("holdtrue = 1\n[frame]\nname = \"jumble\"\n[sections]\n");
    let sections = 1 + dice.below(3);
    for i in 0..sections {
        let one = if wild || dice.once_in(3) {
            section(dice)
        } else {
            "{ round = { od = 40, wall = 2 }, material = \"S235\" }".into()
        };
        let _ = writeln!(file, "s{i} = {one}");
    }
    let scale = if wild { *dice.one(&[1.0, 1.0, 1.0, 25.4, 0.04, 1e3]) } else { 1.0 };
    let far = if wild && dice.once_in(6) { 1e6 } else { 0.0 };
    let points = 3 + dice.below(7);
    let _ = writeln!(file, "[points]");
    let mut places: Vec<[f64; 3]> = Vec::new();
    for i in 0..points {
        let at = match dice.below(8) {
            // Near another one: short tubes, tiny angles.
            0 if i > 0 && wild => dice.one(&places).map(|x| x + dice.between(-2.0, 2.0)),
            1 if i > 1 && wild => {
                let (a, b) = (*dice.one(&places), *dice.one(&places));
                std::array::from_fn(|k| 0.5 * (a[k] + b[k]))
            }
            _ => {
                // On a coarse grid, so that tubes are square, parallel and coincident often; tame points
                // differ.
                let step = 300.0 * scale;
                let mut spot =
                    || std::array::from_fn(|k| far + step * dice.below(if k == 2 { 2 } else { 4 }) as f64);
                let mut at: [f64; 3] = spot();
                while !wild && places.contains(&at) {
                    at = spot();
                }
                at
            }
        };
        places.push(at);
        let _ = writeln!(file, "p{i} = [{}, {}, {}]", at[0], at[1], at[2]);
    }
    let _ = writeln!(file, "[tubes]");
    let tubes = points - 1 + dice.below(4);
    for i in 0..tubes {
        let place = |dice: &mut Dice| match dice.below(6) {
            0 if i > 0 => {
                let at = match dice.below(4) {
                    0 => "\"middle\"".to_string(),
                    1 => "\"start\"".to_string(),
                    _ => format!("{:.1}", dice.between(0.0, 700.0)),
                };
                let face = match dice.below(4) {
                    0 => format!(", face = \"{}\"", dice.one(&["top", "left", "inner", "-Y", "front"])),
                    1 if dice.once_in(2) => format!(", slot = {:.0}", dice.between(0.0, 60.0)),
                    _ => String::new(),
                };
                format!("{{ on = \"t{}\", at = {at}{face} }}", dice.below(i))
            }
            _ => format!("\"p{}\"", dice.below(points)),
        };
        // Tame tubes make a tree first, each from a point that is in use to a new one, then close loops.
        let (a, b) = match (wild, i + 1 < points) {
            (true, _) => (place(dice), place(dice)),
            (false, true) => (format!("\"p{}\"", dice.below(i + 1)), format!("\"p{}\"", i + 1)),
            (false, false) => {
                let p = dice.below(points);
                let q = (p + 1 + dice.below(points - 1)) % points;
                if dice.once_in(3) {
                    (format!("\"p{p}\""), format!("{{ on = \"t{}\", at = \"middle\" }}", dice.below(i)))
                } else {
                    (format!("\"p{p}\""), format!("\"p{q}\""))
                }
            }
        };
        let through = match wild && dice.once_in(4) {
            true => format!("\"p{}\", ", dice.below(points)),
            false => String::new(),
        };
        let more = match dice.below(9) {
            0 if wild => format!(", bend_radius = {:.0}", dice.between(20.0, 200.0)),
            1 => format!(", roll = {:.0}", dice.between(-90.0, 90.0)),
            2 => ", height = \"X\"".into(),
            _ => String::new(),
        };
        let _ = writeln!(
            file,
            "t{i} = {{ section = \"s{}\", run = [{a}, {through}{b}]{more} }}",
            dice.below(sections)
        );
    }
    if dice.once_in(4) {
        let _ = writeln!(
            file,
            "[[plate]]\nname = \"plate\"\nsize = [{:.0}, {:.0}]\nthickness = {:.0}\non = \"t0\"\nat = \"middle\"\nface = \"top\"",
            dice.between(10.0, 200.0),
            dice.between(10.0, 200.0),
            dice.between(1.0, 12.0)
        );
    }
    if dice.once_in(5) {
        let _ = writeln!(
            file,
            "[[along]]\nname = \"bar\"\nsection = \"s{}\"\non = \"t{}\"\nface = \"{}\"",
            dice.below(sections),
            dice.below(tubes),
            dice.one(&["top", "left", "bottom"])
        );
    }
    let spot =
        |dice: &mut Dice| format!("\"t{}:{}\"", dice.below(tubes), dice.one(&["start", "middle", "end"]));
    for i in 0..dice.below(3) {
        let (kind, count) =
            *dice.one(&[("distance", 2), ("twist", 4), ("squareness", 4), ("from-plane", 4), ("level", 4)]);
        let of: Vec<String> = (0..count).map(|_| spot(dice)).collect();
        let _ = writeln!(
            file,
            "[[control]]\nname = \"c{i}\"\nkind = \"{kind}\"\nof = [{}]\ntolerance = {}",
            of.join(", "),
            dice.one(&["1", "0.5", "2"])
        );
    }
    for i in 0..dice.below(4) {
        let _ = writeln!(
            file,
            "[[clamp]]\nname = \"k{i}\"\ntube = \"t{}\"\nat = {}\nholds = \"{}\"",
            dice.below(tubes),
            dice.one(&["\"start\"", "\"end\"", "\"middle\"", "100"]),
            dice.one(&["XYZ", "XY", "Z"])
        );
    }
    if dice.once_in(3) {
        file.push_str("[[setup]]\nname = \"up\"\nup = \"Z\"\n[[setup]]\nname = \"down\"\nup = \"-Z\"\n");
    }
    file
}

#[test]
fn a_jumble_of_tubes_is_planned_or_refused_with_a_reason() {
    let (planned, refused) = (AtomicUsize::new(0), AtomicUsize::new(0));
    rounds("jumbles", 160, |seed| {
        let file = jumble(&mut Dice::new(seed), false);
        match whole_line(&file) {
            Fate::Planned(_) => planned.fetch_add(1, Relaxed),
            Fate::Refused(_) => refused.fetch_add(1, Relaxed),
        };
    });
    let (planned, refused) = (planned.into_inner(), refused.into_inner());
    eprintln!("jumbles: {planned} planned, {refused} refused");
    assert!(planned > 10, "hardly a frame is planned: {planned} of {}", planned + refused);
}

#[test]
fn wild_numbers_are_planned_or_refused_with_a_reason() {
    rounds("wild", 300, |seed| {
        whole_line(&jumble(&mut Dice::new(seed ^ 0x5EED), true));
    });
}

/// Two rails and rungs on them, the second pair of numbers what is odd about it.
fn rungs(rail: &str, rung: &str, lean_mm: f64, far_mm: f64, scale: f64) -> String {
    let p = |x: f64, y: f64| format!("[{}, {}, {}]", far_mm + x * scale, far_mm + y * scale, far_mm);
    format!(
        "holdtrue = 1\n[frame]\nname = \"odd\"\n[sections]\nrail = {{ {rail}, material = \"S235\" }}\n\
         rung = {{ {rung}, material = \"S235\" }}\n[tubes]\n\
         left = {{ section = \"rail\", run = [{}, {}] }}\nright = {{ section = \"rail\", run = [{}, {}] }}\n\
         a = {{ section = \"rung\", run = [{}, {}] }}\nb = {{ section = \"rung\", run = [{}, {}] }}\n\
         [controls]\nwide = {{ kind = \"distance\", of = [\"left:end\", \"right:end\"], tolerance = 1 }}\n",
        p(0.0, 300.0),
        p(1200.0, 300.0),
        p(0.0, -300.0),
        p(1200.0, -300.0),
        p(300.0, 300.0),
        p(300.0 + lean_mm, -300.0),
        p(900.0, 300.0),
        p(900.0 - lean_mm, -300.0),
    )
}

/// What is odd but can be built is planned; what cannot is refused, and the word says which.
#[test]
fn odd_geometry() {
    let round = "round = { od = 40, wall = 2 }";
    let thin = "round = { od = 25, wall = 1.5 }";
    let planned = |what: &str, file: &str| match whole_line(file) {
        Fate::Planned(n) => assert!(n > 0, "{what}: nothing to weld"),
        Fate::Refused(codes) => panic!("{what} is refused: {codes:?}\n{file}"),
    };
    planned("equal tubes (β = 1)", &rungs(round, round, 0.0, 0.0, 1.0));
    planned("a lean of 27 degrees", &rungs(round, thin, 300.0, 0.0, 1.0));
    assert!(
        matches!(whole_line(&rungs(round, thin, 600.0, 0.0, 1.0)), Fate::Refused(_)),
        "through each other"
    );
    planned("ten metres from the origin", &rungs(round, thin, 0.0, 1e4, 1.0));
    planned("a kilometre from the origin", &rungs(round, thin, 0.0, 1e6, 1.0));
    planned("thirty metres long", &rungs(round, thin, 0.0, 0.0, 25.0));
    planned("box on round", &rungs(round, "square = { side = 25, wall = 2 }", 0.0, 0.0, 1.0));
    planned("round on box", &rungs("square = { side = 40, wall = 3 }", thin, 0.0, 0.0, 1.0));
    planned("bar on tube", &rungs(round, "solid = { od = 12 }", 0.0, 0.0, 1.0));
    // Inch numbers read as millimetres: the frame is smaller than its tubes.
    assert!(matches!(whole_line(&rungs(round, thin, 0.0, 0.0, 1.0 / 25.4)), Fate::Refused(_)));
    // Wider than what it stands on.
    let wide = rungs(thin, round, 0.0, 0.0, 1.0);
    assert!(matches!(whole_line(&wide), Fate::Refused(_)), "a branch wider than its carrier");
}

/// A spacer of half a millimetre between two tubes has no cell in the heat mesh; its rise was 0/0 and stood as
/// "NaN" on the sheet, which [`whole_line`] looks for.
#[test]
fn a_tube_too_short_for_the_heat_mesh() {
    let file = "holdtrue = 1\n[frame]\nname = \"spacer\"\n[sections]\nmain = { round = { od = 30, wall = 2 }, \
                material = \"S235\" }\n[tubes]\na = { section = \"main\", run = [[0, 0, 0], [500, 0, 0]] }\nb = { \
                section = \"main\", run = [[500, 0, 0], [500.6, 0, 0]] }\nc = { section = \"main\", run = [[500.6, \
                0, 0], [1000, 0, 0]] }\n[controls]\nlong = { kind = \"distance\", of = [\"a:start\", \"c:end\"], \
                tolerance = 1 }\n";
    match whole_line(file) {
        Fate::Planned(n) => assert!(n > 4, "{n} passes"),
        Fate::Refused(codes) => panic!("refused: {codes:?}"),
    }
}
