//! What a person types.

use super::{at, header, job, measured, tick};
use crate::support::near;
use holdtrue::job::{Cut, Event, Tool, parse_reading, parse_reading_in, parse_ticks, undo};
use holdtrue::units::Units;

fn pick(text: &str) -> Vec<String> {
    parse_ticks(&job(&[]), text).unwrap().labels
}

#[test]
fn numbers_ranges_labels_seams_and_joints() {
    assert_eq!(pick("3"), ["J1a-t1"]);
    assert_eq!(pick("3,5-7 J2a-2/1"), ["J1a-t1", "hold-1", "J1a-1/1", "J2a-1/1", "J2a-2/1"]);
    assert_eq!(pick(" #6 ; 7\t8 "), ["J1a-1/1", "J2a-1/1", "J1a-2/1"]);
    assert_eq!(pick("6–8"), pick("6..8"));
    assert_eq!(pick("8-6"), ["J1a-2/1", "J2a-1/1", "J1a-1/1"], "welded backwards");
    assert_eq!(pick("6,6,6"), ["J1a-1/1"], "each once");
    assert_eq!(pick("j1a-1/1"), ["J1a-1/1"], "case does not matter");
    assert_eq!(pick("J2a"), ["J2a-1/1", "J2a-1/2", "J2a-2/1"]);
    assert_eq!(pick("j2"), ["J2a-1/1", "J2a-1/2", "J2a-2/1", "J2b-1/1", "J2b-2/1"]);
    assert_eq!(pick("1"), ["clamp-1"]);
}

#[test]
fn lines_that_are_done_are_passed_over_in_a_range_and_said() {
    let j = job(&[tick("J2a-1/1")]);
    let p = parse_ticks(&j, "6-8").unwrap();
    assert_eq!(p.labels, ["J1a-1/1", "J1a-2/1"]);
    assert_eq!(p.notices, ["already ticked, passed over: line 7"]);
    // Named alone, it is for the check to say.
    assert_eq!(parse_ticks(&j, "7").unwrap().labels, ["J2a-1/1"]);
    assert!(parse_ticks(&job(&[tick("J1a-1/1"), tick("J2a-1/1")]), "6-7").is_err());
}

#[test]
fn everything_that_is_wrong_is_said_at_once_with_a_way_out() {
    let wrong = |text: &str| -> Vec<(String, String)> {
        let faults = parse_ticks(&job(&[]), text).unwrap_err();
        faults.into_iter().map(|f| (f.what, f.help.unwrap_or_default())).collect()
    };
    let said = wrong("0, 21, J9a-1/1, 5-99999999999999999999, J1a-1/2, hammer");
    let want = [
        ("there is no line 0 on the sheet of revision 0", "its lines go from 1 to 20"),
        ("there is no line 21 on the sheet of revision 0", "its lines go from 1 to 20"),
        ("there is no line \"J9a-1/1\" in this job", "did you mean J1a-1/1 or J2a-1/1 or J3a-1/1?"),
        ("there is no line so high on the sheet of revision 0", "its lines go from 1 to 20"),
        ("there is no line \"J1a-1/2\" in this job", "did you mean J1a-1/1 or J2a-1/2?"),
        ("there is no line \"hammer\" in this job", "the sheet and `status` list the names"),
    ];
    assert_eq!(said, want.map(|(a, b)| (a.to_string(), b.to_string())));
    for text in ["", " ,; ", "#"] {
        assert!(!wrong(text).is_empty(), "{text:?}");
    }
}

/// Whatever is typed: an answer, never a panic, and only labels of the job.
#[test]
fn any_text_gets_an_answer() {
    let j = job(&[]);
    let parts = [
        "3",
        "-",
        "–",
        "..",
        "J1a",
        "/",
        "1",
        ",",
        " ",
        "#",
        "t",
        "99999999999999999999999",
        "é",
        "-5",
        "\u{0}",
        "j",
    ];
    let mut dice = 7_u32;
    for _ in 0..20_000 {
        let mut text = String::new();
        for _ in 0..6 {
            dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            text.push_str(parts[(dice >> 16) as usize % parts.len()]);
        }
        if let Ok(p) = parse_ticks(&j, &text) {
            assert!(!p.labels.is_empty() && p.labels.iter().all(|l| j.item(l).is_some()), "{text:?}");
        }
    }
}

