//! One full order by elimination against solving the frame anew whenever something sets.
//!
//! `cargo bench --bench pull` prints, for the example frames, in one run on one core:
//!
//! - *solve*: assembling, factorising (sparse, the pattern analysed once) and solving at every pass
//!   (coarse) or every fibre and melting (fine), from beams and springs alone: the second solver of
//!   the tests (`tests/pull/resolve.rs`), without its refinement;
//! - *order*: the same order by the elimination, from the tacked state to the release of all clamps;
//!   *search*: a coarse order as the search judges it;
//! - *change*: one change inside a window of the order as the search judges it, rules and all.

#[path = "../tests/pull/resolve.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod resolve;

use holdtrue::distort::{Event, Level, Model};
use holdtrue::plan::{self, Judge};
use holdtrue::sequence::objective::terms;
use holdtrue::sequence::window::contributions;
use holdtrue::sequence::{Budget, Task, search, start};
use resolve::Resolve;
use std::hint::black_box;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

fn main() {
    println!(
        "{:<14}{:>6}{:>7} | {:>9}{:>9}{:>9}{:>8}{:>8} | {:>9}{:>9}{:>7} | {:>9}{:>8}",
        "frame",
        "passes",
        "dofs",
        "solve ms",
        "order ms",
        "search ms",
        "ratio",
        "ratio",
        "solve ms",
        "order ms",
        "ratio",
        "change us",
        "ratio"
    );
    for name in ["square", "ladder", "cargo-trike", "trailer", "machine-base"] {
        let path = format!("{}/examples/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).expect("the example is there");
        let frame = match holdtrue::frame::read(&text) {
            Ok(f) => f.value,
            Err(e) => panic!("{name}: {e:?}"),
        };
        let parts = plan::parts(&frame).expect("the example is sound");
        let model =
            Model::new(&frame, &parts.joints, &parts.seams, &parts.passes).expect("the example holds");
        let n = parts.passes.passes.len();
        // Skip round the frame: every seventh pass.
        let order: Vec<usize> = (0..7).flat_map(|k| (k..n).step_by(7)).collect();
        let events: Vec<Event> = order.iter().map(|p| Event::Pass { pass: *p, forward: true }).collect();
        let again = |level| {
            let mut other = Resolve::new(&model, level, false);
            let start = Instant::now();
            events.iter().for_each(|e| other.apply(e));
            other.finish();
            black_box(other.controls());
            1e3 * start.elapsed().as_secs_f64()
        };
        let begun = |level| model.begin(&[], level).expect("nothing comes loose");
        let by_elimination = |level| {
            let begun = begun(level);
            time(|| begun.controls_after(&events).expect("nothing comes loose"))
        };
        let coarse = model.coarse(&[]).expect("nothing comes loose");
        let rows: Vec<Vec<usize>> = order.iter().map(|p| vec![*p]).collect();
        let (solve, eliminate, judge) =
            (again(Level::Coarse), by_elimination(Level::Coarse), time(|| contributions(&coarse, &rows)));
        let (solve_fine, fine) = (again(Level::Fine), by_elimination(Level::Fine));
        let change = change(&frame, &parts, &coarse);
        println!(
            "{name:<14}{n:>6}{:>7} | {solve:>9.1}{eliminate:>9.2}{judge:>9.3}{:>8.0}{:>8.0} | {solve_fine:>9.1}{fine:>9.2}\
             {:>7.0} | {:>9.2}{:>8.0}",
            6 * model.plain().at.len(),
            solve / eliminate,
            solve / judge,
            solve_fine / fine,
            1e3 * change,
            solve / change
        );
    }
}

/// Time of one run, ms: the mean over at least three runs and half a second.
fn time<T>(mut run: impl FnMut() -> T) -> f64 {
    black_box(run());
    let start = Instant::now();
    let mut runs = 0;
    while runs < 3 || start.elapsed().as_secs_f64() < 0.5 {
        black_box(run());
        runs += 1;
    }
    1e3 * start.elapsed().as_secs_f64() / f64::from(runs)
}

/// Time of one change judged by the search, ms, on one chain.
fn change(frame: &holdtrue::frame::Frame, parts: &plan::Parts, coarse: &holdtrue::distort::Coarse) -> f64 {
    let q = plan::question(frame, &parts.joints, &parts.seams, &parts.passes).expect("no order is wished");
    let judge = Judge::new(frame, parts, None).expect("the example holds");
    let aim = judge.aim(&vec![0.0; frame.controls.len()]);
    let starts = [start(&q).expect("the rules do not clash")];
    let began = Instant::now();
    let found = search(&Task {
        question: &q,
        coarse,
        aim: &aim,
        starts: &starts,
        seed: 1,
        budget: Budget::of(1, Budget::quick(q.passes.len()).marks),
        stop: &AtomicBool::new(false),
        progress: &|_, _| {},
        accept: &|o, y| terms(&q, &aim, &coarse.start, &o.steps, y).total().into(),
        polish: None,
    });
    1e3 * began.elapsed().as_secs_f64() / found.tried.judged.max(1) as f64
}
