//! The pull of a frame too large for dense compliances, coarsely, for comparing orders.
//!
//! Dense compliances between all seams grow with the square of the frame and their elimination with its
//! cube. Here the frame is factorised as it is (sparse), a few times on the way through an order:
//!
//! ```text
//!     K·u_h = h            for every control h, at the start of each block of passes
//!     y_p = g_h·w_p − c_h·B·D⁻¹·(δ_p·e_p + Bᵀ·gap·w_p)      D = diag(1/k) + Bᵀ·C·B
//! ```
//!
//! c_h is what a force across the seam does to the control, read from u_h; C the give of the seam itself.
//! Within a block a pass sees its own seam as it is at that moment and all other seams as they were when
//! the block began; C holds the other seams as tacked. With one pass to a block, one seam and another
//! far away that is the coarse model of [`super::Coarse`]; the more blocks, the nearer.
//!
//! Left out: the pull of the tacks, warmth, directions of travel, and clamps opened before the end of
//! their setup (they stay on until then).

use super::Level;
use super::model::Model;
use super::port::{PortKind, Spring};
use super::ring::Fibre;
use super::structure::Row;
use crate::frame::Frame;
use crate::joint::Joints;
use crate::procedure::Passes;
use crate::seam::Seams;
use faer::linalg::solvers::{PartialPivLu, Solve};
use faer::sparse::linalg::solvers::{Llt, SymbolicLlt};
use faer::sparse::{SparseColMat, Triplet};
use faer::{Mat, Side};

/// Ports whose give is worked out together: bounds the memory.
const BATCH: usize = 16;

type Six = [[f64; 6]; 6];

/// A frame of any size, as tacked.
pub struct Wide {
    bones: Model,
    /// Place of each port among the seams' ports.
    slot: Vec<Option<usize>>,
    /// The seams' ports.
    ports: Vec<usize>,
    /// Each of them as tacked, all others as tacked.
    tacked: Vec<Seat>,
    fibres: Vec<Fibre>,
    controls: Vec<Row>,
}

/// A seam's port at some moment.
#[derive(Debug, Clone)]
struct Seat {
    /// Stiffness of the springs in place, N/mm.
    k: Six,
    /// Its give, mm/N.
    c: Six,
    /// Gap that each of its unit wall loads opens, mm.
    gap: Vec<[f64; 6]>,
}

/// What forces across the seams do to a few readings, the frame being as it is.
struct Reach {
    /// Readings.
    n: usize,
    /// By reading, then by seam port.
    c: Vec<[f64; 6]>,
    /// By reading, then by wall load.
    g: Vec<f64>,
}

/// What an order does, coarsely.
#[derive(Debug, Clone)]
pub struct Adds {
    /// What each pass adds to each control, all clamps off: `n × r`.
    pub y: Vec<f64>,
    /// What it would add on a seam that is tacked, less what on the seam welded; all else as tacked,
    /// clamps off: `n × r`.
    pub by_own_seam: Vec<f64>,
    /// What it would add on its welded seam, all else as tacked, less what with all welded: `n × r`.
    pub by_the_rest: Vec<f64>,
}

