//! Heat flow in a thin plate: the fast source across it, and Rosenthal's moving source, stepped with
//! the same lumps. k 41 W/(m·K), ρc 7850 x 600 J/(m³K), a = 8.7049 mm²/s, plate 2 mm.
//! Source: D. Rosenthal, Trans. ASME 68 (1946); formulas from memory, numbers worked from them.
use crate::support::{near, near_rel};
use holdtrue::heat::{Bar, March, Network};

const K_W_MMK: f64 = 41e-3;
const RHO_C: f64 = 7850e-9 * 600.0;
const PLATE_MM: f64 = 2.0;

/// A fast line source, q 192 J/mm, heats a strip across it as a plane source heats a rod:
/// θ = (q/d)/√(4π·k·ρc·t)·exp(−y²/(4at)). Rises: 871.523 at y 0, t 5 s; 377.472 at y 10, t 20 s;
/// the highest at y 10 is 493.189 at t = y²/(2a) = 5.744 s.
#[test]
fn fast_source_across_a_plate() {
    let bar = Bar { capacity_j_k_mm: RHO_C * PLATE_MM, conduct_w_mm_k: K_W_MMK * PLATE_MM, loss_w_k_mm: 0.0 };
    let mut net = Network::default();
    let ends = [net.lump(0.0, 0.0), net.lump(0.0, 0.0)];
    // One half of the strip, 1 mm wide, with half of the heat.
    let cuts: Vec<f64> = (0..=600).map(|i| 0.25 * f64::from(i)).collect();
    let lumps = net.bar(ends, &cuts, &bar);
    let mut march = March::new(&net);
    march.heat(lumps[0], 0.5 * 192.0);
    let step = 0.02;
    let (mut highest, mut at_s) = (0.0, 0.0);
    for i in 1..=1000 {
        march.step(step, &[]);
        let t = step * f64::from(i);
        let rise = march.rise_k[lumps[40]];
        if rise > highest {
            (highest, at_s) = (rise, t);
        }
        if i == 250 {
            near_rel(march.rise_k[lumps[0]], 871.523, 1e-3);
        }
    }
    near_rel(march.rise_k[lumps[40]], 377.472, 1e-3);
    near_rel(highest, 493.189, 1e-3);
    near(at_s, 5.744, 0.05);
}

/// Modified Bessel function K0, from its integral ∫₀^∞ exp(−x·cosh u) du.
fn k0(x: f64) -> f64 {
    let n = 4000;
    let h = 12.0 / f64::from(n);
    (0..=n)
        .map(|i| {
            let weight = if i == 0 || i == n { 0.5 } else { 1.0 };
            weight * h * (-x * (h * f64::from(i)).cosh()).exp()
        })
        .sum()
}

/// Abramowitz and Stegun, table 9.8: K0(1) = 0.421024, K0(0.1) = 2.427069.
#[test]
fn bessel_function_of_the_tables() {
    near(k0(1.0), 0.421_024, 1e-6);
    near(k0(0.1), 2.427_069, 1e-6);
}

/// Rosenthal, thin plate, P 594 W at 1.5 mm/s: θ = P/(2πkd)·exp(−vξ/2a)·K0(vr/2a). Beside the arc
/// (ξ 0, y 8) 774.65 K. The far field of the stepped plate must follow it: beside and behind the arc,
/// some cells away from it, once it has run long enough.
#[test]
fn rosenthal_far_field_of_a_moving_source() {
    let (power, speed) = (594.0, 1.5);
    let a = K_W_MMK / RHO_C;
    let formula = |xi: f64, y: f64| {
        let r = xi.hypot(y);
        power / (2.0 * std::f64::consts::PI * K_W_MMK * PLATE_MM)
            * (-speed * xi / (2.0 * a)).exp()
            * k0(speed * r / (2.0 * a))
    };
    near(formula(0.0, 8.0), 774.65, 0.01);

    // Half a plate (the path is its edge), cells of 2 mm, lumps numbered across so that the band
    // stays narrow.
    let (nx, ny, cell) = (110usize, 36usize, 2.0);
    let mut net = Network::default();
    for _ in 0..nx {
        for j in 0..ny {
            // Lumps on the edge are half as wide.
            let share = if j == 0 { 0.5 } else { 1.0 };
            net.lump(share * RHO_C * PLATE_MM * cell * cell, 0.0);
        }
    }
    let lump = |i: usize, j: usize| i * ny + j;
    for i in 0..nx {
        for j in 0..ny {
            let share = if j == 0 { 0.5 } else { 1.0 };
            if i + 1 < nx {
                net.link(lump(i, j), lump(i + 1, j), share * K_W_MMK * PLATE_MM, cell);
            }
            if j + 1 < ny {
                net.link(lump(i, j), lump(i, j + 1), K_W_MMK * PLATE_MM, cell);
            }
        }
    }
    let mut march = March::new(&net);
    // From x = 40 mm to x = 160 mm, half of the power to this half, shared between the two lumps the
    // arc is between at mid-step.
    let (start, steps, step) = (40.0, 120usize, 1.0 / 1.5);
    for n in 0..steps {
        let x = (start + speed * step * (n as f64 + 0.5)) / cell;
        let (i, part) = (x.floor() as usize, x.fract());
        march.step(step, &[(lump(i, 0), 0.5 * power * (1.0 - part)), (lump(i + 1, 0), 0.5 * power * part)]);
    }
    let arc = start + speed * step * steps as f64;
    for (xi, y) in [(0.0, 8.0), (0.0, 12.0), (-10.0, 10.0), (-20.0, 10.0), (-20.0, 16.0), (-30.0, 8.0)] {
        let got = march.rise_k[lump(((arc + xi) / cell) as usize, (y / cell) as usize)];
        near_rel(got, formula(xi, y), 0.03);
    }
}
