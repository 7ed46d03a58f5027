//! The same sheet in several forms: text, PDF, SVG, PNG; and the pictures that go on it.
//!
//! Comes in: plain rows, tables and facts (a [`sheet::Sheet`]), or a frame with its joints and seams
//! (the pictures). Goes out: strings and bytes.
//! Out of bounds: content that is not in the sheet; files, clock.

pub mod build_to;
pub mod close_up;
pub mod drawing;
pub mod facts;
pub mod fill;
pub mod font;
pub mod frame_drawing;
pub mod json;
pub mod pages;
pub mod pdf;
pub mod pictures;
mod places;
pub mod plots;
pub mod png;
pub mod pull_picture;
pub mod report;
pub mod safety;
pub mod sheet;
pub mod svg;
pub mod tack_json;
pub mod tack_sheet;
pub mod tags;
pub mod text;
pub mod understood;
pub mod units;
pub mod view;
pub mod why;
pub mod wire;
