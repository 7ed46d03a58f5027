//! Each kind of connection, its length worked out by hand.

use super::build::*;
use crate::support::{near, near_rel};
use holdtrue::joint::MeetKind;
use std::f64::consts::PI;

const ROUNDING: f64 = 1e-9;

#[test]
fn a_square_end_on_a_flat_face() {
    // sharp corners: 2 h / sin θ + 2 b
    let length = |deg, corner| {
        let f = t_joint(square(80.0, 60.0, 0.0), square(40.0, 40.0, corner), deg);
        let (j, s) = f.seams();
        assert_eq!(j.meets[0].kind, MeetKind::FlatFaced);
        near(s.seams[0].angle_deg, deg, 1e-6);
        s.seams[0].length_mm
    };
    near_rel(length(90.0, 0.0), 160.0, ROUNDING);
    near_rel(length(45.0, 0.0), 80.0 * 2_f64.sqrt() + 80.0, ROUNDING);
    // rounded corners take off (8 − 2π) r: 153.13 for r = 4
    near_rel(length(90.0, 4.0), 160.0 - (8.0 - 2.0 * PI) * 4.0, ROUNDING);
}

/// What is said of the joint of two tubes is said of no other, though one of them is there too.
#[test]
fn a_wish_speaks_of_its_own_tubes() {
    let mut f = empty();
    let rail = f.tube("rail", round(60.0, 3.0), &[v(0.0, 0.0, 0.0), v(1000.0, 0.0, 0.0)]);
    let posts = [200.0, 500.0, 800.0]
        .map(|x| f.tube(&format!("post {x}"), round(30.0, 2.0), &[v(x, 0.0, 0.0), v(x, 0.0, 300.0)]));
    f.wish(&[rail, posts[1]]).gap_mm = Some(0.75);
    let (j, _) = f.seams();
    let gaps: Vec<(usize, f64)> = j.meets.iter().map(|m| (m.branch.0, m.gap_mm)).collect();
    assert_eq!(gaps, [(posts[0], 0.0), (posts[1], 0.75), (posts[2], 0.0)]);
}

#[test]
fn butt_and_mitre() {
    let mut f = empty();
    f.tube("a", round(42.4, 2.6), &[v(0.0, 0.0, 0.0), v(300.0, 0.0, 0.0)]);
    f.tube("b", round(42.4, 2.6), &[v(300.0, 0.0, 0.0), v(600.0, 0.0, 0.0)]);
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Butt);
    near_rel(s.seams[0].length_mm, PI * 42.4, ROUNDING);
    assert!(!s.seams[0].fillet);

    // a right-angled mitre of 40x20 standing 40 high: 2·40 + 2·20·√2
    let mut f = empty();
    f.tube("a", square(40.0, 20.0, 0.0), &[v(0.0, 0.0, 0.0), v(300.0, 0.0, 0.0)]);
    f.tube("b", square(40.0, 20.0, 0.0), &[v(300.0, 0.0, 0.0), v(300.0, 300.0, 0.0)]);
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Mitre);
    near_rel(s.seams[0].length_mm, 80.0 + 40.0 * 2_f64.sqrt(), ROUNDING);
    near(s.seams[0].angle_deg, 90.0, 1e-9);
}
