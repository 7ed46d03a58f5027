//! Loss to still air, and thermal properties, against Eurocodes and textbook formulas.
use crate::support::{near, near_rel};
use holdtrue::heat::loss::*;
use holdtrue::library;

/// Combined coefficients at D 40 mm, air 20 °C, worked from h = 1.32·(ΔT/D)^¼ (Holman, from memory)
/// and the law of Stefan and Boltzmann: surface, convection, total at ε 0.8, total at ε 0.3.
#[test]
fn convection_and_radiation() {
    let rows = [
        (50.0, 6.91, 12.23, 8.90),
        (100.0, 8.83, 15.63, 11.38),
        (150.0, 9.97, 18.58, 13.20),
        (200.0, 10.81, 21.58, 14.85),
        (300.0, 12.07, 28.36, 18.18),
        (400.0, 13.03, 36.66, 21.89),
        (600.0, 14.48, 59.37, 31.32),
    ];
    for (surface, convection, dark, bright) in rows {
        near(convection_w_m2k(surface - 20.0, 40.0), convection, 0.0051);
        near(combined_w_m2k(0.8, surface, 20.0, 40.0), dark, 0.0051);
        near(combined_w_m2k(0.3, surface, 20.0, 40.0), bright, 0.0051);
    }
}

/// Bare steam line (input: GlobalSpec 7.4): D 89 mm, 15.2 m, 433 K in air at 293 K, ε 0.8: radiation
/// 5,356 W, convection 4,946 W by the simplified formula.
#[test]
fn a_bare_steam_line() {
    let area_m2 = std::f64::consts::PI * 0.089 * 15.2;
    let rise = 433.0 - 293.0;
    near_rel(radiation_w_m2k(0.8, 433.0 - 273.15, 293.0 - 273.15) * rise * area_m2, 5356.0, 1e-3);
    near_rel(convection_w_m2k(rise, 89.0) * rise * area_m2, 4946.0, 1e-3);
}

/// EN 1993-1-2, 3.4.1.2 and 3.4.1.3 (seen): c = 425 + 0.773·T − 1.69e-3·T² + 2.22e-6·T³ up to
/// 600 °C, k = 54 − 0.0333·T. The library holds c as the mean over 20 to 150 °C and k at 100 °C.
/// Annex C (seen): stainless k = 14.6 + 0.0127·T. EN 1999-1-2 (seen): c = 903 + 0.41·T, at 60 °C.
#[test]
fn thermal_properties_of_the_eurocodes() {
    let c = |t: f64| 425.0 + 0.773 * t - 1.69e-3 * t * t + 2.22e-6 * t * t * t;
    near(c(20.0), 439.80, 0.005);
    near(c(200.0), 529.76, 0.005);
    let n = 1000;
    let mean =
        (0..n).map(|i| c(20.0 + 130.0 * (f64::from(i) + 0.5) / f64::from(n))).sum::<f64>() / f64::from(n);
    let m = |name| library::material(name).expect("in the library");
    for name in ["S235", "S355", "E235", "E355", "1020"] {
        near(m(name).specific_heat_j_kgk, mean, 2.0);
        near(m(name).conductivity_w_mk, 54.0 - 0.0333 * 100.0, 0.005);
        near(m(name).density_kg_m3, 7850.0, 0.0);
    }
    for name in ["304", "316L"] {
        near(m(name).conductivity_w_mk, 14.6 + 0.0127 * 100.0, 0.005);
    }
    for name in ["6061", "6082"] {
        near(m(name).specific_heat_j_kgk, 903.0 + 0.41 * 60.0, 0.05);
        near(m(name).density_kg_m3, 2700.0, 0.0);
    }
    // Free shrinkage per joule: 12e-6/(7850 x 480) = 3.1847e-3 mm³/J.
    near(m("S235").shrink_mm3_per_j(), 3.1847e-3, 1e-7);
}

/// Loss linearised half-way between the air and the interpass limit stays between the coefficients at
/// both ends, and so within the 10 to 25 W/(m²K) usual for warm tube.
#[test]
fn the_default_lies_between_its_ends() {
    use holdtrue::frame::{Section, Shape};
    let steel = library::material("S355").expect("in the library");
    for od in [20.0, 40.0, 76.1] {
        let section = Section { name: "tube".into(), shape: Shape::Round { od, wall: 2.0 }, material: 0 };
        let got = usual_loss_w_m2k(&section, steel, 20.0);
        near(mean_surface_c(steel, 20.0), 135.0, 1e-9);
        assert!(got > combined_w_m2k(0.7, 40.0, 20.0, od) && got < combined_w_m2k(0.7, 250.0, 20.0, od));
        assert!((10.0..25.0).contains(&got), "{got}");
    }
}

/// Steel areas and outside perimeters: tube 40x2 238.76 mm² (EN 10219-2 lists 2.39 cm²), flat and
/// solid by geometry, a square 40x40x3 with outer corner 6 mm 4.21 cm² (EN 10219-2, r = 2t, i = t).
#[test]
fn areas_and_perimeters() {
    use holdtrue::frame::Shape;
    near(steel_area_mm2(&Shape::Round { od: 40.0, wall: 2.0 }), 238.76, 0.005);
    near(steel_area_mm2(&Shape::Flat { width: 50.0, thickness: 8.0 }), 400.0, 1e-9);
    near(steel_area_mm2(&Shape::Solid { od: 20.0 }), 314.16, 0.005);
    near(steel_area_mm2(&Shape::Box { height: 40.0, width: 40.0, wall: 3.0, corner: 6.0 }), 421.0, 0.6);
    near(air_perimeter_mm(&Shape::Box { height: 40.0, width: 40.0, wall: 3.0, corner: 4.0 }), 153.13, 0.005);
    near(air_perimeter_mm(&Shape::Flat { width: 50.0, thickness: 8.0 }), 116.0, 1e-9);
}
