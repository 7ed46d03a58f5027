//! Times, names and errors as the page says them.

use crate::job::{Cut, Event, When};
use crate::journal::Error;

/// The clock of this machine: the only place where the page looks at it.
pub fn now() -> When {
    When::now()
}

/// Time of day on this machine's clock; with the date if it is not today.
pub fn clock(t: When) -> String {
    let zone = jiff::tz::TimeZone::system();
    let (then, today) = (zone.to_datetime(t), zone.to_datetime(now()));
    let form = if then.date() == today.date() { "%H:%M" } else { "%Y-%m-%d %H:%M" };
    then.strftime(form).to_string()
}

/// An error of the record with what to do about it.
pub fn error(e: &Error) -> String {
    match e.help() {
        Some(help) => format!("{e}: {help}"),
        None => e.to_string(),
    }
}

/// A name that somebody gave himself, fit for the record: short, one line, no control characters.
pub fn name(typed: &str) -> String {
    let clean: String = typed.chars().filter(|c| !c.is_control()).collect();
    clean.trim().chars().take(40).collect()
}

/// A time that is left, `1:05` in minutes and seconds.
pub fn left(seconds: f64) -> String {
    let s = seconds.ceil().max(0.0) as u64;
    format!("{}:{:02}", s / 60, s % 60)
}

/// A unit as it is printed.
pub fn unit(unit: &str) -> &str {
    if unit == "deg" { "°" } else { "mm" }
}

/// A remark that somebody typed: one line, not endless.
pub fn note(typed: &str) -> String {
    let line: String = typed.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    line.trim().chars().take(500).collect()
}

/// A record in a few words.
pub fn event(e: &Event) -> String {
    match e {
        Event::Started {} => "begun".into(),
        Event::Ticked { label, .. } => format!("{label} done"),
        Event::Unticked { label, .. } => format!("{label} not done"),
        Event::Skipped { label, .. } => format!("{label} passed over for now"),
        Event::Redone { label, .. } => format!("{label} laid again"),
        Event::Cut { place: Cut::Seam(n) | Cut::Tack(n), .. } => format!("{n} taken out"),
        Event::Measured { control, value, .. } => format!("{control} read as {value}"),
        Event::Moved { clamp, along, by_mm } => format!("clamp {clamp} moved {by_mm} mm along {along}"),
        Event::Temperature { joint, value_c } => format!("{joint} at {value_c} °C"),
        Event::Gap { joint, value_mm } => format!("gap at {joint} {value_mm} mm"),
        Event::Note { text } => format!("note: {text}"),
        Event::GateOpened { .. } => "weld-out opened".into(),
        Event::Replanned { card, .. } => format!("new sheet, revision {}", card.revision),
        Event::Withdrawn { n } => format!("record {n} taken back"),
        Event::Finished { .. } => "finished".into(),
    }
}
