//! The thing to be welded, as the user described it and found sound.
//!
//! Comes in: the text of a frame file. Goes out: a [`Frame`] with its warnings, or all faults.
//! Out of bounds: paths, steel that is not in `library`, a default the user cannot see in `check`.

mod axis;
mod controls;
mod direction;
mod doubts;
mod faces;
mod inches;
pub mod iso13920;
mod lay;
mod look;
mod materials;
mod measure;
mod procedures;
mod raw;
mod read;
mod reader;
mod section;
mod settings;
mod shapes;
mod syntax;
mod tables;
mod tubes;
mod wishes;
#[cfg(test)]
mod format_test;

pub use materials::described as materials_described;
pub use measure::{measure, measure_at};
pub use read::{decode, read, read_with};
pub use section::Properties;

/// Faults with their lengths in the unit that the user writes.
pub fn faults_in(
    mut faults: Vec<crate::fault::Fault>,
    units: crate::units::Units,
) -> Vec<crate::fault::Fault> {
    inches::faults(&mut faults, units);
    faults
}

/// The frame file explained for the person who writes one (Markdown).
pub const FORMAT: &str = include_str!("format.md");

/// JSON Schema (2020-12) of the frame file, for editors: which keys there are and what they take. What
/// it cannot say (that a name exists, that a wall fits) is said by [`read`].
pub const SCHEMA: &str = include_str!("schema.json");

use crate::fault::Span;
use crate::library::{Material, Process};
use glam::DVec3;

/// A frame: sound in itself (every name resolved, every number finite and in range).
///
/// Lengths are mm, in the axes of the file. Indices point into the vectors of this struct.
#[derive(Debug, Clone)]
pub struct Frame {
    /// Name on every sheet.
    pub name: String,
    /// Unit in which people read and write lengths; every length in here is mm all the same.
    pub units: crate::units::Units,
    /// Free remarks of the user.
    pub note: String,
    /// Unit vector that points up in use: what top, left and right mean. The frame may lie otherwise
    /// on the bench, see `setups`.
    pub up: DVec3,
    /// Unit vector that points to the front of the frame, square to `up`.
    pub forward: DVec3,
    /// Materials in use.
    pub materials: Vec<Material>,
    /// Sections of the file, and those made for plates.
    pub sections: Vec<Section>,
    /// Named points.
    pub points: Vec<Point>,
    /// Tubes, bars and plates, in the order of the file.
    pub tubes: Vec<Tube>,
    /// What the user said about certain joints.
    pub joint_wishes: Vec<JointWish>,
    /// Procedures; the first that matches a seam holds. The last one has no `between` and fits all.
    pub procedures: Vec<ProcedureWish>,
    /// Ways the frame lies; the first is the one it starts in. Never empty.
    pub setups: Vec<Setup>,
    /// Fixture clamps and stops.
    pub clamps: Vec<Clamp>,
    /// Dimensions that must come out true.
    pub controls: Vec<Control>,
    /// Stages in which the frame is built; empty means all at once.
    pub stages: Vec<Stage>,
    /// Symmetry plane as the user gave it.
    pub symmetry: SymmetryWish,
    /// Sequencing rules in force.
    pub rules: HouseRules,
    /// What the shop brings.
    pub shop: Shop,
    /// Coefficients of the pull model, defaults or overridden.
    pub pull: PullSettings,
    /// Order wishes: pinned passes and a hand-written order.
    pub wishes: OrderWishes,
    /// Surface state named by the user (`"galvanized"`, `"painted"`), for the cautions.
    pub coating: Option<String>,
    /// True if people ride it, stand on it, lift with it or work under it (default true: cautious).
    pub carries_people: bool,
    /// Defaults that were put in because the user said nothing: (where, value, why).
    pub defaults: Vec<Default_>,
}

/// A default that was filled in, for `check` to show.
#[derive(Debug, Clone, PartialEq)]
pub struct Default_ {
    /// Key as the user would write it, for instance `shop.ambient`.
    pub key: String,
    /// The value in force, in the units of the file.
    pub value: String,
    /// Source or reason.
    pub why: String,
}

