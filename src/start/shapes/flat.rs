//! Flat frames of two rails with members across: the ladder, and the cradle with its arms.

use super::common::{OVER, begin, evenly, fixture, must_come_true, open_ended, square_only};
use crate::start::Wish;
use crate::start::pieces::Text;

pub(super) fn ladder(wish: &Wish) -> Result<String, String> {
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

pub(super) fn cradle(wish: &Wish) -> Result<String, String> {
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
