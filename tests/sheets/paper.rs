//! The sheet on paper: as laid out, and as read back from the finished PDF.

use super::{made, sample};
use holdtrue::output::drawing::{Area, Drawing};
use holdtrue::output::pages::{MARGIN_MM, Paper, pages};
use holdtrue::output::sheet::{Block, Reading, Sheet};
use holdtrue::output::view::View;
use holdtrue::output::{close_up, font, frame_drawing, pdf, plots, pull_picture};
use printpdf::{PdfDocument, PdfParseOptions};

const PAPERS: [Paper; 2] = [Paper::A4, Paper::Letter];

/// The sample sheet with every kind of picture on it.
fn full() -> Sheet {
    let mut sheet = sample::sheet(120);
    let frame = made::random_frame(4);
    let (joints, seams) = made::joints_and_seams(&frame);
    let picture = |drawing: Drawing| Block::Picture { caption: drawing.title.clone(), drawing };
    let size = (186.0, 120.0);
    sheet.cover.insert(
        1,
        picture(frame_drawing::weld_map(&frame, &joints, &seams, View::ThreeQuarter, frame.up, size)),
    );
    for seam in 0..seams.seams.len() {
        let notes: Vec<close_up::SegmentNote> = (0..seams.seams[seam].segments.len())
            .map(|n| close_up::SegmentNote {
                forward: Some(n % 2 == 0),
                rows: format!("{} · {}", n + 3, n + 40),
            })
            .collect();
        sheet.further.push(picture(close_up::close_up(&frame, &joints, &seams, seam, &notes)));
    }
    let pull = made::pull(&frame);
    sheet.further.push(picture(pull_picture::pull_picture(&frame, &pull, View::ThreeQuarter, size)));
    let path: Vec<f64> = (0..60).map(|i| (f64::from(i) / 9.0).sin()).collect();
    let other: Vec<f64> = path.iter().map(|y| y * 2.0 + 0.4).collect();
    sheet.further.push(picture(plots::pull_plot(
        "width",
        "mm",
        1.5,
        &path,
        Some(("joint by joint", &other)),
    )));
    sheet
}

#[test]
fn nothing_is_printed_outside_the_margins() {
    for paper in PAPERS {
        let (width, height) = paper.size_mm();
        let sheet = Area { left: 0.0, top: 0.0, right: width, bottom: height }.grown(-MARGIN_MM);
        for page in pages(&full(), paper) {
            let inked = page.inked().expect("a page is not empty");
            // Half a line's width may stand out where a frame runs along the margin.
            assert!(sheet.holds(&inked, 0.6), "{}: {inked:?}", page.title);
        }
    }
}

#[test]
fn a_hold_with_more_readings_than_a_page_goes_on_with_one_number() {
    let mut sheet = sample::sheet(30);
    let hold = sheet.rows.iter_mut().find(|r| r.readings.len() == 2).unwrap();
    hold.readings =
        (0..60).map(|i| Reading { name: format!("width {i}"), ..hold.readings[0].clone() }).collect();
    let number = hold.number.to_string();
    let pages = pages(&sheet, Paper::A4);
    for page in &pages {
        let inked = page.inked().unwrap();
        assert!(page.area().grown(-MARGIN_MM).holds(&inked, 0.6), "{}: {inked:?}", page.title);
    }
    let texts: Vec<_> = pages.iter().flat_map(|p| p.texts()).collect();
    for i in 0..60 {
        assert_eq!(texts.iter().filter(|t| t.words == format!("width {i}")).count(), 1, "reading {i}");
    }
    let at = |x: f64| (x - MARGIN_MM - 27.0).abs() < 0.01;
    assert_eq!(texts.iter().filter(|t| t.words == number && t.bold && at(t.at.x)).count(), 1);
}

#[test]
fn no_text_covers_another() {
    for paper in PAPERS {
        for page in pages(&full(), paper) {
            // The face's tallest and lowest letters are reckoned with in every text; a tenth of a
            // millimetre of that may be shared.
            let texts = page.texts();
            let texts: Vec<(Area, &str)> =
                texts.iter().map(|t| (t.area().grown(-0.1), t.words.as_str())).collect();
            for (i, (a, words)) in texts.iter().enumerate() {
                for (b, other) in &texts[..i] {
                    assert!(!a.overlaps(b), "{}: \"{words}\" and \"{other}\"", page.title);
                }
            }
        }
    }
}

