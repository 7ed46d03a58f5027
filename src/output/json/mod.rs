//! The plan as JSON for other programs: documented, versioned, enough for an outsider to audit.
//!
//! These are types of their own, so that the format does not change when the model does. Fields are
//! only ever added; a change of meaning raises [`FORMAT`].
mod build_to;
mod frame;
mod head;
mod lines;
mod pull;

pub use build_to::{BendJson, BuildToJson, BuildTubeJson};
pub use frame::{JointJson, PlaneJson, RulesJson, SeamJson, SetupJson};
pub use head::{CautionJson, PlanJson, RemarkJson, TimesJson, UnitsJson};
pub(in crate::output) use lines::step;
pub use lines::{PassJson, ReadJson, RelaxedJson, StepJson, WeldedJson};
pub use pull::ControlJson;

use crate::frame::Frame;
use crate::plan::WeldPlan;
use glam::DVec3;

/// Version of the JSON format.
pub const FORMAT: u32 = 1;

/// The plan as JSON text, with a newline at its end.
pub fn json(plan: &WeldPlan) -> String {
    let mut text = serde_json::to_string_pretty(&head::of(plan)).expect("plain types always serialise");
    text.push('\n');
    text
}

/// The JSON Schema of the format.
pub fn schema() -> String {
    let mut text =
        serde_json::to_string_pretty(&schemars::schema_for!(PlanJson)).expect("a schema always serialises");
    text.push('\n');
    text
}

fn v3(v: DVec3) -> [f64; 3] {
    [r(v.x, 3), r(v.y, 3), r(v.z, 3)]
}

/// Rounded to so many places, so that the last bits of two machines do not differ on file.
pub(in crate::output) fn r(x: f64, places: i32) -> f64 {
    let f = 10f64.powi(places);
    let y = (x * f).round() / f;
    if y == 0.0 { 0.0 } else { y }
}

fn tube(frame: &Frame, i: usize) -> String {
    frame.tubes[i].name.clone()
}
