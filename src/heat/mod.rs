//! How hot each joint is, when; how long to wait; how long hot tubes are.
//!
//! Comes in: frame, joints, passes. Goes out: [`Kernels`], and for an order a [`Timeline`].
//! Out of bounds: rules about what is allowed; pull.
//!
//! Every tube is a bar of lumps that lose heat to the air in proportion to their rise. That is
//! linear, so the temperature at one joint from a pass at another is a kernel in time, worked out
//! once ([`Kernels::new`]) and added up for every order ([`Kernels::timeline`], [`Clock`]).

mod check;
mod clock;
mod kernels;
pub mod loss;
mod mesh;
mod network;
mod solve;

pub use check::check;
pub use clock::{Clock, LaidStep};
pub use kernels::{Curve, Kernels, PassHeat, ShopTimes};
pub use mesh::{HeatSettings, MEAN_OVER_MM, Mesh, Station};
pub use network::{Bar, March, Network};

/// One step of an order, as heat sees it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct HeatStep {
    /// Passes laid at the same time.
    pub passes: Vec<usize>,
    /// The frame is turned over before it.
    pub turn: bool,
}

/// When each step of an order happens and how hot things are.
#[derive(Debug, Clone, Default)]
pub struct Timeline {
    /// Start of the arc of each pass in the order, s from the first arc.
    pub start_s: Vec<f64>,
    /// Temperature of the pass's joint just before it, °C.
    pub before_c: Vec<f64>,
    /// Wait before the pass, s (0 if none).
    pub wait_s: Vec<f64>,
    /// Mean temperature rise of each tube at the start of each pass, K: `[pass][tube]`.
    pub tube_rise_k: Vec<Vec<f64>>,
    /// End of the last arc, s.
    pub end_s: f64,
    /// Time after the last arc until everything is within 10 K of the air, s.
    pub cold_s: f64,
    /// Highest joint mean temperature and at which joint, °C.
    pub peak: (f64, usize),
}

#[cfg(test)]
mod tests;
