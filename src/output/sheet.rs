//! The sheet: all that a person at the bench needs, before it is decided on what it is printed.
//!
//! An output decides looks, never content. The cautions and the deferral belong to the sheet itself
//! (they cannot be left out or emptied), so that no output can lose them.

use super::drawing::Drawing;
use super::safety::{self, Caution, SafetyFacts};

/// A sheet.
#[derive(Debug, Clone)]
pub struct Sheet {
    /// What stands at the head of each page.
    pub title: Title,
    /// What stands before the numbered rows: settings, controls, the weld map.
    pub cover: Vec<Block>,
    /// The numbered rows, in order of work.
    pub rows: Vec<CheckRow>,
    /// What stands after them: close-ups, plots, tables.
    pub further: Vec<Block>,
    /// Printed in colour, beside what tells things apart in black and white.
    pub colour: bool,
    cautions: Vec<Caution>,
    deferral: Caution,
}

impl Sheet {
    /// A sheet without rows yet, with the cautions that follow from the facts.
    pub fn new(title: Title, facts: &SafetyFacts) -> Sheet {
        Sheet {
            title,
            cover: vec![],
            rows: vec![],
            further: vec![],
            colour: false,
            cautions: safety::cautions(facts),
            deferral: safety::deferral(),
        }
    }
    /// The cautions for this frame, its own hazards first.
    pub fn cautions(&self) -> &[Caution] {
        &self.cautions
    }
    /// Who may decide: qualified welders, qualified procedures, inspection, local codes.
    pub fn deferral(&self) -> &Caution {
        &self.deferral
    }
    /// The characters in this sheet that the embedded faces lack, each once, in order of appearance;
    /// they are printed as their code. For a warning.
    pub fn missing_characters(&self) -> Vec<char> {
        let mut missing: Vec<char> = vec![];
        let mut look = |text: &str| {
            for c in super::font::printable(text).1 {
                if !missing.contains(&c) {
                    missing.push(c);
                }
            }
        };
        self.title.words().for_each(&mut look);
        for block in self.cover.iter().chain(&self.further) {
            match block {
                Block::Heading(text) | Block::Words(text) => look(text),
                Block::Table(table) => {
                    look(&table.title);
                    table.columns.iter().for_each(|c| look(&c.name));
                    table.rows.iter().flatten().for_each(|cell| look(cell));
                }
                // A drawing's texts have been replaced already; its title has not.
                Block::Picture { drawing, caption } => {
                    look(&drawing.title);
                    look(caption);
                }
            }
        }
        self.rows.iter().flat_map(CheckRow::words).for_each(&mut look);
        self.cautions.iter().flat_map(|c| &c.lines).for_each(|line| look(line));
        missing
    }
}

/// What tells one sheet from another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Title {
    /// Name of the frame.
    pub frame: String,
    /// Short fingerprint of the plan.
    pub plan_id: String,
    /// Revision of the plan, 0 for the first.
    pub revision: u32,
    /// Date as it is to be printed; given, never read from a clock.
    pub date: String,
    /// Program and version.
    pub program: String,
    /// What the square code says, so that the plan is found again.
    pub find_again: String,
}

impl Title {
    fn words(&self) -> impl Iterator<Item = &str> {
        [&self.frame, &self.plan_id, &self.date, &self.program].into_iter().map(String::as_str)
    }
    /// The plan's name with its revision, `K7MP-22QD` or `K7MP-22QD, revision 2`.
    pub fn plan(&self) -> String {
        match self.revision {
            0 => self.plan_id.clone(),
            n => format!("{}, revision {n}", self.plan_id),
        }
    }
}

/// A part of a sheet other than the numbered rows.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Words(String),
    /// A table.
    Table(Table),
    /// A picture with what it shows.
    Picture {
        /// The picture.
        drawing: Drawing,
        /// One line under it.
        caption: String,
    },
}

/// A table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Line above it.
    pub title: String,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, each with one text per column.
    pub rows: Vec<Vec<String>>,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Head of the column.
    pub name: String,
    /// What stands in it.
    pub kind: ColumnKind,
}

impl Column {
    /// A column of words.
    pub fn words(name: &str) -> Column {
        Column { name: name.into(), kind: ColumnKind::Words }
    }
    /// A column of numbers, right-aligned.
    pub fn numbers(name: &str) -> Column {
        Column { name: name.into(), kind: ColumnKind::Numbers }
    }
    /// A column of empty boxes to write a reading in; a cell's text is the unit.
    pub fn write(name: &str) -> Column {
        Column { name: name.into(), kind: ColumnKind::Write }
    }
}

/// What stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnKind {
    /// Words, left-aligned.
    Words,
    /// Numbers, right-aligned.
    Numbers,
    /// A box to write in; the cell's text is the unit beside it.
    Write,
}

