//! The page itself: made here whole, so that it works without a script; the script then keeps its
//! parts new.

use super::board::Seen;
use super::pairing;
use super::pull::Row;
use super::step::{self, card, digits};
use super::words;
use crate::job::{Event, Job, When};
use crate::output::safety::{Caution, DEFERRAL_LINE};
use crate::units::{signed_to, trim};
use maud::{DOCTYPE, Markup, html};

/// What a page is made from besides what is seen.
#[derive(Clone, Copy)]
pub struct Ask<'a> {
    /// Tells this job from others.
    pub job_id: &'a str,
    /// The line that somebody chose himself.
    pub picked: Option<&'a str>,
    /// The line that stands before him already.
    pub keep: Option<&'a str>,
    /// Who sits before it.
    pub name: &'a str,
}

/// The frame of every page.
pub fn whole(seen: &Seen, ask: Ask, view: &str, title: &str, body: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="/icon.svg";
                script src="/page.js" defer {}
            }
            body data-job=(ask.job_id) data-view=(view) data-revision=(seen.revision()) data-step=(ask.picked.unwrap_or("")) {
                (body)
                footer { p { (DEFERRAL_LINE) } }
            }
        }
    }
}

/// The page of the work.
pub fn work(seen: &Seen, ask: Ask, now: When) -> Markup {
    let title = seen.job.header.name.clone();
    let body = html! {
        a.skip href="#steps" { "To the step" }
        (header(seen, "work"))
        p #net .notice hidden role="status" {}
        div #conflicts role="alert" {}
        main {
            (steps(seen, ask, now))
            section #look aria-labelledby="look-head" hidden {
                h2 #look-head { "The frame" }
                div #turn tabindex="0" role="img" aria-label="The frame as lines; arrow keys turn it" {}
                p #look-words {}
                div.keys role="group" aria-label="Turn the frame" {
                    button type="button" data-turn="left" { "Left" }
                    button type="button" data-turn="right" { "Right" }
                    button type="button" data-turn="up" { "Up" }
                    button type="button" data-turn="down" { "Down" }
                    button type="button" data-turn="back" { "As it lies" }
                }
            }
            (rest(seen, ask))
            section #note aria-labelledby="note-head" {
                h2 #note-head { "Note" }
                form method="post" action="/do" {
                    input type="hidden" name="do" value="note";
                    (marks_for(ask.job_id))
                    label for="note-words" { "Something to remember" }
                    input #note-words name="words" type="text" maxlength="500" autocomplete="off";
                    button type="submit" { "Write it down" }
                }
                @if !ask.name.is_empty() { p { "Entries from here carry the name " strong { (ask.name) } "." } }
            }
            section #cautions aria-labelledby="cautions-head" {
                h2 #cautions-head { "Cautions" }
                (cautions(&seen.cautions))
            }
        }
        div.dock role="region" aria-label="Tick" {
            p #say role="status" {}
            (bar(seen, ask, now))
        }
    };
    whole(seen, ask, "work", &title, body)
}

/// Head of a page: name, progress, the way to everything else.
fn header(seen: &Seen, view: &str) -> Markup {
    let h = &seen.job.header;
    html! {
        header {
            h1 { (h.name) }
            nav aria-label="Pages" {
                @if view == "list" { a href="/" { "Now" } } @else { a href="/list" { "All lines" } }
                @if view != "list" { a href="#pull" { "Pull" } }
                a href={ @if view == "list" { "/" } "#cautions" } { "Cautions" }
            }
        }
    }
}

/// Everything that changes with the record; the script replaces each part that is new.
pub fn parts(seen: &Seen, ask: Ask, now: When) -> Markup {
    html! { (steps(seen, ask, now)) (rest(seen, ask)) (bar(seen, ask, now)) }
}

/// Progress and the steps.
fn steps(seen: &Seen, ask: Ask, now: When) -> Markup {
    let job = &*seen.job;
    let lines = step::lines(seen, job, ask.picked, ask.keep, now);
    html! {
        section data-part="progress" { (progress(seen)) }
        section data-part="steps" aria-labelledby="steps-head" {
            h2 #steps-head .quiet { "Now, and next" }
            @if lines.cards.is_empty() {
                p.all-done { @if job.finished.is_some() { "This job is finished." } @else { "Every line is done. Finish the job at the machine: " code { "holdtrue job finish" } } }
            }
            ol #steps tabindex="-1" {
                @for (i, item) in lines.cards.iter().enumerate() {
                    (card(seen, item, i == 0, &lines.why, now))
                }
            }
        }
    }
}

