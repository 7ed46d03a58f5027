//! A frame built in stages: each in turn, deviations carried over.

use super::{example, planned, read};
use crate::commands::bench::{Bench, example as path};
use crate::support::near;
use holdtrue::distort::{Event, Level, Model};
use holdtrue::plan::{Act, WeldPlan, audit, tacks_laid};

const STAGES: &str = r#"
[[stage]]
name = "half"
tubes = ["lower", "branch-1"]
weld_out = WELD

[[stage]]
name = "rest"
tubes = ["upper", "branch-2"]
"#;

fn staged(weld_out: bool) -> WeldPlan {
    planned(&format!("{}{}", example("ladder"), STAGES.replace("WELD", &weld_out.to_string())))
}

fn acts(p: &WeldPlan) -> Vec<&'static str> {
    let mut words: Vec<&str> = p.lines.iter().map(|l| l.act.word()).collect();
    words.retain(|w| ["stage", "tack", "pass"].contains(w));
    words.dedup();
    words
}

/// Welded out first: stage, tacks, passes, stage, tacks, passes. Tacked only: all tacks before any pass.
#[test]
fn each_stage_in_turn() {
    let welded = staged(true);
    assert_eq!(acts(&welded), ["stage", "tack", "pass", "stage", "tack", "pass"]);
    assert_eq!(welded.stage_steps.len(), 2);
    assert!(audit(&welded).is_empty(), "{:?}", audit(&welded));
    let tacked = staged(false);
    assert_eq!(acts(&tacked), ["stage", "tack", "stage", "tack", "pass"]);
    for p in [&welded, &tacked] {
        let mut passes: Vec<usize> = p
            .lines
            .iter()
            .filter_map(|l| if let Act::Pass { pass, .. } = l.act { Some(pass) } else { None })
            .collect();
        passes.sort_unstable();
        assert!(passes.iter().copied().eq(0..p.passes.passes.len()), "every pass has one line");
        assert!(p.lines.iter().enumerate().all(|(i, l)| l.number == i + 1));
        assert_eq!(p.tacking.as_ref().unwrap().notes.len(), p.tacks.as_ref().unwrap().tacks.len());
    }
    // In the first stage only what is there is welded, and only what is there is read.
    let second = welded.lines.iter().rposition(|l| matches!(l.act, Act::Stage { .. })).unwrap();
    for l in &welded.lines[..second] {
        match &l.act {
            Act::Pass { pass, .. } => {
                let m = &welded.joints.meets[welded.passes.passes[*pass].seam];
                let name = &welded.frame.tubes[m.branch.0].name;
                assert_eq!(name, "branch-1");
            }
            Act::Hold { controls, .. } => {
                assert!(controls.iter().all(|&c| !welded.frame.controls[c].name.starts_with("upper")));
                assert!(!controls.is_empty());
            }
            _ => {}
        }
    }
}

/// The whole, line by line as on the sheet, in one elimination from the loose tubes: the plan's pull. The
/// heat of the tubes is gone before the next pass (an hour between passes), so that nothing but the
/// lines counts. (That elimination equals the independent staged solver, see the chapter on pull.)
#[test]
fn deviations_carry_over_in_one_elimination() {
    const GONE: &str = "\n[shop]\nloss = 500\nmove = 3600\n";
    let stand = planned(&format!("{}{GONE}", example("stand")));
    let ladder = planned(&format!("{}{}{GONE}", example("ladder"), STAGES.replace("WELD", "true")));
    assert!(stand.lines.iter().filter(|l| matches!(l.act, Act::Turn { .. })).count() >= 3);
    for plan in [&stand, &ladder] {
        let model = Model::new(&plan.frame, &plan.joints, &plan.seams, &plan.passes).unwrap();
        let y = model.controls_after(&played_back(plan, plan.lines.len()), Level::Fine).unwrap().0;
        for (got, want) in y.iter().zip(&plan.pull.controls) {
            near(*got, want.pull, 0.004 + 0.004 * want.pull.abs());
        }
    }
    // A rung that is welded before the other chord is there bends and shortens nothing of that chord.
    let one_piece = planned(&format!("{}{GONE}", example("ladder")));
    let differs = ladder
        .pull
        .controls
        .iter()
        .zip(&one_piece.pull.controls)
        .any(|(a, b)| (a.pull - b.pull).abs() > 0.02);
    assert!(differs, "stages change something");
}

