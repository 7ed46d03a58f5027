//! Questions to a job: what is in force, what is open, what a re-plan starts from.

use super::card::{Card, ControlCard, Item, Task};
use super::event::When;
use super::state::{Deed, DeedKind, Job, Reading, Standing};
use std::collections::{BTreeMap, BTreeSet};

/// What a re-plan starts from.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// The revision that the new plan gets.
    pub revision: u32,
    /// What was done to the frame, in order.
    pub deeds: Vec<Deed>,
    /// Labels of passes that are welded (and not cut out since), in the order they were laid.
    pub welded: Vec<String>,
    /// Labels of tacks that hold.
    pub tacked: Vec<String>,
    /// Labels of passes still to be welded, in the order of the sheet in force; those on no sheet
    /// (cut out since) come last.
    pub open: Vec<String>,
    /// Clamps that are on, by name.
    pub clamps_on: Vec<String>,
    /// Setup in which the frame lies, if it was ever turned or a pass was ticked.
    pub setup: Option<String>,
    /// Readings that count.
    pub readings: Vec<Reading>,
    /// Temperatures read: joint, °C, moment.
    pub temperatures: Vec<(String, f64, When)>,
    /// The last gap read at each joint, mm.
    pub gaps: BTreeMap<String, f64>,
}

impl Job {
    /// The card in force.
    pub fn card(&self) -> &Card {
        self.cards.last().expect("a job begins with a card")
    }

    /// Revision in force.
    pub fn revision(&self) -> u32 {
        self.card().revision
    }

    /// A line by its label: as on the sheet in force, else as on the sheet where it last stood.
    pub fn item(&self, label: &str) -> Option<&Item> {
        self.card().items.iter().find(|i| i.label == label).or_else(|| self.known.get(label))
    }

    /// Every label that was ever on a sheet.
    pub fn labels(&self) -> impl Iterator<Item = &str> {
        self.known.keys().map(String::as_str)
    }

    /// Every line that was ever on a sheet, by label.
    pub fn known(&self) -> impl Iterator<Item = &Item> {
        self.known.values()
    }

    /// How a line stands.
    pub fn standing(&self, label: &str) -> Standing {
        if self.done.contains_key(label) {
            Standing::Done
        } else if self.skipped.contains_key(label) {
            Standing::Skipped
        } else {
            Standing::Open
        }
    }

    /// Lines still to be done: those of the sheet in force in its order, skipped ones after them,
    /// then weld metal that was cut out and stands on no sheet in force.
    pub fn open(&self) -> Vec<&Item> {
        let with = |s: Standing| self.card().items.iter().filter(move |i| self.standing(&i.label) == s);
        with(Standing::Open).chain(with(Standing::Skipped)).chain(self.lost()).collect()
    }

    /// Weld metal that is not there (any more) and stands on no sheet in force: it was cut out, or
    /// its tick was taken back, after a re-plan.
    pub fn lost(&self) -> impl Iterator<Item = &Item> {
        let on_card: BTreeSet<&str> = self.card().items.iter().map(|i| i.label.as_str()).collect();
        let was_there = |i: &Item| {
            self.undone.iter().any(|(l, _)| l == &i.label)
                || self
                    .deeds
                    .iter()
                    .any(|d| matches!(&d.kind, DeedKind::Laid { label, .. } if label == &i.label))
        };
        self.known.values().filter(move |i| {
            i.is_weld()
                && !self.done.contains_key(&i.label)
                && !on_card.contains(i.label.as_str())
                && (i.is_pass() || was_there(i))
        })
    }

    /// Passes welded and passes in all.
    pub fn passes_done(&self) -> (usize, usize) {
        let passes = self.known.values().filter(|i| i.is_pass());
        passes.fold((0, 0), |(d, n), i| (d + usize::from(self.done.contains_key(&i.label)), n + 1))
    }

    /// A control by name.
    pub fn control(&self, name: &str) -> Option<&ControlCard> {
        self.header.controls.iter().find(|c| c.name == name)
    }

    /// Clamps that are on after the first `deeds` deeds, in the order they were put on.
    pub fn clamps_on(&self, deeds: usize) -> Vec<String> {
        let mut on: Vec<String> = vec![];
        for d in self.deeds.iter().take(deeds) {
            match &d.kind {
                DeedKind::Clamped(c) if !on.contains(c) => on.push(c.clone()),
                DeedKind::Released(c) => on.retain(|o| o != c),
                _ => {}
            }
        }
        on
    }

    /// Setup in which the frame lies, as far as the record tells.
    pub fn setup(&self) -> Option<String> {
        self.deeds.iter().rev().find_map(|d| match &d.kind {
            DeedKind::Turned(s) => Some(s.clone()),
            DeedKind::Laid { label, .. } => match &self.item(label)?.task {
                Task::Pass { setup, .. } => Some(setup.clone()),
                _ => None,
            },
            _ => None,
        })
    }

    /// What a re-plan starts from.
    pub fn progress(&self) -> Progress {
        let mut held: Vec<String> = vec![];
        for d in &self.deeds {
            match &d.kind {
                DeedKind::Laid { label, .. } if !held.contains(label) => held.push(label.clone()),
                DeedKind::Cut(_) => held.retain(|l| !self.takes_out(d, l)),
                _ => {}
            }
        }
        let is_pass = |l: &String| self.item(l).is_some_and(Item::is_pass);
        Progress {
            revision: self.revision() + 1,
            deeds: self.deeds.clone(),
            welded: held.iter().filter(|l| is_pass(l)).cloned().collect(),
            tacked: held.iter().filter(|l| !is_pass(l)).cloned().collect(),
            open: self.open().into_iter().filter(|i| i.is_pass()).map(|i| i.label.clone()).collect(),
            clamps_on: self.clamps_on(self.deeds.len()),
            setup: self.setup(),
            readings: self.readings.iter().filter(|r| !r.replaced).cloned().collect(),
            temperatures: self.temperatures.clone(),
            gaps: self.gaps.iter().cloned().collect(),
        }
    }
}
