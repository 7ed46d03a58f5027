//! The cargo tricycle.

use super::common::{begin, fixture, must_come_true};
use crate::start::{Profile, Wish};

pub(super) fn trike(wish: &Wish) -> Result<String, String> {
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
