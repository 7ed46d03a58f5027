//! The test piece that calibrates the shop: one tube on another.

use super::common::{begin, must_come_true};
use crate::start::Wish;

pub(super) fn test_tee(wish: &Wish) -> Result<String, String> {
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
