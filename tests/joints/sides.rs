//! Parts that touch with their sides: laps, pads, bars along, slots.

use super::build::*;
use crate::support::near;
use glam::DVec3;
use holdtrue::frame::{Role, Shape};
use holdtrue::joint::MeetKind;
use std::f64::consts::PI;

#[test]
fn square_tubes_crossing_lap_on_a_rectangle() {
    let mut f = empty();
    f.tube("lower", square(60.0, 40.0, 0.0), &[v(0.0, -300.0, 0.0), v(0.0, 300.0, 0.0)]);
    f.tube("upper", square(50.0, 50.0, 0.0), &[v(-300.0, 0.0, 55.0), v(300.0, 0.0, 55.0)]);
    let (j, s) = f.seams();
    assert_eq!(j.meets.len(), 1);
    assert_eq!(j.meets[0].kind, MeetKind::Lap);
    assert_eq!((j.meets[0].branch, j.meets[0].carriers[0]), ((1, 300.0), (0, 300.0, 1.0)));
    let seam = &s.seams[0];
    assert_eq!(seam.lines.len(), 4);
    near(seam.length_mm, 2.0 * (40.0 + 50.0), 1e-9);
    assert!(!seam.closed);
    for (i, seg) in seam.segments.iter().enumerate() {
        assert_eq!(seam.segments[seg.partner.unwrap()].partner, Some(i));
        near(seg.mid.at.z, 30.0, 1e-9);
        // along the upper tube's sides the pull draws it inward, along the lower tube's sides outward
        let inward = seg.mid.pull.dot(v(0.0, 0.0, 30.0) - seg.mid.at);
        assert!(if seg.mid.tangent.x.abs() > 0.5 { inward > 1.0 } else { inward < -1.0 });
    }
    assert!(s.sealed.is_empty());
}

#[test]
fn a_pad_that_hangs_over_is_welded_where_it_lies() {
    // 120 x 120 x 20 on the 60 wide top of a tube: two edges of 60 are on it
    let mut f = empty();
    let ring = f.tube("ring", square(60.0, 60.0, 0.0), &[v(-700.0, 0.0, 0.0), v(700.0, 0.0, 0.0)]);
    f.plate("pad", [120.0, 120.0, 20.0], v(200.0, 0.0, 40.0), DVec3::X, DVec3::Z, Some(ring));
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Pad);
    near(s.seams[0].length_mm, 120.0, 1e-9);
    assert_eq!(s.seams[0].lines.len(), 2);
    assert_eq!(s.seams[0].unwelded, ["360 mm of its outline stand over \"ring\""]);
    // two segments each, the opposite one on the other edge
    assert_eq!(s.seams[0].segments.len(), 4);
    for seg in &s.seams[0].segments {
        let other = &s.seams[0].segments[seg.partner.unwrap()];
        near(other.mid.at.x, 400.0 - seg.mid.at.x, 1e-9);
        near(other.mid.at.y, seg.mid.at.y, 1e-9);
    }
}

#[test]
fn a_small_pad_is_welded_all_round() {
    let mut f = empty();
    let ring = f.tube("ring", square(60.0, 80.0, 0.0), &[v(-700.0, 0.0, 0.0), v(700.0, 0.0, 0.0)]);
    f.plate("pad", [60.0, 50.0, 10.0], v(0.0, 0.0, 35.0), DVec3::X, DVec3::Z, Some(ring));
    let (_, s) = f.seams();
    assert!(s.seams[0].closed && s.seams[0].unwelded.is_empty());
    near(s.seams[0].length_mm, 220.0, 1e-9);
    for seg in &s.seams[0].segments {
        let p = seg.mid;
        near(p.pull.dot(p.branch_normal), -1.0, 1e-9);
        near(p.carrier_normal.z, 1.0, 1e-9);
    }
}