impl Wide {
    /// The frame with even tacks; `None` if something can still move then.
    pub fn new(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Option<Wide> {
        let bones = Model::bones(frame, joints, seams, passes);
        let all = &bones.parts.ports;
        let ports: Vec<usize> =
            (0..all.len()).filter(|p| matches!(all[*p].kind, PortKind::Seam(_))).collect();
        let mut slot = vec![None; all.len()];
        ports.iter().enumerate().for_each(|(i, p)| slot[*p] = Some(i));
        let seat = |p: &usize| {
            let mut seat = Seat { k: [[0.0; 6]; 6], c: [[0.0; 6]; 6], gap: vec![[0.0; 6]; all[*p].loads.1] };
            all[*p].contact.iter().for_each(|s| seat.put(s));
            seat
        };
        let mut tacked: Vec<Seat> = ports.iter().map(seat).collect();
        for tack in bones.default_tacks() {
            let f = bones.tack_fibre(&tack, Level::Coarse);
            if let Some(s) = slot[f.port] {
                f.springs.iter().for_each(|k| tacked[s].put(k));
            }
        }
        let fibres =
            (0..passes.passes.len()).map(|p| bones.pass_fibres(p, true, Level::Coarse).remove(0)).collect();
        let controls = bones.control_rows();
        let mut wide = Wide { bones, slot, ports, tacked, fibres, controls };
        wide.give()?;
        Some(wide)
    }

    /// How much each seam gives, the frame as tacked and clamped.
    fn give(&mut self) -> Option<()> {
        let factor = self.factor(&self.tacked, &self.bones.clamps_of(0))?;
        for first in (0..self.ports.len()).step_by(BATCH) {
            let batch = first..(first + BATCH).min(self.ports.len());
            let rows: Vec<&Row> = batch.clone().flat_map(|i| self.rows(i)).collect();
            let u = self.solve(&factor, &rows);
            for (at, i) in batch.enumerate() {
                let port = &self.bones.parts.ports[self.ports[i]];
                let mut give = [[0.0; 6]; 6];
                for (a, row) in self.rows(i).enumerate() {
                    for (b, g) in give[a].iter_mut().enumerate() {
                        *g = read(row, &u, 6 * at + b);
                    }
                }
                let t = through_flex(&port.flex, &self.tacked[i].k);
                let own = in_ring(&port.flex, &give, &t);
                let loads = port.loads.0..port.loads.0 + port.loads.1;
                let gap = |w: usize| {
                    let load = &self.bones.parts.loads[w];
                    times(&t, &std::array::from_fn(|b| read(load, &u, 6 * at + b)))
                };
                let gap = loads.map(gap).collect();
                (self.tacked[i].c, self.tacked[i].gap) = (own, gap);
            }
        }
        Some(())
    }

    fn rows(&self, seat: usize) -> impl Iterator<Item = &Row> {
        let port = &self.bones.parts.ports[self.ports[seat]];
        self.bones.parts.rows[port.first..port.first + port.len].iter()
    }

    /// The stiffness of the whole frame, factorised; `None` if something can move.
    fn factor(&self, seats: &[Seat], clamps: &[usize]) -> Option<Llt<usize, f64>> {
        let st = &self.bones.structure;
        let n = 6 * st.nodes.len();
        let mut entries = Vec::new();
        let mut add = |r: usize, c: usize, v: f64| {
            if r >= c {
                entries.push(Triplet::new(r, c, v));
            }
        };
        for beam in &st.beams {
            for i in 0..12 {
                for j in 0..12 {
                    add(6 * beam.nodes[i / 6] + i % 6, 6 * beam.nodes[j / 6] + j % 6, beam.k[i][j]);
                }
            }
        }
        let mut spring = |rows: &[Row], k: &dyn Fn(usize, usize) -> f64| {
            for (i, a) in rows.iter().enumerate() {
                for (j, b) in rows.iter().enumerate() {
                    let k = k(i, j);
                    a.iter().for_each(|(r, x)| b.iter().for_each(|(c, y)| add(*r, *c, x * k * y)));
                }
            }
        };
        let rows = |p: usize| {
            let port = &self.bones.parts.ports[p];
            &self.bones.parts.rows[port.first..port.first + port.len]
        };
        for (seat, &p) in seats.iter().zip(&self.ports) {
            let k = behind_flex(&self.bones.parts.ports[p].flex, &seat.k);
            spring(rows(p), &|i, j| k[i][j]);
        }
        let held = |list: &[Spring]| {
            let mut k = [[0.0; 6]; 6];
            list.iter().for_each(|s| stiffen(&mut k, s));
            k
        };
        for &clamp in clamps {
            let k = held(&self.bones.clamp_springs(clamp, 1.0));
            spring(rows(self.bones.clamp_port(clamp)), &|i, j| k[i][j]);
        }
        let k = held(&self.bones.hold_springs(clamps));
        spring(rows(self.bones.find(PortKind::Hold)), &|i, j| k[i][j]);
        let matrix = SparseColMat::<usize, f64>::try_new_from_triplets(n, n, &entries).ok()?;
        drop(entries);
        let symbolic = SymbolicLlt::try_new(matrix.symbolic(), Side::Lower).ok()?;
        Llt::try_new_with_symbolic(symbolic, matrix.as_ref(), Side::Lower).ok()
    }

    fn solve(&self, factor: &Llt<usize, f64>, rows: &[&Row]) -> Mat<f64> {
        let mut x = Mat::<f64>::zeros(6 * self.bones.structure.nodes.len(), rows.len());
        for (j, row) in rows.iter().enumerate() {
            row.iter().for_each(|(d, v)| x[(*d, j)] += v);
        }
        factor.solve_in_place(x.as_mut());
        x
    }

    /// The rows of the directions in which clamps hold, with their stiffness.
    fn clamp_rows(&self, clamps: &[usize]) -> Vec<(&Row, f64)> {
        let of = |c: &usize| {
            let port = &self.bones.parts.ports[self.bones.clamp_port(*c)];
            let k = self.bones.frame.clamps[*c].stiffness_n_mm;
            self.bones.parts.rows[port.first..port.first + port.len].iter().map(move |r| (r, k))
        };
        clamps.iter().flat_map(of).collect()
    }

    /// Readings of the frame as it is: the controls, then `further`.
    fn reach(&self, seats: &[Seat], clamps: &[usize], further: &[(&Row, f64)]) -> Option<(Reach, Mat<f64>)> {
        let factor = self.factor(seats, clamps)?;
        let rows: Vec<&Row> = self.controls.iter().chain(further.iter().map(|f| f.0)).collect();
        let u = self.solve(&factor, &rows);
        let through: Vec<Six> = seats
            .iter()
            .zip(&self.ports)
            .map(|(s, p)| through_flex(&self.bones.parts.ports[*p].flex, &s.k))
            .collect();
        let mut reach = Reach { n: rows.len(), c: vec![], g: vec![] };
        for h in 0..rows.len() {
            for (i, t) in through.iter().enumerate() {
                let mut gap = [0.0; 6];
                self.rows(i).zip(&mut gap).for_each(|(row, g)| *g = read(row, &u, h));
                reach.c.push(times(t, &gap));
            }
            reach.g.extend(self.bones.parts.loads.iter().map(|load| read(load, &u, h)));
        }
        Some((reach, u))
    }

    /// What the passes of an order add to the controls: steps with the setup in which the frame lies, the
    /// frame factorised afresh after every `per_block` passes.
    ///
    /// `None` if something can move.
    pub fn adds(&self, steps: &[(usize, Vec<usize>)], per_block: usize) -> Option<Adds> {
        let (n, r) = (self.fibres.len(), self.controls.len());
        let mut seats = self.tacked.clone();
        let mut y = vec![0.0; n * r];
        let (mut early, _) = self.reach(&seats, &[], &[])?;
        let alone = |seats: &[Seat], reach: &Reach| -> Vec<f64> {
            self.fibres.iter().flat_map(|f| self.pull(seats, reach, f).1).collect()
        };
        let mut by_own_seam = alone(&seats, &early);
        let mut welded = seats.clone();
        (0..n).for_each(|p| drop(self.lay(&mut welded, &mut early, p)));
        let mut by_the_rest = alone(&welded, &early);
        by_own_seam.iter_mut().zip(&by_the_rest).for_each(|(a, b)| *a -= b);
        let mut at = 0;
        while at < steps.len() {
            // One setup: its clamps are on from its first pass to its last.
            let setup = steps[at].0;
            let stay = steps[at..].iter().take_while(|s| s.0 == setup).count();
            let clamps = self.bones.clamps_of(setup);
            let held = self.clamp_rows(&clamps);
            let mut sprung: Vec<(usize, Vec<f64>)> = Vec::new();
            let passes: Vec<usize> = steps[at..at + stay].iter().flat_map(|s| s.1.iter().copied()).collect();
            for block in passes.chunks(per_block.max(1)) {
                let (mut reach, _) = self.reach(&seats, &clamps, &held)?;
                for &p in block {
                    let added = self.lay(&mut seats, &mut reach, p);
                    y[p * r..(p + 1) * r].copy_from_slice(&added[..r]);
                    sprung.push((p, added[r..].to_vec()));
                }
            }
            if !held.is_empty() {
                let (_, free) = self.reach(&seats, &[], &[])?;
                for (p, gaps) in sprung {
                    for ((row, k), gap) in held.iter().zip(gaps) {
                        for h in 0..r {
                            y[p * r + h] += k * gap * read(row, &free, h);
                        }
                    }
                }
            }
            at += stay;
        }
        let (late, _) = self.reach(&seats, &[], &[])?;
        by_the_rest.iter_mut().zip(alone(&seats, &late)).for_each(|(e, l)| *e -= l);
        Some(Adds { y, by_own_seam, by_the_rest })
    }

    /// What a fibre adds to the readings, with its solution of three springs: D⁻¹·(δ·e + Bᵀ·gap·w).
    fn pull(&self, seats: &[Seat], reach: &Reach, f: &Fibre) -> ([f64; 3], Vec<f64>) {
        let Some(i) = self.slot[f.port] else { return ([0.0; 3], vec![0.0; reach.n]) };
        let seat = &seats[i];
        let first = self.bones.parts.ports[f.port].loads.0;
        let mut close = [f.delta_mm, 0.0, 0.0];
        for (w, amount, _) in &f.walls {
            for (c, (b, _)) in close.iter_mut().zip(&f.springs) {
                *c += amount * dot(b, &seat.gap[w - first]);
            }
        }
        let z = three(&seat.give_at(f), &close);
        let loads = self.bones.parts.loads.len();
        let of = |h: usize| {
            let c = &reach.c[h * self.ports.len() + i];
            let walls: f64 = f.walls.iter().map(|(w, amount, _)| amount * reach.g[h * loads + w]).sum();
            walls - f.springs.iter().zip(&z).map(|((b, _), z)| dot(b, c) * z).sum::<f64>()
        };
        (z, (0..reach.n).map(of).collect())
    }

    /// Lay a pass: what it adds to the readings; its seam is stiffer afterwards.
    fn lay(&self, seats: &mut [Seat], reach: &mut Reach, pass: usize) -> Vec<f64> {
        let f = &self.fibres[pass];
        let added = self.pull(seats, reach, f).1;
        let Some(i) = self.slot[f.port] else { return added };
        let seat = &mut seats[i];
        let d = seat.give_at(f);
        // C·B, once for all that is reduced.
        let cb: [[f64; 6]; 3] = std::array::from_fn(|s| times(&seat.c, &f.springs[s].0));
        let first = self.bones.parts.ports[f.port].loads.0;
        let loads = self.bones.parts.loads.len();
        for h in 0..reach.n {
            let c = &mut reach.c[h * self.ports.len() + i];
            let z = three(&d, &std::array::from_fn(|s| dot(&f.springs[s].0, c)));
            for (w, gap) in seat.gap.iter().enumerate() {
                let g = &mut reach.g[h * loads + first + w];
                *g -= f.springs.iter().zip(&z).map(|((b, _), z)| dot(b, gap) * z).sum::<f64>();
            }
            c.iter_mut().enumerate().for_each(|(q, c)| *c -= (0..3).map(|s| cb[s][q] * z[s]).sum::<f64>());
        }
        for gap in &mut seat.gap {
            let z = three(&d, &std::array::from_fn(|s| dot(&f.springs[s].0, gap)));
            gap.iter_mut().enumerate().for_each(|(q, g)| *g -= (0..3).map(|s| cb[s][q] * z[s]).sum::<f64>());
        }
        for col in 0..6 {
            let z = three(&d, &std::array::from_fn(|s| cb[s][col]));
            for q in 0..6 {
                seat.c[q][col] -= (0..3).map(|s| cb[s][q] * z[s]).sum::<f64>();
            }
        }
        f.springs.iter().for_each(|s| seat.put(s));
        added
    }
}

impl Seat {
    /// A spring is there from now on.
    fn put(&mut self, spring: &Spring) {
        stiffen(&mut self.k, spring);
    }

