//! How the frame lies after welding, for drawings.

use super::staged::State;
use super::structure::{Row, dense_solve, tidy};
use crate::numbers::dense::Dense;
use glam::DVec3;

/// Displacements of one tube, mm.
pub(super) struct Lie {
    /// Of its axis points.
    pub axis: Vec<DVec3>,
    /// Along it: arc length, displacement.
    pub course: Vec<(f64, DVec3)>,
}

impl State<'_> {
    /// How every tube lies, from the forces in all springs.
    ///
    /// Each tube bends under what pulls at it; how it lies is then found from the gaps, which are
    /// known.
    pub fn shape(&self) -> Vec<Lie> {
        let m = self.model;
        let st = &m.structure;
        let mut force = vec![0.0; m.size.ports];
        let springs = self
            .laid
            .iter()
            .flat_map(|l| {
                let rest = |i: usize| self.total(&l.rest[i * self.cols..(i + 1) * self.cols]);
                (0..3).map(move |i| (l.fibre.port, l.fibre.springs[i], rest(i)))
            })
            .chain(self.held.iter().map(|h| (h.port, h.spring, self.total(&h.rest))));
        let mut used = vec![false; m.parts.ports.len()];
        for (port, (b, k), rest) in springs {
            let len = m.parts.ports[port].len;
            let gap: f64 = (0..len).map(|i| b[i] * self.total(&self.field.gap((port, i)))).sum();
            for i in 0..len {
                force[m.parts.ports[port].first + i] += k * (gap - rest) * b[i];
            }
            used[port] = true;
        }
        let mut load = Row::new();
        for (f, row) in force.iter().zip(&m.parts.rows) {
            load.extend(row.iter().map(|(d, v)| (*d, -f * v)));
        }
        for (w, row) in self.walls.iter().zip(&m.parts.loads) {
            load.extend(row.iter().map(|(d, v)| (*d, w * v)));
        }
        let u = st.solve(&[tidy(load)]);
        let n = 6 * m.frame.tubes.len();
        let mut normal = Dense::zeros(n, n);
        let mut right = Dense::zeros(n, 1);
        for (p, port) in m.parts.ports.iter().enumerate().filter(|(p, _)| used[*p]) {
            for i in 0..port.len {
                let mut gap =
                    self.total(&self.field.gap((p, i))) - st.read(&m.parts.rows[port.first + i], &u, 0);
                if !port.flex.is_empty() {
                    gap += self.options.flex
                        * (0..6).map(|j| port.flex[6 * i + j] * force[port.first + j]).sum::<f64>();
                }
                // Rotations count as what they do at 100 mm.
                let weight = if port.len == 6 && i >= 3 { 1e4 } else { 1.0 };
                let h = &m.rigid[port.first + i];
                for (t, a) in h {
                    for (q, a) in a.iter().enumerate() {
                        *right.at_mut(6 * t + q, 0) += weight * a * gap;
                        for (v, b) in h {
                            for (s, b) in b.iter().enumerate() {
                                *normal.at_mut(6 * t + q, 6 * v + s) += weight * a * b;
                            }
                        }
                    }
                }
            }
        }
        let most = (0..n).map(|i| normal.at(i, i)).fold(0.0, f64::max);
        for i in 0..n {
            *normal.at_mut(i, i) += 1e-14 * most;
        }
        let rigid = dense_solve(&normal, &right).unwrap_or_else(|| Dense::zeros(n, 1));
        let free = self.free_ends();
        (0..m.frame.tubes.len())
            .map(|t| {
                let held = st.nodes[st.held[t]].at;
                let shift = DVec3::from_array(std::array::from_fn(|q| rigid.at(6 * t + q, 0)));
                let turn = DVec3::from_array(std::array::from_fn(|q| rigid.at(6 * t + 3 + q, 0)));
                self.lie(t, &u, &free, &|p| shift + turn.cross(p - held))
            })
            .collect()
    }

    /// What shrinking walls have done to the ends of each beam, if nothing held them: what lies between
    /// a node and the elastic part of its beam.
    fn free_ends(&self) -> Vec<[[DVec3; 2]; 2]> {
        let st = &self.model.structure;
        let mut out = vec![[[DVec3::ZERO; 2]; 2]; st.beams.len()];
        for (load, node, shift, turn) in self.model.rings.iter().flat_map(|r| r.jumps()) {
            let amount = self.walls[load];
            if amount != 0.0 {
                for (beam, end, part) in st.sides(node) {
                    out[beam][end][0] += part * amount * shift;
                    out[beam][end][1] += part * amount * turn;
                }
            }
        }
        out
    }

    /// One tube: its axis points, and its course at every node and at the quarter points between them,
    /// where a beam bends as its ends demand (cubic).
    fn lie(
        &self,
        t: usize,
        u: &faer::Mat<f64>,
        free: &[[[DVec3; 2]; 2]],
        as_a_whole: &dyn Fn(DVec3) -> DVec3,
    ) -> Lie {
        let st = &self.model.structure;
        let tube = &self.model.frame.tubes[t];
        let end = |node: usize| {
            let d = st.displacement(node, u, 0);
            [DVec3::new(d[0], d[1], d[2]), DVec3::new(d[3], d[4], d[5])]
        };
        let at_axis = |p: DVec3, s: f64| {
            let tie = st.tie(t, s, p);
            let [d, r] = end(tie.node);
            as_a_whole(p) + d + r.cross(tie.arm)
        };
        let axis: Vec<DVec3> = tube.axis.iter().zip(&tube.s).map(|(p, s)| at_axis(*p, *s)).collect();
        let mut course: Vec<(f64, DVec3)> = tube.s.iter().copied().zip(axis.iter().copied()).collect();
        for (i, beam) in st.beams.iter().enumerate().filter(|(_, b)| b.tube == t) {
            let [a, b] = beam.nodes;
            let (p, q) = (&st.nodes[a], &st.nodes[b]);
            let [[d0, r0], [d1, r1]] = [(a, 0), (b, 1)].map(|(node, e)| {
                let ([d, r], [fd, fr]) = (end(node), free[i][e]);
                [d - fd, r - fr]
            });
            let x = beam.axes[0];
            let across = |v: DVec3| v - x * v.dot(x);
            for xi in [0.25, 0.5, 0.75] {
                let h = [
                    1.0 - 3.0 * xi * xi + 2.0 * xi * xi * xi,
                    xi * (1.0 - xi) * (1.0 - xi),
                    xi * xi * (3.0 - 2.0 * xi),
                    xi * xi * (xi - 1.0),
                ];
                let bent = across(d0) * h[0]
                    + r0.cross(x) * (beam.length_mm * h[1])
                    + across(d1) * h[2]
                    + r1.cross(x) * (beam.length_mm * h[3]);
                let along = x * (d0.dot(x) * (1.0 - xi) + d1.dot(x) * xi);
                let s = p.s_mm + xi * (q.s_mm - p.s_mm);
                course.push((s, as_a_whole(p.at.lerp(q.at, xi)) + bent + along));
            }
            for n in [p, q] {
                course.push((n.s_mm, at_axis(n.at, n.s_mm)));
            }
        }
        course.sort_by(|a, b| a.0.total_cmp(&b.0));
        course.dedup_by(|b, a| b.0 - a.0 < 0.01);
        Lie { axis, course }
    }
}