/// The first lines of a sheet as the pull model takes them.
fn played_back(plan: &WeldPlan, lines: usize) -> Vec<Event> {
    let tacks = plan.tacks.as_ref().unwrap();
    let laid = tacks_laid(tacks);
    let mut events = Vec::new();
    for line in &plan.lines[..lines] {
        match &line.act {
            Act::Tack { seam, tack, .. } => {
                let i = tacks.tacks.iter().position(|t| t.seam == *seam && t.number == *tack).unwrap();
                events.push(Event::Tack(laid[i]));
            }
            Act::Pass { pass, forward, .. } => events.push(Event::Pass { pass: *pass, forward: *forward }),
            Act::Turn { setup } => events.push(Event::Turn { setup: *setup }),
            Act::Clamp { clamp } => events.push(Event::Clamp { clamp: *clamp, to_nominal: false }),
            Act::Release { clamp, .. } => events.push(Event::Release { clamp: *clamp }),
            _ => {}
        }
    }
    events
}

/// With clamps and turns: the frame is opened before it is turned, every stage lies as the first did when
/// it is fitted, holds before it is turned, is read as tacked, and nothing is read that is not joined.
#[test]
fn stages_with_clamps_and_turns() {
    let plan = planned(&example("stand"));
    assert!(audit(&plan).is_empty(), "{:?}", audit(&plan));
    let (mut on, mut setup, mut stage) = (std::collections::BTreeSet::new(), 0, 0);
    let mut gates = 0;
    for (i, l) in plan.lines.iter().enumerate() {
        match &l.act {
            Act::Stage { .. } => {
                assert_eq!(setup, 0, "line {}: fitted as the first stage was", l.number);
                stage += 1;
            }
            Act::Clamp { clamp } => assert!(on.insert(*clamp), "line {}: on already", l.number),
            Act::Release { clamp, force_n } => {
                assert!(on.remove(clamp) && force_n.is_finite(), "line {}", l.number);
            }
            Act::Turn { setup: to } => {
                assert!(on.is_empty(), "line {}: clamps {on:?} still hold", l.number);
                assert_ne!(setup, *to);
                setup = *to;
            }
            Act::Pass { setup: s, .. } => assert_eq!(*s, setup, "line {}", l.number),
            Act::Hold { controls, expect, clamped, why } => {
                assert_eq!(*clamped, !on.is_empty(), "line {}", l.number);
                assert_eq!(expect.len(), controls.len());
                for &c in controls {
                    let name = plan.frame.controls[c].name.as_str();
                    let joined = if name.starts_with("left") {
                        1
                    } else if name.starts_with("right") {
                        2
                    } else {
                        3
                    };
                    assert!(stage >= joined, "line {}: {name} in stage {stage}", l.number);
                }
                if why.contains("starting state") {
                    gates += 1;
                    // What stands there is what the lines before it give, opened or not. (Heat aside.)
                    let model = Model::new(&plan.frame, &plan.joints, &plan.seams, &plan.passes).unwrap();
                    let begun = model.begin(&played_back(&plan, i), Level::Fine).unwrap();
                    let y = begun.controls_after(&[]).unwrap();
                    for (&c, e) in controls.iter().zip(expect) {
                        near(e.0 - plan.pull.controls[c].set_to, y[c], 0.06 + 0.05 * y[c].abs());
                    }
                }
            }
            _ => {}
        }
    }
    assert_eq!((gates, stage), (3, 3));
}

#[test]
fn compared_with_one_piece_and_printed() {
    let bench = Bench::new();
    let text = format!("{}{}", example("ladder"), STAGES.replace("WELD", "true"));
    bench.file("staged.toml", &text);
    let said = bench.run("compare @staged.toml --effort rules --no-shop --quiet").well();
    assert!(said.text().contains("the plan, in stages"), "{}", said.text());
    assert!(said.text().contains("in one piece, house"), "{}", said.text());
    let said = bench.run("plan @staged.toml --effort rules --no-shop --quiet").well();
    assert!(said.text().contains("STAGE"), "{}", said.text());
    assert!(said.text().contains("put in lower, branch-1"), "{}", said.text());
    let by_hand = format!("{text}\n[order]\nby_hand = [\"J1a-1/1\"]\n");
    bench.file("hand.toml", by_hand);
    let refused = bench.run("plan @hand.toml --effort rules --no-shop --quiet");
    assert!(refused.err.contains("E504"), "{}", refused.err);
    let _ = (path("ladder"), read(&example("ladder")));
}