/// The last entry, and the pull.
fn rest(seen: &Seen, ask: Ask) -> Markup {
    let job = &*seen.job;
    html! {
        section data-part="last" aria-labelledby="last-head" { (last(job, ask)) }
        section data-part="pull" #pull aria-labelledby="pull-head" { (pull(seen)) }
    }
}

/// The big button for the line that stands first.
fn bar(seen: &Seen, ask: Ask, now: When) -> Markup {
    let job = &*seen.job;
    let lines = step::lines(seen, job, ask.picked, ask.keep, now);
    let label = lines.cards.first().map_or("", |i| i.label.as_str());
    html! {
        div data-part="bar" {
            @if !label.is_empty() && job.finished.is_none() {
                form #done method="post" action="/do" {
                    input type="hidden" name="label" value=(label);
                    (marks_for(ask.job_id))
                    button.side type="submit" name="do" value="skip" { "Not now" }
                    button.main type="submit" name="do" value="tick" { "Done" span.what { (label) } }
                }
            }
        }
    }
}

fn progress(seen: &Seen) -> Markup {
    let job = &*seen.job;
    let (done, all) = job.passes_done();
    let (open, revision) = (job.open().len(), job.revision());
    html! {
        p.progress-words {
            strong { (done) " of " (all) } " passes welded, " (open) " lines open. Plan " (job.card().plan_id)
            @if revision > 0 { ", revision " (revision) ": sheets of revision " (revision - 1) " and earlier are void" }
            "."
        }
        progress value=(done) max=(all.max(1)) aria-label="passes welded" {}
        @if let Some(t) = &seen.trouble { p.notice role="alert" { strong { "The record: " } (t) } }
        div #done-labels hidden data-labels=(done_labels(job)) data-setup=(job.setup().unwrap_or_default()) {}
    }
}

/// Labels of what is welded, for the drawing.
fn done_labels(job: &Job) -> String {
    let welded = job.known().filter(|i| i.is_weld() && job.done.contains_key(&i.label));
    welded.map(|i| i.label.as_str()).collect::<Vec<_>>().join(" ")
}

/// The last entry, and the way to take it back.
fn last(job: &Job, ask: Ask) -> Markup {
    let gone = |n: u64| job.records.iter().any(|r| r.event == Event::Withdrawn { n });
    let mut entries = job.records.iter().rev().filter(|r| {
        !matches!(r.event, Event::Withdrawn { .. } | Event::Started {} | Event::Replanned { .. })
            && !gone(r.n)
    });
    html! {
        h2 #last-head { "Last entry" }
        @match entries.next() {
            None => { p { "Nothing has been entered yet." } }
            Some(r) => {
                p { strong { (words::event(&r.event)) } ", " (words::clock(r.at)) @if !r.by.is_empty() { ", by " (r.by) } }
                form method="post" action="/do" {
                    input type="hidden" name="do" value="take-back";
                    input type="hidden" name="n" value=(r.n);
                    (marks_for(ask.job_id))
                    button type="submit" { "Take it back" }
                }
            }
        }
    }
}

/// Hidden fields of every form: the name of this entry and, where it is known, the job. The name is made for a page
/// without script; the script makes its own.
pub fn marks_for(job_id: &str) -> Markup {
    let id: String =
        pairing::random::<9>().map_or(String::new(), |b| b.iter().map(|b| format!("{b:02x}")).collect());
    html! {
        input type="hidden" name="id" value=(id);
        @if !job_id.is_empty() { input type="hidden" name="job" value=(job_id); }
    }
}

fn pull(seen: &Seen) -> Markup {
    let job = &*seen.job;
    html! {
        h2 #pull-head { "Pull so far, against tolerance" }
        @match &seen.pull {
            None => { p { "Being worked out …" } }
            Some((records, p)) => {
                @if let Some(why) = &p.why_not { p { "No figures: " (why) "." } }
                @if *records != job.records.len() { p { "Being worked out anew …" } }
                @if !p.rows.is_empty() {
                    p.key aria-hidden="true" { "◆ now, cold   ┼ end with one standard deviation   ○ last reading   ▒ within tolerance" }
                    ul.pull {
                        @for (i, (c, row)) in job.header.controls.iter().zip(&p.rows).enumerate() {
                            @let read = job.readings.iter().rev().find(|r| r.control == i).map(|r| r.deviation);
                            @let (d, unit) = (digits(c), words::unit(&c.unit));
                            li {
                                h3 { (c.name) }
                                (scale(row, read, c.tolerance))
                                p {
                                    @if let Some(n) = row.now { "now " strong { (signed_to(n.deviation, d)) } ", " }
                                    "end " strong { (signed_to(row.end.deviation, d)) " ± " (trim(row.end.scatter, d)) " " (unit) }
                                    ", tolerance ±" (trim(c.tolerance, 2))
                                    @if let Some(r) = read { ", last read " strong { (signed_to(r, d)) } }
                                    ": " strong { @if row.end.deviation.abs() > c.tolerance { "ends out of tolerance" } @else { "ends in tolerance" } }
                                }
                            }
                        }
                    }
                    p.small { "Deviations from nominal, predicted by the model unless read. Differences smaller than the ± are no real differences." }
                }
            }
        }
    }
}

