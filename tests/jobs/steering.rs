//! The gate, the levers of a re-plan, clamps that are moved, straightening, the weld record: at the
//! command line, on frames of the examples.

use super::commands::Desk;
use crate::support::near;
use holdtrue::job::straighten::Advice;
use holdtrue::job::{Event, Floor, GateState, Job, Task, deviations};
use holdtrue::plan::{self, Effort, Watch};
use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

/// The number after a word in an answer.
fn number_after(text: &str, word: &str) -> f64 {
    let rest = text.split(word).nth(1).unwrap_or_else(|| panic!("{word} is not in {text}"));
    rest.split_whitespace().next().unwrap().parse().unwrap_or_else(|_| panic!("{word}: {rest}"))
}

/// Before all dimensions are read no pass is ticked; a reason opens the gate and is kept.
#[test]
fn the_gate_is_shut_until_all_is_read_or_somebody_says_why() {
    let desk = Desk::new();
    desk.run("job start %square --out @g.job --effort rules --no-shop").well();
    let job = desk.job("g.job");
    let hold =
        job.card().items.iter().rfind(|i| matches!(i.task, Task::Hold { .. }) && i.number < 30).unwrap();
    let pass = job.card().items.iter().find(|i| i.is_pass()).unwrap().label.clone();
    assert!(matches!(job.gate(), GateState::Shut { ref missing } if missing.len() == 3), "{:?}", job.gate());
    // Read before the tacks: says nothing about the tacked frame.
    desk.run("job measure @g.job width 600").well();
    desk.run(&format!("job tick @g.job 1-{}", hold.number)).well();
    let said = desk.run("job gate @g.job").well();
    assert!(said.out.starts_with("SHUT") && said.out.contains("width"), "{}", said.out);
    desk.run(&format!("job tick @g.job {pass}")).ends(holdtrue::cli::Exit::Usage, "the gate is shut");
    desk.run("job measure @g.job width 600").well();
    desk.run("job measure @g.job flat 0").well();
    desk.run(&format!("job tick @g.job {pass}"))
        .ends(holdtrue::cli::Exit::Usage, "diagonals not read as tacked");
    desk.run("job gate @g.job --because ~").ends(holdtrue::cli::Exit::Usage, "for a reason only");
    // All read: open, and nothing to open by force.
    desk.run("job measure @g.job diag +0.5").well();
    assert_eq!(desk.job("g.job").gate(), GateState::Open);
    assert!(desk.run("job gate @g.job --because hurry").well().out.starts_with("OPEN"));
    desk.run("job undo @g.job").well();
    desk.run("job undo @g.job").well();
    // Welded all the same: recorded with its reason.
    desk.run(&format!("job tick @g.job {pass} --without-readings string~broken")).well();
    let job = desk.job("g.job");
    assert_eq!(job.gate(), GateState::OpenedWithout("string broken".into()));
    let list = deviations(&job, &BTreeMap::new(), &|_| String::new());
    assert!(list.iter().any(|d| d.contains("string broken")), "{list:?}");
    let said = desk.run("job report @g.job").well();
    assert!(said.out.contains("without all as-tacked readings: string broken"), "{}", said.out);
}

fn replanned(desk: &Desk, record: &str, more: &str) -> (Job, serde_json::Value) {
    desk.run(&format!("job replan @{record} --effort quick --json @{record}.json --force {more}")).well();
    let text = std::fs::read(desk.path(&format!("{record}.json"))).unwrap();
    (desk.job(record), serde_json::from_slice(&text).unwrap())
}

fn open_passes(job: &Job) -> Vec<(String, bool)> {
    let open = job.open().into_iter().filter_map(|i| match &i.task {
        Task::Pass { forward, .. } => Some((i.label.clone(), *forward)),
        _ => None,
    });
    open.collect()
}

