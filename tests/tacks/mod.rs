//! The tack half: places and order, what holds, what it pulls, gaps, hold points, the command.

mod command;
mod gaps;
mod hold_points;
mod holding;
mod order;
mod stages;

pub use crate::support::plans::{example, parts, planned, read};