#[test]
fn text_read_back_from_the_pdf_is_what_was_laid_out_and_stays_inside() {
    let sheet = full();
    for paper in PAPERS {
        let bytes = pdf::pdf(&sheet, paper, 1_790_000_000);
        let mut warnings = vec![];
        let document = PdfDocument::parse(&bytes, &PdfParseOptions::default(), &mut warnings).unwrap();
        let laid_out = pages(&sheet, paper);
        let read = document.extract_text_boxes();
        assert_eq!(read.len(), laid_out.len());
        let point_mm = 25.4 / 72.0;
        for (page, boxes) in laid_out.iter().zip(&read) {
            let mut want: Vec<String> = page.texts().iter().map(|t| squeezed(&t.words)).collect();
            let mut got: Vec<String> = boxes
                .lines
                .iter()
                .map(|l| squeezed(&l.words.iter().map(|w| w.text.as_str()).collect::<Vec<_>>().join(" ")))
                .collect();
            want.retain(|w| !w.is_empty());
            got.retain(|w| !w.is_empty());
            want.sort();
            got.sort();
            assert_eq!(got, want, "{}", page.title);
            for line in &boxes.lines {
                let [left, _, right, _] = line.bbox.map(|v| f64::from(v) * point_mm);
                assert!(left >= MARGIN_MM - 0.5 && right <= page.width_mm - MARGIN_MM + 0.5, "{line:?}");
                let base = f64::from(line.baseline) * point_mm;
                assert!((MARGIN_MM..=page.height_mm - MARGIN_MM).contains(&base), "{line:?}");
            }
        }
    }
}

fn squeezed(words: &str) -> String {
    words.split_whitespace().collect()
}

#[test]
fn every_row_stands_on_exactly_one_page_and_every_page_defers() {
    let sheet = full();
    for paper in PAPERS {
        let pages = pages(&sheet, paper);
        for row in &sheet.rows {
            // Numbers of rows are set in bold, 7 mm high or as wide as their room; nothing else is a
            // bare bold number of that size at that place.
            let right = MARGIN_MM + if row.kind.welds() { 25.0 } else { 27.0 };
            let count = pages
                .iter()
                .flat_map(|p| p.texts())
                .filter(|t| t.words == row.number.to_string() && t.bold && (t.at.x - right).abs() < 0.01)
                .count();
            assert_eq!(count, 1, "row {}", row.number);
        }
        for (n, page) in pages.iter().enumerate() {
            let words: Vec<&str> = page.texts().iter().map(|t| t.words.as_str()).collect();
            let has = |part: &str| words.iter().any(|w| w.contains(part));
            assert!(has("not a qualified procedure") && has("local codes"));
            assert!(has(&format!("{} of {}", n + 1, pages.len())));
            assert!(has("K7MP22QD") && has("Haulier no. 3"));
        }
        let all: String = pages.iter().flat_map(|p| p.texts()).map(|t| squeezed(&t.words)).collect();
        for line in sheet.cautions().iter().chain([sheet.deferral()]).flat_map(|c| &c.lines) {
            assert!(all.contains(&squeezed(line)), "missing: {line}");
        }
    }
}

#[test]
fn a_page_of_passes_holds_twenty_with_boxes_for_a_marker() {
    let mut sheet = sample::sheet(200);
    sheet.rows.retain(|r| r.kind.welds());
    sheet.rows.iter_mut().for_each(|r| r.with_above = false);
    let count = |paper: Paper| {
        pages(&sheet, paper)
            .iter()
            .map(|p| p.texts().iter().filter(|t| t.bold && (t.at.x - MARGIN_MM - 25.0).abs() < 0.01).count())
            .max()
            .unwrap()
    };
    assert_eq!(count(Paper::A4), 20);
    assert!((17..=20).contains(&count(Paper::Letter)));
}

#[test]
fn the_same_sheet_gives_the_same_bytes_and_another_date_does_not() {
    let sheet = sample::sheet(60);
    let bytes = pdf::pdf(&sheet, Paper::A4, 1_790_000_000);
    assert!(bytes == pdf::pdf(&sheet, Paper::A4, 1_790_000_000), "bytes differ from run to run");
    assert!(bytes != pdf::pdf(&sheet, Paper::A4, 1_790_000_060));
    assert!(bytes.len() < 200_000, "{} bytes", bytes.len());
}

#[test]
fn characters_that_the_faces_lack_are_named() {
    let mut sheet = sample::sheet(2);
    sheet.rows[0].say = "ключ λ 焊 接 焊".into();
    sheet.cover.clear();
    assert_eq!(sheet.missing_characters(), ['焊', '接']);
    let printed =
        pages(&sheet, Paper::A4).iter().flat_map(|p| p.texts()).any(|t| t.words.contains("[U+710A]"));
    assert!(printed && font::printable("ключ λ").1.is_empty());
}