/// Each lever is a switch: with the order kept, the order is the old one; with directions kept, so are
/// they; heat stays inside the range that was said, and only if it was said.
#[test]
fn each_lever_can_be_held() {
    let desk = Desk::new();
    let job = desk.tacked();
    let labels: Vec<String> = open_passes(&job).into_iter().map(|p| p.0).take(8).collect();
    desk.run(&format!("job tick @a.job {} --time 2020-01-01T00:00:00Z", labels.join(","))).well();
    desk.run("job measure @a.job diagonals +9 --confirm").well();
    let record = std::fs::read(desk.path("a.job")).unwrap();
    for name in ["order", "direction", "heat"] {
        std::fs::write(desk.path(&format!("{name}.job")), &record).unwrap();
    }
    let before = open_passes(&desk.job("a.job"));
    let (kept, _) = replanned(&desk, "order.job", "--keep-order");
    let names = |list: &[(String, bool)]| list.iter().map(|p| p.0.clone()).collect::<Vec<_>>();
    assert_eq!(names(&open_passes(&kept)), names(&before), "the order was to stay");
    let (kept, _) = replanned(&desk, "direction.job", "--keep-directions");
    let old: BTreeMap<String, bool> = before.iter().cloned().collect();
    let frame = Floor::of(&kept).unwrap();
    for (label, forward) in open_passes(&kept) {
        let pass = frame.parts.passes.passes.iter().find(|p| p.label == label).unwrap();
        if pass.forced_direction.iter().all(Option::is_none) {
            assert_eq!(forward, old[&label], "{label}");
        }
    }
    // Both free: something is better than the old sheet, or as good.
    let (_, free) = replanned(&desk, "a.job", "");
    let q = free["passes"][0]["heat_input_j_per_mm"].as_f64().unwrap();
    let (lo, hi) = (0.7 * q, 1.3 * q);
    let range = format!("{:.4}-{:.4}", lo / 1000.0, hi / 1000.0);
    let (hot, plan) = replanned(&desk, "heat.job", &format!("--heat-input {range}"));
    let list = plan["passes"].as_array().unwrap();
    let heats: Vec<f64> = list.iter().map(|p| p["heat_input_j_per_mm"].as_f64().unwrap()).collect();
    assert!(heats.iter().all(|h| *h >= lo - 0.11 && *h <= hi + 0.11), "{heats:?} outside {lo} to {hi}");
    let changed = heats.iter().any(|h| (h - q).abs() > 1e-3);
    let warned = plan["remarks"].as_array().unwrap().iter().any(|r| r["code"] == "W710");
    assert_eq!(changed, warned, "changed heat is said on the sheet, and nothing else is");
    assert!(changed, "9 mm off: some joint is better welded hotter or colder");
    // The record's own models take the new heat, pass by pass.
    let floor = Floor::of(&hot).unwrap();
    for (p, h) in list.iter().zip(&heats) {
        let label = p["label"].as_str().unwrap();
        let own = floor.parts.passes.passes.iter().find(|p| p.label == label).unwrap();
        near(own.heat_input_j_per_mm, *h, 0.06);
    }
    desk.run("job replan @a.job --heat-input 0.3").ends(holdtrue::cli::Exit::Usage, "no range of heat input");
}

/// The authority holds what the new plan foresees, and shrinks as passes are used up; the re-plan's
/// scatter and the job's own outlook are one and the same.
#[test]
fn authority_shrinks_and_the_sheet_agrees_with_the_record() {
    let desk = Desk::new();
    let job = desk.tacked();
    let passes: Vec<String> = open_passes(&job).into_iter().map(|p| p.0).collect();
    let stop = AtomicBool::new(false);
    let mut spans = vec![];
    for (from, to) in [(0, 4), (4, 20)] {
        desk.run(&format!("job tick @a.job {} --time 2020-01-01T00:00:00Z", passes[from..to].join(",")))
            .well();
        desk.run("job measure @a.job diagonals +1").well();
        let job = desk.job("a.job");
        let floor = Floor::of(&job).unwrap();
        let said = floor.said(&job).unwrap().unwrap();
        let (frame, _) = floor.learnt_frame(Some(&said));
        let now = job.records.last().unwrap().at;
        let underway = floor.underway(&job, Some(&said), now);
        let watch = Watch { stop: &stop, progress: Box::new(|_, _| {}) };
        let options = floor.options(&job, Effort::Quick, None);
        let (plan, reach) = plan::replan(&frame, floor.parts.clone(), &underway, &options, &watch).unwrap();
        for r in &reach {
            assert!(r.least <= r.foreseen + 1e-6 && r.foreseen <= r.most + 1e-6, "{r:?}");
        }
        spans.push(reach.iter().map(|r| r.most - r.least).sum::<f64>());
        // The same order seen by the record: put the sheet into it and ask.
        let card = holdtrue::job::Card::of(&plan);
        let event = Event::Replanned { card, plan: String::new(), why: String::new() };
        let record = holdtrue::job::Record {
            n: job.records.len() as u64 + 1,
            at: now,
            by: String::new(),
            id: String::new(),
            event,
        };
        let job = job.and(record);
        let outlook = Floor::of(&job).unwrap().said(&job).unwrap().unwrap().outlook;
        for (o, p) in outlook.iter().zip(&plan.pull.controls) {
            near(o.after.deviation, p.residual, 0.02);
            near(o.after.scatter, p.scatter, 0.06);
        }
    }
    assert!(spans[1] < 0.5 * spans[0], "authority with 20 and with 4 passes left: {spans:?}");
}

