//! What the user can type after `job`.

use crate::cli::args::{EffortArg, PaperArg, PlanCommon};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The commands of a job.
#[derive(Debug, Subcommand)]
pub enum JobCommand {
    /// Plan a frame and begin its record.
    #[command(after_help = "Example:\n  holdtrue job start frame.toml --out frame.job --pdf wall.pdf")]
    Start(StartArgs),
    /// Say what to do now, and how long to wait.
    Next(RecordArg),
    /// Lines are done: numbers, ranges, labels, seams or joints.
    #[command(after_help = "Examples:\n  holdtrue job tick frame.job 3,5-7\n  \
                            holdtrue job tick frame.job J7a-2/1 --time unknown --amps 120 --back")]
    Tick(TickArgs),
    /// A tick was a mistake: the line was not done.
    Untick(WhatArgs),
    /// A line will not be done now; it stays open.
    Skip(WhatArgs),
    /// A pass or tack was laid once more over itself: it pulls again.
    Redo(TickArgs),
    /// Weld metal was taken out: a seam, a tack or all seams of a joint.
    Cut(CutArgs),
    /// A control was read; says at once what the reading means.
    #[command(after_help = "A value with a sign (+1.5 or -2) is the deviation from nominal.\n\nExample:\n  \
                            holdtrue job measure frame.job width 603.5 --tool tape")]
    Measure(MeasureArgs),
    /// The temperature of a joint was read, °C.
    Temperature(ValueArgs),
    /// The gap at a joint was read, mm.
    Gap(ValueArgs),
    /// Write down a remark.
    Note(NoteArgs),
    /// Take back the last thing that was entered.
    Undo(RecordArg),
    /// How the job stands: lines, readings, outlook.
    Status(RecordArg),
    /// Plan what is left anew, from what is welded, measured and still warm.
    Replan(ReplanArgs),
    /// The job is done; says what it taught.
    Finish(FinishArgs),
    /// Go through the job line by line: Enter ticks, letters do the rest.
    Run(RecordArg),
    /// Save every readable line of a damaged record into a new file.
    Recover(RecoverArgs),
    /// The shop's own factors.
    Shop(ShopArgs),
}

/// A record.
#[derive(Debug, Args)]
pub struct RecordArg {
    /// Record of the job.
    pub record: PathBuf,
    /// Who enters it.
    #[arg(long, default_value = "terminal", value_name = "NAME")]
    pub by: String,
}

/// `start`.
#[derive(Debug, Args)]
pub struct StartArgs {
    /// How to plan.
    #[command(flatten)]
    pub common: PlanCommon,
    /// Record to begin (otherwise the name of the frame file with `.job`, in this folder).
    #[arg(long, value_name = "RECORD")]
    pub out: Option<PathBuf>,
    /// Sheets.
    #[command(flatten)]
    pub sheets: SheetArgs,
}

/// Where the sheets go.
#[derive(Debug, Args)]
pub struct SheetArgs {
    /// Write the sheet for the wall as PDF.
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// Paper of the PDF.
    #[arg(long, value_enum, default_value = "a4")]
    pub paper: PaperArg,
    /// Colour in the PDF, beside what tells things apart in black and white.
    #[arg(long)]
    pub colour: bool,
    /// Write the plan as JSON; `-` prints it.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Print why: the terms of the objective, each rule's shortfall, a reason for every pass.
    #[arg(long)]
    pub why: bool,
}

