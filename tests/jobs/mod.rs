//! A plan being carried out: the record on disk, the state that follows from it, what is learnt.

mod commands;
mod crash;
mod disks;
mod inches;
mod learn;
mod picking;
mod record;
mod replay;
mod shop;
mod steering;
mod stages;
mod stories;
mod welders;
mod whole;

use holdtrue::job::{Card, ControlCard, Event, FORMAT, Header, Item, Job, JointCard, Record, Task, When};

/// A moment: so many seconds after the morning the job began.
pub fn at(seconds: i64) -> When {
    When::from_second(1_800_000_000 + seconds).unwrap()
}

pub fn pass(number: usize, label: &str, below: Option<&str>, setup: &str) -> Item {
    let seam = label.split('-').next().unwrap();
    let joint = seam.trim_end_matches(|c: char| c.is_ascii_lowercase());
    Item {
        number,
        label: label.into(),
        task: Task::Pass {
            joint: joint.into(),
            seam: seam.into(),
            below: below.map(Into::into),
            clock_from: "12:00".into(),
            clock_to: "3:00".into(),
            position: "PB".into(),
            forward: true,
            welder: 0,
            step: number,
            setup: setup.into(),
            volts: 19.0,
            amps: 110.0,
            speed_mm_s: 6.0,
            energy_j: 9000.0,
            arc_s: 5.0,
            under_c: 250.0,
        },
    }
}

pub fn line(number: usize, label: &str, task: Task) -> Item {
    Item { number, label: label.into(), task }
}

fn tack(number: usize, label: &str) -> Item {
    let seam = label.split('-').next().unwrap();
    let joint = seam.trim_end_matches(|c: char| c.is_ascii_lowercase());
    let task = Task::Tack { joint: joint.into(), seam: seam.into(), clock: "10:30".into(), length_mm: 6.0 };
    line(number, label, task)
}

/// A small job: three joints, two tacks, eleven passes, a vent, a clamp, two holds, one turn.
pub fn header() -> Header {
    let hold = |why: &str| Task::Hold {
        controls: vec!["width".into(), "lean".into()],
        expect: vec![(0.3, 0.8), (0.05, 0.2)],
        clamped: false,
        why: why.into(),
    };
    let items = vec![
        line(1, "clamp-1", Task::Clamp { clamp: "rear".into() }),
        line(2, "open-rail", Task::VentOpen { tube: "rail".into() }),
        tack(3, "J1a-t1"),
        tack(4, "J1a-t2"),
        line(5, "hold-1", hold("as tacked")),
        pass(6, "J1a-1/1", None, "deck up"),
        pass(7, "J2a-1/1", None, "deck up"),
        pass(8, "J1a-2/1", None, "deck up"),
        line(9, "wait-1", Task::Wait { joint: "J2".into(), minutes: 4.0, under_c: 250.0 }),
        pass(10, "J2a-1/2", Some("J2a-1/1"), "deck up"),
        pass(11, "J3a-1/1", None, "deck up"),
        line(12, "turn-1", Task::Turn { setup: "deck down".into() }),
        pass(13, "J1a-3/1", None, "deck down"),
        pass(14, "J2a-2/1", None, "deck down"),
        pass(15, "J3a-2/1", None, "deck down"),
        pass(16, "J2b-1/1", None, "deck down"),
        pass(17, "J2b-2/1", None, "deck down"),
        pass(18, "J3a-3/1", None, "deck down"),
        line(19, "clamp-2", Task::Release { clamp: "rear".into(), force_n: 420.0 }),
        line(20, "hold-2", hold("cold and free")),
    ];
    let control = |name: &str, unit: &str, nominal: f64, tolerance: f64| ControlCard {
        name: name.into(),
        unit: unit.into(),
        nominal,
        tolerance,
        set_to: 0.0,
        residual: 0.4,
        scatter: 0.5,
    };
    let joint = |name: &str, kind: &str| JointCard { name: name.into(), kind: kind.into() };
    Header {
        format: FORMAT,
        program: "holdtrue test".into(),
        name: "Lastenrad Öse".into(),
        began: at(0),
        frame_file: "Lasten rad.toml".into(),
        frame_sha256: "00".into(),
        frame: "name = \"Lastenrad Öse\"\nnote = \"a \\\"sum\\\":\\\" inside\"\n".into(),
        plan: "{\"format\":1,\"sum\":\"not ours\"}".into(),
        seed: u64::MAX,
        effort: "quick".into(),
        shop: String::new(),
        welders: None,
        card: Card { revision: 0, plan_id: "7H3K9QXA".into(), items },
        controls: vec![control("width", "mm", 600.0, 1.0), control("lean", "deg", 90.0, 0.3)],
        joints: vec![joint("J1", "saddle"), joint("J2", "saddle"), joint("J3", "butt")],
    }
}

/// The records that these events make, one every ten seconds.
pub fn records(events: &[Event]) -> Vec<Record> {
    let one = |(i, e): (usize, &Event)| Record {
        n: i as u64 + 1,
        at: at(10 * i as i64),
        by: "test".into(),
        id: String::new(),
        event: e.clone(),
    };
    events.iter().enumerate().map(one).collect()
}

/// The job after these events.
pub fn job(events: &[Event]) -> Job {
    Job::fold(header(), records(events))
}

pub fn tick(label: &str) -> Event {
    Event::tick(label, None)
}

pub fn measured(control: &str, value: f64, error: f64) -> Event {
    Event::Measured { control: control.into(), value, error, clamped: false, tool: "tape".into() }
}

/// The same job with just the lines that [`every_kind`] names.
pub fn short_header() -> Header {
    let mut short = header();
    short
        .card
        .items
        .retain(|i| ["clamp-1", "J1a-t1", "J1a-t2", "J1a-1/1", "J2a-1/1"].contains(&i.label.as_str()));
    short
}

/// One event of every kind, in an order that makes sense.
pub fn every_kind() -> Vec<Event> {
    let mut second = short_header().card;
    second.revision = 1;
    second.plan_id = "B2".into();
    vec![
        Event::Started {},
        tick("clamp-1"),
        Event::Ticked {
            label: "J1a-t1".into(),
            when: Some(at(15)),
            settings: Some(holdtrue::job::UsedSettings { volts: Some(20.1), ..Default::default() }),
            reversed: true,
        },
        measured("width", 600.3, 0.5),
        Event::Temperature { joint: "J1".into(), value_c: 81.5 },
        Event::Gap { joint: "J2".into(), value_mm: 0.8 },
        Event::Moved { clamp: "rear".into(), along: "Z".into(), by_mm: -1.5 },
        Event::Note { text: "Zange rutscht ✓ \"quoted\"\nsecond line \\ end".into() },
        Event::Skipped { label: "J1a-t2".into(), why: "in the way".into() },
        tick("J1a-1/1"),
        Event::Redone {
            label: "J1a-1/1".into(),
            when: None,
            settings: None,
            reversed: false,
            why: "pores".into(),
        },
        tick("J2a-1/1"),
        Event::Unticked { label: "J2a-1/1".into(), why: "wrong line".into() },
        Event::Cut { place: holdtrue::job::Cut::Seam("J1a".into()), why: "crack".into() },
        Event::GateOpened { why: "no time".into() },
        Event::Withdrawn { n: 5 },
        Event::Replanned { card: second, plan: "{}".into(), why: "moved".into() },
        tick("J1a-1/1"),
        tick("J1a-t1"),
        Event::Cut { place: holdtrue::job::Cut::Tack("J1a-t1".into()), why: String::new() },
        Event::Finished { why: "done".into() },
    ]
}