#[test]
fn ticks_are_checked_in_helpful_words() {
    let now = at(100);
    let j = job(&[tick("J1a-1/1")]);
    let refused = |e: &Event| {
        let r = j.check(e, now).unwrap_err();
        (r.what, r.help.unwrap_or_default())
    };
    let (what, help) = refused(&tick("J1a-1/1"));
    assert_eq!(what, "J1a-1/1 is ticked already (record 1, by test)");
    assert!(help.contains("`redo`"));
    assert_eq!(refused(&tick("J1a-9/1")).1, "did you mean J1a-1/1 or J1a-2/1 or J1a-3/1?");
    assert!(refused(&Event::tick("J1a-2/1", Some(at(100_000)))).0.contains("in the future"));
    let redo = |l: &str| Event::Redone {
        label: l.into(),
        when: None,
        settings: None,
        reversed: false,
        why: String::new(),
    };
    assert!(refused(&redo("J2a-1/1")).0.contains("not ticked"));
    assert!(refused(&redo("hold-1")).0.contains("lays no weld metal"));
    assert!(j.check(&redo("J1a-1/1"), now).is_ok());
    assert!(
        refused(&Event::Unticked { label: "J2a-1/1".into(), why: String::new() }).0.contains("is not ticked")
    );
    assert!(
        refused(&Event::Cut { place: Cut::Seam("J2a".into()), why: String::new() })
            .0
            .contains("nothing is welded")
    );
    assert!(
        refused(&Event::Cut { place: Cut::Tack("J1a-1/1".into()), why: String::new() })
            .0
            .contains("is no tack")
    );
    assert!(
        refused(&Event::Temperature { joint: "J8".into(), value_c: 20.0 }).1.starts_with("did you mean J1")
    );
    assert!(
        refused(&Event::Temperature { joint: "J1".into(), value_c: 5000.0 }).0.contains("no temperature")
    );
    assert!(refused(&Event::Gap { joint: "J1".into(), value_mm: -1.0 }).0.contains("cannot be"));
    assert!(refused(&measured("widht", 600.0, 0.5)).1.contains("did you mean width?"));
    assert!(refused(&measured("width", 60.0, 0.5)).0.contains("nominally 600 mm"));
    assert!(refused(&measured("width", 600.0, 0.0)).0.contains("above zero"));
    assert!(refused(&Event::Withdrawn { n: 9 }).0.contains("no record 9"));
}

#[test]
fn warnings_do_not_stop_a_tick_but_are_said() {
    // All is read as tacked: the gate is open.
    let read = [measured("width", 600.3, 0.5), measured("lean", 90.1, 0.1)];
    let warn = |done: &[Event], label: &str| {
        job(&[done, &read].concat()).check(&tick(label), at(100)).unwrap().join("\n")
    };
    let shut = job(&[tick("J1a-t1")]).check(&tick("J1a-1/1"), at(100)).unwrap_err();
    assert!(shut.what.contains("width; lean not read as tacked"), "{shut:?}");
    let text = warn(&[], "J2a-1/2");
    assert!(text.contains("J2a-1/2 lies on J2a-1/1, which is not ticked"), "{text}");
    assert!(text.contains("the vent of rail is not ticked as open: a sealed tube can burst"), "{text}");
    let ready = [tick("clamp-1"), tick("open-rail"), tick("J1a-t1"), tick("J1a-t2"), tick("hold-1")];
    assert_eq!(warn(&ready, "J1a-1/1"), "");
    let turned: Vec<Event> = ready.iter().cloned().chain([tick("turn-1")]).collect();
    assert!(
        warn(&turned, "J1a-1/1").contains("planned for \"deck up\", but the frame lies in \"deck down\"")
    );
    assert!(warn(&ready[..4], "J1a-1/1").contains("hold-1 comes before it"));
    let opened: Vec<Event> =
        ready[..4].iter().cloned().chain([Event::GateOpened { why: "no tape".into() }]).collect();
    assert_eq!(warn(&opened, "J1a-1/1"), "");
}

