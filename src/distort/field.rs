//! The compliance of the frame as it is now, and everything that follows when something is done at a
//! port.
//!
//! Ports are kept in the order of their last use, the one used longest first. What will not be asked
//! for again lies behind the part in use and is no longer carried along; that alone halves the work of
//! an order and more.

use super::block::Block;
use super::model::{Model, Start};
use super::turned::{difference, spread};
use crate::numbers::dense::Dense;
use faer::linalg::matmul::matmul;
use faer::linalg::matmul::triangular::{self, BlockStructure};
use faer::{Accum, MatMut, MatRef, Par};

/// The step at which each port is used for the last time; [`ALWAYS`] for one that may be asked for at
/// any time.
pub(super) type LastUse = Vec<usize>;
/// Used until the end.
pub(super) const ALWAYS: usize = usize::MAX;

/// Compliances (mm/N), gaps and controls of a frame.
#[derive(Clone)]
pub(super) struct Field {
    /// Ports that are kept, in the order of their coordinates, with their last use.
    order: Vec<(usize, usize)>,
    /// Where each port's coordinates are, if it is kept.
    off: Vec<Option<usize>>,
    /// Where each port's unit wall loads are, among the wall loads.
    wall_off: Vec<usize>,
    /// Coordinates kept: the width of `c` and `rest`.
    n: usize,
    /// Ports, coordinates and wall loads in use.
    live: (usize, usize, usize),
    controls: usize,
    heat: usize,
    cols: usize,
    /// Between ports, `n × n`; only the lower half is true.
    c: Vec<f64>,
    /// Rows controls, heat, walls in the order of their ports; columns ports.
    rest: Vec<f64>,
    /// Rows controls; columns heat, walls in the order of their ports.
    c_h: Vec<f64>,
    width_h: usize,
    /// Gaps of the ports, `n × cols`.
    x: Vec<f64>,
    /// Controls, `controls × cols`.
    pub y: Dense,
    /// What the last few ports changed and `c`, `rest` and `c_h` do not hold yet.
    late: Late,
}

/// Ports whose changes are carried into the compliances together: one at a time, an update of rank six is
/// bound by memory.
const TOGETHER: usize = 8;
/// Columns of that.
const WIDE: usize = 6 * TOGETHER;

/// Changes `−L·Rᵀ` that still have to be carried in; [`WIDE`] columns each, of which `used` are in use. Rows: the
/// ports' coordinates, or controls, heat and walls.
#[derive(Clone)]
struct Late {
    used: usize,
    /// What forces at those ports did to the gaps, `−U·φ`, from this column on.
    gaps_from: usize,
    ports_u: Vec<f64>,
    phi: Vec<f64>,
    ports_l: Vec<f64>,
    ports_r: Vec<f64>,
    rest_l: Vec<f64>,
    rest_r: Vec<f64>,
}

impl Late {
    fn new(ports: usize, rest: usize, cols: usize) -> Late {
        let room = |rows: usize| vec![0.0; rows * WIDE];
        Late {
            used: 0,
            gaps_from: 0,
            ports_u: room(ports),
            phi: vec![0.0; WIDE * cols],
            ports_l: room(ports),
            ports_r: room(ports),
            rest_l: room(rest),
            rest_r: room(rest),
        }
    }
    fn product(&self, l: &[f64], row: usize, r: &[f64], other: usize) -> f64 {
        let (l, r) = (&l[row * WIDE..][..self.used], &r[other * WIDE..][..self.used]);
        l.iter().zip(r).map(|(l, r)| l * r).sum()
    }
    /// What is still to be taken off between two coordinates, off a row of `rest`, off a place of `c_h`.
    fn off_c(&self, a: usize, b: usize) -> f64 {
        self.product(&self.ports_l, a, &self.ports_r, b)
    }
    fn off_rest(&self, row: usize, at: usize) -> f64 {
        self.product(&self.rest_l, row, &self.ports_r, at)
    }
    fn off_h(&self, control: usize, row: usize) -> f64 {
        self.product(&self.rest_l, control, &self.rest_r, row)
    }
}