/// Half of the bar is tolerance; what lies beyond its ends sits at the end.
fn scale(row: &Row, read: Option<f64>, tolerance: f64) -> Markup {
    let x = |v: f64| {
        let share = if tolerance > 0.0 { v / tolerance } else { 0.0 };
        trim(100.0 + 50.0 * share.clamp(-1.9, 1.9), 1)
    };
    let (from, to) = (x(row.end.deviation - row.end.scatter), x(row.end.deviation + row.end.scatter));
    html! {
        svg viewBox="0 0 200 24" preserveAspectRatio="none" aria-hidden="true" focusable="false" {
            rect.field x="0" y="4" width="200" height="16" {}
            rect.within x="50" y="4" width="100" height="16" {}
            line.mid x1="100" y1="2" x2="100" y2="22" {}
            line.end x1=(from) y1="12" x2=(to) y2="12" {}
            line.end x1=(x(row.end.deviation)) y1="5" x2=(x(row.end.deviation)) y2="19" {}
            @if let Some(n) = row.now {
                @let at = x(n.deviation);
                path.now transform={ "translate(" (at) " 12)" } d="M0-7L4 0L0 7L-4 0Z" {}
            }
            @if let Some(r) = read { ellipse.read cx=(x(r)) cy="12" rx="3" ry="6" {} }
        }
    }
}

fn cautions(list: &[Caution]) -> Markup {
    html! {
        @for c in list {
            h3 { (c.heading) }
            @for line in &c.lines { p { (line) } }
        }
    }
}

/// What is read before the first step is shown.
pub fn start(seen: &Seen, ask: Ask) -> Markup {
    let body = html! {
        header { h1 { (seen.job.header.name) } }
        main.start {
            h2 { "Before you weld" }
            p { "Read these cautions to the end; they are one tap away all the time." }
            (cautions(&seen.cautions))
            form method="post" action="/read" {
                label for="name" { "Your name or a mark, for the record (may stay empty)" }
                input #name name="name" type="text" maxlength="40" autocomplete="off" value=(ask.name);
                button.main type="submit" { "I have read them: to the work" }
            }
        }
    };
    whole(seen, ask, "start", &format!("Cautions: {}", seen.job.header.name), body)
}

/// Where a device of the shop is let in.
pub fn pair(code: &str, trouble: Option<&str>) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "Pair this device" }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="/icon.svg";
            }
            body {
                main.start {
                    h1 { "Pair this device" }
                    @if let Some(t) = trouble { p.notice role="alert" { (t) } }
                    form method="post" action="/pair" {
                        label for="code" { "The code stands in the terminal where the page is served" }
                        input #code name="code" type="text" inputmode="numeric" autocomplete="off" maxlength="20" required value=(code);
                        button.main type="submit" { "Pair" }
                    }
                }
            }
        }
    }
}

/// Something did not work, for a page without script.
pub fn trouble(words: &str, help: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "Not entered" }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="/icon.svg";
            }
            body {
                main.start {
                    h1 { "Not entered" }
                    p.notice role="alert" { (words) }
                    @if !help.is_empty() { p { (help) } }
                    p { a.button href="/" { "Back to the step" } }
                }
            }
        }
    }
}

/// The page with all lines.
pub fn all(seen: &Seen, ask: Ask) -> Markup {
    let body = html! {
        a.skip href="#lines" { "To the lines" }
        (header(seen, "list"))
        p #net .notice hidden role="status" {}
        div #conflicts role="alert" {}
        p #say role="status" {}
        main { (super::list::parts(seen, ask)) }
    };
    whole(seen, ask, "list", &format!("All lines: {}", seen.job.header.name), body)
}