/// What a numbered row asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RowKind {
    /// A stage of the build begins.
    Stage,
    /// Lay a tack.
    Tack,
    /// Lay a pass.
    Pass,
    /// Wait until something has cooled.
    Wait,
    /// Stop and measure.
    Hold,
    /// Put a clamp on.
    Clamp,
    /// Take a clamp off.
    Release,
    /// Turn the frame.
    Turn,
    /// Open a vent.
    Vent,
    /// Close a vent.
    CloseVent,
}

impl RowKind {
    /// The word in capitals by which the row is seen from afar; empty for a pass.
    pub fn word(self) -> &'static str {
        match self {
            RowKind::Pass => "",
            RowKind::Stage => "STAGE",
            RowKind::Tack => "TACK",
            RowKind::Wait => "WAIT",
            RowKind::Hold => "STOP: MEASURE",
            RowKind::Clamp => "CLAMP ON",
            RowKind::Release => "CLAMP OFF",
            RowKind::Turn => "TURN",
            RowKind::Vent => "DRILL VENT",
            RowKind::CloseVent => "CLOSE VENT",
        }
    }
    /// Whether metal is laid.
    pub fn welds(self) -> bool {
        matches!(self, RowKind::Tack | RowKind::Pass)
    }
}

/// One numbered row with its box to tick. Texts that do not apply are empty.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckRow {
    /// Number on the sheet.
    pub number: usize,
    /// What it asks for.
    pub kind: RowKind,
    /// Label to chalk on the tube, `J7a-3/1`.
    pub label: String,
    /// Joint or seam in words ("crank shell on spine").
    pub joint: String,
    /// Segment in words, `3 of 8`.
    pub segment: String,
    /// Clock place where the arc starts, `10:30`.
    pub start: String,
    /// Clock place where it ends.
    pub end: String,
    /// Whether the arc travels clockwise, seen along the branch towards the carrier; `None` where no
    /// clock applies.
    pub clockwise: Option<bool>,
    /// Layer, `root` or `1 of 2`.
    pub layer: String,
    /// Direction in words, `clockwise`, `upwards`.
    pub direction: String,
    /// Welding position of ISO 6947, `PB`.
    pub position: String,
    /// Process and settings, `135 · 90 A · 17 V · 6 mm/s`.
    pub settings: String,
    /// Net heat input, `0.21 kJ/mm`.
    pub heat_input: String,
    /// Temperature that the joint must be under, `150 °C`.
    pub under: String,
    /// Wait before it, `2 min`.
    pub wait: String,
    /// One plain reason.
    pub reason: String,
    /// Welder, `A`; empty if there is only one.
    pub welder: String,
    /// True if it is laid at the same time as the row above.
    pub with_above: bool,
    /// For rows that are not passes: what to do, in one or two sentences.
    pub say: String,
    /// Readings to take.
    pub readings: Vec<Reading>,
    /// The seam with the piece to weld, small, for beside the row.
    pub picture: Option<Drawing>,
}

impl CheckRow {
    /// A row with nothing in it but its number and kind.
    pub fn new(number: usize, kind: RowKind) -> CheckRow {
        let none = String::new;
        CheckRow {
            number,
            kind,
            label: none(),
            joint: none(),
            segment: none(),
            start: none(),
            end: none(),
            clockwise: None,
            layer: none(),
            direction: none(),
            position: none(),
            settings: none(),
            heat_input: none(),
            under: none(),
            wait: none(),
            reason: none(),
            welder: none(),
            with_above: false,
            say: none(),
            readings: vec![],
            picture: None,
        }
    }
    /// Start and end on the clock with an arrow between them; one of them if there is one only.
    pub fn clock(&self) -> String {
        if self.end.is_empty() { self.start.clone() } else { format!("{} → {}", self.start, self.end) }
    }
    /// All its words.
    fn words(&self) -> Vec<&str> {
        let mut words: Vec<&str> = [
            &self.label,
            &self.joint,
            &self.segment,
            &self.start,
            &self.end,
            &self.layer,
            &self.direction,
            &self.position,
            &self.settings,
            &self.heat_input,
            &self.under,
            &self.wait,
            &self.reason,
            &self.welder,
            &self.say,
        ]
        .into_iter()
        .map(String::as_str)
        .collect();
        words
            .extend(self.readings.iter().flat_map(|r| [r.name.as_str(), r.expect.as_str(), r.unit.as_str()]));
        words
    }
}

/// A reading to take at a hold point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// Control.
    pub name: String,
    /// What is expected, with its band, `+0.8 ± 0.6`.
    pub expect: String,
    /// `mm` or `°`.
    pub unit: String,
}
