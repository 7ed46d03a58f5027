//! The two faces that all pictures and pages are set in: how wide a text is, what it lacks, and the
//! outlines of its letters.
//!
//! Parts of DejaVu Sans Condensed (licence in `font/LICENSE`): Latin with its extensions, Greek,
//! Cyrillic, arrows and signs. A character that is not in them is printed as its code,
//! `[U+4E2D]`, so that it never vanishes from a sheet.

use std::sync::LazyLock;
use ttf_parser::{Face, OutlineBuilder};

/// The file of a face, for embedding.
pub fn bytes(bold: bool) -> &'static [u8] {
    if bold {
        include_bytes!("font/DejaVuSansCondensed-Bold-part.ttf")
    } else {
        include_bytes!("font/DejaVuSansCondensed-part.ttf")
    }
}

/// Height of capitals and figures, in ems (read from the face: 1493/2048).
pub const CAP: f64 = 0.729;
/// How far the tallest of the letters and signs of ASCII rise above the base line, in ems.
pub const ASCENT: f64 = 0.80;
/// How far the lowest of them reach below it, in ems.
pub const DESCENT: f64 = 0.24;

/// Width of a text, mm, set in a size given in mm (the em).
pub fn width_mm(text: &str, size_mm: f64, bold: bool) -> f64 {
    let units: u32 = text.chars().filter_map(|c| advance(c, bold)).map(u32::from).sum();
    f64::from(units) / f64::from(face(bold).units_per_em()) * size_mm
}

/// The text as it can be printed, and the characters that had to be replaced by their code.
///
/// Control characters and line ends become blanks: a text is one line.
pub fn printable(text: &str) -> (String, Vec<char>) {
    let mut printed = String::with_capacity(text.len());
    let mut missing = vec![];
    for c in text.chars() {
        if c.is_control() {
            printed.push(' ');
        } else if advance(c, false).is_some() && advance(c, true).is_some() {
            printed.push(c);
        } else {
            printed.push_str(&format!("[U+{:04X}]", c as u32));
            if !missing.contains(&c) {
                missing.push(c);
            }
        }
    }
    (printed, missing)
}

/// Breaks a text into lines no wider than `width_mm`; a word wider than a line is broken inside.
pub fn wrap(text: &str, size_mm: f64, bold: bool, width: f64) -> Vec<String> {
    let text = printable(text).0;
    let mut lines = vec![];
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if width_mm(&longer, size_mm, bold) <= width {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        // A word wider than the line is cut where the line ends, with a hyphen between letters.
        let mut rest = word.chars().peekable();
        while let Some(c) = rest.next() {
            let last = rest.peek().is_none();
            let hyphen = !last && c.is_alphabetic() && rest.peek().is_some_and(|next| next.is_alphabetic());
            let longer = format!("{line}{c}{}", if hyphen { "-" } else { "" });
            if !line.is_empty() && width_mm(&longer, size_mm, bold) > width {
                if line.chars().last().is_some_and(char::is_alphabetic) && c.is_alphabetic() {
                    line.push('-');
                }
                lines.push(std::mem::take(&mut line));
            }
            line.push(c);
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text cut to a width, with `…` at its end if something was cut off.
pub fn fit(text: &str, size_mm: f64, bold: bool, width: f64) -> String {
    let text = printable(text).0;
    if width_mm(&text, size_mm, bold) <= width {
        return text;
    }
    let mut kept = String::new();
    for c in text.chars() {
        if width_mm(&format!("{kept}{c}…"), size_mm, bold) > width {
            break;
        }
        kept.push(c);
    }
    format!("{}…", kept.trim_end())
}

/// Draws the outlines of a text into `into`, set in a size of 1 em, y upwards, from the origin.
pub fn outline(text: &str, bold: bool, into: &mut impl FnMut(Stroke)) {
    let face = face(bold);
    let scale = 1.0 / f64::from(face.units_per_em());
    let mut x = 0.0;
    for c in text.chars() {
        let Some(glyph) = face.glyph_index(c) else { continue };
        face.outline_glyph(glyph, &mut Shifted { x, scale, into });
        x += f64::from(face.glyph_hor_advance(glyph).unwrap_or(0)) * scale;
    }
}

/// A piece of a letter's outline, in ems.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stroke {
    /// Begin here.
    Move(f64, f64),
    /// Straight to here.
    Line(f64, f64),
    /// Bend towards the first, end at the second.
    Quad(f64, f64, f64, f64),
    /// Bend towards the first and the second, end at the third.
    Cubic(f64, f64, f64, f64, f64, f64),
    /// Back to the beginning.
    Close,
}

struct Shifted<'a, F: FnMut(Stroke)> {
    x: f64,
    scale: f64,
    into: &'a mut F,
}

impl<F: FnMut(Stroke)> Shifted<'_, F> {
    fn at(&self, x: f32, y: f32) -> (f64, f64) {
        (self.x + f64::from(x) * self.scale, f64::from(y) * self.scale)
    }
}

