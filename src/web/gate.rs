//! The gate between tacking and welding out, as a step of its own: what must still be read as tacked, and
//! the way to pass without.

use super::board::Seen;
use super::page::marks_for;
use super::reading;
use crate::job::{GateState, Item, Job, Task};
use maud::{Markup, html};

/// The name of the step; no line of a sheet has it.
pub const LABEL: &str = "gate";

/// A gate that is shut.
pub struct Gate<'a> {
    /// The hold point at which it stands.
    pub hold: &'a Item,
    /// Dimensions that were not read as tacked yet.
    pub missing: Vec<String>,
}

/// The gate of a job, if it is shut.
pub fn shut(job: &Job) -> Option<Gate<'_>> {
    match job.gate() {
        GateState::Shut { missing } => Some(Gate { hold: job.gate_line()?, missing }),
        _ => None,
    }
}

/// Its card.
pub fn card(seen: &Seen, gate: &Gate, first: bool, why: &str) -> Markup {
    let job = &*seen.job;
    let Task::Hold { controls, expect, clamped, .. } = &gate.hold.task else { return html! {} };
    let n = gate.missing.len();
    let dimensions = if n == 1 { "1 dimension".to_string() } else { format!("{n} dimensions") };
    let missing = serde_json::Value::from(gate.missing.clone()).to_string();
    html! {
        li class=(if first { "step now" } else { "step" }) data-label=(LABEL) data-kind="GATE" data-wait="0" data-missing=(missing) {
            p.line {
                span.kind { "GATE" }
                " " strong.head { "Shut" }
                " " span.second { "read " (dimensions) " as tacked before the first pass" }
            }
            div.more {
                @if !why.is_empty() { p.why { (why) } }
                p {
                    "No pass is ticked before these are read, " @if *clamped { "clamps closed" } @else { "clamps open" }
                    ": every later reading is held against them."
                }
                div.readings {
                    @for (i, name) in controls.iter().enumerate() {
                        @if let Some(c) = job.control(name) {
                            @let open = gate.missing.contains(name);
                            p.standing { @if open { "☐ still to be read" } @else { "✓ read" } }
                            (reading::form(seen, c, expect.get(i).copied(), *clamped, LABEL))
                        }
                    }
                }
                form.plain.without method="post" action="/do" data-way="without" {
                    input type="hidden" name="do" value="gate";
                    (marks_for(""))
                    label for="gate-why" { "Or pass without: why? It goes into the record." }
                    input #gate-why name="words" type="text" maxlength="500" autocomplete="off" required;
                    button type="submit" { "Open the gate without these readings" }
                }
            }
        }
    }
}
