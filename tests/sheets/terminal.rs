//! The sheet on the terminal.

use super::sample;
use holdtrue::output::text::{TextLook, text};

fn look(width: usize) -> TextLook {
    TextLook { width, colour: false, reasons: true }
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for width in [60, 72, 80, 100, 132] {
        let out = text(&sample::sheet(120), look(width));
        for line in out.lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
            assert_eq!(line, line.trim_end(), "blanks at the end");
        }
    }
}

#[test]
fn plain_text_has_no_terminal_codes_and_colour_adds_nothing_else() {
    let sheet = sample::sheet(60);
    let plain = text(&sheet, look(80));
    assert!(!plain.contains('\u{1b}'));
    let coloured = text(&sheet, TextLook { colour: true, ..look(80) });
    assert!(coloured.contains('\u{1b}'));
    let mut stripped = String::new();
    let mut letters = coloured.chars();
    while let Some(c) = letters.next() {
        if c == '\u{1b}' {
            letters.by_ref().find(|c| *c == 'm');
        } else {
            stripped.push(c);
        }
    }
    assert_eq!(stripped, plain);
}

#[test]
fn every_row_stands_on_exactly_one_line() {
    let sheet = sample::sheet(120);
    let out = text(&sheet, look(80));
    for row in &sheet.rows {
        let head = format!("{:>3} [ ]", row.number);
        let found = out.lines().filter(|l| l.starts_with(&head)).collect::<Vec<_>>();
        assert_eq!(found.len(), 1, "row {}: {found:?}", row.number);
        if row.kind.welds() {
            assert!(found[0].contains(&row.label), "{}", found[0]);
        }
    }
}

#[test]
fn cautions_and_deferral_are_complete() {
    let sheet = sample::sheet(3);
    let out: String = text(&sheet, look(80)).split_whitespace().collect::<Vec<_>>().join(" ");
    for caution in sheet.cautions().iter().chain([sheet.deferral()]) {
        for line in &caution.lines {
            assert!(out.contains(line.as_str()), "missing: {line}");
        }
    }
}
