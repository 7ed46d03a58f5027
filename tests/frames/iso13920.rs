//! Tolerance classes against the tables of ISO 13920:1996.
//!
//! Source: tables 1 and 2 and rows E, F of table 3 as a manufacturer's page quotes them, seen; rows
//! G, H of table 3 from memory. A range is open below and closed above.

use crate::support::near;
use holdtrue::frame::iso13920::{Class, angle_deg, form_mm, length_mm};

use Class::{A, B, C, D, E, F, G, H};

/// One length inside each range: 30-120, 120-400, 400-1000 … over 20000 mm.
const INSIDE: [f64; 10] = [75.0, 260.0, 700.0, 1500.0, 3000.0, 6000.0, 10000.0, 14000.0, 18000.0, 25000.0];
/// The upper end of each range but the last.
const ENDS: [f64; 9] = [120.0, 400.0, 1000.0, 2000.0, 4000.0, 8000.0, 12000.0, 16000.0, 20000.0];

fn rows(table: impl Fn(f64) -> f64, want: [f64; 10]) {
    for (i, length) in INSIDE.into_iter().enumerate() {
        near(table(length), want[i], 0.0);
    }
    for (i, end) in ENDS.into_iter().enumerate() {
        near(table(end), want[i], 0.0);
        near(table(end + 0.01), want[i + 1], 0.0);
    }
}

#[test]
fn table_1_lengths() {
    let of = |class| move |l| length_mm(class, l).expect("a class for lengths");
    rows(of(A), [1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]);
    rows(of(B), [2.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0]);
    rows(of(C), [3.0, 4.0, 6.0, 8.0, 11.0, 14.0, 18.0, 21.0, 24.0, 27.0]);
    rows(of(D), [4.0, 7.0, 9.0, 12.0, 16.0, 21.0, 27.0, 32.0, 36.0, 40.0]);
    // From 2 to 30 mm: 1 mm in all classes.
    for class in [A, B, C, D] {
        near(of(class)(2.5), 1.0, 0.0);
        near(of(class)(30.0), 1.0, 0.0);
    }
    near(of(D)(30.01), 4.0, 0.0);
    assert_eq!(length_mm(E, 100.0), None);
}

#[test]
fn table_2_angles_by_the_shorter_leg() {
    for (class, minutes) in
        [(A, [20.0, 15.0, 10.0]), (B, [45.0, 30.0, 20.0]), (C, [60.0, 45.0, 30.0]), (D, [90.0, 75.0, 60.0])]
    {
        for (leg, want) in [
            (200.0, minutes[0]),
            (400.0, minutes[0]),
            (400.01, minutes[1]),
            (1000.0, minutes[1]),
            (1000.01, minutes[2]),
            (5000.0, minutes[2]),
        ] {
            near(angle_deg(class, leg).expect("a class for angles") * 60.0, want, 1e-9);
        }
    }
    assert_eq!(angle_deg(F, 100.0), None);
}

#[test]
fn table_3_straightness_flatness_parallelism() {
    let of = |class| move |l| form_mm(class, l).expect("a class for form");
    rows(of(E), [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]);
    rows(of(F), [1.0, 1.5, 3.0, 4.5, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0]);
    rows(of(G), [1.5, 3.0, 5.5, 9.0, 11.0, 16.0, 20.0, 22.0, 25.0, 25.0]);
    rows(of(H), [2.5, 5.0, 9.0, 14.0, 18.0, 26.0, 32.0, 36.0, 40.0, 40.0]);
    assert_eq!(form_mm(D, 100.0), None);
}

#[test]
fn worked_examples() {
    // 850 mm in class BF: length ± 3, straightness 3; 1500 mm in AE: ± 3 and 2.
    assert_eq!((length_mm(B, 850.0), form_mm(F, 850.0)), (Some(3.0), Some(3.0)));
    assert_eq!((length_mm(A, 1500.0), form_mm(E, 1500.0)), (Some(3.0), Some(2.0)));
    assert_eq!((Class::from_letter('B'), Class::from_letter('J')), (Some(B), None));
}
