//! Which joints there are, how they hang together, which side they are on, what is sealed.

use super::build::*;
use crate::support::near;
use holdtrue::frame::{Frame, SymmetryWish};
use holdtrue::joint::Side;

/// Two rails along X at Y = ±300, rungs at 100, 500 and 900.
fn ladder() -> Frame {
    let mut f = empty();
    f.tube("rail left", round(48.0, 2.0), &[v(0.0, 300.0, 0.0), v(1000.0, 300.0, 0.0)]);
    f.tube("rail right", round(48.0, 2.0), &[v(0.0, -300.0, 0.0), v(1000.0, -300.0, 0.0)]);
    for (i, x) in [100.0, 500.0, 900.0].into_iter().enumerate() {
        f.tube(&format!("rung {}", i + 1), round(33.0, 2.0), &[v(x, 300.0, 0.0), v(x, -300.0, 0.0)]);
    }
    f
}

#[test]
fn joints_of_a_ladder() {
    let (j, s) = ladder().seams();
    let names: Vec<String> = s.seams.iter().map(|s| s.name.clone()).collect();
    assert_eq!(names, ["J1a", "J2a", "J3a", "J4a", "J5a", "J6a"]);
    // J1 … J3 on the left rail by place, J4 … J6 on the right one
    assert!(j.joints[1].at.distance(v(500.0, 300.0, 0.0)) < 1e-9);
    near(j.steel_mm[0][2], 800.0, 1e-9);
    near(j.steel_mm[0][3], 600.0, 1e-9);
    near(j.steel_mm[0][5], 1400.0, 1e-9);
    assert_eq!(j.symmetry.map(|p| p.1), Some(v(0.0, 1.0, 0.0)));
    let sides: Vec<Side> = j.joints.iter().map(|j| j.side).collect();
    assert_eq!(sides, [Side::Left, Side::Left, Side::Left, Side::Right, Side::Right, Side::Right]);
    assert_eq!(j.joints[0].mirror, Some(3));
    assert_eq!(j.parts(), [[0, 1, 2, 3, 4, 5]]);
    // breadth first from the middle of the left rail: its neighbours by distance, then across
    assert_eq!(j.outward(1), [1, 0, 2, 4, 3, 5]);
    // the first two rungs' four welds: three hang the tubes together, the fourth closes the loop
    let order: Vec<usize> = ["J1a", "J4a", "J2a", "J5a", "J3a", "J6a"]
        .iter()
        .map(|n| names.iter().position(|m| m == n).unwrap())
        .collect();
    let closes = j.closes_loop(&order);
    assert_eq!(
        order.iter().map(|m| closes[*m]).collect::<Vec<_>>(),
        [false, false, false, true, false, true]
    );
    assert_eq!(j.bridges(), [false; 6]);
    // rungs are closed by both their saddles, rails have open ends
    assert_eq!(s.sealed.iter().map(|c| c.0).collect::<Vec<_>>(), [2, 3, 4]);
    assert_eq!(s.sealed[0].1, [0, 3]);
}

#[test]
fn a_stub_is_a_bridge_and_a_vent_opens_a_cell() {
    let mut f = ladder();
    f.tube("stub", round(30.0, 2.0), &[v(0.0, 0.0, 0.0) + v(500.0, 0.0, 0.0), v(500.0, 0.0, 200.0)]);
    f.tubes[2].vented = true;
    let (j, s) = f.seams();
    assert_eq!(j.bridges().iter().filter(|b| **b).count(), 1);
    assert_eq!(s.sealed.iter().map(|c| c.0).collect::<Vec<_>>(), [3, 4]);
}

#[test]
fn a_mitred_ring_is_one_cell() {
    let mut f = empty();
    let c = [v(0.0, 0.0, 0.0), v(400.0, 0.0, 0.0), v(400.0, 300.0, 0.0), v(0.0, 300.0, 0.0)];
    for i in 0..4 {
        f.tube(&format!("side {i}"), square(30.0, 30.0, 3.0), &[c[i], c[(i + 1) % 4]]);
    }
    let (j, s) = f.seams();
    assert_eq!(j.joints.len(), 4);
    assert_eq!(s.sealed.len(), 4);
    assert!(s.sealed.iter().all(|cell| cell.1 == [0, 1, 2, 3]));
    f.wish(&[0, 1]).open = vec![(5.0, 7.0)];
    assert!(f.seams().1.sealed.is_empty());
}

#[test]
fn several_branches_at_one_place_are_one_joint() {
    let mut f = empty();
    f.tube("spine", round(50.0, 2.0), &[v(-500.0, 0.0, 0.0), v(500.0, 0.0, 0.0)]);
    f.tube("post", round(30.0, 2.0), &[v(0.0, 0.0, 0.0), v(0.0, 0.0, 300.0)]);
    f.tube("arm", round(30.0, 2.0), &[v(0.0, 0.0, 0.0), v(0.0, 300.0, 0.0)]);
    f.tube("far", round(30.0, 2.0), &[v(60.0, 0.0, 0.0), v(60.0, 0.0, 300.0)]);
    f.tube("touching", round(30.0, 2.0), &[v(-30.5, 0.0, 0.0), v(-30.5, 0.0, 300.0)]);
    let (j, s) = f.seams();
    assert_eq!(j.joints.len(), 2);
    assert_eq!(s.seams.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(), ["J1a", "J1b", "J1c", "J2a"]);
    assert_eq!(f.tubes[j.meets[0].branch.0].name, "touching");
    assert_eq!(f.tubes[j.meets[3].branch.0].name, "far");
}

#[test]
fn a_plane_can_be_given_or_refused() {
    let mut f = ladder();
    f.symmetry = SymmetryWish::None;
    assert_eq!(f.joints().symmetry, None);
    f.symmetry = SymmetryWish::Plane(v(500.0, 0.0, 0.0), v(-1.0, 0.0, 0.0));
    let j = f.joints();
    assert_eq!(j.symmetry, Some((v(500.0, 0.0, 0.0), v(1.0, 0.0, 0.0))));
    assert_eq!(j.joints[0].mirror, Some(2));
    assert_eq!(j.joints[1].side, Side::Centre);
    f.symmetry = SymmetryWish::Plane(v(400.0, 0.0, 0.0), v(1.0, 0.0, 0.0));
    assert_eq!(f.faults(), ["W203: the frame is not its own mirror image in the symmetry plane given []"]);
}
