//! A plan being carried out: what was ticked, measured and re-planned, and what follows from it.
//!
//! Comes in: a [`Header`] (the plan as it stood when the job began) and the records since.
//! Goes out: a [`Job`], the next line to do, what a reading means, the shrinkage factors learnt.
//! Out of bounds: the clock (time arrives in the event), files, printing.

mod advice;
mod again;
mod card;
mod check;
mod combine;
mod deviations;
mod event;
mod figures;
mod floor;
mod gate;
pub mod learn;
mod look;
mod next;
mod pick;
mod reading;
mod replay;
pub mod shop;
pub mod straighten;
mod state;
mod warm;

pub use advice::{again_advised, read_again};
pub use again::{Anew, Asked, NoNewPlan};
pub use card::{Card, ControlCard, Item, JointCard, Task};
pub use check::{Refused, undo};
pub use deviations::deviations;
pub use event::{Cut, Event, FORMAT, Header, Record, UsedSettings, When};
pub use figures::Figures;
pub use floor::{Floor, Said};
pub use gate::GateState;
pub use look::Progress;
pub use next::{Next, Ready, next, next_of};
pub use pick::{Picked, parse_ticks};
pub use reading::{Expected, Judged, Tool, Verdict, judge, parse_reading, parse_reading_in};
pub use replay::{Bench, Outlook, as_welded, replan_settings, steps_done};
pub use state::{Deed, DeedKind, Job, Mark, Reading, Standing};
pub use warm::{Pulse, pulses};
