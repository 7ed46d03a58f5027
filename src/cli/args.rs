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
    /// Read and print lengths in this unit (otherwise that of the frame file); inches are fractions as on
    /// a tape.
    #[arg(long, global = true, value_enum, value_name = "UNIT")]
    pub units: Option<UnitsArg>,
}

/// Units of length for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitsArg {
    /// Millimetres.
    Mm,
    /// Inches.
    Inch,
}

impl From<UnitsArg> for crate::units::Units {
    fn from(u: UnitsArg) -> Self {
        match u {
            UnitsArg::Mm => crate::units::Units::Mm,
            UnitsArg::Inch => crate::units::Units::Inch,
        }
    }
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
    #[command(
        after_help = "Examples:\n  holdtrue check frame.toml\n  holdtrue check frame.toml --out frame.png\n  \
                            holdtrue check frame.toml --units inch"
    )]
    Check(CheckArgs),
    /// Judge common orders and the planned one side by side.
    #[command(after_help = "Example:\n  holdtrue compare frame.toml")]
    Compare(PlanCommon),
    /// Draw the frame: SVG or PNG.
    #[command(after_help = "Examples:\n  holdtrue draw frame.toml --out map.svg\n  \
                            holdtrue draw frame.toml --joint J3 --out J3.png\n  holdtrue draw frame.toml --view pull --out pull.svg")]
    Draw(DrawArgs),
    /// Write a starter frame of your own measures; asks for them when run at a terminal without a shape.
    #[command(
        after_help = "Shapes: ladder, base, a-frame, cart, trike, gate, cradle, test-tee.\nLengths are mm, or inches with \
                            --units inch; a length may carry its own unit (\"4 ft\", \"1.2 m\").\n\nExamples:\n  \
                            holdtrue new\n  holdtrue new \"yard gate\" --shape gate --length 1500 --height 1200 --rungs 5\n  \
                            holdtrue new rack --shape ladder --section \"round 38x2\" --material E235\n  \
                            holdtrue new bench --shape base --units inch --length 48 --section \"square 2 x 1/8\""
    )]
    New(NewArgs),
    /// Make a frame file from a drawing of centre lines: DXF, OBJ or CSV.
    #[command(
        after_help = "Rows of a CSV file: `point,NAME,X,Y,Z` and `bar,NAME,FROM,TO`.\n\nDimensions that must come \
                            out true are proposed from the shape; clamps and settings are lines to fill in. Every guess \
                            is said, and stands in the file.\n\nExamples:\n  \
                            holdtrue import gate.dxf --out gate.toml\n  \
                            holdtrue import gate.obj --drawn-in m --out gate.toml\n  \
                            holdtrue import gate.dxf --units inch --out gate.toml"
    )]
    Import(ImportArgs),
    /// Weld a frame: tick, measure, re-plan, learn.
    #[command(subcommand)]
    #[command(
        after_help = "A record is begun with `start`, worked down with `next` and `tick`, and closed with `finish`; it \
                            is written as a file of one line for each event.\n\nExamples:\n  \
                            holdtrue job start frame.toml --out frame.job --pdf wall.pdf\n  \
                            holdtrue job next frame.job\n  holdtrue job tick frame.job 1-12\n  \
                            holdtrue job measure frame.job width 603.5"
    )]
    Job(super::job::args::JobCommand),
    /// Serve a job as a page for phone, tablet and screen, on this machine or in the shop.
    #[cfg(feature = "web")]
    #[command(
        after_help = "Examples:\n  holdtrue serve frame.job\n  holdtrue serve frame.job --shop\n\nWith --shop every \
                            device on the shop's network that knows the pairing code can tick. Nothing on the way is \
                            encrypted."
    )]
    Serve(ServeArgs),
    /// List the materials, built in and the shop's own, each value with its source.
    #[command(
        after_help = "A material of your own stands under [materials] of a frame file, or of the shop's own file \
                            (`holdtrue job shop show` says where that is) if every frame is to know it:\n\n  \
                            [materials.mill-sheet-7]\n  like = \"S355\"\n  source = \"inspection certificate 7\"\n  \
                            yield_mpa = 390\n\nExamples:\n  holdtrue materials\n  holdtrue materials --shop other.toml"
    )]
    Materials(ShopFrom),
    /// List the built-in welding processes with their sources.
    #[command(
        after_help = "An efficiency of your own stands in the frame file: [procedure] k = 0.75, with k_source.\n\n\
                            Example:\n  holdtrue processes"
    )]
    Processes,
    /// List the codes of all errors and warnings with what to do about them.
    #[command(after_help = "Example:\n  holdtrue codes | less")]
    Codes,
    /// Explain the frame file: every key with its default.
    #[command(after_help = "Example:\n  holdtrue format | less")]
    Format,
    /// Print a JSON Schema: of the frame file (for editors), or of the plan as JSON.
    #[command(after_help = "Example:\n  holdtrue schema frame > frame.schema.json")]
    Schema(SchemaArgs),
    /// Print a completion script for a shell.
    #[command(
        after_help = "Example:\n  holdtrue completions bash > ~/.local/share/bash-completion/completions/holdtrue"
    )]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Print the manual page.
    #[command(after_help = "Example:\n  holdtrue man > holdtrue.1 && man ./holdtrue.1")]
    Man,
}

