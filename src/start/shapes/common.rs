//! What the shapes have in common: the file's head, headings, places of members along a length.

use crate::start::Wish;
use crate::start::pieces::Text;

pub(super) const OVER: [(&str, &str); 2] = [("right way up", "Z"), ("upside down", "-Z")];
pub(super) const CORNERS: [&str; 4] = ["front-left", "front-right", "back-right", "back-left"];

/// Head and sections.
pub(super) fn begin(wish: &Wish, second: &str) -> Text {
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
pub(super) fn evenly(
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

pub(super) fn open_ended(t: &mut Text) {
    t.line("# A tube with an open end breathes; a closed one gets a vent hole, the sheet says when.");
}

pub(super) fn must_come_true(t: &mut Text) {
    t.gap();
    t.line("# What must come out true. A tolerance is a number (plus or minus) or a class of ISO 13920.");
    t.line("[controls]");
}

pub(super) fn fixture(t: &mut Text) {
    t.gap();
    t.line("# The fixture: where stops and clamps hold, and in which directions. Put yours.");
    t.line("[clamps]");
}

/// Places of `n` members inside a ring, evenly between its ends.
pub(super) fn inside(
    wish: &Wish,
    n: usize,
    length: f64,
    width: f64,
    ends: f64,
    what: &str,
) -> Result<Vec<f64>, String> {
    let pitch = length / (n + 1) as f64;
    if n > 0 && pitch - width.max((width + ends) / 2.0) < 25.0 {
        return Err(format!("{n} {what} are closer than a torch needs (25 mm) on this length: take fewer"));
    }
    Ok((1..=n).map(|i| wish.neat(pitch * i as f64)).collect())
}

pub(super) fn square_only(wish: &Wish) -> Result<(), String> {
    match wish.section.round() || wish.second().round() {
        true => Err(format!(
            "a {} starter is made of square or rectangular tube, whose ends are cut straight",
            wish.shape.word()
        )),
        false => Ok(()),
    }
}
