//! Frames round a mitred ring of four tubes: box base, cart, gate.

use super::common::{CORNERS, OVER, begin, fixture, inside, must_come_true, square_only};
use crate::start::Wish;
use crate::start::pieces::Text;

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

pub(super) fn base(wish: &Wish) -> Result<String, String> {
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

pub(super) fn cart(wish: &Wish) -> Result<String, String> {
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

pub(super) fn gate(wish: &Wish) -> Result<String, String> {
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
