//! From a frame file to a finished job: the record, the sheet, the models and the learning together,
//! on a frame of the examples.

use super::at;
use holdtrue::distort::{Level, Model};
use holdtrue::frame;
use holdtrue::heat::Kernels;
use holdtrue::job::learn::Belief;
use holdtrue::job::{Bench, Event, Header, Item, Task, Verdict, next, steps_done};
use holdtrue::journal;
use holdtrue::output::json;
use holdtrue::plan::{self, Effort, From, Options, Watch, WeldPlan};
use std::sync::atomic::AtomicBool;

const TEXT: &str = include_str!("../../examples/h-frame.toml");

fn planned(text: &str) -> WeldPlan {
    let frame = frame::read(text).unwrap_or_else(|f| panic!("{f:?}")).value;
    let parts = plan::parts(&frame).unwrap_or_else(|f| panic!("{f:?}"));
    let stop = AtomicBool::new(false);
    let watch = Watch { stop: &stop, progress: Box::new(|_, _| {}) };
    let options = Options { seed: 1, effort: Effort::Rules, frame_sha256: "ab".into(), from: From::Tacks };
    plan::plan(&frame, parts, &options, &watch).unwrap_or_else(|f| panic!("{f:?}"))
}

fn begin(plan: &WeldPlan) -> Header {
    Header::of(plan, "h-frame.toml", TEXT, &json::json(plan), "", at(0))
}

/// Every line of the plan is a line of the card, each label once, and the header survives the disk.
#[test]
fn the_card_is_the_sheet() {
    let p = planned(TEXT);
    let h = begin(&p);
    assert_eq!(h.card.items.len(), p.lines.len());
    let mut labels: Vec<&str> = h.card.items.iter().map(|i| i.label.as_str()).collect();
    labels.sort();
    labels.dedup();
    assert_eq!(labels.len(), p.lines.len());
    assert!(h.card.items.iter().filter(|i| i.is_pass()).count() == p.passes.passes.len());
    assert!(labels.iter().all(|l| !l.contains([' ', ','])), "labels can be typed in a list: {labels:?}");
    assert!(h.card.items.iter().all(|i| !i.words().is_empty()));
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("h.job");
    journal::create(&path, h.clone()).unwrap();
    // Bit by bit, numbers too; not assert_eq, which would print the whole plan twice.
    assert!(*journal::open(&path).unwrap().0.job().header == h);
}

/// The welder follows `next`, waits as told, measures at every hold with a tape that reads to half a
/// millimetre; the welds pull 1.4 times what the plan says. Every line gets done; no reading of an
/// honest tape is called a blunder; the end is foreseen better than by the plan alone.
#[test]
fn a_job_from_beginning_to_end() {
    let p = planned(TEXT);
    let (model, kernels) = (
        Model::new(&p.frame, &p.joints, &p.seams, &p.passes).unwrap(),
        Kernels::new(&p.frame, &p.joints, &p.seams, &p.passes),
    );
    let mut truth_frame = p.frame.clone();
    truth_frame.pull.common_factor = 1.4;
    let truth = Model::new(&truth_frame, &p.joints, &p.seams, &p.passes).unwrap();
    let bench = Bench { level: Level::Coarse, ..Bench::of(&p, &model, &kernels) };
    let dir = tempfile::tempdir().unwrap();
    let (mut j, mut clock, mut lines) =
        (journal::create(&dir.path().join("h.job"), begin(&p)).unwrap(), 0, 0);
    j.append(&[Event::Started {}], "test", at(0)).unwrap();
    while let Some(item) = {
        let minutes = bench.minutes(j.job(), at(clock));
        let n = next(j.job(), &|i: &Item| minutes.get(&i.label).copied().unwrap_or(0.0));
        // If nothing is cool enough, wait until the first line is.
        if let Some((_, m)) = n.held_up
            && n.why.starts_with("nothing")
        {
            clock += (60.0 * m).ceil() as i64;
        }
        n.now.cloned()
    } {
        lines += 1;
        assert!(lines <= 2 * p.lines.len(), "no end in sight at {}", item.label);
        clock += 40;
        let mut events = vec![];
        if let Task::Hold { controls, .. } = &item.task {
            // Cold before measuring.
            clock += 4 * 3600;
            let m = truth.moment(&bench.done(j.job(), &j.job().deeds), Level::Coarse, &[], true).unwrap();
            for name in controls {
                let r = p.frame.controls.iter().position(|c| &c.name == name).unwrap();
                let c = &j.job().header.controls[r];
                let (step, error) = if c.unit == "deg" { (0.1, 0.1) } else { (0.5, 0.5) };
                let value = ((c.nominal + c.set_to + m.controls[r]) / step).round() * step;
                events.push(Event::Measured {
                    control: name.clone(),
                    value,
                    error,
                    clamped: false,
                    tool: "tape".into(),
                });
            }
        }
        events.push(Event::tick(item.label.clone(), Some(at(clock))));
        let warnings = j.append(&events, "test", at(clock)).unwrap();
        assert!(warnings.is_empty(), "{}: {warnings:?}", item.label);
    }
    assert!(j.job().open().is_empty());
    let (learnt, _) = bench.learn(j.job()).unwrap();
    assert!(!learnt.judged.is_empty());
    assert!(
        learnt.judged.iter().all(|v| v.verdict != Verdict::ReadAgain && v.verdict != Verdict::TooWarm),
        "{:?}",
        learnt.judged
    );
    // At the end nothing is left to do, so the outlook is what the last readings say: nearer to the
    // truth than the plan's prediction.
    let end = truth.moment(&bench.done(j.job(), &j.job().deeds), Level::Coarse, &[], true).unwrap();
    let outlook = bench.outlook(j.job(), &learnt.belief).unwrap();
    let off = |f: &dyn Fn(usize) -> f64| -> f64 {
        (0..outlook.len())
            .map(|r| {
                ((f(r) - j.job().header.controls[r].set_to - end.controls[r]) / outlook[r].before.scatter)
                    .powi(2)
            })
            .sum()
    };
    let (before, after) = (off(&|r| outlook[r].before.deviation), off(&|r| outlook[r].after.deviation));
    assert!(after < 0.5 * before, "squared miss {before:.4} before, {after:.4} after the readings");
    // The steps for a re-plan are the passes as welded.
    let steps = steps_done(j.job(), &p.frame, &p.passes);
    let laid: Vec<&str> = steps.iter().map(|s| p.passes.passes[s.passes[0].pass].label.as_str()).collect();
    assert_eq!(laid, j.job().progress().welded);
    let fresh = Belief::new(&vec!["x"; p.joints.joints.len()], &bench.prior(j.job()));
    assert_eq!(fresh.joint_factors().len(), p.joints.joints.len());
}
