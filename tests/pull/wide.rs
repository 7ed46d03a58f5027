//! The sparse model for large frames against the dense one on frames that both can take.

use crate::support::plans::{self, example};
use holdtrue::distort::{Level, Model, Wide};

/// Steps of the order by rules, and the dense model's controls after it (coarse, evenly tacked, cold).
fn both(text: &str, per_block: usize) -> Vec<[f64; 3]> {
    let made = plans::planned(text);
    let steps: Vec<(usize, Vec<(usize, bool)>)> = made
        .order
        .steps
        .iter()
        .map(|s| (s.setup, s.passes.iter().map(|l| (l.pass, l.forward)).collect()))
        .collect();
    let model = Model::new(&made.frame, &made.joints, &made.seams, &made.passes).unwrap();
    let (dense, _) = model.controls_after(&model.events(&steps, &[]), Level::Coarse).unwrap();
    let wide = Wide::new(&made.frame, &made.joints, &made.seams, &made.passes).expect("it holds");
    let plain: Vec<(usize, Vec<usize>)> =
        steps.iter().map(|(s, l)| (*s, l.iter().map(|p| p.0).collect())).collect();
    let y = wide.adds(&plain, per_block).expect("it holds");
    let r = dense.len();
    (0..r)
        .map(|h| {
            let all: Vec<f64> = y.iter().skip(h).step_by(r).copied().collect();
            [all.iter().sum(), dense[h], all.iter().map(|y| y.abs()).sum()]
        })
        .collect()
}

/// The dense model takes every pass as the frame then is; the sparse one sees seams other than its own as they
/// were when the block began. Measured as a part of all that pulls at a control.
#[test]
fn what_passes_add_agrees_with_the_dense_model() {
    for (name, per_block, within) in [
        ("ladder", 1, 5e-4),
        ("ladder", 8, 1e-2),
        ("cargo-trike", 4, 2e-3),
        ("cargo-trike", 10, 1e-2),
        ("machine-base", 10, 3e-3),
    ] {
        let mut moves = false;
        for [sparse, dense, size] in both(&example(name), per_block) {
            let off = (sparse - dense).abs();
            assert!(off < within * size + 1e-6, "{name}: {sparse} instead of {dense}, of {size}");
            moves |= dense.abs() > 0.1;
        }
        assert!(moves, "{name}: nothing moves");
    }
}

/// A single rung that no tack holds is loose: said, not divided by.
#[test]
fn what_is_loose_has_no_sparse_model() {
    let frame = plans::read(&example("t-joint"));
    let mut parts = plans::parts(&frame);
    assert!(Wide::new(&frame, &parts.joints, &parts.seams, &parts.passes).is_some());
    // Without its seam the branch hangs in the air.
    parts.seams.seams.clear();
    parts.joints.meets.clear();
    parts.passes.passes.clear();
    assert!(Wide::new(&frame, &parts.joints, &parts.seams, &parts.passes).is_none());
}
