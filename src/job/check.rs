//! Whether an event makes sense for a job as it stands; asked again under the lock before it is
//! written, so that two people ticking at once cannot contradict each other in the record.

use super::card::{Item, Task};
use super::event::{Cut, Event, When};
use super::gate::GateState;
use super::pick::{did_you_mean, same_name};
use super::state::{Job, Standing};

/// An event that makes no sense: what is wrong, and what to do instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}")]
pub struct Refused {
    /// What is wrong: one sentence, lower case, without a full stop.
    pub what: String,
    /// What to do instead.
    pub help: Option<String>,
}

impl Refused {
    /// A refusal with advice (empty: none).
    pub fn new(what: impl Into<String>, help: impl Into<String>) -> Refused {
        let help = help.into();
        Refused { what: what.into(), help: (!help.is_empty()).then_some(help) }
    }
}

/// A tick further in the future than this is a slip of the pen or of the clock, s.
const FUTURE_SLACK_S: i64 = 300;

impl Job {
    /// Whether `event` may be written at the moment `now`. Goes out: warnings to show.
    ///
    /// # Errors
    /// Why it may not.
    pub fn check(&self, event: &Event, now: When) -> Result<Vec<String>, Refused> {
        if !event.is_finite() {
            return Err(Refused::new(
                "a number is not a number, or settings are not above zero",
                "check what was typed",
            ));
        }
        if self.finished.is_some() && !matches!(event, Event::Withdrawn { .. } | Event::Note { .. }) {
            return Err(Refused::new("this job is finished", "take the finish back first (undo)"));
        }
        match event {
            Event::Started {} if !self.records.is_empty() => {
                Err(Refused::new("this job has begun already", "go on with it"))
            }
            Event::Ticked { label, when, .. } => self.check_tick(label, *when, now),
            Event::Redone { label, when, .. } => self.check_redo(label, *when, now),
            Event::Unticked { label, .. } => {
                self.the_item(label)?;
                if self.standing(label) == Standing::Done {
                    Ok(vec![])
                } else {
                    Err(Refused::new(format!("{label} is not ticked"), "nothing to take back"))
                }
            }
            Event::Skipped { label, .. } => {
                self.the_item(label)?;
                match self.standing(label) {
                    Standing::Done => Err(Refused::new(
                        format!("{label} is ticked already"),
                        "untick it if that was a mistake",
                    )),
                    Standing::Skipped => {
                        Err(Refused::new(format!("{label} is skipped already"), "tick it when it is done"))
                    }
                    Standing::Open => Ok(vec![]),
                }
            }
            Event::Cut { place, .. } => self.check_cut(place),
            Event::Measured { control, value, error, .. } => self.check_reading(control, *value, *error),
            Event::Temperature { joint, value_c } => {
                self.the_joint(joint)?;
                if !(-60.0..=1600.0).contains(value_c) {
                    return Err(Refused::new(
                        format!("{value_c} °C is no temperature of a joint that is being welded"),
                        "temperatures are in °C",
                    ));
                }
                Ok(vec![])
            }
            Event::Moved { clamp, by_mm, .. } => self.check_move(clamp, *by_mm),
            Event::Gap { joint, value_mm } => {
                self.the_joint(joint)?;
                if !(0.0..=50.0).contains(value_mm) {
                    return Err(Refused::new(
                        format!("a gap of {value_mm} mm cannot be"),
                        "gaps are in mm, from 0 to 50",
                    ));
                }
                Ok(vec![])
            }
            Event::Replanned { card, .. } => self.check_replan(card),
            Event::Withdrawn { n } => self.check_withdrawn(*n),
            Event::Finished { .. } => {
                let open = self.open().iter().filter(|i| i.is_weld()).count();
                Ok(if open == 0 { vec![] } else { vec![format!("{open} tacks or passes are still open")] })
            }
            Event::GateOpened { why } => match self.gate() {
                _ if why.trim().is_empty() => Err(Refused::new(
                    "the gate is opened for a reason only",
                    "say why; it goes into the record",
                )),
                GateState::Shut { .. } => Ok(vec![]),
                _ => Ok(vec!["the gate was not shut".into()]),
            },
            Event::Started {} | Event::Note { .. } => Ok(vec![]),
        }
    }

