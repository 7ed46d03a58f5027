//! Everything on paper but the numbered rows: deferral, cautions, headings, tables, pictures.

use super::Flow;
use crate::output::drawing::{Area, BLACK, Drawing, Grey, Pen, Text, WHITE, pt};
use crate::output::font;
use crate::output::safety::Caution;
use crate::output::sheet::{Block, ColumnKind, Table};

/// Size of running text and the height of its line, mm.
const TEXT_MM: f64 = 3.8;
const LINE_MM: f64 = 4.9;

impl Flow<'_> {
    /// The deferral in a frame of its own.
    pub(super) fn deferral(&mut self, deferral: &Caution) {
        let body = self.body();
        let lines: Vec<String> = deferral
            .lines
            .iter()
            .flat_map(|line| font::wrap(line, TEXT_MM, false, body.width() - 10.0))
            .collect();
        let height = 9.5 + lines.len() as f64 * LINE_MM + 2.0;
        self.need(height);
        let y = self.y;
        let page = self.page();
        let area = Area { left: body.left, right: body.right, top: y, bottom: y + height };
        page.rectangle(area.grown(-0.5), Some(Pen::black(1.0)), None);
        page.text(Text::new(pt(body.left + 5.0, y + 7.0), &deferral.heading, 5.0).bold());
        for (n, line) in lines.iter().enumerate() {
            page.text(Text::new(pt(body.left + 5.0, y + 8.2 + LINE_MM * (n + 1) as f64), line, TEXT_MM));
        }
        self.y += height + 4.0;
    }

    /// The cautions in two columns, the frame's own hazards in black heads.
    pub(super) fn cautions(&mut self, cautions: &[Caution]) {
        self.heading("Cautions");
        let body = self.body();
        let gutter = 7.0;
        let width = (body.width() - gutter) / 2.0;
        let (mut column, mut top, mut y) = (0, self.y, self.y);
        for caution in cautions {
            let lines: Vec<(bool, String)> = caution
                .lines
                .iter()
                .flat_map(|line| {
                    let folded = font::wrap(line, 3.5, false, width - 4.5);
                    folded.into_iter().enumerate().map(|(n, l)| (n == 0, l)).collect::<Vec<_>>()
                })
                .collect();
            let height = 8.0 + lines.len() as f64 * 4.4 + 2.6;
            if y + height > body.bottom {
                column += 1;
                if column == 2 {
                    self.new_page();
                    (column, top) = (0, body.top);
                }
                y = top;
            }
            let left = body.left + f64::from(column) * (width + gutter);
            let page = self.page();
            let (fill, ink) = if caution.own { (Grey(30), WHITE) } else { (Grey(225), BLACK) };
            let head = Area { left, right: left + width, top: y, bottom: y + 6.4 };
            page.rectangle(head, None, Some(fill));
            let words = font::fit(&caution.heading, 4.2, true, width - 4.0);
            page.text(Text { grey: ink, ..Text::new(pt(left + 2.0, y + 4.8), words, 4.2).bold() });
            for (n, (first, line)) in lines.iter().enumerate() {
                let base = y + 6.2 + 4.4 * (n + 1) as f64;
                if *first {
                    page.circle(pt(left + 1.6, base - 1.2), 0.6, None, Some(BLACK));
                }
                page.text(Text::new(pt(left + 4.0, base), line, 3.5));
            }
            y += height;
            // The page counts as used even while its columns are still being filled.
            self.y = self.y.max(y);
        }
    }

    pub(super) fn heading(&mut self, words: &str) {
        self.gap(3.0);
        let body = self.body();
        self.need(30.0);
        let y = self.y;
        self.page()
            .text(Text::new(pt(body.left, y + 5.0), font::fit(words, 5.5, true, body.width()), 5.5).bold());
        self.y += 8.5;
    }

    pub(super) fn blocks(&mut self, blocks: &[Block]) {
        let mut n = 0;
        while n < blocks.len() {
            match &blocks[n] {
                Block::Heading(words) => {
                    // A heading stays with what it is the heading of.
                    if let Some(Block::Picture { drawing, caption }) = blocks.get(n + 1) {
                        self.need((12.0 + self.picture_mm(drawing, caption)).min(self.body().height()));
                    }
                    self.heading(words);
                }
                Block::Words(words) => self.words(words),
                Block::Table(table) => self.table(table),
                Block::Picture { .. } => {
                    let row: Vec<(&Drawing, &str)> = blocks[n..]
                        .iter()
                        .map_while(|block| match block {
                            Block::Picture { drawing, caption } => Some((drawing, caption.as_str())),
                            _ => None,
                        })
                        .collect();
                    n += self.pictures(&row);
                    continue;
                }
            }
            n += 1;
        }
    }

    fn words(&mut self, words: &str) {
        let body = self.body();
        for line in font::wrap(words, TEXT_MM, false, body.width()) {
            self.need(LINE_MM);
            let y = self.y;
            self.page().text(Text::new(pt(body.left, y + 3.8), line, TEXT_MM));
            self.y += LINE_MM;
        }
        self.gap(2.0);
    }

    /// No picture is enlarged; one too large for the page is made smaller.
    fn scale(&self, drawing: &Drawing, caption: &str) -> f64 {
        let body = self.body();
        let room = body.height() - caption_mm(caption);
        (body.width() / drawing.width_mm).min(room / drawing.height_mm).min(1.0)
    }

    /// Height of a picture with its caption, mm.
    fn picture_mm(&self, drawing: &Drawing, caption: &str) -> f64 {
        drawing.height_mm * self.scale(drawing, caption) + caption_mm(caption)
    }

    /// Puts as many pictures side by side as fit; returns how many were placed.
    fn pictures(&mut self, pictures: &[(&Drawing, &str)]) -> usize {
        const GAP: f64 = 4.0;
        let body = self.body();
        let (mut count, mut width) = (0, 0.0);
        for (drawing, caption) in pictures {
            let next = width + drawing.width_mm * self.scale(drawing, caption);
            if count > 0 && next > body.width() + 1e-6 {
                break;
            }
            width = next + GAP;
            count += 1;
        }
        let row = &pictures[..count];
        let height = row.iter().map(|(d, c)| self.picture_mm(d, c)).fold(0.0, f64::max);
        self.need(height);
        let y = self.y;
        let mut left = body.left;
        for (drawing, caption) in row {
            let scale = self.scale(drawing, caption);
            let (width, height) = (drawing.width_mm * scale, drawing.height_mm * scale);
            let page = self.page();
            page.place(drawing, pt(left, y), scale);
            if !caption.is_empty() {
                let words = font::fit(caption, 3.4, false, width);
                page.text(Text::new(pt(left, y + height + 3.8), words, 3.4));
            }
            left += width + GAP;
        }
        self.y += height;
        self.y = (self.y + 3.0).min(body.bottom);
        count
    }

    fn table(&mut self, table: &Table) {
        const SIZE: f64 = 3.6;
        const PAD: f64 = 1.6;
        let body = self.body();
        let widths = column_widths(table, SIZE, PAD, body.width());
        let write = table.columns.iter().any(|c| c.kind == ColumnKind::Write);
        let cell_lines =
            |text: &str, column: usize, bold: bool| font::wrap(text, SIZE, bold, widths[column] - 2.0 * PAD);
        let height_of = |row: &[String], bold: bool| {
            let depth = row
                .iter()
                .enumerate()
                .filter(|(c, _)| bold || table.columns[*c].kind != ColumnKind::Write)
                .map(|(c, text)| cell_lines(text, c, bold).len())
                .max()
                .unwrap_or(1);
            let height = depth as f64 * 4.7 + 2.0;
            if write && !bold { height.max(10.0) } else { height }
        };
        let names: Vec<String> = table.columns.iter().map(|c| c.name.clone()).collect();
        let head_height = height_of(&names, true);
        self.gap(2.0);
        let first = table.rows.first().map_or(0.0, |r| height_of(r, false));
        self.need(8.0 + head_height + first);
        let y = self.y;
        if !table.title.is_empty() {
            let words = font::fit(&table.title, 4.6, true, body.width());
            self.page().text(Text::new(pt(body.left, y + 4.6), words, 4.6).bold());
            self.y += 7.0;
        }
        let total: f64 = widths.iter().sum();
        let mut head = true;
        for row in &table.rows {
            let height = height_of(row, false);
            if self.y + height > body.bottom {
                self.new_page();
                head = true;
            }
            if head {
                let y = self.y;
                let area =
                    Area { left: body.left, right: body.left + total, top: y, bottom: y + head_height };
                self.page().rectangle(area, None, Some(Grey(225)));
                for (c, name) in names.iter().enumerate() {
                    let x = body.left + widths[..c].iter().sum::<f64>();
                    let right = table.columns[c].kind == ColumnKind::Numbers;
                    let lines = cell_lines(name, c, true);
                    cell(self.page(), x, y, widths[c], PAD, SIZE, &lines, right, true);
                }
                self.y += head_height;
                head = false;
            }
            let y = self.y;
            for (c, text) in row.iter().enumerate() {
                let x = body.left + widths[..c].iter().sum::<f64>();
                let kind = table.columns[c].kind;
                let page = self.page();
                if kind == ColumnKind::Write {
                    let slot = Area {
                        left: x + PAD,
                        right: x + widths[c] - PAD,
                        top: y + 0.9,
                        bottom: y + height - 0.9,
                    };
                    page.rectangle(slot, Some(Pen::black(0.4)), None);
                    page.text(Text::new(pt(slot.right - 1.0, slot.bottom - 2.2), text, 2.9).right().grey(90));
                } else {
                    let lines = cell_lines(text, c, false);
                    cell(page, x, y, widths[c], PAD, SIZE, &lines, kind == ColumnKind::Numbers, false);
                }
            }
            self.y += height;
            let y = self.y;
            self.page().line(pt(body.left, y), pt(body.left + total, y), Pen::grey(0.2, 130));
        }
        self.y = (self.y + 4.0).min(body.bottom);
    }
}

