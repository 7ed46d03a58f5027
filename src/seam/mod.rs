//! Where metal is laid: the curve of each weld in space, cut into segments.
//!
//! Comes in: a [`crate::frame::Frame`] and its [`crate::joint::Joints`]. Goes out: [`Seams`].
//! Out of bounds: steel, heat, cost, order.

mod build;
mod cells;
mod clock;
mod line;
mod position;
mod split;

use crate::frame::Frame;
use crate::joint::{Joints, MeetKind, Side};
use glam::DVec3;
pub use position::position;

/// All seams of a frame. `seams[i]` belongs to `joints.meets[i]`.
#[derive(Debug, Clone)]
pub struct Seams {
    /// One for each [`crate::joint::Meet`], same index.
    pub seams: Vec<Seam>,
    /// Tubes that welding closes to the outside: (tube index, seams that close it).
    pub sealed: Vec<(usize, Vec<usize>)>,
}

/// One branch's weld.
#[derive(Debug, Clone)]
pub struct Seam {
    /// `J7a`.
    pub name: String,
    /// Joint index.
    pub joint: usize,
    /// Kind.
    pub kind: MeetKind,
    /// Angle between branch axis and carrier axis, degrees, 0 to 90.
    pub angle_deg: f64,
    /// Middle of the seam (mean by length), mm.
    pub centre: DVec3,
    /// The weld lines; one closed line for a branch end, several open ones for laps, pads, bars.
    pub lines: Vec<Line>,
    /// True if there is one closed line.
    pub closed: bool,
    /// Total welded length, mm.
    pub length_mm: f64,
    /// Parts of the outline that stay unwelded, in words with their length.
    pub unwelded: Vec<String>,
    /// Segments in order along the lines (clockwise on a closed seam, see `clock_up`).
    pub segments: Vec<Segment>,
    /// Where 12 o'clock points, looking along the branch towards the carrier (unit), and in words
    /// ("up", "forward").
    pub clock_up: (DVec3, &'static str),
    /// Viewing direction of the clock: along the branch towards the carrier (unit).
    pub clock_axis: DVec3,
    /// Middle of the clock, mm.
    pub clock_centre: DVec3,
    /// Wall of the branch and of the carrier, mm.
    pub walls_mm: [f64; 2],
    /// Fillet or butt.
    pub fillet: bool,
}

impl Seam {
    /// The name of a place on the seam as the sheet says it: `10:30` by the clock, or `left 120` (mm
    /// from the start) on a bar along a tube.
    pub fn place_name(&self, line: usize, s_mm: f64) -> String {
        match self.kind {
            MeetKind::Along => format!("{} {s_mm:.0}", ["left", "right"][line.min(1)]),
            _ => {
                let clock =
                    clock::Clock { centre: self.clock_centre, axis: self.clock_axis, up: self.clock_up };
                clock.name(self.point(line, s_mm).at)
            }
        }
    }
}

/// One weld line, finely sampled.
#[derive(Debug, Clone)]
pub struct Line {
    /// Samples, spaced closely enough that chords are within 0.05 mm of the curve.
    pub samples: Vec<SeamPoint>,
    /// Arc length at each sample, mm; exact (by quadrature), not chord length.
    pub s: Vec<f64>,
}

/// A place on a seam.
#[derive(Debug, Clone, Copy)]
pub struct SeamPoint {
    /// Place, mm.
    pub at: DVec3,
    /// Unit tangent in the direction of growing arc length (clockwise on a closed seam).
    pub tangent: DVec3,
    /// Outward unit normal of the branch's wall.
    pub branch_normal: DVec3,
    /// Outward unit normal of the carrier's wall.
    pub carrier_normal: DVec3,
    /// Unit vector across the seam from the carrier to the branch: weld shrinkage closes the gap along it.
    pub pull: DVec3,
}

/// A piece of a seam, welded in one go.
#[derive(Debug, Clone)]
pub struct Segment {
    /// Which line of the seam.
    pub line: usize,
    /// Start and end, arc length on that line, mm (`from < to`; on a closed line `to` may exceed the
    /// line's length when the piece runs over the start).
    pub from_mm: f64,
    /// End.
    pub to_mm: f64,
    /// The place half way.
    pub mid: SeamPoint,
    /// Clock names of start and end, like `10:30`.
    pub clock_from: String,
    /// End of it.
    pub clock_to: String,
    /// The opposite segment on this seam.
    pub partner: Option<usize>,
    /// Welding position in each setup of the frame, in the order of [`Frame::setups`].
    pub positions: Vec<Position>,
    /// Side of the symmetry plane.
    pub side: Side,
}

impl Segment {
    /// Length, mm.
    pub fn length_mm(&self) -> f64 {
        self.to_mm - self.from_mm
    }
}

/// Welding positions of ISO 6947.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Position {
    PA,
    PB,
    PC,
    PD,
    PE,
    /// Vertical (PF upwards or PG downwards is decided by the direction of the pass).
    Vertical,
}

/// Trace and split all seams.
pub fn seams(frame: &Frame, joints: &Joints) -> Seams {
    let seams: Vec<Seam> = build::all(frame, joints);
    let sealed = cells::sealed(frame, joints, &seams);
    Seams { seams, sealed }
}
