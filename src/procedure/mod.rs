//! How each seam is welded: layers, settings, heat input, arc time, filler; preheat and interpass.
//!
//! Computed numbers, shown with their range; never a qualified procedure.
//! Comes in: frame, joints, seams. Goes out: [`Passes`].
//! Out of bounds: the order of passes.

pub mod carbon;
mod cautions;
pub mod consumables;
pub mod cooling_time;
mod cut;
pub mod heat_input;
pub mod preheat;
mod numbers;
mod settings;

pub use cautions::{GAP_LIMIT_MM, GAP_WORTH_A_WORD_MM};
pub use numbers::{SeamNumbers, SteelNumbers, numbers};
pub use settings::{CHROME_MOLY_WARM, Q_OVER_T, Q_OVER_T_WALLS_MM, usual_leg_mm};

use crate::frame::Frame;
use crate::joint::{Joints, Side};
use crate::seam::Seams;
use glam::DVec3;

/// All passes of a frame with the settings they are laid with.
#[derive(Debug, Clone)]
pub struct Passes {
    /// Passes: by seam, then layer, then segment. The index is the pass's identity.
    pub passes: Vec<Pass>,
    /// Settings, referred to by [`Pass::settings`].
    pub settings: Vec<Settings>,
    /// Things the user must read: (code, words, place such as a seam's name).
    pub warnings: Vec<(&'static str, String, String)>,
}

/// One progression along one segment in one layer.
#[derive(Debug, Clone)]
pub struct Pass {
    /// `J7a-3/1`: seam, segment (from 1), layer (from 1). Never changes.
    pub label: String,
    /// Joint index.
    pub joint: usize,
    /// Seam index.
    pub seam: usize,
    /// Segment index on the seam (from 0).
    pub segment: usize,
    /// Layer (from 0).
    pub layer: u8,
    /// The pass on the opposite segment in the same layer, if any.
    pub partner: Option<usize>,
    /// The pass under it (same segment, layer below), if any.
    pub below: Option<usize>,
    /// Length, mm.
    pub length_mm: f64,
    /// Middle, mm.
    pub mid: DVec3,
    /// Side.
    pub side: Side,
    /// Index into [`Passes::settings`].
    pub settings: usize,
    /// Net heat input (k included), J/mm.
    pub heat_input_j_per_mm: f64,
    /// Net energy of the pass (k included), J.
    pub energy_j: f64,
    /// Arc time, s.
    pub arc_s: f64,
    /// Filler laid down, g.
    pub filler_g: f64,
    /// Shielding gas, litres.
    pub gas_l: f64,
    /// Setups in which it may be welded (indices), best position first. Never empty.
    pub setups: Vec<usize>,
    /// Direction forced by the procedure (PF or PG): `Some(true)` = along growing arc length. One
    /// entry for each setup of the frame, in its order.
    pub forced_direction: Vec<Option<bool>>,
}

/// Welding settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Process number (ISO 4063).
    pub process: u16,
    /// Volts.
    pub volts: f64,
    /// Amps.
    pub amps: f64,
    /// Travel speed, mm/s.
    pub speed_mm_s: f64,
    /// Thermal efficiency k.
    pub k: f64,
    /// Fillet leg, mm (0 for a butt).
    pub leg_mm: f64,
    /// Throat, mm.
    pub throat_mm: f64,
    /// Cross-section of weld metal of one layer, mm².
    pub area_mm2: f64,
    /// Number of layers.
    pub layers: u8,
    /// True if any of volts, amps, speed was filled in by the program: starting values only.
    pub starting_values: bool,
    /// Source of the starting values.
    pub source: String,
    /// Interpass limit, °C.
    pub interpass_c: f64,
    /// Preheat, °C, or none asked for.
    pub preheat_c: Option<f64>,
    /// Shielding gas, l/min (0 without gas).
    pub gas_l_min: f64,
}

/// What a set of passes takes altogether.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Totals {
    /// Arc time, s.
    pub arc_s: f64,
    /// Net energy, J.
    pub energy_j: f64,
    /// Length of weld over all layers, mm.
    pub length_mm: f64,
    /// Weld metal laid down, g.
    pub laid_g: f64,
    /// Filler to be bought, g (stubs, spatter and slag included).
    pub filler_g: f64,
    /// Shielding gas, l.
    pub gas_l: f64,
}

impl Passes {
    /// What all passes take together.
    pub fn totals(&self) -> Totals {
        let mut sum = Totals::default();
        for p in &self.passes {
            let process = crate::library::process(self.settings[p.settings].process);
            sum.arc_s += p.arc_s;
            sum.energy_j += p.energy_j;
            sum.length_mm += p.length_mm;
            sum.laid_g += p.filler_g;
            sum.filler_g +=
                consumables::filler_used_g(p.filler_g, process.map_or(1.0, |p| p.deposition_efficiency));
            sum.gas_l += p.gas_l;
        }
        sum
    }
}

/// Cut seams into passes and give each its settings.
///
/// What the user gave holds; for the rest starting values are filled in from published tables and
/// marked as such. Never a qualified procedure.
pub fn passes(frame: &Frame, joints: &Joints, seams: &Seams) -> Passes {
    cut::passes(frame, joints, seams)
}

/// A gap that was measured at a joint, mm: its seams keep their layers and take more metal, time and
/// heat, except for the passes in `laid` (labels).
pub fn with_gap(
    frame: &Frame,
    joints: &mut Joints,
    seams: &Seams,
    passes: &mut Passes,
    joint: usize,
    gap_mm: f64,
    laid: &[String],
) {
    for seam in (0..seams.seams.len()).filter(|&s| seams.seams[s].joint == joint) {
        cut::with_gap(frame, joints, seams, passes, seam, gap_mm, laid);
    }
}

#[cfg(test)]
pub(crate) mod tests;
