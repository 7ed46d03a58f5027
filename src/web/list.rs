//! All lines of the sheet: how each stands, and what can be done about it.

use super::board::Seen;
use super::page::{Ask, marks_for};
use super::step::{kind, letter, query};
use super::words::{self, Say};
use crate::job::{Item, Standing, Task};
use maud::{Markup, html};

/// The part that changes with the record.
pub fn parts(seen: &Seen, ask: Ask) -> Markup {
    let job = &*seen.job;
    let lost: Vec<&Item> = job.lost().collect();
    html! {
        section data-part="list" aria-labelledby="lines" {
            h2 #lines tabindex="-1" { "All lines" @if job.revision() > 0 { ", revision " (job.revision()) } }
            @if let Some(t) = &seen.trouble { p.notice role="alert" { strong { "The record: " } (t) } }
            ol.lines {
                @for item in &job.card().items { (line(seen, item, &item.number.to_string(), ask)) }
                @for item in lost { (line(seen, item, "–", ask)) }
            }
        }
    }
}

fn line(seen: &Seen, item: &Item, number: &str, ask: Ask) -> Markup {
    let job = &*seen.job;
    let who = match &item.task {
        Task::Pass { welder, .. } if seen.welders() > 1 => format!(", welder {}", letter(*welder)),
        _ => String::new(),
    };
    let standing = job.standing(&item.label);
    let (sign, state) = match standing {
        Standing::Done => ("✓", "done"),
        Standing::Open => ("☐", "open"),
        Standing::Skipped => ("↷", "passed over"),
    };
    let mark = job.done.get(&item.label);
    html! {
        li.one class=(state.replace(' ', "-")) data-label=(item.label) {
            span.sign aria-hidden="true" { (sign) }
            div.what {
                p { span.no { (number) } " " span.kind { (kind(item)) } " " strong { (item.label) } }
                p { (Say { units: seen.units }.sentence(&item.words())) (who) }
                p.state {
                    (state)
                    @if let Some(m) = mark {
                        @if let Some(t) = m.when { ", " (words::clock(t)) }
                        @if !m.by.is_empty() { ", by " (m.by) }
                        @if m.times > 1 { ", laid " (m.times) " times" }
                    }
                    @if let Some(why) = job.skipped.get(&item.label).filter(|w| !w.is_empty()) { ": " (why) }
                }
            }
            @if standing == Standing::Done {
                form method="post" action="/do" {
                    input type="hidden" name="label" value=(item.label);
                    input type="hidden" name="back" value="/list";
                    (marks_for(ask.job_id))
                    button type="submit" name="do" value="untick" aria-label={ (item.label) " was not done" } { "Not done" }
                }
            } @else {
                a.button href={ "/?step=" (query(&item.label)) } aria-label={ "show " (item.label) } { "Show" }
            }
        }
    }
}