/// Height of the line under a picture, mm.
fn caption_mm(caption: &str) -> f64 {
    if caption.is_empty() { 0.0 } else { 6.0 }
}

/// Lines of text in a cell.
#[allow(clippy::too_many_arguments)]
fn cell(
    page: &mut Drawing,
    x: f64,
    y: f64,
    width: f64,
    pad: f64,
    size: f64,
    lines: &[String],
    right: bool,
    bold: bool,
) {
    for (n, line) in lines.iter().enumerate() {
        let base = y + 1.0 + 4.7 * (n + 1) as f64 - 1.2;
        let place = pt(if right { x + width - pad } else { x + pad }, base);
        let text = Text { bold, ..Text::new(place, line, size) };
        page.text(if right { text.right() } else { text });
    }
}

/// Widths of the columns: what their contents need, columns of words giving way first.
fn column_widths(table: &Table, size: f64, pad: f64, room: f64) -> Vec<f64> {
    const WRITE: f64 = 30.0;
    const LEAST: f64 = 16.0;
    let mut widths: Vec<f64> = table
        .columns
        .iter()
        .enumerate()
        .map(|(c, column)| {
            let head = font::width_mm(&font::printable(&column.name).0, size, true);
            let cells = table.rows.iter().map(|r| font::width_mm(&font::printable(&r[c]).0, size, false));
            let widest = cells.fold(head, f64::max);
            if column.kind == ColumnKind::Write {
                WRITE.max(head + 2.0 * pad)
            } else {
                widest + 2.0 * pad + 0.1
            }
        })
        .collect();
    // A column of words gives way down to its longest word, unless that is very long.
    let least: Vec<f64> = (0..table.columns.len())
        .map(|c| match table.columns[c].kind {
            ColumnKind::Words => {
                let words = table.rows.iter().flat_map(|r| r[c].split_whitespace());
                let longest = words.map(|w| font::width_mm(&font::printable(w).0, size, false));
                (longest.fold(0.0, f64::max) + 2.0 * pad + 0.1).clamp(LEAST, 45.0)
            }
            _ => LEAST,
        })
        .collect();
    let over = |widths: &[f64]| widths.iter().sum::<f64>() - room;
    for kind in [ColumnKind::Words, ColumnKind::Numbers, ColumnKind::Write] {
        while over(&widths) > 1e-9 {
            let widest = (0..widths.len())
                .filter(|c| table.columns[*c].kind == kind && widths[*c] > least[*c])
                .max_by(|a, b| widths[*a].total_cmp(&widths[*b]).then(b.cmp(a)));
            let Some(c) = widest else { break };
            widths[c] = (widths[c] - 1.0).max(least[c]);
        }
    }
    if over(&widths) > 0.0 {
        let share = room / widths.iter().sum::<f64>();
        widths.iter_mut().for_each(|w| *w *= share);
    }
    widths
}
