//! One line of the sheet as a card of the page.

use super::board::Seen;
use super::gate::{self, Gate};
use super::reading;
use super::words::{self, Say};
use crate::job::{Event, Item, Job, Standing, Task, When};
use crate::output::sheet::RowKind;
use crate::units::trim;
use maud::{Markup, html};

/// How many cards come with a page: so many lines can be ticked while the network is away.
const CARDS: usize = 24;

/// Something to do.
pub enum Step<'a> {
    /// A line of the sheet.
    Line(&'a Item),
    /// The gate between tacking and welding out, which is shut.
    Gate(Gate<'a>),
}

impl Step<'_> {
    /// Its label.
    pub fn label(&self) -> &str {
        match self {
            Step::Line(item) => &item.label,
            Step::Gate(_) => gate::LABEL,
        }
    }
}

/// The lines to show: the one to do now, why it is that one, and those after it.
pub struct Lines<'a> {
    /// Now and next, in order.
    pub cards: Vec<Step<'a>>,
    /// Why the first is not simply the next one of the sheet, or what to mind about it.
    pub why: String,
    /// Every open line that is this welder's or everybody's.
    open: Vec<&'a Item>,
}

/// Whose lines are looked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted<'a> {
    /// A line that somebody chose himself.
    pub picked: Option<&'a str>,
    /// The one that already stands before him: it stays until it is done, even if the sheet's own next
    /// line has cooled meanwhile, for he is welding it.
    pub keep: Option<&'a str>,
    /// The welder whose passes are shown, 0 for the first; none: everybody's.
    pub welder: Option<usize>,
}

/// What to do now.
pub fn lines<'a>(seen: &Seen, job: &'a Job, wanted: Wanted, now: When) -> Lines<'a> {
    let wait = |i: &Item| seen.wait_s(&i.label, now) / 60.0;
    let all = job.open();
    let mine = |i: &Item| match &i.task {
        Task::Pass { welder, .. } => wanted.welder.is_none_or(|w| w == *welder),
        _ => true,
    };
    let open: Vec<&Item> = all.iter().copied().filter(|i| mine(i)).collect();
    let next = crate::job::next_of(job, open.clone(), &wait);
    let chosen = wanted.picked.and_then(|p| all.iter().copied().find(|i| i.label == p));
    let stands = |i: &&Item| {
        wanted.keep == Some(i.label.as_str())
            && job.standing(&i.label) == Standing::Open
            && wait_s(seen, &open, i, now) <= 0.0
    };
    let kept = open.iter().copied().find(stands).filter(|i| !matches!(i.task, Task::Wait { .. }));
    let first = chosen.or(if job.finished.is_some() { None } else { kept }).or(next.now);
    let over = |at: usize| {
        matches!(open[at].task, Task::Wait { .. })
            && open.get(at + 1).is_some_and(|i| i.is_pass() && wait(i) <= 0.0)
    };
    let rest = (0..open.len()).filter(|&at| !over(at)).map(|at| open[at]);
    let rest = rest.filter(|i| first.is_some_and(|f| f.label != i.label));
    let mut why = match (chosen, next.now) {
        (Some(c), Some(n)) if c.label != n.label => {
            format!("you chose this line; the sheet goes on with {}", n.label)
        }
        _ if first.map(|i| &i.label) == next.now.map(|i| &i.label) => next.why,
        _ => String::new(),
    };
    if let (Some(welder), Some(first)) = (wanted.welder, first)
        && why.is_empty()
    {
        why = behind(&all, first, welder);
    }
    let mut cards: Vec<Step> = first.into_iter().chain(rest).take(CARDS).map(Step::Line).collect();
    // The gate stands before the first pass; a wait directly before that pass is no reason to go by.
    if let Some(gate) = gate::shut(job)
        && let Some(pass) = cards.iter().position(|s| matches!(s, Step::Line(i) if i.is_pass()))
    {
        let waits = cards[..pass].iter().rev();
        let waits = waits.take_while(|s| matches!(s, Step::Line(i) if matches!(i.task, Task::Wait { .. })));
        cards.insert(pass - waits.count(), Step::Gate(gate));
    }
    Lines { cards, why, open }
}

/// What another welder has still to do before a line of this one; the order counts on it.
fn behind(open: &[&Item], line: &Item, welder: usize) -> String {
    let other = |i: &&&Item| matches!(&i.task, Task::Pass { welder: w, .. } if *w != welder);
    let before: Vec<&Item> = match &line.task {
        Task::Pass { step, .. } => {
            let earlier = |i: &&&Item| matches!(&i.task, Task::Pass { step: s, .. } if s < step);
            open.iter().filter(other).filter(earlier).copied().collect()
        }
        // Everybody's line: what stands before it on the sheet.
        _ => open.iter().take_while(|i| i.label != line.label).filter(other).copied().collect(),
    };
    let Some(first) = before.first() else { return String::new() };
    let Task::Pass { welder, .. } = &first.task else { return String::new() };
    let more = if before.len() > 1 { format!(" and {} more", before.len() - 1) } else { String::new() };
    format!("wait for the other: welder {} still has {}{more} before this", letter(*welder), first.label)
}

