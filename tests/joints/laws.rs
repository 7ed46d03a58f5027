//! What must hold for any frame, whatever the numbers: points lie on both skins, directions are square
//! to each other, turning or mirroring the frame changes nothing but places.

use super::build::*;
use crate::support::{cases, near};
use glam::{DMat3, DQuat, DVec3};
use holdtrue::frame::{Frame, Role, Shape};
use holdtrue::joint::{Joints, MeetKind, Side};
use holdtrue::seam::{Seam, SeamPoint, Seams};
use proptest::prelude::*;

/// Sizes are tens of millimetres; a curve off its skin by a nanometre is rounding.
const ON_SKIN: f64 = 1e-6;

/// A ladder: two rails along X, rungs between them, a brace on top; sections, places and lean vary.
#[derive(Debug, Clone)]
struct Ladder {
    rail: Shape,
    rung: Shape,
    spread: f64,
    lean: f64,
    rungs: usize,
}

impl Ladder {
    fn frame(&self) -> Frame {
        let mut f = empty();
        let y = self.spread;
        f.tube("rail left", self.rail, &[v(-1000.0, y, 0.0), v(2500.0, y, 0.0)]);
        f.tube("rail right", self.rail, &[v(-1000.0, -y, 0.0), v(2500.0, -y, 0.0)]);
        for i in 0..self.rungs {
            let x = 300.0 + 900.0 * i as f64 / self.rungs as f64;
            let dx = 2.0 * y * self.lean.to_radians().tan();
            f.tube(&format!("rung {i}"), self.rung, &[v(x, y, 0.0), v(x + dx, -y, 0.0)]);
        }
        f
    }
}

fn shapes() -> impl Strategy<Value = (Shape, Shape)> {
    let rail = prop_oneof![
        (40.0..90.0).prop_map(|od| round(od, 2.0)),
        (40.0..90.0, 40.0..90.0, 0.0..8.0).prop_map(|(h, w, c)| square(h, w, c)),
    ];
    (rail, 0.3..0.95, any::<bool>(), 0.0..4.0).prop_map(|(rail, part, round_rung, corner)| {
        let least = match rail {
            Shape::Round { od, .. } => od,
            Shape::Box { height, width, .. } => height.min(width),
            _ => unreachable!(),
        };
        let size = least * part;
        (rail, if round_rung { round(size, 2.0) } else { square(size, 0.8 * size, corner) })
    })
}

fn ladders() -> impl Strategy<Value = Ladder> {
    (shapes(), 150.0..400.0, -35.0..35.0, 1..4_usize).prop_map(|((rail, rung), spread, lean, rungs)| Ladder {
        rail,
        rung,
        spread,
        lean,
        rungs,
    })
}

/// Distance of a point from the outside of a tube, and its outward normal there; sharp reasoning of
/// its own, chord 0 only.
/// `sharp`: corners as if not rounded (a branch as wide as a rounded carrier bridges its corners).
fn skin(f: &Frame, tube: usize, p: DVec3, sharp: bool) -> (f64, DVec3) {
    let t = &f.tubes[tube];
    let along = (t.axis[1] - t.axis[0]).normalize();
    let d = p - t.axis[0];
    let d = d - along * d.dot(along);
    let (h, w) = (t.height_dir[0], along.cross(t.height_dir[0]));
    match f.sections[t.section].shape {
        Shape::Round { od, .. } | Shape::Solid { od } => (d.length() - od / 2.0, d.normalize()),
        Shape::Box { height, width, corner, .. } => {
            let r = if sharp { 0.0 } else { corner };
            rounded(d.dot(h), d.dot(w), height / 2.0, width / 2.0, r, h, w)
        }
        Shape::Flat { width, thickness } => {
            rounded(d.dot(h), d.dot(w), thickness / 2.0, width / 2.0, 0.0, h, w)
        }
    }
}

fn rounded(x: f64, y: f64, a: f64, b: f64, r: f64, h: DVec3, w: DVec3) -> (f64, DVec3) {
    let (qx, qy) = (x.abs() - (a - r), y.abs() - (b - r));
    if qx > 0.0 && qy > 0.0 && r > 0.0 {
        let n = (h * qx * x.signum() + w * qy * y.signum()).normalize();
        return (qx.hypot(qy) - r, n);
    }
    if qx - r > qy - r { (qx - r, h * x.signum()) } else { (qy - r, w * y.signum()) }
}

