//! The steel of the frame as beams: nodes, functionals of their motion, loads of shrinking walls.
//!
//! Every tube stands alone here, held stiffly at one node near its middle; what joins the tubes, and
//! what holds them, is added by the staged model as springs. So the matrix factorised here is well
//! conditioned and is factorised once.

use super::beam::{Beam, SectionValues, section_values};
use crate::frame::Frame;
use crate::numbers::dense::Dense;
use crate::numbers::sparse::cholesky;
use faer::Mat;
use faer::linalg::solvers::Solve;
use faer::sparse::Triplet;
use faer::sparse::linalg::solvers::Llt;
use glam::DVec3;

/// A linear functional of the nodal displacements, or a load: (degree of freedom, value).
/// Degree of freedom `6 n + c`: node `n`, translations x y z then rotations x y z.
pub type Row = Vec<(usize, f64)>;

/// A node of the structure.
#[derive(Debug, Clone)]
pub struct Node {
    /// Its tube.
    pub tube: usize,
    /// Arc length on that tube, mm.
    pub s_mm: f64,
    /// Place, mm.
    pub at: DVec3,
}

/// A point rigidly tied to a node.
#[derive(Debug, Clone, Copy)]
pub struct Tie {
    /// The node.
    pub node: usize,
    /// From the node to the point, mm.
    pub arm: DVec3,
}

/// The beams of a frame.
pub struct Structure {
    /// Nodes, tube by tube along the tube.
    pub nodes: Vec<Node>,
    /// Nodes of each tube, as a range.
    pub tube_nodes: Vec<std::ops::Range<usize>>,
    /// Node at which each tube is held.
    pub held: Vec<usize>,
    /// Beams, tube by tube along the tube.
    pub beams: Vec<Beam>,
    /// Section values of each tube.
    pub values: Vec<SectionValues>,
    free: Vec<Option<usize>>,
    unknowns: usize,
    factor: Option<Llt<usize, f64>>,
}

/// Where a tube's steel begins and ends (arc length, mm), and where it must have nodes.
#[derive(Debug, Clone, Default)]
pub struct Stations {
    /// First and last arc length that exists after trimming.
    pub ends: [f64; 2],
    /// Further arc lengths.
    pub at: Vec<f64>,
}

impl Structure {
    /// Break every tube at its stations and at the corners of its axis, and factorise.
    pub fn new(frame: &Frame, stations: &[Stations]) -> Structure {
        let mut nodes: Vec<Node> = Vec::new();
        let mut beams = Vec::new();
        let mut tube_nodes = Vec::new();
        let mut held = Vec::new();
        let mut values = Vec::new();
        for (t, tube) in frame.tubes.iter().enumerate() {
            let section = &frame.sections[tube.section];
            let material = &frame.materials[section.material];
            let v = section_values(&section.shape);
            let cuts = cuts(&stations[t], &tube.s);
            let first = nodes.len();
            for s in &cuts {
                nodes.push(Node { tube: t, s_mm: *s, at: along(&tube.axis, &tube.s, *s).0 });
            }
            for (i, pair) in cuts.windows(2).enumerate() {
                let (_, chord) = along(&tube.axis, &tube.s, 0.5 * (pair[0] + pair[1]));
                let (a, b) = (first + i, first + i + 1);
                beams.push(Beam::new(
                    t,
                    [a, b],
                    nodes[a].at,
                    nodes[b].at,
                    tube.height_dir[chord],
                    &v,
                    material.e_mpa,
                    material.g_mpa(),
                ));
            }
            let middle = 0.5 * (cuts[0] + cuts[cuts.len() - 1]);
            let near = (first..nodes.len())
                .min_by(|a, b| (nodes[*a].s_mm - middle).abs().total_cmp(&(nodes[*b].s_mm - middle).abs()));
            held.push(near.expect("a tube has at least two nodes"));
            tube_nodes.push(first..nodes.len());
            values.push(v);
        }
        let mut free = vec![None; 6 * nodes.len()];
        let mut unknowns = 0;
        for n in 0..nodes.len() {
            if !held.contains(&n) {
                for c in 0..6 {
                    free[6 * n + c] = Some(unknowns);
                    unknowns += 1;
                }
            }
        }
        let factor = factorise(&beams, &free, unknowns);
        Structure { nodes, tube_nodes, held, beams, values, free, unknowns, factor }
    }

    /// The point, tied rigidly to the tube's nearest node by arc length.
    pub fn tie(&self, tube: usize, s_mm: f64, point: DVec3) -> Tie {
        let node = self.node(tube, s_mm);
        Tie { node, arm: point - self.nodes[node].at }
    }
    /// The tube's nearest node by arc length.
    pub fn node(&self, tube: usize, s_mm: f64) -> usize {
        self.tube_nodes[tube]
            .clone()
            .min_by(|a, b| (self.nodes[*a].s_mm - s_mm).abs().total_cmp(&(self.nodes[*b].s_mm - s_mm).abs()))
            .expect("a tube has at least two nodes")
    }
    /// The beam before and the beam after a node, on its tube.
    pub fn beams_at(&self, node: usize) -> [Option<usize>; 2] {
        let before = self.beams.iter().position(|b| b.nodes[1] == node);
        let after = self.beams.iter().position(|b| b.nodes[0] == node);
        [before, after]
    }

