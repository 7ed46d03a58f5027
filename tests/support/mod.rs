//! What every chapter uses.

pub mod plans;

use proptest::test_runner::{Config as ProptestConfig, RngSeed};

/// The one comparison of floating-point numbers: two-sided, prints both.
#[track_caller]
pub fn near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "got {got}, want {want} within {within} (off by {:e})", got - want);
}

/// As [`near`], with a tolerance relative to `want`.
#[track_caller]
pub fn near_rel(got: f64, want: f64, within: f64) {
    near(got, want, within * want.abs());
}

fn number(name: &str) -> Option<u32> {
    std::env::var(name).ok().and_then(|v| v.parse().ok())
}

/// How many times as many random cases as usual: `HOLDTRUE_CASES`.
pub fn times() -> usize {
    number("HOLDTRUE_CASES").unwrap_or(1) as usize
}

/// So many random cases, the same at every run: a fault found by chance belongs in a test of its own, not in
/// somebody else's change. `HOLDTRUE_CASES=20` makes twenty times as many, `HOLDTRUE_SEED=7` takes others.
pub fn cases(n: u32) -> ProptestConfig {
    ProptestConfig {
        cases: n * times() as u32,
        rng_seed: RngSeed::Fixed(number("HOLDTRUE_SEED").unwrap_or(1).into()),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}