/// The letter by which a welder goes on the sheet.
pub fn letter(welder: usize) -> char {
    char::from(b'A' + welder.min(25) as u8)
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
        Task::Tack { clock, length_mm, .. } => {
            format!("at {clock}, {}", Say { units: seen.units }.sentence(&format!("{length_mm:.0} mm")))
        }
        Task::Stage { tubes, .. } => format!("put in {}", tubes.join(", ")),
        Task::Wait { under_c, .. } => format!("until it is under {under_c:.0} °C"),
        Task::Hold { why, clamped, .. } => {
            let why = Say { units: seen.units }.sentence(why);
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
    let s = seen.floor.parts.seams.seams.iter().find(|s| &s.name == seam)?;
    s.closed.then_some(if *forward { "clockwise" } else { "anticlockwise" })
}

/// The parts that a seam joins.
fn parts(seen: &Seen, item: &Item) -> Option<String> {
    let seam = item.seam()?;
    let at = seen.floor.parts.seams.seams.iter().position(|s| s.name == seam)?;
    let bench = seen.floor.bench();
    let meet = &bench.joints.meets[at];
    let name = |t: usize| bench.frame.tubes[t].name.as_str();
    let carriers: Vec<&str> = meet.carriers.iter().map(|c| name(c.0)).collect();
    Some(format!("{} on {}", name(meet.branch.0), carriers.join(" and ")))
}

/// Names and values that a welder sets and watches.
fn facts(seen: &Seen, item: &Item) -> Vec<(&'static str, String)> {
    let Task::Pass { position, volts, amps, speed_mm_s, under_c, setup, welder, step, .. } = &item.task
    else {
        return vec![];
    };
    let speed = Say { units: seen.units }.sentence(&format!("{} mm/s", trim(*speed_mm_s, 1)));
    let mut out = vec![
        ("settings", format!("{} A, {} V, {speed}", trim(*amps, 0), trim(*volts, 1))),
        ("position", position.clone()),
        ("joint under", format!("{under_c:.0} °C")),
    ];
    if seen.floor.frame.setups.len() > 1 {
        out.push(("frame lies", setup.clone()));
    }
    if seen.welders() > 1 {
        out.push(("welder", letter(*welder).to_string()));
        let beside = seen.job.card().items.iter().filter_map(|i| match &i.task {
            Task::Pass { step: s, welder: w, .. } if s == step && w != welder => {
                Some(format!("{}: {}", letter(*w), i.label))
            }
            _ => None,
        });
        let beside: Vec<String> = beside.collect();
        if !beside.is_empty() {
            out.push(("at the same time", beside.join(", ")));
        }
    }
    out
}

/// Seconds that a line must still wait: its own, or that of the pass after it.
fn wait_s(seen: &Seen, open: &[&Item], item: &Item, now: When) -> f64 {
    match item.task {
        Task::Pass { .. } => seen.wait_s(&item.label, now),
        Task::Wait { .. } => {
            let after = open.iter().skip_while(|i| i.label != item.label).find(|i| i.is_pass());
            after.map_or(0.0, |i| seen.wait_s(&i.label, now))
        }
        _ => 0.0,
    }
}

/// A step as a card. All cards hold everything; the first is shown large, the others as one line.
pub fn card(seen: &Seen, lines: &Lines, at: usize, now: When) -> Markup {
    let first = at == 0;
    let why = if first { lines.why.as_str() } else { "" };
    match &lines.cards[at] {
        Step::Line(item) => line(seen, item, wait_s(seen, &lines.open, item, now), first, why, now),
        Step::Gate(gate) => gate::card(seen, gate, first, why),
    }
}

fn line(seen: &Seen, item: &Item, wait: f64, first: bool, why: &str, now: When) -> Markup {
    let job = &*seen.job;
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
                @if !why.is_empty() { p.why { (words::sentence(why)) } }
                @if let Some(parts) = parts(seen, item) { p.parts { (parts) } }
                @if item.is_pass() || matches!(item.task, Task::Wait { .. }) {
                    p.wait hidden[wait <= 0.0] {
                        span.wait-word { "WAIT" } " "
                        span.clock role="timer" aria-label="time left" { (words::left(wait)) }
                        " " span.wait-why { "until the joint is cool enough" }
                    }
                    p.cool hidden[wait > 0.0] { "Cool enough by the heat model. Check with a thermometer." }
                }
                @if let (true, Some(joint)) = (wait > 0.0, item.joint()) { (reading::temperature(joint, &item.label)) }
                @let facts = facts(seen, item);
                @if !facts.is_empty() {
                    dl.facts { @for (name, value) in facts { div { dt { (name) } dd { (value) } } } }
                }
                @if !warnings.is_empty() {
                    ul.warnings { @for w in &warnings { li { strong { "Mind: " } (w) } } }
                }
                @if let Task::Hold { controls, expect, clamped, .. } = &item.task {
                    div.readings {
                        @for (i, name) in controls.iter().enumerate() {
                            @if let Some(c) = job.control(name) {
                                (reading::form(seen, c, expect.get(i).copied(), *clamped, &item.label))
                            }
                        }
                    }
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
