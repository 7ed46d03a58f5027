//! What to do now.

use super::card::{Item, Task};
use super::state::{Job, Standing};

/// What to do now, and what could be done instead.
#[derive(Debug, Clone, PartialEq)]
pub struct Next<'a> {
    /// The line to do now; `None` when nothing is left.
    pub now: Option<&'a Item>,
    /// The line that the sheet has next, if it must wait for heat: (line, minutes).
    pub held_up: Option<(&'a Item, f64)>,
    /// Passes that can be welded without turning or measuring first, in the order of the sheet, with
    /// the minutes until their joint is cool enough.
    pub ready: Vec<Ready<'a>>,
    /// The lines after `now`, in order.
    pub then: Vec<&'a Item>,
    /// In words, why this line; empty if it is simply the next one.
    pub why: String,
}

/// A pass that can be welded, and when.
#[derive(Debug, Clone, PartialEq)]
pub struct Ready<'a> {
    /// The pass.
    pub item: &'a Item,
    /// Minutes until it is under its interpass limit; 0 = now.
    pub minutes: f64,
}

/// How many lines [`Next::then`] shows.
const AHEAD: usize = 4;

/// What to do now. `minutes` says how long a pass must still wait for its joint to cool (0 if it can
/// be welded now). A pass that is too warm gives way to the first later pass that is not; a line
/// that is not a pass (turn, hold, clamp …) is never jumped over.
pub fn next<'a>(job: &'a Job, minutes: &dyn Fn(&Item) -> f64) -> Next<'a> {
    next_of(job, job.open(), minutes)
}

/// As [`next`], with only those open lines in view that are somebody's: the passes of one welder, say,
/// and what is everybody's.
pub fn next_of<'a>(job: &'a Job, open: Vec<&'a Item>, minutes: &dyn Fn(&Item) -> f64) -> Next<'a> {
    let mut nothing = Next { now: None, held_up: None, ready: vec![], then: vec![], why: String::new() };
    if job.finished.is_some() {
        nothing.why = "this job is finished".into();
        return nothing;
    }
    // A wait is over when the pass after it is cool enough; nobody has to tick it.
    let lines: Vec<&Item> = open.iter().copied().filter(|i| !wait_is_over(i, &open, minutes)).collect();
    let Some(&first) = lines.first() else { return nothing };
    let ready = ready(job, &lines, minutes);
    let (mut now, mut held_up, mut why) = (first, None, String::new());
    let wait = waiting(first, &lines, minutes);
    if wait > 0.0 {
        let cool = ready.iter().find(|r| r.minutes <= 0.0);
        let pass = lines.iter().copied().find(|i| i.is_pass()).unwrap_or(first);
        held_up = Some((pass, wait));
        match cool {
            Some(r) => {
                now = r.item;
                why = format!("{} is still too warm ({wait:.0} min); this one is cool enough", pass.label);
            }
            None => why = format!("nothing is cool enough: {} in {wait:.0} min", pass.label),
        }
    } else if job.standing(&first.label) == Standing::Skipped {
        why = "it was skipped before".into();
    } else if !job.card().items.iter().any(|i| i.label == first.label) {
        why = "it was taken out and stands on no sheet: weld it again, better after a re-plan".into();
    }
    let then = lines.iter().copied().filter(|i| i.label != now.label).take(AHEAD).collect();
    Next { now: Some(now), held_up, ready, then, why }
}

/// Minutes for which the first line must wait: its own, or, if it is a wait, that of the pass after.
fn waiting(first: &Item, lines: &[&Item], minutes: &dyn Fn(&Item) -> f64) -> f64 {
    match first.task {
        Task::Pass { .. } => minutes(first).max(0.0),
        Task::Wait { .. } => lines.iter().find(|i| i.is_pass()).map_or(0.0, |i| minutes(i).max(0.0)),
        _ => 0.0,
    }
}

fn wait_is_over(item: &Item, open: &[&Item], minutes: &dyn Fn(&Item) -> f64) -> bool {
    if !matches!(item.task, Task::Wait { .. }) {
        return false;
    }
    let after = open.iter().skip_while(|i| i.label != item.label).nth(1);
    // Only a wait directly before a pass is about that pass; other waits (all cold before the clamps
    // come off) are ticked.
    after.is_some_and(|i| i.is_pass() && minutes(i) <= 0.0)
}

/// Passes before the first line that must not be jumped over.
fn ready<'a>(job: &Job, lines: &[&'a Item], minutes: &dyn Fn(&Item) -> f64) -> Vec<Ready<'a>> {
    lines
        .iter()
        .take_while(|i| matches!(i.task, Task::Pass { .. } | Task::Wait { .. }))
        .filter(|i| match &i.task {
            Task::Pass { below, .. } => below.as_ref().is_none_or(|b| job.standing(b) == Standing::Done),
            _ => false,
        })
        .map(|i| Ready { item: i, minutes: minutes(i).max(0.0) })
        .collect()
}
