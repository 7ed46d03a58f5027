//! Units and how numbers print: the only room where a unit is converted or a number is rounded for
//! people.
//!
//! Inside the program every quantity is an `f64` whose name ends in its unit: mm, N, N·mm, MPa, °C,
//! J, J/mm, s, V, A, mm/s, kg, rad (degrees only where a name says `deg`).
//!
//! Out of bounds: welding, files.

/// Millimetres in one inch, exactly (ISO 31-1).
pub const MM_PER_INCH: f64 = 25.4;

/// The unit of length in which a person writes and reads. Inside the program lengths are always mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches, in fractions as on a tape.
    Inch,
}

impl Units {
    /// The word for it in a frame file and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Units::Mm => "mm",
            Units::Inch => "inch",
        }
    }

    /// One of this unit in mm.
    pub fn mm(self) -> f64 {
        match self {
            Units::Mm => 1.0,
            Units::Inch => MM_PER_INCH,
        }
    }

    /// A length that a person typed, in mm: a bare number or fraction is in this unit, one with a unit of
    /// its own is taken at its word. `None` if it is no length.
    ///
    /// ```
    /// use holdtrue::units::Units;
    /// assert_eq!(Units::Inch.read("2 1/2"), Some(63.5));
    /// assert_eq!(Units::Inch.read("40 mm"), Some(40.0));
    /// assert_eq!(Units::Mm.read("2\""), Some(50.8));
    /// ```
    pub fn read(self, words: &str) -> Option<f64> {
        let mm = quantity(words).map(|n| n * self.mm()).or_else(|| mm_from_words(words))?;
        // 1219.2 mm for 48 inches, not 1219.1999999999998.
        Some((mm * 1e9).round() / 1e9)
    }

    /// A length with its unit: `600 mm`; in inches to the nearest 1/16, `23 5/8"`.
    ///
    /// ```
    /// use holdtrue::units::Units;
    /// assert_eq!((Units::Mm.length(600.0), Units::Inch.length(600.0)), ("600 mm".into(), "23 5/8\"".into()));
    /// ```
    pub fn length(self, value_mm: f64) -> String {
        match self {
            Units::Mm => format!("{} mm", mm(value_mm)),
            Units::Inch => fraction(value_mm, 16),
        }
    }

    /// A reading or nominal value of a control, without the unit in mm: one decimal; in inches to the
    /// nearest 1/64.
    ///
    /// ```
    /// use holdtrue::units::Units;
    /// assert_eq!((Units::Mm.reading(600.5), Units::Inch.reading(600.5)), ("600.5".into(), "23 41/64\"".into()));
    /// ```
    pub fn reading(self, value_mm: f64) -> String {
        match self {
            Units::Mm => trim(value_mm, 1),
            Units::Inch => tape(value_mm),
        }
    }

    /// A change with its sign, without the unit in mm: one decimal; in inches to the nearest 1/64.
    ///
    /// ```
    /// use holdtrue::units::Units;
    /// assert_eq!((Units::Mm.change(1.25), Units::Inch.change(1.25)), ("+1.2".into(), "+3/64\"".into()));
    /// assert_eq!(Units::Inch.change(-0.1), "0\"");
    /// ```
    pub fn change(self, value_mm: f64) -> String {
        match self {
            Units::Mm => signed(value_mm),
            Units::Inch => {
                let text = tape(value_mm);
                if value_mm > 0.0 && text != "0\"" { format!("+{text}") } else { text }
            }
        }
    }

    /// A tolerance or a spread, which must not vanish or hide a difference: in inches what is under 1/16
    /// and no whole 64th is printed in thousandths.
    ///
    /// ```
    /// use holdtrue::units::Units;
    /// assert_eq!((Units::Inch.band(0.2), Units::Inch.band(1.5875)), ("0.008\"".into(), "1/16\"".into()));
    /// ```
    pub fn band(self, value_mm: f64) -> String {
        match self {
            Units::Mm => trim(value_mm, 2),
            Units::Inch => small_in_inches(value_mm),
        }
    }

    /// Lengths inside a sentence, from mm to this unit: `30 mm apart` becomes `1 3/16" apart`, `5 mm/s`
    /// `11.8 in/min`, `210 J/mm` `5330 J/in`. What is no length stays as it is.
    ///
    /// ```
    /// use holdtrue::units::Units;
    /// let says = "Tack 12 mm long, 0.21 kJ/mm, joint under 250 °C.";
    /// assert_eq!(Units::Inch.sentence(says), "Tack 1/2\" long, 5.3 kJ/in, joint under 250 °C.");
    /// assert_eq!(Units::Mm.sentence(says), says);
    /// ```
    pub fn sentence(self, words: &str) -> String {
        match self {
            Units::Mm => words.to_string(),
            Units::Inch => sentence_in_inches(words),
        }
    }
}

