//! The heat room's clock in the form the scheduler asks for.

use crate::heat::{Clock, HeatStep, Kernels};
use crate::sequence::Warmth;

/// A clock that also remembers how the frame lies, so that turns take their time.
#[derive(Clone)]
pub struct Warm<'k> {
    clock: Clock<'k>,
    setup: usize,
}

impl<'k> Warm<'k> {
    /// A cold frame in its first setup.
    pub fn new(kernels: &'k Kernels) -> Self {
        Warm { clock: Clock::new(kernels), setup: 0 }
    }

    /// A frame that is warm already and lies in this setup.
    pub fn on(clock: Clock<'k>, setup: usize) -> Self {
        Warm { clock, setup }
    }
}

impl Warmth for Warm<'_> {
    fn wait_s(&self, pass: usize) -> f64 {
        self.clock.wait_for(pass)
    }
    fn lay(&mut self, passes: &[usize], setup: usize) {
        self.clock.lay(&HeatStep { passes: passes.to_vec(), turn: setup != self.setup });
        self.setup = setup;
    }
}
