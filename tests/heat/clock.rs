//! The clock: what takes time, and when a joint must wait.
use super::superposition::{AMBIENT_C, ladder};
use crate::support::near;
use holdtrue::heat::{Clock, HeatStep, Kernels, PassHeat, ShopTimes};

const SHOP: ShopTimes = ShopTimes { ambient_c: AMBIENT_C, move_s: 7.0, clean_s: 20.0, turn_s: 180.0 };

fn pass(joint: usize, limit_c: f64, on_layer: bool) -> PassHeat {
    PassHeat { station: joint, joint, power_w: 1500.0, arc_s: 10.0, limit_c, on_layer }
}

fn one(pass: usize) -> HeatStep {
    HeatStep { passes: vec![pass], turn: false }
}

#[test]
fn seconds_of_welding_moving_cleaning_and_turning() {
    let hot = 1e6;
    let heats = vec![
        pass(0, hot, false),
        pass(0, hot, true),
        pass(1, hot, false),
        pass(1, hot, true),
        pass(2, hot, false),
    ];
    let kernels = Kernels::of_mesh(&ladder(15.0), heats, SHOP, f64::INFINITY);
    let turned = HeatStep { passes: vec![3], turn: true };
    let two = HeatStep { passes: vec![4], turn: false };
    let line = kernels.timeline(&[one(0), one(1), one(2), turned, two]);
    // Arc 10 s each. Clean 20 on the same joint; move 7; turn 180 and clean 20 on the same; move 7.
    let want = [0.0, 10.0 + 20.0, 40.0 + 7.0, 57.0 + 200.0, 267.0 + 7.0];
    for (got, want) in line.start_s.iter().zip(want) {
        near(*got, want, 1e-9);
    }
    near(line.end_s, 284.0, 1e-9);
    assert!(line.wait_s.iter().all(|w| *w == 0.0));
    near(line.before_c[0], AMBIENT_C, 1e-9);
    // Two welders: one step, as long as its longest.
    let both = kernels.timeline(&[HeatStep { passes: vec![0, 4], turn: false }, one(2)]);
    assert_eq!(both.start_s[..2], [0.0, 0.0]);
    near(both.start_s[2], 17.0, 1e-9);
}

#[test]
fn a_hot_joint_waits_until_it_is_under_its_limit_and_no_longer() {
    let limit = 60.0;
    let heats = vec![pass(1, limit, false), pass(1, limit, false), pass(6, limit, false)];
    let kernels = Kernels::of_mesh(&ladder(15.0), heats, SHOP, f64::INFINITY);
    let mut clock = Clock::new(&kernels);
    clock.lay(&one(0));
    let hot = clock.temperature_now(1);
    assert!(hot > limit, "{hot}");
    // Elsewhere there is nothing to wait for.
    near(clock.wait_for(2), 0.0, 0.0);
    let wait = clock.wait_for(1);
    near(wait, clock.earliest(1, limit), 1e-9);
    let now = clock.now_s();
    assert!(clock.temperature(1, now + wait) <= limit);
    assert!(clock.temperature(1, now + wait - 2.0) > limit, "waits no longer than needed");
    let mut tried = clock.clone();
    let laid = tried.lay(&one(1));
    near(laid.wait_s, wait, 1e-9);
    near(laid.start_s, now + wait, 1e-9);
    assert!(laid.before_c[0] <= limit);
    // The clock that was tried is not the clock itself.
    near(clock.now_s(), now, 0.0);
    // Welding elsewhere first makes the wait shorter.
    clock.lay(&one(2));
    assert!(clock.wait_for(1) < wait - 10.0);
}

#[test]
fn a_limit_at_the_air_is_never_reached() {
    let kernels = Kernels::of_mesh(&ladder(15.0), vec![pass(0, AMBIENT_C, false); 2], SHOP, f64::INFINITY);
    let mut clock = Clock::new(&kernels);
    near(clock.wait_for(0), 0.0, 0.0);
    clock.lay(&one(0));
    assert_eq!(clock.wait_for(1), f64::INFINITY);
    assert_eq!(clock.earliest(0, AMBIENT_C), f64::INFINITY);
}

#[test]
fn peak_names_the_hottest_joint() {
    let heats = vec![pass(0, 1e6, false), pass(5, 1e6, false), pass(5, 1e6, false), pass(5, 1e6, false)];
    let kernels = Kernels::of_mesh(&ladder(15.0), heats, SHOP, f64::INFINITY);
    let (line, clock) = kernels.run(&[one(0), one(1), one(2), one(3)]);
    assert_eq!(line.peak.1, 5);
    // No sampled moment is much hotter than the peak told.
    let most = (0..4000).map(|i| clock.temperature(5, 0.1 * f64::from(i))).fold(0.0, f64::max);
    near(line.peak.0, most, 3.0);
}
