//! One line of the sheet as a card of the page.

use super::board::Seen;
use super::words;
use crate::job::{ControlCard, Event, Item, Job, Standing, Task, Tool, When};
use crate::output::sheet::RowKind;
use crate::units::{signed_to, trim};
use maud::{Markup, html};

/// How many cards come with a page: so many lines can be ticked while the network is away.
const CARDS: usize = 24;

/// The lines to show: the one to do now, why it is that one, and those after it.
pub struct Lines<'a> {
    /// Now and next, in order.
    pub cards: Vec<&'a Item>,
    /// Why the first is not simply the next one of the sheet.
    pub why: String,
}

/// What to do now. `picked` is a line that somebody chose himself; `keep` the one that already stands
/// before him: it stays until it is done, even if the sheet's own next line has cooled meanwhile, for
/// he is welding it.
pub fn lines<'a>(
    seen: &Seen,
    job: &'a Job,
    picked: Option<&str>,
    keep: Option<&str>,
    now: When,
) -> Lines<'a> {
    let wait = |i: &Item| seen.wait_s(&i.label, now) / 60.0;
    let next = crate::job::next(job, &wait);
    let open = job.open();
    let chosen = picked.and_then(|p| open.iter().copied().find(|i| i.label == p));
    let stands = |i: &&Item| {
        keep == Some(i.label.as_str())
            && job.standing(&i.label) == Standing::Open
            && wait_s(seen, job, i, now) <= 0.0
    };
    let kept = open.iter().copied().find(stands).filter(|i| !matches!(i.task, Task::Wait { .. }));
    let first = chosen.or(if job.finished.is_some() { None } else { kept }).or(next.now);
    let over = |at: usize| {
        matches!(open[at].task, Task::Wait { .. })
            && open.get(at + 1).is_some_and(|i| i.is_pass() && wait(i) <= 0.0)
    };
    let rest = (0..open.len()).filter(|&at| !over(at)).map(|at| open[at]);
    let rest = rest.filter(|i| first.is_some_and(|f| f.label != i.label));
    let why = match (chosen, next.now) {
        (Some(c), Some(n)) if c.label != n.label => {
            format!("you chose this line; the sheet goes on with {}", n.label)
        }
        _ if first.map(|i| &i.label) == next.now.map(|i| &i.label) => next.why,
        _ => String::new(),
    };
    Lines { cards: first.into_iter().chain(rest).take(CARDS).collect(), why }
}

/// The word by which a line is seen from afar.
pub fn kind(item: &Item) -> &'static str {
    let kind = match &item.task {
        Task::Pass { .. } => return "WELD",
        Task::Tack { .. } => RowKind::Tack,
        Task::Stage { .. } => RowKind::Stage,
        Task::Wait { .. } => RowKind::Wait,
        Task::Hold { .. } => RowKind::Hold,
        Task::Clamp { .. } => RowKind::Clamp,
        Task::Release { .. } => RowKind::Release,
        Task::Turn { .. } => RowKind::Turn,
        Task::VentOpen { .. } => RowKind::Vent,
        Task::VentClose { .. } => RowKind::CloseVent,
    };
    kind.word()
}

/// The number of a line on the sheet in force.
pub fn number(job: &Job, item: &Item) -> String {
    let on_sheet = job.card().items.iter().find(|i| i.label == item.label);
    on_sheet.map_or("–".into(), |i| i.number.to_string())
}

/// What is said largest: the label to look for on the tube, or the thing to handle.
fn head(item: &Item) -> &str {
    match &item.task {
        Task::Clamp { clamp } | Task::Release { clamp, .. } => clamp,
        Task::Turn { setup } => setup,
        Task::VentOpen { tube } | Task::VentClose { tube } => tube,
        Task::Wait { joint, .. } => joint,
        Task::Stage { stage, .. } => stage,
        _ => &item.label,
    }
}

/// What is said second.
fn second(seen: &Seen, item: &Item) -> String {
    match &item.task {
        Task::Pass { clock_from, clock_to, .. } => {
            format!(
                "{clock_from} → {clock_to}{}",
                way(seen, item).map_or(String::new(), |w| format!(", {w}"))
            )
        }
        Task::Tack { clock, length_mm, .. } => format!("at {clock}, {length_mm:.0} mm"),
        Task::Stage { tubes, .. } => format!("put in {}", tubes.join(", ")),
        Task::Wait { under_c, .. } => format!("until it is under {under_c:.0} °C"),
        Task::Hold { why, clamped, .. } => {
            format!("{}: {why}", if *clamped { "clamps closed" } else { "clamps open" })
        }
        Task::Clamp { .. } => "put this clamp on".into(),
        Task::Release { force_n, .. } if *force_n >= 1.0 => {
            format!("stand clear: it springs with {force_n:.0} N")
        }
        Task::Release { .. } => "stand clear and take this clamp off".into(),
        Task::Turn { .. } => "turn the frame; lift with care, nobody underneath".into(),
        Task::VentOpen { .. } => "open its vent before it is closed by welding".into(),
        Task::VentClose { .. } => "close its vent when all is cold".into(),
    }
}