impl<F: FnMut(Stroke)> OutlineBuilder for Shifted<'_, F> {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        (self.into)(Stroke::Move(x, y));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        (self.into)(Stroke::Line(x, y));
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (x1, y1) = self.at(x1, y1);
        let (x, y) = self.at(x, y);
        (self.into)(Stroke::Quad(x1, y1, x, y));
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (x1, y1) = self.at(x1, y1);
        let (x2, y2) = self.at(x2, y2);
        let (x, y) = self.at(x, y);
        (self.into)(Stroke::Cubic(x1, y1, x2, y2, x, y));
    }
    fn close(&mut self) {
        (self.into)(Stroke::Close);
    }
}

/// Width of a character in the units of its face; `None` if the face lacks it.
///
/// Looked up once for all characters below U+2800, where those of the faces end: layout asks often.
fn advance(c: char, bold: bool) -> Option<u16> {
    static TABLES: LazyLock<[Vec<Option<u16>>; 2]> = LazyLock::new(|| {
        [false, true].map(|bold| {
            let width = |c: char| face(bold).glyph_index(c).and_then(|g| face(bold).glyph_hor_advance(g));
            (0..0x2800).map(|c| char::from_u32(c).and_then(width)).collect()
        })
    });
    *TABLES[usize::from(bold)].get(c as usize)?
}

fn face(bold: bool) -> &'static Face<'static> {
    if bold { &BOLD } else { &REGULAR }
}

static REGULAR: LazyLock<Face<'static>> =
    LazyLock::new(|| Face::parse(bytes(false), 0).expect("the embedded face is sound"));
static BOLD: LazyLock<Face<'static>> =
    LazyLock::new(|| Face::parse(bytes(true), 0).expect("the embedded face is sound"));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn missing_characters_print_as_their_code() {
        let (printed, missing) = printable("Kreuz 中 und 中 \u{1F525}");
        assert_eq!(printed, "Kreuz [U+4E2D] und [U+4E2D] [U+1F525]");
        assert_eq!(missing, ['中', '\u{1F525}']);
    }

    #[test]
    fn the_signs_of_a_sheet_are_there() {
        let signs = "0°µ·×±Ø²³½é łŁőŠž ΑαΩΔδκ Жжёї – — ‘’“”… ← ↑ → ↓ ↻ ↺ − ≈ ≤ ≥ √ □ ■ ▲ ▼ ● ☐ ☑ ✓ ⚠ €";
        assert_eq!(printable(signs), (signs.to_string(), vec![]));
    }

    #[test]
    fn wrapped_lines_keep_every_word_and_the_width() {
        let text = "Draw the fumes away from your face at the joint Donaudampfschifffahrtsgesellschaft";
        let lines = wrap(text, 4.0, false, 30.0);
        assert!(lines.len() > 3);
        for line in &lines {
            assert!(width_mm(line, 4.0, false) <= 30.0, "too wide: {line}");
        }
        assert!(lines.iter().filter(|l| l.ends_with('-')).count() >= 1, "the long word is cut with hyphens");
        let glued: String = lines.concat().split_whitespace().collect();
        assert_eq!(glued.replace('-', ""), text.split_whitespace().collect::<String>());
    }

    #[test]
    fn a_cut_text_fits_and_says_that_it_was_cut() {
        let cut = fit("rear bar at spine, left half", 4.0, true, 30.0);
        assert!(cut.ends_with('…') && width_mm(&cut, 4.0, true) <= 30.0);
        assert_eq!(fit("rail", 4.0, true, 30.0), "rail");
    }

    #[test]
    fn letter_heights_are_those_of_the_faces() {
        for bold in [false, true] {
            let face = face(bold);
            let em = f64::from(face.units_per_em());
            let cap = f64::from(face.glyph_bounding_box(face.glyph_index('H').unwrap()).unwrap().y_max) / em;
            assert!((cap - CAP).abs() < 0.001, "capitals are {cap}");
            let boxes = || ('!'..='~').filter_map(|c| face.glyph_bounding_box(face.glyph_index(c).unwrap()));
            let high = boxes().map(|b| f64::from(b.y_max) / em).fold(0.0, f64::max);
            let low = boxes().map(|b| -f64::from(b.y_min) / em).fold(0.0, f64::max);
            assert!((ASCENT - 0.05..=ASCENT).contains(&high), "ascenders reach {high}");
            assert!((DESCENT - 0.05..=DESCENT).contains(&low), "descenders reach {low}");
        }
    }
}