    /// D of a fibre: its springs' own give and that of the seam.
    fn give_at(&self, f: &Fibre) -> [[f64; 3]; 3] {
        std::array::from_fn(|a| {
            let c = times(&self.c, &f.springs[a].0);
            std::array::from_fn(|b| {
                dot(&f.springs[b].0, &c) + if a == b { 1.0 / f.springs[a].1 } else { 0.0 }
            })
        })
    }
}

fn stiffen(to: &mut Six, (b, k): &Spring) {
    (0..6).for_each(|i| (0..6).for_each(|j| to[i][j] += k * b[i] * b[j]));
}

fn dot(a: &[f64; 6], b: &[f64; 6]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn times(m: &Six, v: &[f64; 6]) -> [f64; 6] {
    std::array::from_fn(|i| dot(&m[i], v))
}

fn read(row: &Row, u: &Mat<f64>, column: usize) -> f64 {
    row.iter().map(|(d, v)| v * u[(*d, column)]).sum()
}

/// Solves a symmetric positive definite system of three (by cofactors).
fn three(d: &[[f64; 3]; 3], b: &[f64; 3]) -> [f64; 3] {
    let m = glam::DMat3::from_cols_array_2d(d);
    (m.inverse() * glam::DVec3::from_array(*b)).to_array()
}

/// `(1 + F·K)⁻¹`: what part of a gap between the tubes reaches the ring, with the joint's flexibility F in
/// series with springs K.
fn through_flex(flex: &[f64], k: &Six) -> Six {
    let unit = |i: usize, j: usize| if i == j { 1.0 } else { 0.0 };
    if flex.is_empty() {
        return std::array::from_fn(|i| std::array::from_fn(|j| unit(i, j)));
    }
    let m = Mat::from_fn(6, 6, |i, j| unit(i, j) + (0..6).map(|q| flex[6 * i + q] * k[q][j]).sum::<f64>());
    let mut x = Mat::from_fn(6, 6, unit);
    PartialPivLu::new(m.as_ref()).solve_in_place(x.as_mut());
    std::array::from_fn(|i| std::array::from_fn(|j| x[(i, j)]))
}

/// Stiffness between the tubes: springs K in series with the flexibility, `K·(1 + F·K)⁻¹`.
fn behind_flex(flex: &[f64], k: &Six) -> Six {
    let t = through_flex(flex, k);
    let s = product(k, &t);
    std::array::from_fn(|i| std::array::from_fn(|j| 0.5 * (s[i][j] + s[j][i])))
}

/// The give at the ring, from that between the tubes: `T·give·Tᵀ + T·F` with `T` of [`through_flex`].
fn in_ring(flex: &[f64], give: &Six, t: &Six) -> Six {
    let left = product(t, give);
    std::array::from_fn(|i| {
        std::array::from_fn(|j| {
            let own: f64 =
                if flex.is_empty() { 0.0 } else { (0..6).map(|q| t[i][q] * flex[6 * q + j]).sum() };
            dot(&left[i], &t[j]) + own
        })
    })
}

fn product(a: &Six, b: &Six) -> Six {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..6).map(|q| a[i][q] * b[q][j]).sum()))
}