/// A cross-section with its material.
#[derive(Debug, Clone)]
pub struct Section {
    /// Name in the file.
    pub name: String,
    /// Shape and sizes.
    pub shape: Shape,
    /// Index into [`Frame::materials`].
    pub material: usize,
}

/// The shape of a section. Sizes in mm, outside sizes, corner = outer corner radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// Round tube.
    Round {
        /// Outside diameter.
        od: f64,
        /// Wall thickness.
        wall: f64,
    },
    /// Square or rectangular tube; `height` lies along the tube's `height_dir`.
    Box {
        /// Outside size along `height_dir`.
        height: f64,
        /// Outside size across it.
        width: f64,
        /// Wall thickness.
        wall: f64,
        /// Outer corner radius.
        corner: f64,
    },
    /// Flat bar or plate; `thickness` lies along the tube's `height_dir`.
    Flat {
        /// Size across `height_dir`.
        width: f64,
        /// Size along `height_dir`.
        thickness: f64,
    },
    /// Solid round bar.
    Solid {
        /// Diameter.
        od: f64,
    },
}

/// A named point.
#[derive(Debug, Clone)]
pub struct Point {
    /// Name in the file.
    pub name: String,
    /// Place, mm.
    pub at: DVec3,
}

/// A tube, bar or plate: a section swept along an axis.
#[derive(Debug, Clone)]
pub struct Tube {
    /// Name in the file.
    pub name: String,
    /// Index into [`Frame::sections`].
    pub section: usize,
    /// The axis as a polyline, bends already broken into short chords; at least two points.
    /// First and last are the work points of the ends, before trimming.
    pub axis: Vec<DVec3>,
    /// Arc length at each axis point, mm, starting at 0.
    pub s: Vec<f64>,
    /// Direction of the section's height on each axis chord (unit, square to the chord).
    pub height_dir: Vec<DVec3>,
    /// Named points inside or at the ends of the run: (index into points, arc length).
    pub on_run: Vec<(usize, f64)>,
    /// Centre-line bend radius at inner points, mm, if bent.
    pub bend_radius: Option<f64>,
    /// What kind of thing this is.
    pub role: Role,
    /// How the start and the end land, if the user said so.
    pub lands: [Option<Landing>; 2],
    /// True if a hole or an open end vents this tube (so it is never a sealed cell).
    pub vented: bool,
    /// Place of its name in the file, for messages found later.
    pub span: Span,
}

/// What kind of thing a tube is.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// A tube or bar with two ends.
    Tube,
    /// A plate lying with its wide face on another tube's face (a pad), or free in space.
    Plate {
        /// The tube it lies on, if any.
        on: Option<usize>,
    },
    /// A bar or tube welded along another tube for its whole length.
    Along {
        /// The tube it is welded to.
        on: usize,
    },
}

/// An end given as a place on another tube.
#[derive(Debug, Clone, PartialEq)]
pub struct Landing {
    /// The tube it lands on.
    pub on: usize,
    /// Arc length along that tube, mm.
    pub at_mm: f64,
    /// Shift across that tube's axis within the face, mm.
    pub offset_mm: f64,
    /// Slot depth if the end is a slot over (or a bar let into) the other part, mm.
    pub slot_mm: Option<f64>,
}

/// What the user said about a joint.
#[derive(Debug, Clone)]
pub struct JointWish {
    /// Which joint: the tubes that meet there (all of them must).
    pub tubes: Vec<usize>,
    /// Or the point at which it is.
    pub point: Option<usize>,
    /// The tube that runs through.
    pub carrier: Option<usize>,
    /// `true`: two ends are butted square/mitred; `false`: the second lands on the first's side.
    pub mitre: Option<bool>,
    /// Clock ranges (hours from, to; clockwise) that are not welded.
    pub open: Vec<(f64, f64)>,
    /// Measured or expected root gap, mm.
    pub gap_mm: Option<f64>,
    /// Place in the file.
    pub span: Span,
}

