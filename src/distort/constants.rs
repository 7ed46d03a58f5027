//! Every constant of the pull model that is not a material's own value, in one place: value, unit,
//! range, where from.
//!
//! "Fitted" means: to thermo-elastic-plastic finite-element runs of a T-joint (carrier 38 x 2.0,
//! branch 32 x 1.6 mm, 210 J/mm net), by this project; they are not measurements.

/// One constant with what a reader must know about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Constant {
    /// Name in the documentation.
    pub name: &'static str,
    /// Value.
    pub value: f64,
    /// Unit.
    pub unit: &'static str,
    /// Range in which it may reasonably lie.
    pub range: (f64, f64),
    /// Source, `assumption`, or what it was fitted to.
    pub from: &'static str,
}

/// Stiffness of a fibre per length of seam, at E = 210 000 MPa and a thinner wall of 1.6 mm.
pub const KAPPA: Constant = Constant {
    name: "fibre stiffness per length of seam",
    value: 6.0e4,
    unit: "N/mm per mm",
    range: (2.0e4, 2.0e5),
    from: "assumption, at a 1.6 mm wall of steel; scaled with E t of the thinner wall",
};
/// Wall at which [`KAPPA`] holds.
pub const KAPPA_WALL_MM: f64 = 1.6;
/// Modulus at which [`KAPPA`] holds.
pub const KAPPA_E_MPA: f64 = 210_000.0;
/// Stiffness of the two springs across n, against the one along n.
pub const ACROSS: Constant =
    Constant { name: "springs across n", value: 0.5, unit: "–", range: (0.2, 1.0), from: "assumption" };
/// Variation of fibre stiffness round a saddle, κ(1 + c cos 2φ), φ from the crown; coarse.
pub const CROWN_COARSE: Constant = Constant {
    name: "variation round a saddle, coarse",
    value: -0.21,
    unit: "–",
    range: (-0.26, -0.16),
    from: "fitted to finite-element runs of a T-joint",
};
/// As [`CROWN_COARSE`], fine.
pub const CROWN_FINE: Constant = Constant {
    name: "variation round a saddle, fine",
    value: -0.42,
    unit: "–",
    range: (-0.5, -0.3),
    from: "fitted to finite-element runs of a T-joint",
};
/// Stiffness of a tack against a pass, per length; coarse.
pub const TACK_COARSE: Constant = Constant {
    name: "tack against pass, per length, coarse",
    value: 0.57,
    unit: "–",
    range: (0.57, 1.0),
    from: "fitted to finite-element runs of a T-joint (0.3 to 0.5 of a 45 degree segment)",
};
/// Stiffness of a tack against a pass, per length; fine: 0.88 of a 45 degree segment (12.6 mm) in a
/// tack of 6.5 mm.
pub const TACK_FINE: Constant = Constant {
    name: "tack against pass, per length, fine",
    value: 1.7,
    unit: "–",
    range: (1.2, 2.0),
    from: "fitted to finite-element runs of a T-joint (0.88 of a 45 degree segment)",
};
/// δ in fine against δ in coarse (0.19 mm against 0.155 mm in the T-joint).
pub const FINE_DELTA: Constant = Constant {
    name: "shrinkage across the seam, fine against coarse",
    value: 1.23,
    unit: "–",
    range: (1.1, 1.4),
    from: "fitted to finite-element runs of a T-joint",
};
/// Part of a tack's force that is lost when a fibre is laid on it.
pub const MELT_TACK: Constant = Constant {
    name: "re-melted part of a tack",
    value: 0.37,
    unit: "–",
    range: (0.2, 0.6),
    from: "fitted to finite-element runs of a T-joint",
};
/// Part of a neighbouring fibre's force that is lost when a fibre is laid beside it.
pub const MELT_NEIGHBOUR: Constant = Constant {
    name: "re-melted part of a neighbouring fibre",
    value: 0.41,
    unit: "–",
    range: (0.2, 0.6),
    from: "fitted to finite-element runs of a T-joint",
};
/// Distance at which re-melting has faded to nothing, mm.
pub const MELT_REACH: Constant = Constant {
    name: "reach of re-melting",
    value: 12.0,
    unit: "mm",
    range: (8.0, 16.0),
    from: "fitted to finite-element runs of a T-joint (one 45 degree segment)",
};
/// Longest piece of a pass that is laid as one fibre in fine; never fewer than three to a pass.
pub const FINE_FIBRE_MM: f64 = 10.0;
/// Fewest fibres to a pass in fine.
pub const FINE_FIBRES: usize = 3;
/// Shrinkage volume across the seam against the one along it, in a wall.
pub const WALL_ACROSS: Constant = Constant {
    name: "wall shrinkage across the seam against along it",
    value: 1.0,
    unit: "–",
    range: (0.5, 1.5),
    from: "assumption; gives the kink of finite-element runs of a T-joint",
};
/// Rise of temperature that marks the width a bead shrinks over, in yield strains of the metal: heated
/// less, it yields neither on heating nor on cooling. For the share of a tack (`tack_share`).
pub const YIELD_STRAINS: Constant = Constant {
    name: "edge of the heated width, yield strains",
    value: 2.0,
    unit: "–",
    range: (1.0, 6.0),
    from: "derived for a bar between stiff walls; the share of a tack hardly hangs on it",
};
/// Rest spring that keeps a tube in place until it is held, N/mm (rotations: times the square of
/// half the tube's length). A millionth of a tack's stiffness, so it changes no pull that can be
/// read; softer ones cost digits, because the compliance of a loose tube goes with its inverse.
pub const REST_N_MM: f64 = 0.1;
/// A tube counts as held in six ways when its rest springs would carry less than this part of any
/// push on it.
pub const HELD: f64 = 0.05;
/// Stiffness of the three-two-one hold, N/mm; it is statically determinate, so it changes no
/// control.
pub const HOLD_N_MM: f64 = 1e3;
/// Stiffness of a clamp, N/mm, if the user gives none.
pub const CLAMP_N_MM: Constant =
    Constant { name: "clamp stiffness", value: 5e3, unit: "N/mm", range: (1e3, 2.5e4), from: "assumption" };
