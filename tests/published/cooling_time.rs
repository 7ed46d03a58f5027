//! Cooling time t8/5 against EN 1011-2 annex D and an openly published calculator specification
//! that prints the first rows.
use crate::support::{near, near_rel};
use holdtrue::procedure::cooling_time::*;

/// Rows are given to three decimals.
const THREE_DECIMALS: f64 = 6e-4;

#[test]
fn printed_rows() {
    let a = t85(1.0, 10.0, 20.0, ShapeFactors::BEAD).expect("in range");
    near(a.thin_s, 11.36, 0.005);
    near(a.thick_s, 5.29, 0.005);
    near(a.transition_mm, 14.7, 0.05);
    near(a.t85_s, 11.36, 0.005);
    let b = t85(1.0, 20.0, 20.0, ShapeFactors::BEAD).expect("in range");
    near(b.thin_s, 2.84, 0.005);
    near(b.thick_s, 5.29, 0.005);
    near(b.t85_s, 5.29, 0.005);
    let c = t85(1.0, 50.0, 150.0, ShapeFactors::BEAD).expect("in range");
    near(c.t85_s, 7.85, 0.005);
}

/// Worked from the formulas of annex D: Q kJ/mm, d mm, T0 °C, F2 = F3; thin, thick, transition,
/// governing.
#[test]
fn rows_worked_from_annex_d() {
    let rows = [
        (0.15, 2.0, 20.0, 1.0, 6.392, 0.793, 5.677, 6.392),
        (0.20, 2.0, 20.0, 1.0, 11.364, 1.058, 6.556, 11.364),
        (0.20, 2.0, 150.0, 1.0, 21.186, 1.569, 7.349, 21.186),
        (0.25, 3.0, 20.0, 1.0, 7.891, 1.322, 7.329, 7.891),
        (0.25, 3.0, 20.0, 0.9, 7.102, 1.190, 7.329, 7.102),
        (1.5, 25.0, 20.0, 0.67, 2.741, 5.315, 17.953, 5.315),
        (1.5, 25.0, 100.0, 1.0, 5.864, 9.964, 19.179, 9.964),
    ];
    for (q, d, t0, f, thin, thick, transition, governing) in rows {
        let t = t85(q, d, t0, ShapeFactors { f2: f, f3: f }).expect("in range");
        near(t.thin_s, thin, THREE_DECIMALS);
        near(t.thick_s, thick, THREE_DECIMALS);
        near(t.transition_mm, transition, THREE_DECIMALS);
        near(t.t85_s, governing, THREE_DECIMALS);
    }
}

/// Laws: thin grows with Q²/d², thick with Q alone; at the transition the two agree, also when the
/// shape factors differ.
#[test]
fn scaling_and_the_transition() {
    for shape in [ShapeFactors::BEAD, ShapeFactors { f2: 0.45, f3: 0.67 }, ShapeFactors { f2: 1.0, f3: 0.8 }]
    {
        let one = t85(0.3, 3.0, 50.0, shape).expect("in range");
        let twice = t85(0.6, 3.0, 50.0, shape).expect("in range");
        near_rel(twice.thin_s / one.thin_s, 4.0, 1e-12);
        near_rel(twice.thick_s / one.thick_s, 2.0, 1e-12);
        let at = t85(0.3, one.transition_mm, 50.0, shape).expect("in range");
        near_rel(at.thin_s, at.thick_s, 1e-12);
        let thinner = t85(0.3, 0.99 * one.transition_mm, 50.0, shape).expect("in range");
        assert!(thinner.thin_s > thinner.thick_s);
    }
}

/// At 20 °C the constants of annex D are Rosenthal's with k = 1/(2π·6.6) W/(mm·K) and
/// ρc = 7.831e-3 J/(mm³·K): (Q/d)²/(4π·k·ρc)·[1/480² − 1/780²] and Q/(2π·k)·[1/480 − 1/780].
#[test]
fn constants_are_those_of_rosenthal() {
    use std::f64::consts::PI;
    let (k, rho_c) = (1.0 / (2.0 * PI * 6.6), 7.831e-3);
    let (q, d) = (200.0, 2.0);
    let t = t85(q / 1000.0, d, 20.0, ShapeFactors::BEAD).expect("in range");
    let thin = (q / d).powi(2) / (4.0 * PI * k * rho_c) * (480f64.powi(-2) - 780f64.powi(-2));
    let thick = q / (2.0 * PI * k) * (1.0 / 480.0 - 1.0 / 780.0);
    near_rel(t.thin_s, thin, 2e-4);
    near_rel(t.thick_s, thick, 2e-4);
}

#[test]
fn outside_its_range_it_says_nothing() {
    for (q, d, t0) in
        [(0.2, 2.0, 500.0), (0.0, 2.0, 20.0), (0.2, 0.0, 20.0), (f64::NAN, 2.0, 20.0), (0.2, 2.0, f64::NAN)]
    {
        assert_eq!(t85(q, d, t0, ShapeFactors::BEAD), None, "{q} {d} {t0}");
    }
}