/// `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Frame file (TOML); `-` reads standard input.
    pub frame: PathBuf,
    /// Draw the frame as it was understood; the ending (.svg or .png) says the format.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// The shop's own file.
    #[command(flatten)]
    pub shop: ShopFrom,
}

/// `new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// Name of the frame; the file is called after it.
    pub name: Option<String>,
    /// Shape.
    #[arg(long, value_enum)]
    pub shape: Option<ShapeArg>,
    /// Length over all.
    #[arg(long, value_name = "LENGTH")]
    pub length: Option<String>,
    /// Width over all.
    #[arg(long, value_name = "LENGTH")]
    pub width: Option<String>,
    /// Height over all (cart: length of the pole).
    #[arg(long, value_name = "LENGTH")]
    pub height: Option<String>,
    /// Number of rungs, bars or cross members.
    #[arg(long, value_name = "NUMBER")]
    pub rungs: Option<u32>,
    /// Section of the main tubes: "square 40x3", "rectangular 60x40x3", "round 38x2".
    #[arg(long, value_name = "SECTION")]
    pub section: Option<String>,
    /// Another wall than that of the section.
    #[arg(long, value_name = "LENGTH")]
    pub wall: Option<String>,
    /// Section of rungs, bars and stays (otherwise as the main tubes; a size smaller if they are round).
    #[arg(long, value_name = "SECTION")]
    pub second: Option<String>,
    /// Material; `holdtrue materials` lists them.
    #[arg(long)]
    pub material: Option<String>,
    /// Welding process, its number in ISO 4063; `holdtrue processes` lists them.
    #[arg(long, value_name = "NUMBER")]
    pub process: Option<u16>,
    /// File to write (otherwise the name with .toml); `-` prints it.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// Shapes of `new`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ShapeArg {
    /// Two long rails with rungs.
    Ladder,
    /// Box base: ring on four legs.
    Base,
    /// Stand of two A's.
    AFrame,
    /// Flat deck with a pole and axle plates.
    Cart,
    /// Cargo tricycle, the bare chassis.
    Trike,
    /// Upright rectangle with bars.
    Gate,
    /// Two rails with arms that lean out.
    Cradle,
    /// One tube on another, to calibrate the shop.
    TestTee,
}

impl From<ShapeArg> for crate::start::Shape {
    fn from(s: ShapeArg) -> Self {
        use crate::start::Shape;
        match s {
            ShapeArg::Ladder => Shape::Ladder,
            ShapeArg::Base => Shape::Base,
            ShapeArg::AFrame => Shape::AFrame,
            ShapeArg::Cart => Shape::Cart,
            ShapeArg::Trike => Shape::Trike,
            ShapeArg::Gate => Shape::Gate,
            ShapeArg::Cradle => Shape::Cradle,
            ShapeArg::TestTee => Shape::TestTee,
        }
    }
}

/// `serve`.
#[cfg(feature = "web")]
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Record of the job.
    pub record: PathBuf,
    /// Port to listen on; 0 takes any that is free.
    #[arg(long, default_value_t = 8377)]
    pub port: u16,
    /// Let in the shop's network, with a pairing code (otherwise this machine only).
    #[arg(long)]
    pub shop: bool,
    /// Forget every device that was paired before.
    #[arg(long, requires = "shop")]
    pub forget: bool,
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
    /// The shop's own file.
    #[command(flatten)]
    pub shop: ShopFrom,
}

/// Where the shop's own file is.
#[derive(Debug, Args)]
pub struct ShopFrom {
    /// The shop's own file, with its shrinkage factors and materials (otherwise the one in the user's
    /// configuration folder, if any).
    #[arg(long, value_name = "FILE")]
    pub shop: Option<PathBuf>,
    /// Do without the shop's own file.
    #[arg(long, conflicts_with = "shop")]
    pub no_shop: bool,
}

/// `plan` and `tack`.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// How to plan.
    #[command(flatten)]
    pub common: PlanCommon,
    /// Where the sheets go.
    #[command(flatten)]
    pub sheets: SheetArgs,
}

/// Where the sheets of a plan go: the same for every command that makes one.
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
    /// Unit in which it is drawn (otherwise what the drawing says, or a guess by size that is reported).
    /// `--units` is the unit in which the frame file is written.
    #[arg(long, value_enum, value_name = "UNIT")]
    pub drawn_in: Option<UnitArg>,
    /// Ends closer than this are one point.
    #[arg(long, default_value = "1 mm", value_name = "LENGTH")]
    pub snap: String,
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
    /// The frame file, for editors.
    Frame,
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

impl From<PaperArg> for crate::output::pages::Paper {
    fn from(p: PaperArg) -> Self {
        match p {
            PaperArg::A4 => crate::output::pages::Paper::A4,
            PaperArg::Letter => crate::output::pages::Paper::Letter,
        }
    }
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
