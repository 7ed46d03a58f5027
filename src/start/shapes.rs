//! The shapes, tube by tube.

use super::pieces::Text;
use super::{Profile, Shape, Wish};

const OVER: [(&str, &str); 2] = [("right way up", "Z"), ("upside down", "-Z")];
const CORNERS: [&str; 4] = ["front-left", "front-right", "back-right", "back-left"];

/// The text of the frame file.
///
/// # Errors
/// In words, if the measures leave no room for a part.
pub fn text(wish: &Wish) -> Result<String, String> {
    match wish.shape {
        Shape::Ladder => ladder(wish),
        Shape::Base => base(wish),
        Shape::AFrame => a_frame(wish),
        Shape::Cart => cart(wish),
        Shape::Trike => trike(wish),
        Shape::Gate => gate(wish),
        Shape::Cradle => cradle(wish),
        Shape::TestTee => test_tee(wish),
    }
}

/// Head and sections.
fn begin(wish: &Wish, second: &str) -> Text {
    let mut t = Text::new(wish);
    t.line(
        "# People ride it, lift with it or work under it: cautious. Say false only if none of that is so.",
    );
    t.line("carries_people = true");
    t.gap();
    t.line("# Sections: a shape, its sizes and a material; `holdtrue materials` lists those built in.");
    t.line("[sections]");
    t.section("main", wish.section, &wish.material);
    if !second.is_empty() {
        t.section(second, wish.second(), &wish.material);
    }
    t.gap();
    t
}

/// Places of `n` rungs along a length, the first and last `inset` from its ends.
fn evenly(
    wish: &Wish,
    n: usize,
    length: f64,
    inset: f64,
    width: f64,
    what: &str,
) -> Result<Vec<f64>, String> {
    let at: Vec<f64> = match n {
        1 => vec![length / 2.0],
        _ => (0..n).map(|i| inset + (length - 2.0 * inset) * i as f64 / (n - 1) as f64).collect(),
    };
    // Less than the torch needs between two tubes.
    let gap = at.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min) - width;
    if gap < 25.0 {
        return Err(format!("{n} {what} are closer than a torch needs (25 mm) on this length: take fewer"));
    }
    Ok(at.iter().map(|x| wish.neat(*x)).collect())
}

fn open_ended(t: &mut Text) {
    t.line("# A tube with an open end breathes; a closed one gets a vent hole, the sheet says when.");
}

fn must_come_true(t: &mut Text) {
    t.gap();
    t.line("# What must come out true. A tolerance is a number (plus or minus) or a class of ISO 13920.");
    t.line("[controls]");
}

fn fixture(t: &mut Text) {
    t.gap();
    t.line("# The fixture: where stops and clamps hold, and in which directions. Put yours.");
    t.line("[clamps]");
}

fn ladder(wish: &Wish) -> Result<String, String> {
    let (l, w, n) = (wish.get("length"), wish.get("width"), wish.get("rungs") as usize);
    let y = (w - wish.section.width()) / 2.0;
    let second = wish.second();
    let at = evenly(wish, n, l, second.width() * 1.5, second.width(), "rungs")?;
    let mut t = begin(wish, "rung");
    t.line("[tubes]");
    rails(&mut t, l, y);
    for (i, x) in at.iter().enumerate() {
        let run = [t.on("rail-left", *x, "right"), t.on("rail-right", *x, "left")];
        t.tube(&format!("rung-{}", i + 1), "rung", &run, false);
    }
    must_come_true(&mut t);
    flat_controls(&mut t);
    fixture(&mut t);
    rail_clamps(&mut t);
    Ok(t.end(wish.process, &OVER))
}

/// Two rails along X.
fn rails(t: &mut Text, length: f64, y: f64) {
    open_ended(t);
    for (name, y) in [("rail-left", y), ("rail-right", -y)] {
        let run = [t.p([0.0, y, 0.0]), t.p([length, y, 0.0])];
        t.tube(name, "main", &run, true);
    }
}

