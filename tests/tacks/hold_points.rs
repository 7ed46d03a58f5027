//! Where to stop and measure.

use super::{example, parts, planned, read};
use crate::support::near;
use holdtrue::plan::{Act, hold_points, reading_error};
use holdtrue::sequence::{Laid, Order, Step};

/// Equal changes by every pass, one factor common to all. Then by hand, with n passes of c, factor s,
/// reading error e: learnt = (s² k n c²)² / (s² k² c² + e²), left = (n − k) |c|; the best k is the
/// largest product. A small reading error stops early, a large one late.
#[test]
fn the_best_place_by_hand() {
    let mut frame = read(&example("ladder"));
    frame.controls.truncate(1);
    frame.pull.scatter = [0.3, 0.0, 0.0];
    let p = parts(&frame);
    let n = p.passes.passes.len();
    assert!((12..48).contains(&n), "{n} passes");
    let steps =
        (0..n).map(|pass| Step { setup: 0, passes: vec![Laid { pass, welder: 0, forward: true }] }).collect();
    let order = Order { steps, relaxed: vec![], proved: false };
    let e = reading_error(frame.controls[0].kind.unit());
    for c in [0.02, 0.1, 1.0, 10.0] {
        let path: Vec<Vec<f64>> = (1..=n).map(|k| vec![0.25 + c * k as f64]).collect();
        let got = hold_points(&frame, &p.passes, &order, (0, false), &[0.25], &path, |_| true);
        let worth = |k: usize| {
            let (k, n) = (k as f64, n as f64);
            let s = 0.09;
            (n - k) * c * (s * k * n * c * c).powi(2) / (s * k * k * c * c + e * e)
        };
        // At least three steps before the stop and three after.
        let best = (3..n - 2).max_by(|a, b| worth(*a).total_cmp(&worth(*b))).unwrap();
        assert_eq!(got.len(), 1);
        assert_eq!(got[0].step + 1, best, "c = {c}");
        assert!(got[0].why.contains(&frame.controls[0].name));
    }
}

/// A re-plan comes of a reading just made: its first stop is a sixth of all passes away.
#[test]
fn a_replan_does_not_ask_at_once_for_the_next_reading() {
    let mut frame = read(&example("square"));
    frame.controls.truncate(1);
    frame.pull.scatter = [0.3, 0.0, 0.0];
    let p = parts(&frame);
    let n = p.passes.passes.len();
    assert_eq!(n, 24);
    let steps =
        (0..n).map(|pass| Step { setup: 0, passes: vec![Laid { pass, welder: 0, forward: true }] }).collect();
    let order = Order { steps, relaxed: vec![], proved: false };
    // So large a pull that the best is to read as soon as one may.
    let path: Vec<Vec<f64>> = (1..=n).map(|k| vec![10.0 * k as f64]).collect();
    let stops = |done: usize, again: bool, path: &[Vec<f64>]| -> Vec<usize> {
        let tacked = if done == 0 { vec![0.0] } else { vec![10.0 * done as f64] };
        let holds = hold_points(&frame, &p.passes, &order, (done, again), &tacked, path, |_| true);
        holds.iter().map(|h| h.step + 1 - done).collect()
    };
    assert_eq!(stops(2, false, &path), [3]);
    assert_eq!(stops(2, true, &path), [4]);
    // Read as tacked, nothing welded yet.
    assert_eq!(stops(0, true, &path), [3]);
    // Of fewer than eight passes none is worth a stop.
    assert_eq!(stops(14, true, &path), [4]);
    assert_eq!(stops(16, true, &path), [4]);
    assert_eq!(stops(17, true, &path), [0; 0]);
    // Without a pull model it is half way, if that is far enough.
    assert_eq!(stops(16, true, &[]), [4]);
}

/// Through the clamps a reading says nothing of what they hold: a frame in stiff clamps is opened for
/// it, closed again, and expected free; without clamps nothing is opened.
#[test]
fn clamped_or_free() {
    let free = planned(&example("ladder"));
    let holds = |p: &holdtrue::plan::WeldPlan| {
        p.lines
            .iter()
            .filter_map(|l| match &l.act {
                Act::Hold { clamped, expect, controls, why } => {
                    Some((*clamped, expect.clone(), controls.clone(), why.clone()))
                }
                _ => None,
            })
            .collect::<Vec<_>>()
    };
    if free.frame.clamps.is_empty() {
        assert!(holds(&free).iter().all(|h| !h.0));
    }
    let clamped = planned(&example("machine-base"));
    let mut on = std::collections::BTreeSet::new();
    for l in &clamped.lines {
        match &l.act {
            Act::Clamp { clamp } => {
                on.insert(*clamp);
            }
            Act::Release { clamp, .. } => {
                on.remove(clamp);
            }
            Act::Hold { clamped, expect, controls, .. } => {
                assert_eq!(*clamped, !on.is_empty(), "line {}", l.number);
                assert_eq!(expect.len(), controls.len());
                assert!(!controls.is_empty());
            }
            _ => {}
        }
    }
    let last = holds(&clamped).pop().unwrap();
    assert!(!last.0, "the result is read free");
    for (e, (r, _)) in last.1.iter().zip(clamped.pull.controls.iter().zip(0..)) {
        near(e.0, r.set_to + r.pull, 1e-9);
    }
}
