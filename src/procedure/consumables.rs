//! How much metal, filler and gas a weld takes.

/// Cross-section of a flat-faced equal-leg fillet, mm².
///
/// ```text
/// A = z²/2            z  leg, mm
/// ```
///
/// Holds for: a right angle between the walls; round a saddle the angle changes and so does the
/// area (neglected). Source: geometry.
pub fn fillet_area_mm2(leg_mm: f64) -> f64 {
    0.5 * leg_mm * leg_mm
}

/// Throat of a flat-faced equal-leg fillet in a right angle, mm: a = z/√2 (ISO 2553).
pub fn throat_of_leg_mm(leg_mm: f64) -> f64 {
    leg_mm / std::f64::consts::SQRT_2
}

/// Cross-section of a butt weld without its cap, mm².
///
/// ```text
/// A = g·t + (t − f)²·tan(α/2)     g  gap, mm      t  wall, mm
///                                 f  root face, mm (f = t: square edges)
///                                 α  included angle of the V, rad
/// ```
///
/// Source: geometry.
pub fn butt_area_mm2(gap_mm: f64, wall_mm: f64, face_mm: f64, angle_rad: f64) -> f64 {
    gap_mm * wall_mm + (wall_mm - face_mm).max(0.0).powi(2) * (0.5 * angle_rad).tan()
}

/// Mass of metal, g.
///
/// ```text
/// m = A·ℓ·ρ           A  cross-section, mm²    ℓ  length, mm    ρ  density, kg/m³
/// ```
pub fn mass_g(area_mm2: f64, length_mm: f64, density_kg_m3: f64) -> f64 {
    // kg/m³ = 1e-6 g/mm³
    area_mm2 * length_mm * density_kg_m3 * 1e-6
}

/// Filler to be bought for a deposited mass, g: what is laid divided by the deposition efficiency.
///
/// Source: ESAB filler metal data handbook, P = W·L/E; seen.
pub fn filler_used_g(laid_g: f64, deposition_efficiency: f64) -> f64 {
    laid_g / deposition_efficiency
}

/// Shielding gas, litres at the flowmeter: flow times arc time; gas before and after the arc not
/// counted.
pub fn gas_l(flow_l_min: f64, arc_s: f64) -> f64 {
    flow_l_min * arc_s / 60.0
}
