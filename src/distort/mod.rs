//! How far it pulls: the elastic frame whose joints stiffen pass by pass.
//!
//! Comes in: frame, joints, seams, passes, an order with its events. Goes out: [`Pull`].
//! Out of bounds: rules about what is allowed; words for the user other than a loose part's name.

mod beam;
mod begun;
mod block;
mod build_to;
mod clamps;
pub mod constants;
mod controls;
mod default_tacks;
mod field;
mod grounding;
mod joint_flex;
mod looseness;
mod mechanism;
mod model;
mod moment;
mod outset;
mod plain;
mod port;
mod rests;
mod results;
mod ring;
mod set_to;
mod shape;
mod shrink;
mod spots;
mod staged;
mod stations;
mod structure;
mod turned;
mod weld;
mod wide;

pub use beam::{Beam, SectionValues, section_values};
pub use begun::{Begun, Warmth};
pub use build_to::{Bend, BuildTo};
pub use controls::spots;
pub use joint_flex::{JointFlex, fessler, flat_face};
pub use looseness::Freedom;
pub use mechanism::held;
pub use model::{Model, Options, tack_heat};
pub use moment::Moment;
pub use plain::{Plain, PlainFibre, PlainPort};
pub use results::tack_events;
pub use set_to::set_to;
pub use shrink::tack_share;
pub use spots::Spot;
pub use wide::{Falls, Wide};

/// How finely a pass is modelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// One fibre for each pass: for the search.
    Coarse,
    /// Several fibres in the direction of travel, re-melting what they touch: for what is shown.
    Fine,
}

impl Level {
    /// `coarse` or `fine`.
    pub fn word(self) -> &'static str {
        match self {
            Level::Coarse => "coarse",
            Level::Fine => "fine",
        }
    }
}

/// A tack on a seam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tack {
    /// Seam index.
    pub seam: usize,
    /// Line of the seam.
    pub line: usize,
    /// Arc length of its middle on that line, mm.
    pub at_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
    /// How much it shrinks: 1 as a tack does (see [`tack_share`]), 0 not at all (set where the fixture holds the parts).
    pub pull: f64,
}

/// One thing that happens to the frame.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A tack is laid.
    Tack(Tack),
    /// A pass is laid, in direction of growing arc length or against it.
    Pass {
        /// Pass index.
        pass: usize,
        /// Along growing arc length.
        forward: bool,
    },
    /// Tacks or passes laid at the same time: all set, then all shrink.
    Together(Vec<Event>),
    /// From now on the tubes are this much warmer than the air, K (one for each tube).
    Warm(Vec<f64>),
    /// A clamp is released.
    Release {
        /// Clamp index.
        clamp: usize,
    },
    /// A clamp is put on.
    Clamp {
        /// Clamp index.
        clamp: usize,
        /// True: it pulls the frame back to its nominal place; false: it takes it where it is.
        to_nominal: bool,
    },
    /// A clamp that is on is moved: the frame is pulled along with it, what is welded later sets there.
    Shift {
        /// Clamp index.
        clamp: usize,
        /// Which of the directions in which it holds.
        direction: usize,
        /// How far along that direction, mm.
        by_mm: f64,
    },
    /// All clamps off, turned over, the clamps of the other setup on (where the frame then is).
    Turn {
        /// Setup index.
        setup: usize,
    },
}

/// What an order does to the controls.
#[derive(Debug, Clone)]
pub struct Pull {
    /// One for each control of the frame.
    pub controls: Vec<ControlPull>,
    /// Each control after each pass, in its unit: `path[pass][control]`.
    pub path: Vec<Vec<f64>>,
    /// Displacement of each tube's axis points at the end, mm: `[tube][axis point]`.
    pub shape: Vec<Vec<glam::DVec3>>,
    /// Displacement along each tube at the end, mm, bends between joints included:
    /// `[tube][(arc length mm, displacement)]`.
    pub course: Vec<Vec<(f64, glam::DVec3)>>,
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
    /// What the warmth of the tubes adds to the gaps of each pass in the moment it is laid, along its
    /// three springs, mm (`n`). It hangs on the whole order; the search keeps it as the last full
    /// evaluation found it. Zero as built.
    pub tau: Vec<[f64; 3]>,
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