    fn the_item(&self, label: &str) -> Result<&Item, Refused> {
        self.item(label).ok_or_else(|| {
            let help = did_you_mean(label, self.labels());
            Refused::new(format!("there is no line \"{label}\" in this job"), help)
        })
    }

    fn the_joint(&self, joint: &str) -> Result<(), Refused> {
        let names = self.header.joints.iter().map(|j| j.name.as_str());
        if names.clone().any(|n| n == joint) {
            return Ok(());
        }
        Err(Refused::new(format!("there is no joint \"{joint}\" in this frame"), did_you_mean(joint, names)))
    }

    fn check_tick(&self, label: &str, when: Option<When>, now: When) -> Result<Vec<String>, Refused> {
        let item = self.the_item(label)?;
        if let Some(mark) = self.done.get(label) {
            let by = if mark.by.is_empty() { String::new() } else { format!(", by {}", mark.by) };
            let help = if item.is_weld() {
                "if it was welded a second time, use `redo`: it pulls again"
            } else {
                "nothing more to do"
            };
            return Err(Refused::new(format!("{label} is ticked already (record {}{by})", mark.n), help));
        }
        let mut warnings = self.check_time(label, when, now)?;
        if let Task::Pass { below: Some(below), .. } = &item.task
            && self.standing(below) != Standing::Done
        {
            warnings.push(format!("{label} lies on {below}, which is not ticked"));
        }
        if let Task::Pass { setup, .. } = &item.task
            && let Some(lies) = self.setup()
            && &lies != setup
        {
            warnings.push(format!("{label} was planned for \"{setup}\", but the frame lies in \"{lies}\""));
        }
        if item.is_pass() {
            if let GateState::Shut { missing } = self.gate_of(label) {
                return Err(Refused::new(
                    format!("the gate is shut: {} not read as tacked", missing.join("; ")),
                    "measure what is missing, or open the gate with a reason: holdtrue job gate RECORD --because \"…\"",
                ));
            }
            warnings.extend(self.open_before(label));
        }
        Ok(warnings)
    }

    fn check_redo(&self, label: &str, when: Option<When>, now: When) -> Result<Vec<String>, Refused> {
        if !self.the_item(label)?.is_weld() {
            return Err(Refused::new(
                format!("{label} lays no weld metal"),
                "only a tack or a pass can be laid again",
            ));
        }
        if self.standing(label) != Standing::Done {
            return Err(Refused::new(
                format!("{label} is not ticked, so it cannot be laid again"),
                "tick it",
            ));
        }
        self.check_time(label, when, now)
    }

    fn check_time(&self, label: &str, when: Option<When>, now: When) -> Result<Vec<String>, Refused> {
        let Some(when) = when else { return Ok(vec![]) };
        if when.as_second() > now.as_second() + FUTURE_SLACK_S {
            return Err(Refused::new(
                format!("{label} cannot have been done in the future"),
                "check the time, or say that the time is unknown",
            ));
        }
        Ok(if when.as_second() < self.header.began.as_second() {
            vec![format!("{label} is said to have been done before this job began")]
        } else {
            vec![]
        })
    }

    fn check_move(&self, clamp: &str, by_mm: f64) -> Result<Vec<String>, Refused> {
        let clamps = || {
            self.known().filter_map(|i| match &i.task {
                Task::Clamp { clamp } | Task::Release { clamp, .. } => Some(clamp.as_str()),
                _ => None,
            })
        };
        if !clamps().any(|c| c == clamp) {
            return Err(Refused::new(
                format!("there is no clamp \"{clamp}\" in this job"),
                did_you_mean(clamp, clamps()),
            ));
        }
        if by_mm == 0.0 || by_mm.abs() > 20.0 {
            return Err(Refused::new(
                format!("a clamp is not moved by {by_mm} mm"),
                "write how far in mm, with its sign, up to 20",
            ));
        }
        let on = self.clamps_on(self.deeds.len());
        Ok(if on.iter().any(|c| c == clamp) {
            vec![]
        } else {
            vec![format!("clamp {clamp} is not ticked as on: only a closed clamp takes the frame along")]
        })
    }

