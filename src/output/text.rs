//! The sheet as text for the terminal.

use super::safety::Caution;
use super::sheet::{Block, CheckRow, ColumnKind, Reading, RowKind, Sheet, Table};
use anstyle::{AnsiColor, Style};

/// How the text is to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TextLook {
    /// Columns of the terminal; less than 60 is taken as 60.
    pub width: usize,
    /// Bold and colour by terminal codes; without it the text is plain.
    pub colour: bool,
    /// The reason for each pass under its row.
    pub reasons: bool,
}

/// The whole sheet as lines of text, each at most as wide as the terminal. Pictures are for paper and
/// screen; here they are left out.
pub fn text(sheet: &Sheet, look: TextLook) -> String {
    let mut page = Page { out: String::new(), width: look.width.max(60), colour: look.colour };
    let title = &sheet.title;
    for line in wrap(&title.frame.to_uppercase(), page.width, "", "") {
        page.styled(&line, BOLD);
    }
    let facts = [format!("plan {}", title.plan()), title.date.clone(), title.program.clone()];
    page.wrapped(&facts.iter().filter(|f| !f.is_empty()).cloned().collect::<Vec<_>>().join(", "), "", "");
    page.gap();
    page.caution(sheet.deferral());
    for caution in sheet.cautions().iter().filter(|c| c.own) {
        page.caution(caution);
    }
    page.gap();
    page.blocks(&sheet.cover);
    page.rows(&sheet.rows, look.reasons);
    page.blocks(&sheet.further);
    page.heading("Cautions for all welding");
    for caution in sheet.cautions().iter().filter(|c| !c.own) {
        page.caution(caution);
    }
    page.out
}

const BOLD: Style = Style::new().bold();
const STOP: Style = Style::new().bold().fg_color(Some(anstyle::Color::Ansi(AnsiColor::Yellow)));
const FAINT: Style = Style::new().dimmed();

struct Page {
    out: String,
    width: usize,
    colour: bool,
}

impl Page {
    fn gap(&mut self) {
        if !self.out.is_empty() && !self.out.ends_with("\n\n") {
            self.out.push('\n');
        }
    }

    fn styled(&mut self, line: &str, style: Style) {
        let line = line.trim_end();
        if line.is_empty() {
            return;
        }
        if self.colour {
            self.out.push_str(&format!("{style}{line}{style:#}\n"));
        } else {
            self.out.push_str(line);
            self.out.push('\n');
        }
    }

    fn heading(&mut self, words: &str) {
        self.gap();
        self.styled(words, BOLD);
        self.out.push_str(&"─".repeat(count(words).min(self.width)));
        self.out.push('\n');
    }

    /// A paragraph, the first line after `first`, the others after `later`.
    fn wrapped(&mut self, words: &str, first: &str, later: &str) {
        for line in wrap(words, self.width, first, later) {
            self.out.push_str(line.trim_end());
            self.out.push('\n');
        }
    }

    fn caution(&mut self, caution: &Caution) {
        let style = if caution.own { STOP } else { BOLD };
        self.styled(&format!("! {}", caution.heading), style);
        for line in &caution.lines {
            self.wrapped(line, "  ", "    ");
        }
    }

    fn blocks(&mut self, blocks: &[Block]) {
        for (n, block) in blocks.iter().enumerate() {
            match block {
                // A heading over pictures alone has nothing to stand over here.
                Block::Heading(words) => {
                    let under = blocks[n + 1..].iter().take_while(|b| !matches!(b, Block::Heading(_)));
                    if under.into_iter().any(|b| !matches!(b, Block::Picture { .. })) {
                        self.heading(words);
                    }
                }
                Block::Words(words) => {
                    self.wrapped(words, "", "");
                    self.gap();
                }
                Block::Table(table) => self.table(table),
                Block::Picture { .. } => {}
            }
        }
    }

    fn table(&mut self, table: &Table) {
        self.gap();
        self.styled(&table.title, BOLD);
        let cell = |kind: ColumnKind, text: &str| match kind {
            ColumnKind::Write => format!("______ {text}").trim_end().to_string(),
            _ => text.to_string(),
        };
        let kinds: Vec<ColumnKind> = table.columns.iter().map(|c| c.kind).collect();
        let mut lines: Vec<Vec<String>> = vec![table.columns.iter().map(|c| c.name.clone()).collect()];
        for row in &table.rows {
            lines.push(row.iter().zip(&kinds).map(|(text, kind)| cell(*kind, text)).collect());
        }
        let mut widths: Vec<usize> =
            (0..kinds.len()).map(|c| lines.iter().map(|l| count(&l[c])).max().unwrap_or(0)).collect();
        // Columns of words give way first, the widest before the others, down to eight letters.
        while widths.iter().sum::<usize>() + 2 * widths.len() > self.width {
            let widest = (0..kinds.len())
                .filter(|c| kinds[*c] == ColumnKind::Words && widths[*c] > 8)
                .max_by_key(|c| (widths[*c], usize::MAX - c));
            match widest {
                Some(c) => widths[c] -= 1,
                None => break,
            }
        }
        if widths.iter().sum::<usize>() + 2 * widths.len() > self.width {
            self.table_as_list(&lines);
            return;
        }
        for (n, line) in lines.iter().enumerate() {
            let folded: Vec<Vec<String>> =
                line.iter().zip(&widths).map(|(text, width)| wrap(text, *width, "", "")).collect();
            let depth = folded.iter().map(Vec::len).max().unwrap_or(1);
            for level in 0..depth {
                let mut out = String::from(" ");
                for (c, part) in folded.iter().enumerate() {
                    let text = part.get(level).map_or("", String::as_str);
                    out.push(' ');
                    out.push_str(&pad(text, widths[c], kinds[c] == ColumnKind::Numbers));
                    out.push(' ');
                }
                self.styled(&out, if n == 0 { FAINT } else { Style::new() });
            }
        }
        self.gap();
    }

