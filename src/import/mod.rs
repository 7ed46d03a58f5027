//! Wireframes from elsewhere, made into a frame file: lines of a drawing become tubes.
//!
//! Comes in: the bytes of a DXF, OBJ or CSV file. Goes out: the text of a frame file, never a frame
//! itself: the user is meant to read it, fill in the section and plan it. Every guess is reported.
//! Out of bounds: guesses that are not reported; files.

mod dxf;
mod obj;
mod propose;
mod snap;
mod table;
mod write;

use crate::frame;
use crate::units::Units;
use glam::DVec3;

/// The unit in which a drawing is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Inches.
    Inch,
    /// Metres.
    Metre,
}

impl Unit {
    fn mm(self) -> f64 {
        match self {
            Unit::Mm => 1.0,
            Unit::Inch => crate::units::MM_PER_INCH,
            Unit::Metre => 1000.0,
        }
    }
    fn word(self) -> &'static str {
        match self {
            Unit::Mm => "millimetres",
            Unit::Inch => "inches",
            Unit::Metre => "metres",
        }
    }
}

/// How to import.
#[derive(Debug, Clone)]
pub struct Options {
    /// Unit of the drawing; `None` takes what the file says, or guesses by size and says so.
    pub unit: Option<Unit>,
    /// Unit in which the frame file is written.
    pub write_in: Units,
    /// Ends closer than this are one point, mm.
    pub snap_mm: f64,
    /// Name of the frame.
    pub name: String,
    /// Section to fill in, as it stands behind `main =` in the frame file.
    pub section: String,
}

/// A straight line of the drawing, in the drawing's own unit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stroke {
    pub a: DVec3,
    pub b: DVec3,
    /// Layer, group or name, if the file has one.
    pub layer: String,
}

/// What a reader found.
#[derive(Debug, Clone, Default)]
pub(crate) struct Drawn {
    pub strokes: Vec<Stroke>,
    pub unit: Option<Unit>,
    /// What was passed over, in words.
    pub passed_over: Vec<String>,
}

/// The text of a frame file, and every guess that was made on the way.
#[derive(Debug, Clone)]
pub struct Imported {
    /// Frame file.
    pub toml: String,
    /// Guesses, in words.
    pub guesses: Vec<String>,
}

/// Make a frame file from a wireframe. What kind of file it is follows from its content, not its name.
///
/// # Errors
/// In words, with the line of the file where there is one.
pub fn import(bytes: &[u8], options: &Options) -> Result<Imported, String> {
    if bytes.len() > 20_000_000 {
        return Err("the file is larger than 20 MB: export the centre lines alone".into());
    }
    if bytes.starts_with(b"AutoCAD Binary DXF") {
        return Err("this is a binary DXF file: save it as a text DXF".into());
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(t) => t.trim_start_matches('\u{feff}').to_string(),
        // Old drawings are Latin-1; every byte is a character there.
        Err(_) if !bytes.contains(&0) => bytes.iter().map(|&b| b as char).collect(),
        Err(_) => return Err("this is not a text file: DXF, OBJ and CSV files are text".into()),
    };
    let drawn = match kind(&text) {
        Some(Kind::Dxf) => dxf::read(&text)?,
        Some(Kind::Obj) => obj::read(&text)?,
        Some(Kind::Table) => table::read(&text)?,
        None => {
            return Err("this is neither DXF (group codes), nor OBJ (`v` and `l` lines), nor CSV \
                        (rows `point,NAME,X,Y,Z` and `bar,NAME,FROM,TO`)"
                .into());
        }
    };
    if drawn.strokes.is_empty() {
        let over = if drawn.passed_over.is_empty() {
            String::new()
        } else {
            format!(" ({})", drawn.passed_over.join("; "))
        };
        return Err(format!(
            "there is no straight line in this file{over}: draw the centre lines of the tubes"
        ));
    }
    if drawn.strokes.len() > 2000 {
        return Err(format!(
            "{} lines are more than a frame of 2000 tubes: export the centre lines alone",
            drawn.strokes.len()
        ));
    }
    let mut guesses = drawn.passed_over.clone();
    let strokes = snap::to_mm(&drawn, options.unit, &mut guesses);
    let wire = snap::snap(&strokes, options.snap_mm, &mut guesses);
    if wire.runs.is_empty() {
        return Err("all lines are shorter than the snapping distance: is the unit right?".into());
    }
    let guesses: Vec<String> = guesses.iter().map(|g| options.write_in.sentence(g)).collect();
    let mut proposal = propose::propose(&wire, options.snap_mm);
    let text = |proposal: &propose::Proposal| {
        let said: Vec<String> = guesses.iter().cloned().chain(words(proposal)).collect();
        Imported { toml: write::write(&wire, options, &said, proposal), guesses: said }
    };
    let made = text(&proposal);
    if proposal.controls.is_empty() || frame::read(&made.toml).is_ok() {
        return Ok(made);
    }
    // A dimension that cannot be measured on this frame is not proposed; what else is wrong, `check` says.
    proposal.controls.clear();
    let plain = text(&proposal);
    Ok(if frame::read(&plain.toml).is_ok() { plain } else { made })
}

/// What was proposed, as a guess in words.
fn words(proposal: &propose::Proposal) -> Option<String> {
    let names: Vec<&str> = proposal.controls.iter().map(|c| c.0.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "no drawing says what must come out true; proposed from the shape: {} (change them, and put your clamps)",
            names.join(", ")
        )
    })
}

enum Kind {
    Dxf,
    Obj,
    Table,
}

fn kind(text: &str) -> Option<Kind> {
    let lines: Vec<&str> = text.lines().map(str::trim).filter(|l| !l.is_empty()).take(400).collect();
    if lines.first().is_some_and(|l| l.parse::<i32>().is_ok()) && lines.contains(&"SECTION") {
        return Some(Kind::Dxf);
    }
    if lines.iter().any(|l| l.starts_with("v ")) {
        return Some(Kind::Obj);
    }
    let row = |l: &&&str| {
        let first = l.split([',', ';']).next().unwrap_or("").trim().to_lowercase();
        first == "point" || first == "bar"
    };
    lines.iter().any(|l| row(&l)).then_some(Kind::Table)
}

#[cfg(test)]
mod tests;
