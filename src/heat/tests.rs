//! The heat of one hand-made joint: frame to mesh to kernels to timeline, and the faults.
use super::*;
use crate::frame::Frame;
use crate::procedure::{passes, tests::tee, tests::wish};
use crate::seam::Position;

fn codes(faults: &[crate::fault::Fault]) -> Vec<&'static str> {
    faults.iter().map(|f| f.code).collect()
}

#[test]
fn the_mesh_holds_all_the_steel_once() {
    let (frame, joints, seams) = tee(["S235", "S235"], wish(141), Position::PB);
    for refine in [1, 3] {
        let settings = HeatSettings { refine, ..HeatSettings::default() };
        let mesh = Mesh::of(&frame, &joints, &seams, &settings);
        // Rail 38x2, 600 mm; leg 32x1.6 from the rail's surface at 19 mm to 400 mm. ρc 7850 x 480.
        let area = |od: f64, wall: f64| std::f64::consts::PI * wall * (od - wall);
        let rail = area(38.0, 2.0) * 600.0 * 7850e-9 * 480.0;
        let leg = area(32.0, 1.6) * 381.0 * 7850e-9 * 480.0;
        let held = |m: usize| mesh.tubes[m].iter().map(|c| c.1).sum::<f64>();
        assert!((held(0) - rail).abs() < 1e-9 * rail, "{} {rail}", held(0));
        assert!((held(1) - leg).abs() < 1e-9 * leg, "{} {leg}", held(1));
        let all: f64 = mesh.network.capacity_j_k.iter().sum();
        assert!((all - rail - leg).abs() < 1e-9 * all);
        // One station, joining both tubes; the mean reaches 25 mm along each of the three arms.
        assert_eq!(mesh.stations.len(), 1);
        let mean: f64 = mesh.stations[0].mean.iter().map(|m| m.1).sum();
        assert!((mean - 1.0).abs() < 1e-12);
        // 981 mm in cells of 6 to 20 mm.
        let lumps = mesh.network.len() / refine;
        assert!((50..120).contains(&lumps), "{lumps}");
    }
}

#[test]
fn cells_are_fine_at_a_joint_and_grow_away_from_it() {
    let settings = HeatSettings::default();
    for (length, at) in
        [(400.0, [true, false]), (400.0, [true, true]), (37.0, [true, true]), (5.0, [false, true])]
    {
        let cuts = mesh::cuts(length, at, &settings);
        assert_eq!((cuts[0], cuts[cuts.len() - 1]), (0.0, length));
        let sizes: Vec<f64> = cuts.windows(2).map(|w| w[1] - w[0]).collect();
        assert!(sizes.iter().all(|s| *s > 0.0 && *s < 21.0), "{sizes:?}");
        if at[0] {
            assert!(sizes[0] < 6.6, "{sizes:?}");
        }
        if at[1] {
            assert!(sizes[sizes.len() - 1] < 6.6, "{sizes:?}");
        }
        for pair in sizes.windows(2) {
            let growth = (pair[1] / pair[0]).max(pair[0] / pair[1]);
            assert!(growth < 1.6, "{sizes:?}");
        }
    }
}

#[test]
fn a_tee_warms_and_cools() {
    let (frame, joints, seams) = tee(["S235", "S235"], wish(135), Position::PB);
    let passes = passes(&frame, &joints, &seams);
    assert!(check(&frame, &passes).is_empty());
    let kernels = Kernels::new(&frame, &joints, &seams, &passes);
    let order: Vec<HeatStep> =
        [0, 4, 2, 6, 1, 5, 3, 7].into_iter().map(|p| HeatStep { passes: vec![p], turn: false }).collect();
    let line = kernels.timeline(&order);
    assert_eq!(line.start_s.len(), 8);
    assert_eq!(line.tube_rise_k[7].len(), 2);
    assert!(line.start_s.windows(2).all(|w| w[1] > w[0]));
    // Each pass starts on warmer steel than the first, and no hotter than its limit.
    assert!(line.before_c[1] > line.before_c[0] + 5.0);
    assert!(line.before_c.iter().all(|c| *c <= 250.0));
    // All of it could warm 25 mm of three arms to no more than this.
    let energy: f64 = passes.passes.iter().map(|p| p.energy_j).sum();
    let steel = 7850e-9 * 480.0 * 25.0 * (2.0 * 226.2 + 152.8);
    assert!(line.peak.0 > line.before_c[7] && line.peak.0 < 20.0 + energy / steel);
    assert!(line.cold_s > 60.0 && line.cold_s < 3600.0, "{}", line.cold_s);
    // A finer network says the same within about one part in a hundred of the rise.
    let fine = HeatSettings { refine: 4, ..HeatSettings::default() };
    let finer = Kernels::with(&frame, &joints, &seams, &passes, &fine).timeline(&order);
    for (a, b) in line.before_c.iter().zip(&finer.before_c) {
        assert!((a - b).abs() < 0.012 * (b - 20.0).max(10.0), "{a} {b}");
    }
}

#[test]
fn clamps_take_heat_if_told_so() {
    let (mut frame, joints, seams) = tee(["S235", "S235"], wish(135), Position::PB);
    frame.clamps.push(crate::frame::Clamp {
        name: "stop".into(),
        tube: 0,
        at_mm: 340.0,
        holds: vec![],
        one_way: false,
        stiffness_n_mm: 5e3,
        setups: vec![],
        release: crate::frame::Release::End,
    });
    let passes = passes(&frame, &joints, &seams);
    let order: Vec<HeatStep> = (0..8).map(|p| HeatStep { passes: vec![p], turn: false }).collect();
    let bare = Kernels::new(&frame, &joints, &seams, &passes).timeline(&order);
    let settings = HeatSettings { clamp_w_k: 2.0, ..HeatSettings::default() };
    let held = Kernels::with(&frame, &joints, &seams, &passes, &settings).timeline(&order);
    assert!(held.before_c[7] < bare.before_c[7]);
    assert!(held.cold_s < 0.9 * bare.cold_s, "{} {}", held.cold_s, bare.cold_s);
}

#[test]
fn heat_without_an_answer_is_refused() {
    let (frame, joints, seams) = tee(["6082", "6082"], wish(141), Position::PB);
    let faults = |frame: &Frame| check(frame, &passes(frame, &joints, &seams));
    assert!(faults(&frame).is_empty());

    let mut hot = frame.clone();
    hot.shop.ambient_c = 100.0;
    let found = faults(&hot);
    assert_eq!(codes(&found), ["E401"]);
    assert!(found[0].message.contains("J1a") && found[0].message.contains("100"), "{}", found[0].message);

    let mut still = frame.clone();
    for loss in [0.0, -3.0, f64::NAN] {
        still.shop.loss_w_m2k = Some(loss);
        assert_eq!(codes(&faults(&still)), ["E402"], "{loss}");
    }
    still.shop.loss_w_m2k = Some(15.0);
    assert!(faults(&still).is_empty());

    for (speed, volts) in [(0.0, 14.0), (-1.0, 14.0), (f64::NAN, 14.0), (3.0, 0.0)] {
        let mut slow = frame.clone();
        slow.procedures[0].speed_mm_s = Some(speed);
        slow.procedures[0].volts = Some(volts);
        assert_eq!(codes(&faults(&slow)), ["E403"], "{speed} {volts}");
    }

    let mut warm = frame.clone();
    warm.procedures[0].preheat_c = Some(100.0);
    assert_eq!(codes(&faults(&warm)), ["E404"]);
}
