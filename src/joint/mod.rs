//! Where tubes meet: joints on the frame as a graph.
//!
//! Comes in: a [`Frame`]. Goes out: [`Joints`], or faults (a branch wider than its carrier, a tube
//! that touches nothing, a frame in two pieces …) that point into the frame file.
//! Out of bounds: what is welded in which order, heat, cost.

mod checks;
pub(crate) mod contact;
pub(crate) mod curve;
pub(crate) mod find;
mod graph;
mod group;
mod left;
pub(crate) mod outline;
pub(crate) mod place;
mod polygon;
pub mod symmetry;
pub(crate) mod trace;

use crate::frame::Frame;
use glam::DVec3;

/// All joints of a frame, and the steel between them.
#[derive(Debug, Clone)]
pub struct Joints {
    /// Joints in the order of their names J1, J2, …
    pub joints: Vec<Joint>,
    /// Connections (one per seam-to-be), grouped by joint, in the order of their names.
    pub meets: Vec<Meet>,
    /// Vertices are joints (same index), edges are lengths of tube between neighbouring joints, mm.
    pub graph: petgraph::graph::UnGraph<usize, Steel>,
    /// Shortest way along the steel from joint to joint, mm; infinite if not connected.
    pub steel_mm: Vec<Vec<f64>>,
    /// Symmetry plane (point, unit normal pointing to the frame's left), if there is one.
    pub symmetry: Option<(DVec3, DVec3)>,
}

/// A length of tube between two joints.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steel {
    /// The tube.
    pub tube: usize,
    /// Its length between the two joints, mm.
    pub length_mm: f64,
}

/// The place where tubes meet.
#[derive(Debug, Clone)]
pub struct Joint {
    /// `J7`.
    pub name: String,
    /// Place, mm.
    pub at: DVec3,
    /// The tubes that meet here, carrier first, with the arc length at which they do.
    pub tubes: Vec<(usize, f64)>,
    /// Indices into [`Joints::meets`].
    pub meets: Vec<usize>,
    /// The joint that mirrors it (may be itself).
    pub mirror: Option<usize>,
    /// Which side of the symmetry plane.
    pub side: Side,
}

/// Side of the frame's symmetry plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// Left of the plane looking forward.
    Left,
    /// Right of it.
    Right,
    /// Within 1 mm of it, or no plane.
    Centre,
}

impl Side {
    /// `left`, `right` or `centre`.
    pub fn word(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
            Side::Centre => "centre",
        }
    }
}

/// One branch meeting its carrier: what becomes one seam.
#[derive(Debug, Clone)]
pub struct Meet {
    /// The joint.
    pub joint: usize,
    /// The kind of connection.
    pub kind: MeetKind,
    /// The part that is added, and the arc length along it at the joint (0 or its length for an
    /// end, the middle of the contact for a lap or pad).
    pub branch: (usize, f64),
    /// The part or parts it is welded to, with arc length and weight (weights add up to 1). Two
    /// carriers with 0.5 each for a branch on a mitred pair.
    pub carriers: Vec<(usize, f64, f64)>,
    /// Root gap, mm, if stated.
    pub gap_mm: f64,
    /// Clock ranges (hours from, to) that stay open.
    pub open: Vec<(f64, f64)>,
}

/// Kinds of connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MeetKind {
    /// Round end on a round tube: saddle.
    Saddle,
    /// Square or flat end coped on a round tube.
    SquareOnRound,
    /// Any end on a flat face.
    FlatFaced,
    /// Two ends in line.
    Butt,
    /// Two ends at an angle.
    Mitre,
    /// Faces touching crosswise, or a plate lying on a face.
    Lap,
    /// A plate lying on a tube's face.
    Pad,
    /// A flat bar let into (or a slotted tube over) the other part.
    Slot,
    /// A bar or tube welded along another.
    Along,
}

impl MeetKind {
    /// Plain word for sheets and files.
    pub fn word(self) -> &'static str {
        match self {
            MeetKind::Saddle => "saddle",
            MeetKind::SquareOnRound => "square-on-round",
            MeetKind::FlatFaced => "flat-faced",
            MeetKind::Butt => "butt",
            MeetKind::Mitre => "mitre",
            MeetKind::Lap => "lap",
            MeetKind::Pad => "pad",
            MeetKind::Slot => "slot",
            MeetKind::Along => "along",
        }
    }
}

/// Find the joints of a frame: which end lands on what (`find`), which of these meets make one
/// joint (`group`), what is wrong with them (`checks`).
///
/// # Errors
/// All faults of the geometry at once, codes E201 to E211; see [`crate::fault::CODES`].
pub fn joints(frame: &Frame) -> Result<crate::fault::Checked<Joints>, Vec<crate::fault::Fault>> {
    let (joints, mut found) = group::group(frame, &find::find(frame));
    let mut faults = checks::wishes(frame, &joints, &mut found);
    faults.extend(checks::faults(frame, &found));
    let symmetry = symmetry::plane(frame);
    faults.extend(checks::symmetry(frame, symmetry));
    if faults.iter().any(|f| !f.is_warning()) {
        return Err(faults);
    }
    let graph = graph::graph(frame, &joints);
    let steel_mm = graph::steel_mm(&graph);
    let meets = found.into_iter().map(|f| f.meet).collect();
    let mut joints = Joints { joints, meets, graph, steel_mm, symmetry };
    symmetry::pair_up(&mut joints.joints, symmetry);
    Ok(crate::fault::Checked { value: joints, warnings: faults })
}

impl Meet {
    /// The tubes that meet: branch first, then its carrier or carriers.
    pub fn tubes(&self) -> impl Iterator<Item = usize> + '_ {
        std::iter::once(self.branch.0).chain(self.carriers.iter().map(|c| c.0))
    }
}