fn flat_controls(t: &mut Text) {
    let four = ["rail-left:start", "rail-left:end", "rail-right:end", "rail-right:start"];
    t.control("width-back", "distance", &["rail-left:start", "rail-right:start"], "tolerance = \"B\"");
    t.control("width-front", "distance", &["rail-left:end", "rail-right:end"], "tolerance = \"B\"");
    t.control("diagonals", "squareness", &four, "tolerance = \"B\"");
    t.control("flat", "twist", &four, "tolerance = \"F\"");
    t.control("left-rail-bow", "bow", &["rail-left"], "direction = \"up\", tolerance = \"F\"");
}

fn rail_clamps(t: &mut Text) {
    t.clamp("back-left", "rail-left", "\"start\"", "XYZ");
    t.clamp("back-right", "rail-right", "\"start\"", "YZ");
    t.clamp("front-left", "rail-left", "\"end\"", "YZ");
    t.clamp("front-right", "rail-right", "\"end\"", "YZ");
}

/// A mitred ring in the plane of height `z`, its corners named; goes through them in turn.
fn ring_points(t: &mut Text, l: f64, w: f64, z: f64) {
    t.line("# Where the middle lines of the ring meet.");
    t.line("[points]");
    for (name, (x, y)) in CORNERS.iter().zip([(l, w), (l, -w), (-l, -w), (-l, w)]) {
        let line = format!("{name} = {}", t.p([x / 2.0, y / 2.0, z]));
        t.line(&line);
    }
    t.gap();
    t.line("[tubes]");
    t.line("# Two ends that meet at a corner are mitred.");
    for (name, a, b) in [("front", 0, 1), ("right", 1, 2), ("back", 2, 3), ("left", 3, 0)] {
        t.tube(name, "main", &[format!("\"{}\"", CORNERS[a]), format!("\"{}\"", CORNERS[b])], false);
    }
}

fn ring_controls(t: &mut Text) {
    t.control("length-left", "distance", &["front-left", "back-left"], "tolerance = \"B\"");
    t.control("length-right", "distance", &["front-right", "back-right"], "tolerance = \"B\"");
    t.control("width-front", "distance", &["front-left", "front-right"], "tolerance = \"B\"");
    t.control("diagonals", "squareness", &CORNERS, "tolerance = \"B\"");
    t.control("flat", "twist", &CORNERS, "tolerance = \"F\"");
}

/// Cross members between the left and the right side of a ring; `at` counts from the ring's front on the
/// left tube's start, which is at the back.
fn cross_members(t: &mut Text, at: &[f64], length: f64) {
    for (i, x) in at.iter().enumerate() {
        let run = [t.on("left", *x, "right"), t.on("right", length - x, "left")];
        t.tube(&format!("cross-{}", i + 1), "cross", &run, false);
    }
}

