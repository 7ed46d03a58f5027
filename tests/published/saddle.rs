//! Length of the weld at a round T or Y joint.
//!
//! Sources:
//! - exact length: the curve in which two cylinders meet, here by 400 000 chords of
//!   `z = √(R² − v²), x = (z cos θ − u)/sin θ`, `u, v = r cos φ, r sin φ` (a method of its own, not the
//!   one of the program). K = length / (2π r), β = r / R.
//! - AWS D1.1, tubular structures, approximate length `2π r Ka`, `Ka = x + y + 3√(x² + y²)`,
//!   `x = 1/(2π sin θ)`, `y = (3 − β²) / (3π (2 − β²))`; from memory, clause not at hand.

use crate::joints::build::*;
use crate::support::{near, near_rel};
use holdtrue::joint::MeetKind;
use std::f64::consts::PI;

/// Branch radius 20 on a carrier of radius 20 / β.
fn length(beta: f64, deg: f64) -> f64 {
    let f = t_joint(round(40.0 / beta, 2.0), round(40.0, 2.0), deg);
    let (joints, seams) = f.seams();
    assert_eq!(joints.meets[0].kind, MeetKind::Saddle);
    assert!(seams.seams[0].closed);
    seams.seams[0].length_mm
}

fn k(beta: f64, deg: f64) -> f64 {
    length(beta, deg) / (2.0 * PI * 20.0)
}

/// 400 000 chords have errors near 1e-11; 1e-9 leaves room for rounding.
const CHORDS: f64 = 1e-9;

fn by_chords(r: f64, big: f64, deg: f64) -> f64 {
    let (sin, cos) = deg.to_radians().sin_cos();
    let point = |i: usize| {
        let phi = 2.0 * PI * i as f64 / 400_000.0;
        let (u, y) = (r * phi.cos(), r * phi.sin());
        let z = (big * big - y * y).max(0.0).sqrt();
        [(z * cos - u) / sin, y, z]
    };
    (0..400_000)
        .map(|i| {
            let (p, q) = (point(i), point(i + 1));
            (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt()
        })
        .sum()
}

/// β, then at 30, 45, 60, 75, 90 degrees: exact K (four digits as tabulated) and how far Ka is off, %.
const TABLE: [(f64, [(f64, f64); 5]); 8] = [
    (0.2, [(1.5451, 0.16), (1.2189, -0.39), (1.0815, -0.55), (1.0203, -0.57), (1.0025, -0.56)]),
    (0.3, [(1.5493, 0.11), (1.2228, -0.38), (1.0850, -0.49), (1.0237, -0.47), (1.0059, -0.45)]),
    (0.4, [(1.5554, 0.04), (1.2284, -0.37), (1.0903, -0.39), (1.0287, -0.31), (1.0108, -0.28)]),
    (0.5, [(1.5641, -0.07), (1.2364, -0.35), (1.0977, -0.25), (1.0357, -0.10), (1.0177, -0.03)]),
    (0.7, [(1.5932, -0.43), (1.2628, -0.28), (1.1220, 0.20), (1.0589, 0.60), (1.0405, 0.74)]),
    (0.8, [(1.6185, -0.79), (1.2854, -0.30), (1.1428, 0.49), (1.0786, 1.07), (1.0598, 1.28)]),
    (0.9, [(1.6611, -1.64), (1.3230, -0.66), (1.1772, 0.53), (1.1113, 1.37), (1.0920, 1.67)]),
    (1.0, [(1.8327, -8.43), (1.4697, -7.10), (1.3104, -5.51), (1.2375, -4.40), (1.2160, -4.02)]),
];

const ANGLES: [f64; 5] = [30.0, 45.0, 60.0, 75.0, 90.0];

#[test]
fn exact_lengths_and_the_approximation_of_aws() {
    for (beta, row) in TABLE {
        for (deg, (want, off)) in ANGLES.into_iter().zip(row) {
            let got = k(beta, deg);
            near(got, want, 0.00005 + 1e-9); // printed to four digits
            let (x, y) = (
                1.0 / (2.0 * PI * deg.to_radians().sin()),
                (3.0 - beta * beta) / (3.0 * PI * (2.0 - beta * beta)),
            );
            let ka = x + y + 3.0 * x.hypot(y);
            near(100.0 * (ka / got - 1.0), off, 0.0051);
        }
    }
}

#[test]
fn agrees_with_chords_to_nine_digits() {
    for (r, big, deg) in [(16.85, 24.15, 90.0), (20.0, 22.0, 37.0), (10.0, 100.0, 61.5)] {
        let f = t_joint(round(2.0 * big, 2.0), round(2.0 * r, 2.0), deg);
        near_rel(f.seams().1.seams[0].length_mm, by_chords(r, big, deg), CHORDS);
    }
}

#[test]
fn worked_lengths_in_millimetres() {
    let length =
        |carrier, branch| t_joint(round(carrier, 2.6), round(branch, 2.6), 90.0).seams().1.seams[0].length_mm;
    near(length(48.3, 33.7), 110.12, 0.005);
    near(length(60.3, 48.3), 160.86, 0.005);
    near(length(42.4, 42.4), 161.98, 0.005);
}

#[test]
fn limits() {
    // equal tubes at 90 degrees: two half ellipses of axis ratio √2; K = (2√2/π) E(1/2), with
    // E(1/2) = 1.350 643 881 047 7 (Abramowitz & Stegun, table 17.1, from memory)
    near_rel(k(1.0, 90.0), 2.0 * 2_f64.sqrt() / PI * 1.350_643_881_047_7, 1e-10);
    // a thin branch: K → 1 + β²/16, next term of order β⁴
    near(k(0.02, 90.0), 1.0 + 0.02_f64.powi(2) / 16.0, 0.02_f64.powi(4));
    // a thin branch at an angle sees a flat face: ellipse with axes r and r / sin θ
    for (deg, want) in [(30.0, 1.5420), (45.0, 1.2160), (60.0, 1.0787), (75.0, 1.0177)] {
        near(k(0.001, deg), want, 0.00006);
        let f = t_joint(square(200.0, 200.0, 0.0), round(40.0, 2.0), deg);
        near(f.seams().1.seams[0].length_mm / (40.0 * PI), want, 0.00006);
    }
}
