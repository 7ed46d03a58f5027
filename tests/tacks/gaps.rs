//! Root gaps: more metal, more heat, more pull; and where to stop.

use super::{example, parts, planned, read};
use crate::support::{near, near_rel};
use holdtrue::plan;
use holdtrue::procedure;

fn with_gap(gap: f64) -> String {
    format!("{}\n[[joint]]\npoint = \"joint\"\ngap = {gap}\n", example("t-joint"))
}

/// Metal of a fillet of leg 3: 4.5 mm², with a gap of 0.6 mm filled as deep as the leg 0.6 · 3 more. The
/// same arc takes longer by the ratio, 6.3 / 4.5 = 1.4; so does everything it brings. Assumption, see the
/// formula in the sources.
#[test]
fn a_gap_takes_metal_time_and_heat() {
    let (close, open) = (parts(&read(&example("t-joint"))), parts(&read(&with_gap(0.6))));
    for (a, b) in close.passes.passes.iter().zip(&open.passes.passes) {
        for (x, y) in [
            (a.heat_input_j_per_mm, b.heat_input_j_per_mm),
            (a.arc_s, b.arc_s),
            (a.energy_j, b.energy_j),
            (a.filler_g, b.filler_g),
        ] {
            near_rel(y / x, 1.4, 1e-9);
        }
    }
    near(open.joints.meets[0].gap_mm, 0.6, 0.0);
    // Read on the job instead: the same, but what is welded stays as it is.
    let mut p = close.clone();
    let first = p.passes.passes[0].label.clone();
    let frame = read(&example("t-joint"));
    procedure::with_gap(&frame, &mut p.joints, &p.seams, &mut p.passes, 0, 0.6, std::slice::from_ref(&first));
    near_rel(p.passes.passes[0].energy_j, close.passes.passes[0].energy_j, 1e-12);
    for (a, b) in p.passes.passes.iter().zip(&open.passes.passes).skip(1) {
        near_rel(a.energy_j, b.energy_j, 1e-9);
        assert_eq!(a.label, b.label);
    }
}

/// Spraragen and Ettinger 1944 (form seen): S = 0.2 A/t + 0.05 g. Both parts grow with the gap; the tip
/// comes nearer to the carrier by about the shrinkage across the seam.
#[test]
fn a_gap_pulls_more() {
    let pull = |text: &str| planned(text).pull.controls[1].pull;
    let (close, open) = (pull(&example("t-joint")), pull(&with_gap(0.6)));
    // 1.4 from the heat; 0.05 · 0.6 = 0.03 mm more from the gap itself, less what the tacks hold back.
    assert!(open < 0.0 && close < 0.0, "{close} {open}");
    let more = open / close;
    assert!((1.4..1.75).contains(&more), "{close} mm closed, {open} mm with a gap: {more}");
}

#[test]
fn a_gap_that_should_not_be_welded_is_said_so() {
    let says = |gap: f64| parts(&read(&with_gap(gap))).passes.warnings;
    let words = |gap: f64, code: &str| says(gap).into_iter().find(|w| w.0 == code).map(|w| w.1);
    assert!(words(0.0, "W325").is_none() && words(0.0, "W326").is_none());
    assert!(!words(0.5, "W325").unwrap().contains("burns through"));
    assert!(words(1.0, "W325").unwrap().contains("burns through"), "half of 1.6 mm is 0.8 mm");
    assert!(words(2.0, "W325").unwrap().contains("AWS D1.1"), "above 1.6 mm the leg grows");
    // Twice the thinner wall of 1.6 mm.
    assert!(words(3.3, "W326").unwrap().contains("DO NOT WELD"));
    assert!(words(3.1, "W326").is_none());
    let refused = plan::parts(&read(&with_gap(5.1))).unwrap_err();
    assert_eq!(refused[0].code, "E301");
    assert!(refused[0].message.contains("5.1 mm") && refused[0].at.is_some());
    assert!(plan::parts(&read(&with_gap(5.0))).is_ok());
}
