//! Where the skin of a branch runs into the skin of its carrier.
//!
//! The outline of the branch is drawn out along the branch's axis until it meets the carrier:
//!
//! ```text
//! P(u) = o + x(u)·e₁ + y(u)·e₂ + z·d      F(P) = 0      dz/du = −N·(x′e₁ + y′e₂) / (N·d)
//! o   work point of the end               d   branch axis, away from the joint
//! x,y outline of the branch, mm           N   outward normal of the carrier at P
//! ```
//!
//! `z` is the first place met when coming down the branch from outside. Exact for cylinders and
//! planes; holds for any angle above 0.

use super::outline::OutlineEdge;
use glam::DVec3;

/// The skin of a carrier (or the joint plane of two ends).
#[derive(Debug, Clone, Copy)]
pub(crate) enum Surface {
    Round { on: DVec3, axis: DVec3, radius: f64 },
    Flat { on: DVec3, normal: DVec3 },
}

impl Surface {
    /// Height `z` at which the line `from + z·d` first meets the surface, coming from large `z`, and
    /// the outward normal there. A line that passes a cylinder by is given the nearest place.
    fn meet(&self, from: DVec3, d: DVec3) -> (f64, DVec3) {
        match *self {
            Surface::Flat { on, normal } => ((on - from).dot(normal) / d.dot(normal), normal),
            Surface::Round { on, axis, radius } => {
                let square = |v: DVec3| v - axis * v.dot(axis);
                let (b, c) = (square(from - on), square(d));
                let (cc, bc) = (c.dot(c), b.dot(c));
                let root = (bc * bc - cc * (b.dot(b) - radius * radius)).max(0.0).sqrt();
                let z = (root - bc) / cc;
                (z, square(from + d * z - on).normalize())
            }
        }
    }
}

/// How the two walls stand to each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Landing {
    /// The branch stands on the carrier's skin.
    OnSkin,
    /// Two ends meet in a plane; the carrier's wall is the mirror image of the branch's.
    EndToEnd,
}

/// A branch end and what it runs into.
#[derive(Debug, Clone)]
pub(crate) struct Trace {
    /// Work point of the branch end.
    pub origin: DVec3,
    /// Branch axis, away from the joint (unit).
    pub away: DVec3,
    /// Axes of the outline: e₁ × e₂ = −away, so that the outline runs clockwise for someone who looks
    /// along the branch towards the carrier.
    pub e1: DVec3,
    pub e2: DVec3,
    pub edges: Vec<OutlineEdge>,
    /// One surface, or two with the plane between them: (point, normal towards the second).
    pub surfaces: Vec<Surface>,
    pub between: Option<(DVec3, DVec3)>,
    pub landing: Landing,
}

/// A place on a seam's curve.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    pub at: DVec3,
    /// Derivative by the parameter, mm.
    pub step: DVec3,
    pub branch_normal: DVec3,
    pub carrier_normal: DVec3,
    /// From the carrier to the branch, the way the gap closes.
    pub pull: DVec3,
    /// Which surface it lies on.
    pub surface: usize,
}

impl Trace {
    /// Height over `from` at which a line of the branch's wall meets a carrier, mm along the branch.
    pub(crate) fn height(&self, from: DVec3) -> f64 {
        self.land(from).1
    }

    /// Which surface that line meets, at which height, and the outward normal there.
    fn land(&self, from: DVec3) -> (usize, f64, DVec3) {
        let (z, normal) = self.surfaces[0].meet(from, self.away);
        match self.between {
            Some((point, towards_second)) if (from + self.away * z - point).dot(towards_second) > 0.0 => {
                let (z, normal) = self.surfaces[1].meet(from, self.away);
                (1, z, normal)
            }
            _ => (0, z, normal),
        }
    }

    /// The place at `u` (0 to 1) of an edge of the outline.
    pub(crate) fn place(&self, edge: usize, u: f64) -> Place {
        let (xy, step, out) = self.edges[edge].edge.at(u);
        let from = self.origin + self.e1 * xy.x + self.e2 * xy.y;
        let across = self.e1 * step.x + self.e2 * step.y;
        let branch_normal = self.e1 * out.x + self.e2 * out.y;
        let (surface, z, normal) = self.land(from);
        let slope = normal.dot(self.away);
        // a wall that grazes the carrier (equal widths) keeps its height
        let dz = if slope.abs() < 1e-9 { 0.0 } else { -normal.dot(across) / slope };
        let (carrier_normal, pull) = match self.landing {
            Landing::OnSkin => (normal, self.away),
            Landing::EndToEnd => (branch_normal - normal * 2.0 * branch_normal.dot(normal), normal),
        };
        let at = from + self.away * z;
        Place { at, step: across + self.away * dz, branch_normal, carrier_normal, pull, surface }
    }

    /// Parameters strictly inside an edge at which the seam passes from one carrier to the other.
    pub(crate) fn crossings(&self, edge: usize) -> Vec<f64> {
        let Some((point, normal)) = self.between else { return Vec::new() };
        // measured on the first surface: both surfaces meet in the plane between them
        let side = |u: f64| {
            let (xy, _, _) = self.edges[edge].edge.at(u);
            let from = self.origin + self.e1 * xy.x + self.e2 * xy.y;
            let (z, _) = self.surfaces[0].meet(from, self.away);
            (from + self.away * z - point).dot(normal)
        };
        const STEPS: usize = 64;
        let mut found = Vec::new();
        for i in 0..STEPS {
            let (mut a, mut b) = (i as f64 / STEPS as f64, (i + 1) as f64 / STEPS as f64);
            let (fa, fb) = (side(a), side(b));
            if fa.abs() < 1e-9 || fb.abs() < 1e-9 || fa.signum() == fb.signum() {
                if fb.abs() < 1e-9 && i + 1 < STEPS && side(b + 1e-3).signum() != fa.signum() {
                    found.push(b);
                }
                continue;
            }
            for _ in 0..60 {
                let mid = 0.5 * (a + b);
                if side(mid).signum() == fa.signum() { a = mid } else { b = mid }
            }
            found.push(0.5 * (a + b));
        }
        found
    }
}
