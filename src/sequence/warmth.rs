//! How the scheduler asks about heat without knowing any physics.

/// A clock that runs along with an order under construction. `heat` provides a real one; cloning
/// must be cheap, because the scheduler follows several orders at once.
pub trait Warmth: Clone + Send + Sync {
    /// How long this pass would have to wait for its joint if it were started next, s (0 if not).
    fn wait_s(&self, pass: usize) -> f64;
    /// Lay the passes of one step at the same time, in a setup, after whatever wait they need.
    fn lay(&mut self, passes: &[usize], setup: usize);
}

/// No heat: never a wait.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoHeat;

impl Warmth for NoHeat {
    fn wait_s(&self, _pass: usize) -> f64 {
        0.0
    }
    fn lay(&mut self, _passes: &[usize], _setup: usize) {}
}