/// Which way round, where there is a clock.
fn way(seen: &Seen, item: &Item) -> Option<&'static str> {
    let Task::Pass { seam, forward, .. } = &item.task else { return None };
    let s = seen.floor.seams().seams.iter().find(|s| &s.name == seam)?;
    s.closed.then_some(if *forward { "clockwise" } else { "anticlockwise" })
}

/// The parts that a seam joins.
fn parts(seen: &Seen, item: &Item) -> Option<String> {
    let seam = item.seam()?;
    let at = seen.floor.seams().seams.iter().position(|s| s.name == seam)?;
    let bench = seen.floor.bench();
    let meet = &bench.joints.meets[at];
    let name = |t: usize| bench.frame.tubes[t].name.as_str();
    let carriers: Vec<&str> = meet.carriers.iter().map(|c| name(c.0)).collect();
    Some(format!("{} on {}", name(meet.branch.0), carriers.join(" and ")))
}

/// Names and values that a welder sets and watches.
fn facts(seen: &Seen, item: &Item) -> Vec<(&'static str, String)> {
    let Task::Pass { position, volts, amps, speed_mm_s, under_c, setup, welder, .. } = &item.task else {
        return vec![];
    };
    let bench = seen.floor.bench();
    let mut out = vec![
        ("settings", format!("{} A, {} V, {} mm/s", trim(*amps, 0), trim(*volts, 1), trim(*speed_mm_s, 1))),
        ("position", position.clone()),
        ("joint under", format!("{under_c:.0} °C")),
    ];
    if bench.frame.setups.len() > 1 {
        out.push(("frame lies", setup.clone()));
    }
    if bench.frame.shop.welders > 1 {
        out.push(("welder", char::from(b'A' + (*welder).min(25) as u8).to_string()));
    }
    out
}

/// Seconds that a line must still wait: its own, or that of the pass after it.
fn wait_s(seen: &Seen, job: &Job, item: &Item, now: When) -> f64 {
    match item.task {
        Task::Pass { .. } => seen.wait_s(&item.label, now),
        Task::Wait { .. } => {
            let open = job.open();
            let after = open.iter().skip_while(|i| i.label != item.label).find(|i| i.is_pass());
            after.map_or(0.0, |i| seen.wait_s(&i.label, now))
        }
        _ => 0.0,
    }
}

/// The card of a line. All cards hold everything; the first is shown large, the others as one line.
pub fn card(seen: &Seen, item: &Item, first: bool, why: &str, now: When) -> Markup {
    let job = &*seen.job;
    let wait = wait_s(seen, job, item, now);
    let warnings = job.check(&Event::tick(item.label.clone(), Some(now)), now).unwrap_or_default();
    let level = if first { "step now" } else { "step" };
    html! {
        li class=(level) data-label=(item.label) data-kind=(kind(item)) data-wait=(wait.ceil()) data-weld=[item.is_weld().then_some("yes")] {
            p.line {
                span.no { (number(job, item)) }
                " " span.kind { (kind(item)) }
                " " strong.head { (head(item)) }
                " " span.second { (second(seen, item)) }
            }
            div.more {
                @if job.standing(&item.label) == Standing::Skipped { p.why { "Passed over before." } }
                @if first && !why.is_empty() { p.why { (why) } }
                @if let Some(parts) = parts(seen, item) { p.parts { (parts) } }
                @if item.is_pass() || matches!(item.task, Task::Wait { .. }) {
                    p.wait hidden[wait <= 0.0] {
                        span.wait-word { "WAIT" } " "
                        span.clock role="timer" aria-label="time left" { (words::left(wait)) }
                        " " span.wait-why { "until the joint is cool enough" }
                    }
                    p.cool hidden[wait > 0.0] { "Cool enough by the heat model. Check with a thermometer." }
                }
                @if let (true, Some(joint)) = (wait > 0.0, item.joint()) { (temperature(joint)) }
                @let facts = facts(seen, item);
                @if !facts.is_empty() {
                    dl.facts { @for (name, value) in facts { div { dt { (name) } dd { (value) } } } }
                }
                @if !warnings.is_empty() {
                    ul.warnings { @for w in &warnings { li { strong { "Mind: " } (w) } } }
                }
                @if let Task::Hold { controls, expect, clamped, .. } = &item.task {
                    (readings(seen, controls, expect, *clamped))
                }
                @if item.is_weld() {
                    img.close-up data-src={ "/close-up?label=" (query(&item.label)) } src=[first.then(|| format!("/close-up?label={}", query(&item.label)))]
                        width="236" height="288" alt=(alt(seen, item));
                }
            }
        }
    }
}

