//! One-dimensional conductors against closed forms (Carslaw and Jaeger, Conduction of Heat in
//! Solids, instantaneous plane source; from memory, the numbers worked from it):
//!
//!     θ = E / (ρcA·√(4π·a·t)) · exp(−x²/(4·a·t) − t/τ),   τ = ρcA/(hP)
//!
//! Rod: tube 40x2, k 45 W/(m·K), ρc 7850 x 500 J/(m³K), so a = 11.465 mm²/s; E = 20 000 J.
use crate::support::{near, near_rel};
use holdtrue::heat::{Bar, Kernels, March, Mesh, Network, ShopTimes, Station};
use std::f64::consts::PI;

/// Finite cells of 2 mm and finite steps against the closed form.
const CELLS: f64 = 1e-3;
const ENERGY_J: f64 = 20_000.0;

/// Tube 40 x `wall`.
fn tube(wall: f64, loss_w_m2k: f64) -> Bar {
    Bar::new(7850.0, 500.0, 45.0, PI * wall * (40.0 - wall), loss_w_m2k, PI * 40.0)
}

/// `arms` equal bars of 1,500 mm that meet at lump 0; lumps of each arm outwards.
fn star(arms: usize, bar: &Bar, cell_mm: f64) -> (Network, Vec<Vec<usize>>) {
    let mut net = Network::default();
    let centre = net.lump(0.0, 0.0);
    let cuts: Vec<f64> = (0..=(1500.0 / cell_mm) as usize).map(|i| i as f64 * cell_mm).collect();
    let lumps = (0..arms)
        .map(|_| {
            let end = net.lump(0.0, 0.0);
            net.bar([centre, end], &cuts, bar)
        })
        .collect();
    (net, lumps)
}

fn run(march: &mut March, seconds: f64, steps: usize) {
    // Short steps first: the heat starts in one lump.
    let mut step = 0.05;
    let mut t = 0.0;
    while t + step < 0.05 * seconds {
        march.step(step, &[]);
        t += step;
        step *= 1.1;
    }
    let rest = (seconds - t) / steps as f64;
    for _ in 0..steps {
        march.step(rest, &[]);
    }
}

#[test]
fn instantaneous_source_in_a_long_tube() {
    // loss W/(m²K), place mm, time s, rise K
    let rows = [
        (15.0, 0.0, 60.0, 203.445),
        (0.0, 0.0, 60.0, 229.541),
        (15.0, 50.0, 60.0, 82.009),
        (15.0, 0.0, 300.0, 56.145),
        (15.0, 100.0, 300.0, 27.142),
    ];
    for (loss, x, t, want) in rows {
        let (net, arms) = star(2, &tube(2.0, loss), 2.0);
        let mut march = March::new(&net);
        march.heat(0, ENERGY_J);
        run(&mut march, t, 100);
        near_rel(march.rise_k[arms[0][(x / 2.0) as usize]], want, CELLS);
        near_rel(march.rise_k[arms[1][(x / 2.0) as usize]], want, CELLS);
    }
}

/// At a node of n equal tubes the rise is 2/n of that of a rod: 135.630 K for three.
#[test]
fn three_tubes_at_a_node() {
    let (net, _) = star(3, &tube(2.0, 15.0), 2.0);
    let mut march = March::new(&net);
    march.heat(0, ENERGY_J);
    run(&mut march, 60.0, 100);
    near_rel(march.rise_k[0], 135.630, CELLS);
}

/// The same numbers out of the kernels.
#[test]
fn kernels_hold_the_closed_form() {
    let (network, arms) = star(2, &tube(2.0, 15.0), 2.0);
    let station = |lump| Station { joint: 0, lump, mean: vec![(lump, 1.0)] };
    let cells = network.capacity_j_k.iter().copied().enumerate().collect();
    let mesh = Mesh {
        stations: vec![station(0), station(arms[0][25]), station(arms[1][50])],
        tubes: vec![cells],
        station_of: vec![],
        network,
    };
    let shop = ShopTimes { ambient_c: 20.0, move_s: 0.0, clean_s: 0.0, turn_s: 0.0 };
    let kernels = Kernels::of_mesh(&mesh, vec![], shop, 9.0);
    for (at, t, want) in [(0, 60.0, 203.445), (1, 60.0, 82.009), (0, 300.0, 56.145), (2, 300.0, 27.142)] {
        near_rel(ENERGY_J * kernels.rise_k_per_j(at, 0, t), want, CELLS);
        // What one place hears from another is the same both ways.
        near_rel(kernels.rise_k_per_j(0, at, t), kernels.rise_k_per_j(at, 0, t), 1e-6);
    }
    // The heat left in the tube is e^(−t/τ), τ = 497.17 s.
    for t in [10.0, 60.0, 300.0, 900.0] {
        near_rel(kernels.held_j_per_j(0, 0, t), (-t / 497.17f64).exp(), 1e-4);
    }
}

