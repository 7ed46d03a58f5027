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

/// The whole, tack by tack and pass by pass in the order of the sheet, in one elimination from the loose
/// tubes: the plan's pull to rounding. (That elimination equals the independent staged solver, see the
/// chapter on pull.)
#[test]
fn deviations_carry_over_in_one_elimination() {
    let plan = staged(true);
    let model = Model::new(&plan.frame, &plan.joints, &plan.seams, &plan.passes).unwrap();
    let tacks = plan.tacks.as_ref().unwrap();
    let laid = tacks_laid(tacks);
    let mut events = Vec::new();
    let mut order = 0;
    for line in &plan.lines {
        match &line.act {
            Act::Stage { .. } => events.push(Event::Warm(vec![])),
            Act::Tack { seam, tack, .. } => {
                let i = tacks.tacks.iter().position(|t| t.seam == *seam && t.number == *tack).unwrap();
                events.push(Event::Tack(laid[i]));
            }
            Act::Pass { pass, forward, .. } => {
                // Warmth of the tubes is kept for what the last stage welds.
                if order >= plan.stage_steps[1] {
                    events.push(Event::Warm(plan.timeline.tube_rise_k[order].clone()));
                }
                events.push(Event::Pass { pass: *pass, forward: *forward });
                order += 1;
            }
            _ => {}
        }
    }
    let y = model.controls_after(&events, Level::Fine).unwrap().0;
    for ((got, want), c) in y.iter().zip(&plan.pull.controls).zip(&plan.frame.controls) {
        // The first stage's warmth is not in the events here: a little is left.
        near(*got, want.pull, 0.02 + 0.05 * want.pull.abs());
        let _ = c;
    }
    // A rung that is welded before the other chord is there bends and shortens nothing of that chord.
    let one_piece = planned(&example("ladder"));
    let differs =
        plan.pull.controls.iter().zip(&one_piece.pull.controls).any(|(a, b)| (a.pull - b.pull).abs() > 0.02);
    assert!(differs, "stages change something");
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
