//! Two that ticked one line: the second tick changes nothing, but it stands in the record as a note and is
//! shown to everybody, for the pass may have been welded twice.

use super::board::Seen;
use super::words;
use crate::job::{Event, Job, Record, When};
use maud::{Markup, html};
use serde_json::{Value, json};

/// What the name of such a note begins with.
const MARK: &str = "clash-";
/// For how long it is shown, s.
const SHOWN_S: i64 = 12 * 3600;

/// The name of the note about the entry `id`.
pub fn id(id: &str) -> String {
    format!("{MARK}{id}")
}

/// Whether a record is such a note.
pub fn is(record: &Record) -> bool {
    record.id.starts_with(MARK) && matches!(record.event, Event::Note { .. })
}

/// What is written down about a tick that was refused because the line is done already.
pub fn note(job: &Job, event: &Event) -> Option<Event> {
    let Event::Ticked { label, when, .. } = event else { return None };
    let mark = job.done.get(label)?;
    let at = |t: Option<When>| {
        t.map_or("at a time that is not known".into(), |t| format!("at {}", words::clock(t)))
    };
    let by = if mark.by.is_empty() { String::new() } else { format!(" by {}", mark.by) };
    Some(Event::Note {
        text: format!(
            "{label} was ticked twice: it stands as done{by} {}, and was also said to be done {}",
            at(mark.when),
            at(*when)
        ),
    })
}

/// The newest of them: for the script as data, without a script as they are.
pub fn shown(seen: &Seen, now: When) -> Markup {
    let recent = |r: &&Record| is(r) && now.as_second() - r.at.as_second() < SHOWN_S;
    let list: Vec<Value> = seen
        .job
        .records
        .iter()
        .filter(recent)
        .filter_map(|r| match &r.event {
            Event::Note { text } => Some(json!({"id": r.id, "what": format!("{text}, by {}.", r.by)})),
            _ => None,
        })
        .collect();
    html! {
        div #clashes hidden data-list=(Value::from(list.clone()).to_string()) {}
        @if let Some(last) = list.last() {
            noscript { p.notice role="alert" { strong { "Ticked twice: " } (last["what"].as_str().unwrap_or_default()) } }
        }
    }
}
