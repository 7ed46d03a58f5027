//! What a person does at the page, as an event for the record.

use super::words::{self, Say};
use crate::job::{Event, Job, Refused, Tool, When};
use serde::Deserialize;

/// A tick that was kept on a phone for longer than this has no known time, s.
const LONGEST_AGO_S: f64 = 7.0 * 24.0 * 3600.0;

/// A form of the page. What does not belong to the act is left empty.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Form {
    /// The act: `tick`, `untick`, `take-back`, `skip`, `measure`, `temperature`, `note`, `gate`, `replan`,
    /// `replan-enough`.
    #[serde(rename = "do")]
    pub act: String,
    /// Name of this one entry, made by the page: sent twice, it is entered once.
    pub id: String,
    /// The job the page was made for.
    pub job: String,
    /// The page to go back to.
    pub back: String,
    /// Line.
    pub label: String,
    /// How long ago it was done, s.
    pub ago: String,
    /// Record to take back.
    pub n: String,
    /// Control.
    pub control: String,
    /// What was read.
    pub value: String,
    /// Tool.
    pub tool: String,
    /// `yes`: read with the clamps closed.
    pub clamped: String,
    /// Joint.
    pub joint: String,
    /// Words of a note, or why.
    pub words: String,
    /// How long a re-plan may search.
    pub effort: String,
}

impl Form {
    /// Whether `id` can be one that a page of ours has made.
    pub fn has_id(&self) -> bool {
        (8..=64).contains(&self.id.len()) && self.id.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
    }

    /// The event.
    ///
    /// # Errors
    /// What was typed makes no sense.
    pub fn event(&self, job: &Job, say: Say, now: When) -> Result<Event, Refused> {
        match self.act.as_str() {
            "tick" => Ok(Event::tick(self.label.clone(), self.when(now))),
            "untick" => Ok(Event::Unticked { label: self.label.clone(), why: words::note(&self.words) }),
            "skip" => Ok(Event::Skipped { label: self.label.clone(), why: words::note(&self.words) }),
            "take-back" => match self.n.parse() {
                Ok(n) => Ok(Event::Withdrawn { n }),
                Err(_) => Err(Refused::new("no record was named", "")),
            },
            "measure" => self.reading(job, say),
            "temperature" => {
                let joint = job.find_joint(&self.joint)?.to_string();
                let typed = self.value.trim().replace(',', ".");
                let value_c = typed.parse().map_err(|_| {
                    Refused::new(
                        format!("\"{}\" is not a temperature", self.value),
                        "type it in °C, like 180",
                    )
                })?;
                Ok(Event::Temperature { joint, value_c })
            }
            "note" => {
                let text = words::note(&self.words);
                if text.is_empty() {
                    Err(Refused::new("the note is empty", ""))
                } else {
                    Ok(Event::Note { text })
                }
            }
            // Whether a reason is one is asked under the lock.
            "gate" => Ok(Event::GateOpened { why: words::note(&self.words) }),
            _ => Err(Refused::new(
                "the page asked for something that is not known here",
                "load the page again",
            )),
        }
    }

    fn when(&self, now: When) -> Option<When> {
        let ago: f64 = if self.ago.is_empty() { 0.0 } else { self.ago.parse().ok()? };
        if !(-60.0..=LONGEST_AGO_S).contains(&ago) {
            return None;
        }
        now.checked_sub(jiff::SignedDuration::from_millis((ago.max(0.0) * 1000.0) as i64)).ok()
    }

    fn reading(&self, job: &Job, say: Say) -> Result<Event, Refused> {
        let name = job.find_control(&self.control)?.to_string();
        let Some(control) = job.control(&name) else {
            return Err(Refused::new(format!("there is no control \"{name}\""), ""));
        };
        let value = say.read(control, &self.value)?;
        let tool = if self.tool.is_empty() {
            Tool::usual(&control.unit)
        } else {
            Tool::from_word(&self.tool)
                .ok_or_else(|| Refused::new(format!("\"{}\" is no tool", self.tool), ""))?
        };
        let error = tool.error(&control.unit).ok_or_else(|| {
            Refused::new(
                format!("a {} does not read {}", tool.word(), say.unit(control)),
                "take another tool",
            )
        })?;
        let clamped = self.clamped == "yes";
        Ok(Event::Measured { control: name, value, error, clamped, tool: tool.word().into() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn how_long_ago_is_believed_within_reason() {
        let now: When = "2026-03-02T10:00:00Z".parse().unwrap();
        let when = |ago: &str| Form { ago: ago.into(), ..Form::default() }.when(now).map(|t| t.to_string());
        assert_eq!(when("").as_deref(), Some("2026-03-02T10:00:00Z"));
        assert_eq!(when("90.5").as_deref(), Some("2026-03-02T09:58:29.5Z"));
        assert_eq!(when("-3").as_deref(), Some("2026-03-02T10:00:00Z"), "a clock that jitters");
        for nonsense in ["-7200", "1e12", "NaN", "soon", "inf"] {
            assert_eq!(when(nonsense), None, "{nonsense}");
        }
    }

    #[test]
    fn names_of_entries_are_plain() {
        let ok = |id: &str| Form { id: id.into(), ..Form::default() }.has_id();
        assert!(ok("0f3a9c2be1d4") && ok("a-b-c-d-e"));
        for bad in ["", "short", "with blank here", "<script>alert", &"x".repeat(65)] {
            assert!(!ok(bad), "{bad}");
        }
    }
}
