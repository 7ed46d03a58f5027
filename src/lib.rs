//! holdtrue plans the order in which a one-off tubular frame is tacked and welded out, so that it
//! comes out of the fixture true.
//!
//! The way of the data is one-way; every arrow is a plain value that can be printed and tested
//! alone:
//!
//! ```text
//! frame.toml ─read─▶ Frame ─▶ Joints ─▶ Seams ─▶ Passes ─┬▶ heat: how hot, how long to wait
//!                                                        └▶ distort: how far each control moves
//!                                    sequence: rules, search, audit ◀┘        │
//!                                            │                                ▼
//!                                            └────────▶ WeldPlan ─▶ Sheet ─▶ text, PDF, SVG, JSON
//! ```
//!
//! The order of the `pub mod` lines is the order of dependence: a room may use only rooms listed
//! above it. Nothing above the line marked *shell* touches a file, a clock, a screen or a socket.

pub mod units;
pub mod fault;
pub mod numbers;
pub mod library;
pub mod frame;
pub mod joint;
pub mod seam;
pub mod procedure;
pub mod tack;
pub mod heat;
pub mod distort;
pub mod sequence;
pub mod plan;
pub mod import;
pub mod start;
pub mod job;
pub mod output;

// shell: nothing above this line touches a file, a clock, a screen or a socket
pub mod journal;
#[cfg(feature = "web")]
pub mod web;
pub mod cli;
