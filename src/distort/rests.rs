//! The weak springs on which a tube rests until weld metal holds it.

use super::constants as c;
use super::field::Field;
use super::port::{PortKind, Spring};
use super::staged::State;

impl State<'_> {
    /// Releases the rest springs of every welded tube that is now held in six ways. One that only clamps
    /// hold keeps them: at a turn they are all that is left of it.
    pub(super) fn check_rest(&mut self) {
        let body = self.bodies();
        let welded = |t: usize| (0..body.len()).any(|o| o != t && body[o] == body[t]);
        for tube in self.resting.clone().into_iter().filter(|&t| body.len() == 1 || welded(t)) {
            let port = self.model.find(PortKind::Rest(tube));
            let springs = self.model.rest_springs(tube);
            let give = |i: usize| self.field.between((port, i), (port, i));
            let share: f64 = springs.iter().enumerate().map(|(i, s)| s.1 * give(i)).sum();
            if share < c::HELD && self.let_go(port).is_ok() {
                self.resting.retain(|t| *t != tube);
            }
        }
    }
    /// Which tubes weld metal has joined so far: tubes of one part have one number.
    fn bodies(&self) -> Vec<usize> {
        let mut of: Vec<usize> = (0..self.model.frame.tubes.len()).collect();
        for (meet, laid) in self.model.joints.meets.iter().zip(&self.of_seam) {
            for (t, ..) in meet.carriers.iter().filter(|_| !laid.is_empty()) {
                let (a, b) = (of[meet.branch.0], of[*t]);
                of.iter_mut().filter(|o| **o == b).for_each(|o| *o = a);
            }
        }
        of
    }
    /// While a frame is in several parts (built in stages), the part of this tube rests where it is,
    /// should clamps or hold be taken from it.
    pub(super) fn rest_again(&mut self, tube: usize) {
        if self.of_seam.iter().all(|s| !s.is_empty()) {
            return;
        }
        let body = self.bodies();
        if !self.resting.iter().any(|t| body[*t] == body[tube]) {
            let port = self.model.find(PortKind::Rest(tube));
            self.hold(port, &self.model.rest_springs(tube));
            self.resting.push(tube);
        }
    }
    /// Drops the coordinates of rest springs once none is left, and works the compliance out afresh
    /// from the springs in place: coming down from rest springs of 0.001 N/mm costs digits.
    pub(super) fn compact(&mut self) {
        let ports = &self.model.parts.ports;
        let rests =
            (0..ports.len()).any(|p| self.field.keeps(p) && matches!(ports[p].kind, PortKind::Rest(_)));
        if !self.resting.is_empty() || !rests {
            return;
        }
        let laid = self.laid.iter().flat_map(|l| l.fibre.springs.iter().map(|s| (l.fibre.port, *s)));
        let springs: Vec<(usize, Spring)> =
            laid.chain(self.held.iter().map(|h| (h.port, h.spring))).collect();
        let Some(start) = self.model.joined(&springs, &self.options) else { return };
        let mut field = Field::new(self.model, &start, self.cols, self.foreseen.as_ref());
        field.take_over(self.model, &self.field);
        field.retire(self.model, self.step);
        self.field = field;
    }
}
