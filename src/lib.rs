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
//! The main line, from the text of a frame file to the sheet:
//!
//! ```
//! use holdtrue::output::{fill, json, pages::Paper, pdf, text};
//! use holdtrue::plan::{self, From, Options, Watch};
//!
//! // Read: all faults of the text at once, each with its place.
//! let text = include_str!("../examples/h-frame.toml");
//! let frame = holdtrue::frame::read(text).expect("the example is sound").value;
//!
//! // Joints, seams and passes.
//! let parts = plan::parts(&frame).expect("its joints are sound");
//! assert_eq!((parts.joints.joints.len(), parts.passes.passes[0].label.as_str()), (2, "J1a-1/1"));
//!
//! // Plan, by the rules alone unless `effort` says to search; the same seed gives the same plan.
//! let options = Options { from: From::WeldOut, ..Options::default() };
//! let plan = plan::plan(&frame, parts, &options, &Watch::default()).expect("it can be planned");
//! assert!(plan::audit(&plan).is_empty());
//! assert!(plan.pull.controls[0].scatter > 0.0);
//!
//! // The sheet, which carries the cautions, on three media.
//! let sheet = fill::sheet(&plan, "");
//! let look = text::TextLook { width: 80, colour: false, reasons: false };
//! assert!(text::text(&sheet, look).contains("not a qualified welding procedure"));
//! assert!(json::json(&plan).contains("\"plan_id\""));
//! assert!(pdf::pdf(&sheet, Paper::A4, 0).starts_with(b"%PDF"));
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
