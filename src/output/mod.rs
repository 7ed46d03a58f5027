//! The same sheet in several forms: text, PDF, SVG, PNG, JSON.
//!
//! Comes in: a [`crate::plan::WeldPlan`]. Goes out: strings and bytes.
//! Out of bounds: content that is not in the sheet; files, clock.
pub mod json;
