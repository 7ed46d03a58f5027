//! Where a job went another way than its sheet: what a weld record must not hide.

use super::card::Task;
use super::event::{Cut, Event, When};
use super::gate::GateState;
use super::state::{DeedKind, Job, Standing};
use std::collections::BTreeMap;

/// A joint that was warmer than its limit by more than this when a pass was begun is a deviation, °C:
/// as much as a crayon or a contact thermometer may be off. Common practice, no source.
const TOO_WARM_C: f64 = 10.0;
/// Longest list in one sentence; more are counted.
const NAMED: usize = 12;

/// Every deviation as one sentence, in order of importance. `before_c`: what the heat model says of the
/// joint at the start of each pass, by number of its record. `say`: how a moment is written.
pub fn deviations(job: &Job, before_c: &BTreeMap<u64, f64>, say: &dyn Fn(When) -> String) -> Vec<String> {
    let mut out = vec![];
    let open: Vec<String> = job.open().iter().filter(|i| i.is_weld()).map(|i| i.label.clone()).collect();
    if !open.is_empty() {
        out.push(format!("Not welded: {}.", named(&open)));
    }
    for gate in job.all_gates() {
        match gate {
            GateState::OpenedWithout(why) => {
                out.push(format!("Weld-out was begun without all as-tacked readings: {}.", or_none(&why)))
            }
            GateState::Passed { unread } if !unread.is_empty() => {
                out.push(format!("Not read as tacked: {}.", named(&unread)));
            }
            _ => {}
        }
    }
    laid_twice_or_cut(job, &mut out);
    let mut reversed = vec![];
    let mut settings = vec![];
    let mut unknown = vec![];
    let mut over = vec![];
    let mut warm = vec![];
    let mut laid: Vec<&str> = vec![];
    for d in &job.deeds {
        let DeedKind::Laid { label, settings: used, again, .. } = &d.kind else { continue };
        let Some(Task::Pass { below, under_c, forward, .. }) = job.item(label).map(|i| &i.task) else {
            continue;
        };
        if let DeedKind::Laid { forward: really, .. } = &d.kind
            && really != forward
        {
            reversed.push(label.clone());
        }
        if used.is_some() {
            settings.push(label.clone());
        }
        if d.when.is_none() {
            unknown.push(label.clone());
        }
        if !again && below.as_deref().is_some_and(|b| !laid.contains(&b)) {
            over.push(label.clone());
        }
        if let Some(c) = before_c.get(&d.n)
            && d.when.is_some()
            && *c > under_c + TOO_WARM_C
        {
            warm.push(format!("{label} (about {c:.0} °C, limit {under_c:.0} °C)"));
        }
        laid.push(label);
    }
    let mut list = |words: &str, labels: &[String]| {
        if !labels.is_empty() {
            out.push(format!("{words}: {}.", named(labels)));
        }
    };
    list("Laid before the layer under it was ticked", &over);
    list("Begun above the interpass limit, by the heat model", &warm);
    list("Laid with other settings than on the sheet", &settings);
    list("Laid against the direction of the sheet", &reversed);
    list("Laid out of the order of the sheet", &out_of_order(job));
    list("Time of welding unknown", &unknown);
    let passed_over: Vec<String> = job
        .card()
        .items
        .iter()
        .filter(|i| matches!(i.task, Task::Hold { .. }) && job.standing(&i.label) != Standing::Done)
        .map(|i| i.label.clone())
        .collect();
    list("Hold points not ticked", &passed_over);
    for (label, why) in &job.skipped {
        out.push(format!("{label} was skipped: {}.", or_none(why)));
    }
    let gone: Vec<u64> = job
        .records
        .iter()
        .filter_map(|r| if let Event::Withdrawn { n } = r.event { Some(n) } else { None })
        .collect();
    if !gone.is_empty() {
        let words: Vec<String> = gone.iter().map(u64::to_string).collect();
        out.push(format!("Records taken back: {}.", named(&words)));
    }
    for (label, n) in &job.undone {
        let record = job.records.iter().find(|r| r.n == *n);
        let when = record.map_or(String::new(), |r| format!(" on {}", say(r.at)));
        out.push(format!("The tick of {label} was taken back{when}."));
    }
    out.extend(job.remarks.iter().map(|r| format!("{}.", capital(r))));
    out
}

fn laid_twice_or_cut(job: &Job, out: &mut Vec<String>) {
    for r in &job.records {
        if job.records.iter().any(|o| o.event == (Event::Withdrawn { n: r.n })) {
            continue;
        }
        match &r.event {
            Event::Redone { label, why, .. } => {
                out.push(format!("{label} was laid again: {}.", or_none(why)))
            }
            Event::Cut { place: Cut::Seam(n) | Cut::Tack(n), why } => {
                out.push(format!("{n} was cut out: {}.", or_none(why)));
            }
            _ => {}
        }
    }
}

/// Passes that were laid after one that the sheet of their time has later.
fn out_of_order(job: &Job) -> Vec<String> {
    let mut out = vec![];
    let mut card = 0;
    let mut highest = 0;
    let mut deeds = job.deeds.iter().peekable();
    for r in &job.records {
        if let Event::Replanned { .. } = r.event {
            (card, highest) = (card + 1, 0);
        }
        let Some(d) = deeds.next_if(|d| d.n == r.n) else { continue };
        let DeedKind::Laid { label, again: false, .. } = &d.kind else { continue };
        let on_sheet = job.cards.get(card).and_then(|c| c.items.iter().find(|i| &i.label == label));
        match on_sheet {
            Some(i) if i.number < highest => out.push(label.clone()),
            Some(i) => highest = i.number,
            None => out.push(label.clone()),
        }
    }
    out
}

fn named(list: &[String]) -> String {
    let more = list.len().saturating_sub(NAMED);
    let shown = list[..list.len() - more].join(", ");
    if more == 0 { shown } else { format!("{shown} and {more} more") }
}

fn or_none(why: &str) -> &str {
    if why.is_empty() { "no reason given" } else { why.trim_end_matches('.') }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}
