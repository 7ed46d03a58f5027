//! Where tacks go, how long they are, and in what order they are laid: from loose tubes in the
//! fixture to a tacked frame.
//!
//! Comes in: frame, joints, seams. Goes out: [`Tacks`].
//! Out of bounds: the order of passes; how far tacks pull (that is `distort`).

mod numbers;
mod order;
mod place;

pub use numbers::{TackNumbers, numbers, work};
pub use order::datum;

use crate::frame::Frame;
use crate::joint::Joints;
use crate::seam::Seams;

/// All tacks of a frame, in the order in which they are laid.
#[derive(Debug, Clone, Default)]
pub struct Tacks {
    /// Tacks in order of work.
    pub tacks: Vec<Tack>,
    /// Index of the first tack of the second round: before it every tube hangs on an opposite pair,
    /// and it is time to check the squareness.
    pub second_round: usize,
    /// What the user must read: (code, words).
    pub warnings: Vec<(&'static str, String)>,
}

/// A seam whose tacks are shorter than the rule asks.
struct Shortened {
    seam: usize,
    rule_mm: f64,
    to_mm: f64,
}

/// One tack.
#[derive(Debug, Clone, PartialEq)]
pub struct Tack {
    /// Seam index.
    pub seam: usize,
    /// Number on its seam, from 1, in the order they are laid; label `J7a-t1`.
    pub number: usize,
    /// Line of the seam and arc length of the tack's middle on it, mm.
    pub line: usize,
    /// See `line`.
    pub at_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
    /// Place by the clock.
    pub clock: String,
}

/// Place and order the tacks of a frame.
pub fn tacks(frame: &Frame, joints: &Joints, seams: &Seams) -> Tacks {
    let mut shortened = Vec::new();
    let by_seam: Vec<Vec<Tack>> =
        (0..seams.seams.len()).map(|i| place::on_seam(frame, joints, seams, i, &mut shortened)).collect();
    let mut warnings = Vec::new();
    if !shortened.is_empty() {
        let list: Vec<String> = shortened
            .iter()
            .map(|s| format!("{} {:.0} instead of {:.0}", seams.seams[s.seam].name, s.to_mm, s.rule_mm))
            .collect();
        warnings.push((
            "W601",
            format!(
                "tacks by the rule (EN 1011-2: four times the thicker part; aluminium eight times) would take more \
                 than a third of these seams and were shortened (mm; common practice on small tube, no source): {}. \
                 Weld over them with care",
                list.join(", ")
            ),
        ));
    }
    let (tacks, second_round) = order::order(frame, joints, by_seam);
    Tacks { tacks, second_round, warnings }
}