fn base(wish: &Wish) -> Result<String, String> {
    square_only(wish)?;
    let s = wish.section;
    let (l, w, h) = (wish.get("length") - s.width(), wish.get("width") - s.width(), wish.get("height"));
    let n = wish.get("rungs") as usize;
    let second = wish.second();
    let at = inside(wish, n, l, second.width(), s.width(), "cross members")?;
    let top = h - s.height();
    let low = wish.neat((0.2 * h).max(s.height()));
    let mut t = begin(wish, "cross");
    ring_points(&mut t, l, w, h - s.height() / 2.0);
    cross_members(&mut t, &at, l);
    t.line("# Legs stand on the floor and carry the corners; open at the foot.");
    for (name, (x, y)) in CORNERS.iter().zip([(l, w), (l, -w), (-l, -w), (-l, w)]) {
        let run = [t.p([x / 2.0, y / 2.0, 0.0]), t.p([x / 2.0, y / 2.0, top])];
        t.tube(&format!("leg-{name}"), "main", &run, true);
    }
    t.line("# The lower ring, between the legs; `at` counts from the floor.");
    for (name, a, b, from, to) in [
        ("low-front", 0, 1, "-Y", "Y"),
        ("low-right", 1, 2, "-X", "X"),
        ("low-back", 2, 3, "Y", "-Y"),
        ("low-left", 3, 0, "X", "-X"),
    ] {
        let run =
            [t.on(&format!("leg-{}", CORNERS[a]), low, from), t.on(&format!("leg-{}", CORNERS[b]), low, to)];
        t.tube(name, "cross", &run, false);
    }
    must_come_true(&mut t);
    ring_controls(&mut t);
    let feet: Vec<String> = CORNERS.iter().map(|c| format!("leg-{c}:start")).collect();
    let feet: Vec<&str> = feet.iter().map(String::as_str).collect();
    t.control("feet-diagonals", "squareness", &feet, "tolerance = \"B\"");
    t.control("feet-flat", "twist", &feet, "tolerance = \"F\"");
    fixture(&mut t);
    for (i, c) in CORNERS.iter().enumerate() {
        t.clamp(&format!("foot-{c}"), &format!("leg-{c}"), "\"start\"", if i == 3 { "XYZ" } else { "YZ" });
    }
    Ok(t.end(wish.process, &OVER))
}

/// Places of `n` members inside a ring, evenly between its ends.
fn inside(wish: &Wish, n: usize, length: f64, width: f64, ends: f64, what: &str) -> Result<Vec<f64>, String> {
    let pitch = length / (n + 1) as f64;
    if n > 0 && pitch - width.max((width + ends) / 2.0) < 25.0 {
        return Err(format!("{n} {what} are closer than a torch needs (25 mm) on this length: take fewer"));
    }
    Ok((1..=n).map(|i| wish.neat(pitch * i as f64)).collect())
}

fn square_only(wish: &Wish) -> Result<(), String> {
    match wish.section.round() || wish.second().round() {
        true => Err(format!(
            "a {} starter is made of square or rectangular tube, whose ends are cut straight",
            wish.shape.word()
        )),
        false => Ok(()),
    }
}

fn a_frame(wish: &Wish) -> Result<String, String> {
    square_only(wish)?;
    let s = wish.section;
    let (l, w, h) = (wish.get("length") - s.width(), wish.get("width"), wish.get("height"));
    let leg = h.hypot(w / 2.0);
    let along = |z: f64| wish.neat(z * leg / h);
    let mut t = begin(wish, "tie");
    t.line("[points]");
    for (end, x) in [("front", l / 2.0), ("back", -l / 2.0)] {
        for (name, y, z) in [("foot-left", w / 2.0, 0.0), ("peak", 0.0, h), ("foot-right", -w / 2.0, 0.0)] {
            let line = format!("{end}-{name} = {}", t.p([x, y, z]));
            t.line(&line);
        }
    }
    t.gap();
    t.line("[tubes]");
    t.line("# Legs are mitred at the peak and open at the foot; `height` turns their flat sides to front and back.");
    for end in ["front", "back"] {
        for side in ["left", "right"] {
            let run = [format!("\"{end}-foot-{side}\""), format!("\"{end}-peak\"")];
            let open = format!(
                "{end}-{side} = {{ section = \"main\", run = [{}], height = \"X\", vented = true }}",
                run.join(", ")
            );
            t.line(&open);
        }
    }
    t.line("# Ties hold the legs of each A together, stretchers and the spine hold one A to the other.");
    for end in ["front", "back"] {
        let at = along(0.45 * h);
        let run = [t.on(&format!("{end}-left"), at, "-Y"), t.on(&format!("{end}-right"), at, "Y")];
        t.tube(&format!("tie-{end}"), "tie", &run, false);
    }
    for side in ["left", "right"] {
        let at = along(0.15 * h);
        let run = [t.on(&format!("front-{side}"), at, "-X"), t.on(&format!("back-{side}"), at, "X")];
        // Turned with the leg, so that it lies flat within the leg's face.
        let lean = if side == "left" { -w / 2.0 } else { w / 2.0 };
        let line = format!(
            "stretcher-{side} = {{ section = \"tie\", run = [{}], height = [0, {}, {}] }}",
            run.join(", "),
            t.n(lean),
            t.n(h)
        );
        t.line(&line);
    }
    t.line("spine = { section = \"tie\", run = [{ on = \"tie-front\", at = \"middle\", face = \"-X\" }, { on = \"tie-back\", at = \"middle\", face = \"X\" }] }");
    must_come_true(&mut t);
    let feet = ["front-foot-left", "front-foot-right", "back-foot-right", "back-foot-left"];
    t.control("feet-front", "distance", &feet[..2], "tolerance = \"B\"");
    t.control("feet-back", "distance", &feet[2..], "tolerance = \"B\"");
    t.control("feet-diagonals", "squareness", &feet, "tolerance = \"B\"");
    t.control("feet-flat", "twist", &feet, "tolerance = \"F\"");
    t.control("peaks-apart", "distance", &["front-peak", "back-peak"], "tolerance = \"B\"");
    fixture(&mut t);
    for end in ["front", "back"] {
        for side in ["left", "right"] {
            let holds = if (end, side) == ("back", "left") { "XYZ" } else { "YZ" };
            t.clamp(&format!("foot-{end}-{side}"), &format!("{end}-{side}"), "\"start\"", holds);
        }
    }
    Ok(t.end(wish.process, &[("on its feet", "Z"), ("on its peaks", "-Z")]))
}

