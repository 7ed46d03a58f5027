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
use super::structure::{Row, stiffness};
use crate::frame::Frame;
use crate::joint::Joints;
use crate::numbers::sparse::cholesky;
use crate::procedure::Passes;
use crate::seam::Seams;
use faer::Mat;
use faer::linalg::solvers::{PartialPivLu, Solve};
use faer::sparse::Triplet;
use faer::sparse::linalg::solvers::Llt;
use glam::{DMat3, DVec3};

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

/// How much less a pass adds to the controls later than early, whatever the order; clamps off, `n × r`.
#[derive(Debug, Clone)]
pub struct Falls {
    /// What it adds on a seam that is tacked, less what on the seam welded; all else as tacked.
    pub by_own_seam: Vec<f64>,
    /// What it adds on its welded seam, all else as tacked, less what with all welded.
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
            all[*p].contact.iter().for_each(|s| stiffen(&mut seat.k, s));
            seat
        };
        let mut tacked: Vec<Seat> = ports.iter().map(seat).collect();
        for tack in bones.default_tacks() {
            let f = bones.tack_fibre(&tack, Level::Coarse);
            if let Some(s) = slot[f.port] {
                f.springs.iter().for_each(|k| stiffen(&mut tacked[s].k, k));
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
            let rows: Vec<&Row> = batch.clone().flat_map(|i| self.rows(self.ports[i])).collect();
            let u = self.solve(&factor, &rows);
            for (at, i) in batch.enumerate() {
                let port = &self.bones.parts.ports[self.ports[i]];
                let mut give = [[0.0; 6]; 6];
                for (a, row) in self.rows(self.ports[i]).iter().enumerate() {
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

    /// The rows of a port.
    fn rows(&self, port: usize) -> &[Row] {
        let port = &self.bones.parts.ports[port];
        &self.bones.parts.rows[port.first..port.first + port.len]
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
        stiffness(&st.beams).for_each(|(r, c, v)| add(r, c, v));
        let mut spring = |rows: &[Row], k: &dyn Fn(usize, usize) -> f64| {
            for (i, a) in rows.iter().enumerate() {
                for (j, b) in rows.iter().enumerate() {
                    let k = k(i, j);
                    a.iter().for_each(|(r, x)| b.iter().for_each(|(c, y)| add(*r, *c, x * k * y)));
                }
            }
        };
        for (seat, &p) in seats.iter().zip(&self.ports) {
            let k = behind_flex(&self.bones.parts.ports[p].flex, &seat.k);
            spring(self.rows(p), &|i, j| k[i][j]);
        }
        let held = |list: &[Spring]| {
            let mut k = [[0.0; 6]; 6];
            list.iter().for_each(|s| stiffen(&mut k, s));
            k
        };
        for &clamp in clamps {
            let k = held(&self.bones.clamp_springs(clamp, 1.0));
            spring(self.rows(self.bones.clamp_port(clamp)), &|i, j| k[i][j]);
        }
        let k = held(&self.bones.hold_springs(clamps));
        spring(self.rows(self.bones.find(PortKind::Hold)), &|i, j| k[i][j]);
        cholesky(n, &entries)
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
            let k = self.bones.frame.clamps[*c].stiffness_n_mm;
            self.rows(self.bones.clamp_port(*c)).iter().map(move |r| (r, k))
        };
        clamps.iter().flat_map(of).collect()
    }

    /// The controls, then `further`, on the frame as it is.
    fn readings(&self, seats: &[Seat], clamps: &[usize], further: &[(&Row, f64)]) -> Option<Mat<f64>> {
        let rows: Vec<&Row> = self.controls.iter().chain(further.iter().map(|f| f.0)).collect();
        Some(self.solve(&self.factor(seats, clamps)?, &rows))
    }

    /// What forces across the seams do to these readings.
    fn reach(&self, seats: &[Seat], u: &Mat<f64>) -> Reach {
        let through: Vec<Six> = seats
            .iter()
            .zip(&self.ports)
            .map(|(s, p)| through_flex(&self.bones.parts.ports[*p].flex, &s.k))
            .collect();
        let mut reach = Reach { n: u.ncols(), c: vec![], g: vec![] };
        for h in 0..reach.n {
            for (&p, t) in self.ports.iter().zip(&through) {
                let mut gap = [0.0; 6];
                self.rows(p).iter().zip(&mut gap).for_each(|(row, g)| *g = read(row, u, h));
                reach.c.push(times(t, &gap));
            }
            reach.g.extend(self.bones.parts.loads.iter().map(|load| read(load, u, h)));
        }
        reach
    }

    /// What the passes of an order add to the controls, all clamps off at the end: `n × r`. Steps with the
    /// setup in which the frame lies; the frame is factorised afresh after every `per_block` passes.
    ///
    /// `None` if something can move.
    pub fn adds(&self, steps: &[(usize, Vec<usize>)], per_block: usize) -> Option<Vec<f64>> {
        let (n, r) = (self.fibres.len(), self.controls.len());
        let mut seats = self.tacked.clone();
        let mut y = vec![0.0; n * r];
        // One setup after the other: its clamps are on from its first pass to its last.
        for stay in steps.chunk_by(|a, b| a.0 == b.0) {
            let clamps = self.bones.clamps_of(stay[0].0);
            let held = self.clamp_rows(&clamps);
            let mut sprung: Vec<(usize, Vec<f64>)> = Vec::new();
            let passes: Vec<usize> = stay.iter().flat_map(|s| s.1.iter().copied()).collect();
            for block in passes.chunks(per_block.max(1)) {
                let mut reach = self.reach(&seats, &self.readings(&seats, &clamps, &held)?);
                for &p in block {
                    let added = self.lay(&mut seats, &mut reach, p);
                    y[p * r..(p + 1) * r].copy_from_slice(&added[..r]);
                    sprung.push((p, added[r..].to_vec()));
                }
            }
            if held.is_empty() {
                continue;
            }
            let free = self.readings(&seats, &[], &[])?;
            for (p, gaps) in sprung {
                for ((row, k), gap) in held.iter().zip(gaps) {
                    for h in 0..r {
                        y[p * r + h] += k * gap * read(row, &free, h);
                    }
                }
            }
        }
        Some(y)
    }

    /// What each pass adds early and late.
    ///
    /// `None` if something can move.
    pub fn falls(&self) -> Option<Falls> {
        let alone = |seats: &[Seat], reach: &Reach| -> Vec<f64> {
            self.fibres.iter().flat_map(|f| self.pull(seats, reach, f)).collect()
        };
        let less = |a: Vec<f64>, b: &[f64]| a.iter().zip(b).map(|(a, b)| a - b).collect();
        let mut seats = self.tacked.clone();
        let mut reach = self.reach(&seats, &self.readings(&seats, &[], &[])?);
        let tacked = alone(&seats, &reach);
        for p in 0..self.fibres.len() {
            self.lay(&mut seats, &mut reach, p);
        }
        let seam_welded = alone(&seats, &reach);
        let all_welded = alone(&seats, &self.reach(&seats, &self.readings(&seats, &[], &[])?));
        Some(Falls { by_own_seam: less(tacked, &seam_welded), by_the_rest: less(seam_welded, &all_welded) })
    }

    /// What a fibre adds to the readings.
    fn pull(&self, seats: &[Seat], reach: &Reach, f: &Fibre) -> Vec<f64> {
        let Some(i) = self.slot[f.port] else { return vec![0.0; reach.n] };
        let seat = &seats[i];
        let first = self.bones.parts.ports[f.port].loads.0;
        let mut close = DVec3::new(f.delta_mm, 0.0, 0.0);
        for (w, amount, _) in &f.walls {
            close += along(f, &seat.gap[w - first]) * *amount;
        }
        let z = seat.stiff_at(f) * close;
        let loads = self.bones.parts.loads.len();
        let of = |h: usize| {
            let walls: f64 = f.walls.iter().map(|(w, amount, _)| amount * reach.g[h * loads + w]).sum();
            walls - along(f, &reach.c[h * self.ports.len() + i]).dot(z)
        };
        (0..reach.n).map(of).collect()
    }

    /// Lay a pass: what it adds to the readings; its seam is stiffer afterwards.
    fn lay(&self, seats: &mut [Seat], reach: &mut Reach, pass: usize) -> Vec<f64> {
        let f = &self.fibres[pass];
        let added = self.pull(seats, reach, f);
        let Some(i) = self.slot[f.port] else { return added };
        let seat = &mut seats[i];
        let d = seat.stiff_at(f);
        // C·B, once for all that is reduced.
        let cb: [[f64; 6]; 3] = std::array::from_fn(|s| times(&seat.c, &f.springs[s].0));
        let reduce = |v: &mut [f64; 6]| {
            let z = d * along(f, v);
            v.iter_mut().enumerate().for_each(|(q, v)| *v -= (0..3).map(|s| cb[s][q] * z[s]).sum::<f64>());
        };
        let first = self.bones.parts.ports[f.port].loads.0;
        let loads = self.bones.parts.loads.len();
        for h in 0..reach.n {
            let c = &mut reach.c[h * self.ports.len() + i];
            let z = d * along(f, c);
            for (w, gap) in seat.gap.iter().enumerate() {
                reach.g[h * loads + first + w] -= along(f, gap).dot(z);
            }
            reduce(c);
        }
        // C is symmetric: its rows go the way of its columns.
        seat.gap.iter_mut().chain(&mut seat.c).for_each(reduce);
        f.springs.iter().for_each(|s| stiffen(&mut seat.k, s));
        added
    }
}

impl Seat {
    /// D⁻¹ of a fibre, D its springs' own give and that of the seam.
    fn stiff_at(&self, f: &Fibre) -> DMat3 {
        let column = |s: usize| along(f, &times(&self.c, &f.springs[s].0));
        let own = DVec3::from_array(std::array::from_fn(|s| 1.0 / f.springs[s].1));
        (DMat3::from_cols(column(0), column(1), column(2)) + DMat3::from_diagonal(own)).inverse()
    }
}

/// A motion of the port along the three springs of a fibre.
fn along(f: &Fibre, v: &[f64; 6]) -> DVec3 {
    DVec3::from_array(std::array::from_fn(|s| dot(&f.springs[s].0, v)))
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
