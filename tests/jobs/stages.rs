//! A job on a frame that is built in stages: what is left of the stage in hand is planned anew, then the
//! stages that follow; every stage has its own gate.

use super::commands::Desk;
use crate::support::near;
use holdtrue::cli::Exit;
use holdtrue::job::{Floor, GateState, Item, Job, Task};

const FRAME: &str = include_str!("../../examples/stand.toml");

/// Tick the lines of the sheet until so many passes are welded.
fn weld(desk: &Desk, passes: usize, and: &str) -> Job {
    let job = desk.job("s.job");
    let mut left = passes - job.passes_done().0;
    let mut labels = vec![];
    for i in job.open() {
        if left == 0 {
            break;
        }
        left -= usize::from(i.is_pass());
        labels.push(i.label.clone());
    }
    desk.run(&format!("job tick @s.job {} --time unknown {and}", labels.join(","))).well();
    desk.job("s.job")
}

fn stages(job: &Job) -> Vec<&str> {
    let of = |i: &Item| matches!(i.task, Task::Stage { .. });
    job.card().items.iter().filter(|i| of(i)).map(|i| i.label.as_str()).collect()
}

/// What the record foresees from the same sheet is what the sheet says, in whatever stage.
fn agrees(desk: &Desk) {
    let job = desk.job("s.job");
    let floor = Floor::of(&job).unwrap();
    let outlook = floor.said(&job).unwrap().unwrap().outlook;
    let text = std::fs::read(desk.path("s.json")).unwrap();
    let plan: serde_json::Value = serde_json::from_slice(&text).unwrap();
    for (o, c) in outlook.iter().zip(plan["controls"].as_array().unwrap()) {
        // The heat of what is still to be welded is in the sheet and not in the record.
        near(o.after.deviation, c["residual"].as_f64().unwrap(), 0.25);
    }
    let mut all: Vec<&str> =
        job.card().items.iter().filter(|i| i.is_pass()).map(|i| i.label.as_str()).collect();
    all.extend(
        job.known().filter(|i| i.is_pass() && job.done.contains_key(&i.label)).map(|i| i.label.as_str()),
    );
    all.sort_unstable();
    all.dedup();
    assert_eq!(all.len(), floor.parts.passes.passes.len(), "every pass is welded or on the sheet");
}

#[test]
fn the_stage_in_hand_is_planned_anew_and_the_next_ones_follow() {
    let desk = Desk::new();
    std::fs::write(desk.path("s.toml"), FRAME).unwrap();
    desk.run("job start @s.toml --out @s.job --effort rules --no-shop --json @s.json").well();
    agrees(&desk);
    let own = |job: &Job| -> Vec<usize> {
        let items = &job.card().items;
        let at = |l: &str| items.iter().position(|i| i.label == l).unwrap();
        let (two, three) = (at("stage-2"), at("stage-3"));
        [&items[..two], &items[two..three], &items[three..]]
            .map(|s| s.iter().filter(|i| i.is_pass()).count())
            .to_vec()
    };
    let count = own(&desk.job("s.job"));
    assert!(count.iter().all(|n| *n >= 8), "{count:?}");
    // In the first stage.
    let job = weld(&desk, 3, "--without-readings try");
    assert!(matches!(job.gate(), GateState::OpenedWithout(_)));
    desk.run("job replan @s.job --effort rules --json @s.json --force").well();
    let job = desk.job("s.job");
    assert_eq!(stages(&job), ["stage-2", "stage-3"]);
    assert_eq!(own_rest(&job), [count[0] - 3, count[1], count[2]]);
    agrees(&desk);
    // The gate of the second stage is another one.
    let job = weld(&desk, count[0], "");
    assert!(matches!(job.gate(), GateState::Shut { .. }), "{:?}", job.gate());
    let next = job.open().iter().find(|i| i.is_pass()).unwrap().label.clone();
    let tacks: Vec<String> =
        job.open().iter().take_while(|i| !i.is_pass()).map(|i| i.label.clone()).collect();
    desk.run(&format!("job tick @s.job {} --time unknown", tacks.join(","))).well();
    desk.run(&format!("job tick @s.job {next}")).ends(Exit::Usage, "the gate is shut");
    let job = weld(&desk, count[0] + 2, "--without-readings again");
    assert_eq!(job.all_gates().len(), 3);
    desk.run("job replan @s.job --effort rules --json @s.json --force").well();
    assert_eq!(stages(&desk.job("s.job")), ["stage-3"]);
    agrees(&desk);
    // Between two stages, and in the last.
    weld(&desk, count[0] + count[1], "");
    desk.run("job replan @s.job --effort rules --json @s.json --force").well();
    let job = desk.job("s.job");
    assert_eq!(stages(&job), ["stage-3"]);
    assert!(job.card().items.iter().any(|i| matches!(i.task, Task::Tack { .. })));
    agrees(&desk);
    weld(&desk, count[0] + count[1] + 1, "--without-readings more");
    desk.run("job replan @s.job --effort rules --json @s.json --force").well();
    let job = desk.job("s.job");
    assert!(stages(&job).is_empty());
    assert!(!job.card().items.iter().any(|i| matches!(i.task, Task::Tack { .. })));
    agrees(&desk);
    for look in ["next", "status", "report"] {
        let said = desk.run(&format!("job {look} @s.job")).well();
        assert!(said.out.contains("void"), "{look} names the old sheets: {}", said.out);
    }
    let said = desk.run("job report @s.job").well();
    assert!(
        ["try", "again", "more"].iter().all(|w| said.out.contains(&format!("readings: {w}"))),
        "{}",
        said.out
    );
}

/// Passes on the sheet in force before, between and after the stages that it still begins.
fn own_rest(job: &Job) -> Vec<usize> {
    let mut out = vec![0];
    for i in &job.card().items {
        match i.task {
            Task::Stage { .. } => out.push(0),
            _ if i.is_pass() => *out.last_mut().unwrap() += 1,
            _ => {}
        }
    }
    out
}