fn each_point(seam: &Seam, mut check: impl FnMut(SeamPoint)) {
    for (i, line) in seam.lines.iter().enumerate() {
        line.samples.iter().for_each(|p| check(*p));
        let whole = line.s[line.s.len() - 1];
        (0..50).for_each(|k| check(seam.point(i, whole * f64::from(k) / 50.0 + 0.123)));
        seam.segments.iter().filter(|s| s.line == i).for_each(|s| check(s.mid));
    }
}

fn laws_of_seams(f: &Frame, joints: &Joints, seams: &Seams) {
    for (meet, seam) in joints.meets.iter().zip(&seams.seams) {
        let ends = matches!(meet.kind, MeetKind::Butt | MeetKind::Mitre);
        each_point(seam, |p| {
            let (off, normal) = skin(f, meet.branch.0, p.at, false);
            near(off, 0.0, ON_SKIN);
            // at a sharp corner two normals are right
            let at_corner = normal.dot(p.branch_normal) < 1e-3;
            assert!(at_corner || normal.dot(p.branch_normal) > 1.0 - 1e-4, "{normal} {}", p.branch_normal);
            near(p.tangent.length(), 1.0, 1e-9);
            near(p.branch_normal.dot(p.tangent), 0.0, 1e-9);
            near(p.carrier_normal.dot(p.tangent), 0.0, 1e-9);
            if !ends {
                let (off, _) = skin(f, meet.carriers[0].0, p.at, true);
                near(off, 0.0, ON_SKIN);
            }
        });
        let clockwise = seam.segments.iter().map(|s| {
            let r = s.mid.at - seam.centre;
            r.cross(s.mid.tangent).dot(seam.clock_axis)
        });
        assert!(clockwise.sum::<f64>() > 0.0, "{} runs against the clock", seam.name);
        let cut: f64 = seam.segments.iter().map(|s| s.length_mm()).sum();
        near(cut, seam.length_mm, 1e-9 * seam.length_mm);
        assert_eq!(seam.segments.len() % 2, 0);
        for (i, s) in seam.segments.iter().enumerate() {
            assert_eq!(seam.segments[s.partner.unwrap()].partner, Some(i));
            assert!(s.length_mm() <= f.rules.max_segment_mm + 1e-9, "{} {}", seam.name, s.length_mm());
            assert!(s.to_mm > s.from_mm);
        }
    }
}

fn moved(f: &Frame, by: DMat3, shift: DVec3) -> Frame {
    let mut out = f.clone();
    out.up = by * f.up;
    out.forward = by * f.forward;
    out.setups.iter_mut().for_each(|s| s.up = by * s.up);
    for t in &mut out.tubes {
        t.axis.iter_mut().for_each(|p| *p = by * *p + shift);
        t.height_dir.iter_mut().for_each(|h| *h = by * *h);
    }
    out
}

/// Same names, kinds, lengths, clocks, positions; places moved along.
fn same_plan(a: &(Joints, Seams), b: &(Joints, Seams), by: DMat3, shift: DVec3) {
    assert_eq!(a.0.joints.len(), b.0.joints.len());
    for (x, y) in a.0.joints.iter().zip(&b.0.joints) {
        assert_eq!((&x.name, x.side, x.mirror), (&y.name, y.side, y.mirror));
        assert!((by * x.at + shift).distance(y.at) < 1e-6);
    }
    for (x, y) in a.1.seams.iter().zip(&b.1.seams) {
        assert_eq!((&x.name, x.kind, x.segments.len()), (&y.name, y.kind, y.segments.len()));
        near(x.length_mm, y.length_mm, 1e-6);
        for (s, r) in x.segments.iter().zip(&y.segments) {
            assert_eq!(
                (&s.clock_from, &s.clock_to, &s.positions, s.side),
                (&r.clock_from, &r.clock_to, &r.positions, r.side)
            );
            assert!((by * s.mid.at + shift).distance(r.mid.at) < 1e-5);
            assert!((by * s.mid.pull).distance(r.mid.pull) < 1e-6);
            assert!((by * s.mid.tangent).distance(r.mid.tangent) < 1e-5);
        }
    }
}

