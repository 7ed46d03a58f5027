//! A stand of two A's.

use super::common::{begin, fixture, must_come_true, square_only};
use crate::start::Wish;

pub(super) fn a_frame(wish: &Wish) -> Result<String, String> {
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
