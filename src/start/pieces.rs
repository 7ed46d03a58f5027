//! The lines of a frame file, with their remarks.

use super::{Profile, Wish};
use crate::units::{MM_PER_INCH, Units, trim};
use std::fmt::Write;

/// A frame file being written.
pub struct Text {
    out: String,
    units: Units,
}

impl Text {
    /// The head of the file.
    pub fn new(wish: &Wish) -> Text {
        let mut t = Text { out: String::new(), units: wish.units };
        let unit = match wish.units {
            Units::Mm => "millimetres",
            Units::Inch => "inches; fractions are written as text: \"1 1/2\"",
        };
        t.line(&format!("# {}: {}.", wish.name.replace('\n', " "), wish.shape.about()));
        t.line(
            "# A starter made by `holdtrue new`: change what you like. It is a geometry for planning, not a",
        );
        t.line("# design: nothing here says that the frame is strong enough.");
        t.line(&format!(
            "# Lengths are {unit}. X points forward, Y to the left, Z up. `holdtrue format` explains"
        ));
        t.line("# every key.");
        t.line("holdtrue = 1");
        t.gap();
        t.line("[frame]");
        t.line(&format!("name = {}", quoted(&wish.name)));
        if wish.units == Units::Inch {
            t.line("units = \"inch\"");
        }
        t
    }

    /// A line as it is.
    pub fn line(&mut self, words: &str) {
        let _ = writeln!(self.out, "{words}");
    }

    /// An empty line.
    pub fn gap(&mut self) {
        self.out.push('\n');
    }

    /// A length in the file's unit.
    pub fn n(&self, mm: f64) -> String {
        match self.units {
            Units::Mm => trim(mm, 2),
            Units::Inch => trim(mm / MM_PER_INCH, 4),
        }
    }

    /// A point in the file's unit.
    pub fn p(&self, at: [f64; 3]) -> String {
        format!("[{}, {}, {}]", self.n(at[0]), self.n(at[1]), self.n(at[2]))
    }

    /// A section.
    pub fn section(&mut self, name: &str, profile: Profile, material: &str) {
        let shape = match profile {
            Profile::Round { od, wall } => {
                format!("round = {{ od = {}, wall = {} }}", self.n(od), self.n(wall))
            }
            Profile::Box { height, width, wall } if height == width => {
                format!("square = {{ side = {}, wall = {} }}", self.n(height), self.n(wall))
            }
            Profile::Box { height, width, wall } => format!(
                "rectangular = {{ height = {}, width = {}, wall = {} }}",
                self.n(height),
                self.n(width),
                self.n(wall)
            ),
        };
        self.line(&format!("{name} = {{ {shape}, material = {} }}", quoted(material)));
    }

    /// A tube from its places, each as it stands in a run.
    pub fn tube(&mut self, name: &str, section: &str, run: &[String], open: bool) {
        let vented = if open { ", vented = true" } else { "" };
        self.line(&format!("{name} = {{ section = \"{section}\", run = [{}]{vented} }}", run.join(", ")));
    }

    /// A place on the face of a tube.
    pub fn on(&self, tube: &str, at: f64, face: &str) -> String {
        format!("{{ on = \"{tube}\", at = {}, face = \"{face}\" }}", self.n(at))
    }

    /// A clamp.
    pub fn clamp(&mut self, name: &str, tube: &str, at: &str, holds: &str) {
        self.line(&format!("{name} = {{ tube = \"{tube}\", at = {at}, holds = \"{holds}\" }}"));
    }

    /// A control; `more` ends it (`tolerance = "B"`).
    pub fn control(&mut self, name: &str, kind: &str, of: &[&str], more: &str) {
        let of: Vec<String> = of.iter().map(|w| format!("\"{w}\"")).collect();
        self.line(&format!("{name} = {{ kind = \"{kind}\", of = [{}], {more} }}", of.join(", ")));
    }

    /// How it is welded, and how it lies.
    pub fn end(mut self, process: u16, setups: &[(&str, &str)]) -> String {
        self.gap();
        self.line("# How it is welded: the process by its number in ISO 4063. Volts, amps, speed and leg are filled");
        self.line(
            "# in with published starting values, which are no welding procedure; write your own here.",
        );
        self.line("[procedure]");
        self.line(&format!("process = {process}"));
        if !setups.is_empty() {
            self.gap();
            self.line("# How it lies on the bench; the first is the one it starts in.");
        }
        for (name, up) in setups {
            self.line("[[setup]]");
            self.line(&format!("name = \"{name}\""));
            self.line(&format!("up = \"{up}\""));
        }
        self.out
    }
}

/// A text in quotes, as TOML and JSON write it.
pub fn quoted(text: &str) -> String {
    serde_json::to_string(text).expect("a string always serialises")
}
