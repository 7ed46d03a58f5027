//! What can happen to a job, in the form in which it is kept for years.
//!
//! The record is read by people and by later versions of the program. So: a field is only ever
//! added as optional; a new kind of event or a change of meaning raises [`FORMAT`]; unknown kinds
//! and unknown fields are refused, because passing over them could lose a weld.

use super::card::{Card, ControlCard, JointCard};
use serde::{Deserialize, Serialize};

/// Version of the record's format that this program writes.
pub const FORMAT: u32 = 1;

/// A moment, UTC. It always comes from outside: the core never looks at a clock.
pub type When = jiff::Timestamp;

/// One thing that happened, with its number and the moment at which it was written down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// Number in the record, from 1 without gaps.
    pub n: u64,
    /// When it was written down (the clock of the machine, right or wrong).
    pub at: When,
    /// Who or what wrote it: a name, `page`, `terminal` …
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// A name that whoever sent it gave this one entry, so that sending it twice enters it once;
    /// empty if it cannot come twice.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub id: String,
    /// What happened.
    pub event: Event,
}

/// What can happen to a job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Event {
    /// Work began.
    Started {},
    /// A line of the sheet was done: a tack or pass laid, a clamp set, the frame turned …
    Ticked {
        /// Its label.
        label: String,
        /// When it was done; `None`: time unknown.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        when: Option<When>,
        /// Settings, if they differed from the sheet.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        settings: Option<UsedSettings>,
        /// Laid in the direction opposite to the sheet.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        reversed: bool,
    },
    /// A tick was a mistake: the line was not done.
    Unticked {
        /// Its label.
        label: String,
        /// Why.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
    },
    /// A line will not be done now (it stays open at the end of the list).
    Skipped {
        /// Its label.
        label: String,
        /// Why.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
    },
    /// A pass or tack was laid once more over itself; it pulls again.
    Redone {
        /// Its label.
        label: String,
        /// When; `None`: time unknown.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        when: Option<When>,
        /// Settings, if they differed from the sheet.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        settings: Option<UsedSettings>,
        /// Laid in the direction opposite to the sheet.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        reversed: bool,
        /// Why.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
    },
    /// Weld metal was taken out: what it held is loose again and must be laid anew.
    Cut {
        /// What was taken out.
        place: Cut,
        /// Why.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
    },
    /// A control was read.
    Measured {
        /// Name of the control.
        control: String,
        /// What was read, in the control's unit (not the deviation from nominal).
        value: f64,
        /// Standard deviation of the reading, same unit.
        error: f64,
        /// Read with the clamps closed.
        clamped: bool,
        /// With what it was read.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        tool: String,
    },
    /// A clamp that is on was moved, and the frame with it.
    Moved {
        /// Name of the clamp.
        clamp: String,
        /// Along which of the directions in which it holds, as the frame file writes it.
        along: String,
        /// How far, mm.
        by_mm: f64,
    },
    /// A joint's temperature was read.
    Temperature {
        /// Name of the joint.
        joint: String,
        /// °C.
        value_c: f64,
    },
    /// The gap at a joint was read before welding it.
    Gap {
        /// Name of the joint.
        joint: String,
        /// mm.
        value_mm: f64,
    },
    /// A remark.
    Note {
        /// Words.
        text: String,
    },
    /// Weld-out was started although the readings of the as-tacked gate are not all in.
    GateOpened {
        /// Why.
        why: String,
    },
    /// What is left was planned anew; sheets of earlier revisions are void.
    Replanned {
        /// The new lines.
        card: Card,
        /// The new plan, as JSON text, so that it stays readable.
        plan: String,
        /// Why.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
    },
    /// An earlier record is withdrawn, as if it had not been written.
    Withdrawn {
        /// Its number.
        n: u64,
    },
    /// The job is done (or given up).
    Finished {
        /// Words.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        why: String,
    },
}

impl Event {
    /// A tick of this line at this time and nothing special about it.
    pub fn tick(label: impl Into<String>, when: Option<When>) -> Event {
        Event::Ticked { label: label.into(), when, settings: None, reversed: false }
    }

    /// All numbers finite. A number that is not would be written as nothing and be lost.
    pub fn is_finite(&self) -> bool {
        let used = |s: &Option<UsedSettings>| s.as_ref().is_none_or(UsedSettings::is_finite);
        match self {
            Event::Ticked { settings, .. } | Event::Redone { settings, .. } => used(settings),
            Event::Measured { value, error, .. } => value.is_finite() && error.is_finite(),
            Event::Temperature { value_c, .. } => value_c.is_finite(),
            Event::Gap { value_mm, .. } => value_mm.is_finite(),
            Event::Moved { by_mm, .. } => by_mm.is_finite(),
            Event::Replanned { card, .. } => card.is_finite(),
            _ => true,
        }
    }
}

/// What was taken out.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Cut {
    /// A whole seam was cut open, tacks and all: its name.
    Seam(String),
    /// A tack was ground out: its label.
    Tack(String),
}

/// Settings as really used, where they differed from the sheet. What is `None` was as on the sheet.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsedSettings {
    /// Arc volts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volts: Option<f64>,
    /// Welding current, A.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amps: Option<f64>,
    /// Travel speed, mm/s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speed_mm_s: Option<f64>,
    /// Arc time, s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub arc_s: Option<f64>,
}

impl UsedSettings {
    fn is_finite(&self) -> bool {
        [self.volts, self.amps, self.speed_mm_s, self.arc_s]
            .iter()
            .flatten()
            .all(|v| v.is_finite() && *v > 0.0)
    }
}

/// The first line of the record: what the job began from. The frame file's text and the plan are
/// inside, so that a later change of the frame file does not change a running job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Header {
    /// Version of the record's format.
    pub format: u32,
    /// Program and version that began the job.
    pub program: String,
    /// Name of the frame.
    pub name: String,
    /// When the job began.
    pub began: When,
    /// Name of the frame file as the user gave it; for people.
    pub frame_file: String,
    /// SHA-256 of the frame file, hex.
    pub frame_sha256: String,
    /// Its whole text.
    pub frame: String,
    /// The plan as JSON text.
    pub plan: String,
    /// Seed of the search.
    pub seed: u64,
    /// Effort of the search.
    pub effort: String,
    /// The shop's factors that the plan used, as text of the shop file; empty if none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub shop: String,
    /// Welders at work, where it was said when the job began (the frame file may say another number).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub welders: Option<usize>,
    /// The lines of the first sheet.
    pub card: Card,
    /// The dimensions that must come out true.
    pub controls: Vec<ControlCard>,
    /// The joints.
    pub joints: Vec<JointCard>,
}
