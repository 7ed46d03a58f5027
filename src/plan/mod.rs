//! Everything about one frame, decided: the main line from a frame to a [`WeldPlan`].
//!
//! Comes in: a [`Frame`] and [`Options`]. Goes out: a [`WeldPlan`], from which every output is made.
//! Out of bounds: layout of paper, files, clock; the search reports through a callback.

mod again;
mod compare;
mod directions;
mod events;
mod expect;
mod find;
mod fingerprint;
mod hold;
mod judge;
mod large;
mod levers;
mod lines;
mod make;
mod question;
mod stages;
mod steer;
mod tacking;
mod turning;
mod warm;
mod words;

pub use again::{Heat, Levers, Spread, Underway, replan};
pub use compare::{Row, compare};
pub use hold::{Hold, choose as hold_points, reading_error};
pub use judge::{FULL_LIMIT_PASSES, Judge, PULL_LIMIT_PASSES};
pub use levers::along;
pub use make::{From, Options, Parts, Watch, audit, audit_after, parts, plan};
pub use question::question;
pub use stages::seam_runs;
pub use steer::Reach;
pub use tacking::{Tacking, laid as tacks_laid};

use crate::distort::{BuildTo, Pull};
use crate::frame::Frame;
use crate::heat::Timeline;
use crate::joint::Joints;
use crate::procedure::Passes;
use crate::seam::Seams;
use crate::sequence::Order;

/// A frame with its order of welding and all that is known about it.
#[derive(Debug, Clone)]
pub struct WeldPlan {
    /// The frame.
    pub frame: Frame,
    /// Its joints.
    pub joints: Joints,
    /// Its seams.
    pub seams: Seams,
    /// Its passes.
    pub passes: Passes,
    /// The order of passes, audited.
    pub order: Order,
    /// Its tacks, if the plan begins with loose tubes.
    pub tacks: Option<crate::tack::Tacks>,
    /// The tack half worked out, if there is one.
    pub tacking: Option<Tacking>,
    /// Steps of the order that come before each welded stage; for a frame built in one go, those that were
    /// welded before this revision.
    pub stage_steps: Vec<usize>,
    /// How the order was judged and what was tried.
    pub objective: Objective,
    /// When things happen and how hot they are.
    pub timeline: Timeline,
    /// What it does to the controls.
    pub pull: Pull,
    /// Where the tubes go and how long they are cut so that the controls start at their set-to values;
    /// none if there is nothing to set any more (a re-plan), or no pull model.
    pub build_to: Option<BuildTo>,
    /// The controls after each pass if every joint were welded all round, one after the other:
    /// `[pass][control]`, for comparison. Empty if the frame has no controls.
    pub joint_by_joint: Vec<Vec<f64>>,
    /// The hottest joints over time: joint, then (s since the first arc, °C).
    pub joint_heat: Vec<(usize, Vec<(f64, f64)>)>,
    /// The numbered lines of the sheet, in order of work.
    pub lines: Vec<Line>,
    /// One plain reason per pass, by pass index.
    pub reasons: Vec<String>,
    /// What the user must know, most important first.
    pub remarks: Vec<Remark>,
    /// SHA-256 of the frame file, hex.
    pub frame_sha256: String,
    /// Short fingerprint of frame, options and order: eight characters, easy to read aloud.
    pub plan_id: String,
    /// Seed of the search.
    pub seed: u64,
    /// Effort of the search.
    pub effort: Effort,
    /// Revision: 0 for a first plan, counted up by each re-plan of a job.
    pub revision: u32,
}

/// How an order was judged, and what the search tried.
#[derive(Debug, Clone, Default)]
pub struct Objective {
    /// The objective in full: fine pull, timeline.
    pub full: f64,
    /// Weights of the squared deviation, of the squared scatter, and of a minute.
    pub weights: [f64; 3],
    /// The objective term by term as the search saw it, if there was one: the deviation is that of the
    /// fine model, scatter and time are coarse.
    pub coarse: Option<crate::sequence::objective::Terms>,
    /// Changes judged by the coarse model.
    pub tried: u64,
    /// Orders judged in full.
    pub judged_in_full: usize,
    /// Chains of changes.
    pub restarts: usize,
    /// Passes turned round because the fine judgement gained.
    pub flips: usize,
    /// Full objective of the scheduler's own order, before any search.
    pub start: Option<f64>,
}

/// A remark with its code (`W…`), for sheet and JSON alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark {
    /// Code.
    pub code: String,
    /// Words.
    pub text: String,
    /// True if it must be read before anything else on the sheet.
    pub first: bool,
}

/// One numbered line of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Number on the sheet, from 1.
    pub number: usize,
    /// What is to be done.
    pub act: Act,
}

/// What a line of the sheet asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// A stage of the build begins: put its tubes in.
    Stage {
        /// Stage index.
        stage: usize,
    },
    /// Lay a tack.
    Tack {
        /// Seam index.
        seam: usize,
        /// Number of the tack on that seam, from 1.
        tack: usize,
        /// Clock place, for instance `10:30`.
        clock: String,
        /// Length, mm.
        length_mm: f64,
    },
    /// Lay a pass.
    Pass {
        /// Pass index.
        pass: usize,
        /// Step index in the order; passes of one step are laid at the same time.
        step: usize,
        /// Welder, from 0.
        welder: usize,
        /// Along growing arc length (clockwise on a closed seam).
        forward: bool,
        /// Setup index.
        setup: usize,
    },
    /// Wait until a joint has cooled.
    Wait {
        /// Minutes.
        minutes: f64,
        /// Joint index.
        joint: usize,
        /// Limit, °C.
        under_c: f64,
    },
    /// Stop and measure.
    Hold {
        /// Controls to read (indices).
        controls: Vec<usize>,
        /// Prediction at this moment and band (± two scatter), by control, in its unit.
        expect: Vec<(f64, f64)>,
        /// Clamped or free.
        clamped: bool,
        /// Why here.
        why: String,
    },
    /// Put a clamp on.
    Clamp {
        /// Clamp index.
        clamp: usize,
    },
    /// Take a clamp off; stand clear.
    Release {
        /// Clamp index.
        clamp: usize,
        /// Force that springs, N.
        force_n: f64,
    },
    /// Turn the frame to another setup.
    Turn {
        /// Setup index.
        setup: usize,
    },
    /// Open (drill) a vent in a tube that welding would seal.
    VentOpen {
        /// Tube index.
        tube: usize,
    },
    /// Close a vent when all is cold (or leave it open for galvanizing).
    VentClose {
        /// Tube index.
        tube: usize,
    },
}

/// How long the search looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effort {
    /// Rules only.
    Rules,
    /// A second or so.
    Quick,
    /// Some seconds.
    Normal,
    /// As long as it pays.
    Deep,
}

impl Effort {
    /// Word for sheet and file.
    pub fn word(self) -> &'static str {
        match self {
            Effort::Rules => "rules",
            Effort::Quick => "quick",
            Effort::Normal => "normal",
            Effort::Deep => "deep",
        }
    }
}
