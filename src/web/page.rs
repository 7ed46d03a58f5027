//! The page itself: made here whole, so that it works without a script; the script then keeps its
//! parts new.

use super::board::Seen;
use super::pull::Row;
use super::step::{self, Lines, Step, Wanted, card};
use super::words::{self, Say};
use super::{anew, clash, pairing, reading};
use crate::job::{Event, When};
use crate::output::safety::{Caution, DEFERRAL_LINE};
use crate::units::trim;
use maud::{DOCTYPE, Markup, html};

/// What a page is made from besides what is seen.
#[derive(Clone, Copy)]
pub struct Ask<'a> {
    /// Tells this job from others.
    pub job_id: &'a str,
    /// Whose lines.
    pub wanted: Wanted<'a>,
    /// Who sits before it.
    pub name: &'a str,
}

/// A whole page. `data` are the marks that the script needs; a page without them has no script.
fn whole(title: &str, data: Option<(&Seen, Ask, &str)>, body: Markup) -> Markup {
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
                @if data.is_some() { script src="/page.js" defer {} }
            }
            @match data {
                None => { body { (body) } }
                Some((seen, ask, view)) => {
                    body data-job=(ask.job_id) data-view=(view) data-revision=(seen.revision())
                        data-sheet=(seen.job.revision()) data-step=(ask.wanted.picked.unwrap_or("")) {
                        (body)
                        footer { p { (DEFERRAL_LINE) } }
                    }
                }
            }
        }
    }
}

/// The page of the work.
pub fn work(seen: &Seen, ask: Ask, now: When) -> Markup {
    let lines = step::lines(seen, &seen.job, ask.wanted, now);
    let body = html! {
        a.skip href="#steps" { "To the step" }
        (header(seen, "work"))
        p #net .notice hidden role="status" {}
        div #conflicts role="alert" tabindex="-1" {}
        main {
            (steps(seen, ask, &lines, now))
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
                (cautions(seen))
            }
        }
        div.dock role="region" aria-label="Tick" {
            a #unread href="#conflicts" hidden {}
            p #say role="status" {}
            (bar(seen, ask, &lines))
        }
    };
    whole(&seen.job.header.name, Some((seen, ask, "work")), body)
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
    let lines = step::lines(seen, &seen.job, ask.wanted, now);
    html! { (steps(seen, ask, &lines, now)) (rest(seen, ask)) (bar(seen, ask, &lines)) }
}

/// Progress and the steps.
fn steps(seen: &Seen, ask: Ask, lines: &Lines, now: When) -> Markup {
    let job = &*seen.job;
    html! {
        section data-part="progress" { (progress(seen, ask, now)) }
        section data-part="steps" aria-labelledby="steps-head" {
            h2 #steps-head .quiet { "Now, and next" }
            @if lines.cards.is_empty() {
                p.all-done {
                    @if job.finished.is_some() { "This job is finished." }
                    @else if job.open().is_empty() { "Every line is done. Finish the job at the machine: " code { "holdtrue job finish" } }
                    @else { "Every line of this welder is done; others are open." }
                }
            }
            ol #steps tabindex="-1" {
                @for at in 0..lines.cards.len() { (card(seen, lines, at, now)) }
            }
        }
    }
}

/// The last entry, the pull, the plan.
fn rest(seen: &Seen, ask: Ask) -> Markup {
    html! {
        section data-part="last" aria-labelledby="last-head" { (last(seen, ask)) }
        section data-part="pull" #pull aria-labelledby="pull-head" { (pull(seen)) }
        section data-part="anew" #anew aria-labelledby="anew-head" { (anew::section(seen, ask)) }
    }
}

/// The big button for the line that stands first; none for a gate that is shut.
fn bar(seen: &Seen, ask: Ask, lines: &Lines) -> Markup {
    let first = lines.cards.first();
    let at_gate = matches!(first, Some(Step::Gate(_)));
    let label = first.map_or("", Step::label);
    html! {
        div data-part="bar" {
            @if !label.is_empty() && seen.job.finished.is_none() {
                p #shut hidden[!at_gate] { strong { "The gate is shut." } " Read what is missing, or pass without." }
                form #done method="post" action="/do" hidden[at_gate] {
                    input type="hidden" name="label" value=(label);
                    (marks_for(ask.job_id))
                    button.side type="submit" name="do" value="skip" { "Not now" }
                    button.main type="submit" name="do" value="tick" { "Done" span.what { (label) } }
                }
            }
        }
    }
}

fn progress(seen: &Seen, ask: Ask, now: When) -> Markup {
    let job = &*seen.job;
    let (done, all) = job.passes_done();
    let (open, revision) = (job.open().len(), job.revision());
    let call = anew::call(seen);
    let doubtful = anew::doubtful(seen);
    html! {
        p.progress-words {
            strong { (done) " of " (all) } " passes welded, " (open) " lines open. Plan " (job.card().plan_id)
            @if revision > 0 { ", revision " (revision) ": sheets of revision " (revision - 1) " and earlier are void" }
            "."
        }
        progress value=(done) max=(all.max(1)) aria-label="passes welded" {}
        @if seen.welders() > 1 { (whose(seen, ask)) }
        @if let Some(t) = &seen.trouble { p.notice role="alert" { strong { "The record: " } (t) } }
        @if !call.is_empty() { p.notice { (call) " " a href="#anew" { "To the plan" } } }
        @for c in doubtful {
            div.notice {
                p { strong { "Read " (c.name) " once more: " } "it is far from what was expected. A second reading that agrees is believed." }
                (reading::form(seen, c, None, clamped(seen), "again"))
            }
        }
        (clash::shown(seen, now))
        div #done-labels hidden data-labels=(done_labels(seen)) data-setup=(job.setup().unwrap_or_default()) {}
    }
}