proptest! {
    #![proptest_config(cases(40))]

    #[test]
    fn curves_lie_on_both_skins_and_segments_share_them_out(ladder in ladders()) {
        let f = ladder.frame();
        let (j, s) = f.seams();
        prop_assert_eq!(j.meets.len(), 2 * ladder.rungs);
        laws_of_seams(&f, &j, &s);
    }

    #[test]
    fn turning_the_frame_in_space_changes_places_only(ladder in ladders(), axis in (-1.0..1.0, -1.0..1.0, 0.1..1.0), angle in 0.1..6.0) {
        let by = DMat3::from_quat(DQuat::from_axis_angle(v(axis.0, axis.1, axis.2).normalize(), angle));
        let shift = v(120.0, -77.0, 3000.0);
        let f = ladder.frame();
        same_plan(&f.seams(), &moved(&f, by, shift).seams(), by, shift);
    }

    #[test]
    fn the_mirror_image_swaps_sides(ladder in ladders()) {
        let mirror = DMat3::from_diagonal(v(1.0, -1.0, 1.0));
        let f = ladder.frame();
        let g = { let mut g = moved(&f, mirror, DVec3::ZERO); g.forward = f.forward; g.up = f.up; g };
        let ((ja, sa), (jb, sb)) = (f.seams(), g.seams());
        for (a, b) in ja.joints.iter().zip(&jb.joints) {
            prop_assert_eq!(&a.name, &b.name);
            let swapped = match a.side { Side::Left => Side::Right, Side::Right => Side::Left, c => c };
            // leaning rungs leave no plane, or another one
            if ladder.lean == 0.0 { prop_assert_eq!(swapped, b.side); }
            prop_assert!((mirror * a.at).distance(b.at) < 1e-6);
        }
        for (a, b) in sa.seams.iter().zip(&sb.seams) {
            near(a.length_mm, b.length_mm, 1e-6);
            prop_assert_eq!(a.segments.len(), b.segments.len());
            // every segment has its mirror image, run through the other way
            for s in &a.segments {
                let image = b.segments.iter().min_by(|x, y| {
                    let far = |q: &holdtrue::seam::Segment| q.mid.at.distance(mirror * s.mid.at);
                    far(x).total_cmp(&far(y))
                }).unwrap();
                prop_assert!(image.mid.at.distance(mirror * s.mid.at) < 1e-5, "{} {:?}", a.name, s.clock_from);
                prop_assert!((mirror * s.mid.pull).distance(image.mid.pull) < 1e-6);
                prop_assert!((mirror * s.mid.tangent + image.mid.tangent).length() < 1e-5);
                prop_assert_eq!(&s.positions, &image.positions);
            }
        }
    }
}

#[test]
fn a_mitred_corner_obeys_the_laws_too() {
    let mut f = empty();
    f.tube("a", square(60.0, 60.0, 8.0), &[v(0.0, 0.0, 0.0), v(700.0, 0.0, 0.0)]);
    f.tube("b", square(60.0, 60.0, 8.0), &[v(700.0, 0.0, 0.0), v(700.0, 700.0, 0.0)]);
    f.tube("leg", square(60.0, 60.0, 8.0), &[v(700.0, 0.0, 0.0), v(700.0, 0.0, -600.0)]);
    let (j, s) = f.seams();
    assert_eq!(j.joints.len(), 1);
    assert_eq!(j.meets.iter().map(|m| m.kind).collect::<Vec<_>>(), [MeetKind::Mitre, MeetKind::FlatFaced]);
    assert_eq!(j.meets[1].carriers, [(0, 700.0, 0.5), (1, 0.0, 0.5)]);
    laws_of_seams(&f, &j, &s);
    assert_eq!(f.tubes[0].role, Role::Tube);
}

/// A flat wall narrower than the round rail it stands on: between two samples, too, the curve is on both skins.
#[test]
fn a_sharp_box_on_a_round_rail() {
    let f = Ladder {
        rail: round(40.0, 2.0),
        rung: square(25.808, 20.647, 0.6542),
        spread: 150.0,
        lean: 0.0,
        rungs: 1,
    }
    .frame();
    let (joints, seams) = f.seams();
    for (meet, seam) in joints.meets.iter().zip(&seams.seams) {
        for (i, line) in seam.lines.iter().enumerate() {
            for k in 0..2000 {
                let p = seam.point(i, line.length_mm() * f64::from(k) / 2000.0);
                near(skin(&f, meet.branch.0, p.at, false).0, 0.0, ON_SKIN);
                near(skin(&f, meet.carriers[0].0, p.at, true).0, 0.0, ON_SKIN);
            }
        }
    }
}
