//! A sheet with every kind of row, table and text in it, for the tests of this chapter.

use holdtrue::output::safety::SafetyFacts;
use holdtrue::output::sheet::{Block, CheckRow, Column, Reading, RowKind, Sheet, Table, Title};

pub fn facts() -> SafetyFacts {
    SafetyFacts {
        sealed: vec!["spine".into(), "rear bar left".into(), "rear bar right".into()],
        galvanized: true,
        coated: true,
        stainless: true,
        chrome_moly: true,
        aluminium: true,
        preheat_c: Some(80.0),
        clamps: true,
        spring_force: Some((1240.0, "tail".into())),
        turns: true,
        several_welders: true,
        carries_people: true,
    }
}

/// `passes` passes with a hold after each 25th, a turn half way, and one row of every other kind.
pub fn sheet(passes: usize) -> Sheet {
    let title = Title {
        frame: "Haulier no. 3, front-loading cargo tricycle".into(),
        plan_id: "K7MP22QD".into(),
        revision: 1,
        date: "25 November 2026, 14:05".into(),
        program: "holdtrue 0.1.0".into(),
        find_again: "holdtrue K7MP22QD r1".into(),
    };
    let mut sheet = Sheet::new(title, &facts());
    sheet.cover = vec![
        Block::Words(
            "Read the controls before the first tack and after each hold. Clock places are seen along the \
             branch towards the run-through tube; 12 o'clock is up, on upright tubes forward."
                .into(),
        ),
        Block::Table(Table {
            title: "Controls".into(),
            columns: vec![
                Column::words("control"),
                Column::numbers("true"),
                Column::numbers("tolerance"),
                Column::numbers("pull"),
                Column::numbers("scatter"),
                Column::numbers("set to"),
                Column::write("as tacked"),
                Column::write("welded"),
            ],
            rows: vec![
                row8("kingpin sleeves apart", "840.0", "±1.5", "−1.8", "0.6", "841.5"),
                row8(
                    "rear wheel plane against the middle of the axle tube",
                    "0.0",
                    "±2.0",
                    "+0.7",
                    "0.5",
                    "−0.5",
                ),
                row8(
                    "lean of sleeves, left less right, in the plane of the axle",
                    "0.0°",
                    "±0.5°",
                    "+0.1°",
                    "0.1°",
                    "0.0°",
                ),
                row8("Ausfallenden innen [中]", "130.0", "±0.5", "−0.6", "0.3", "130.5"),
            ],
        }),
    ];
    let mut number = 0;
    let mut next = |kind: RowKind| {
        number += 1;
        CheckRow::new(number, kind)
    };
    let mut rows = vec![];
    for kind in [RowKind::Clamp, RowKind::Vent] {
        let mut row = next(kind);
        row.say = match kind {
            RowKind::Clamp => "clamp nose on the axle tube, 420 mm from its left end".into(),
            _ => "spine: 3 mm hole under the shell, before pass J3a-2/1".into(),
        };
        rows.push(row);
    }
    for tack in 0..4 {
        let mut row = next(RowKind::Tack);
        row.label = "J3a".into();
        row.joint = "spine on axle tube".into();
        row.start = ["12:00", "6:00", "3:00", "9:00"][tack].into();
        row.settings = "10 mm long".into();
        row.reason = "opposite tack next".into();
        rows.push(row);
    }
    for n in 0..passes {
        if n == passes / 2 {
            let mut row = next(RowKind::Release);
            row.say = "clamp tail: about 1,240 N. Stand clear, let it off slowly.".into();
            rows.push(row);
            let mut row = next(RowKind::Turn);
            row.say =
                "Lay the frame on its left side (setup 2, \"left side down\"). Two people. Clamp it again \
                       where it lies, then read the controls."
                    .into();
            rows.push(row);
        }
        if n % 25 == 24 {
            let mut row = next(RowKind::Wait);
            row.say = "3 min: J12 must cool under 150 °C".into();
            rows.push(row);
            let mut row = next(RowKind::Hold);
            row.say =
                "Frame clamped, cold to the hand. Outside the band: do not go on, enter the readings and \
                       take a new order."
                    .into();
            row.readings = vec![
                Reading {
                    name: "kingpin sleeves apart".into(),
                    expect: "840.9 ± 0.8".into(),
                    unit: "mm".into(),
                },
                Reading {
                    name: "rear wheel plane against the middle of the axle tube".into(),
                    expect: "+0.4 ± 0.7".into(),
                    unit: "mm".into(),
                },
            ];
            rows.push(row);
        }
        let mut row = next(RowKind::Pass);
        let joint = 1 + (n * 7) % 27;
        let clocks = ["12:00", "1:30", "3:00", "4:30", "6:00", "7:30", "9:00", "10:30"];
        let (segment, clockwise) = ((n * 3) % 8, n % 3 != 0);
        let ends = [clocks[segment], clocks[(segment + 1) % 8]];
        row.label = format!("J{joint}a-{}/{}", segment + 1, 1 + n % 2);
        row.joint = "crank shell on spine, lower side".into();
        row.segment = format!("segment {} of 8", segment + 1);
        row.start = ends[usize::from(!clockwise)].into();
        row.end = ends[usize::from(clockwise)].into();
        row.clockwise = Some(clockwise);
        row.direction = if clockwise { "clockwise".into() } else { "counter-clockwise".into() };
        row.layer = if n % 2 == 0 { "root".into() } else { "cap".into() };
        row.position = ["PA", "PB", "PF", "PD"][n % 4].into();
        row.settings = "135 · 90 A · 17.5 V · 6.0 mm/s".into();
        row.heat_input = "0.21 kJ/mm".into();
        row.under = "150 °C".into();
        row.wait = if n % 9 == 8 { "2 min".into() } else { String::new() };
        row.reason = "opposite of the last one on this seam; the frame's other side next".into();
        row.welder = if n % 2 == 0 { "A".into() } else { "B".into() };
        row.with_above = n % 2 == 1;
        rows.push(row);
    }
    let mut row = next(RowKind::CloseVent);
    row.say = "spine: weld the hole shut when all is cold (not if it goes to be galvanized)".into();
    rows.push(row);
    sheet.rows = rows;
    sheet.further = vec![
        Block::Heading("What the order does".into()),
        Block::Table(Table {
            title: "Joints that pull most".into(),
            columns: vec![Column::words("joint"), Column::numbers("share of the pull, %")],
            rows: (1..=60).map(|j| vec![format!("J{j}"), format!("{:.1}", 30.0 / f64::from(j))]).collect(),
        }),
    ];
    sheet
}

fn row8(name: &str, nominal: &str, tolerance: &str, pull: &str, scatter: &str, set_to: &str) -> Vec<String> {
    let unit = if nominal.contains('°') { "°" } else { "mm" };
    [name, nominal, tolerance, pull, scatter, set_to, unit, unit].map(String::from).to_vec()
}