/// How a number with a unit of length in it reads in inches.
type InInches = fn(f64, bool) -> String;

/// Units of length as sentences have them, the longer words first.
const SENTENCE_UNITS: [(&str, InInches); 8] = [
    (" kJ/mm", |x, _| format!("{} kJ/in", trim(x * MM_PER_INCH, 1))),
    (" J/mm²", |x, _| format!("{} J/in²", trim(x * MM_PER_INCH * MM_PER_INCH, 0))),
    (" J/mm", |x, _| format!("{} J/in", trim(x * MM_PER_INCH, 0))),
    (" N/mm", |x, _| format!("{} N/in", trim(x * MM_PER_INCH, 0))),
    (" mm/s", |x, _| format!("{} in/min", trim(x * 60.0 / MM_PER_INCH, 1))),
    (" mm", |x, signed| {
        let text = if x.abs() < 12.0 { small_in_inches(x) } else { fraction(x, 16) };
        if signed && x > 0.0 { format!("+{text}") } else { text }
    }),
    (" m of weld", |x, _| format!("{} in of weld", trim(x * 1000.0 / MM_PER_INCH, 0))),
    (" m of", |x, _| format!("{} ft of", trim(x * 1000.0 / MM_PER_INCH / 12.0, 1))),
];

/// A small length to the nearest 1/64; under 1/16 in thousandths unless a tape says it exactly.
fn small_in_inches(value_mm: f64) -> String {
    let parts = value_mm / MM_PER_INCH * 64.0;
    if parts.abs() < 4.0 && (parts - parts.round()).abs() > 0.01 {
        return format!("{}\"", trim(value_mm / MM_PER_INCH, 3));
    }
    tape(value_mm)
}

fn sentence_in_inches(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    let mut rest = words;
    // `200 x 40 mm`: the first number has its unit at the end of the second.
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let plus = rest[..at].ends_with('+');
        let (before, from) = rest.split_at(at);
        let end = from.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(from.len());
        let number = from[..end].trim_end_matches('.');
        let after = &from[number.len()..];
        // A digit inside a word (J7a, S235) is a name.
        let mut back = before.chars().rev();
        let part_of_word = match back.next() {
            // `+1.2` is a number, `rail-1` a name.
            Some('-') => back.next().is_some_and(char::is_alphanumeric),
            Some(c) => c.is_alphanumeric() || c == '/',
            None => false,
        };
        let unit = SENTENCE_UNITS.iter().find(|(unit, _)| {
            after
                .strip_prefix(unit)
                .is_some_and(|t| !t.starts_with(|c: char| c.is_alphanumeric() || c == '/'))
        });
        match (number.parse::<f64>(), unit, part_of_word) {
            (Ok(x), Some((unit, say)), false) => {
                out.push_str(if plus { &before[..before.len() - 1] } else { before });
                out.push_str(&say(x, plus));
                rest = &after[unit.len()..];
            }
            _ => {
                out.push_str(before);
                out.push_str(number);
                rest = after;
            }
        }
    }
    out.push_str(rest);
    out
}

/// A length the user wrote as words, in mm: `38`, `38 mm`, `3.8 cm`, `1.2 m`, `1.5 in`, `1 1/2"`,
/// `3/4 in`, `5' 3"`. `None` if it is none of these.
///
/// ```
/// use holdtrue::units::mm_from_words;
/// assert_eq!(mm_from_words("2\""), Some(50.8));
/// assert_eq!(mm_from_words("38 mm"), Some(38.0));
/// assert_eq!(mm_from_words("thick"), None);
/// ```
pub fn mm_from_words(words: &str) -> Option<f64> {
    let words = words.trim();
    if let Some((feet, rest)) = words.split_once('\'') {
        let inches = if rest.trim().is_empty() { 0.0 } else { mm_from_words(rest)? };
        return Some(quantity(feet)? * 12.0 * MM_PER_INCH + inches);
    }
    const UNITS: [(&str, f64); 8] = [
        ("mm", 1.0),
        ("cm", 10.0),
        ("m", 1000.0),
        ("inches", MM_PER_INCH),
        ("inch", MM_PER_INCH),
        ("in", MM_PER_INCH),
        ("\"", MM_PER_INCH),
        ("ft", 12.0 * MM_PER_INCH),
    ];
    for (unit, mm) in UNITS {
        if let Some(n) = words.strip_suffix(unit).and_then(quantity) {
            return Some(n * mm);
        }
    }
    quantity(words)
}

