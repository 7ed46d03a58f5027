//! Readings with their number pad, and what the model says of them.

use super::board::Seen;
use super::page::marks_for;
use super::words::Say;
use crate::job::{ControlCard, Tool};
use crate::units::Units;
use maud::{Markup, html};

/// A place to enter the reading of a control: `at` is the step that it stands in.
pub fn form(seen: &Seen, c: &ControlCard, expect: Option<(f64, f64)>, clamped: bool, at: &str) -> Markup {
    let say = Say { units: seen.units };
    let tools = Tool::ALL.iter().filter(|(t, _)| t.error(&c.unit).is_some());
    let index = seen.job.header.controls.iter().position(|o| o.name == c.name).unwrap_or(0);
    let field = format!("reading-{at}-{index}");
    let tape = (seen.units == Units::Inch && c.unit == "mm").then_some("tape");
    html! {
        form.reading method="post" action="/do" data-control=(c.name) data-at=(at) data-pad=[tape] {
            input type="hidden" name="do" value="measure";
            input type="hidden" name="control" value=(c.name);
            input type="hidden" name="clamped" value=(if clamped { "yes" } else { "no" });
            (marks_for(""))
            label for=(field) { strong { (c.name) } " in " (say.unit(c)) }
            p.expect {
                "nominal " (say.value(c, c.nominal)) ", tolerance ±" (say.band(c, c.tolerance))
                @if let Some((off, band)) = expect {
                    ", expected about " (say.value(c, c.nominal + off)) " (" (say.change(c, off)) "), give or take " (say.spread(c, band))
                }
            }
            div.entry {
                input.value id=(field) name="value" type="text" inputmode="decimal" autocomplete="off" required
                    placeholder=(say.plain(c, c.nominal));
                select id={ "tool-" (at) "-" (index) } name="tool" aria-label={ "tool for " (c.name) } {
                    @for (tool, word) in tools {
                        option value=(word) selected[*tool == Tool::usual(&c.unit)] { (word.replace('-', " ")) }
                    }
                }
                button type="submit" { "Enter" }
            }
            (answer(seen, c, index))
        }
    }
}

/// What was read at this moment, and what the model says of it.
fn answer(seen: &Seen, c: &ControlCard, index: usize) -> Markup {
    let job = &*seen.job;
    let say = Say { units: seen.units };
    let of_now = |r: &&crate::job::Reading| r.control == index && r.after == job.deeds.len() && !r.replaced;
    html! {
        div.answer {
            @if let Some(r) = job.readings.iter().rev().find(of_now) {
                @let judged = seen.pull.as_ref().and_then(|p| p.1.judged.get(&r.n));
                p {
                    "Read " strong { (say.value(c, c.nominal + r.deviation)) } " (" (say.change(c, r.deviation))
                    " against nominal), "
                    @match judged {
                        Some(j) => { strong.verdict { (j.verdict.words()) } }
                        None if seen.floor.model().is_none() => {
                            @if r.deviation.abs() > c.tolerance { strong.verdict { "out of tolerance" } } @else { strong.verdict { "in tolerance" } }
                        }
                        None => { "working out what it means …" }
                    }
                }
            }
        }
    }
}

/// A thermometer knows better than the heat model.
pub fn temperature(joint: &str, at: &str) -> Markup {
    let field = format!("warm-{at}");
    html! {
        form.reading method="post" action="/do" data-control={ "temperature of " (joint) } data-at=(at) {
            input type="hidden" name="do" value="temperature";
            input type="hidden" name="joint" value=(joint);
            (marks_for(""))
            label for=(field) { strong { (joint) } " read in °C, if you have a thermometer" }
            div.entry {
                input.value id=(field) name="value" type="text" inputmode="decimal" autocomplete="off" required;
                button type="submit" { "Enter" }
            }
        }
    }
}
