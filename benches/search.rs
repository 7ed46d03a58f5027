//! How fast orders are made and changes are judged.
//!
//! `cargo bench --bench search`. "items" are changes judged by the coarse model (refused ones cost time
//! too but are not counted), or passes ordered.

#[path = "../tests/orders/frames.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod frames;
#[path = "../tests/orders/questions.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod questions;

use divan::Bencher;
use divan::counter::ItemsCount;
use holdtrue::sequence::objective::terms;
use holdtrue::sequence::window::contributions;
use holdtrue::sequence::{Budget, Question, Step, Task, search, start};
use std::sync::atomic::AtomicBool;

fn main() {
    divan::main();
}

/// A mirrored frame with about so many passes, eight on each joint.
fn frame(passes: usize) -> Question {
    questions::large(passes / 8)
}

fn rows(steps: &[Step]) -> Vec<Vec<usize>> {
    steps.iter().map(|s| s.passes.iter().map(|l| l.pass).collect()).collect()
}

#[divan::bench(args = [56, 120, 240, 1000, 2000], sample_count = 3, sample_size = 1)]
fn order_by_rules(bencher: Bencher, passes: usize) {
    let q = frame(passes);
    bencher.counter(ItemsCount::new(q.passes.len())).bench(|| start(&q).unwrap());
}

#[divan::bench(args = [56, 120, 240, 1000], sample_count = 1, sample_size = 1)]
fn judge_changes(bencher: Bencher, passes: usize) {
    let q = frame(passes);
    let c = frames::coarse(&q, 6, 1);
    let a = frames::aim(6);
    let starts = [start(&q).unwrap()];
    let budget = Budget::of(1, Budget::quick(passes).marks);
    let run = || {
        let found = search(&Task {
            question: &q,
            coarse: &c,
            aim: &a,
            starts: &starts,
            seed: 1,
            budget: budget.clone(),
            stop: &AtomicBool::new(false),
            progress: &|_, _| {},
            accept: &|o, y| terms(&q, &a, &c.start, &o.steps, y).total().into(),
            polish: None,
        });
        eprintln!("{passes} passes: {:.4} to {:.4}, {:?}", found.starts[0].1, found.full, found.tried);
        found
    };
    let judged = run().tried.judged;
    bencher.counter(ItemsCount::new(judged as usize)).bench(run);
}

#[divan::bench(args = [56, 120, 240], sample_count = 5, sample_size = 1)]
fn judge_a_whole_order(bencher: Bencher, passes: usize) {
    let q = frame(passes);
    let c = frames::coarse(&q, 6, 1);
    let order = rows(&start(&q).unwrap().steps);
    bencher.counter(ItemsCount::new(1usize)).bench(|| contributions(&c, &order));
}