/// A clamp that is moved as the re-plan proposes does what it said; the record keeps it.
#[test]
fn a_moved_clamp_does_what_was_foreseen() {
    let desk = Desk::new();
    desk.run("job start %cargo-trike --out @t.job --effort rules --no-shop").well();
    let job = desk.job("t.job");
    let first = job.card().items.iter().find(|i| i.is_pass()).unwrap().number;
    desk.run(&format!("job tick @t.job 1-{}", first - 1)).well();
    desk.run("job measure @t.job wheelbase +3 --clamped --confirm").well();
    let job = desk.job("t.job");
    assert!(job.readings.iter().all(|r| r.clamped));
    let said = desk.run("job replan @t.job --effort rules --json @t.json").well();
    let plan: serde_json::Value =
        serde_json::from_slice(&std::fs::read(desk.path("t.json")).unwrap()).unwrap();
    let text = plan["remarks"].as_array().unwrap().iter().find(|r| r["code"] == "W709");
    let text = text.unwrap_or_else(|| panic!("no clamp is worth moving: {}", said.out));
    let text = text["text"].as_str().unwrap();
    // "clamp NAME by +1.5 mm along Z (…)"; several, one after the other.
    let moves: Vec<(String, String, String)> = text
        .split("clamp ")
        .skip(1)
        .filter_map(|part| {
            let (name, rest) = part.split_once(" by ")?;
            let (by, rest) = rest.split_once(" mm along ")?;
            let (along, _) = rest.split_once(" (about")?;
            Some((name.replace(' ', "~"), along.to_string(), by.replace('−', "-")))
        })
        .collect();
    assert!(!moves.is_empty(), "{text}");
    for (name, along, by) in &moves {
        desk.run(&format!("job move @t.job {name} {along} {by}")).well();
    }
    let foreseen = number_after(text, "wheelbase, left against right ");
    let floor = Floor::of(&desk.job("t.job")).unwrap();
    let outlook = floor.said(&desk.job("t.job")).unwrap().unwrap().outlook;
    let now = outlook.iter().find(|o| o.control.starts_with("wheelbase")).unwrap();
    near(now.after.deviation, foreseen, 0.15);
    desk.run("job move @t.job dummy~axle~left Q 1").ends(holdtrue::cli::Exit::Usage, "does not hold along Q");
    desk.run("job move @t.job nobody Z 1").ends(holdtrue::cli::Exit::Usage, "there is no clamp");
    let said = desk.run("job report @t.job").well();
    assert!(said.out.contains("moved"), "{}", said.out);
}

/// Straightening: the effect of the proposed heat line is that of the same line laid on the finished
/// frame; chrome-moly is left out unless asked for.
#[test]
fn straightening_is_advice_with_its_effect_on_all_controls() {
    let desk = Desk::new();
    let job = desk.tacked();
    let last = job.card().items.iter().rfind(|i| i.is_pass()).unwrap().number;
    let first = job.card().items.iter().find(|i| i.is_pass()).unwrap().number;
    desk.run(&format!("job tick @a.job {first}-{last} --time 2020-01-01T00:00:00Z")).well();
    desk.run("job measure @a.job diagonals 0").well();
    let said = desk.run("job straighten @a.job").well();
    let quiet = said.out.contains("leave the frame alone");
    desk.run("job measure @a.job diagonals +4 --confirm").well();
    desk.run("job measure @a.job diagonals +4").well();
    let said = desk.run("job straighten @a.job").well();
    assert!(quiet || said.out.contains("QUALIFIED PERSON"), "{}", said.out);
    assert!(said.out.contains("ADVICE FOR A QUALIFIED PERSON") && said.out.contains("kN"), "{}", said.out);
    let job = desk.job("a.job");
    let floor = Floor::of(&job).unwrap();
    let told = floor.said(&job).unwrap().unwrap();
    let Some(Advice::Ways { now, ways, .. }) = floor.straighten(&job, &told, false).unwrap() else {
        panic!("there are ways");
    };
    assert!(!ways.is_empty());
    for w in &ways {
        assert!(w.squares.1 < 0.9 * w.squares.0, "{w:?}");
        assert!(w.kink_deg > 0.0 && w.press_n > 100.0 && w.after.len() == now.len());
    }
    // Of chrome-moly: nothing, unless asked for.
    let text = include_str!("../../examples/square.toml").replace("S235", "25CrMo4");
    std::fs::write(desk.path("m.toml"), text).unwrap();
    desk.run("job start @m.toml --out @m.job --effort rules --no-shop").well();
    desk.run("job measure @m.job diagonals +4 --confirm --error 0.1").well();
    let said = desk.run("job straighten @m.job").well();
    assert!(said.out.contains("no list") && !said.out.contains("kN"), "{}", said.out);
    let said = desk.run("job straighten @m.job --any-material").well();
    assert!(said.out.contains("kN"), "{}", said.out);
}