    /// The beams that end at a node, each with its end there (0 start, 1 end) and its part in a jump at
    /// the node.
    pub fn sides(&self, node: usize) -> Vec<(usize, usize, f64)> {
        let [before, after] = self.beams_at(node);
        let share = if before.is_some() && after.is_some() { 0.5 } else { 1.0 };
        before.map(|b| (b, 1, share)).into_iter().chain(after.map(|b| (b, 0, -share))).collect()
    }

    /// Load that opens a jump at a node: what lies after the node is moved by `jump` (translation,
    /// rotation) against what lies before it. At an inner node half the jump sits on either side.
    pub fn jump_load(&self, node: usize, shift: DVec3, turn: DVec3) -> Row {
        let mut row = Row::new();
        for (beam, end, part) in self.sides(node) {
            let beam = &self.beams[beam];
            let mut u = [0.0; 12];
            for c in 0..3 {
                u[6 * end + c] = part * shift[c];
                u[6 * end + 3 + c] = part * turn[c];
            }
            push_forces(&mut row, beam, &beam.forces(&u));
        }
        tidy(row)
    }
    /// Load that makes a whole tube longer by `strain` (mm per mm).
    pub fn stretch_load(&self, tube: usize, strain: f64) -> Row {
        let mut row = Row::new();
        for beam in self.beams.iter().filter(|b| b.tube == tube) {
            let half = 0.5 * strain * beam.length_mm * beam.axes[0];
            let mut u = [0.0; 12];
            for c in 0..3 {
                u[c] = -half[c];
                u[6 + c] = half[c];
            }
            push_forces(&mut row, beam, &beam.forces(&u));
        }
        tidy(row)
    }

    /// Displacements under each load with every tube held at its held node: one column each,
    /// `unknowns × loads.len()`.
    pub fn solve(&self, loads: &[Row]) -> Mat<f64> {
        let mut x = Mat::<f64>::zeros(self.unknowns, loads.len());
        for (j, load) in loads.iter().enumerate() {
            for (dof, v) in load {
                if let Some(i) = self.free[*dof] {
                    x[(i, j)] += v;
                }
            }
        }
        if let Some(f) = &self.factor {
            f.solve_in_place(x.as_mut());
        }
        x
    }
    /// A functional of a solution's column.
    pub fn read(&self, row: &Row, x: &Mat<f64>, column: usize) -> f64 {
        row.iter().filter_map(|(dof, v)| self.free[*dof].map(|i| v * x[(i, column)])).sum()
    }
    /// Displacement of a node in a solution's column, without the rigid motion of its tube.
    pub fn displacement(&self, node: usize, x: &Mat<f64>, column: usize) -> [f64; 6] {
        std::array::from_fn(|c| self.free[6 * node + c].map_or(0.0, |i| x[(i, column)]))
    }
    /// The value of a functional under the six rigid motions of each tube it touches: translation,
    /// then rotation about the tube's held node.
    pub fn rigid(&self, row: &Row) -> Vec<(usize, [f64; 6])> {
        let mut out: Vec<(usize, [f64; 6])> = Vec::new();
        for (dof, v) in row {
            let (node, c) = (dof / 6, dof % 6);
            let tube = self.nodes[node].tube;
            let slot = match out.iter().position(|(t, _)| *t == tube) {
                Some(i) => i,
                None => {
                    out.push((tube, [0.0; 6]));
                    out.len() - 1
                }
            };
            let h = &mut out[slot].1;
            if c < 3 {
                let r = self.nodes[node].at - self.nodes[self.held[tube]].at;
                let mut e = DVec3::ZERO;
                e[c] = *v;
                h[c] += v;
                let m = r.cross(e);
                for a in 0..3 {
                    h[3 + a] += m[a];
                }
            } else {
                h[c] += v;
            }
        }
        out.sort_by_key(|(t, _)| *t);
        out
    }
}

/// Displacement of a tied point in a direction.
pub fn translation(tie: &Tie, dir: DVec3, factor: f64) -> Row {
    let m = tie.arm.cross(dir);
    let mut row = Row::new();
    for c in 0..3 {
        row.push((6 * tie.node + c, factor * dir[c]));
        row.push((6 * tie.node + 3 + c, factor * m[c]));
    }
    row
}
/// Rotation of a tied point about an axis.
pub fn rotation(tie: &Tie, axis: DVec3, factor: f64) -> Row {
    (0..3).map(|c| (6 * tie.node + 3 + c, factor * axis[c])).collect()
}
/// Adds up equal degrees of freedom and drops zeros.
pub fn tidy(mut row: Row) -> Row {
    row.sort_by_key(|(d, _)| *d);
    let mut out = Row::new();
    for (d, v) in row {
        match out.last_mut() {
            Some((last, sum)) if *last == d => *sum += v,
            _ => out.push((d, v)),
        }
    }
    out.retain(|(_, v)| *v != 0.0);
    out
}