    fn check_cut(&self, place: &Cut) -> Result<Vec<String>, Refused> {
        match place {
            Cut::Tack(label) => {
                if !matches!(self.the_item(label)?.task, Task::Tack { .. }) {
                    return Err(Refused::new(
                        format!("{label} is no tack"),
                        "a pass is cut out with its whole seam",
                    ));
                }
                if self.standing(label) != Standing::Done {
                    return Err(Refused::new(format!("tack {label} is not ticked"), "nothing to take out"));
                }
            }
            Cut::Seam(seam) => {
                let seams: Vec<&str> = self.known().filter_map(Item::seam).collect();
                if !seams.contains(&seam.as_str()) {
                    return Err(Refused::new(
                        format!("there is no seam \"{seam}\" in this job"),
                        did_you_mean(seam, seams.into_iter()),
                    ));
                }
                if !self.known().any(|i| i.seam() == Some(seam) && self.standing(&i.label) == Standing::Done)
                {
                    return Err(Refused::new(format!("nothing is welded at {seam}"), "nothing to take out"));
                }
            }
        }
        Ok(vec![])
    }

    fn check_reading(&self, control: &str, value: f64, error: f64) -> Result<Vec<String>, Refused> {
        let names = self.header.controls.iter().map(|c| c.name.as_str());
        let Some(c) = self.control(control) else {
            return Err(Refused::new(
                format!("there is no control \"{control}\""),
                did_you_mean(control, names),
            ));
        };
        if error <= 0.0 {
            return Err(Refused::new("a reading error must be above zero", "a tape reads to about 0.5 mm"));
        }
        // Fifty tolerances and five per cent off: a slip of the pen, not a frame.
        let off = (value - c.nominal).abs();
        if off > (50.0 * c.tolerance).max(0.05 * c.nominal.abs()).max(10.0) {
            return Err(Refused::new(
                format!(
                    "{value} {unit} cannot be: {control} is nominally {nominal} {unit}",
                    unit = c.unit,
                    nominal = c.nominal
                ),
                "read it again; a value with a sign (+1.5 or -2) is taken as the deviation from nominal",
            ));
        }
        Ok(vec![])
    }

    fn check_replan(&self, card: &super::card::Card) -> Result<Vec<String>, Refused> {
        if card.revision != self.revision() + 1 {
            return Err(Refused::new(
                format!("the plan was made anew by somebody else: revision {} is in force", self.revision()),
                "look at it first, then re-plan again if it is still needed",
            ));
        }
        let missing: Vec<&str> = self
            .known()
            .filter(|i| i.is_pass() && self.standing(&i.label) != Standing::Done)
            .map(|i| i.label.as_str())
            .filter(|l| !card.items.iter().any(|i| i.label == *l))
            .collect();
        if missing.is_empty() {
            Ok(vec![])
        } else {
            Err(Refused::new(
                format!("the new plan leaves out {}, which is not welded", missing.join(", ")),
                "re-plan from the state as it is now",
            ))
        }
    }

    fn check_withdrawn(&self, n: u64) -> Result<Vec<String>, Refused> {
        let Some(record) = self.records.iter().find(|r| r.n == n) else {
            return Err(Refused::new(format!("there is no record {n}"), ""));
        };
        if self.records.iter().any(|r| r.event == Event::Withdrawn { n }) {
            return Err(Refused::new(format!("record {n} is withdrawn already"), ""));
        }
        match &record.event {
            Event::Started {} => Err(Refused::new("the beginning cannot be taken back", "")),
            Event::Withdrawn { .. } => {
                Err(Refused::new("taking back cannot be taken back", "enter it again"))
            }
            Event::Replanned { .. } => Err(Refused::new(
                "a re-plan cannot be taken back: its sheet may hang on the wall",
                "re-plan again",
            )),
            _ => Ok(vec![]),
        }
    }
}

