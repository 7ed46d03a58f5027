//! Preheat by EN 1011-2, methods A and B, each only within its range.

/// Why a method gives no answer: the quantities that lie outside its range, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outside(pub Vec<String>);

impl std::fmt::Display for Outside {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0.join("; "))
    }
}

/// Preheat temperature by method B, °C.
///
/// ```text
/// Tp = 697·CET + 160·tanh(d/35) + 62·HD^0.35 + (53·CET − 32)·Q − 328
///
/// Tp   preheat temperature, °C; at or below the room's temperature: none needed
/// CET  carbon equivalent, mass per cent      0.2 to 0.5
/// d    plate thickness, mm                   10 to 90
/// HD   hydrogen of the filler, ml/100 g      1 to 20
/// Q    heat input, kJ/mm                     0.5 to 4.0
/// ```
///
/// Outside the range nothing is returned but the reasons; thin tube is nearly always outside (wall
/// and heat input), and the formula must not be stretched to it.
/// Source: EN 1011-2, C.3, equation C.8; seen in three independent texts. (One public page prints
/// tanh(35/d), which is wrong.)
///
/// # Errors
/// [`Outside`], naming each quantity that is out of range.
///
/// ```
/// let tp = holdtrue::procedure::preheat::method_b(0.35, 25.0, 5.0, 1.5).unwrap();
/// assert!((tp - 102.81).abs() < 0.01);
/// ```
pub fn method_b(cet: f64, thickness_mm: f64, hydrogen_ml: f64, heat_kj_mm: f64) -> Result<f64, Outside> {
    let mut outside = Vec::new();
    let mut within = |what: &str, value: f64, from: f64, to: f64, unit: &str| {
        // Written so that a value that is not a number is outside too.
        if !(value >= from && value <= to) {
            outside.push(format!("{what} {value:.3}{unit} is outside {from} to {to}{unit}"));
        }
    };
    within("CET", cet, 0.2, 0.5, " %");
    within("thickness", thickness_mm, 10.0, 90.0, " mm");
    within("hydrogen", hydrogen_ml, 1.0, 20.0, " ml/100 g");
    within("heat input", heat_kj_mm, 0.5, 4.0, " kJ/mm");
    if !outside.is_empty() {
        return Err(Outside(outside));
    }
    Ok(697.0 * cet
        + 160.0 * (thickness_mm / 35.0).tanh()
        + 62.0 * hydrogen_ml.powf(0.35)
        + (53.0 * cet - 32.0) * heat_kj_mm
        - 328.0)
}

/// Table C.1 of EN 1011-2: greatest combined thickness, mm, that needs no preheat (20 °C), by
/// hydrogen (rows: over 15, 10 to 15, 5 to 10, 3 to 5, 3 and less) and by CE 0.49 at 1.0 and
/// 2.0 kJ/mm, CE 0.43 at 1.0 and 2.0 kJ/mm. Seen (BS EN 1011-2:2001+A1).
const TABLE_C1: [[f64; 4]; 5] = [
    [25.0, 50.0, 40.0, 80.0],
    [30.0, 55.0, 50.0, 90.0],
    [35.0, 65.0, 60.0, 100.0],
    [50.0, 100.0, 100.0, 100.0],
    [60.0, 100.0, 100.0, 100.0],
];

/// Greatest combined thickness that needs no preheat by method A, mm.
///
/// The table is entered at its next less favourable corner (CE 0.43 or 0.49, 1.0 or 2.0 kJ/mm), it
/// is not interpolated.
/// Holds for: CE up to 0.49, heat input from 1.0 kJ/mm. Below that the table says nothing.
/// Source: EN 1011-2, C.2, table C.1; seen.
///
/// # Errors
/// [`Outside`], naming each quantity that is out of range.
pub fn method_a_thickness_mm(ce: f64, hydrogen_ml: f64, heat_kj_mm: f64) -> Result<f64, Outside> {
    let mut outside = Vec::new();
    if !(ce > 0.0 && ce <= 0.49) {
        outside.push(format!("CE {ce:.3} % is outside the table, which ends at 0.49 %"));
    }
    if !(hydrogen_ml >= 0.0 && hydrogen_ml.is_finite()) {
        outside.push(format!("hydrogen {hydrogen_ml} ml/100 g is no such value"));
    }
    if !(heat_kj_mm >= 1.0 && heat_kj_mm.is_finite()) {
        outside.push(format!("heat input {heat_kj_mm:.3} kJ/mm is below the table, which begins at 1.0"));
    }
    if !outside.is_empty() {
        return Err(Outside(outside));
    }
    let row = match hydrogen_ml {
        h if h > 15.0 => 0,
        h if h > 10.0 => 1,
        h if h > 5.0 => 2,
        h if h > 3.0 => 3,
        _ => 4,
    };
    let column = if ce <= 0.43 { 2 } else { 0 } + if heat_kj_mm >= 2.0 { 1 } else { 0 };
    Ok(TABLE_C1[row][column])
}

/// Combined thickness of a tube wall standing on another, mm: heat leaves through the branch's wall
/// once and through the carrier's wall to both sides.
///
/// Source: EN 1011-2, C.2.4 and figure C.1 (fillet on a T: d1 + d2 + d3); from memory.
pub fn combined_thickness_mm(branch_wall_mm: f64, carrier_wall_mm: f64, fillet: bool) -> f64 {
    branch_wall_mm + if fillet { 2.0 } else { 1.0 } * carrier_wall_mm
}

/// Hydrogen to reckon with if the filler's data sheet is not at hand, ml/100 g, with its reason.
///
/// Source: EN 1011-2, hydrogen scales by process (upper end of the usual scale); from memory.
pub fn usual_hydrogen_ml(process: u16) -> (f64, &'static str) {
    match process {
        141 | 142 | 15 => (3.0, "TIG and plasma: scale E, 3 or less"),
        131 | 135 => (5.0, "solid wire: scale D, 3 to 5"),
        133 | 138 => (10.0, "metal-cored wire: scale C, 5 to 10"),
        132 | 136 | 114 => (10.0, "flux-cored wire: scale C, 5 to 10"),
        121 => (10.0, "submerged arc, dried flux: scale C, 5 to 10"),
        // A rutile rod straight from the packet; dried basic rods are far lower.
        _ => (15.0, "stick, not known to be dried basic rods: scale B, 10 to 15"),
    }
}
