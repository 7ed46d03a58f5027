//! The gate between tacking and welding out, one for each weld-out of a frame built in stages, and what
//! else should have been done before a pass.

use super::card::{Item, Task};
use super::state::{Deed, DeedKind, Job, Standing};

/// The gate between tacking and welding out: every control is read as tacked and becomes the starting
/// state, or somebody says why not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GateState {
    /// This job has none: no controls, or no hold point before the first pass.
    None,
    /// Shut: these controls are not read yet.
    Shut {
        /// Names of the controls.
        missing: Vec<String>,
    },
    /// Open: everything is read.
    Open,
    /// It was opened without all readings; why.
    OpenedWithout(String),
    /// Passes are welded already.
    Passed {
        /// Controls that were not read as tacked.
        unread: Vec<String>,
    },
}

/// A gate of the first sheet: what is asked for, after which tacks, before which passes.
#[derive(Default)]
struct Gate<'a> {
    hold: Option<&'a Item>,
    tacks: Vec<&'a str>,
    passes: Vec<&'a str>,
}

impl Job {
    /// The gates of the first sheet: one before each run of passes that comes after tacks.
    fn gates(&self) -> Vec<Gate<'_>> {
        let mut out: Vec<Gate> = vec![Gate::default()];
        for i in &self.header.card.items {
            let last = out.last_mut().expect("there is one");
            match &i.task {
                Task::Tack { .. } if last.passes.is_empty() => last.tacks.push(&i.label),
                Task::Tack { .. } => out.push(Gate { tacks: vec![&i.label], ..Gate::default() }),
                Task::Hold { controls, .. } if last.passes.is_empty() && !controls.is_empty() => {
                    last.hold = Some(i);
                }
                Task::Pass { .. } => last.passes.push(&i.label),
                _ => {}
            }
        }
        out
    }

    /// The gate in hand, by number from 0: the first with a pass that is not welded yet.
    pub(super) fn gate_in_hand(&self) -> usize {
        let gates = self.gates();
        let open = |g: &Gate| g.passes.iter().any(|p| !self.done.contains_key(*p));
        gates.iter().position(open).unwrap_or(gates.len() - 1)
    }

    /// The hold point at which the gate in hand stands. None if this job has no gate.
    pub fn gate_line(&self) -> Option<&Item> {
        self.gates().swap_remove(self.gate_in_hand()).hold
    }

    /// How the gate between tacking and welding out stands; of a frame built in stages, that of the
    /// weld-out in hand.
    pub fn gate(&self) -> GateState {
        self.gate_at(self.gate_in_hand())
    }

    /// How every gate stands, in the order of the first sheet.
    pub fn all_gates(&self) -> Vec<GateState> {
        (0..self.gates().len()).map(|g| self.gate_at(g)).collect()
    }

    /// How the gate stands that this pass lies behind.
    pub(super) fn gate_of(&self, pass: &str) -> GateState {
        let at = self.gates().iter().position(|g| g.passes.contains(&pass));
        self.gate_at(at.unwrap_or_else(|| self.gate_in_hand()))
    }

    fn gate_at(&self, number: usize) -> GateState {
        let gate = self.gates().swap_remove(number);
        let Some(Task::Hold { controls: asked, .. }) = gate.hold.map(|i| &i.task) else {
            return GateState::None;
        };
        let laid = |d: &Deed, list: &[&str]| matches!(&d.kind, DeedKind::Laid { label, .. } if list.contains(&label.as_str()));
        let begun = self.deeds.iter().position(|d| laid(d, &gate.passes)).unwrap_or(self.deeds.len());
        // A reading from before the last tack says nothing about the tacked frame.
        let is_tack = |d: &Deed| laid(d, &gate.tacks) || matches!(d.kind, DeedKind::Cut(_));
        let tacked = match self.deeds[..begun].iter().rposition(is_tack) {
            Some(i) => i + 1,
            None if number == 0 => 0,
            // This stage is not tacked: what was read of the last one does not count.
            None => begun + 1,
        };
        let read = |name: &String| {
            self.readings
                .iter()
                .any(|r| &self.header.controls[r.control].name == name && (tacked..=begun).contains(&r.after))
        };
        let missing: Vec<String> = asked.iter().filter(|c| !read(c)).cloned().collect();
        match self.gate_opened.get(&number) {
            Some(why) if !missing.is_empty() => GateState::OpenedWithout(why.clone()),
            _ if begun < self.deeds.len() => GateState::Passed { unread: missing },
            _ if missing.is_empty() => GateState::Open,
            _ => GateState::Shut { missing },
        }
    }

    /// Lines before this pass that safety or the record needs and that are still open.
    pub(super) fn open_before(&self, label: &str) -> Vec<String> {
        let mut said = vec![];
        for i in self.card().items.iter().take_while(|i| i.label != label) {
            if self.standing(&i.label) == Standing::Done {
                continue;
            }
            match &i.task {
                Task::VentOpen { tube } => said.push(format!(
                    "the vent of {tube} is not ticked as open: a sealed tube can burst when it is welded"
                )),
                Task::Tack { .. } => said.push(format!("tack {} comes before it and is not ticked", i.label)),
                Task::Hold { .. }
                    if self.gate_opened.is_empty() && self.standing(&i.label) == Standing::Open =>
                {
                    said.push(format!(
                        "{} comes before it: measure before this pass hides the answer",
                        i.label
                    ));
                }
                _ => {}
            }
        }
        // A whole list would be read by nobody.
        let more = said.len().saturating_sub(3);
        if more > 0 {
            said.truncate(3);
            said.push(format!("… and {more} more lines before it are open"));
        }
        said
    }
}