/// How seams are to be welded, for all or for a pair of sections.
#[derive(Debug, Clone)]
pub struct ProcedureWish {
    /// Section names this holds for (branch and carrier in either order); empty = everything.
    pub between: Vec<usize>,
    /// Process (ISO 4063).
    pub process: Process,
    /// Arc volts, if given.
    pub volts: Option<f64>,
    /// Welding current, A, if given.
    pub amps: Option<f64>,
    /// Travel speed, mm/s, if given.
    pub speed_mm_s: Option<f64>,
    /// Fillet leg, mm, if given.
    pub leg_mm: Option<f64>,
    /// Layers, if given.
    pub layers: Option<u8>,
    /// Wire or rod hydrogen, ml/100 g, if given.
    pub hydrogen_ml: Option<f64>,
    /// Vertical seams: up (PF) or down (PG), if the procedure says so.
    pub vertical_up: Option<bool>,
    /// Interpass limit, °C, if given (otherwise the material's).
    pub interpass_c: Option<f64>,
    /// Preheat, °C, if given.
    pub preheat_c: Option<f64>,
}

/// One way the frame lies on the bench.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Name on the sheet.
    pub name: String,
    /// Unit vector of the frame that points up in this setup.
    pub up: DVec3,
}

/// A fixture clamp or stop.
#[derive(Debug, Clone)]
pub struct Clamp {
    /// Name on the sheet.
    pub name: String,
    /// The tube it holds and the arc length along it.
    pub tube: usize,
    /// Arc length along the tube, mm.
    pub at_mm: f64,
    /// Unit vectors in which it holds the place; of a stop the one in which it pushes.
    pub holds: Vec<DVec3>,
    /// True for a stop: it can only push. The frame leaves it as soon as it would have to pull.
    pub one_way: bool,
    /// Stiffness in each direction, N/mm.
    pub stiffness_n_mm: f64,
    /// Setups it belongs to (indices); empty = all.
    pub setups: Vec<usize>,
    /// When it is released.
    pub release: Release,
}

/// When a clamp comes off.
#[derive(Debug, Clone, PartialEq)]
pub enum Release {
    /// After the last pass, cold.
    End,
    /// After the last pass of the joint at this named tube pair or point (joint name as printed).
    AfterJoint(String),
    /// After the pass with this label.
    AfterPass(String),
}

/// A dimension that must come out true.
#[derive(Debug, Clone)]
pub struct Control {
    /// Name on the sheet.
    pub name: String,
    /// What is measured.
    pub kind: ControlKind,
    /// Tolerance, ± in the control's unit (mm or degrees).
    pub tolerance: f64,
    /// Where the tolerance comes from ("given", "ISO 13920 class B").
    pub tolerance_from: String,
    /// How it is set before welding.
    pub set_by: SetBy,
    /// Step to which a set-to value is rounded, in the control's unit.
    pub step: f64,
    /// Largest set-to allowed, in the control's unit.
    pub limit: f64,
    /// Nominal value from the geometry, in the control's unit.
    pub nominal: f64,
}

/// How a control can be preset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetBy {
    /// By the fixture's stops.
    Fixture,
    /// By cutting a tube longer or shorter.
    Cut,
    /// Not at all.
    None,
}

/// A place on a tube: what a control reads from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// The tube.
    pub tube: usize,
    /// Arc length along it, mm.
    pub s_mm: f64,
}

/// What a control measures. All are blind to rigid-body motion.
#[derive(Debug, Clone, PartialEq)]
pub enum ControlKind {
    /// Distance between two spots, mm.
    Distance(Spot, Spot),
    /// Offset of a spot from the line through two others, in the direction given, mm.
    FromLine {
        /// The spot.
        spot: Spot,
        /// The line.
        line: [Spot; 2],
        /// Direction of the offset (unit, in the frame's axes).
        dir: DVec3,
    },
    /// Offset of a spot from the plane through three others, mm.
    FromPlane {
        /// The spot.
        spot: Spot,
        /// The plane.
        plane: [Spot; 3],
    },
    /// Angle between two lines, each through two spots, degrees.
    Angle([Spot; 2], [Spot; 2]),
    /// Parallelism of two lines: difference of their distances at their ends, mm.
    Parallel([Spot; 2], [Spot; 2]),
    /// Twist: fourth spot out of the plane of the first three, mm.
    Twist([Spot; 4]),
    /// Straightness of a run between two arc lengths, in the direction given, mm at mid-span.
    Bow {
        /// The tube.
        tube: usize,
        /// From and to, arc length, mm.
        from_to: [f64; 2],
        /// Direction of the bow (unit).
        dir: DVec3,
    },
    /// Squareness: first distance minus second (the diagonals), mm.
    Squareness([Spot; 2], [Spot; 2]),
    /// Level: height difference of two spots along the frame's up, relative to two others, mm.
    Level([Spot; 2], [Spot; 2]),
}

