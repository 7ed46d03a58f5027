//! What the user can type.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Plans the order in which a one-off tubular frame is tacked and welded out, so that it comes out
/// true.
#[derive(Debug, Parser)]
#[command(
    name = "holdtrue",
    version,
    about,
    after_help = "Computed numbers are not a qualified procedure. A frame that people ride, lift with or work \
                  under needs a qualified welder, a qualified procedure, inspection and an engineer's approval \
                  under local codes.\n\nExit codes: 0 done, 2 wrong words, 65 faulty input, 66 no such input, \
                  70 fault of the program, 73 cannot create the output, 74 reading or writing failed, 75 busy."
)]
pub struct Cli {
    /// Options of every command.
    #[command(flatten)]
    pub common: Common,
    /// The command.
    #[command(subcommand)]
    pub command: Command,
}

/// Options of every command.
#[derive(Debug, Args)]
pub struct Common {
    /// Say only what was asked for, no warnings and no progress.
    #[arg(long, short, global = true)]
    pub quiet: bool,
    /// Overwrite output files that are already there.
    #[arg(long, global = true)]
    pub force: bool,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Plan the order and print the checklist.
    #[command(
        after_help = "Examples:\n  holdtrue plan frame.toml\n  holdtrue plan frame.toml --pdf wall.pdf\n  \
                            holdtrue plan frame.toml --effort deep --seed 7 --json -"
    )]
    Plan(PlanArgs),
    /// Plan from loose tubes to the tacked frame and print that half alone.
    #[command(
        after_help = "The set-to values take up tacks and welds together: the search for the weld-out is made here too, \
                      and the plan's name is the one `plan` gives.\n\nExamples:\n  holdtrue tack frame.toml\n  \
                      holdtrue tack frame.toml --pdf tacks.pdf"
    )]
    Tack(PlanArgs),
    /// Read a frame file and say what was understood: joints, seams, passes, defaults, warnings.
    Check(FrameArg),
    /// Judge common orders and the planned one side by side.
    Compare(PlanCommon),
    /// Draw the frame: SVG or PNG.
    Draw(DrawArgs),
    /// Make a frame file from a drawing of centre lines: DXF, OBJ or CSV.
    #[command(after_help = "Rows of a CSV file: `point,NAME,X,Y,Z` and `bar,NAME,FROM,TO`.\n\nExample:\n  \
                            holdtrue import gate.dxf --out gate.toml")]
    Import(ImportArgs),
    /// Weld a frame: tick, measure, re-plan, learn.
    #[command(subcommand)]
    Job(super::job::args::JobCommand),
    /// List the built-in materials with their sources.
    Materials,
    /// List the built-in welding processes with their sources.
    Processes,
    /// List the codes of all errors and warnings with what to do about them.
    Codes,
    /// Explain the frame file: every key with its default.
    Format,
    /// Print a JSON Schema.
    Schema(SchemaArgs),
    /// Print a completion script for a shell.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Print the manual page.
    Man,
}

/// A frame file.
#[derive(Debug, Args)]
pub struct FrameArg {
    /// Frame file (TOML); `-` reads standard input.
    pub frame: PathBuf,
}

/// How to plan.
#[derive(Debug, Args)]
pub struct PlanCommon {
    /// Frame file (TOML); `-` reads standard input.
    pub frame: PathBuf,
    /// How long to search for a better order.
    #[arg(long, value_enum, default_value = "normal")]
    pub effort: EffortArg,
    /// Seed of the search; the same seed gives the same plan.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Begin with loose tubes in the fixture, or with a frame that is tacked already.
    #[arg(long, value_enum, default_value = "tacks")]
    pub from: FromArg,
    /// Welders at work at the same time (instead of the frame file's).
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=4))]
    pub welders: Option<u8>,
    /// The shop's own shrinkage factors (otherwise those in the user's configuration folder, if any).
    #[arg(long, value_name = "FILE")]
    pub shop: Option<PathBuf>,
    /// Plan without the shop's own factors.
    #[arg(long, conflicts_with = "shop")]
    pub no_shop: bool,
}

