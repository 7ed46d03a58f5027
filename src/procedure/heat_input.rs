//! Heat input from volts, amps and travel speed.

/// Energy of the arc per length of weld, efficiency not yet taken off.
///
/// ```text
/// AE = U·I / v        AE  arc energy, J/mm
///                     U   arc voltage, V
///                     I   welding current, A
///                     v   travel speed, mm/s
/// ```
///
/// Holds for: a steady arc. For waveform-controlled sources use [`arc_energy_of_reading`].
/// A travel speed of zero gives infinity; `heat::check` refuses it.
/// Source: EN 1011-1, ISO/TR 17671-1; TWI, "What is the difference between heat input and arc
/// energy?"; seen.
///
/// ```
/// let ae = holdtrue::procedure::heat_input::arc_energy_j_per_mm(11.0, 90.0, 1.5);
/// assert!((ae - 660.0).abs() < 1e-9);
/// ```
pub fn arc_energy_j_per_mm(volts: f64, amps: f64, speed_mm_s: f64) -> f64 {
    volts * amps / speed_mm_s
}

/// Heat that enters the work per length of weld (net heat input).
///
/// ```text
/// q = k·AE            q   heat input, J/mm
///                     k   thermal efficiency of the process (0.6 TIG, 0.8 MIG, MAG, stick)
/// ```
///
/// Source: EN 1011-1, table 1; ISO/TR 17671-1; seen. The k of the table is a convention: measured
/// efficiencies are 0.84 for consumable electrodes and 0.67 for TIG (DuPont and Marder, Welding
/// Journal 1995; abstract seen).
///
/// ```
/// let q = holdtrue::procedure::heat_input::heat_input_j_per_mm(0.8, 23.0, 70.0, 2.5);
/// assert!((q - 515.2).abs() < 1e-9);
/// ```
pub fn heat_input_j_per_mm(k: f64, volts: f64, amps: f64, speed_mm_s: f64) -> f64 {
    k * arc_energy_j_per_mm(volts, amps, speed_mm_s)
}

/// Arc energy from what a waveform-controlled source shows: its energy reading over a length.
///
/// ```text
/// AE = IE / L         IE  energy shown, J
///                     L   length of the bead, mm
/// ```
///
/// Source: ISO/TR 18491; from memory.
pub fn arc_energy_of_reading(energy_j: f64, length_mm: f64) -> f64 {
    energy_j / length_mm
}

/// Heat input from arc time and length of the bead, as measured with a watch and a rule.
///
/// ```text
/// q = k·U·I·t / L     t   arc time, s
/// ```
///
/// Source: as [`heat_input_j_per_mm`], with v = L/t.
pub fn heat_input_by_time(k: f64, volts: f64, amps: f64, arc_s: f64, length_mm: f64) -> f64 {
    k * volts * amps * arc_s / length_mm
}