fn alt(seen: &Seen, item: &Item) -> String {
    format!("Close-up of {} with its clock: {}", item.seam().unwrap_or(""), second(seen, item))
}

/// A label in an address: only what labels are made of passes as it is.
pub fn query(label: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'.' | b'_');
    label.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

/// A thermometer knows better than the heat model.
fn temperature(joint: &str) -> Markup {
    let field = format!("warm-{joint}");
    html! {
        form.reading method="post" action="/do" data-control={ "temperature of " (joint) } {
            input type="hidden" name="do" value="temperature";
            input type="hidden" name="joint" value=(joint);
            (super::page::marks_for(""))
            label for=(field) { strong { (joint) } " read in °C, if you have a thermometer" }
            div.entry {
                input.value id=(field) name="value" type="text" inputmode="decimal" autocomplete="off" required;
                button type="submit" { "Enter" }
            }
        }
    }
}

/// The dimensions to read at a hold point, each with a place to enter it and what was read.
fn readings(seen: &Seen, controls: &[String], expect: &[(f64, f64)], clamped: bool) -> Markup {
    let job = &*seen.job;
    html! {
        div.readings {
            @for (i, name) in controls.iter().enumerate() {
                @if let Some(c) = job.control(name) {
                    (reading(seen, c, expect.get(i).copied(), clamped, i))
                }
            }
        }
    }
}

/// Digits after the point: one more than the tolerance asks for.
pub fn digits(c: &ControlCard) -> usize {
    if c.unit == "deg" || c.tolerance < 1.0 { 2 } else { 1 }
}

fn reading(seen: &Seen, c: &ControlCard, expect: Option<(f64, f64)>, clamped: bool, i: usize) -> Markup {
    let (d, unit) = (digits(c), words::unit(&c.unit));
    let tools = Tool::ALL.iter().filter(|(t, _)| t.error(&c.unit).is_some());
    let field = format!("reading-{i}");
    html! {
        form.reading method="post" action="/do" data-control=(c.name) {
            input type="hidden" name="do" value="measure";
            input type="hidden" name="control" value=(c.name);
            input type="hidden" name="clamped" value=(if clamped { "yes" } else { "no" });
            (super::page::marks_for(""))
            label for=(field) { strong { (c.name) } " in " (unit) }
            p.expect {
                "nominal " (trim(c.nominal, d)) ", tolerance ±" (trim(c.tolerance, 2))
                @if let Some((at, band)) = expect {
                    ", expected about " (trim(c.nominal + at, d)) " (" (signed_to(at, d)) "), give or take " (trim(band, d))
                }
            }
            div.entry {
                input.value id=(field) name="value" type="text" inputmode="decimal" autocomplete="off" required
                    placeholder=(trim(c.nominal, d));
                select name="tool" aria-label={ "tool for " (c.name) } {
                    @for (tool, word) in tools {
                        option value=(word) selected[*tool == Tool::usual(&c.unit)] { (word.replace('-', " ")) }
                    }
                }
                button type="submit" { "Enter" }
            }
            (answer(seen, c))
        }
    }
}

/// What was read at this moment, and what the model says of it.
fn answer(seen: &Seen, c: &ControlCard) -> Markup {
    let job = &*seen.job;
    let index = job.header.controls.iter().position(|o| o.name == c.name);
    let last = job
        .readings
        .iter()
        .rev()
        .find(|r| Some(r.control) == index && r.after == job.deeds.len() && !r.replaced);
    html! {
        div.answer {
            @if let Some(r) = last {
                @let judged = seen.pull.as_ref().and_then(|p| p.1.judged.get(&r.n));
                @let (d, unit) = (digits(c), words::unit(&c.unit));
                p {
                    "Read " strong { (trim(c.nominal + r.deviation, d)) " " (unit) } " ("
                    (signed_to(r.deviation, d)) " against nominal), "
                    @match judged {
                        Some(j) => { strong.verdict { (j.verdict.words()) } }
                        None if seen.floor.bench().model.is_none() => {
                            @if r.deviation.abs() > c.tolerance { strong.verdict { "out of tolerance" } } @else { strong.verdict { "in tolerance" } }
                        }
                        None => { "working out what it means …" }
                    }
                }
            }
        }
    }
}
