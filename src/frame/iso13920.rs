//! General tolerances for welded constructions, ISO 13920 (classes A to H).
//!
//! Tables 1 (lengths) and 2 (angles) and rows E, F of table 3 (straightness, flatness,
//! parallelism) as quoted by a manufacturer from the standard, seen; rows G, H of table 3 from memory.
//! Each range is open below and closed above: 1000 mm still belongs to "400 up to 1000".

/// A tolerance class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Class {
    A,
    B,
    C,
    D,
    E,
    F,
    G,
    H,
}

impl Class {
    /// The class of a letter, if there is one.
    pub fn from_letter(letter: char) -> Option<Class> {
        use Class::*;
        [A, B, C, D, E, F, G, H].into_iter().find(|c| format!("{c:?}") == letter.to_string())
    }
}

/// Upper ends of the ranges of nominal length, mm (table 1 from 2 to 30 mm on, table 3 from 30 mm).
const UPTO: [f64; 9] = [120.0, 400.0, 1000.0, 2000.0, 4000.0, 8000.0, 12000.0, 16000.0, 20000.0];

const LENGTH: [[f64; 10]; 4] = [
    [1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0],
    [2.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0],
    [3.0, 4.0, 6.0, 8.0, 11.0, 14.0, 18.0, 21.0, 24.0, 27.0],
    [4.0, 7.0, 9.0, 12.0, 16.0, 21.0, 27.0, 32.0, 36.0, 40.0],
];

/// Minutes of angle for the shorter leg up to 400, up to 1000, over 1000 mm.
const ANGLE_MINUTES: [[f64; 3]; 4] =
    [[20.0, 15.0, 10.0], [45.0, 30.0, 20.0], [60.0, 45.0, 30.0], [90.0, 75.0, 60.0]];

const FORM: [[f64; 10]; 4] = [
    [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0],
    [1.0, 1.5, 3.0, 4.5, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0],
    [1.5, 3.0, 5.5, 9.0, 11.0, 16.0, 20.0, 22.0, 25.0, 25.0],
    [2.5, 5.0, 9.0, 14.0, 18.0, 26.0, 32.0, 36.0, 40.0, 40.0],
];

fn range(length_mm: f64) -> usize {
    UPTO.iter().position(|upto| length_mm <= *upto).unwrap_or(UPTO.len())
}

/// Tolerance of a length, ± mm; `None` for classes E to H.
///
/// ```
/// use holdtrue::frame::iso13920::{Class, length_mm};
/// assert_eq!(length_mm(Class::B, 1000.0), Some(3.0)); // still "up to 1000"
/// assert_eq!(length_mm(Class::B, 1000.1), Some(4.0));
/// ```
pub fn length_mm(class: Class, length_mm: f64) -> Option<f64> {
    let row = LENGTH.get(class as usize)?;
    // Up to 30 mm all classes allow 1 mm.
    Some(if length_mm <= 30.0 { 1.0 } else { row[range(length_mm)] })
}

/// Tolerance of an angle, ± degrees, by the length of its shorter leg; `None` for classes E to H.
pub fn angle_deg(class: Class, shorter_leg_mm: f64) -> Option<f64> {
    let row = ANGLE_MINUTES.get(class as usize)?;
    let i = if shorter_leg_mm <= 400.0 { 0 } else { 1 + usize::from(shorter_leg_mm > 1000.0) };
    Some(row[i] / 60.0)
}

/// Tolerance of straightness, flatness or parallelism, mm, by the longer side; `None` for classes A
/// to D. Below 30 mm, where the table begins, the value of its first range.
pub fn form_mm(class: Class, length_mm: f64) -> Option<f64> {
    let row = FORM.get((class as usize).checked_sub(4)?)?;
    Some(row[range(length_mm)])
}