/// Time constants of a 40 mm tube and cooling from 200 to 60 °C in air at 20 °C, worked from
/// τ = ρcA/(hP) and τ·ln(180/40).
#[test]
fn lumped_cooling_times() {
    let rows = [
        (1.5, 15.0, 377.8, 568.2),
        (2.0, 10.0, 745.7, 1121.7),
        (2.0, 15.0, 497.2, 747.8),
        (2.0, 25.0, 298.3, 448.7),
        (3.0, 15.0, 726.1, 1092.1),
        (4.0, 15.0, 942.0, 1416.8),
    ];
    for (wall, loss, tau, cooling) in rows {
        let area = PI * wall * (40.0 - wall);
        let got = holdtrue::heat::loss::time_constant_s(7850e-9 * 500.0, area, loss, PI * 40.0);
        near(got, tau, 0.051);
        // A tube that is warm all over cools like one lump: step it and look.
        let bar = tube(wall, loss);
        let mut net = Network::default();
        let ends = [net.lump(0.0, 0.0), net.lump(0.0, 0.0)];
        net.bar(ends, &[0.0, 20.0, 45.0, 70.0, 100.0], &bar);
        let mut march = March::new(&net);
        march.rise_k.fill(180.0);
        for _ in 0..200 {
            march.step(cooling / 200.0, &[]);
        }
        for rise in &march.rise_k {
            near(*rise, 40.0, 0.01);
        }
    }
    // A thin wall, τ ≈ ρ·c·t/h: stainless 2 mm (7900 x 500), loss 15; 6082 3 mm (2700 x 920), loss 12.
    near(holdtrue::heat::loss::time_constant_s(7900e-9 * 500.0, 2.0, 15.0, 1.0), 526.7, 0.051);
    near(holdtrue::heat::loss::time_constant_s(2700e-9 * 920.0, 3.0, 12.0, 1.0), 621.0, 0.051);
}

/// Halving the cells divides the error by four: second order in space.
#[test]
fn error_falls_with_the_square_of_the_cell() {
    let want = 203.445_f64;
    let exact = {
        let (rho_c, a, t, tau) = (7850e-9 * 500.0, 45e-3 / (7850e-9 * 500.0), 60.0_f64, 497.166_666);
        let area = PI * 2.0 * 38.0;
        ENERGY_J / (rho_c * area * (4.0 * PI * a * t).sqrt()) * (-t / tau).exp()
    };
    near(exact, want, 0.001);
    let error = |cell: f64| {
        let (net, _) = star(2, &tube(2.0, 15.0), cell);
        let mut march = March::new(&net);
        march.heat(0, ENERGY_J);
        run(&mut march, 60.0, 400);
        march.rise_k[0] - exact
    };
    let (coarse, middle, fine) = (error(10.0), error(5.0), error(2.5));
    for ratio in [coarse / middle, middle / fine] {
        assert!((3.6..4.4).contains(&ratio), "errors {coarse} {middle} {fine}");
    }
}

/// The time scheme is of third order: halving the step divides the error by eight.
#[test]
fn error_falls_with_the_cube_of_the_step() {
    let mut net = Network::default();
    let (a, b) = (net.lump(100.0, 0.4), net.lump(60.0, 0.1));
    net.link(a, b, 1.5, 10.0);
    let end = |steps: usize| {
        let mut march = March::new(&net);
        march.heat(a, 10_000.0);
        for _ in 0..steps {
            march.step(120.0 / steps as f64, &[(b, 30.0)]);
        }
        march.rise_k[1]
    };
    let best = end(4096);
    let (coarse, fine) = (end(8) - best, end(16) - best);
    let ratio = coarse / fine;
    assert!((6.5..9.5).contains(&ratio), "{coarse} {fine}");
}
