//! The numbers behind a seam's settings, for people: carbon equivalents, what both preheat methods
//! say or why they say nothing, cooling time, heat for the wall, interpass limit with its source.

use super::carbon::{self, CarbonEquivalents};
use super::cooling_time::{CoolingTime, ShapeFactors, t85};
use super::heat_input::heat_input_j_per_mm;
use super::preheat::{Outside, combined_thickness_mm, method_a_thickness_mm, method_b, usual_hydrogen_ml};
use super::settings::Seat;
use super::{Passes, Settings, cut};
use crate::frame::Frame;
use crate::joint::Joints;
use crate::library::Material;
use crate::seam::Seams;

/// Numbers of one seam. Computed; never a qualified procedure.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamNumbers {
    /// Seam index.
    pub seam: usize,
    /// Index into [`Passes::settings`].
    pub settings: usize,
    /// Net heat input, J/mm.
    pub heat_input_j_per_mm: f64,
    /// The same for each millimetre of the thinner wall, J/mm².
    pub heat_for_wall_j_per_mm2: f64,
    /// Hydrogen reckoned with, ml/100 g, and why.
    pub hydrogen_ml: (f64, &'static str),
    /// Thickness over which heat flows away, mm (method A).
    pub combined_mm: f64,
    /// Cooling time from 800 to 500 °C on the thinner wall; `None` for stainless and aluminium.
    pub cooling: Option<CoolingTime>,
    /// Each steel of the seam to which carbon equivalents apply.
    pub steels: Vec<SteelNumbers>,
    /// Interpass limit, °C, and where it comes from.
    pub interpass: (f64, String),
}

/// Numbers of one steel at a seam.
#[derive(Debug, Clone, PartialEq)]
pub struct SteelNumbers {
    /// Name of the grade.
    pub name: String,
    /// CE, CET, Pcm.
    pub equivalents: CarbonEquivalents,
    /// Preheat by method B, °C, or what is out of its range.
    pub method_b_c: Result<f64, Outside>,
    /// Greatest combined thickness without preheat by method A, mm, or what is out of its range.
    pub method_a_mm: Result<f64, Outside>,
}

/// The numbers of every seam that has passes, in the order of the seams.
pub fn numbers(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Vec<SeamNumbers> {
    let mut all: Vec<SeamNumbers> = Vec::new();
    for pass in &passes.passes {
        if all.last().is_some_and(|n| n.seam == pass.seam) {
            continue;
        }
        let seat = cut::seat(frame, joints, &seams.seams[pass.seam], pass.seam);
        let settings = &passes.settings[pass.settings];
        all.push(of_seam(&seat, settings, pass.seam, pass.settings, frame.shop.ambient_c));
    }
    all
}

fn of_seam(seat: &Seat, s: &Settings, seam: usize, settings: usize, ambient_c: f64) -> SeamNumbers {
    let heat = heat_input_j_per_mm(s.k, s.volts, s.amps, s.speed_mm_s);
    let hydrogen_ml = hydrogen(seat);
    let steels = steels(seat, heat);
    let shape = if seat.fillet { ShapeFactors::FILLET } else { ShapeFactors::BUTT };
    let start_c = s.preheat_c.unwrap_or(ambient_c);
    let cooling = (steels.len() == seat.materials.len())
        .then(|| t85(heat / 1000.0, seat.wall_mm(), start_c, shape))
        .flatten();
    SeamNumbers {
        seam,
        settings,
        heat_input_j_per_mm: heat,
        heat_for_wall_j_per_mm2: heat / seat.wall_mm(),
        hydrogen_ml,
        combined_mm: combined_thickness_mm(seat.walls_mm[0], seat.walls_mm[1], seat.fillet),
        cooling,
        steels,
        interpass: (s.interpass_c, interpass_source(seat)),
    }
}

/// Hydrogen of the filler, ml/100 g, and where the number comes from.
pub(super) fn hydrogen(seat: &Seat) -> (f64, &'static str) {
    match seat.wish.hydrogen_ml {
        Some(given) => (given, "given in the frame file"),
        None => usual_hydrogen_ml(seat.wish.process.number),
    }
}

/// Both preheat methods on each steel of a seam.
pub(super) fn steels(seat: &Seat, heat_j_mm: f64) -> Vec<SteelNumbers> {
    let (hydrogen_ml, _) = hydrogen(seat);
    let thick = seat.walls_mm[0].max(seat.walls_mm[1]);
    let of = |m: &&Material| {
        let equivalents = carbon::of_grade(m)?;
        Some(SteelNumbers {
            name: m.name.clone(),
            method_b_c: method_b(equivalents.cet, thick, hydrogen_ml, heat_j_mm / 1000.0),
            method_a_mm: method_a_thickness_mm(equivalents.ce, hydrogen_ml, heat_j_mm / 1000.0),
            equivalents,
        })
    };
    seat.materials.iter().filter_map(of).collect()
}

/// Where the interpass limit of a seam comes from.
fn interpass_source(seat: &Seat) -> String {
    if seat.wish.interpass_c.is_some() {
        return "given in the frame file".into();
    }
    let lowest = seat.materials.iter().min_by(|a, b| a.interpass_c.total_cmp(&b.interpass_c));
    let source = lowest.and_then(|m| m.sources.iter().find(|s| s.0 == "interpass_c"));
    source.map_or_else(|| "the material's own table".into(), |s| s.1.clone())
}
