//! The build-to table: where the tubes go and how long they are cut, what only bending would give.

use super::{r, tube, v3};
use crate::plan::WeldPlan;
use schemars::JsonSchema;
use serde::Serialize;

/// The build-to table.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BuildToJson {
    /// Every tube.
    pub tubes: Vec<BuildTubeJson>,
    /// What is missing from a control's `set_to`, in its unit, if it cannot be reached by placing
    /// straight tubes and cutting them to length.
    pub not_reached: std::collections::BTreeMap<String, f64>,
    /// Widest gap or overlap between the parts of each seam, mm: above some tenths the end must be
    /// fitted to the changed place.
    pub gap_mm: std::collections::BTreeMap<String, f64>,
    /// Bows that only bending a tube could give.
    pub bends: Vec<BendJson>,
}

/// A tube of the build-to table: how far it lies off the drawing.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BuildTubeJson {
    /// Tube.
    pub tube: String,
    /// Start of its centre line, mm in X, Y, Z.
    pub start_mm: [f64; 3],
    /// End of its centre line, mm in X, Y, Z.
    pub end_mm: [f64; 3],
    /// Cut longer by, mm (shorter if negative); contained in `start_mm` and `end_mm`.
    pub longer_mm: f64,
}

/// What a counter-bend would take, held between two blocks and pushed at the middle.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BendJson {
    /// Control.
    pub control: String,
    /// Tube.
    pub tube: String,
    /// Wanted bow in the control's direction, mm.
    pub bow_mm: f64,
    /// Stress at the outside, MPa, elastic.
    pub stress_mpa: f64,
    /// Yield strength, MPa; below it the tube springs all the way back.
    pub yield_mpa: f64,
    /// Force at the middle, N.
    pub force_n: f64,
}

pub(super) fn build_to(plan: &WeldPlan, b: &crate::distort::BuildTo) -> BuildToJson {
    let f = &plan.frame;
    BuildToJson {
        tubes: (b.ends_mm.iter().zip(&b.longer_mm).enumerate())
            .map(|(t, (ends, longer))| BuildTubeJson {
                tube: tube(f, t),
                start_mm: v3(ends[0]),
                end_mm: v3(ends[1]),
                longer_mm: r(*longer, 3),
            })
            .collect(),
        not_reached: (f.controls.iter().zip(&b.left))
            .filter(|(c, left)| left.abs() > 0.1 * c.tolerance)
            .map(|(c, left)| (c.name.clone(), r(*left, 4)))
            .collect(),
        gap_mm: (plan.seams.seams.iter().zip(&b.gap_mm)).map(|(s, g)| (s.name.clone(), r(*g, 3))).collect(),
        bends: (b.bends.iter())
            .map(|x| BendJson {
                control: f.controls[x.control].name.clone(),
                tube: tube(f, x.tube),
                bow_mm: r(x.bow_mm, 3),
                stress_mpa: r(x.stress_mpa, 1),
                yield_mpa: r(x.yield_mpa, 1),
                force_n: r(x.force_n, 0),
            })
            .collect(),
    }
}
