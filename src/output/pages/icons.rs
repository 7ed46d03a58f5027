//! Small signs drawn with lines: tick box, clock of a pass, stop, hourglass, turn, square code.

use crate::output::drawing::{Area, BLACK, Drawing, Grey, Pen, Pt, Text, WHITE, pt};
use crate::output::sheet::RowKind;
use qrcode::{EcLevel, QrCode};
use std::f64::consts::TAU;

/// The square code (QR, ISO/IEC 18004) of a text, at most `side` mm wide; `None` if the text is empty
/// or too long to print readably.
pub fn square_code(words: &str, side: f64) -> Option<Drawing> {
    if words.is_empty() {
        return None;
    }
    let code = QrCode::with_error_correction_level(words, EcLevel::M).ok()?;
    let count = code.width();
    let cell = side / count as f64;
    // Under 0.3 mm a cell runs together on a copy.
    if cell < 0.3 {
        return None;
    }
    let colors = code.to_colors();
    let mut drawing = Drawing::new("", side, side);
    for row in 0..count {
        let dark = |column: usize| colors[row * count + column] == qrcode::Color::Dark;
        let mut column = 0;
        while column < count {
            let first = column;
            while column < count && dark(column) {
                column += 1;
            }
            if column > first {
                let area = Area {
                    left: first as f64 * cell,
                    top: row as f64 * cell,
                    right: column as f64 * cell,
                    bottom: (row + 1) as f64 * cell,
                };
                drawing.rectangle(area, None, Some(BLACK));
            } else {
                column += 1;
            }
        }
    }
    Some(drawing)
}

/// A place on a clock face; 12 o'clock is up.
pub fn on_clock(centre: Pt, r: f64, hour: f64) -> Pt {
    let angle = hour / 12.0 * TAU;
    centre + pt(angle.sin() * r, -angle.cos() * r)
}

/// An arc on a clock face from one hour to another, as a line.
pub fn clock_arc(centre: Pt, r: f64, from: f64, to: f64, clockwise: bool) -> Vec<Pt> {
    let sweep = if clockwise { (to - from).rem_euclid(12.0) } else { -(from - to).rem_euclid(12.0) };
    let sweep = if sweep == 0.0 { if clockwise { 12.0 } else { -12.0 } } else { sweep };
    let steps = (sweep.abs() / 0.25).ceil().max(2.0) as usize;
    (0..=steps).map(|i| on_clock(centre, r, from + sweep * i as f64 / steps as f64)).collect()
}

/// The box to tick, `side` mm wide.
pub fn tick_box(page: &mut Drawing, left: f64, top: f64, side: f64) {
    let area = Area { left, top, right: left + side, bottom: top + side };
    page.rectangle(area, Some(Pen::black(0.6)), Some(WHITE));
}

/// The sign of a row that is not a pass, within a circle of radius `r`, in a tone.
pub fn sign(page: &mut Drawing, centre: Pt, r: f64, kind: RowKind, ink: Grey) {
    let pen = Pen { width_mm: 0.7, grey: ink, dash_mm: None };
    let at = |x: f64, y: f64| centre + pt(x * r, y * r);
    match kind {
        RowKind::Hold => {
            // Eight corners, as the stop sign on the road has.
            let corners: Vec<Pt> = (0..8).map(|i| on_clock(centre, r, 0.75 + 1.5 * f64::from(i))).collect();
            page.polygon(corners, None, Some(ink));
            let paper = if ink == BLACK { WHITE } else { BLACK };
            for x in [-0.3, 0.3] {
                let bar = Area::around(at(x, 0.0), r * 0.28, r * 0.95);
                page.rectangle(bar, None, Some(paper));
            }
        }
        RowKind::Wait => {
            let glass = vec![at(-0.7, -0.9), at(0.7, -0.9), at(-0.7, 0.9), at(0.7, 0.9)];
            page.polygon(glass, Some(pen), None);
            page.polygon(vec![at(-0.55, 0.8), at(0.55, 0.8), at(0.0, 0.15)], None, Some(ink));
        }
        RowKind::Turn => {
            let arc = clock_arc(centre, r * 0.85, 7.5, 4.5, true);
            page.arrow(&arc, r * 0.9, Pen { width_mm: 1.0, ..pen });
        }
        RowKind::Clamp | RowKind::Release => {
            let jaw = vec![at(0.6, -0.9), at(-0.7, -0.9), at(-0.7, 0.9), at(0.6, 0.9)];
            page.path(jaw, Pen { width_mm: 1.0, ..pen });
            let (from, to) = if kind == RowKind::Clamp { (0.9, 0.1) } else { (0.1, 0.9) };
            let (tail, tip) = if kind == RowKind::Clamp { (-0.9, -0.1) } else { (-0.1, -0.9) };
            page.arrow(&[at(0.35, from), at(0.35, to)], r * 0.5, pen);
            page.arrow(&[at(0.35, tail), at(0.35, tip)], r * 0.5, pen);
        }
        RowKind::Vent | RowKind::CloseVent => {
            page.circle(centre, r * 0.8, Some(pen), None);
            let fill = (kind == RowKind::CloseVent).then_some(ink);
            page.circle(centre, r * 0.35, Some(pen), fill);
        }
        RowKind::Stage => {
            // Steps that go up.
            let stairs =
                [(-0.9, 0.8), (-0.9, 0.2), (-0.3, 0.2), (-0.3, -0.3), (0.3, -0.3), (0.3, -0.8), (0.9, -0.8)];
            page.path(stairs.iter().map(|(x, y)| at(*x, *y)).collect(), Pen { width_mm: 1.0, ..pen });
        }
        RowKind::Tack | RowKind::Pass => {}
    }
}

/// A letter in a ring: which welder.
pub fn welder(page: &mut Drawing, centre: Pt, r: f64, letter: &str) {
    page.circle(centre, r, Some(Pen::black(0.5)), None);
    let size = r * 1.3;
    page.text(Text::new(centre + pt(0.0, size * 0.36), letter, size).bold().middle());
}
