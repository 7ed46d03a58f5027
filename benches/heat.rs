//! How long a timeline takes once the kernels are there, and how long the kernels take.
use holdtrue::heat::{Bar, Clock, HeatStep, Kernels, Mesh, Network, PassHeat, ShopTimes, Station};

fn main() {
    divan::main();
}

const SHOP: ShopTimes = ShopTimes { ambient_c: 20.0, move_s: 15.0, clean_s: 20.0, turn_s: 180.0 };

/// A flat lattice of 40x2 tube, `n` by `n` joints 300 mm apart.
fn lattice(n: usize) -> Mesh {
    let bar = Bar::new(7850.0, 480.0, 50.7, 238.76, 15.0, 125.66);
    let cuts: Vec<f64> = (0..=25).map(|i| 12.0 * f64::from(i)).collect();
    let mut network = Network::default();
    for _ in 0..n * n {
        network.lump(0.0, 0.0);
    }
    let mut tubes = Vec::new();
    for i in 0..n {
        for j in 0..n {
            let here = i * n + j;
            for (there, is) in [(here + n, i + 1 < n), (here + 1, j + 1 < n)] {
                if is {
                    let lumps = network.bar([here, there], &cuts, &bar);
                    let last = lumps.len() - 1;
                    let part = |k: usize| if k == 0 || k == last { 6.0 } else { 12.0 };
                    let cells = lumps.iter().enumerate();
                    tubes.push(cells.map(|(k, l)| (*l, part(k) * bar.capacity_j_k_mm)).collect());
                }
            }
        }
    }
    let stations = (0..n * n).map(|j| Station { joint: j, lump: j, mean: vec![(j, 1.0)] }).collect();
    Mesh { network, stations, station_of: vec![], tubes }
}

/// `count` passes skipping over the lattice.
fn plan(n: usize, count: usize) -> (Vec<PassHeat>, Vec<HeatStep>) {
    let heat = |i: usize| {
        let joint = i * 7 % (n * n);
        PassHeat { station: joint, joint, power_w: 1500.0, arc_s: 5.0, limit_c: 150.0, on_layer: false }
    };
    let steps = (0..count).map(|i| HeatStep { passes: vec![i], turn: i % 40 == 39 }).collect();
    ((0..count).map(heat).collect(), steps)
}

/// The timeline of a plan, kernels at hand: joints on a lattice, passes.
#[divan::bench(args = [(4, 100), (6, 100), (8, 500), (12, 1000)])]
fn timeline(bencher: divan::Bencher, (n, count): (usize, usize)) {
    let (passes, steps) = plan(n, count);
    let kernels = Kernels::of_mesh(&lattice(n), passes, SHOP, 9.0);
    bencher.bench_local(|| kernels.timeline(&steps));
}

/// What a scheduler asks: the wait of a pass in the middle of a plan.
#[divan::bench]
fn wait_for_a_pass(bencher: divan::Bencher) {
    let (passes, steps) = plan(6, 100);
    let kernels = Kernels::of_mesh(&lattice(6), passes, SHOP, 9.0);
    let mut clock = Clock::new(&kernels);
    for step in &steps[..60] {
        clock.lay(step);
    }
    bencher.bench_local(|| clock.wait_for(divan::black_box(77)));
}

/// Making the kernels, once per frame.
#[divan::bench(args = [4, 8], sample_count = 5)]
fn kernels(bencher: divan::Bencher, n: usize) {
    let mesh = lattice(n);
    bencher.bench_local(|| Kernels::of_mesh(&mesh, vec![], SHOP, 9.0));
}