fn cart(wish: &Wish) -> Result<String, String> {
    square_only(wish)?;
    let s = wish.section;
    let (l, w) = (wish.get("length") - s.width(), wish.get("width") - s.width());
    let (pole, n) = (wish.get("height"), wish.get("rungs") as usize);
    let at = inside(wish, n, l, wish.second().width(), s.width(), "cross members")?;
    let mut t = begin(wish, "cross");
    ring_points(&mut t, l, w, 0.0);
    cross_members(&mut t, &at, l);
    t.line("# The pole is welded on the front of the ring and open at its tip.");
    let tip = t.p([l / 2.0 + s.width() / 2.0 + pole, 0.0, 0.0]);
    let run = ["{ on = \"front\", at = \"middle\", face = \"X\" }".to_string(), tip];
    t.tube("pole", "main", &run, true);
    t.gap();
    t.line("# Plates for the axle under the left and the right side.");
    t.line("[plates]");
    let (along, across, thick) =
        (t.n(wish.neat(120.0)), t.n(wish.neat((s.width() - 8.0).max(20.0))), t.n(wish.neat(8.0)));
    for (side, from) in [("left", 0.45 * l), ("right", 0.55 * l)] {
        let line = format!(
            "axle-plate-{side} = {{ on = \"{side}\", at = {}, face = \"bottom\", size = [{along}, {across}], thickness = {thick} }}",
            t.n(wish.neat(from))
        );
        t.line(&line);
    }
    must_come_true(&mut t);
    ring_controls(&mut t);
    t.control(
        "axle-plates-level",
        "distance",
        &["axle-plate-left:middle", "axle-plate-right:middle"],
        "tolerance = \"B\"",
    );
    t.control(
        "pole-straight-ahead",
        "difference",
        &["pole:end", "front-left", "pole:end", "front-right"],
        "tolerance = \"B\"",
    );
    fixture(&mut t);
    for (name, tube, at, holds) in [
        ("back-left", "left", "\"start\"", "XYZ"),
        ("back-right", "right", "\"end\"", "YZ"),
        ("front-left", "left", "\"end\"", "YZ"),
        ("front-right", "right", "\"start\"", "YZ"),
        ("pole-tip", "pole", "\"end\"", "Z"),
    ] {
        t.clamp(name, tube, at, holds);
    }
    Ok(t.end(wish.process, &OVER))
}