impl Field {
    /// At the start: nothing has moved.
    pub fn new(model: &Model, start: &Start, cols: usize, last: Option<&LastUse>) -> Field {
        let mut f = Field::empty(model, cols, &start.off, last);
        let n = start.n;
        let (at, walls) =
            f.sources(model, &start.off, &model.parts.ports.iter().map(|p| p.loads.0).collect::<Vec<_>>());
        let rows: Vec<usize> =
            (0..f.controls + f.heat).chain(walls.iter().map(|w| f.controls + f.heat + w)).collect();
        for (i, a) in at.iter().enumerate() {
            for (j, b) in at[..=i].iter().enumerate() {
                f.c[i * f.n + j] = start.c.at(*a, *b);
            }
        }
        for (i, row) in rows.iter().enumerate() {
            for (j, b) in at.iter().enumerate() {
                f.rest[i * f.n + j] = start.c.at(n + row, *b);
            }
        }
        for r in 0..f.controls {
            for (k, row) in rows[f.controls..].iter().enumerate() {
                f.c_h[r * f.width_h + k] = start.c_h.at(r, row - f.controls);
            }
        }
        f
    }

    /// The same state with its ports in another order, for what is still to come.
    pub fn reordered(&self, model: &Model, last: &LastUse) -> Field {
        if self.late.used > 0 {
            let mut settled = self.clone();
            settled.carry_in();
            return settled.reordered(model, last);
        }
        let mut f = Field::empty(model, self.cols, &self.off, Some(last));
        let (at, walls) = f.sources(model, &self.off, &self.wall_off);
        let first = f.controls + f.heat;
        let rows: Vec<usize> = (0..first).chain(walls.iter().map(|w| first + w)).collect();
        for (i, a) in at.iter().enumerate() {
            for (j, b) in at[..=i].iter().enumerate() {
                f.c[i * f.n + j] = self.c[a.max(b) * self.n + a.min(b)];
            }
            f.x[i * f.cols..(i + 1) * f.cols].copy_from_slice(&self.x[a * f.cols..(a + 1) * f.cols]);
        }
        for (i, row) in rows.iter().enumerate() {
            for (j, b) in at.iter().enumerate() {
                f.rest[i * f.n + j] = self.rest[row * self.n + b];
            }
        }
        for r in 0..f.controls {
            for (k, row) in rows[f.controls..].iter().enumerate() {
                f.c_h[r * f.width_h + k] = self.c_h[r * f.width_h + row - f.controls];
            }
        }
        f.y = self.y.clone();
        f
    }

    /// The gaps and controls of an earlier field with more ports.
    pub fn take_over(&mut self, model: &Model, from: &Field) {
        for (p, port) in model.parts.ports.iter().enumerate() {
            if let (Some(new), Some(old)) = (self.off[p], from.off[p]) {
                for i in 0..port.len {
                    let to = &mut self.x[(new + i) * self.cols..(new + i + 1) * self.cols];
                    to.copy_from_slice(&from.x_at(old + i));
                }
            }
        }
        self.y = from.y.clone();
    }

    fn empty(model: &Model, cols: usize, kept: &[Option<usize>], last: Option<&LastUse>) -> Field {
        let ports = &model.parts.ports;
        let last_of = |p: usize| last.map_or(ALWAYS, |l| l[p]);
        let mut order: Vec<(usize, usize)> =
            (0..ports.len()).filter(|p| kept[*p].is_some()).map(|p| (p, last_of(p))).collect();
        order.sort_by_key(|(p, last)| (std::cmp::Reverse(*last), *p));
        let mut off = vec![None; ports.len()];
        let mut wall_off = vec![0; ports.len()];
        let (mut n, mut walls) = (0, 0);
        for (p, _) in &order {
            (off[*p], wall_off[*p]) = (Some(n), walls);
            n += ports[*p].len;
            walls += ports[*p].loads.1;
        }
        let (controls, heat) = (model.size.controls, model.size.heat);
        let width_h = heat + walls;
        Field {
            live: (order.len(), n, walls),
            order,
            off,
            wall_off,
            n,
            controls,
            heat,
            cols,
            c: vec![0.0; n * n],
            rest: vec![0.0; (controls + heat + walls) * n],
            c_h: vec![0.0; controls * width_h],
            width_h,
            x: vec![0.0; n * cols],
            y: Dense::zeros(controls, cols),
            late: Late::new(n, controls + heat + walls, cols),
        }
    }
    /// Coordinates and wall loads of the ports kept, where they are in another numbering.
    fn sources(&self, model: &Model, off: &[Option<usize>], wall_off: &[usize]) -> (Vec<usize>, Vec<usize>) {
        let (mut at, mut walls) = (Vec::with_capacity(self.n), Vec::new());
        for (p, _) in &self.order {
            let (port, first) = (&model.parts.ports[*p], off[*p].expect("a kept port has its place"));
            at.extend(first..first + port.len);
            walls.extend(wall_off[*p]..wall_off[*p] + port.loads.1);
        }
        (at, walls)
    }

