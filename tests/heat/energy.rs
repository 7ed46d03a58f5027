//! No energy is lost or made: what goes in is in the steel or in the air, to 1e-9.
use super::superposition::ladder;
use crate::support::{near, near_rel};
use holdtrue::heat::March;

const ROUNDING: f64 = 1e-9;

fn sources() -> [(usize, f64); 3] {
    [(0, 900.0), (3, 1400.0), (5, 250.0)]
}

/// Without loss all heat stays in the steel, and ends evenly spread.
#[test]
fn nothing_is_lost_without_loss() {
    let mesh = ladder(0.0);
    let mut march = March::new(&mesh.network);
    for (i, step) in [0.1, 0.5, 2.0, 10.0, 60.0, 600.0].iter().cycle().take(60).enumerate() {
        let on = if i < 30 { &sources()[..] } else { &[] };
        march.step(*step, on);
        near_rel(march.stored_j(), march.given_j, ROUNDING);
        near(march.lost_j, 0.0, 0.0);
    }
    assert!(march.given_j > 1e6);
    let level = march.given_j / mesh.network.capacity_j_k.iter().sum::<f64>();
    for _ in 0..40 {
        march.step(20_000.0, &[]);
    }
    for rise in &march.rise_k {
        near_rel(*rise, level, 1e-6);
    }
}

/// With loss: given = stored + lost at every step; lost is what a coefficient times the mean rise says.
#[test]
fn the_balance_closes_with_loss() {
    let mesh = ladder(15.0);
    let mut march = March::new(&mesh.network);
    march.heat(2, 5_000.0);
    for (i, step) in [0.1, 0.5, 2.0, 10.0, 60.0].iter().cycle().take(100).enumerate() {
        let on = if i < 30 { &sources()[..] } else { &[] };
        march.step(*step, on);
        near_rel(march.stored_j() + march.lost_j, march.given_j, ROUNDING);
    }
    let by_integral: f64 =
        march.integral_k_s.iter().zip(&mesh.network.loss_w_k).map(|(rise, loss)| rise * loss).sum();
    near_rel(march.lost_j, by_integral, ROUNDING);
    assert!(march.lost_j > 0.5 * march.given_j);
}

/// The kernels keep the balance too: the heat that all tubes hold is the network's heat.
#[test]
fn tubes_together_hold_all_the_heat() {
    let mesh = ladder(15.0);
    let shop = holdtrue::heat::ShopTimes { ambient_c: 20.0, move_s: 0.0, clean_s: 0.0, turn_s: 0.0 };
    let kernels = holdtrue::heat::Kernels::of_mesh(&mesh, vec![], shop, f64::INFINITY);
    for source in [0, 3] {
        let held = |t: f64| (0..mesh.tubes.len()).map(|m| kernels.held_j_per_j(m, source, t)).sum::<f64>();
        near(held(0.0), 1.0, ROUNDING);
        let mut march = March::new(&mesh.network);
        march.heat(mesh.stations[source].lump, 1.0);
        for _ in 0..400 {
            march.step(0.25, &[]);
        }
        near_rel(held(100.0), march.stored_j(), 1e-5);
    }
}
