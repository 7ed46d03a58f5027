//! How a plan's parts are named: the same words on every medium.

use super::{Act, WeldPlan};
use crate::seam::Position;

impl WeldPlan {
    /// Clock names of start and end of a pass in the direction it is laid.
    pub fn clock(&self, pass: usize, forward: bool) -> (&str, &str) {
        let p = &self.passes.passes[pass];
        let g = &self.seams.seams[p.seam].segments[p.segment];
        if forward { (&g.clock_from, &g.clock_to) } else { (&g.clock_to, &g.clock_from) }
    }

    /// Welding position of a pass in a setup (ISO 6947); vertical seams are PF upwards and PG
    /// downwards by the direction the pass is laid.
    pub fn position(&self, pass: usize, setup: usize, forward: bool) -> &'static str {
        let p = &self.passes.passes[pass];
        let g = &self.seams.seams[p.seam].segments[p.segment];
        match g.positions[setup] {
            Position::PA => "PA",
            Position::PB => "PB",
            Position::PC => "PC",
            Position::PD => "PD",
            Position::PE => "PE",
            Position::Vertical => {
                let along = if forward { g.mid.tangent } else { -g.mid.tangent };
                if along.dot(self.frame.setups[setup].up) >= 0.0 { "PF" } else { "PG" }
            }
        }
    }

    /// Passes in weld order.
    pub fn weld_order(&self) -> impl Iterator<Item = usize> + '_ {
        self.order.steps.iter().flat_map(|s| s.passes.iter().map(|l| l.pass))
    }

    /// Number of times the frame is turned.
    pub fn turns(&self) -> usize {
        self.lines.iter().filter(|l| matches!(l.act, Act::Turn { .. })).count()
    }

    /// Label of a tack: seam and `t` with its number, like `J7a-t2`.
    pub fn tack_label(&self, seam: usize, tack: usize) -> String {
        format!("{}-t{tack}", self.seams.seams[seam].name)
    }
}

impl Act {
    /// One word for the kind of line.
    pub fn word(&self) -> &'static str {
        match self {
            Act::Stage { .. } => "stage",
            Act::Tack { .. } => "tack",
            Act::Pass { .. } => "pass",
            Act::Wait { .. } => "wait",
            Act::Hold { .. } => "hold",
            Act::Clamp { .. } => "clamp",
            Act::Release { .. } => "release",
            Act::Turn { .. } => "turn",
            Act::VentOpen { .. } => "vent-open",
            Act::VentClose { .. } => "vent-close",
        }
    }
}

impl crate::frame::ControlKind {
    /// Plain word for sheets and files.
    pub fn word(&self) -> &'static str {
        use crate::frame::ControlKind::*;
        match self {
            Distance(..) => "distance",
            FromLine { .. } => "from-line",
            FromPlane { .. } => "from-plane",
            Angle(..) => "angle",
            Parallel(..) => "parallel",
            Twist(..) => "twist",
            Bow { .. } => "bow",
            Squareness(..) => "squareness",
            Level(..) => "level",
        }
    }
}