    /// Whether a port is kept.
    pub fn keeps(&self, port: usize) -> bool {
        self.off[port].is_some()
    }
    /// Everything whose last use is not after this step is carried along no more.
    pub fn retire(&mut self, model: &Model, step: usize) {
        while let Some((p, last)) = self.live.0.checked_sub(1).map(|i| self.order[i])
            && last <= step
        {
            let port = &model.parts.ports[p];
            self.live = (self.live.0 - 1, self.live.1 - port.len, self.live.2 - port.loads.1);
        }
    }

    fn place(&self, port: usize) -> usize {
        let at = self.off[port].expect("a port that is asked for is kept");
        debug_assert!(at < self.live.1, "a port that is asked for is in use");
        at
    }
    fn c_at(&self, a: usize, b: usize) -> f64 {
        self.c[a.max(b) * self.n + a.min(b)] - self.late.off_c(a, b)
    }
    fn rest_at(&self, row: usize, at: usize) -> f64 {
        self.rest[row * self.n + at] - self.late.off_rest(row, at)
    }
    /// `row` counts from the first tube that can be warm.
    fn h_at(&self, control: usize, row: usize) -> f64 {
        self.c_h[control * self.width_h + row] - self.late.off_h(control, self.controls + row)
    }
    /// Compliance between two coordinates of ports.
    pub fn between(&self, (p, i): (usize, usize), (q, j): (usize, usize)) -> f64 {
        self.c_at(self.place(p) + i, self.place(q) + j)
    }
    /// Control moved by a force at a port.
    pub fn control(&self, control: usize, (p, i): (usize, usize)) -> f64 {
        self.rest_at(control, self.place(p) + i)
    }
    /// Gap opened by one degree in a tube.
    pub fn by_heat(&self, tube: usize, (p, i): (usize, usize)) -> f64 {
        self.rest_at(self.controls + tube, self.place(p) + i)
    }
    /// Gap opened at `p` by a unit wall load of port `of`, by its number there.
    pub fn by_wall(&self, of: usize, load: usize, (p, i): (usize, usize)) -> f64 {
        self.rest_at(self.controls + self.heat + self.wall_off[of] + load, self.place(p) + i)
    }
    /// Control moved by one degree in a tube.
    pub fn control_by_heat(&self, control: usize, tube: usize) -> f64 {
        self.h_at(control, tube)
    }
    /// Control moved by a unit wall load of port `of`.
    pub fn control_by_wall(&self, control: usize, of: usize, load: usize) -> f64 {
        self.h_at(control, self.heat + self.wall_off[of] + load)
    }
    fn x_at(&self, at: usize) -> Vec<f64> {
        let (cols, late) = (self.cols, &self.late);
        let mut x = self.x[at * cols..(at + 1) * cols].to_vec();
        let open = late.gaps_from..late.used;
        push(&mut x, &late.ports_u[at * WIDE..][open.clone()], &late.phi[open.start * cols..open.end * cols]);
        x
    }
    /// Gap of a coordinate of a port, column by column.
    pub fn gap(&self, (p, i): (usize, usize)) -> Vec<f64> {
        self.x_at(self.place(p) + i)
    }

    /// A port, to be worked on; `warm`: of each tube, K.
    pub fn block(&self, model: &Model, port: usize, warm: &[f64]) -> Block {
        let p = &model.parts.ports[port];
        let (n, loads) = (p.len, p.loads.1);
        let mut a = [[0.0; 6]; 6];
        let mut hot = [0.0; 6];
        let mut g0 = vec![0.0; n * loads];
        let mut x = Vec::with_capacity(n * self.cols);
        for i in 0..n {
            for j in 0..n {
                a[i][j] = self.between((port, i), (port, j));
            }
            for (t, warm) in warm.iter().enumerate().filter(|(_, w)| **w != 0.0) {
                hot[i] += warm * self.by_heat(t, (port, i));
            }
            for l in 0..loads {
                g0[i * loads + l] = self.by_wall(port, l, (port, i));
            }
            x.extend(self.gap((port, i)));
        }
        Block::new(n, self.cols, a, x, hot, g0)
    }

