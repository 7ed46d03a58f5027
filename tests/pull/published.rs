//! The pull model's formulas against published values.

use super::hand::*;
use crate::support::{near, near_rel};
use holdtrue::distort::{fessler, section_values};
use holdtrue::frame::Shape;
use holdtrue::joint::MeetKind;

/// Fessler, Mockford and Webster (1986) as quoted in two programs' manuals; the table was worked out
/// from the equations apart from this program. (D, T, d, angle, f_ax, f_ipb, f_opb, made
/// non-dimensional with E D and E D³.)
#[test]
fn fessler_table() {
    for (d, t, branch, angle, ax, ipb, opb) in [
        (500.0, 16.0, 250.0, 45.0, 136.704, 1064.828, 2495.979),
        (500.0, 16.0, 250.0, 90.0, 292.017, 1625.204, 5276.589),
        (60.3, 2.9, 33.7, 90.0, 103.343, 615.532, 1716.601),
        (60.3, 2.9, 48.3, 90.0, 36.717, 206.045, 675.821),
        (38.1, 1.65, 31.8, 90.0, 36.154, 212.157, 747.678),
    ] {
        let f = fessler(d, t, branch, angle, 210_000.0);
        let e = 210_000.0;
        near_rel(f.axial_mm_n * e * d, ax, 1e-5);
        near_rel(f.in_plane_rad_nmm * e * d * d * d, ipb, 1e-5);
        near_rel(f.out_of_plane_rad_nmm * e * d * d * d, opb, 1e-5);
    }
}

/// The range in which the equations were fitted (γ 10 to 20, β 0.33 to 0.76, θ 35° to 90°, from memory): each
/// limit by itself marks what lies beyond it.
#[test]
fn fessler_range() {
    let outside = |d: f64, t: f64, branch: f64, angle: f64| fessler(d, t, branch, angle, 210_000.0).outside;
    for (gamma, beta, angle, beyond) in [
        (15.0, 0.5, 90.0, false),
        (10.0, 0.5, 60.0, false),
        (9.9, 0.5, 60.0, true),
        (20.0, 0.5, 60.0, false),
        (20.1, 0.5, 60.0, true),
        (15.0, 0.34, 60.0, false),
        (15.0, 0.32, 60.0, true),
        (15.0, 0.75, 60.0, false),
        (15.0, 0.77, 60.0, true),
        (15.0, 0.5, 35.0, false),
        (15.0, 0.5, 34.0, true),
    ] {
        // A wall of 1 mm makes γ half the diameter.
        assert_eq!(
            outside(2.0 * gamma, 1.0, 2.0 * gamma * beta, angle),
            beyond,
            "γ {gamma} β {beta} θ {angle}"
        );
    }
}

/// Tendon force of a long weld: F = E·V′ with C_l = 0.335 lies in the published 200 (White 1977,
/// from memory) to 245 N per J/mm (derived, steel at room temperature), and its bow of a tube
/// F e L²/(8 E I) agrees with Blodgett's 0.005 A_w d L²/I (from memory) within their own spread.
#[test]
fn tendon_force_and_blodgett() {
    let s = steel();
    let force_per_q = s.e_mpa * settings().c_l * s.shrink_mm3_per_j();
    near(force_per_q, 222.5, 22.6);
    // 40 × 2 tube, bead at the surface, 150 J/mm, 1 m: 8.26 mm with 200 N per J/mm.
    let v = section_values(&Shape::Round { od: 40.0, wall: 2.0 });
    near(v.iy_mm4, 43_215.7, 0.1);
    let bow = force_per_q * 150.0 * 20.0 * 1e6 / (8.0 * s.e_mpa * v.iy_mm4);
    near_rel(bow, 8.264, 0.15);
    // Blodgett with 40 J of net heat to each mm³ of weld metal.
    let blodgett = 0.005 * (150.0 / 40.0) * 20.0 * 1e6 / v.iy_mm4;
    near_rel(bow, blodgett, 0.15);
}

/// Shrinkage across a seam never exceeds the free shrinkage of a strip heated through,
/// α q/(ρ c t): q 200, t 2: 0.3185 mm; q 300, t 6: 0.1592 mm (derived). Two tubes butted end to end
/// come nearer by exactly the model's part of it.
#[test]
fn transverse_bound() {
    for (q, t, most) in
        [(200.0, 2.0, 0.3185), (250.0, 3.0, 0.2654), (400.0, 4.0, 0.3185), (300.0, 6.0, 0.1592)]
    {
        for c_t in [0.42, 1.0, 5.0] {
            let got = butted(q, t, c_t);
            assert!(got <= most * 1.0005, "C_t {c_t}: {got} above {most}");
            near_rel(got, c_t.min(1.0) * most, 0.002);
        }
    }
}

/// By how much two tubes butted end to end come nearer, all passes at once, walls not shrinking.
fn butted(q: f64, wall: f64, c_t: f64) -> f64 {
    use glam::DVec3;
    use holdtrue::distort::{Event, Level};
    use holdtrue::frame::ControlKind;
    use holdtrue::seam::{Line, SeamPoint};
    let mut f = empty(vec![Shape::Round { od: 60.0, wall }]);
    f.pull.c_t = c_t;
    f.pull.c_l = 0.0;
    add_tube(&mut f, "left", 0, &[DVec3::ZERO, DVec3::X * 300.0]);
    add_tube(&mut f, "right", 0, &[DVec3::X * 300.0, DVec3::X * 600.0]);
    f.controls = vec![control("length", ControlKind::Distance(spot(0, 0.0), spot(1, 300.0)))];
    let mut b = Bench::new(f);
    let n = 360;
    let samples: Vec<SeamPoint> = (0..=n)
        .map(|i| {
            let a = i as f64 / n as f64 * std::f64::consts::TAU;
            let out = DVec3::new(0.0, a.cos(), a.sin());
            SeamPoint {
                at: DVec3::X * 300.0 + out * 30.0,
                tangent: DVec3::X.cross(out),
                branch_normal: out,
                carrier_normal: out,
                pull: DVec3::X,
            }
        })
        .collect();
    let s: Vec<f64> = (0..=n).map(|i| i as f64 / n as f64 * 60.0 * std::f64::consts::PI).collect();
    let total = s[n];
    let cuts = (0..6).map(|i| (total * i as f64 / 6.0, total * (i + 1) as f64 / 6.0)).collect();
    b.seam(MeetKind::Butt, (1, 0.0), (0, 300.0), vec![Line { samples, s }], true, &[cuts], q);
    let m = b.model();
    // A tack softer than nothing: the ring closes by δ as if it were alone.
    let events: Vec<Event> = m
        .default_tacks()
        .iter()
        .map(|t| Event::Tack(holdtrue::distort::Tack { length_mm: 1e-4, pull: 0.0, ..*t }))
        .chain([Event::Together((0..6).map(|pass| Event::Pass { pass, forward: true }).collect())])
        .collect();
    -m.controls_after(&events, Level::Coarse).unwrap().0[0]
}
