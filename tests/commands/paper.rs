//! The sheet for the wall, read back as a stranger reads it: by the text that `pdftotext` of poppler
//! finds in the file, against the plan's JSON of the same run.

use super::bench::{Bench, array, example, word};
use serde_json::Value;
use std::process::Command;

/// Text of each page.
fn pages(bench: &Bench, name: &str) -> Vec<String> {
    let said = Command::new("pdftotext")
        .args(["-layout", "-enc", "UTF-8"])
        .args([bench.path(name).as_os_str(), "-".as_ref()])
        .output()
        .expect("pdftotext of poppler-utils is installed (.ci/run does it)");
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    let text = String::from_utf8(said.stdout).expect("UTF-8 was asked for");
    let mut pages: Vec<String> = text.split('\u{c}').map(str::to_string).collect();
    assert_eq!(pages.pop().as_deref().map(str::trim), Some(""), "a page ends with a form feed");
    pages
}

/// Width and height of the pages, in points, as `pdfinfo` says.
fn size_points(bench: &Bench, name: &str) -> (f64, f64) {
    let said = Command::new("pdfinfo").arg(bench.path(name)).output().expect("pdfinfo of poppler-utils");
    let text = String::from_utf8_lossy(&said.stdout).into_owned();
    let line = text.lines().find_map(|l| l.strip_prefix("Page size:")).expect("a size");
    let numbers: Vec<f64> = line.split_whitespace().filter_map(|w| w.parse().ok()).collect();
    (numbers[0], numbers[1])
}

fn squeezed(words: &str) -> String {
    words.chars().filter(|c| !c.is_whitespace()).collect()
}

fn sheet(name: &str, paper: &str) -> (Bench, Vec<String>, Value) {
    let bench = Bench::new();
    let words = format!("plan --effort rules -q --pdf @sheet.pdf --paper {paper} --json @plan.json");
    bench.run(&format!("{words} {}", example(name))).well();
    let plan = serde_json::from_slice(&bench.bytes("plan.json")).expect("JSON");
    let pages = pages(&bench, "sheet.pdf");
    (bench, pages, plan)
}

#[test]
fn every_pass_and_tack_is_one_row_and_every_line_has_its_number() {
    for (name, paper) in [("square", "a4"), ("h-frame", "letter"), ("trailer", "a4")] {
        let (_bench, pages, plan) = sheet(name, paper);
        let all = pages.join("\n");
        let words: Vec<&str> = all.split_whitespace().collect();
        // A reason may name another pass ("opposite of J1a-1/1"), and the table of shortfalls names the
        // pass behind the rule; neither is a row to tick.
        // Tacks are named by what still hinges about them.
        let before = [
            "of", "on", "mirrors", "twice", "spacing", "opposite", "balance", "distance", "about", "through",
            "and",
        ];
        let named = |i: usize| i > 0 && before.contains(&words[i - 1]);
        let times = |w: &str| (0..words.len()).filter(|&i| words[i] == w && !named(i)).count();
        for s in array(&plan, "steps").iter().filter(|s| ["pass", "tack"].contains(&word(s, "act"))) {
            assert_eq!(times(word(s, "what")), 1, "{name}: {}", s["what"]);
        }
        for s in array(&plan, "steps") {
            assert!(times(&s["number"].to_string()) >= 1, "{name}: number {}", s["number"]);
        }
        assert_eq!(times("no-such-label"), 0);
    }
}

#[test]
fn every_page_says_which_it_is_and_defers_and_the_cautions_are_all_there() {
    for (name, paper) in [("square", "letter"), ("h-frame", "a4")] {
        let (_bench, pages, plan) = sheet(name, paper);
        let id = word(&plan, "plan_id");
        for (n, page) in pages.iter().enumerate() {
            let foot = format!("{id} · {} of {}", n + 1, pages.len());
            assert!(squeezed(page).ends_with(&squeezed(&foot)), "{name}: page {}: {page}", n + 1);
            let flat = squeezed(page);
            for part in ["not a qualified procedure", "Qualified welder", "local codes"] {
                assert!(flat.contains(&squeezed(part)), "{name}, page {}: {part}", n + 1);
            }
            assert!(flat.contains(&squeezed(word(&plan, "frame"))));
        }
        let all: String = pages.iter().map(|p| squeezed(p)).collect();
        assert!(array(&plan, "cautions").len() > 8);
        for c in array(&plan, "cautions") {
            assert!(all.contains(&squeezed(word(c, "heading"))), "{name}: {}", c["heading"]);
        }
        // The deferral comes before anything else that is to be done.
        let first = array(&plan, "cautions")[0].clone();
        assert!(squeezed(&pages[0]).contains(&squeezed(word(&first, "heading"))), "{first}");
    }
}

/// ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: letter (A) is 8.5 in by 11 in. 72 points are an inch.
#[test]
fn the_paper_is_a4_or_letter() {
    for (paper, width_mm, height_mm) in [("a4", 210.0, 297.0), ("letter", 215.9, 279.4)] {
        let (bench, _, _) = sheet("h-frame", paper);
        let (width, height) = size_points(&bench, "sheet.pdf");
        crate::support::near(width * 25.4 / 72.0, width_mm, 0.1);
        crate::support::near(height * 25.4 / 72.0, height_mm, 0.1);
    }
}

/// The build-to table: every tube that moves by a tenth or more has its row, with the numbers of the JSON.
#[test]
fn the_build_to_table_is_on_the_sheet() {
    let (_bench, pages, plan) = sheet("trailer", "a4");
    let all = pages.join("\n");
    let from = all.find("Build to, mm off the drawing").expect("the table");
    let rows: Vec<&str> = all[from..].lines().take_while(|l| !l.starts_with("Build to: how far")).collect();
    let tubes = array(&plan["build_to"], "tubes");
    assert_eq!(tubes.len(), 14, "every tube and plate of the trailer");
    let mut shown = 0;
    for t in tubes {
        let ends = array(t, "start_mm").iter().chain(array(t, "end_mm")).chain([&t["longer_mm"]]);
        let values: Vec<f64> = ends.map(|v| v.as_f64().expect("a number")).collect();
        let most = values.iter().fold(0.0f64, |a, v| a.max(v.abs()));
        let row = rows.iter().find_map(|l| l.trim().strip_prefix(word(t, "tube")));
        // Rounding decides within a hair of the limit.
        if (most - 0.1).abs() > 1e-3 {
            assert_eq!(row.is_some(), most > 0.1, "{}: {most}", word(t, "tube"));
        }
        let Some(row) = row else { continue };
        let said: Vec<f64> = row
            .split_whitespace()
            .map(|w| w.replace('\u{2212}', "-").parse().unwrap_or_else(|_| panic!("a number: {w}")))
            .collect();
        assert_eq!(said.len(), 7);
        for (said, value) in said.iter().zip(&values) {
            crate::support::near(*said, *value, 0.051);
        }
        shown += 1;
    }
    assert!(shown >= 5, "{shown} rows");
    // Straight tubes are not set to a bow; what a counter-bend would take is said.
    assert!(plan["build_to"]["not_reached"].get("left rail, bow up").is_none());
    let controls = array(&plan, "controls");
    let bow = controls.iter().find(|c| word(c, "name") == "left rail, bow up").expect("it is there");
    assert_eq!(bow["set_to"].as_f64(), Some(0.0));
    assert_eq!(bow["residual"], bow["pull"]);
    assert!(squeezed(&all).contains(&squeezed("left rail, bow up: only a counter-bend of rail left by")));
}
