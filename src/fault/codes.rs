//! The table of all fault codes. README.md prints it; a test holds it against the sources.

/// (code, title, explanation) of every fault the program can report, in the order of the codes.
///
/// `E1xx`/`W1xx` the frame file, `3xx` joints, seams and procedure, `4xx` heat, `5xx` plan and order,
/// `6xx` pull, `7xx` the plan's cautions and the job record.
pub const CODES: &[(&str, &str, &str)] = &[
    // --- frame file: reading ---
    ("E101", "not UTF-8", "The file holds bytes that are not UTF-8 text. Save it as UTF-8 in the editor."),
    ("E102", "too large", "A frame file may be 4 MB at most; a file this large is something else."),
    ("E103", "not TOML", "The line is not valid TOML: a missing quote, bracket, comma or equals sign."),
    (
        "E104",
        "format version",
        "The first key must be `holdtrue = 1`. A higher number was written by a newer program.",
    ),
    ("E105", "unknown key", "A key that no part of the program reads; mostly a misspelling."),
    ("E106", "wrong type", "A number, text, list, table or true/false stands where another is wanted."),
    ("E107", "missing key", "A key without which the table makes no sense is not there."),
    ("E108", "duplicate name", "Two things of one kind have the same name, so the name means nothing."),
    ("E109", "unknown name", "A name that nothing in the file (or in the built-in library) bears."),
    ("E110", "not a finite number", "`nan` and `inf` are TOML but no length, angle or setting."),
    (
        "E111",
        "out of range",
        "A number that cannot be meant: negative length, more than 100 layers and the like.",
    ),
    ("E112", "unknown word", "The key takes one of a few words, and this is none of them."),
    ("E113", "said twice or not at all", "Exactly one of several keys must be given."),
    (
        "E114",
        "not a usable name",
        "Names must not be empty and must not hold `:`, `@`, quotes or line breaks.",
    ),
    // --- sections and materials ---
    (
        "E120",
        "wall too thick",
        "The wall is as thick as half the tube, so there is no hole left; use a solid section.",
    ),
    ("E121", "corner radius impossible", "The outer corner radius is larger than half the smaller side."),
    (
        "E122",
        "absurd section size",
        "A section so small or so large that inches or metres were probably written for millimetres.",
    ),
    (
        "E123",
        "value without a source",
        "Own materials and own thermal efficiencies must say where the value comes from.",
    ),
    // --- points, tubes, plates ---
    ("E130", "zero-length tube", "Start and end of a piece of a run are the same place."),
    ("E131", "point twice in a run", "A run passes the same point twice."),
    ("E132", "doubled tube", "Two tubes lie on the same run."),
    (
        "E133",
        "bend does not fit",
        "The straight pieces beside a bend are shorter than the bend needs, or a corner has no bend radius.",
    ),
    (
        "E134",
        "absurd frame size",
        "The whole frame is smaller than 20 mm or larger than 100 m: metres or inches for millimetres.",
    ),
    ("E135", "run too short", "A run needs at least two places."),
    (
        "E136",
        "placed in a circle",
        "Tubes are placed on each other in a circle, so none of them has a place.",
    ),
    ("E137", "place past the end", "A place along a tube lies before its start or past its end."),
    (
        "E138",
        "direction along the tube",
        "The direction given for a section's height, or for a plate, runs along its axis.",
    ),
    ("E139", "face not clear", "The tube has no face that looks that way, or two look that way equally."),
    ("E140", "up along forward", "`up` and `forward` of the frame are the same line."),
    ("E141", "no direction", "A direction of zero length points nowhere."),
    // --- controls, clamps, the rest ---
    ("E150", "place on no tube", "A control or clamp names a point that lies on no tube."),
    ("E151", "wrong number of places", "The kind of control needs another number of places."),
    (
        "E152",
        "control measures nothing",
        "The places of the control coincide or lie in one line, so there is nothing to measure.",
    ),
    (
        "E153",
        "tolerance class does not fit",
        "Classes A to D are for lengths and angles, E to H for straightness, flatness and parallelism (ISO 13920).",
    ),
    (
        "E160",
        "clock range",
        "An open range is written `\"12-3\"` or `\"10:30-1\"`: hours on the clock, clockwise.",
    ),
    ("E161", "unknown process", "The number is none of the processes the program knows (ISO 4063)."),
    ("E162", "clamp holds nothing", "A clamp must hold at least one direction."),
    ("E163", "stage incomplete", "With stages, each tube must belong to exactly one of them."),
    (
        "E164",
        "too many setups",
        "A frame is turned over a few times, never through more than 64 ways to lie.",
    ),
    ("W101", "never used", "A section, material or point is described but nothing uses it."),
    (
        "W102",
        "nothing to keep true",
        "There is no control, so the plan can only balance heat; it cannot say what moves.",
    ),
    (
        "W103",
        "tight bend",
        "A bend tighter than 1.5 times the tube's outside flattens or wrinkles on common benders (common practice, no source).",
    ),
    (
        "W104",
        "thin or thick for the process",
        "A wall below 0.8 mm or above 40 mm is outside what this program's numbers were held against.",
    ),
    // --- joints and seams ---
    (
        "E201",
        "touches nothing",
        "No end of it lies in, on or at another part, and no side of it touches one.",
    ),
    ("E202", "frame in pieces", "Two groups of tubes have no joint between them."),
    (
        "E203",
        "branch wider than its carrier",
        "The end is larger than the tube, face or edge it lands on, so it cannot be welded all round.",
    ),
    (
        "E204",
        "past the end of the carrier",
        "Part of the end would stand in the air beyond the carrier's end. If both end at one point and the \
         carrier is cut flush with the far side, say so with `carrier` in a [[joint]].",
    ),
    ("E205", "over the edge of the carrier", "The end lands too far off the middle of the carrier's face."),
    (
        "E206",
        "two branches on one place",
        "One end stands inside the outline of another on the same carrier.",
    ),
    (
        "E207",
        "nearly parallel",
        "Below 15 degrees the heel of the seam cannot be reached (common practice, no source). What lies along \
         a tube is written as [[along]].",
    ),
    ("E208", "tubes run through each other", "Two parts fill the same space and neither ends there."),
    (
        "E209",
        "no such joint",
        "A [[joint]] names tubes that do not meet in one joint, or a carrier that cannot be one.",
    ),
    ("E210", "does not touch its support", "A plate or bar said to lie on a tube does not touch it."),
    (
        "E211",
        "nothing left between the cuts",
        "A tube so short that the cuts of its ends reach each other, or that it ends inside its carrier.",
    ),
    (
        "W201",
        "just short",
        "A free end stops less than 10 mm short of another part: probably meant to touch.",
    ),
    (
        "W202",
        "branches overlap",
        "Two outlines on one carrier overlap: the later branch must be cut to fit over the earlier.",
    ),
    ("W203", "not symmetric", "The plane given under `symmetry` does not map the frame onto itself."),
    (
        "W204",
        "bent where it lands",
        "A bend begins before the cut of the end has ended; the seam is worked out for a straight end.",
    ),
    // --- procedure: cautions on metals and settings ---
    ("E301", "gap too wide", "A root gap that no weld should span: fit a new tube or let in a piece."),
    (
        "W311",
        "hot for the wall",
        "The heat input for each millimetre of the thinner wall lies above published settings for sheet.",
    ),
    (
        "W312",
        "cold for the wall",
        "The heat input for each millimetre of the thinner wall lies below published settings for sheet.",
    ),
    ("W313", "starting values", "Volts, amps or speed were filled in from tables: try them on scrap first."),
    (
        "W314",
        "size of the fillet",
        "The leg was not given and is as large as the thinner wall, or it is more than twice that wall.",
    ),
    ("W315", "chrome-molybdenum tube", "It hardens and can crack from hydrogen: dry filler, slow cooling."),
    ("W316", "stainless steel", "Chromium VI in the fume, heat colours, interpass limit, more movement."),
    ("W317", "aluminium", "Low interpass limit; the tube beside the weld loses strength."),
    ("W318", "coating", "Zinc or paint must come off before welding; its fume is poisonous."),
    ("W319", "different metals", "Two kinds of metal meet at a seam: filler and procedure must suit both."),
    (
        "W320",
        "overhead only",
        "No setup brings the pass into a position that the rules allow; it is planned in the least bad one.",
    ),
    (
        "W321",
        "preheat",
        "What EN 1011-2 methods A and B ask for, or that they say nothing for so thin a wall.",
    ),
    ("W322", "process and metal", "The process is not used on this metal."),
    ("W323", "cold metal", "The shop is colder than the metal should be when welding starts."),
    ("W324", "interpass limit", "The limit given is above the usual one for the metal."),
    ("W325", "root gap", "A gap takes more metal and heat and pulls more than parts that touch; planned so."),
    ("W326", "gap too wide", "A root gap that should not be welded over: fit a new tube or let in a piece."),
    // --- heat ---
    (
        "E401",
        "air above the interpass limit",
        "The air is as warm as a joint may be before a pass, so the joint never cools enough.",
    ),
    ("E402", "no heat loss", "Without loss to the air the frame never cools, so no wait can be worked out."),
    ("E403", "no heat input", "Volts, amps or travel speed of zero or less give no heat input."),
    ("E404", "preheat above the interpass limit", "The joint would have to be warmer than it may be."),
    ("E405", "too many passes", "Beyond 20,000 passes no order is worked out: plan the frame in parts."),
    // --- plan and order ---
    (
        "E501",
        "order names what is not there",
        "A name in `[order]` is no pass, seam or joint of this frame, stands twice, or a pass is left out.",
    ),
    (
        "E502",
        "no order keeps the rules",
        "The wishes in `[order]` or the house rules contradict each other or a rule that is never relaxed.",
    ),
    (
        "E503",
        "order by hand",
        "The order by hand breaks a rule that is never relaxed; the message says which.",
    ),
    ("E504", "order by hand with stages", "An order by hand is for a frame that is built in one go."),
    ("E505", "stage not audited", "The plan of a stage did not pass its own audit: a fault of the program."),
    // --- pull and tacks ---
    (
        "E601",
        "loose tube",
        "When everything is tacked a tube can still move: nothing holds it in all directions.",
    ),
    ("E602", "last restraint released", "Releasing this leaves a tube that nothing holds any more."),
    (
        "W601",
        "tacks shortened",
        "Tacks of the length that EN 1011-2 asks for would take too much of so short a seam.",
    ),
    // --- cautions on a plan, and the record of a job ---
    (
        "E701",
        "shop's factors in a record",
        "The record of a job holds shop factors that this version of the program cannot read.",
    ),
    (
        "E702",
        "a record that does not fit its frame",
        "This version of the program finds other joints or controls in the frame of a record than the record names, or \
         more welders than can be. Go on with the version that began the job, or begin a new record.",
    ),
    (
        "W701",
        "prediction wider than the tolerance",
        "The scatter of a control is larger than its tolerance: only measuring can keep it.",
    ),
    (
        "W702",
        "left after setting",
        "What remains of a control after its set-to value is outside the tolerance.",
    ),
    ("W703", "coarse pull", "The frame is above the size for which the fine pull model is worked out."),
    (
        "W704",
        "remark of the pull model",
        "A limit or assumption of the pull model that matters for this frame.",
    ),
    (
        "W705",
        "no pull predicted",
        "The frame is above the size for which the pull is worked out: its order follows the rules and the heat, and is at best chosen among a few by a model that ranks only.",
    ),
    (
        "W706",
        "shop's own file",
        "The plan was made with shrinkage factors that this shop learnt from finished jobs or set itself, or with its own materials.",
    ),
    (
        "W707",
        "revision",
        "The sheet is a re-plan of what is left of a job: sheets of earlier revisions are void.",
    ),
    ("W708", "built in stages", "How what an earlier stage has pulled carries over into the next one."),
    (
        "W709",
        "clamps could be moved",
        "A re-plan found that moving clamps that are still closed brings the frame nearer to true.",
    ),
    (
        "W710",
        "other heat input",
        "A re-plan changed the heat input of what is left, within the range that was allowed to it.",
    ),
];

/// Title and explanation of a code, if there is such a code.
///
/// ```
/// assert_eq!(holdtrue::fault::explain("E105").unwrap().0, "unknown key");
/// assert!(holdtrue::fault::explain("E999").is_none());
/// ```
pub fn explain(code: &str) -> Option<(&'static str, &'static str)> {
    CODES.iter().find(|c| c.0 == code).map(|c| (c.1, c.2))
}