/// `plan`.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// How to plan.
    #[command(flatten)]
    pub common: PlanCommon,
    /// Write the sheet for the wall as PDF.
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// Paper of the PDF.
    #[arg(long, value_enum, default_value = "a4")]
    pub paper: PaperArg,
    /// Colour in the PDF, beside what tells things apart in black and white.
    #[arg(long)]
    pub colour: bool,
    /// Write the plan as JSON; `-` prints it instead of the checklist.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Print why: the terms of the objective, each rule's shortfall, a reason for every pass.
    #[arg(long)]
    pub why: bool,
}

/// `draw`.
#[derive(Debug, Args)]
pub struct DrawArgs {
    /// How to plan (the order is needed for the pull picture only).
    #[command(flatten)]
    pub common: PlanCommon,
    /// What to draw.
    #[arg(long, value_enum, default_value = "three-quarter")]
    pub view: ViewArg,
    /// Draw in colour, beside what tells things apart in black and white.
    #[arg(long)]
    pub colour: bool,
    /// A joint, for a close-up (J3).
    #[arg(long)]
    pub joint: Option<String>,
    /// File to write; its ending (.svg or .png) says the format.
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
}

/// `import`.
#[derive(Debug, Args)]
pub struct ImportArgs {
    /// The drawing; `-` reads standard input.
    pub drawing: PathBuf,
    /// Frame file to write; without it the text is printed.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Unit of the drawing (otherwise what the file says, or a guess by size that is reported).
    #[arg(long, value_enum)]
    pub unit: Option<UnitArg>,
    /// Ends closer than this are one point, mm.
    #[arg(long, default_value_t = 1.0)]
    pub snap: f64,
    /// Name of the frame (otherwise the name of the drawing).
    #[arg(long)]
    pub name: Option<String>,
}

/// Units of a drawing.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum UnitArg {
    /// Millimetres.
    Mm,
    /// Inches.
    Inch,
    /// Metres.
    M,
}

/// `schema`.
#[derive(Debug, Args)]
pub struct SchemaArgs {
    /// Of which file.
    #[arg(value_enum)]
    pub of: SchemaOf,
}

/// Which schema.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SchemaOf {
    /// The plan written by `plan --json`.
    Plan,
    /// The tack half written by `tack --json`.
    Tack,
}

/// Effort.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum EffortArg {
    /// The house rules alone, no search.
    Rules,
    /// A second or so.
    Quick,
    /// Some seconds.
    Normal,
    /// As long as it pays.
    Deep,
}

impl From<EffortArg> for crate::plan::Effort {
    fn from(e: EffortArg) -> Self {
        match e {
            EffortArg::Rules => crate::plan::Effort::Rules,
            EffortArg::Quick => crate::plan::Effort::Quick,
            EffortArg::Normal => crate::plan::Effort::Normal,
            EffortArg::Deep => crate::plan::Effort::Deep,
        }
    }
}

/// Where a plan begins.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum FromArg {
    /// Loose tubes in the fixture: tacks first.
    Tacks,
    /// A tacked frame: the weld-out only.
    WeldOut,
}

impl From<FromArg> for crate::plan::From {
    fn from(f: FromArg) -> Self {
        match f {
            FromArg::Tacks => crate::plan::From::Tacks,
            FromArg::WeldOut => crate::plan::From::WeldOut,
        }
    }
}

/// Paper.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum PaperArg {
    /// 210 × 297 mm.
    A4,
    /// 8½ × 11 in.
    Letter,
}

/// Views of `draw`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ViewArg {
    /// From the front, left and above.
    ThreeQuarter,
    /// From the left.
    Side,
    /// From above.
    Top,
    /// From the front.
    Front,
    /// Nominal and deformed frame.
    Pull,
    /// How each control moves, pass by pass.
    Path,
    /// Joint temperatures over time.
    Heat,
    /// Heat of the left and the right side.
    Balance,
}