/// Whether the clamps are closed, as far as they were ticked; a second reading is taken as the first was.
fn clamped(seen: &Seen) -> bool {
    seen.job.readings.last().is_some_and(|r| r.clamped)
}

/// Whose lines this device shows.
fn whose(seen: &Seen, ask: Ask) -> Markup {
    let now = ask.wanted.welder;
    let each = (0..seen.welders()).map(|w| (Some(w), step::letter(w).to_string()));
    html! {
        form #whose method="post" action="/welder" {
            fieldset {
                legend .quiet { "Lines shown on this device" }
                span aria-hidden="true" { "Welder" }
                @for (who, words) in each.chain([(None, "all".to_string())]) {
                    button type="submit" name="welder" value=[who.map(step::letter)] aria-pressed=(if who == now { "true" } else { "false" })
                        aria-label={ @if who.is_some() { "welder " } (words) } {
                        @if who == now { "✓ " } (words)
                    }
                }
            }
        }
    }
}

/// Labels of what is welded, for the drawing.
fn done_labels(seen: &Seen) -> String {
    let job = &*seen.job;
    let welded = job.known().filter(|i| i.is_weld() && job.done.contains_key(&i.label));
    welded.map(|i| i.label.as_str()).collect::<Vec<_>>().join(" ")
}

/// The last entry, and the way to take it back.
fn last(seen: &Seen, ask: Ask) -> Markup {
    let (job, say) = (&*seen.job, Say { units: seen.units });
    let gone = |n: u64| job.records.iter().any(|r| r.event == Event::Withdrawn { n });
    let mut entries = job.records.iter().rev().filter(|r| {
        !matches!(r.event, Event::Withdrawn { .. } | Event::Started {} | Event::Replanned { .. })
            && !clash::is(r)
            && !gone(r.n)
    });
    html! {
        h2 #last-head { "Last entry" }
        @match entries.next() {
            None => { p { "Nothing has been entered yet." } }
            Some(r) => {
                p { strong { (words::event(&r.event, job, say)) } ", " (words::clock(r.at)) @if !r.by.is_empty() { ", by " (r.by) } }
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
    let (job, say) = (&*seen.job, Say { units: seen.units });
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
                            li {
                                h3 { (c.name) }
                                (scale(row, read, c.tolerance))
                                p {
                                    @if let Some(n) = row.now { "now " strong { (say.change(c, n.deviation)) } ", " }
                                    "end " strong { (say.change(c, row.end.deviation)) " ± " (say.spread(c, row.end.scatter)) }
                                    ", tolerance ±" (say.band(c, c.tolerance))
                                    @if let Some(r) = read { ", last read " strong { (say.change(c, r)) } }
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

fn cautions(seen: &Seen) -> Markup {
    let (list, say): (&[Caution], Say) = (&seen.cautions, Say { units: seen.units });
    html! {
        @for c in list {
            h3 { (c.heading) }
            @for line in &c.lines { p { (say.sentence(line)) } }
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
            (cautions(seen))
            form method="post" action="/read" {
                label for="name" { "Your name or a mark, for the record (may stay empty)" }
                input #name name="name" type="text" maxlength="40" autocomplete="off" value=(ask.name);
                @if seen.welders() > 1 {
                    label for="welder" { "Whose lines shall this device show?" }
                    select #welder name="welder" {
                        option value="" selected[ask.wanted.welder.is_none()] { "all" }
                        @for w in 0..seen.welders() {
                            option value=(step::letter(w)) selected[ask.wanted.welder == Some(w)] { "welder " (step::letter(w)) }
                        }
                    }
                }
                button.main type="submit" { "I have read them: to the work" }
            }
        }
    };
    let title = format!("Cautions: {}", seen.job.header.name);
    whole(&title, Some((seen, ask, "start")), body)
}

/// Where a device of the shop is let in.
pub fn pair(code: &str, trouble: Option<&str>) -> Markup {
    let body = html! {
        main.start {
            h1 { "Pair this device" }
            @if let Some(t) = trouble { p.notice role="alert" { (t) } }
            form method="post" action="/pair" {
                label for="code" { "The code stands in the terminal where the page is served" }
                input #code name="code" type="text" inputmode="numeric" autocomplete="off" maxlength="20" required value=(code);
                button.main type="submit" { "Pair" }
            }
        }
    };
    whole("Pair this device", None, body)
}

/// Something did not work, for a page without script.
pub fn trouble(words: &str, help: &str) -> Markup {
    let body = html! {
        main.start {
            h1 { "Not entered" }
            p.notice role="alert" { (words) }
            @if !help.is_empty() { p { (help) } }
            p { a.button href="/" { "Back to the step" } }
        }
    };
    whole("Not entered", None, body)
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
    let title = format!("All lines: {}", seen.job.header.name);
    whole(&title, Some((seen, ask, "list")), body)
}
