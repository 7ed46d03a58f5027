//! The order of passes: rules, scheduler, search, audit.
//!
//! Comes in: a [`Question`] without geometry. Goes out: an [`Order`] with every shortfall of a rule
//! named. Out of bounds: words for the user other than reasons; files; time.

use crate::joint::Side;

pub mod audit;
pub mod baselines;
mod beam;
mod brute;
mod chain;
mod directions;
mod exact;
mod ledger;
mod moves;
pub mod objective;
mod pair_up;
mod plain;
mod reasons;
pub mod rules;
mod search;
mod shortfall;
mod start;
mod stays;
mod tally;
mod warmth;
pub mod window;

pub use chain::Tried;
pub use directions::best_turns;
pub use reasons::reasons;
pub use search::{Budget, Found, Full, Task, search, starts};
pub use shortfall::{RANKS, Score};
pub use start::{NoOrder, Wish, by_hand, place_of, start, start_with};
pub use warmth::{NoHeat, Warmth};

/// What the scheduler is asked. Plain numbers; built by `plan`.
#[derive(Debug, Clone)]
pub struct Question {
    /// Passes, same index as [`crate::procedure::Passes::passes`].
    pub passes: Vec<Item>,
    /// Steel distance between joints, mm.
    pub steel_mm: Vec<Vec<f64>>,
    /// Joint that mirrors each joint.
    pub mirror: Vec<Option<usize>>,
    /// Number of setups.
    pub setups: usize,
    /// Rules in force.
    pub rules: crate::frame::HouseRules,
    /// A symmetry plane exists, so that sides mean something.
    pub has_plane: bool,
    /// Welders at work.
    pub welders: usize,
    /// Passes that must come first / last in the order given, by index.
    pub first: Vec<usize>,
    /// See `first`.
    pub last: Vec<usize>,
    /// Pairs of joints that must not follow each other.
    pub apart: Vec<(usize, usize)>,
    /// Minutes for one turn of the frame.
    pub turn_min: f64,
    /// Steps that are welded already (a re-plan). They stand unchanged at the front of every order
    /// and count for every rule; empty for a first plan.
    pub done: Vec<Step>,
    /// A further stage of the build begins as the first did: the frame lies in this setup and was not
    /// turned since. None: it lies as the last step left it.
    pub lying: Option<usize>,
    /// Passes that are laid before the frame is turned for the first time, so that every joint holds; see
    /// [`Question::hold_before_turning`].
    pub hold: Vec<usize>,
}

/// One pass as the scheduler sees it.
#[derive(Debug, Clone)]
pub struct Item {
    /// Label, for ties and reasons.
    pub label: String,
    /// Joint index.
    pub joint: usize,
    /// Seam index.
    pub seam: usize,
    /// Segment on the seam.
    pub segment: usize,
    /// Layer.
    pub layer: u8,
    /// Opposite pass in the same layer.
    pub partner: Option<usize>,
    /// Pass that must come before (layer below).
    pub below: Option<usize>,
    /// Side.
    pub side: Side,
    /// Net energy, J.
    pub energy_j: f64,
    /// Setups in which it can be welded, best first.
    pub setups: Vec<usize>,
    /// Arc time, s.
    pub arc_s: f64,
}

/// A finished order.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Steps in order; each holds at most one pass per welder.
    pub steps: Vec<Step>,
    /// Every rule that fell short anywhere, exactly as the auditor finds it.
    pub relaxed: Vec<Relaxed>,
    /// `true` if the shortfalls are proved least.
    pub proved: bool,
}

/// One step: passes laid at the same time.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Setup in which the frame lies.
    pub setup: usize,
    /// Passes, with the welder that lays each and its direction (true = along growing arc length).
    pub passes: Vec<Laid>,
}

/// A pass as it is laid in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// Pass index.
    pub pass: usize,
    /// Welder (from 0).
    pub welder: usize,
    /// Along growing arc length.
    pub forward: bool,
}

/// A rule that fell short at one pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Relaxed {
    /// Name of the rule.
    pub rule: &'static str,
    /// Pass index.
    pub pass: usize,
    /// What the rule asks.
    pub required: f64,
    /// What was possible.
    pub actual: f64,
    /// Why, in plain words.
    pub why: String,
}