/// The weld record says everything that was done, the deviations and the cautions; on paper too.
#[test]
fn the_record_says_what_was_done() {
    let desk = Desk::new();
    let job = desk.tacked();
    let passes: Vec<String> = open_passes(&job).into_iter().map(|p| p.0).collect();
    desk.run(&format!("job tick @a.job {}", passes[0])).well();
    desk.run(&format!("job tick @a.job {} --amps 140 --back --time unknown --by Öse", passes[2])).well();
    desk.run(&format!("job tick @a.job {}", passes[1])).well();
    desk.run(&format!("job redo @a.job {} --why pores", passes[1])).well();
    desk.run("job temperature @a.job J1 145").well();
    desk.run("job gap @a.job J2 0.8").well();
    desk.run("job note @a.job wind from the door").well();
    desk.run("job measure @a.job diagonals +1.5").well();
    desk.run("job replan @a.job --effort rules --because moved").well();
    let said = desk.run("job report @a.job --pdf @r.pdf").well();
    for words in [
        "Weld record: square".to_uppercase().as_str(),
        "was laid again: pores",
        &format!("Laid with other settings than on the sheet: {}.", passes[2]),
        &format!("Laid against the direction of the sheet: {}.", passes[2]),
        &format!("Laid out of the order of the sheet: {}.", passes[1]),
        &format!("Time of welding unknown: {}.", passes[2]),
        "wind from the door",
        "145 °C",
        "0.8 mm",
        "Öse",
        "void",
        "Who may decide",
        "Inspected by a qualified person",
        "not finished",
    ] {
        assert!(said.out.contains(words), "{words} is not in\n{}", said.out);
    }
    // Passes and tacks, each once; the one laid again twice.
    let laid = desk.job("a.job").deeds.len();
    let table = said.out.split("What was done, in order").nth(1).unwrap().split("kJ/mm: net").next().unwrap();
    assert!(table.contains(&format!(" {laid} ")) || table.contains(&format!("\n  {laid}\n")), "{table}");
    assert!(std::fs::read(desk.path("r.pdf")).unwrap().starts_with(b"%PDF"));
    desk.run("job report @a.job --pdf @r.pdf").ends(holdtrue::cli::Exit::CannotCreate, "already there");
    // A finished record is the same on every day.
    desk.run("job finish @a.job").well();
    let (a, b) = (desk.run("job report @a.job").well().out, desk.run("job report @a.job").well().out);
    assert_eq!(a, b);
}

/// Two programs tick at once: every line is ticked once, each is told so by one of them only.
#[test]
fn two_programs_tick_the_same_lines_at_once() {
    let desk = Desk::new();
    desk.tacked();
    let labels: Vec<String> = open_passes(&desk.job("a.job")).into_iter().map(|p| p.0).take(6).collect();
    let start = |label: &str, by: &str| {
        std::process::Command::new(env!("CARGO_BIN_EXE_holdtrue"))
            .args(["job", "tick"])
            .arg(desk.path("a.job"))
            .args([label, "--by", by, "--quiet"])
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .unwrap()
    };
    for l in &labels {
        let mut both = [start(l, "page"), start(l, "bench")];
        let told: Vec<bool> = both.iter_mut().map(|c| c.wait().unwrap().success()).collect();
        assert_eq!(told.iter().filter(|t| **t).count(), 1, "{l}: {told:?}");
        let by = if told[0] { "page" } else { "bench" };
        assert_eq!(desk.job("a.job").done[l].by, by);
    }
}