#[test]
fn a_bar_along_a_tube_has_two_lines() {
    let mut f = empty();
    let rail = f.tube("rail", square(80.0, 40.0, 0.0), &[v(0.0, 0.0, 0.0), v(2000.0, 0.0, 0.0)]);
    let axis = [v(100.0, 0.0, 42.5), v(1900.0, 0.0, 42.5)];
    f.part("bar", flat(30.0, 5.0), &axis, DVec3::Z, Role::Along { on: rail });
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Along);
    let seam = &s.seams[0];
    near(seam.length_mm, 3600.0, 1e-9);
    assert_eq!(seam.segments.len(), 90);
    let first = &seam.segments[0];
    assert_eq!((first.clock_from.as_str(), first.clock_to.as_str()), ("left 0", "left 40"));
    near(first.mid.at.y, 15.0, 1e-9);
    near(first.mid.pull.y, -1.0, 1e-9);
    let other = &seam.segments[first.partner.unwrap()];
    near(other.mid.at.distance(first.mid.at), 30.0, 1e-9);
    assert_eq!(other.clock_from, "right 0");
    // as wide as the tube: flush edges
    f.sections[1].shape = flat(40.0, 5.0);
    let (_, s) = f.seams();
    near(s.seams[0].length_mm, 3600.0, 1e-9);
    near(s.seams[0].segments[0].mid.carrier_normal.y, 1.0, 1e-9);
}

#[test]
fn a_round_bar_along_a_face_has_its_beads_in_the_flare() {
    let mut f = empty();
    let rail = f.tube("rail", square(80.0, 60.0, 0.0), &[v(0.0, 0.0, 0.0), v(1000.0, 0.0, 0.0)]);
    let axis = [v(0.0, 0.0, 56.0), v(1000.0, 0.0, 56.0)];
    f.part("bar", Shape::Round { od: 32.0, wall: 2.0 }, &axis, DVec3::Z, Role::Along { on: rail });
    let (_, s) = f.seams();
    near(s.seams[0].length_mm, 2000.0, 1e-9);
    // gap 2 mm under a radius of 16: y = √(16² − 14²); the bead is half way up
    let y = (256.0_f64 - 196.0).sqrt();
    let p = s.seams[0].segments[0].mid;
    near(p.at.y, y, 1e-6);
    near(p.at.z, 41.0, 1e-6);
    near(p.branch_normal.dot(v(0.0, y / 16.0, -14.0 / 16.0)), 1.0, 1e-6);
    // Each bead draws the bar over to its own side: from the face beside the bar towards the bar.
    for seg in &s.seams[0].segments {
        near(seg.mid.pull.dot(DVec3::Y * -seg.mid.at.y.signum()), 1.0, 1e-9);
    }
}

/// A short round bar laid along a thicker round tube, past its end: two beads, where the skins stand apart by
/// the thinner wall, half way between them, as long as both parts run side by side.
#[test]
fn a_round_bar_laid_along_a_round_tube_past_its_end() {
    let mut f = empty();
    let tube = f.tube("tube", round(60.0, 3.0), &[v(0.0, 0.0, 0.0), v(1000.0, 0.0, 0.0)]);
    let axis = [v(700.0, 0.0, 40.0), v(1100.0, 0.0, 40.0)];
    f.part("bar", round(20.0, 2.0), &axis, DVec3::Z, Role::Along { on: tube });
    let (_, s) = f.seams();
    near(s.seams[0].length_mm, 600.0, 1e-9);
    for seg in &s.seams[0].segments {
        let p = seg.mid;
        let skins = [30.0, 10.0].map(|r: f64| r - (r * r - p.at.y * p.at.y).sqrt());
        near(skins[0] + skins[1], 2.0, 1e-9);
        near(p.at.z, 30.0 + 0.5 * (skins[1] - skins[0]), 1e-9);
        assert!((700.0..=1000.0).contains(&p.at.x), "{}", p.at);
        near(p.pull.dot(DVec3::Y * -p.at.y.signum()), 1.0, 1e-9);
    }
}

#[test]
fn round_tubes_crossing() {
    let mut f = empty();
    f.tube("lower", round(40.0, 2.0), &[v(0.0, -300.0, 0.0), v(0.0, 300.0, 0.0)]);
    f.tube("upper", round(40.0, 2.0), &[v(-300.0, 0.0, 40.0), v(300.0, 0.0, 40.0)]);
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Lap);
    // equal tubes at right angles: a circle with r²/(2·20) = 2 mm gap, r = √80, waved by ± gap/2
    let r = 80_f64.sqrt();
    let seam = &s.seams[0];
    assert!(seam.closed);
    // height along it: (r²/40)·(sin² − cos²)/2 = −cos 2φ; length ∫ √(r² + 4 sin² 2φ) ≈ 2πr(1 + 1/r²)
    near(seam.length_mm, 2.0 * PI * r * (1.0 + 1.0 / (r * r)), 0.02);
    for p in &seam.lines[0].samples {
        near(p.at.truncate().length(), r, 1e-9);
        near(p.tangent.dot(p.pull), 0.0, 1e-9);
    }
}

