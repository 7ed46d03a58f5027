//! Units and how numbers print: the only room where a unit is converted or a number is rounded for
//! people.
//!
//! Inside the program every quantity is an `f64` whose name ends in its unit: mm, N, N·mm, MPa, °C,
//! J, J/mm, s, V, A, mm/s, kg, rad (degrees only where a name says `deg`).
//!
//! Out of bounds: welding, files.

/// Millimetres in one inch, exactly (ISO 31-1).
pub const MM_PER_INCH: f64 = 25.4;

/// A length the user wrote as words, in mm: `38`, `38 mm`, `3.8 cm`, `1.2 m`, `1.5 in`, `1 1/2"`,
/// `3/4 in`, `5' 3"`. `None` if it is none of these.
///
/// ```
/// use holdtrue::units::mm_from_words;
/// assert_eq!(mm_from_words("1 1/2\""), Some(38.1));
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