    /// A table too wide for the terminal, row by row.
    fn table_as_list(&mut self, lines: &[Vec<String>]) {
        let Some((head, rows)) = lines.split_first() else { return };
        for row in rows {
            let Some((first, rest)) = row.split_first() else { continue };
            self.wrapped(first, "  ", "  ");
            let parts: Vec<String> = head
                .iter()
                .skip(1)
                .zip(rest)
                .filter(|(_, cell)| !cell.is_empty())
                .map(|(name, cell)| format!("{name} {cell}"))
                .collect();
            self.wrapped(&parts.join(", "), "      ", "      ");
        }
        self.gap();
    }

    fn rows(&mut self, rows: &[CheckRow], reasons: bool) {
        if rows.is_empty() {
            return;
        }
        self.heading("Order of work");
        let columns = Columns::of(rows);
        let mut columns = columns;
        // Where settings do not fit beside a pass they stand on a line of their own as they change.
        let apart = columns.head().chars().count().max(columns.full()) > self.width;
        if apart {
            columns.settings = 0;
        }
        self.styled(&columns.head(), FAINT);
        let mut settings = String::new();
        for row in rows {
            if apart && row.kind == RowKind::Pass && row.settings != settings {
                settings.clone_from(&row.settings);
                self.wrapped(&format!("from here: {settings}"), &columns.indent(), &columns.indent());
            }
            if row.kind == RowKind::Tack {
                let line = format!("{}  {}, {}", columns.line(row).trim_end(), row.direction, row.joint);
                if count(&line) <= self.width {
                    self.out.push_str(&line);
                    self.out.push('\n');
                } else {
                    self.out.push_str(columns.line(row).trim_end());
                    self.out.push('\n');
                    let rest = format!("{}, {}", row.direction, row.joint);
                    self.wrapped(&rest, &columns.indent(), &columns.indent());
                }
                if !row.reason.is_empty() {
                    self.wrapped(&row.reason, &columns.indent(), &columns.indent());
                }
            } else if row.kind.welds() {
                self.out.push_str(columns.line(row).trim_end());
                self.out.push('\n');
                if !row.wait.is_empty() {
                    self.wrapped(&format!("wait {} first", row.wait), &columns.indent(), &columns.indent());
                }
                if reasons && !row.reason.is_empty() {
                    self.wrapped(&row.reason, &columns.indent(), &columns.indent());
                }
            } else {
                self.stop(row, &columns);
            }
        }
    }

    /// A row that is not a pass.
    fn stop(&mut self, row: &CheckRow, columns: &Columns) {
        let head = format!("{} [ ] ", pad(&row.number.to_string(), columns.number, true));
        let line = format!("{head}{}", row.kind.word());
        let loud = matches!(
            row.kind,
            RowKind::Hold | RowKind::Stage | RowKind::Turn | RowKind::Release | RowKind::Vent
        );
        let says = wrap(&row.say, self.width - columns.number - 5, "", "");
        let short = says.len() == 1 && count(&line) + 2 + count(&says[0]) <= self.width;
        if short && row.readings.is_empty() {
            self.styled(&format!("{line}  {}", says[0]), if loud { STOP } else { BOLD });
            return;
        }
        self.styled(&line, if loud { STOP } else { BOLD });
        for say in says.iter().filter(|s| !s.is_empty()) {
            self.out.push_str(&format!("{}{say}\n", columns.indent()));
        }
        let slot = |r: &Reading| format!("  ______ {}  expect {}", r.unit, r.expect);
        let room = row.readings.iter().map(|r| count(&slot(r))).max().unwrap_or(0) + columns.number + 5;
        let room = self.width.saturating_sub(room).max(8);
        let widest = row.readings.iter().map(|r| count(&r.name)).max().unwrap_or(0).min(room);
        for reading in &row.readings {
            let name = wrap(&reading.name, widest, "", "");
            for (n, part) in name.iter().enumerate() {
                let rest = if n + 1 == name.len() { slot(reading) } else { String::new() };
                let line = format!("{}{}{rest}", columns.indent(), pad(part, widest, false));
                self.out.push_str(line.trim_end());
                self.out.push('\n');
            }
        }
    }
}

