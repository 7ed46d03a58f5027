//! The build-to table: how to place the tubes in the fixture, and how long to cut them, so that the
//! controls start where the set-to values want them.

use super::controls;
use super::model::Model;
use super::ring::PortKind;
use super::structure::{Row, along};
use glam::DVec3;

/// Where the parts go instead of their nominal places.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildTo {
    /// How far each tube's start and end move, mm: `[tube][start, end]`.
    pub ends_mm: Vec<[DVec3; 2]>,
    /// How much longer each tube is cut, mm.
    pub longer_mm: Vec<f64>,
    /// What cannot be reached by placing straight tubes, for each control in its unit. (A bow of one
    /// tube, say: that needs a counter-bend.)
    pub left: Vec<f64>,
}

impl Model {
    /// The smallest change of the tubes' places and lengths that gives every control its set-to value.
    ///
    /// Tubes stay straight and rigid and keep touching at their joints (they may turn there a
    /// little); `may_cut` says which may still be cut to another length. Smallest: least sum of
    /// squares of the ends' movements, a millimetre of length counting as one of movement.
    pub fn build_to(&self, set_to: &[f64], may_cut: &[bool]) -> BuildTo {
        let frame = &self.frame;
        let n = 7 * frame.tubes.len();
        let mut x = vec![0.0; n];
        let mut basis: Vec<Vec<f64>> = Vec::new();
        // Joints first: what touches goes on touching.
        for port in &self.parts.ports {
            let PortKind::Seam(_) = port.kind else { continue };
            for row in &self.parts.rows[port.first..port.first + 3] {
                self.meet_row(&self.unknowns(row, may_cut), 0.0, &mut x, &mut basis);
            }
        }
        let left = frame
            .controls
            .iter()
            .zip(set_to)
            .map(|(k, want)| {
                let row = self.unknowns(&controls::functional(&k.kind, frame, &self.structure), may_cut);
                self.meet_row(&row, *want, &mut x, &mut basis);
                want - row.iter().zip(&x).map(|(a, b)| a * b).sum::<f64>()
            })
            .map(|left| if left.abs() < 1e-9 { 0.0 } else { left })
            .collect();
        let half = |t: usize| self.half(t);
        let ends_mm = (0..frame.tubes.len())
            .map(|t| {
                let tube = &frame.tubes[t];
                let held = self.structure.nodes[self.structure.held[t]].at;
                let q = &x[7 * t..7 * t + 7];
                let turn = DVec3::new(q[3], q[4], q[5]) / half(t);
                [0, tube.axis.len() - 1].map(|i| {
                    let own = self.stretch(t, tube.s[i]) * q[6];
                    DVec3::new(q[0], q[1], q[2]) + turn.cross(tube.axis[i] - held) + own
                })
            })
            .collect();
        let longer_mm = (0..frame.tubes.len()).map(|t| x[7 * t + 6]).collect();
        BuildTo { ends_mm, longer_mm, left }
    }

    fn half(&self, tube: usize) -> f64 {
        0.5 * self.frame.tubes[tube].s[self.frame.tubes[tube].s.len() - 1]
    }
    /// Movement of a place on a tube when the whole tube is a millimetre longer.
    fn stretch(&self, tube: usize, s_mm: f64) -> DVec3 {
        let t = &self.frame.tubes[tube];
        let (_, chord) = along(&t.axis, &t.s, s_mm);
        let dir = (t.axis[chord + 1] - t.axis[chord]).normalize();
        let st = &self.structure;
        let steel = &st.nodes[st.tube_nodes[tube].clone()];
        let length = steel[steel.len() - 1].s_mm - steel[0].s_mm;
        dir * (s_mm - st.nodes[st.held[tube]].s_mm) / length
    }
    /// A functional in the unknowns: for each tube three movements, three turns (times half its
    /// length), its length.
    fn unknowns(&self, row: &Row, may_cut: &[bool]) -> Vec<f64> {
        let mut out = vec![0.0; 7 * self.frame.tubes.len()];
        for (t, h) in self.structure.rigid(row) {
            for (q, v) in h.iter().enumerate() {
                out[7 * t + q] += if q < 3 { *v } else { v / self.half(t) };
            }
        }
        for (dof, v) in row.iter().filter(|(dof, _)| dof % 6 < 3) {
            let node = &self.structure.nodes[dof / 6];
            if may_cut.get(node.tube).copied().unwrap_or(false) {
                out[7 * node.tube + 6] += v * self.stretch(node.tube, node.s_mm)[dof % 6];
            }
        }
        out
    }
    /// Moves `x` the least so that `row · x = want`, leaving all earlier rows as they are; nothing if
    /// the row has nothing of its own.
    fn meet_row(&self, row: &[f64], want: f64, x: &mut [f64], basis: &mut Vec<Vec<f64>>) {
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(p, q)| p * q).sum::<f64>();
        let size = dot(row, row).sqrt();
        let mut q = row.to_vec();
        for _ in 0..2 {
            for b in basis.iter() {
                let d = dot(&q, b);
                for (q, b) in q.iter_mut().zip(b) {
                    *q -= d * b;
                }
            }
        }
        let own = dot(&q, &q).sqrt();
        if own <= 1e-6 * size {
            return;
        }
        q.iter_mut().for_each(|v| *v /= own);
        let step = (want - dot(row, x)) / dot(row, &q);
        for (x, q) in x.iter_mut().zip(&q) {
            *x += step * q;
        }
        basis.push(q);
    }
}
