//! Where a finished frame could be straightened, and what that would do to every control: the same
//! compliance that says how a weld moves a control says how a heat line or a bend does.

use super::model::{Model, Options};
use super::{Event, Level};
use crate::fault::Fault;
use glam::DVec3;

/// A place and a side where the frame could be straightened.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Tube.
    pub tube: usize,
    /// Joint beside which it lies.
    pub joint: usize,
    /// Where on the tube's axis, mm.
    pub at: DVec3,
    /// Outward direction of the side that is heated, or that becomes hollow when pressed.
    pub side: DVec3,
    /// Net heat per mm of heat line, J/mm: that of the weld beside it.
    pub q_j_mm: f64,
    /// What each millimetre of a heat line along the tube does to each control, in its unit.
    pub by_line_mm: Vec<f64>,
    /// What a kink of one degree, hollow on this side, does to each control, in its unit.
    pub by_kink_deg: Vec<f64>,
    /// Kink of each millimetre of heat line, degrees.
    pub kink_deg_per_mm: f64,
    /// Bending moment at which the tube begins to yield, N·mm.
    pub yield_n_mm: f64,
    /// Bending stiffness of the tube, N·mm².
    pub ei_n_mm2: f64,
}

impl Model {
    /// Every spot beside every seam, on four sides of each tube, for the frame as it is after these
    /// events, cold and free.
    ///
    /// ```text
    /// V' = C_l · (α/ρc) · q        shrinkage volume per mm of line, mm³/mm
    /// kink V'·e/I, shortening V'/A; moment at yield M = f_y·I/e; e distance of the surface
    /// ```
    ///
    /// The law of a weld's shrinkage beside a pass (see the sources there), for a line drawn along the
    /// tube with the same net heat per mm. What the next line does on metal that has shrunk already is
    /// less: an upper bound.
    ///
    /// # Errors
    /// As [`Model::evaluate`].
    pub fn spots(&self, events: &[Event], level: Level) -> Result<Vec<Spot>, Fault> {
        // Every wall is still asked for at the end, so none is left out on the way.
        let mut state = self.course(events, self.level_for(level), &Options::default(), false)?;
        state.finish()?;
        let controls = self.frame.controls.len();
        let mut out: Vec<Spot> = vec![];
        for (seam, ring) in self.rings.iter().enumerate() {
            let q_j_mm = self
                .passes
                .passes
                .iter()
                .find(|p| p.seam == seam && p.layer == 0)
                .map_or(0.0, |p| p.heat_input_j_per_mm);
            let (port, walls) = ring.middle_walls();
            let first_load = self.parts.ports[port].loads.0;
            for wall in walls {
                let tube = wall.tube();
                let section = &self.frame.sections[self.frame.tubes[tube].section];
                let p = section.shape.properties();
                let material = &self.frame.materials[section.material];
                for (side, surface_mm, i_mm4) in wall.sides(p.half_across_mm, p.half_height_mm) {
                    // Several branches at one place share the carrier's wall.
                    let there = |s: &Spot| {
                        s.tube == tube && s.at.distance(wall.at()) < 1.0 && s.side.dot(side) > 0.999
                    };
                    if q_j_mm <= 0.0 || out.iter().any(there) {
                        continue;
                    }
                    let by_wall = |r: usize, w: usize| state.field().control_by_wall(r, port, w - first_load);
                    let moved = |amounts: [(usize, f64); 3]| -> Vec<f64> {
                        (0..controls).map(|r| amounts.iter().map(|(w, a)| a * by_wall(r, *w)).sum()).collect()
                    };
                    let line = wall.line_amounts(&self.frame, side, surface_mm, q_j_mm);
                    let kink = wall.kink_amounts(side).map(|(w, a)| (w, a.to_radians()));
                    out.push(Spot {
                        tube,
                        joint: self.seams.seams[seam].joint,
                        at: wall.at(),
                        side,
                        q_j_mm,
                        kink_deg_per_mm: line[1].1.hypot(line[2].1).to_degrees(),
                        by_line_mm: moved(line),
                        by_kink_deg: moved(kink),
                        yield_n_mm: material.yield_mpa * i_mm4 / surface_mm,
                        ei_n_mm2: material.e_mpa * i_mm4,
                    });
                }
            }
        }
        Ok(out)
    }
}
