//! Tubes, plates and bars as written, with names resolved but without a place in space yet.

use super::Point;
use super::reader::At;
use crate::fault::Span;
use glam::DVec3;

/// What the words for places and directions refer to.
pub(super) struct Place<'p> {
    /// Up in use.
    pub up: DVec3,
    /// Forward in use.
    pub forward: DVec3,
    /// Named points.
    pub points: &'p [At<Point>],
    /// Names of points that have a fault: using them is no second fault.
    pub broken: &'p [&'p str],
}

/// A tube as written, names resolved.
pub(super) struct Raw {
    pub name: String,
    pub span: Span,
    pub section: usize,
    pub vented: bool,
    pub kind: Kind,
}

/// How it is placed.
pub(super) enum Kind {
    Run(Run),
    Plate(Plate),
    Along(Along),
}

pub(super) struct Run {
    pub stops: Vec<Stop>,
    pub bend_radius: Option<At<f64>>,
    pub height: Option<At<DVec3>>,
    pub roll_deg: f64,
}

/// One entry of a run.
pub(super) struct Stop {
    pub span: Span,
    pub what: StopAt,
}

pub(super) enum StopAt {
    /// A named point.
    Point(usize),
    /// Three numbers.
    Literal(DVec3),
    /// A place on another tube.
    On(OnPlace),
}

/// A place on another tube.
pub(super) struct OnPlace {
    pub on: usize,
    pub at: At<Along1>,
    pub face: Option<At<Face>>,
    pub offset_mm: f64,
    pub slot_mm: Option<f64>,
}

/// A place along a tube.
pub(super) enum Along1 {
    Mm(f64),
    Middle,
    Start,
    End,
    /// The place nearest to a named point.
    Point(usize),
}

/// Which side of a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Face {
    Inner,
    Outer,
    /// The side that looks this way.
    Towards(DVec3),
}

pub(super) struct Plate {
    /// `None`: free in space.
    pub on: Option<OnPlace>,
    pub centre: DVec3,
    pub normal: Option<At<DVec3>>,
    pub along: Option<At<DVec3>>,
    pub length: f64,
    pub thickness: f64,
}

pub(super) struct Along {
    pub on: usize,
    pub from: At<Along1>,
    pub to: At<Along1>,
    pub face: At<Face>,
    pub offset_mm: f64,
    pub on_edge: bool,
}
