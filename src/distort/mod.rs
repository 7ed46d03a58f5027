//! How far it pulls: the elastic frame whose joints stiffen pass by pass.
//!
//! Comes in: frame, joints, seams, passes, an order with its events. Goes out: [`Pull`].
//! Out of bounds: rules about what is allowed; words for the user other than a loose part's name.

/// What an order does to the controls.
#[derive(Debug, Clone)]
pub struct Pull {
    /// One for each control of the frame.
    pub controls: Vec<ControlPull>,
    /// Each control after each pass, in its unit: `path[pass][control]`.
    pub path: Vec<Vec<f64>>,
    /// Displacement of each tube's axis points at the end, mm: `[tube][axis point]`.
    pub shape: Vec<Vec<glam::DVec3>>,
    /// `"fine"` or `"coarse"`.
    pub level: &'static str,
    /// Force sprung by each clamp at its release, N: (clamp index, force along each held direction).
    pub clamp_forces: Vec<(usize, Vec<f64>)>,
    /// Remarks on validity (outside a formula's range …).
    pub remarks: Vec<String>,
}

/// One control's outcome.
#[derive(Debug, Clone)]
pub struct ControlPull {
    /// Predicted change from welding, in the control's unit.
    pub pull: f64,
    /// Standard deviation, same unit.
    pub scatter: f64,
    /// Largest excursion on the way.
    pub largest: f64,
    /// What to set beforehand.
    pub set_to: f64,
    /// pull + set_to.
    pub residual: f64,
    /// Share of each joint.
    pub by_joint: Vec<f64>,
    /// Share of each tube.
    pub by_tube: Vec<f64>,
}

/// The coarse model as plain numbers, for the search: one fibre of three springs per pass, from the
/// tacked state. Index of a spring: `3 * pass + direction`, direction 0 shrinks.
#[derive(Debug, Clone)]
pub struct Coarse {
    /// Number of passes.
    pub n: usize,
    /// Number of controls.
    pub r: usize,
    /// Stiffness of each spring, N/mm (`3n`).
    pub k: Vec<f64>,
    /// Shrinkage of each pass across the seam, mm (`n`).
    pub delta: Vec<f64>,
    /// Compliance between springs, mm/N, row-major `3n × 3n`, symmetric, at the tacked state.
    pub c_bb: Vec<f64>,
    /// Compliance control to spring, row-major `r × 3n`.
    pub c_hb: Vec<f64>,
    /// Gap opened at each spring by each pass's wall shrinkage, row-major `3n × n`.
    pub c_bg: Vec<f64>,
    /// Control moved by each pass's wall shrinkage, row-major `r × n`.
    pub c_hg: Vec<f64>,
    /// Controls at the tacked state (pull of the tacks), `r`.
    pub start: Vec<f64>,
}
