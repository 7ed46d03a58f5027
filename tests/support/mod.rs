//! What every chapter uses.

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