fn trike(wish: &Wish) -> Result<String, String> {
    let Profile::Round { od, wall } = wish.section else {
        return Err("a trike starter is made of round tube: `--section \"round 40x2\"`".into());
    };
    let stay = wish.second();
    let (l, w, h) = (wish.get("length"), wish.get("width"), wish.get("height"));
    let sleeve = Profile::Round { od: wish.neat(od * 1.25), wall: wall.max(3.0) };
    let (half, tilt) = (sleeve.height() * 1.1, 70.0);
    // The cross tube lies ahead of the rear wheel.
    let x = wish.neat((0.3 * l).max(360.0));
    let seat = wish.neat(x + 0.35 * (l - x));
    let mut t = begin(wish, "stay");
    // `begin` has written an empty line after the sections; these three belong to them as well.
    let smaller = |p: Profile, by: f64| Profile::Round {
        od: wish.neat(p.height() * by),
        wall: p.wall().min(p.height() * by / 8.0),
    };
    t.section("sleeve", sleeve, &wish.material);
    t.section("seat", smaller(stay, 0.85), &wish.material);
    t.section("stay-rear", smaller(stay, 0.7), &wish.material);
    t.gap();
    t.line("[points]");
    for (name, at) in [
        ("kingpin-left", [l, w / 2.0, 0.0]),
        ("kingpin-right", [l, -w / 2.0, 0.0]),
        ("middle", [l, 0.0, 0.0]),
        ("seat", [seat, 0.0, 0.0]),
        ("cross-left", [x, tilt, 0.0]),
        ("cross-middle", [x, 0.0, 0.0]),
        ("cross-right", [x, -tilt, 0.0]),
    ] {
        let line = format!("{name} = {}", t.p(at));
        t.line(&line);
    }
    t.gap();
    t.line("[tubes]");
    t.line("# Sleeves for the kingpins stand upright here; lean them as your steering asks.");
    for (side, y) in [("left", w / 2.0), ("right", -w / 2.0)] {
        let run = [t.p([l, y, -half]), format!("\"kingpin-{side}\""), t.p([l, y, half])];
        t.tube(&format!("sleeve-{side}"), "sleeve", &run, true);
    }
    t.line("# A tube that runs through a joint lists that point inside its run.");
    let words = |names: &[&str]| names.iter().map(|n| format!("\"{n}\"")).collect::<Vec<String>>();
    t.tube("axle", "main", &words(&["kingpin-left", "middle", "kingpin-right"]), false);
    let reach = tilt + stay.height() / 2.0 + 20.0;
    let cross = [
        vec![t.p([x, reach, 0.0])],
        words(&["cross-left", "cross-middle", "cross-right"]),
        vec![t.p([x, -reach, 0.0])],
    ]
    .concat();
    t.tube("cross", "main", &cross, true);
    t.tube("spine", "stay", &words(&["middle", "seat", "cross-middle"]), false);
    let run = ["\"seat\"".to_string(), t.p([seat, 0.0, h])];
    t.line("# One size smaller than the spine, so that it can be welded all round.");
    t.tube("seat-tube", "seat", &run, true);
    t.line("# The stays are slotted over the drop-outs.");
    for side in ["left", "right"] {
        let end = format!(
            "{{ on = \"drop-out-{side}\", at = {}, face = \"front\", slot = {} }}",
            t.n(wish.neat(80.0) / 2.0),
            t.n(wish.neat(18.0))
        );
        t.tube(&format!("stay-{side}"), "stay-rear", &[format!("\"cross-{side}\""), end], false);
    }
    t.gap();
    t.line("# Plates for the rear wheel, upright, the axle in their middle.");
    t.line("[plates]");
    for (side, y) in [("left", tilt), ("right", -tilt)] {
        let line = format!(
            "drop-out-{side} = {{ centre = {}, normal = \"left\", along = \"Z\", size = [{}, {}], thickness = {} }}",
            t.p([0.0, y, 0.0]),
            t.n(wish.neat(80.0)),
            t.n(wish.neat(60.0)),
            t.n(wish.neat(6.0))
        );
        t.line(&line);
    }
    must_come_true(&mut t);
    t.control(
        "kingpins-apart",
        "distance",
        &["sleeve-left:kingpin-left", "sleeve-right:kingpin-right"],
        "tolerance = \"B\"",
    );
    t.control(
        "kingpins-parallel",
        "angle",
        &["sleeve-left", "sleeve-right"],
        &format!("tolerance = {}", 0.5),
    );
    t.control(
        "drop-outs-apart",
        "distance",
        &["drop-out-left:middle", "drop-out-right:middle"],
        "tolerance = \"B\"",
    );
    t.control(
        "wheelbase-left-and-right",
        "difference",
        &[
            "sleeve-left:kingpin-left",
            "drop-out-left:middle",
            "sleeve-right:kingpin-right",
            "drop-out-right:middle",
        ],
        "tolerance = \"B\"",
    );
    t.control("axle-bow", "bow", &["axle"], "direction = \"forward\", tolerance = \"F\"");
    fixture(&mut t);
    for side in ["left", "right"] {
        t.clamp(&format!("mandrel-{side}-low"), &format!("sleeve-{side}"), "\"start\"", "XYZ");
        t.clamp(&format!("mandrel-{side}-high"), &format!("sleeve-{side}"), "\"end\"", "XY");
        t.clamp(&format!("dummy-axle-{side}"), &format!("drop-out-{side}"), "\"middle\"", "XYZ");
    }
    Ok(t.end(wish.process, &[("wheels down", "Z"), ("upside down", "-Z")]))
}

