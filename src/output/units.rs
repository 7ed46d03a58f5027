//! A sheet in the unit that the person reads: every length on it, in rows, tables, pictures and sentences.

use super::drawing::Drawing;
use super::sheet::{Block, CheckRow, Sheet, Table};
use crate::units::Units;

/// What an inch sheet says about its numbers.
pub const STATED: &str = "Lengths are inches as on a tape: dimensions to be measured, what they change and what to \
                          set are rounded to the nearest 1/64\", other lengths to 1/16\"; a spread under 1/16\" is \
                          in thousandths. Speed is in/min, heat input kJ/in. Temperatures are °C.";

/// The sheet with every length in these units; those that stand in table cells without a unit are already.
pub fn put(sheet: &mut Sheet, units: Units) {
    if units == Units::Mm {
        return;
    }
    let say = |text: &mut String| *text = units.sentence(text);
    for block in sheet.cover.iter_mut().chain(&mut sheet.further) {
        match block {
            Block::Heading(words) | Block::Words(words) => say(words),
            Block::Table(table) => {
                say(&mut table.title);
                bare_columns(table, units);
                table.rows.iter_mut().flatten().for_each(say);
            }
            Block::Picture { drawing, caption } => {
                say(caption);
                picture(drawing, units);
            }
        }
    }
    for row in &mut sheet.rows {
        self::row(row, units);
    }
    sheet.cover.insert(0, Block::Words(STATED.into()));
}

/// Columns that have `mm` in their head and bare numbers below it.
fn bare_columns(table: &mut Table, units: Units) {
    for (i, column) in table.columns.iter_mut().enumerate() {
        let words: Vec<&str> = column.name.split_whitespace().filter(|w| *w != "mm").collect();
        if words.len() == column.name.split_whitespace().count() {
            continue;
        }
        column.name = words.join(" ");
        for cell in table.rows.iter_mut().filter_map(|r| r.get_mut(i)) {
            let said: Vec<String> = cell
                .split(' ')
                .map(|word| {
                    let number = word.trim_matches(['(', ')']);
                    let inches = number.parse::<f64>().ok().map(|n| units.sentence(&format!("{} mm", n)));
                    inches.map_or(word.to_string(), |n| word.replace(number, &n))
                })
                .collect();
            *cell = said.join(" ");
        }
    }
}

fn row(row: &mut CheckRow, units: Units) {
    let say = |text: &mut String| *text = units.sentence(text);
    for text in [
        &mut row.segment,
        &mut row.settings,
        &mut row.heat_input,
        &mut row.reason,
        &mut row.say,
        &mut row.joint,
        &mut row.wait,
        &mut row.start,
        &mut row.end,
        &mut row.layer,
        &mut row.direction,
    ] {
        say(text);
    }
}

/// The texts of a picture.
pub fn picture(drawing: &mut Drawing, units: Units) {
    drawing.each_text(&|words| *words = units.sentence(words));
}
