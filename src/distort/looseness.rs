//! What can still move while a frame is being tacked: one tack swings, two hinge, three hold.
//!
//! Tubes count as rigid here, clamps and tacks as rigid too: a clamp keeps its place in the directions
//! it holds, a tack keeps one point of the branch on the carrier, and turns freely. What is left free
//! is found by ranks, for the whole frame at once, so that loops and clamps count as they should.

use super::model::Model;
use super::port::PortKind;
use super::{Level, Tack};
use crate::numbers::dense::{Dense, dot, symmetric_eigen};
use glam::DVec3;

/// How a tube can still move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Freedom {
    /// Ways in which it can move, 0 (held) to 6 (loose).
    pub ways: usize,
    /// With one way left: a point on the line it hinges about and the line's direction. `None` if it
    /// slides instead, or has other than one way left.
    pub hinge: Option<(DVec3, DVec3)>,
}

/// Part of a unit motion below which a tube counts as held in it.
const HELD: f64 = 1e-6;
/// A row that adds less than this of its own says nothing new.
const NEW: f64 = 1e-7;

impl Model {
    /// How each tube can still move, in the clamps of the first setup: before the first tack, then
    /// after each: `[tacks so far][tube]`.
    pub fn freedoms(&self, tacks: &[Tack]) -> Vec<Vec<Freedom>> {
        let n = 6 * self.frame.tubes.len();
        let scale = self.reach();
        let mut basis: Vec<Vec<f64>> = Vec::new();
        let clamps = self.clamps_of(0);
        for &clamp in &clamps {
            for (b, _) in self.clamp_springs(clamp, 1.0) {
                self.keep(self.clamp_port(clamp), &b, n, scale, &mut basis);
            }
        }
        let hold = self.find(PortKind::Hold);
        for (b, _) in self.hold_springs(&clamps) {
            self.keep(hold, &b, n, scale, &mut basis);
        }
        let mut out = vec![self.free(&basis, scale)];
        for tack in tacks {
            let f = self.tack_fibre(tack, Level::Coarse);
            for (b, _) in &f.springs {
                self.keep(f.port, b, n, scale, &mut basis);
            }
            out.push(self.free(&basis, scale));
        }
        out
    }

    /// Take up a direction in which something is kept in place.
    fn keep(&self, port: usize, b: &[f64; 6], n: usize, scale: f64, basis: &mut Vec<Vec<f64>>) {
        if basis.len() == n {
            return; // nothing can move any more
        }
        let p = &self.parts.ports[port];
        let mut row = vec![0.0; n];
        for i in 0..p.len {
            for (t, r) in &self.rigid[p.first + i] {
                for (q, r) in r.iter().enumerate() {
                    row[6 * t + q] += b[i] * if q < 3 { *r } else { r / scale };
                }
            }
        }
        let size = dot(&row, &row).sqrt();
        if size == 0.0 {
            return;
        }
        row.iter_mut().for_each(|v| *v /= size);
        for _ in 0..2 {
            for q in basis.iter() {
                let d = dot(&row, q);
                row.iter_mut().zip(q).for_each(|(v, q)| *v -= d * q);
            }
        }
        let own = dot(&row, &row).sqrt();
        if own > NEW {
            row.iter_mut().for_each(|v| *v /= own);
            basis.push(row);
        }
    }

    /// What the directions that are kept leave free, tube by tube.
    fn free(&self, basis: &[Vec<f64>], scale: f64) -> Vec<Freedom> {
        (0..self.frame.tubes.len())
            .map(|t| {
                let mut left = Dense::unit(6);
                for q in basis {
                    let own = &q[6 * t..6 * t + 6];
                    for i in 0..6 {
                        for j in 0..6 {
                            *left.at_mut(i, j) -= own[i] * own[j];
                        }
                    }
                }
                let (values, vectors) = symmetric_eigen(&left);
                let free: Vec<usize> = (0..6).filter(|&i| values[i] > HELD).collect();
                let hinge = match free[..] {
                    [i] => {
                        let v = |q: usize| vectors.at(q, i);
                        let shift = DVec3::new(v(0), v(1), v(2));
                        let turn = DVec3::new(v(3), v(4), v(5)) / scale;
                        let about = self.structure.nodes[self.structure.held[t]].at;
                        let square = turn.length_squared();
                        // The point of the axis nearest to the reference; a slide has no axis.
                        (square * scale * scale > 1e-6)
                            .then(|| (about + turn.cross(shift) / square, turn.normalize()))
                    }
                    _ => None,
                };
                Freedom { ways: free.len(), hinge }
            })
            .collect()
    }
}
