//! Planning the rest anew from the page: on a thread of its own, one at a time, never in the page's way.

use super::board::{self, Board, Seen};
use super::page::{Ask, marks_for};
use super::words::Say;
use crate::job::learn::Forecast;
use crate::job::{Anew, Asked, Card, ControlCard, Event, Refused, again_advised, read_again};
use crate::output::json;
use crate::plan::{Effort, Levers, Watch};
use maud::{Markup, html};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};
use std::sync::{Arc, PoisonError};

/// How a re-plan from the page stands.
#[derive(Debug, Clone, Default)]
pub enum Planning {
    /// None was begun since the server was started.
    #[default]
    None,
    /// It runs.
    Running {
        /// Who began it.
        by: String,
        /// Tenths of the search that are done.
        tenths: u8,
    },
    /// The new sheet is in force.
    Done(Arc<Outcome>),
    /// There is no new sheet; why.
    Failed(String),
}

/// What a re-plan came to.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Revision of the new sheet.
    pub revision: u32,
    /// For each control the end by the old order and by the new one, and what order can still do about it;
    /// empty if no pull is predicted.
    pub ends: Vec<(Forecast, Forecast, &'static str)>,
    /// Joints whose learnt factor is out of range and was not used.
    pub refused: Vec<String>,
}

impl Planning {
    /// A figure that differs whenever there is something new to be seen.
    pub fn mark(&self) -> usize {
        match self {
            Planning::None => 0,
            Planning::Running { tenths, .. } => 1 + usize::from(*tenths),
            Planning::Failed(why) => 100 + why.len(),
            Planning::Done(o) => 10_000 + o.revision as usize,
        }
    }
}

/// The effort that a form names.
///
/// # Errors
/// It names none.
pub fn effort(word: &str) -> Result<Effort, Refused> {
    match word {
        "quick" => Ok(Effort::Quick),
        "" | "normal" => Ok(Effort::Normal),
        "deep" => Ok(Effort::Deep),
        other => Err(Refused::new(format!("\"{other}\" is no effort"), "quick, normal or deep")),
    }
}

/// Begin a re-plan; it goes on beside this. `id` is the name of the entry.
///
/// # Errors
/// One is running, or there is nothing to plan.
pub fn begin(board: &Arc<Board>, effort: Effort, by: &str, id: &str) -> Result<(), Refused> {
    let job = board.job();
    if job.records.iter().any(|r| r.id == id) {
        return Ok(());
    }
    job.can_be_planned_anew()?;
    let mut running = board.planning.lock().unwrap_or_else(PoisonError::into_inner);
    if running.is_some() {
        return Err(Refused::new("the rest is being planned anew already", "wait for the new sheet"));
    }
    let stop = Arc::new(AtomicBool::new(false));
    *running = Some(stop.clone());
    drop(running);
    show(board, Planning::Running { by: by.into(), tenths: 0 });
    let (board, by, id) = (board.clone(), by.to_string(), id.to_string());
    std::thread::spawn(move || {
        // A fault of the planner must not leave the page saying that it plans for ever.
        let ended = catch_unwind(AssertUnwindSafe(|| work_out(&board, effort, &by, &id, &stop)));
        let ended = ended.unwrap_or_else(|_| Err("the program has a fault here".into()));
        *board.planning.lock().unwrap_or_else(PoisonError::into_inner) = None;
        show(&board, ended.map_or_else(Planning::Failed, |o| Planning::Done(Arc::new(o))));
    });
    Ok(())
}

/// Ask a re-plan that runs to take the best order so far.
///
/// # Errors
/// None runs.
pub fn enough(board: &Board) -> Result<(), Refused> {
    match &*board.planning.lock().unwrap_or_else(PoisonError::into_inner) {
        Some(stop) => {
            stop.store(true, Ordering::Relaxed);
            Ok(())
        }
        None => Err(Refused::new("nothing is being planned", "")),
    }
}

fn show(board: &Board, planning: Planning) {
    board.seen.send_modify(|s| *s = Arc::new(Seen { planning, ..(**s).clone() }));
}

fn work_out(board: &Board, effort: Effort, by: &str, id: &str, stop: &AtomicBool) -> Result<Outcome, String> {
    let job = board.job();
    let floor = board::floor(&job)?;
    let tenths = AtomicU8::new(0);
    let progress = |done: f64, _: f64| {
        let now = (10.0 * done.clamp(0.0, 1.0)) as u8;
        if tenths.fetch_max(now, Ordering::Relaxed) < now {
            show(board, Planning::Running { by: by.into(), tenths: now });
        }
    };
    let watch = Watch { stop, progress: Box::new(progress) };
    // Clamps and heat stay as they are: who moves those stands at the machine, with the command.
    let levers = Levers { set_to: false, ..Levers::default() };
    let asked = Asked { effort, seed: None, levers };
    let Anew { plan, reach, said, refused } =
        floor.replan(&job, &asked, super::words::now(), &watch).map_err(|e| e.words())?;
    let event = Event::Replanned {
        card: Card::of(&plan),
        plan: json::json(&plan),
        why: "asked for at the page".into(),
    };
    let (_, after) = board.enter(event, by, id, super::words::now()).map_err(|e| super::words::error(&e))?;
    let mut ends = vec![];
    if let Some(said) = said
        && let Ok(Some(new)) = floor.said(&after)
    {
        let both = said.outlook.iter().zip(&new.outlook).enumerate();
        ends = both
            .map(|(i, (old, new))| {
                let words = reach.get(i).map_or("", |r| r.words(after.header.controls[i].tolerance));
                (old.after, new.after, words)
            })
            .collect();
    }
    Ok(Outcome { revision: plan.revision, ends, refused })
}

