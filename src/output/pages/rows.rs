//! The numbered rows on paper.

use super::{Flow, icons};
use crate::output::drawing::{Anchor, Area, BLACK, Drawing, Grey, Pen, Text, Tint, WHITE, pt};
use crate::output::font;
use crate::output::sheet::{CheckRow, Reading, RowKind};

/// Height of a pass, mm: twenty of them on a page of A4.
const ROW_MM: f64 = 12.35;
/// Side of the box to tick, mm: room for a marker in a glove.
pub const TICK_MM: f64 = 9.0;
/// Height of the line for a reading, mm.
const READING_MM: f64 = 10.0;

/// How a row that is not a pass is set off from the passes, in tones that survive a copy.
struct Band {
    fill: Grey,
    ink: Grey,
    border: Option<Pen>,
}

fn band(kind: RowKind) -> Band {
    match kind {
        RowKind::Hold => Band { fill: Grey(205), ink: BLACK, border: Some(Pen::black(1.0)) },
        RowKind::Turn | RowKind::Stage => Band { fill: Grey(30), ink: WHITE, border: None },
        RowKind::Release => {
            Band { fill: Grey(225), ink: BLACK, border: Some(Pen::black(0.8).dashed(2.5, 1.8)) }
        }
        RowKind::Wait => Band { fill: Grey(225), ink: BLACK, border: None },
        _ => Band { fill: Grey(240), ink: BLACK, border: Some(Pen::black(0.3)) },
    }
}

impl Flow<'_> {
    pub(super) fn rows(&mut self, rows: &[CheckRow]) {
        for (n, row) in rows.iter().enumerate() {
            if row.kind.welds() {
                // Passes laid at the same time stay on one page.
                let together = 1 + rows[n + 1..].iter().take_while(|r| r.with_above).count();
                self.need(if row.with_above { ROW_MM } else { ROW_MM * together as f64 });
                let (body, y) = (self.body(), self.y);
                pass(self.page(), Area { top: y, bottom: y + ROW_MM, ..body }, row);
                self.y += ROW_MM;
            } else {
                self.stop(row);
            }
        }
    }

    /// A row that is not a pass. Readings that find no room on the page go on in a band on the next.
    fn stop(&mut self, row: &CheckRow) {
        let mut readings = row.readings.as_slice();
        let mut first = true;
        loop {
            // What stands above the readings: the word and a few lines of words.
            let above = 45.0;
            let body = self.body();
            let room = |from: f64| ((body.bottom - from - above) / READING_MM).floor().max(0.0) as usize;
            let here = room(self.y);
            // Kept together if a page can hold them; a long list is split where the page ends.
            let whole = room(body.top);
            let count = match readings.len() {
                n if n <= whole => n,
                _ if here >= 4 => here,
                _ => whole,
            };
            let (now, later) = readings.split_at(count);
            self.stop_part(row, now, first);
            if later.is_empty() {
                return;
            }
            self.new_page();
            (readings, first) = (later, false);
        }
    }

    fn stop_part(&mut self, row: &CheckRow, readings: &[Reading], first: bool) {
        let body = self.body();
        let text_left = body.left + 44.0;
        let width = body.right - 3.0 - text_left;
        let word = row.kind.word();
        let say = if first { row.say.as_str() } else { "continued from the page before" };
        let says = font::wrap(say, 4.4, false, width);
        // One short sentence stands beside the word, more stand under it.
        let beside = font::width_mm(word, 6.5, true) + 5.0;
        let short =
            says.len() == 1 && readings.is_empty() && beside + font::width_mm(&says[0], 4.4, false) <= width;
        let under = if short { 0 } else { says.iter().filter(|s| !s.is_empty()).count() };
        let height = (ROW_MM - 0.8 + under as f64 * 5.4).max(ROW_MM - 0.8)
            + readings.len() as f64 * READING_MM
            + if under > 0 || !readings.is_empty() { 1.0 } else { 0.0 };
        self.need(height + 0.8);
        let y = self.y + 0.4;
        let page = self.page();
        let band = band(row.kind);
        let area = Area { left: body.left, right: body.right, top: y, bottom: y + height };
        let inset = band.border.map_or(0.0, |p| p.width_mm / 2.0);
        let draw = |d: &mut Drawing| d.rectangle(area.grown(-inset), band.border, Some(band.fill));
        match row.kind {
            RowKind::Hold | RowKind::Release | RowKind::Turn => page.tinted(Tint::Stop, draw),
            _ => draw(page),
        }
        let ink = |text: Text| Text { grey: band.ink, ..text };
        // One box and one number for a row, however many pages it takes.
        if first {
            icons::tick_box(page, body.left + 1.4, y + 1.3, TICK_MM);
            number(page, body.left + 27.0, y + 8.4, row.number, 14.0, band.ink);
        }
        icons::sign(page, pt(body.left + 36.0, y + 5.8), 4.2, row.kind, band.ink);
        page.text(ink(Text::new(pt(text_left, y + 8.2), word, 6.5).bold()));
        let mut base = y + 8.2;
        if short {
            page.text(ink(Text::new(pt(text_left + beside, base), &says[0], 4.4)));
        } else {
            base += 0.6;
            for say in says.iter().filter(|s| !s.is_empty()) {
                base += 5.4;
                page.text(ink(Text::new(pt(text_left, base), say, 4.4)));
            }
        }
        let mut top = base + 2.0;
        for reading in readings {
            let box_right = body.right - 3.0;
            let box_left = box_right - 30.0;
            let slot = Area { left: box_left, right: box_right, top, bottom: top + READING_MM - 1.4 };
            page.rectangle(slot, Some(Pen::black(0.5)), Some(WHITE));
            page.text(Text::new(pt(box_right - 1.0, top + 6.4), &reading.unit, 3.4).right().grey(90));
            let words = format!("expect {}", reading.expect);
            let expect = Text::new(pt(box_left - 3.0, top + 6.0), words, 4.4).right().bold();
            let room = expect.start().x - 3.0 - text_left;
            let size = shrunk_plain(&reading.name, 4.4, 3.2, room);
            let name = font::fit(&reading.name, size, false, room);
            page.text(ink(Text::new(pt(text_left, top + 6.0), name, size)));
            page.text(ink(expect));
            top += READING_MM;
        }
        self.y += height + 0.8;
    }
}

