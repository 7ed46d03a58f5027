//! The sheets of the example frames: nothing covers anything, nothing leaves the page, every line of
//! work stands once with its picture.

use crate::support::plans::{example, planned};
use holdtrue::output::drawing::{Area, Drawing, Tint, rgb};
use holdtrue::output::pages::{MARGIN_MM, Paper, pages};
use holdtrue::output::sheet::{Block, RowKind, Sheet};
use holdtrue::output::{drawing, fill, svg};
use std::sync::OnceLock;

const EXAMPLES: [&str; 7] =
    ["square", "t-joint", "h-frame", "ladder", "trailer", "machine-base", "cargo-trike"];

/// Sheets of all examples, planned by rules.
fn sheets() -> &'static [(String, Sheet)] {
    static SHEETS: OnceLock<Vec<(String, Sheet)>> = OnceLock::new();
    SHEETS.get_or_init(|| {
        let sheet = |name: &&str| (name.to_string(), fill::sheet(&planned(&example(name)), ""));
        EXAMPLES.iter().map(sheet).collect()
    })
}

fn tidy(what: &str, drawing: &Drawing, slack: f64) {
    // The face's tallest letters are reckoned with in every text; a tenth of that may be shared.
    let texts: Vec<(Area, &str)> =
        drawing.texts().iter().map(|t| (t.area().grown(-slack), t.words.as_str())).collect();
    for (i, (a, words)) in texts.iter().enumerate() {
        for (b, other) in &texts[..i] {
            assert!(!a.overlaps(b), "{what}, {}: \"{words}\" and \"{other}\"", drawing.title);
        }
    }
}

#[test]
fn no_label_covers_another_and_nothing_leaves_the_page() {
    for (name, sheet) in sheets() {
        for paper in [Paper::A4, Paper::Letter] {
            for page in pages(sheet, paper) {
                tidy(name, &page, 0.1);
                let inked = page.inked().expect("something is printed");
                assert!(
                    page.area().grown(-MARGIN_MM).holds(&inked, 0.6),
                    "{name}, {}: {inked:?}",
                    page.title
                );
            }
        }
        for block in sheet.cover.iter().chain(&sheet.further) {
            if let Block::Picture { drawing, .. } = block {
                let inked = drawing.inked().expect("something is drawn");
                assert!(drawing.area().holds(&inked, 0.5), "{name}, {}: {inked:?}", drawing.title);
            }
        }
    }
}

#[test]
fn every_line_of_work_stands_once_and_shows_its_weld() {
    for (name, sheet) in sheets() {
        let printed = pages(sheet, Paper::A4);
        let texts: Vec<_> = printed.iter().flat_map(|p| p.texts()).collect();
        for row in &sheet.rows {
            let number = row.number.to_string();
            let at = |x: f64| [25.0, 27.0].iter().any(|c| (x - MARGIN_MM - c).abs() < 0.01);
            let found = texts.iter().filter(|t| t.words == number && t.bold && at(t.at.x)).count();
            assert_eq!(found, 1, "{name}: row {number}");
            let laid = matches!(row.kind, RowKind::Tack | RowKind::Pass);
            assert_eq!(row.picture.is_some(), laid, "{name}: row {number}");
        }
    }
}

/// The small picture shows the piece that the row names: its bold line begins and ends where the clock
/// says, as seen in the picture itself. On round tubes seen along the branch an hour is 30 degrees.
#[test]
fn the_picture_beside_a_row_agrees_with_its_clock() {
    let mut seen = 0;
    let hour = |clock: &str| {
        let (h, m) = clock.split_once(':').expect("a clock place");
        (h.parse::<f64>().unwrap() % 12.0) + m.parse::<f64>().unwrap() / 60.0
    };
    for (name, sheet) in sheets() {
        for row in sheet.rows.iter().filter(|r| r.clockwise.is_some() && !r.end.is_empty()) {
            let picture = row.picture.as_ref().expect("a pass has a picture");
            let drawing::Item::Path { points: ring, .. } = &picture.items[0] else { panic!("the outline") };
            let all = ring.iter().map(|p| Area::around(*p, 0.0, 0.0)).reduce(|a, b| a.with(&b)).unwrap();
            let bold = picture.items.iter().find_map(|i| match i {
                drawing::Item::Group { tint: Some(Tint::Weld), items, .. } => match &items[0] {
                    drawing::Item::Path { points, .. } => Some(points),
                    _ => None,
                },
                _ => None,
            });
            let bold = bold.expect("the piece to weld");
            let middle = all.middle();
            for (clock, p) in [(&row.start, bold[0]), (&row.end, bold[bold.len() - 1])] {
                let at = (p.x - middle.x).atan2(middle.y - p.y).to_degrees() / 30.0;
                let off = (at - hour(clock) + 18.0).rem_euclid(12.0) - 6.0;
                // Clock places are those of the seam in space; a saddle's outline on paper is not quite
                // a circle, and what is printed is rounded to five minutes.
                assert!(off.abs() < 0.75, "{name}, row {}: {clock} is drawn at {at:.2}", row.number);
            }
            seen += 1;
        }
    }
    assert!(seen > 300, "{seen} pictures looked at");
}

#[test]
fn colour_is_an_extra() {
    let (_, sheet) = &sheets()[6];
    let grey = |rgb: &str| rgb[1..3] == rgb[3..5] && rgb[3..5] == rgb[5..7];
    let colours = |text: &str| -> Vec<String> {
        text.match_indices('#').map(|(i, _)| text[i..i + 7].to_string()).collect()
    };
    for page in pages(sheet, Paper::A4) {
        let plain = svg::svg(&page);
        assert!(colours(&plain).iter().all(|c| grey(c)), "{}", page.title);
        let bright = svg::svg(&page.clone().in_colour(true));
        // Nothing but colours differs: with them taken out, the two are the same text.
        let without =
            |text: &str| colours(text).iter().fold(text.to_string(), |t, c| t.replace(c.as_str(), "#"));
        assert_eq!(without(&plain), without(&bright), "{}", page.title);
    }
    // A tint keeps light and dark apart: black becomes a dark colour, white stays white.
    for tint in [Tint::Weld, Tint::Left, Tint::Right, Tint::Stop] {
        let [r, g, b] = rgb(drawing::BLACK, Some(tint)).map(|c| f64::from(c) / 255.0);
        // Relative luminance and contrast as in WCAG 2.2.
        let lin = |c: f64| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
        let contrast = 1.05 / (0.2126 * lin(r) + 0.7152 * lin(g) + 0.0722 * lin(b) + 0.05);
        assert!(contrast >= 4.5, "{tint:?} on white: {contrast:.2}");
        assert_eq!(rgb(drawing::WHITE, Some(tint)), [255; 3]);
    }
}