fn gate(wish: &Wish) -> Result<String, String> {
    square_only(wish)?;
    let s = wish.section;
    let (l, h) = (wish.get("length") - s.width(), wish.get("height") - s.height());
    let at = inside(wish, wish.get("rungs") as usize, l, wish.second().width(), s.width(), "bars")?;
    let mut t = begin(wish, "bar");
    t.line("[points]");
    for (name, x, z) in
        [("low-hinge", 0.0, 0.0), ("low-latch", l, 0.0), ("high-latch", l, h), ("high-hinge", 0.0, h)]
    {
        let line = format!("{name} = {}", t.p([x, 0.0, z]));
        t.line(&line);
    }
    t.gap();
    t.line("[tubes]");
    t.line("# Two ends that meet at a corner are mitred.");
    for (name, a, b) in [
        ("bottom", "low-hinge", "low-latch"),
        ("latch-side", "low-latch", "high-latch"),
        ("top", "high-latch", "high-hinge"),
        ("hinge-side", "high-hinge", "low-hinge"),
    ] {
        t.tube(name, "main", &[format!("\"{a}\""), format!("\"{b}\"")], false);
    }
    for (i, x) in at.iter().enumerate() {
        let run = [t.on("bottom", *x, "top"), t.on("top", l - x, "bottom")];
        t.tube(&format!("bar-{}", i + 1), "bar", &run, false);
    }
    must_come_true(&mut t);
    let corners = ["low-hinge", "low-latch", "high-latch", "high-hinge"];
    t.control("width-low", "distance", &["low-hinge", "low-latch"], "tolerance = \"B\"");
    t.control("height-at-latch", "distance", &["low-latch", "high-latch"], "tolerance = \"B\"");
    t.control("diagonals", "squareness", &corners, "tolerance = \"B\"");
    t.control("flat", "twist", &corners, "tolerance = \"F\"");
    t.control("hinge-side-straight", "bow", &["hinge-side"], "direction = \"X\", tolerance = \"F\"");
    fixture(&mut t);
    t.clamp("low-hinge", "bottom", "\"start\"", "XYZ");
    t.clamp("low-latch", "bottom", "\"end\"", "YZ");
    t.clamp("high-latch", "top", "\"start\"", "XY");
    t.clamp("high-hinge", "top", "\"end\"", "XY");
    Ok(t.end(wish.process, &[("flat, front up", "Y"), ("flat, back up", "-Y")]))
}