/// Place at an arc length on a polyline, and the chord it lies on. Beyond the ends the end chords
/// go on straight.
pub fn along(axis: &[DVec3], s: &[f64], at: f64) -> (DVec3, usize) {
    let last = axis.len() - 2;
    let chord = (0..last).find(|i| at < s[i + 1]).unwrap_or(last);
    let dir = (axis[chord + 1] - axis[chord]).normalize();
    (axis[chord] + dir * (at - s[chord]), chord)
}

/// Arc length of the point of a polyline that is nearest to `point`, not further than `within` from
/// the arc length `about`. The ends go on straight if `beyond` says so.
pub fn nearest(axis: &[DVec3], s: &[f64], point: DVec3, about: f64, within: f64) -> f64 {
    let mut best = (f64::INFINITY, about);
    for i in 0..axis.len() - 1 {
        let (lo, hi) = (s[i].max(about - within), s[i + 1].min(about + within));
        if lo > hi {
            continue;
        }
        let dir = (axis[i + 1] - axis[i]).normalize();
        let t = (s[i] + (point - axis[i]).dot(dir)).clamp(lo, hi);
        let d = (axis[i] + dir * (t - s[i]) - point).length();
        if d < best.0 - 1e-9 {
            best = (d, t);
        }
    }
    best.1
}

fn cuts(stations: &Stations, axis_s: &[f64]) -> Vec<f64> {
    use super::constants::SNAP_MM;
    let [lo, hi] = stations.ends;
    // Corners of the axis and ends are kept as they are; other stations give way to them.
    let mut fixed: Vec<f64> = vec![lo, hi];
    fixed.extend(axis_s.iter().copied().filter(|s| *s > lo + SNAP_MM && *s < hi - SNAP_MM));
    for s in &stations.at {
        if *s > lo && *s < hi && fixed.iter().all(|f| (f - s).abs() > SNAP_MM) {
            fixed.push(*s);
        }
    }
    fixed.sort_by(f64::total_cmp);
    fixed
}

fn push_forces(row: &mut Row, beam: &Beam, f: &[f64; 12]) {
    for (i, v) in f.iter().enumerate() {
        row.push((6 * beam.nodes[i / 6] + i % 6, *v));
    }
}

/// The entries of the beams' stiffness: two degrees of freedom and the value, both triangles.
pub(super) fn stiffness(beams: &[Beam]) -> impl Iterator<Item = (usize, usize, f64)> + '_ {
    beams.iter().flat_map(|beam| {
        let dof = |i: usize| 6 * beam.nodes[i / 6] + i % 6;
        (0..144).map(move |ij| (dof(ij / 12), dof(ij % 12), beam.k[ij / 12][ij % 12]))
    })
}

fn factorise(beams: &[Beam], free: &[Option<usize>], unknowns: usize) -> Option<Llt<usize, f64>> {
    if unknowns == 0 {
        return None;
    }
    let placed = stiffness(beams).filter_map(|(r, c, v)| Some((free[r]?, free[c]?, v)));
    let lower = placed.filter(|(r, c, _)| r >= c).map(|(r, c, v)| Triplet::new(r, c, v));
    // Every tube is a chain of beams held stiffly at a node: positive definite for any section.
    Some(cholesky(unknowns, &lower.collect::<Vec<_>>()).expect("beams are positive definite"))
}

/// Solves a dense symmetric system for many right-hand sides; `None` if it is singular.
///
/// Rows and columns are scaled to like size first, and the solution is refined twice: the system
/// mixes compliances of 1e-6 mm/N with lever arms of 1000 mm.
pub fn dense_solve(a: &Dense, rhs: &Dense) -> Option<Dense> {
    let n = a.rows;
    let mut scale = vec![1.0; n];
    for _ in 0..4 {
        for i in 0..n {
            let most = (0..n).map(|j| (a.at(i, j) * scale[i] * scale[j]).abs()).fold(0.0, f64::max);
            if most > 0.0 {
                scale[i] /= most.sqrt();
            }
        }
    }
    let m = Mat::from_fn(n, n, |i, j| a.at(i, j) * scale[i] * scale[j]);
    let b = Mat::from_fn(n, rhs.cols, |i, j| rhs.at(i, j) * scale[i]);
    let lu = faer::linalg::solvers::PartialPivLu::new(m.as_ref());
    let mut x = b.clone();
    lu.solve_in_place(x.as_mut());
    for _ in 0..2 {
        let mut left = &b - &m * &x;
        lu.solve_in_place(left.as_mut());
        x += left;
    }
    let mut out = Dense::zeros(n, rhs.cols);
    for i in 0..n {
        for j in 0..rhs.cols {
            let v = x[(i, j)] * scale[i];
            if !v.is_finite() {
                return None;
            }
            *out.at_mut(i, j) = v;
        }
    }
    Some(out)
}
