//! Cooling time from 800 to 500 °C, EN 1011-2 annex D.

/// Shape factors of annex D for two- and three-dimensional heat flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapeFactors {
    /// Two-dimensional (thin).
    pub f2: f64,
    /// Three-dimensional (thick).
    pub f3: f64,
}

impl ShapeFactors {
    /// Bead on plate. From memory.
    pub const BEAD: ShapeFactors = ShapeFactors { f2: 1.0, f3: 1.0 };
    /// Between runs in a butt weld. From memory (annex D, table D.1).
    pub const BUTT: ShapeFactors = ShapeFactors { f2: 0.9, f3: 0.9 };
    /// Single-run fillet on a T-joint: F2 varies from 0.45 to 0.67 with Q/d, the upper end (the
    /// longer time) is taken. Seen (German filler-metal table after SEW 088).
    pub const FILLET: ShapeFactors = ShapeFactors { f2: 0.67, f3: 0.67 };
}

/// Cooling time with what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoolingTime {
    /// Governing time, s: the longer of the two.
    pub t85_s: f64,
    /// Two-dimensional time, s.
    pub thin_s: f64,
    /// Three-dimensional time, s.
    pub thick_s: f64,
    /// Thickness at which the two are equal, mm; below it heat flow is two-dimensional.
    pub transition_mm: f64,
}

/// Time in which weld and heat-affected zone cool from 800 to 500 °C.
///
/// ```text
/// thin:   t = (4300 − 4.3·T0)·1e5·Q²/d²·[ 1/(500−T0)² − 1/(800−T0)² ]·F2
/// thick:  t = (6700 − 5·T0)·Q·[ 1/(500−T0) − 1/(800−T0) ]·F3
/// equal at d = √{ (4300−4.3·T0)/(6700−5·T0)·1e5·Q·[ 1/(500−T0) + 1/(800−T0) ]·F2/F3 }
///
/// t    cooling time, s            Q   heat input with k, kJ/mm
/// T0   start temperature, °C      d   wall, mm
/// ```
///
/// The factors differ between the two formulas, and public implementations differ on whether their
/// ratio belongs into the transition thickness. Here it does: only then is the transition the place
/// where both formulas agree, so that the governing time is the longer one and never jumps.
///
/// Holds for: unalloyed and low-alloy ferritic steel, T0 below 500 °C; not for stainless steel or
/// aluminium. A short tube is a smaller heat sink than the plate of the formula: the true time is
/// longer. Outside (T0 ≥ 500, not a number): `None`.
/// Source: EN 1011-2, annex D; formulas seen in three places.
///
/// ```
/// use holdtrue::procedure::cooling_time::{t85, ShapeFactors};
/// let t = t85(1.0, 10.0, 20.0, ShapeFactors::BEAD).unwrap();
/// assert!((t.t85_s - 11.36).abs() < 0.005);
/// ```
pub fn t85(heat_kj_mm: f64, wall_mm: f64, start_c: f64, shape: ShapeFactors) -> Option<CoolingTime> {
    let sound = heat_kj_mm > 0.0 && wall_mm > 0.0 && start_c < 500.0;
    if !sound || !heat_kj_mm.is_finite() || !start_c.is_finite() {
        return None;
    }
    let (near, far) = (1.0 / (500.0 - start_c), 1.0 / (800.0 - start_c));
    let thin = (4300.0 - 4.3 * start_c) * 1e5;
    let thick = 6700.0 - 5.0 * start_c;
    let thin_s = thin * (heat_kj_mm / wall_mm).powi(2) * (near * near - far * far) * shape.f2;
    let thick_s = thick * heat_kj_mm * (near - far) * shape.f3;
    let transition_mm = (thin / thick * heat_kj_mm * (near + far) * shape.f2 / shape.f3).sqrt();
    Some(CoolingTime { t85_s: thin_s.max(thick_s), thin_s, thick_s, transition_mm })
}
