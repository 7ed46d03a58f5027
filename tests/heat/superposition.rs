//! Sums of kernels against stepping the whole network through the same plan.
use crate::support::near;
use holdtrue::heat::{Bar, HeatStep, Kernels, March, Mesh, Network, PassHeat, ShopTimes, Station};
use rand::{RngExt, SeedableRng};

pub const AMBIENT_C: f64 = 20.0;

/// A closed ladder of 40x2 tube (k 45, ρc 7850 x 500): two rails of three bays of 260 mm, four rungs
/// of 180 mm. Lumps 0 to 3 are the joints of the first rail, 4 to 7 of the second.
pub fn ladder(loss_w_m2k: f64) -> Mesh {
    let bar = Bar::new(7850.0, 500.0, 45.0, 238.76, loss_w_m2k, 125.66);
    let mut network = Network::default();
    for _ in 0..8 {
        network.lump(0.0, 0.0);
    }
    let mut tubes = Vec::new();
    let mut lay = |ends: [usize; 2], length: usize| {
        let cuts: Vec<f64> = (0..=length / 10).map(|i| 10.0 * i as f64).collect();
        let lumps = network.bar(ends, &cuts, &bar);
        let last = lumps.len() - 1;
        let share = |i: usize| if i == 0 || i == last { 5.0 } else { 10.0 };
        tubes.push(lumps.iter().enumerate().map(|(i, l)| (*l, share(i) * bar.capacity_j_k_mm)).collect());
        (lumps[1], lumps[last - 1])
    };
    let mut beside = vec![Vec::new(); 8];
    let mut ends = vec![];
    for side in [0, 4] {
        for bay in 0..3 {
            ends.push([side + bay, side + bay + 1]);
        }
    }
    for rung in 0..4 {
        ends.push([rung, rung + 4]);
    }
    for (i, pair) in ends.into_iter().enumerate() {
        let (first, last) = lay(pair, if i < 6 { 260 } else { 180 });
        beside[pair[0]].push(first);
        beside[pair[1]].push(last);
    }
    let stations = (0..8)
        .map(|joint| {
            // The joint's lump and its neighbours, by their length.
            let arms = beside[joint].len() as f64;
            let mut mean = vec![(joint, 1.0 / 3.0)];
            mean.extend(beside[joint].iter().map(|l| (*l, 2.0 / 3.0 / arms)));
            Station { joint, lump: joint, mean }
        })
        .collect();
    Mesh { network, stations, station_of: vec![], tubes }
}

/// Forty passes at random joints.
fn passes(seed: u64, limit_c: f64) -> Vec<PassHeat> {
    let mut dice = rand_chacha_like(seed);
    (0..40)
        .map(|_| {
            let joint = dice.random_range(0..8);
            PassHeat {
                station: joint,
                joint,
                power_w: dice.random_range(700.0..1600.0),
                arc_s: dice.random_range(3.0..12.0),
                limit_c,
                on_layer: dice.random_bool(0.3),
            }
        })
        .collect()
}

fn rand_chacha_like(seed: u64) -> rand::rngs::ChaCha8Rng {
    rand::rngs::ChaCha8Rng::seed_from_u64(seed)
}

