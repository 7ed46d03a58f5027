//! What the user can type after `job`.

use crate::cli::args::{EffortArg, PaperArg, PlanCommon, SheetArgs};
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The commands of a job.
#[derive(Debug, Subcommand)]
pub enum JobCommand {
    /// Plan a frame and begin its record.
    #[command(after_help = "Example:\n  holdtrue job start frame.toml --out frame.job --pdf wall.pdf")]
    Start(StartArgs),
    /// Say what to do now, and how long to wait.
    #[command(after_help = "Examples:\n  holdtrue job next frame.job\n  \
                            holdtrue job next frame.job --units inch")]
    Next(RecordArg),
    /// Lines are done: numbers, ranges, labels, seams or joints.
    #[command(after_help = "Examples:\n  holdtrue job tick frame.job 3,5-7\n  \
                            holdtrue job tick frame.job J7a-2/1 --time unknown --amps 120 --back")]
    Tick(TickArgs),
    /// A tick was a mistake: the line was not done.
    #[command(after_help = "Example:\n  holdtrue job untick frame.job 7 --why \"arc went out\"")]
    Untick(WhatArgs),
    /// A line will not be done now; it stays open.
    #[command(
        after_help = "Example:\n  holdtrue job skip frame.job 12 --why \"cannot reach it in this setup\""
    )]
    Skip(WhatArgs),
    /// A pass or tack was laid once more over itself: it pulls again.
    #[command(after_help = "Example:\n  holdtrue job redo frame.job J7a-2/1 --why \"porosity\"")]
    Redo(TickArgs),
    /// Weld metal was taken out: a seam, a tack or all seams of a joint.
    #[command(after_help = "Examples:\n  holdtrue job cut frame.job J7a --why \"crack\"\n  \
                            holdtrue job cut frame.job J7a-t2")]
    Cut(CutArgs),
    /// A control was read; says at once what the reading means.
    #[command(
        after_help = "A value with a sign (+1.5 or -2) is the deviation from nominal.\n\nExamples:\n  \
                            holdtrue job measure frame.job width 603.5 --tool tape\n  \
                            holdtrue job measure frame.job width \"23 3/4\" --units inch"
    )]
    Measure(MeasureArgs),
    /// The temperature of a joint was read, °C.
    #[command(after_help = "Example:\n  holdtrue job temperature frame.job J7 140")]
    Temperature(ValueArgs),
    /// The gap at a joint was read.
    #[command(after_help = "Examples:\n  holdtrue job gap frame.job J7 1.5\n  \
                            holdtrue job gap frame.job J7 1/16 --units inch")]
    Gap(GapArgs),
    /// Write down a remark.
    #[command(after_help = "Example:\n  holdtrue job note frame.job new bottle of gas")]
    Note(NoteArgs),
    /// Take back the last thing that was entered.
    #[command(after_help = "Example:\n  holdtrue job undo frame.job")]
    Undo(RecordArg),
    /// How the job stands: lines, readings, outlook.
    #[command(after_help = "Example:\n  holdtrue job status frame.job")]
    Status(RecordArg),
    /// The gate between tacking and welding out: what is not read yet; `--because` opens it.
    #[command(after_help = "Examples:\n  holdtrue job gate frame.job\n  \
                            holdtrue job gate frame.job --because \"the level is at the other shop\"")]
    Gate(GateArgs),
    /// A clamp that is on was moved, and the frame with it.
    #[command(after_help = "Examples:\n  holdtrue job move frame.job \"rear stop\" Z +1.5\n  \
                            holdtrue job move frame.job \"rear stop\" Z +1/16 --units inch")]
    Move(MoveArgs),
    /// What order can no longer cure: places where a qualified person could straighten the frame.
    #[command(after_help = "Example:\n  holdtrue job straighten frame.job")]
    Straighten(StraightenArgs),
    /// The weld record: what was done, for the file and for inspection.
    #[command(after_help = "Example:\n  holdtrue job report frame.job --pdf record.pdf")]
    Report(ReportArgs),
    /// Plan what is left anew, from what is welded, measured and still warm.
    #[command(
        after_help = "Examples:\n  holdtrue job replan frame.job --because \"width reads 2 mm narrow\" --pdf wall-2.pdf\n  \
                            holdtrue job replan frame.job --heat-input 0.18-0.25 --leave-clamps"
    )]
    Replan(ReplanArgs),
    /// The job is done; says what it taught.
    #[command(after_help = "Examples:\n  holdtrue job finish frame.job\n  \
                            holdtrue job finish frame.job --keep")]
    Finish(FinishArgs),
    /// Go through the job line by line: Enter ticks, letters do the rest.
    #[command(after_help = "Example:\n  holdtrue job run frame.job --by Ana")]
    Run(RecordArg),
    /// Save every readable line of a damaged record into a new file.
    #[command(after_help = "Example:\n  holdtrue job recover frame.job frame-saved.job")]
    Recover(RecoverArgs),
    /// The shop's own factors.
    #[command(after_help = "Examples:\n  holdtrue job shop show\n  \
                            holdtrue job shop reset --shop other.toml")]
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
    /// Travel speed if it differed from the sheet: mm/s, or in/min where the sheet is in inches.
    #[arg(long)]
    pub speed: Option<f64>,
    /// Arc time of each, s, if it was taken.
    #[arg(long)]
    pub arc_time: Option<f64>,
    /// Open the gate before weld-out although readings are missing; why, for the record.
    #[arg(long, value_name = "WHY")]
    pub without_readings: Option<String>,
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
    /// Standard deviation of the reading: degrees, mm or inches (otherwise the tool's).
    #[arg(long)]
    pub error: Option<String>,
    /// Read with the clamps closed (as a rule, if any is ticked as on).
    #[arg(long)]
    pub clamped: bool,
    /// Read with all clamps open, whatever is ticked.
    #[arg(long, conflicts_with = "clamped")]
    pub free: bool,
    /// The reading was taken twice, each anew, and came out the same.
    #[arg(long)]
    pub confirm: bool,
}