/// `tick` and `redo`.
#[derive(Debug, Args)]
pub struct TickArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Lines: 3,5-7 or J7a-2/1; a seam or joint stands for its open passes.
    #[arg(required = true)]
    pub what: Vec<String>,
    /// When the last of them was done: `unknown`, 14:05 (today) or like 2026-11-25T14:05:00+01:00;
    /// without it, now.
    #[arg(long)]
    pub time: Option<String>,
    /// Laid against the direction of the sheet.
    #[arg(long)]
    pub back: bool,
    /// Amps, if they differed from the sheet.
    #[arg(long)]
    pub amps: Option<f64>,
    /// Volts, if they differed from the sheet.
    #[arg(long)]
    pub volts: Option<f64>,
    /// Travel speed, mm/s, if it differed from the sheet.
    #[arg(long)]
    pub speed: Option<f64>,
    /// Arc time of each, s, if it was taken.
    #[arg(long)]
    pub arc_time: Option<f64>,
    /// Why (for `redo`).
    #[arg(long, default_value = "")]
    pub why: String,
}

/// `untick` and `skip`.
#[derive(Debug, Args)]
pub struct WhatArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Lines: 3,5-7 or J7a-2/1.
    #[arg(required = true)]
    pub what: Vec<String>,
    /// Why.
    #[arg(long, default_value = "")]
    pub why: String,
}

/// `cut`.
#[derive(Debug, Args)]
pub struct CutArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// A seam (J7a), a tack (J7a-t2) or a joint (J7).
    pub place: String,
    /// Why.
    #[arg(long, default_value = "")]
    pub why: String,
}

/// `measure`.
#[derive(Debug, Args)]
pub struct MeasureArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Control.
    pub control: String,
    /// What was read, or with a sign the deviation from nominal.
    #[arg(allow_hyphen_values = true)]
    pub value: String,
    /// Tool: tape, square, digital-level, clock-gauge, string, straightedge, caliper.
    #[arg(long)]
    pub tool: Option<String>,
    /// Standard deviation of the reading (otherwise the tool's).
    #[arg(long)]
    pub error: Option<f64>,
    /// Read with the clamps closed.
    #[arg(long)]
    pub clamped: bool,
    /// The reading was taken twice, each anew, and came out the same.
    #[arg(long)]
    pub confirm: bool,
}

/// `temperature` and `gap`.
#[derive(Debug, Args)]
pub struct ValueArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Joint.
    pub joint: String,
    /// Value.
    #[arg(allow_hyphen_values = true)]
    pub value: f64,
}

/// `note`.
#[derive(Debug, Args)]
pub struct NoteArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Words.
    #[arg(required = true)]
    pub words: Vec<String>,
}

/// `replan`.
#[derive(Debug, Args)]
pub struct ReplanArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// How long to search for a better order.
    #[arg(long, value_enum, default_value = "normal")]
    pub effort: EffortArg,
    /// Seed of the search (otherwise that of the job).
    #[arg(long)]
    pub seed: Option<u64>,
    /// Why, for the record.
    #[arg(long = "because", default_value = "")]
    pub because: String,
    /// Sheets.
    #[command(flatten)]
    pub sheets: SheetArgs,
}

/// `finish`.
#[derive(Debug, Args)]
pub struct FinishArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Words, for the record.
    #[arg(long, default_value = "")]
    pub why: String,
    /// Keep what was learnt in the shop's own file.
    #[arg(long)]
    pub keep: bool,
    /// The shop's own file (otherwise the one in the user's configuration folder).
    #[arg(long, value_name = "FILE")]
    pub shop: Option<PathBuf>,
}

/// `recover`.
#[derive(Debug, Args)]
pub struct RecoverArgs {
    /// Damaged record; it stays as it is.
    pub from: PathBuf,
    /// New record.
    pub to: PathBuf,
}

/// `shop`.
#[derive(Debug, Args)]
pub struct ShopArgs {
    /// What to do.
    #[command(subcommand)]
    pub act: Option<ShopAct>,
    /// The shop's own file (otherwise the one in the user's configuration folder).
    #[arg(long, value_name = "FILE", global = true)]
    pub shop: Option<PathBuf>,
}

/// What to do with the shop's file.
#[derive(Debug, Clone, Copy, Subcommand)]
pub enum ShopAct {
    /// Show the factors and where they come from.
    Show,
    /// Begin anew; the old file is kept beside it.
    Reset,
}