/// A stop is left by the frame when it would have to pull with more than this, N.
pub const STOP_LETS_GO_N: f64 = 1.0;
/// Factor on clamp stiffness that gives its share of the scatter.
pub const CLAMP_SPREAD: f64 = 5.0;
/// Factor on joint flexibility that gives its share of the scatter.
pub const FLEX_SPREAD: Constant = Constant {
    name: "joint flexibility, times or divided by",
    value: 1.7,
    unit: "–",
    range: (1.2, 2.6),
    from: "spread between two published sets of equations for the same joints",
};
/// β = d/D at which the flexibility equations are capped: they fall to zero at 1.
pub const BETA_CAP: f64 = 0.9;
/// Two stations of a tube closer than this are one, mm.
pub const SNAP_MM: f64 = 0.5;
/// Distance of default tacks on open seams, mm at most.
pub const TACK_PITCH_MM: f64 = 150.0;
/// Largest number of passes evaluated in fine; beyond it results are marked `coarse`.
pub const FINE_LIMIT_PASSES: usize = 1000;

/// All constants that carry a source, for `check` and the documentation.
pub fn all() -> Vec<Constant> {
    vec![
        KAPPA,
        ACROSS,
        CROWN_COARSE,
        CROWN_FINE,
        TACK_COARSE,
        TACK_FINE,
        FINE_DELTA,
        MELT_TACK,
        MELT_NEIGHBOUR,
        MELT_REACH,
        WALL_ACROSS,
        YIELD_STRAINS,
        CLAMP_N_MM,
        FLEX_SPREAD,
    ]
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_constant_lies_in_its_range_and_says_where_from() {
        for c in super::all() {
            assert!(c.range.0 <= c.value && c.value <= c.range.1, "{}", c.name);
            assert!(!c.from.is_empty() && !c.unit.is_empty());
        }
    }
}