/// `temperature`.
#[derive(Debug, Args)]
pub struct ValueArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Joint.
    pub joint: String,
    /// Temperature, °C.
    #[arg(allow_hyphen_values = true)]
    pub value: f64,
}

/// `gap`.
#[derive(Debug, Args)]
pub struct GapArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Joint.
    pub joint: String,
    /// Gap: mm, or inches as on a tape.
    pub value: String,
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
    /// The order of the old sheet stays.
    #[arg(long)]
    pub keep_order: bool,
    /// The directions of the old sheet stay.
    #[arg(long)]
    pub keep_directions: bool,
    /// Do not look for clamps to move.
    #[arg(long)]
    pub leave_clamps: bool,
    /// The heat input of what is left may change within this range of the qualified procedure, net
    /// kJ/mm, for instance 0.18-0.25 (kJ/in where the sheet is in inches).
    #[arg(long, value_name = "MIN-MAX")]
    pub heat_input: Option<String>,
    /// Sheets.
    #[command(flatten)]
    pub sheets: SheetArgs,
}

/// `gate`.
#[derive(Debug, Args)]
pub struct GateArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Open it although readings are missing; why, for the record.
    #[arg(long = "because", value_name = "WHY")]
    pub because: Option<String>,
}

/// `move`.
#[derive(Debug, Args)]
pub struct MoveArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Clamp.
    pub clamp: String,
    /// Along which of the directions in which it holds, as the re-plan names it (X, Y, Z …).
    #[arg(allow_hyphen_values = true)]
    pub along: String,
    /// How far, with its sign: mm, or inches as on a tape.
    #[arg(allow_hyphen_values = true, value_name = "BY")]
    pub way: String,
}

/// `straighten`.
#[derive(Debug, Args)]
pub struct StraightenArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Tubes of 25CrMo4 / 4130 and of aluminium too.
    #[arg(long)]
    pub any_material: bool,
}

/// `report`.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// Record.
    #[command(flatten)]
    pub record: RecordArg,
    /// Write it as PDF.
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// Paper of the PDF.
    #[arg(long, value_enum, default_value = "a4")]
    pub paper: PaperArg,
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