/// A random plan, its times from the kernels; then the whole network stepped through those times in
/// steps of a quarter of a second, reading every joint and every tube before every pass.
#[test]
fn superposition_equals_stepping_the_whole_network() {
    /// Steps of 0.25 s and a cubic in time against each other, on rises of 100 to 300 K.
    const BOTH_STEPPINGS_K: f64 = 0.05;
    let mesh = ladder(15.0);
    let shop = ShopTimes { ambient_c: AMBIENT_C, move_s: 7.0, clean_s: 20.0, turn_s: 180.0 };
    let heats = passes(3, 150.0);
    let kernels = Kernels::of_mesh(&mesh, heats.clone(), shop, f64::INFINITY);
    let order: Vec<HeatStep> = (0..40).map(|i| HeatStep { passes: vec![i], turn: i % 13 == 12 }).collect();
    let (line, clock) = kernels.run(&order);
    assert!(line.wait_s.iter().any(|w| *w > 0.0), "the plan must have waits to be worth testing");

    let mut march = March::new(&mesh.network);
    let mut now = 0.0;
    let advance = |march: &mut March, now: &mut f64, to: f64, source: &[(usize, f64)]| {
        let steps = ((to - *now) / 0.25).ceil().max(1.0);
        for _ in 0..steps as usize {
            march.step((to - *now) / steps, source);
        }
        *now = to;
    };
    let mean = |march: &March, station: &Station| -> f64 {
        AMBIENT_C + station.mean.iter().map(|(l, w)| w * march.rise_k[*l]).sum::<f64>()
    };
    let mut hottest: f64 = 0.0;
    for (i, heat) in heats.iter().enumerate() {
        if line.start_s[i] > now {
            advance(&mut march, &mut now, line.start_s[i], &[]);
        }
        near(line.before_c[i], mean(&march, &mesh.stations[heat.station]), BOTH_STEPPINGS_K);
        for (joint, station) in mesh.stations.iter().enumerate() {
            let want = mean(&march, station);
            near(clock.temperature(joint, now), want, BOTH_STEPPINGS_K);
            hottest = hottest.max(want);
        }
        for (tube, cells) in mesh.tubes.iter().enumerate() {
            let capacity: f64 = cells.iter().map(|c| c.1).sum();
            let want: f64 = cells.iter().map(|(l, c)| c * march.rise_k[*l]).sum::<f64>() / capacity;
            near(line.tube_rise_k[i][tube], want, BOTH_STEPPINGS_K);
        }
        advance(&mut march, &mut now, line.start_s[i] + heat.arc_s, &[(heat.station, heat.power_w)]);
    }
    assert!(hottest > 120.0, "hot enough to be a test: {hottest}");
    near(line.end_s, now, 1e-9);
    advance(&mut march, &mut now, line.end_s + line.cold_s, &[]);
    let warmest = mesh.stations.iter().map(|s| mean(&march, s)).fold(0.0, f64::max);
    // Cold: within 10 K of the air, and not long before (waits go by whole seconds).
    near(warmest, AMBIENT_C + 10.0, 0.15);
}

/// Heat followed only to nine e-folding lengths, against heat followed everywhere.
#[test]
fn what_lies_beyond_the_reach_does_not_matter() {
    let bar = Bar::new(7850.0, 500.0, 45.0, 238.76, 25.0, 125.66);
    let mesh = ladder(25.0);
    let shop = ShopTimes { ambient_c: AMBIENT_C, move_s: 7.0, clean_s: 20.0, turn_s: 0.0 };
    let order: Vec<HeatStep> = (0..40).map(|i| HeatStep { passes: vec![i], turn: false }).collect();
    let near_by = Kernels::of_mesh(&mesh, passes(5, 1e6), shop, 9.0);
    let whole = Kernels::of_mesh(&mesh, passes(5, 1e6), shop, f64::INFINITY);
    let (a, b) = (near_by.timeline(&order), whole.timeline(&order));
    assert!(9.0 * bar.reach_mm() < 260.0 * 3.0, "the ladder must be longer than the reach");
    for (x, y) in a.before_c.iter().zip(&b.before_c) {
        near(*x, *y, 0.05);
    }
}

/// Twice the power, twice the rise; two passes one after the other rise as each alone.
#[test]
fn rises_add_up() {
    let mesh = ladder(15.0);
    let shop = ShopTimes { ambient_c: AMBIENT_C, move_s: 5.0, clean_s: 0.0, turn_s: 0.0 };
    let heat =
        |power_w| PassHeat { station: 1, joint: 1, power_w, arc_s: 8.0, limit_c: 1e6, on_layer: false };
    let kernels = Kernels::of_mesh(&mesh, vec![heat(1000.0), heat(2000.0)], shop, f64::INFINITY);
    let step = |i| HeatStep { passes: vec![i], turn: false };
    let (_, one) = kernels.run(&[step(0)]);
    let (_, two) = kernels.run(&[step(1)]);
    let (line, both) = kernels.run(&[step(0), step(1)]);
    for joint in 0..8 {
        for t in [4.0, 20.0, 100.0, 800.0] {
            let rise = |c: &holdtrue::heat::Clock, t: f64| c.temperature(joint, t) - AMBIENT_C;
            near(rise(&two, t), 2.0 * rise(&one, t), 1e-9);
            near(rise(&both, t), rise(&one, t) + rise(&two, t - line.start_s[1]), 1e-9);
        }
    }
}