/// `12`, `1.5`, `1,5`, `3/4`, `1 3/4`, `1-3/4`.
fn quantity(words: &str) -> Option<f64> {
    let words = words.trim().replace(',', ".");
    // A minus belongs to the whole of `-1 3/4`, not to the 1 alone.
    if let Some(rest) = words.strip_prefix('-') {
        return if rest.starts_with(['-', '+']) { None } else { quantity(rest).map(|n| -n) };
    }
    if let Some((top, bottom)) = words.split_once('/') {
        let (whole, top) = match top.rsplit_once([' ', '-']) {
            Some((w, t)) => (w.trim().parse::<f64>().ok()?, t),
            None => (0.0, top),
        };
        let (top, bottom) = (top.trim().parse::<f64>().ok()?, bottom.trim().parse::<f64>().ok()?);
        return (bottom > 0.0).then(|| whole + top / bottom).filter(|n| n.is_finite());
    }
    words.parse::<f64>().ok().filter(|n| n.is_finite())
}

/// A number with at most so many decimals and no idle zeros: `2`, `1.6`, `0.25`; never `-0`.
///
/// ```
/// use holdtrue::units::trim;
/// assert_eq!(trim(2.0, 2), "2");
/// assert_eq!(trim(1.60, 2), "1.6");
/// assert_eq!(trim(-0.001, 2), "0");
/// ```
pub fn trim(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".into() } else { text.into() }
}

/// A length as on a drawing, without the unit: whole millimetres from 1000 on, one decimal below.
///
/// ```
/// use holdtrue::units::mm;
/// assert_eq!((mm(1424.36), mm(33.7), mm(40.0)), ("1424".into(), "33.7".into(), "40".into()));
/// ```
pub fn mm(value: f64) -> String {
    trim(value, if value.abs() >= 999.95 { 0 } else { 1 })
}

/// A change or deviation with its sign and always one decimal: `+1.2`, `-0.4`, `0.0`.
///
/// ```
/// use holdtrue::units::signed;
/// assert_eq!((signed(1.25), signed(-0.42), signed(-0.04)), ("+1.2".into(), "-0.4".into(), "0.0".into()));
/// ```
pub fn signed(value: f64) -> String {
    signed_to(value, 1)
}

/// As [`signed`], with as many decimals as asked for (angles need two).
pub fn signed_to(value: f64, digits: usize) -> String {
    let text = format!("{value:+.digits$}");
    if text.trim_start_matches(['+', '-', '0', '.']).is_empty() { text[1..].to_string() } else { text }
}

/// A length in inches as read off a tape, to the nearest 1/64: `1 1/2"`, `23/64"`, `0"`.
///
/// ```
/// use holdtrue::units::tape;
/// assert_eq!((tape(38.1), tape(9.128), tape(609.6)), ("1 1/2\"".into(), "23/64\"".into(), "24\"".into()));
/// ```
pub fn tape(mm: f64) -> String {
    fraction(mm, 64)
}

/// A length in inches to the nearest part of an inch: `fraction(x, 16)` as on a common tape.
///
/// ```
/// assert_eq!(holdtrue::units::fraction(600.0, 16), "23 5/8\"");
/// ```
pub fn fraction(mm: f64, finest: i64) -> String {
    let parts = (mm.abs() / MM_PER_INCH * finest as f64).round() as i64;
    let sign = if mm < 0.0 && parts > 0 { "-" } else { "" };
    let (whole, mut top, mut bottom) = (parts / finest, parts % finest, finest);
    while top > 0 && top % 2 == 0 {
        (top, bottom) = (top / 2, bottom / 2);
    }
    match (whole, top) {
        (w, 0) => format!("{sign}{w}\""),
        (0, t) => format!("{sign}{t}/{bottom}\""),
        (w, t) => format!("{sign}{w} {t}/{bottom}\""),
    }
}

/// A time as one says it: `40 s`, `3 min`, `1 h 05 min`. Rounded: to 5 s below two minutes, to whole
/// minutes above; a wait that is not nothing never prints as nothing.
///
/// ```
/// use holdtrue::units::time;
/// assert_eq!((time(2.0), time(118.0), time(181.0), time(3900.0)),
///            ("5 s".into(), "2 min".into(), "3 min".into(), "1 h 05 min".into()));
/// ```
pub fn time(seconds: f64) -> String {
    if seconds <= 0.0 {
        return "0 s".to_string();
    }
    let fives = (seconds / 5.0).round().max(1.0) * 5.0;
    if fives < 120.0 {
        return format!("{fives:.0} s");
    }
    let minutes = (seconds / 60.0).round() as u64;
    if minutes < 60 {
        format!("{minutes} min")
    } else {
        format!("{} h {:02} min", minutes / 60, minutes % 60)
    }
}

/// A temperature to the degree, with the unit: `120 °C`.
pub fn celsius(value: f64) -> String {
    format!("{} °C", trim(value, 0))
}