/// Widths of the columns of the passes, from their contents.
struct Columns {
    number: usize,
    label: usize,
    clock: usize,
    direction: usize,
    layer: usize,
    position: usize,
    heat: usize,
    under: usize,
    settings: usize,
    welder: usize,
    /// Heat input per inch instead of per millimetre.
    inches: bool,
}

impl Columns {
    fn of(rows: &[CheckRow]) -> Columns {
        let welds: Vec<&CheckRow> = rows.iter().filter(|r| r.kind.welds()).collect();
        let widest = |head: usize, text: fn(&CheckRow) -> String| {
            welds.iter().map(|r| count(&text(r))).filter(|n| *n > 0).max().map_or(0, |n| n.max(head))
        };
        Columns {
            number: rows.iter().map(|r| r.number).max().unwrap_or(1).to_string().len().max(2),
            label: widest(4, label),
            clock: widest(5, clock),
            direction: widest(3, direction),
            layer: widest(5, |r| r.layer.clone()),
            position: widest(3, |r| r.position.clone()),
            heat: widest(5, heat),
            under: widest(5, |r| r.under.clone()),
            settings: widest(8, |r| r.settings.clone()),
            welder: widest(3, |r| r.welder.clone()),
            inches: welds.iter().any(|r| r.heat_input.ends_with("/in")),
        }
    }
    fn indent(&self) -> String {
        " ".repeat(self.number + 5)
    }
    /// Width of a full line.
    fn full(&self) -> usize {
        let columns = [
            self.label,
            self.clock,
            self.direction,
            self.layer,
            self.position,
            self.heat,
            self.under,
            self.welder,
            self.settings,
        ];
        self.number + 5 + columns.iter().filter(|w| **w > 0).map(|w| w + 1).sum::<usize>() - 1
    }
    fn head(&self) -> String {
        self.join(
            &" ".repeat(self.number),
            "   ",
            [
                "pass",
                "clock",
                "way",
                "layer",
                "pos",
                if self.inches { "kJ/in" } else { "kJ/mm" },
                "under",
                "who",
                "settings",
            ],
        )
    }
    fn line(&self, row: &CheckRow) -> String {
        self.join(
            &pad(&row.number.to_string(), self.number, true),
            if row.with_above { "[ ]+" } else { "[ ]" },
            [
                &label(row),
                &clock(row),
                &direction(row),
                &row.layer,
                &row.position,
                &heat(row),
                &row.under,
                &row.welder,
                &row.settings,
            ],
        )
    }
    fn join(&self, number: &str, tick: &str, cells: [&str; 9]) -> String {
        let widths = [
            (self.label, false),
            (self.clock, false),
            (self.direction, false),
            (self.layer, false),
            (self.position, false),
            (self.heat, true),
            (self.under, true),
            (self.welder, false),
            (self.settings, false),
        ];
        let mut out = format!("{number} {tick}");
        while count(&out) < self.number + 5 {
            out.push(' ');
        }
        for (cell, (width, right)) in cells.iter().zip(widths) {
            if width > 0 {
                out.push_str(&pad(cell, width, right));
                out.push(' ');
            }
        }
        out
    }
}

fn label(row: &CheckRow) -> String {
    if row.kind == RowKind::Tack { format!("tack {}", row.label) } else { row.label.clone() }
}

/// `10:30-12:00`, without blanks to save room.
fn clock(row: &CheckRow) -> String {
    if row.end.is_empty() { row.start.clone() } else { format!("{}→{}", row.start, row.end) }
}

/// `cw`, `ccw`, or the words.
fn direction(row: &CheckRow) -> String {
    if row.kind == RowKind::Tack {
        // A tack has a length, not a way; it stands behind the columns.
        return String::new();
    }
    match row.clockwise {
        Some(true) => "cw".into(),
        Some(false) => "ccw".into(),
        None => row.direction.clone(),
    }
}

/// The number alone: its unit stands in the head of the column.
fn heat(row: &CheckRow) -> String {
    row.heat_input.split(" kJ/").next().unwrap_or("").to_string()
}

fn count(text: &str) -> usize {
    text.chars().count()
}

fn pad(text: &str, width: usize, right: bool) -> String {
    let blanks = " ".repeat(width.saturating_sub(count(text)));
    if right { format!("{blanks}{text}") } else { format!("{text}{blanks}") }
}

/// Lines no longer than `width` letters; a longer word is broken.
fn wrap(words: &str, width: usize, first: &str, later: &str) -> Vec<String> {
    let mut lines = vec![];
    let mut line = first.to_string();
    let mut empty = true;
    for word in words.split_whitespace() {
        let room = width.saturating_sub(count(&line)).max(1);
        if !empty && count(word) + 1 > room {
            lines.push(std::mem::replace(&mut line, later.to_string()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        empty = false;
        for c in word.chars() {
            if count(&line) >= width {
                lines.push(std::mem::replace(&mut line, later.to_string()));
            }
            line.push(c);
        }
    }
    if !empty || lines.is_empty() {
        lines.push(line);
    }
    lines
}
