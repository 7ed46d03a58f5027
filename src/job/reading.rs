//! A reading: with what it was made, how well it reads, and what it says against the prediction.

use super::card::ControlCard;
use super::check::Refused;
use crate::units::Units;

/// A measuring tool of the shop. Reading errors are standard deviations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tool {
    /// Steel tape or rule.
    Tape,
    /// Square with a feeler gauge or rule at its end.
    Square,
    /// Digital level or protractor.
    DigitalLevel,
    /// Clock gauge on a stand.
    ClockGauge,
    /// String or wire and a rule.
    String,
    /// Straightedge and feeler gauges.
    Straightedge,
    /// Sliding caliper.
    Caliper,
}

impl Tool {
    /// All tools with the word to type.
    pub const ALL: [(Tool, &'static str); 7] = [
        (Tool::Tape, "tape"),
        (Tool::Square, "square"),
        (Tool::DigitalLevel, "digital-level"),
        (Tool::ClockGauge, "clock-gauge"),
        (Tool::String, "string"),
        (Tool::Straightedge, "straightedge"),
        (Tool::Caliper, "caliper"),
    ];

    /// The word to type.
    pub fn word(self) -> &'static str {
        Tool::ALL.iter().find(|(t, _)| *t == self).map_or("", |(_, w)| w)
    }

    /// The tool a word names.
    pub fn from_word(word: &str) -> Option<Tool> {
        Tool::ALL.iter().find(|(_, w)| w.eq_ignore_ascii_case(word.trim())).map(|(t, _)| *t)
    }

    /// Standard deviation of one reading in the unit of the control (`mm` or `deg`), or `None` if
    /// the tool does not read that unit. Assumptions: common practice, no source. A tape is read to
    /// 0.5 mm, a digital level shows 0.1°; a square is good for 0.3 mm at the end of its blade, which
    /// over 300 mm is 0.06°, rounded up.
    pub fn error(self, unit: &str) -> Option<f64> {
        match (self, unit) {
            (Tool::Tape, "mm") => Some(0.5),
            (Tool::Square, "mm") => Some(0.3),
            (Tool::Square, "deg") => Some(0.1),
            (Tool::DigitalLevel, "deg") => Some(0.1),
            (Tool::ClockGauge, "mm") => Some(0.05),
            (Tool::String, "mm") => Some(0.5),
            (Tool::Straightedge, "mm") => Some(0.2),
            (Tool::Caliper, "mm") => Some(0.1),
            _ => None,
        }
    }

    /// The tool that is taken when none is named.
    pub fn usual(unit: &str) -> Tool {
        if unit == "deg" { Tool::DigitalLevel } else { Tool::Tape }
    }
}

/// [`parse_reading_in`] for a person who has millimetres.
///
/// # Errors
/// Not a number, or another unit.
pub fn parse_reading(text: &str, control: &ControlCard) -> Result<f64, Refused> {
    parse_reading_in(text, control, Units::Mm)
}

