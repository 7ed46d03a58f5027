//! A job read and typed in inches: the record stays in millimetres, and nobody sees one.

use super::commands::Desk;
use crate::support::near;
use holdtrue::cli::Exit;
use holdtrue::job::Event;

/// No millimetre is left in what was said.
#[track_caller]
fn no_mm(said: &str) {
    for line in said.lines() {
        assert!(!line.split(|c: char| !c.is_alphanumeric()).any(|w| w == "mm"), "{line}");
    }
}

/// By hand: 23 5/8 in = 600.075 mm; 1/16 in = 1.5875 mm; 20 in/min = 8.4667 mm/s; 1/64 in = 0.396875 mm.
#[test]
fn readings_are_typed_and_printed_as_on_a_tape_and_kept_in_mm() {
    let desk = Desk::new();
    desk.tacked();
    let run = |words: &str| {
        let said = desk.run(&format!("{words} --units inch")).well();
        no_mm(&said.out);
        no_mm(&said.err);
        said.out
    };
    let said = run("job measure @a.job width 23~5/8 --tool tape");
    assert!(said.starts_with("width: 23 5/8\" (0\" against nominal) read with tape ± 0.02\", "), "{said}");
    assert!(said.contains("tolerance ±1/8\"") && said.contains("AS EXPECTED"), "{said}");
    run("job measure @a.job diagonals +1/16 --error 1/64");
    let said = run("job gap @a.job J1 1/16");
    assert!(said.starts_with("gap at J1: 1/16\""), "{said}");
    let said = run("job tick @a.job J1a-1/1 --speed 20");
    assert!(said.contains("of 24 passes welded"), "{said}");
    let job = desk.job("a.job");
    let events: Vec<&Event> = job.records.iter().map(|r| &r.event).collect();
    let read: Vec<(f64, f64)> = events
        .iter()
        .filter_map(|e| match e {
            Event::Measured { value, error, .. } => Some((*value, *error)),
            _ => None,
        })
        .collect();
    near(read[0].0, 600.075, 1e-9);
    near(read[1].0, 1.5875, 1e-9);
    near(read[1].1, 0.396875, 1e-9);
    near(job.gaps.iter().find(|g| g.0 == "J1").expect("entered").1, 1.5875, 1e-9);
    let speed = job.done["J1a-1/1"].settings.as_ref().and_then(|s| s.speed_mm_s);
    near(speed.expect("entered"), 20.0 * 25.4 / 60.0, 1e-9);

    let said = run("job next @a.job");
    assert!(said.contains(" in/min, joint under"), "{said}");
    let said = run("job status @a.job");
    assert!(said.contains("gap at J1: 1/16\"") && said.contains("+1/16\" ± 1/64\""), "{said}");
    let said = run("job report @a.job");
    assert!(said.contains("23 5/8\"") && said.contains("in/min") && said.contains("kJ/in"), "{said}");
    run("job replan @a.job --effort rules --heat-input 4.5-7.6");
    run("job straighten @a.job");
    run("job note @a.job ok");
    run("job undo @a.job");
    let said = run("job finish @a.job");
    assert!(said.contains("finished"), "{said}");
    // Without --units the same record reads in the units of its frame file.
    let said = desk.run("job status @a.job").well();
    assert!(said.out.contains("gap at J1: 1.6 mm"), "{}", said.out);
}

#[test]
fn what_is_no_length_is_refused_in_the_units_of_whoever_types() {
    let desk = Desk::new();
    desk.tacked();
    for (words, want) in [
        ("job measure @a.job width wide --units inch", "47 3/8"),
        ("job measure @a.job width wide", "1203.5"),
        ("job measure @a.job width 600 --units inch", "width is nominally 23 5/8\""),
        ("job measure @a.job width 600 --error x", "no reading error"),
        ("job gap @a.job J1 wide --units inch", "1/16"),
        ("job gap @a.job J1 60", "from 0 to 50"),
        ("job gap @a.job J1 60 --units inch", "a gap of 60\" cannot be"),
        ("job replan @a.job --heat-input 1 --units inch", "kJ/in"),
        ("job replan @a.job --heat-input 1", "kJ/mm"),
    ] {
        let said = desk.run(words);
        assert_eq!(said.exit, Exit::Usage, "{words}\n{}", said.err);
        assert!(said.err.contains(want), "{words}\n{}", said.err);
    }
}
