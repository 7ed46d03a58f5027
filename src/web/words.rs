//! Times, names and errors as the page says them.

use crate::job::{ControlCard, Cut, Event, Job, Refused, When, parse_reading_in};
use crate::journal::Error;
use crate::units::{Units, signed_to, trim};

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

/// How figures are said, and read, in the unit of length of the page. Angles are degrees always.
#[derive(Debug, Clone, Copy)]
pub struct Say {
    /// Unit of length.
    pub units: Units,
}

impl Say {
    fn in_inches(self, c: &ControlCard) -> bool {
        self.units == Units::Inch && c.unit == "mm"
    }

    /// The unit of a control.
    pub fn unit(self, c: &ControlCard) -> &'static str {
        match (c.unit.as_str(), self.units) {
            ("deg", _) => "°",
            (_, Units::Mm) => "mm",
            (_, Units::Inch) => "inches",
        }
    }

    /// A value of a control without its unit, as it is typed.
    pub fn plain(self, c: &ControlCard, value: f64) -> String {
        if self.in_inches(c) {
            self.units.reading(value).trim_end_matches('"').into()
        } else {
            trim(value, digits(c))
        }
    }

    /// A value of a control with its unit.
    pub fn value(self, c: &ControlCard, value: f64) -> String {
        if self.in_inches(c) {
            self.units.reading(value)
        } else {
            format!("{} {}", self.plain(c, value), self.unit(c))
        }
    }

    /// A deviation with its sign, with the unit in inches only.
    pub fn change(self, c: &ControlCard, value: f64) -> String {
        if self.in_inches(c) { self.units.change(value) } else { signed_to(value, digits(c)) }
    }

    /// A standard deviation with its unit, as fine as the value beside it.
    pub fn spread(self, c: &ControlCard, value: f64) -> String {
        if self.in_inches(c) {
            self.units.band(value)
        } else {
            format!("{} {}", trim(value, digits(c)), self.unit(c))
        }
    }

    /// A tolerance with its unit.
    pub fn band(self, c: &ControlCard, value: f64) -> String {
        if self.in_inches(c) {
            self.units.band(value)
        } else {
            format!("{} {}", trim(value, 2), self.unit(c))
        }
    }

    /// A sentence with its lengths in this unit.
    pub fn sentence(self, words: &str) -> String {
        self.units.sentence(words)
    }

    /// What was typed as a reading of a control, in the control's own unit; with a sign it is the deviation
    /// from nominal.
    ///
    /// # Errors
    /// It is no reading of this control.
    pub fn read(self, c: &ControlCard, typed: &str) -> Result<f64, Refused> {
        parse_reading_in(typed, c, self.units)
    }
}

/// Digits after the point: one more than the tolerance asks for.
pub fn digits(c: &ControlCard) -> usize {
    if c.unit == "deg" || c.tolerance < 1.0 { 2 } else { 1 }
}

/// A sentence that begins large and ends with a full stop.
pub fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |c| c.to_uppercase().chain(letters).chain(['.']).collect())
}

/// A remark that somebody typed: one line, not endless.
pub fn note(typed: &str) -> String {
    let line: String = typed.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    line.trim().chars().take(500).collect()
}

/// A record in a few words.
pub fn event(e: &Event, job: &Job, say: Say) -> String {
    match e {
        Event::Started {} => "begun".into(),
        Event::Ticked { label, .. } => format!("{label} done"),
        Event::Unticked { label, .. } => format!("{label} not done"),
        Event::Skipped { label, .. } => format!("{label} passed over for now"),
        Event::Redone { label, .. } => format!("{label} laid again"),
        Event::Cut { place: Cut::Seam(n) | Cut::Tack(n), .. } => format!("{n} taken out"),
        Event::Measured { control, value, .. } => {
            let said = job.control(control).map_or_else(|| value.to_string(), |c| say.value(c, *value));
            format!("{control} read as {said}")
        }
        Event::Moved { clamp, along, by_mm } => {
            format!("clamp {clamp} moved {} along {along}", say.sentence(&format!("{by_mm} mm")))
        }
        Event::Temperature { joint, value_c } => format!("{joint} at {value_c} °C"),
        Event::Gap { joint, value_mm } => {
            format!("gap at {joint} {}", say.sentence(&format!("{value_mm} mm")))
        }
        Event::Note { text } => format!("note: {text}"),
        Event::GateOpened { .. } => "weld-out opened".into(),
        Event::Replanned { card, .. } => format!("new sheet, revision {}", card.revision),
        Event::Withdrawn { n } => format!("record {n} taken back"),
        Event::Finished { .. } => "finished".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn control(unit: &str) -> ControlCard {
        ControlCard {
            name: "width".into(),
            unit: unit.into(),
            nominal: 600.0,
            tolerance: 2.0,
            set_to: 0.0,
            residual: 0.0,
            scatter: 0.0,
        }
    }

    #[test]
    fn a_tape_in_inches_is_read_and_said_as_on_the_tape() {
        let (inch, mm) = (Say { units: Units::Inch }, Say { units: Units::Mm });
        let width = control("mm");
        for (typed, want) in [
            ("23 5/8", 600.075),
            ("23 5/8\"", 600.075),
            ("23.625", 600.075),
            ("+1/16", 601.5875),
            ("-1/8", 596.825),
            ("−1 1/2", 561.9),
            ("600.5 mm", 600.5),
            ("0", 0.0),
        ] {
            let got = inch.read(&width, typed).unwrap_or_else(|e| panic!("{typed}: {e}"));
            assert!((got - want).abs() < 1e-6, "{typed}: {got}");
        }
        for typed in ["", "wide", "1/0", "23 5/", "--1", "+-1"] {
            assert!(inch.read(&width, typed).is_err(), "{typed}");
        }
        assert_eq!(inch.value(&width, 600.075), "23 5/8\"");
        assert_eq!(
            (inch.change(&width, 1.5875), inch.band(&width, 3.175)),
            ("+1/16\"".into(), "1/8\"".into())
        );
        assert_eq!((mm.value(&width, 600.5), mm.change(&width, 0.5)), ("600.5 mm".into(), "+0.5".into()));
        // Angles stay angles.
        let lean = control("deg");
        assert_eq!((inch.value(&lean, 90.25), inch.read(&lean, "90,25").unwrap()), ("90.25 °".into(), 90.25));
    }
}