/// Tubes of unlike size that cross at 55°: the skins, as parabolas across each tube, stand apart by the
/// thinner wall wherever the bead sits, and it sits half way between them.
#[test]
fn unlike_round_tubes_crossing_askew() {
    let mut f = empty();
    let way = v(55f64.to_radians().cos(), 55f64.to_radians().sin(), 0.0);
    f.tube("lower", round(60.0, 3.0), &[v(0.0, -300.0, 0.0), v(0.0, 300.0, 0.0)]);
    let rise = v(0.0, 0.0, 45.0);
    f.tube("upper", round(30.0, 2.0), &[way * -300.0 + rise, way * 300.0 + rise]);
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Lap);
    let mut spread = (f64::INFINITY, 0.0f64);
    for p in &s.seams[0].lines[0].samples {
        let drop = |across: DVec3, r: f64| p.at.dot(across).powi(2) / (2.0 * r);
        let low = 30.0 - drop(DVec3::X, 30.0);
        let high = 30.0 + drop(way.cross(DVec3::Z), 15.0);
        near(high - low, 2.0, 1e-9);
        near(p.at.z, 0.5 * (high + low), 1e-9);
        near(p.tangent.dot(p.pull), 0.0, 1e-9);
        assert!(p.pull.dot(p.at.with_z(0.0)) < 0.0, "{}", p.pull);
        let far = p.at.truncate().length();
        spread = (spread.0.min(far), spread.1.max(far));
    }
    // An ellipse drawn out along the bisector of the tubes, not a circle.
    assert!(spread.1 > 1.5 * spread.0, "{spread:?}");
}

#[test]
fn a_tube_slotted_over_a_plate() {
    // 30 x 1.5 tube with a slot 40 deep over a 6 mm plate standing in the X-Z plane
    let mut f = empty();
    let plate = f.plate("drop-out", [80.0, 60.0, 6.0], DVec3::ZERO, DVec3::X, DVec3::Y, None);
    let stay = f.tube("stay", round(30.0, 1.5), &[v(400.0, 0.0, 0.0), v(0.0, 0.0, 0.0)]);
    f.lands(stay, 1, plate, 40.0, Some(40.0));
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Slot);
    let seam = &s.seams[0];
    assert_eq!(seam.lines.len(), 4);
    near(seam.length_mm, 160.0, 1e-9);
    for seg in &seam.segments {
        near(seg.mid.at.y.abs(), 3.0, 1e-9);
        near(seg.mid.pull.dot(DVec3::Y * seg.mid.at.y.signum()), 1.0, 1e-9);
        // from the plate's edge at x = 40 inward
        near(seg.mid.at.x, 20.0, 1e-9);
        let other = &seam.segments[seg.partner.unwrap()];
        near(other.mid.at.distance(v(seg.mid.at.x, -seg.mid.at.y, -seg.mid.at.z)), 0.0, 1e-9);
    }
    assert!(s.sealed.is_empty());
}

#[test]
fn a_square_end_on_a_round_tube() {
    // width across equal to the diameter's half: four sides, two straight (along the tube), two arcs
    let f = t_joint(round(60.0, 3.0), square(30.0, 30.0, 0.0), 90.0);
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::SquareOnRound);
    // straight sides 30 each; curved sides are arcs of radius 30 over ± asin(15/30)
    near(s.seams[0].length_mm, 2.0 * 30.0 + 2.0 * 30.0 * (PI / 3.0), 1e-9);
    // a gusset standing on a tube with its edge is a lap of its edge
    let mut f = empty();
    f.tube("a", square(60.0, 60.0, 0.0), &[v(0.0, 0.0, 0.0), v(800.0, 0.0, 0.0)]);
    f.plate("gusset", [100.0, 80.0, 6.0], v(400.0, 0.0, 70.0), DVec3::X, DVec3::Y, None);
    let (j, s) = f.seams();
    assert_eq!(j.meets[0].kind, MeetKind::Lap);
    assert!(s.seams[0].closed);
    near(s.seams[0].length_mm, 2.0 * (100.0 + 6.0), 1e-9);
}