/// The event that takes back the last thing that was entered.
///
/// # Errors
/// There is nothing that could be taken back.
pub fn undo(job: &Job) -> Result<Event, Refused> {
    let gone = |n: u64| job.records.iter().any(|r| r.event == Event::Withdrawn { n });
    let last = job
        .records
        .iter()
        .rev()
        .filter(|r| !matches!(r.event, Event::Withdrawn { .. }) && !gone(r.n))
        .map(|r| r.n)
        .next();
    let none = || Refused::new("there is nothing to take back", "");
    let n = last.ok_or_else(none)?;
    job.check_withdrawn(n).map_err(|r| if n == 1 { none() } else { r })?;
    Ok(Event::Withdrawn { n })
}

/// Find a name without regard to case.
pub(super) fn find<'a>(name: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let mut loose = None;
    for n in names {
        if n == name {
            return Some(n);
        }
        if same_name(n, name) {
            loose.get_or_insert(n);
        }
    }
    loose
}

impl Job {
    /// A control by name or by a part of it that no other has, without regard to case.
    ///
    /// # Errors
    /// Unknown or of several meanings; with the names that may be meant.
    pub fn find_control(&self, name: &str) -> Result<&str, Refused> {
        let names = self.header.controls.iter().map(|c| c.name.as_str());
        if let Some(found) = find(name, names.clone()) {
            return Ok(found);
        }
        // A part of a name will do, if only one name has it.
        let part = name.to_lowercase();
        let hits: Vec<&str> = names.clone().filter(|n| n.to_lowercase().contains(&part)).collect();
        match hits.as_slice() {
            [one] => Ok(one),
            [] => Err(Refused::new(
                format!("there is no control \"{name}\""),
                match did_you_mean(name, names.clone()) {
                    near if near.starts_with("did") => near,
                    _ => format!("controls are: {}", names.collect::<Vec<_>>().join("; ")),
                },
            )),
            _ => Err(Refused::new(
                format!("\"{name}\" may be {}", hits.join(" or ")),
                "write more of the name",
            )),
        }
    }

    /// A clamp by name, without regard to case.
    ///
    /// # Errors
    /// Unknown; with the nearest name.
    pub fn find_clamp(&self, name: &str) -> Result<&str, Refused> {
        let names = || {
            self.known().filter_map(|i| match &i.task {
                Task::Clamp { clamp } | Task::Release { clamp, .. } => Some(clamp.as_str()),
                _ => None,
            })
        };
        find(name, names()).ok_or_else(|| {
            Refused::new(format!("there is no clamp \"{name}\" in this job"), did_you_mean(name, names()))
        })
    }

    /// A joint by name, without regard to case.
    ///
    /// # Errors
    /// Unknown; with the nearest name.
    pub fn find_joint(&self, name: &str) -> Result<&str, Refused> {
        let names = self.header.joints.iter().map(|j| j.name.as_str());
        find(name, names.clone()).ok_or_else(|| {
            Refused::new(format!("there is no joint \"{name}\" in this frame"), did_you_mean(name, names))
        })
    }

    /// What a person may call "taken out": a seam (`J7a`), a tack (`J7a-t2`) or a joint (`J7`, all
    /// its seams), without regard to case.
    ///
    /// # Errors
    /// Unknown; with the nearest name.
    pub fn find_cut(&self, name: &str) -> Result<Vec<Cut>, Refused> {
        let tacks: Vec<&str> =
            self.known().filter(|i| matches!(i.task, Task::Tack { .. })).map(|i| i.label.as_str()).collect();
        if let Some(tack) = find(name, tacks.iter().copied()) {
            return Ok(vec![Cut::Tack(tack.into())]);
        }
        let mut seams: Vec<(&str, &str)> =
            self.known().filter_map(|i| Some((i.joint()?, i.seam()?))).collect();
        seams.sort();
        seams.dedup();
        if let Some(seam) = find(name, seams.iter().map(|s| s.1)) {
            return Ok(vec![Cut::Seam(seam.into())]);
        }
        let at: Vec<Cut> =
            seams.iter().filter(|s| same_name(s.0, name)).map(|s| Cut::Seam(s.1.into())).collect();
        if at.is_empty() {
            let names = tacks.iter().copied().chain(seams.iter().flat_map(|s| [s.0, s.1]));
            return Err(Refused::new(
                format!("there is no seam, tack or joint \"{name}\""),
                did_you_mean(name, names),
            ));
        }
        Ok(at)
    }
}
