//! Arc energy, heat input and thermal efficiency against EN 1011-1 / ISO/TR 17671-1 and printed
//! examples.
use crate::support::{near, near_rel};
use holdtrue::library;
use holdtrue::procedure::heat_input::*;

/// The examples are printed or worked out to four digits or more.
const DIGITS: f64 = 5e-5;

/// EN 1011-1, table 1 (as on TWI course slides "Arc energy / heat input", 2006; SSAB, "Heat input";
/// TWI FAQ for plasma).
#[test]
fn thermal_efficiency_factors_of_en_1011_1() {
    let table = [
        (111, 0.8),
        (114, 0.8),
        (121, 1.0),
        (131, 0.8),
        (135, 0.8),
        (136, 0.8),
        (138, 0.8),
        (141, 0.6),
        (15, 0.6),
    ];
    for (number, k) in table {
        near(library::process(number).expect("in the library").k, k, 0.0);
    }
}

/// Worked from the formula of EN 1011-1 (AE = U·I/v, Q = k·AE) with the factors of its table 1.
#[test]
fn heat_input_by_process() {
    // process, volts, amps, mm/s, arc energy, heat input in kJ/mm
    let rows = [
        (141, 11.0, 90.0, 1.5, 0.6600, 0.3960),
        (111, 23.0, 70.0, 2.5, 0.6440, 0.5152),
        (15, 26.0, 60.0, 4.0, 0.3900, 0.2340),
        (121, 30.0, 400.0, 10.0, 1.2000, 1.2000),
    ];
    for (number, volts, amps, speed, ae, q) in rows {
        let k = library::process(number).expect("in the library").k;
        near(arc_energy_j_per_mm(volts, amps, speed) / 1000.0, ae, DIGITS);
        near(heat_input_j_per_mm(k, volts, amps, speed) / 1000.0, q, DIGITS);
    }
}

/// Printed example in the README of an open heat-input function: 200 V, 32 A, 11 s over 20 mm,
/// k 0.8 gives 2.816 kJ/mm.
#[test]
fn heat_input_by_watch_and_rule() {
    near(heat_input_by_time(0.8, 200.0, 32.0, 11.0, 20.0) / 1000.0, 2.816, DIGITS);
}

/// AWS form H = 60·U·I/S: 25 V, 200 A, 12 in/min is 25.0 kJ/in, 0.98425 kJ/mm.
#[test]
fn heat_input_in_inches_per_minute() {
    let speed_mm_s = 12.0 * holdtrue::units::MM_PER_INCH / 60.0;
    let ae = arc_energy_j_per_mm(25.0, 200.0, speed_mm_s);
    near(ae / 1000.0, 0.98425, 5e-6);
    near(ae * holdtrue::units::MM_PER_INCH / 1000.0, 25.0, 1e-9);
}

/// ISO/TR 18491 (from memory): 48 000 J over 120 mm is 0.400 kJ/mm.
#[test]
fn arc_energy_of_a_waveform_controlled_source() {
    near(arc_energy_of_reading(48_000.0, 120.0) / 1000.0, 0.400, DIGITS);
}

/// Net heat input of the rows of Panasonic's short-arc table (80 Ar 20 CO2) at the middles of its
/// ranges, J/mm, and of its TIG table for stainless steel (volts 11 to 11.5 assumed).
#[test]
fn heat_input_of_published_starting_settings() {
    use holdtrue::library::MaterialGroup::{CarbonSteel, Stainless};
    let rows = [
        (135, CarbonSteel, false, 1.2, 121.0),
        (135, CarbonSteel, false, 1.6, 166.0),
        (135, CarbonSteel, false, 3.2, 374.0),
        (135, CarbonSteel, false, 4.0, 521.0),
        (135, CarbonSteel, true, 1.6, 172.0),
        (135, CarbonSteel, true, 2.4, 207.0),
        (135, CarbonSteel, true, 3.2, 239.0),
        (141, Stainless, true, 1.5, 211.0),
        (141, Stainless, true, 2.5, 238.0),
        (141, Stainless, true, 3.0, 232.0),
        (141, Stainless, false, 1.5, 92.0),
        (141, Stainless, false, 2.5, 158.0),
        (141, Stainless, false, 3.0, 179.0),
    ];
    let middle = |r: [f64; 2]| 0.5 * (r[0] + r[1]);
    for (number, group, fillet, wall, q) in rows {
        let table = library::starting_table(number, group, fillet).expect("printed");
        let row = table.rows.iter().find(|r| r.wall_mm == wall).expect("printed");
        let k = library::process(number).expect("in the library").k;
        let got = heat_input_j_per_mm(k, middle(row.volts), middle(row.amps), middle(row.cm_min) / 6.0);
        near_rel(got, q, 0.005);
    }
}