/// The row of a pass or a tack.
fn pass(page: &mut Drawing, area: Area, row: &CheckRow) {
    let Area { left, right, top, bottom } = area;
    page.line(pt(left, bottom), pt(right, bottom), Pen::grey(0.25, 130));
    let tick_top = top + (area.height() - TICK_MM) / 2.0;
    icons::tick_box(page, left, tick_top, TICK_MM);
    if row.with_above {
        // Joined boxes: these are laid together.
        let x = left + TICK_MM / 2.0;
        page.line(pt(x, top - (area.height() - TICK_MM) / 2.0), pt(x, tick_top), Pen::black(1.2));
    }
    number(page, left + 25.0, top + 8.6, row.number, 15.0, BLACK);
    if let Some(picture) = &row.picture {
        page.place(picture, pt(left + 27.6, top + (area.height() - picture.height_mm) / 2.0), 1.0);
    }

    let label_left = left + 41.0;
    let tack = row.kind == RowKind::Tack;
    let label_width = if tack { 46.0 } else { 33.0 };
    let label = if tack { format!("tack {}", row.label) } else { row.label.clone() };
    let size = shrunk(&label, 7.0, 4.0, label_width);
    page.text(Text::new(pt(label_left, top + 6.6), font::fit(&label, size, true, label_width), size).bold());
    small(page, label_left, top + 11.5, &row.joint, 2.7, label_width, Anchor::Left);

    let mut end = right;
    if !row.welder.is_empty() {
        icons::welder(page, pt(right - 4.4, top + area.height() / 2.0), 4.2, &row.welder);
        end -= 11.0;
    }
    let last_left = end - 40.0;
    let where_left = label_left + label_width + 3.0;
    let where_width = last_left - 3.0 - where_left;
    let clock = if row.start.is_empty() { row.segment.clone() } else { row.clock() };
    page.text(Text::new(pt(where_left, top + 4.7), font::fit(&clock, 4.7, true, where_width), 4.7).bold());
    if tack {
        // What a tack holds is read with the tube in the hand: two lines, no settings beside them.
        small(page, end, top + 4.7, &row.direction, 3.2, 40.0, Anchor::Right);
        let lines = font::wrap(&row.reason, 2.7, false, end - where_left);
        for (n, line) in lines.iter().take(2).enumerate() {
            let words = if n == 1 { lines[1..].join(" ") } else { line.clone() };
            small(page, where_left, top + 7.9 + 3.3 * n as f64, &words, 2.7, end - where_left, Anchor::Left);
        }
        return;
    }
    let how = listed(&[&row.direction, &row.layer, &row.position, &row.heat_input]);
    small(page, where_left, top + 8.5, &how, 3.2, where_width, Anchor::Left);
    small(page, where_left, top + 11.5, &row.reason, 2.7, where_width, Anchor::Left);

    if !row.under.is_empty() {
        let under = format!("under {}", row.under);
        page.text(Text::new(pt(end, top + 4.7), font::fit(&under, 4.7, true, 40.0), 4.7).bold().right());
    }
    let wait = if row.wait.is_empty() { String::new() } else { format!("wait {} first", row.wait) };
    let beside = if wait.is_empty() { row.segment.clone() } else { wait };
    let segment = if row.start.is_empty() || row.kind == RowKind::Tack { String::new() } else { beside };
    small(page, end, top + 8.5, &segment, 3.2, 40.0, Anchor::Right);
    small(page, end, top + 11.5, &row.settings, 2.7, 40.0, Anchor::Right);
}

/// A line in small print, cut to its width; nothing if it is empty.
fn small(page: &mut Drawing, x: f64, y: f64, words: &str, size: f64, width: f64, anchor: Anchor) {
    if !words.is_empty() {
        let size = shrunk_plain(words, size, 2.4_f64.min(size), width);
        page.text(Text { anchor, ..Text::new(pt(x, y), font::fit(words, size, false, width), size) });
    }
}

/// A row's number, right-aligned, as large as its room allows.
fn number(page: &mut Drawing, right: f64, base: f64, number: usize, width: f64, ink: Grey) {
    let words = number.to_string();
    let size = shrunk(&words, 7.0, 2.0, width);
    page.text(Text { grey: ink, ..Text::new(pt(right, base), words, size).bold().right() });
}

/// The largest size not above `size` in which bold words fit, but not below `least`.
fn shrunk(words: &str, size: f64, least: f64, width: f64) -> f64 {
    let needed = font::width_mm(words, size, true);
    if needed <= width { size } else { (size * width / needed).max(least) }
}

fn shrunk_plain(words: &str, size: f64, least: f64, width: f64) -> f64 {
    let needed = font::width_mm(words, size, false);
    if needed <= width { size } else { (size * width / needed).max(least) }
}

fn listed(parts: &[&String]) -> String {
    parts.iter().filter(|p| !p.is_empty()).map(|p| p.as_str()).collect::<Vec<_>>().join(" · ")
}