    /// Carry so many columns from now on: the first as it is, further ones empty.
    pub fn set_columns(&mut self, cols: usize) {
        self.settle_gaps();
        let had = std::mem::replace(&mut self.cols, cols);
        self.late.phi = vec![0.0; WIDE * cols];
        spread(&mut self.x, had, cols);
        spread(&mut self.y.a, had, cols);
        self.y.cols = cols;
    }
    /// Column `col` becomes what another field of one column has more than this one.
    pub fn take_difference(&mut self, col: usize, other: &Field) {
        self.settle_gaps();
        let x: Vec<f64> = (0..other.n).flat_map(|at| other.x_at(at)).collect();
        difference(&mut self.x, &x, self.cols, col);
        difference(&mut self.y.a, &other.y.a, self.cols, col);
    }

    /// Everything in use follows what was done at a port.
    pub fn follow(&mut self, model: &Model, port: usize, block: &Block) {
        let (n, cols, width) = (block.n, self.cols, self.n);
        let at = self.place(port);
        let (_, ports, walls) = self.live;
        let rows = self.controls + self.heat + walls;
        // U: the columns of this port, for every row in use; ports first.
        let mut u = vec![0.0; (ports + rows) * 6];
        for (i, u) in u.as_chunks_mut::<6>().0[..ports].iter_mut().enumerate() {
            if i >= at + n {
                u[..n].copy_from_slice(&self.c[i * width + at..i * width + at + n]);
            } else {
                for k in 0..n {
                    let (a, b) = (i.max(at + k), i.min(at + k));
                    u[k] = self.c[a * width + b];
                }
            }
        }
        for (u, rest) in u.as_chunks_mut::<6>().0[ports..].iter_mut().zip(self.rest.chunks_exact(width)) {
            u[..n].copy_from_slice(&rest[at..at + n]);
        }
        let late = &self.late;
        if late.used > 0 {
            let here = wide(&late.ports_r, at, n, late.used).transpose();
            let (up, ur) = u.split_at_mut(6 * ports);
            for (u, l, rows) in [(up, &late.ports_l, ports), (ur, &late.rest_l, rows)] {
                let u = MatMut::from_row_major_slice_mut(u, rows, 6);
                matmul(u.subcols_mut(0, n), Accum::Add, wide(l, 0, rows, late.used), here, -1.0, Par::Seq);
            }
        }
        // Forces at the port, and wall loads, move every gap and control.
        let first = self.controls + self.heat + self.wall_off[port];
        let loads: Vec<usize> = (0..model.parts.ports[port].loads.1)
            .filter(|l| block.walls[l * cols..(l + 1) * cols].iter().any(|v| *v != 0.0))
            .collect();
        for (l, rest) in loads.iter().map(|l| (l, first + l)) {
            let amounts = block.walls[l * cols..(l + 1) * cols].iter().enumerate();
            let amounts: Vec<(usize, f64)> =
                amounts.filter(|(_, v)| **v != 0.0).map(|(j, v)| (j, *v)).collect();
            for i in 0..ports {
                let by = self.rest_at(rest, i);
                amounts.iter().for_each(|(j, v)| self.x[i * cols + j] += by * v);
            }
            for r in 0..self.controls {
                let by = self.h_at(r, self.heat + self.wall_off[port] + l);
                amounts.iter().for_each(|(j, v)| self.y.a[r * cols + j] += by * v);
            }
        }
        for r in 0..self.controls {
            let u = &u[6 * (ports + r)..6 * (ports + r) + n];
            push(&mut self.y.a[r * cols..(r + 1) * cols], u, &block.phi);
        }
        // C −= U·M·Uᵀ, as W·D·Wᵀ with W = U·V where M = V·D·Vᵀ is at hand.
        let late = &mut self.late;
        let from = late.used;
        let (up, ur) = u.split_at(6 * ports);
        for (u, late) in up.as_chunks::<6>().0.iter().zip(late.ports_u.chunks_exact_mut(WIDE)) {
            late[from..from + 6].copy_from_slice(u);
        }
        late.phi[from * cols..(from + 6) * cols].fill(0.0);
        late.phi[from * cols..(from + n) * cols].copy_from_slice(&block.phi);
        for (u, l, r) in
            [(up, &mut late.ports_l, &mut late.ports_r), (ur, &mut late.rest_l, &mut late.rest_r)]
        {
            let (l, r) = (l.chunks_exact_mut(WIDE), r.chunks_exact_mut(WIDE));
            for (u, (l, r)) in u.as_chunks::<6>().0.iter().zip(l.zip(r)) {
                let (l, r) = (&mut l[from..from + 6], &mut r[from..from + 6]);
                l.fill(0.0);
                r.fill(0.0);
                if let Some(parts) = block.parts() {
                    for ((l, r), (v, d)) in l.iter_mut().zip(r).zip(parts) {
                        *r = u.iter().zip(v).map(|(u, v)| u * v).sum();
                        *l = *r / d;
                    }
                    continue;
                }
                r.copy_from_slice(u);
                for (u, m) in u.iter().zip(&block.m) {
                    l.iter_mut().zip(m).for_each(|(l, m)| *l += u * m);
                }
            }
        }
        late.used += 6;
        if late.used == WIDE {
            self.carry_in();
        }
    }