fn cradle(wish: &Wish) -> Result<String, String> {
    square_only(wish)?;
    let s = wish.section;
    let second = wish.second();
    let (l, w, h) = (wish.get("length"), wish.get("width"), wish.get("height"));
    let y = (w - s.width()) / 2.0;
    let at = evenly(wish, 2, l, (0.15 * l).max(second.width() * 1.5), second.width(), "cross members")?;
    let mut t = begin(wish, "cross");
    t.line("[tubes]");
    rails(&mut t, l, y);
    let across = 2.0 * y - s.width();
    for (n, x) in [(1, at[0]), (2, at[1])] {
        let run = [t.on("rail-left", x, "right"), t.on("rail-right", x, "left")];
        t.tube(&format!("cross-{n}"), "cross", &run, false);
    }
    t.line("# Arms stand on the cross members, lean out and are open at the top.");
    let top = second.height() / 2.0;
    for (n, x) in [(1, at[0]), (2, at[1])] {
        for (side, sign) in [("left", 1.0), ("right", -1.0)] {
            let from = if sign > 0.0 { 0.2 * across } else { 0.8 * across };
            let foot = t.on(&format!("cross-{n}"), wish.neat(from), "top");
            let start = across / 2.0 - wish.neat(from);
            let tip = t.p([x, start + sign * h * 0.36, top + h]);
            t.tube(&format!("arm-{n}-{side}"), "cross", &[foot, tip], true);
        }
    }
    must_come_true(&mut t);
    flat_controls(&mut t);
    for n in [1, 2] {
        let (a, b) = (format!("arm-{n}-left:end"), format!("arm-{n}-right:end"));
        t.control(&format!("tips-{n}"), "distance", &[&a, &b], "tolerance = \"B\"");
    }
    fixture(&mut t);
    rail_clamps(&mut t);
    Ok(t.end(wish.process, &OVER))
}

fn test_tee(wish: &Wish) -> Result<String, String> {
    let (l, h) = (wish.get("length"), wish.get("height"));
    let mut t = begin(wish, "branch");
    t.line("# Scribe a line on the test piece 10 mm from each end of the long tube and at the tip of the short one:");
    t.line("# all readings are taken between these, before the first pass and when cold.");
    t.line("[tubes]");
    let run = [t.p([-l / 2.0, 0.0, 0.0]), t.p([l / 2.0, 0.0, 0.0])];
    t.tube("long", "main", &run, true);
    let foot = if wish.section.round() && wish.second().round() {
        "{ on = \"long\", at = \"middle\" }".to_string()
    } else {
        "{ on = \"long\", at = \"middle\", face = \"top\" }".to_string()
    };
    let run = [foot, t.p([0.0, 0.0, wish.section.height() / 2.0 + h])];
    t.tube("short", "branch", &run, true);
    must_come_true(&mut t);
    t.line("# Tip to one end less tip to the other: the lean along the long tube.");
    let tip = ["short:end", "long:start", "short:end", "long:end"];
    let one = format!("tolerance = {}", t.n(wish.neat(1.6)));
    t.control("lean-along", "difference", &tip, &one);
    t.line("# The tip off the line through the two ends: the lean across it.");
    t.control(
        "lean-across",
        "from-line",
        &["short:end", "long:start", "long:end"],
        &format!("direction = \"Y\", {one}"),
    );
    t.line("# The long tube bows towards the weld: straightedge and feelers under it.");
    t.control("bow", "bow", &["long"], &format!("direction = \"up\", {one}"));
    t.control("long-tube", "distance", &["long:start", "long:end"], &one);
    t.gap();
    t.line("# Free: no clamps. It lies as it stands; turn it in the vice as you need.");
    Ok(t.end(wish.process, &[]))
}