/// In one line above the step: what calls for a look at the plan. Empty: nothing does.
pub fn call(seen: &Seen) -> String {
    match &seen.planning {
        Planning::Running { .. } => {
            "The rest is being planned anew: finish the pass you are at, then wait.".into()
        }
        _ => {
            let why = reasons(seen);
            if why.is_empty() { String::new() } else { format!("Plan the rest anew: {}.", why.join("; ")) }
        }
    }
}

fn reasons(seen: &Seen) -> Vec<String> {
    let none = BTreeMap::new();
    again_advised(&seen.job, seen.pull.as_ref().map_or(&none, |p| &p.1.judged))
}

/// Readings of this moment that nobody should believe without a second one, each with a place to enter it.
pub fn doubtful(seen: &Seen) -> Vec<&ControlCard> {
    let Some((_, pull)) = &seen.pull else { return vec![] };
    read_again(&seen.job, &pull.judged).into_iter().map(|i| &seen.job.header.controls[i]).collect()
}

/// The section about the plan.
pub fn section(seen: &Seen, ask: Ask) -> Markup {
    let why = reasons(seen);
    let can = seen.job.can_be_planned_anew();
    html! {
        h2 #anew-head { "The plan" }
        @match &seen.planning {
            Planning::None => {}
            Planning::Running { by, tenths } => {
                p.notice role="status" {
                    strong { "The rest is being planned anew" } ", asked for by " (by) ". "
                    @if *tenths > 0 { "The search is at " (u32::from(*tenths) * 10) " %. " }
                    "Finish the pass you are at, tick it, then wait: a pass that is begun now may stand elsewhere on the new sheet."
                }
                form.plain method="post" action="/do" data-direct="yes" {
                    (marks_for(ask.job_id))
                    button type="submit" name="do" value="replan-enough" { "Take the best order so far" }
                }
            }
            Planning::Failed(why) => { p.notice { strong { "No new plan: " } (why) ". The old sheet stays in force." } }
            Planning::Done(outcome) => { (done(seen, outcome)) }
        }
        @if !matches!(seen.planning, Planning::Running { .. }) {
            @match can {
                Err(r) => { p { (super::words::sentence(&r.what)) } }
                Ok(()) => {
                    @if why.is_empty() {
                        p { "Nothing calls for another order." }
                    } @else {
                        p { strong { "Planning the rest anew is advised: " } (why.join("; ")) "." }
                    }
                    form.plain method="post" action="/do" data-direct="yes" {
                        (marks_for(ask.job_id))
                        label for="effort" { "How long may it look for a better order?" }
                        div.entry {
                            select #effort name="effort" {
                                option value="quick" { "a second or so" }
                                option value="normal" selected { "some seconds" }
                                option value="deep" { "as long as it pays" }
                            }
                            button type="submit" name="do" value="replan" { "Plan the rest anew" }
                        }
                    }
                    p.small {
                        "Nothing that is welded is touched, labels stay, and every printed sheet becomes void. The order and "
                        "the direction of what is left may change; clamps and settings stay. To use those too, at the machine: "
                        code { "holdtrue job replan" } "."
                    }
                }
            }
        }
        p.small {
            "Also at the machine: laid a second time " code { "holdtrue job redo" } ", taken out again " code { "holdtrue job cut" }
            ", all done " code { "holdtrue job finish" } "."
        }
    }
}

fn done(seen: &Seen, outcome: &Outcome) -> Markup {
    let say = Say { units: seen.units };
    html! {
        p.notice {
            strong { "Revision " (outcome.revision) " is in force." } " Every printed sheet of revision " (outcome.revision - 1)
            " and earlier is void: take it down."
        }
        @if !outcome.ends.is_empty() {
            p { "What it changes at the end, cold and free, against nominal:" }
            ul {
                @for (c, (old, new, words)) in seen.job.header.controls.iter().zip(&outcome.ends) {
                    li {
                        (c.name) ": by the old order " (say.change(c, old.deviation)) ", by the new one " strong {
                            (say.change(c, new.deviation)) " ± " (say.spread(c, new.scatter))
                        }
                        ", tolerance ±" (say.band(c, c.tolerance))
                        @if !words.is_empty() { "; " (words) }
                    }
                }
            }
        }
        @if !outcome.refused.is_empty() {
            p { "What was learnt of " (outcome.refused.join(", ")) " is out of range and was not used." }
        }
    }
}