    /// Carries the late changes of the gaps into those in use.
    fn settle_gaps(&mut self) {
        let (ports, cols) = (self.live.1, self.cols);
        let late = &mut self.late;
        let (from, used) = (std::mem::replace(&mut late.gaps_from, late.used), late.used);
        if used > from {
            let u = wide(&late.ports_u, 0, ports, used).subcols(from, used - from);
            let phi = &late.phi[from * cols..used * cols];
            let phi = MatRef::from_row_major_slice(phi, used - from, cols);
            let x = MatMut::from_row_major_slice_mut(&mut self.x[..ports * cols], ports, cols);
            matmul(x, Accum::Add, u, phi, -1.0, Par::Seq);
        }
    }

    /// Carries the late changes into everything in use.
    fn carry_in(&mut self) {
        self.settle_gaps();
        let (width, late) = (self.n, &self.late);
        let (_, ports, walls) = self.live;
        let rows = self.controls + self.heat + walls;
        let used = late.used;
        let right = wide(&late.ports_r, 0, ports, used).transpose();
        let c = MatMut::from_row_major_slice_mut(&mut self.c[..ports * width], ports, width);
        triangular::matmul(
            c.subcols_mut(0, ports),
            BlockStructure::TriangularLower,
            Accum::Add,
            wide(&late.ports_l, 0, ports, used),
            BlockStructure::Rectangular,
            right,
            BlockStructure::Rectangular,
            -1.0,
            Par::Seq,
        );
        let rest = MatMut::from_row_major_slice_mut(&mut self.rest[..rows * width], rows, width);
        matmul(
            rest.subcols_mut(0, ports),
            Accum::Add,
            wide(&late.rest_l, 0, rows, used),
            right,
            -1.0,
            Par::Seq,
        );
        if self.controls > 0 {
            let c_h = MatMut::from_row_major_slice_mut(&mut self.c_h, self.controls, self.width_h);
            matmul(
                c_h.subcols_mut(0, self.heat + walls),
                Accum::Add,
                wide(&late.rest_l, 0, self.controls, used),
                wide(&late.rest_r, self.controls, self.heat + walls, used).transpose(),
                -1.0,
                Par::Seq,
            );
        }
        (self.late.used, self.late.gaps_from) = (0, 0);
    }
}

/// Rows `from..from + rows` of late changes, the columns in use.
fn wide(v: &[f64], from: usize, rows: usize, used: usize) -> MatRef<'_, f64> {
    MatRef::from_row_major_slice(&v[from * WIDE..(from + rows) * WIDE], rows, WIDE).subcols(0, used)
}

/// What forces at a port do to one row.
fn push(to: &mut [f64], u: &[f64], phi: &[f64]) {
    let cols = to.len();
    for (u, phi) in u.iter().zip(phi.chunks_exact(cols)) {
        if *u != 0.0 {
            for (x, f) in to.iter_mut().zip(phi) {
                *x -= u * f;
            }
        }
    }
}
