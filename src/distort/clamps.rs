//! Clamps go on and come off, stops let go, and the three-two-one hold takes over what they leave.

use super::constants as c;
use super::port::{PortKind, Spring};
use super::staged::State;
use crate::fault::Fault;

impl State<'_> {
    pub(super) fn release(&mut self, clamp: usize) -> Result<(), Fault> {
        if !self.clamped.contains(&clamp) {
            return Ok(());
        }
        self.clamped.retain(|c| *c != clamp);
        self.rest_again(self.model.frame.clamps[clamp].tube);
        // The hold takes over first what this clamp held alone.
        let hold = self.model.find(PortKind::Hold);
        let now: Vec<Spring> = self.held.iter().filter(|h| h.port == hold).map(|h| h.spring).collect();
        let need = self.model.hold_springs(&self.clamped);
        self.hold(hold, &missing(&need, &now, self.model.reach()));
        let forces = self.let_go(self.model.clamp_port(clamp))?;
        self.released.push((clamp, forces));
        Ok(())
    }
    /// Stops that would have to pull let go.
    pub(super) fn leave_stops(&mut self, passes: &[usize]) -> Result<(), Fault> {
        for clamp in self.clamped.clone() {
            let stop = &self.model.frame.clamps[clamp];
            if stop.one_way && self.pull_of(self.model.clamp_port(clamp)) > c::STOP_LETS_GO_N {
                self.release(clamp)?;
                if let Some(last) = self.released.last_mut() {
                    // Nobody opens it and nothing springs.
                    last.1.fill(0.0);
                }
                let after: Vec<&str> =
                    passes.iter().map(|p| self.model.passes.passes[*p].label.as_str()).collect();
                self.remarks.push(format!(
                    "the frame leaves the stop `{}` with {}: it can only push",
                    stop.name,
                    after.join(", ")
                ));
            }
        }
        Ok(())
    }
    /// Force with which the springs of a port pull against their direction, N, all added up.
    fn pull_of(&self, port: usize) -> f64 {
        (self.held.iter().filter(|h| h.port == port))
            .map(|h| {
                let len = self.model.parts.ports[port].len;
                let gap = (0..len).map(|i| h.spring.0[i] * self.total(&self.field.gap((port, i))));
                h.spring.1 * (gap.sum::<f64>() - self.total(&h.rest))
            })
            .sum()
    }
    pub(super) fn clamp(&mut self, clamp: usize, to_nominal: bool) -> Result<(), Fault> {
        if self.clamped.contains(&clamp) {
            return Ok(());
        }
        let port = self.model.clamp_port(clamp);
        let springs = self.model.clamp_springs(clamp, self.options.clamp);
        self.hold(port, &springs);
        if to_nominal {
            self.at_port(port, |block, state| {
                for h in state.held.iter_mut().filter(|h| h.port == port) {
                    let force: Vec<f64> = h.rest.iter().map(|e| h.spring.1 * e).collect();
                    block.push(&h.spring.0, &force);
                    h.rest.fill(0.0);
                }
            });
        }
        self.clamped.push(clamp);
        self.clamped.sort_unstable();
        let hold = self.model.find(PortKind::Hold);
        let need = self.model.hold_springs(&self.clamped);
        let now = self.held.iter().filter(|h| h.port == hold).count();
        if need.len() < now {
            self.rest_again(self.model.datum);
            // Determinate and so without force: exchanged for what the clamps leave.
            if !need.is_empty() {
                self.hold(hold, &need);
                let fresh = self.held.split_off(self.held.len() - need.len());
                self.let_go(hold)?;
                self.held.extend(fresh);
            } else {
                self.let_go(hold)?;
            }
        }
        Ok(())
    }

    /// A clamp's spring gets another unstressed gap, and pulls the frame along.
    pub(super) fn shift(&mut self, clamp: usize, direction: usize, by_mm: f64) {
        if !self.clamped.contains(&clamp) {
            return;
        }
        let port = self.model.clamp_port(clamp);
        self.at_port(port, |block, state| {
            if let Some(h) = state.held.iter_mut().filter(|h| h.port == port).nth(direction) {
                let mut force = vec![0.0; h.rest.len()];
                force[0] = -h.spring.1 * by_mm;
                block.push(&h.spring.0, &force);
                h.rest[0] += by_mm;
            }
        });
    }
}

/// Hold springs that are needed and not there yet: the part of each needed direction that no
/// present one covers, as unit vectors with rotations counted at `scale` mm.
fn missing(need: &[Spring], now: &[Spring], scale: f64) -> Vec<Spring> {
    let size = |v: &[f64; 6]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
    let unit = |b: &[f64; 6]| {
        let v: [f64; 6] = std::array::from_fn(|i| if i < 3 { b[i] } else { b[i] / scale });
        let s = size(&v);
        v.map(|x| x / s)
    };
    let mut basis: Vec<[f64; 6]> = Vec::new();
    let mut take = |b: &[f64; 6]| {
        let mut v = unit(b);
        for _ in 0..2 {
            for q in &basis {
                let d: f64 = v.iter().zip(q).map(|(a, b)| a * b).sum();
                for (a, b) in v.iter_mut().zip(q) {
                    *a -= d * b;
                }
            }
        }
        let left = size(&v);
        (left > 1e-6).then(|| {
            let v = v.map(|x| x / left);
            basis.push(v);
            std::array::from_fn(|i| if i < 3 { v[i] } else { v[i] * scale })
        })
    };
    for (b, _) in now {
        take(b);
    }
    need.iter().filter_map(|(b, k)| take(b).map(|v| (v, *k))).collect()
}