/// A temperature limit, rounded down to 5 degrees so that keeping it keeps the real one: `245 °C`.
///
/// ```
/// assert_eq!(holdtrue::units::celsius_limit(249.9), "245 °C");
/// ```
pub fn celsius_limit(value: f64) -> String {
    celsius((value / 5.0 + 1e-9).floor() * 5.0)
}

/// Heat input for people, from J/mm: `0.21 kJ/mm`.
///
/// ```
/// assert_eq!(holdtrue::units::kj_per_mm(210.0), "0.21 kJ/mm");
/// ```
pub fn kj_per_mm(j_per_mm: f64) -> String {
    format!("{:.2} kJ/mm", j_per_mm / 1000.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_millimetres() {
        for (words, want) in [
            ("38", 38.0),
            (" 38 mm", 38.0),
            ("3,5cm", 35.0),
            ("1.2 m", 1200.0),
            ("1.5 in", 38.1),
            ("3/4\"", 19.05),
            ("1-1/2 inch", 38.1),
            ("5' 3\"", 1600.2),
            ("2 ft", 609.6),
            ("-4", -4.0),
        ] {
            let got = mm_from_words(words).expect(words);
            assert!((got - want).abs() < 1e-9, "{words}: {got}");
        }
        for words in ["", "mm", "thick", "1/0", "3 / mm", "nan", "inf mm", "5 5 mm"] {
            assert_eq!(mm_from_words(words), None, "{words}");
        }
    }

    #[test]
    fn rounding_goes_to_the_nearest_and_never_prints_minus_nothing() {
        assert_eq!([mm(999.94), mm(999.96), mm(0.04), mm(-0.04)], ["999.9", "1000", "0", "0"]);
        assert_eq!(
            [signed(0.05001), signed(-0.05001), signed(0.0), signed(12.0)],
            ["+0.1", "-0.1", "0.0", "+12.0"]
        );
        assert_eq!(
            [signed_to(0.256, 2), signed_to(-0.004, 2), signed_to(-10.0, 0)],
            ["+0.26", "0.00", "-10"]
        );
    }

    #[test]
    fn a_tape_reads_to_a_sixty_fourth() {
        let inch = |n: f64| tape(n * MM_PER_INCH);
        assert_eq!([inch(0.5), inch(2.25), inch(3.0 + 63.0 / 64.0)], ["1/2\"", "2 1/4\"", "3 63/64\""]);
        // Half of a 64th rounds up, less than that down; the next inch is reached.
        assert_eq!([inch(1.0 + 127.1 / 128.0), inch(1.0 / 129.0), inch(-0.375)], ["2\"", "0\"", "-3/8\""]);
    }

    #[test]
    fn sentences_change_their_lengths_and_nothing_else() {
        for (mm, inch) in [
            ("J7a-3/1 and J12 are only 95 mm apart", "J7a-3/1 and J12 are only 3 3/4\" apart"),
            ("+1.2 mm, ±3 mm, 0.05 mm", "+0.047\", ±1/8\", 0.002\""),
            ("141 · 55 A · 11 V · 1.1 mm/s", "141 · 55 A · 11 V · 2.6 in/min"),
            ("S235, 12 o'clock, 10:30, 40 °C", "S235, 12 o'clock, 10:30, 40 °C"),
            ("1.25 m of weld, 35 g", "49 in of weld, 35 g"),
            ("12 mmol and 3 mmx", "12 mmol and 3 mmx"),
            ("", ""),
            ("a limit of 25.4 mm.", "a limit of 1\"."),
        ] {
            assert_eq!(Units::Inch.sentence(mm), inch);
            assert_eq!(Units::Mm.sentence(mm), mm);
        }
    }

    #[test]
    fn what_is_printed_in_inches_is_read_back_within_half_a_sixty_fourth() {
        for i in 0..4000 {
            let x = f64::from(i) * 0.37 - 200.0;
            for text in [Units::Inch.reading(x), Units::Inch.change(x)] {
                let back = Units::Inch.read(text.trim_start_matches('+')).expect(&text);
                assert!((back - x).abs() <= MM_PER_INCH / 128.0 + 1e-9, "{x} mm printed {text}, read {back}");
            }
        }
    }

    #[test]
    fn times_are_said_in_the_unit_that_fits() {
        assert_eq!([time(0.0), time(0.1), time(12.0), time(117.0)], ["0 s", "5 s", "10 s", "115 s"]);
        assert_eq!(
            [time(149.0), time(151.0), time(3570.0), time(3540.0)],
            ["2 min", "3 min", "1 h 00 min", "59 min"]
        );
        assert_eq!(
            [celsius(119.6), celsius_limit(250.0), celsius_limit(149.9)],
            ["120 °C", "250 °C", "145 °C"]
        );
    }
}