/// Read what a person typed as a reading of this control, in its unit: `1203.5`, `1203,5`,
/// `90.2 deg`, `90,2°`; with a sign (`+1.5`, `-2`) it is the deviation from nominal. A length without a
/// unit of its own is in `units`; fractions of an inch are read as on a tape (`23 41/64`, `+1/16`).
///
/// # Errors
/// Not a number, or another unit.
pub fn parse_reading_in(text: &str, control: &ControlCard, units: Units) -> Result<f64, Refused> {
    let typed = text.trim().replace('−', "-").replace(',', ".").to_lowercase();
    let (sign, size) = match typed.strip_prefix(['+', '-']) {
        // Two signs are a slip.
        Some(size) if !size.starts_with(['+', '-']) => {
            (if typed.starts_with('-') { -1.0 } else { 1.0 }, size)
        }
        _ => (0.0, typed.as_str()),
    };
    let size = size.trim();
    let angle = ["degrees", "degree", "deg", "°"].iter().find_map(|u| size.strip_suffix(u)).map(str::trim);
    let length = control.unit == "mm";
    let value: Option<f64> = match (length, angle) {
        (true, None) => units.read(size),
        (true, Some(_)) => None,
        (false, number) => number.unwrap_or(size).parse().ok(),
    };
    if let Some(value) = value.filter(|v| v.is_finite()) {
        return Ok(if sign == 0.0 { value } else { control.nominal + sign * value });
    }
    let read_in = if length { units.word() } else { "deg" };
    let number = size.trim_end_matches(|c: char| c.is_alphabetic() || "°\"'".contains(c));
    let (unit, number) = (&size[number.len()..], number.trim());
    if number.parse::<f64>().is_ok_and(f64::is_finite) && !unit.is_empty() {
        let unit = if angle.is_some() { "deg" } else { unit };
        return Err(Refused::new(format!("{} is read in {read_in}, not in {unit}", control.name), ""));
    }
    let how = match (length, units) {
        (true, Units::Inch) => "write it like 47 3/8 or 47.375, or +1/16 for the deviation",
        _ => "write it like 1203.5, or +1.5 for the deviation",
    };
    Err(Refused::new(format!("\"{}\" is not a number", text.trim()), how))
}

/// What a control should read at one moment, as a deviation from nominal in the control's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Prediction for the clamp state and temperature of the moment (set-to included).
    pub deviation: f64,
    /// Standard deviation of the prediction (the model's, without the reading error).
    pub scatter: f64,
    /// Part of the prediction that is due to heat and goes away on cooling.
    pub thermal: f64,
}

/// What a reading says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Within two standard deviations of the prediction, and within tolerance.
    AsExpected,
    /// Beyond two standard deviations.
    MovingMore,
    /// Out of tolerance now, and not because the plan has it there on the way.
    OutOfTolerance,
    /// The heat moves this control by more than the reading error: wait.
    TooWarm,
    /// Beyond three standard deviations and not confirmed: read again.
    ReadAgain,
}

impl Verdict {
    /// The words for sheet and screen.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::AsExpected => "as expected",
            Verdict::MovingMore => "moving more than expected: re-plan",
            Verdict::OutOfTolerance => "out of tolerance",
            Verdict::TooWarm => "still too warm to tell: wait and read again",
            Verdict::ReadAgain => "far from expected: read it again",
        }
    }
}

/// A verdict with its numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// What it says.
    pub verdict: Verdict,
    /// Reading minus prediction, in the control's unit.
    pub off: f64,
    /// The same in standard deviations of prediction and reading together.
    pub sigmas: f64,
    /// Whether the reading may be used to learn from.
    pub usable: bool,
}

/// A reading beyond this many standard deviations asks to be read again.
pub const READ_AGAIN_SIGMAS: f64 = 3.0;
/// Half width of the band, standard deviations.
pub const BAND_SIGMAS: f64 = 2.0;

/// Compare a reading (deviation from nominal, with its standard deviation) with the prediction.
/// `confirmed`: a second reading of the same moment agrees with it.
pub fn judge(deviation: f64, error: f64, confirmed: bool, tolerance: f64, expected: &Expected) -> Judged {
    let off = deviation - expected.deviation;
    let sigmas = off / expected.scatter.hypot(error);
    // A control that was set off on purpose is out of tolerance until it has been pulled back.
    let as_expected = sigmas.abs() <= BAND_SIGMAS;
    let (verdict, usable) = if expected.thermal.abs() > error {
        (Verdict::TooWarm, false)
    } else if sigmas.abs() > READ_AGAIN_SIGMAS && !confirmed {
        (Verdict::ReadAgain, false)
    } else if deviation.abs() > tolerance && !(as_expected && expected.deviation.abs() > tolerance) {
        (Verdict::OutOfTolerance, true)
    } else if as_expected {
        (Verdict::AsExpected, true)
    } else {
        (Verdict::MovingMore, true)
    };
    Judged { verdict, off, sigmas, usable }
}