impl ControlKind {
    /// `"mm"` or `"deg"`.
    pub fn unit(&self) -> &'static str {
        match self {
            ControlKind::Angle(..) => "deg",
            _ => "mm",
        }
    }
}

/// One stage of the build.
#[derive(Debug, Clone)]
pub struct Stage {
    /// Name on the sheet.
    pub name: String,
    /// Tubes that this stage adds.
    pub tubes: Vec<usize>,
    /// True if it is welded out before the next, false if only tacked.
    pub weld_out: bool,
}

/// Symmetry plane as the user wished it.
#[derive(Debug, Clone, PartialEq)]
pub enum SymmetryWish {
    /// Find it.
    Auto,
    /// There is none.
    None,
    /// This plane: a point and a unit normal.
    Plane(DVec3, DVec3),
}

/// The sequencing rules and their values.
#[derive(Debug, Clone, PartialEq)]
pub struct HouseRules {
    /// Other steps between two passes on one joint.
    pub spacing: usize,
    /// Steel distance from the last pass, mm.
    pub distance_mm: f64,
    /// Opposite segment before any other of the same seam and layer.
    pub opposite: bool,
    /// Heat of left and right kept level.
    pub balance: bool,
    /// Longest segment, mm.
    pub max_segment_mm: f64,
    /// Shortest segment, mm.
    pub min_segment_mm: f64,
    /// Overhead welding (PD, PE) allowed.
    pub overhead: bool,
    /// Two welders never closer than this along the steel, mm.
    pub welder_distance_mm: f64,
}

/// What the shop brings.
#[derive(Debug, Clone, PartialEq)]
pub struct Shop {
    /// Welders working at the same time.
    pub welders: usize,
    /// Air temperature, °C.
    pub ambient_c: f64,
    /// Seconds to move to another joint.
    pub move_s: f64,
    /// Seconds to clean a bead before the next layer.
    pub clean_s: f64,
    /// Minutes to turn the frame over.
    pub turn_min: f64,
    /// Heat loss coefficient, W/(m²K), if the user fixed it.
    pub loss_w_m2k: Option<f64>,
    /// Fit-up error as tacked if not measured, mm (standard deviation).
    pub fit_up_mm: f64,
}

/// Coefficients of the pull model (design: shrinkage, ring, scatter), with the shop's factors.
#[derive(Debug, Clone, PartialEq)]
pub struct PullSettings {
    /// Transverse coefficient C_t.
    pub c_t: f64,
    /// Longitudinal coefficient C_l in the carrier and branch walls.
    pub c_l: f64,
    /// Share of the heat that goes into the carrier's wall.
    pub carrier_share: f64,
    /// Multiplies all shrinkage (learnt by the shop).
    pub common_factor: f64,
    /// Multiplies shrinkage by kind of seam (kind's name, factor).
    pub kind_factors: Vec<(String, f64)>,
    /// Multiplies shrinkage joint by joint, by joint index, on top of the others: what a running job
    /// taught. Empty: 1 everywhere. Never in a frame file.
    pub joint_factors: Vec<f64>,
    /// Standard deviations: common, joint, pass (fractions).
    pub scatter: [f64; 3],
    /// Lean of each branch, degrees (standard deviation).
    pub lean_deg: f64,
}

/// Wishes on the order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OrderWishes {
    /// Pass labels, seams or joints to come first, in this order.
    pub first: Vec<String>,
    /// Pass labels, seams or joints to come last, in this order.
    pub last: Vec<String>,
    /// Pairs of joints that must not follow each other.
    pub apart: Vec<(String, String)>,
    /// A whole order by hand (pass labels), to be judged instead of planned.
    pub by_hand: Vec<String>,
}