#[test]
fn readings_are_typed_as_people_write_them() {
    let h = header();
    let width = |t: &str| parse_reading(t, &h.controls[0]);
    let lean = |t: &str| parse_reading(t, &h.controls[1]);
    for (text, want) in [
        ("601.5", 601.5),
        ("601,5", 601.5),
        (" 601.5 mm ", 601.5),
        ("+1.5", 601.5),
        ("-2", 598.0),
        ("−2mm", 598.0),
        ("+0", 600.0),
    ] {
        near(width(text).unwrap(), want, 1e-12);
    }
    for (text, want) in [("90.2°", 90.2), ("90.2 deg", 90.2), ("-0,3", 89.7)] {
        near(lean(text).unwrap(), want, 1e-12);
    }
    for text in ["", "mm", "1.2.3", "--1", "600 °", "600 ells", "1e400", "nan", "inf", "+"] {
        assert!(width(text).is_err(), "{text:?}");
    }
    assert!(width("90°").unwrap_err().what.contains("width is read in mm, not in deg"));
    // Inches: of the reader, or of the text itself. 1 in = 25.4 mm exactly.
    let inch = |t: &str| parse_reading_in(t, &h.controls[0], Units::Inch);
    for (text, want) in [
        ("23 5/8", 600.075),
        ("23-5/8\"", 600.075),
        ("23.625", 600.075),
        ("+1/16", 601.5875),
        ("-1 1/2", 561.9),
        ("600 mm", 600.0),
        ("1' 11 5/8\"", 600.075),
    ] {
        near(inch(text).unwrap(), want, 1e-9);
    }
    near(width("23 5/8 in").unwrap(), 600.075, 1e-9);
    near(parse_reading_in("90.2", &h.controls[1], Units::Inch).unwrap(), 90.2, 1e-12);
    for text in ["1/0", "5/", "/8", "+-1/8", "90 deg"] {
        assert!(inch(text).is_err(), "{text:?}");
    }
    assert!(inch("x").unwrap_err().help.unwrap().contains("47 3/8"));
    assert!(lean("90 mm").unwrap_err().what.contains("read in deg, not in mm"));
}

#[test]
fn tools_have_reading_errors_in_the_units_they_read() {
    near(Tool::Tape.error("mm").unwrap(), 0.5, 0.0);
    near(Tool::DigitalLevel.error("deg").unwrap(), 0.1, 0.0);
    assert_eq!(Tool::Tape.error("deg"), None);
    assert_eq!(Tool::DigitalLevel.error("mm"), None);
    for (tool, word) in Tool::ALL {
        assert_eq!(Tool::from_word(word), Some(tool));
        assert_eq!(tool.word(), word);
        assert!(["mm", "deg"].iter().any(|u| tool.error(u).is_some()), "{word}");
    }
    for unit in ["mm", "deg"] {
        assert!(Tool::usual(unit).error(unit).is_some());
    }
}

#[test]
fn undo_takes_back_the_last_thing_and_then_the_one_before() {
    let mut events = vec![Event::Started {}, tick("J1a-1/1"), tick("J2a-1/1")];
    for _ in 0..2 {
        let back = undo(&job(&events)).unwrap();
        assert!(job(&events).check(&back, at(0)).is_ok());
        events.push(back);
    }
    assert!(job(&events).done.is_empty());
    assert_eq!(undo(&job(&events)).unwrap_err().what, "there is nothing to take back");
    assert_eq!(undo(&job(&[])).unwrap_err().what, "there is nothing to take back");
}

#[test]
fn what_was_taken_out_can_be_named_in_three_ways() {
    let j = job(&[]);
    assert_eq!(j.find_cut("j1a-T2").unwrap(), [Cut::Tack("J1a-t2".into())]);
    assert_eq!(j.find_cut("J2b").unwrap(), [Cut::Seam("J2b".into())]);
    assert_eq!(j.find_cut("J2").unwrap(), [Cut::Seam("J2a".into()), Cut::Seam("J2b".into())]);
    assert!(j.find_cut("J7").unwrap_err().help.unwrap().contains("did you mean J1"));
    assert_eq!(j.find_control("WIDTH").unwrap(), "width");
    assert_eq!(j.find_joint("j3").unwrap(), "J3");
}
