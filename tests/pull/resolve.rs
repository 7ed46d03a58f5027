//! A second solver: the frame's beams and springs put into one sparse matrix that is factorised and
//! solved anew whenever anything sets, melts, shrinks or is released, in total displacements. It takes
//! from the product what the frame is made of ([`Model::plain`]) and none of its algebra.

use faer::linalg::solvers::Solve;
use faer::sparse::linalg::solvers::{Llt, SymbolicLlt};
use faer::sparse::{SparseColMat, SymbolicSparseColMat};
use faer::{Mat, Side};
use glam::DVec3;
use holdtrue::distort::constants as c;
use holdtrue::distort::{Event, Level, Model, Plain, PlainFibre};
use std::collections::{BTreeMap, BTreeSet};

type Row = Vec<(usize, f64)>;

struct Spring {
    gap: Row,
    /// Where it goes in the matrix.
    entries: Row,
    k: f64,
    rest: f64,
}

/// What is molten, set and shrunk together.
struct Laid {
    fibre: PlainFibre,
    springs: [usize; 3],
}

pub struct Resolve<'a> {
    model: &'a Model,
    plain: Plain,
    level: Level,
    /// Refine every solution.
    exact: bool,
    dofs: usize,
    /// Own degrees of freedom of a port's wall: (first, directions).
    feet: BTreeMap<usize, (usize, Vec<[f64; 6]>)>,
    columns: Vec<usize>,
    rows: Vec<usize>,
    base: Vec<f64>,
    symbolic: SymbolicLlt<usize>,
    springs: Vec<Spring>,
    laid: Vec<Laid>,
    load: Vec<f64>,
    warm: Vec<f64>,
    clamps: Vec<(usize, Vec<usize>)>,
    hold: Vec<usize>,
    /// Tubes still on their rest springs.
    resting: Vec<(usize, [usize; 6])>,
    factor: Option<Llt<usize, f64>>,
    /// Stiffness of the walls' own degrees of freedom.
    soft: Vec<(usize, f64)>,
    /// Factorisations made.
    pub factored: usize,
    /// Controls after each pass.
    pub path: Vec<Vec<f64>>,
}

impl<'a> Resolve<'a> {
    /// The frame evenly tacked at zero force, in the clamps of its first setup.
    pub fn new(model: &'a Model, level: Level, exact: bool) -> Resolve<'a> {
        let mut r = Resolve::untacked(model, level, exact);
        r.clamp_down();
        for t in model.default_tacks() {
            let f = model.plain_tack(&t, level);
            r.lay(f, &[0.0; 3]);
        }
        r
    }
    /// The loose tubes on their rest springs, in the clamps of the first setup.
    pub fn loose(model: &'a Model, level: Level) -> Resolve<'a> {
        let mut r = Resolve::untacked(model, level, true);
        for tube in 0..model.frame().tubes.len() {
            let (node, s) = (r.plain.middle[tube], &model.frame().tubes[tube].s);
            let half = (0.5 * s[s.len() - 1]).max(50.0);
            let springs = std::array::from_fn(|q| {
                let k = c::REST_N_MM * if q < 3 { 1.0 } else { half * half };
                r.add(vec![(6 * node + q, 1.0)], k, 0.0)
            });
            r.resting.push((tube, springs));
        }
        r.clamp_down();
        r.free_rest();
        r
    }
    fn clamp_down(&mut self) {
        let u = vec![0.0; self.dofs];
        for clamp in self.clamps_of(0) {
            self.set_clamp(clamp, &u);
        }
        self.set_hold(&u);
    }
    /// Weld metal joins this tube to another; clamps alone do not count.
    fn welded(&self, tube: usize) -> bool {
        let own = |d: &usize| self.plain.on.get(d / 6).is_some_and(|n| n.0 == tube);
        self.laid.iter().any(|l| {
            let port = self.plain.ports.iter().find(|p| p.index == l.fibre.port).expect("its port");
            port.rows.iter().flatten().any(|(d, _)| own(d))
        })
    }
    /// Rest springs of a welded tube that is held in six ways are let go, one tube after the other.
    fn free_rest(&mut self) {
        let mut from = 0;
        while from < self.resting.len() {
            self.factorise();
            let ids: Vec<usize> = self.resting[from..].iter().flat_map(|r| r.1).collect();
            let mut x = Mat::zeros(self.dofs, ids.len());
            for (j, i) in ids.iter().enumerate() {
                self.springs[*i].gap.iter().for_each(|(d, v)| x[(*d, j)] += v);
            }
            self.factor.as_ref().expect("just made").solve_in_place(x.as_mut());
            let held = |six: &[usize]| {
                let each = six.iter().map(|j| {
                    let s = &self.springs[ids[*j]];
                    s.k * s.gap.iter().map(|(d, v)| v * x[(*d, *j)]).sum::<f64>()
                });
                each.sum::<f64>() < c::HELD
            };
            let places: Vec<usize> = (0..ids.len()).collect();
            let mut list = places.chunks(6).zip(&self.resting[from..]);
            let Some(tube) = list.position(|(six, r)| held(six) && self.welded(r.0)) else { return };
            from += tube;
            for i in self.resting.remove(from).1 {
                self.springs[i].k = 0.0;
            }
            self.factor = None;
        }
    }
    fn untacked(model: &'a Model, level: Level, exact: bool) -> Resolve<'a> {
        let plain = model.plain();
        let mut dofs = 6 * plain.at.len();
        let mut feet = BTreeMap::new();
        let mut soft = vec![];
        for p in plain.ports.iter().filter(|p| !p.flex.is_empty()) {
            let m = Mat::from_fn(6, 6, |i, j| p.flex[6 * i + j]);
            let mut own = vec![];
            // translations and rotations do not mix in it
            for (from, to) in [(0, 3), (3, 6)] {
                let part = m.submatrix(from, from, to - from, to - from).to_owned();
                let eigen = part.self_adjoint_eigen(Side::Lower).expect("a small symmetric matrix");
                let values: Vec<f64> = (0..3).map(|i| eigen.S()[i]).collect();
                let most = values.iter().copied().fold(0.0, f64::max);
                for (i, v) in values.iter().enumerate().filter(|(_, v)| **v > 1e-9 * most) {
                    let mut d = [0.0; 6];
                    (from..to).for_each(|q| d[q] = eigen.U()[(q - from, i)]);
                    soft.push((dofs + own.len(), 1.0 / v));
                    own.push(d);
                }
            }
            feet.insert(p.index, (dofs, own.clone()));
            dofs += own.len();
        }
        // Every pair of degrees of freedom that a beam or any spring could ever couple.
        let mut pattern: Vec<BTreeSet<usize>> = (0..dofs).map(|i| BTreeSet::from([i])).collect();
        let mut couple = |list: &BTreeSet<usize>| {
            for j in list {
                pattern[*j].extend(list.iter().filter(|i| *i >= j));
            }
        };
        for b in &plain.beams {
            couple(&b.nodes.iter().flat_map(|n| 6 * n..6 * n + 6).collect());
        }
        for p in &plain.ports {
            let own = feet.get(&p.index).map_or(0..0, |(first, own)| *first..first + own.len());
            couple(&p.rows.iter().flatten().map(|(d, _)| *d).chain(own).collect());
        }
        let mut columns = vec![0];
        let mut rows = vec![];
        for list in &pattern {
            rows.extend(list.iter().copied());
            columns.push(rows.len());
        }
        let symbolic = SymbolicSparseColMat::new_checked(dofs, dofs, columns.clone(), None, rows.clone());
        let symbolic = SymbolicLlt::try_new(symbolic.as_ref(), Side::Lower).expect("memory");
        let tubes = model.frame().tubes.len();
        let mut r = Resolve {
            model,
            plain,
            level,
            exact,
            dofs,
            feet,
            base: vec![0.0; rows.len()],
            columns,
            rows,
            symbolic,
            springs: vec![],
            laid: vec![],
            load: vec![0.0; dofs],
            warm: vec![0.0; tubes],
            clamps: vec![],
            hold: vec![],
            resting: vec![],
            factor: None,
            soft: vec![],
            factored: 0,
            path: vec![],
        };
        let mut base = std::mem::take(&mut r.base);
        for b in &r.plain.beams {
            for i in 0..12 {
                for j in 0..12 {
                    let (p, q) = (6 * b.nodes[i / 6] + i % 6, 6 * b.nodes[j / 6] + j % 6);
                    if p >= q {
                        base[r.slot(p, q)] += b.k[i][j];
                    }
                }
            }
        }
        for (d, k) in &soft {
            base[r.slot(*d, *d)] += k;
        }
        (r.base, r.soft) = (base, soft);
        for p in 0..r.plain.ports.len() {
            for (b, k) in r.plain.ports[p].contact.clone() {
                let gap = r.gap(r.plain.ports[p].index, &b);
                r.add(gap, k, 0.0);
            }
        }
        r
    }

    fn slot(&self, i: usize, j: usize) -> usize {
        let (i, j) = (i.max(j), i.min(j));
        let list = &self.rows[self.columns[j]..self.columns[j + 1]];
        self.columns[j] + list.binary_search(&i).expect("a place in the pattern")
    }
    fn gap(&self, port: usize, b: &[f64; 6]) -> Row {
        let p = self.plain.ports.iter().find(|p| p.index == port).expect("a port");
        let mut sum: BTreeMap<usize, f64> = BTreeMap::new();
        for (row, b) in p.rows.iter().zip(b) {
            for (d, v) in row {
                *sum.entry(*d).or_insert(0.0) += b * v;
            }
        }
        if let Some((first, own)) = self.feet.get(&port) {
            for (i, d) in own.iter().enumerate() {
                sum.insert(first + i, -d.iter().zip(b).map(|(d, b)| d * b).sum::<f64>());
            }
        }
        sum.into_iter().filter(|(_, v)| *v != 0.0).collect()
    }
    fn add(&mut self, gap: Row, k: f64, rest: f64) -> usize {
        self.factor = None;
        let pairs = gap.iter().flat_map(|p| gap.iter().filter(|q| q.0 <= p.0).map(move |q| (p, q)));
        let entries = pairs.map(|((i, a), (j, b))| (self.slot(*i, *j), a * b)).collect();
        self.springs.push(Spring { gap, entries, k, rest });
        self.springs.len() - 1
    }
    fn clamps_of(&self, setup: usize) -> Vec<usize> {
        let clamps = &self.model.frame().clamps;
        (0..clamps.len())
            .filter(|k| clamps[*k].setups.is_empty() || clamps[*k].setups.contains(&setup))
            .collect()
    }
    fn clamp_place(&self, clamp: usize) -> (usize, DVec3) {
        let k = &self.model.frame().clamps[clamp];
        let t = &self.model.frame().tubes[k.tube];
        let i = (0..t.s.len() - 2).find(|i| k.at_mm < t.s[i + 1]).unwrap_or(t.s.len() - 2);
        let place = t.axis[i] + (t.axis[i + 1] - t.axis[i]).normalize() * (k.at_mm - t.s[i]);
        let node = (0..self.plain.at.len())
            .filter(|n| self.plain.on[*n].0 == k.tube)
            .min_by(|a, b| {
                let off = |n: usize| (self.plain.on[n].1 - k.at_mm).abs();
                off(*a).total_cmp(&off(*b))
            })
            .expect("a tube has nodes");
        (node, place)
    }
    fn set_clamp(&mut self, clamp: usize, u: &[f64]) {
        if self.clamps.iter().any(|k| k.0 == clamp) {
            return;
        }
        let (node, place) = self.clamp_place(clamp);
        let k = self.model.frame().clamps[clamp].clone();
        let springs = (k.holds.iter())
            .map(|h| {
                let m = (place - self.plain.at[node]).cross(*h);
                let gap: Row =
                    (0..3).flat_map(|q| [(6 * node + q, h[q]), (6 * node + 3 + q, m[q])]).collect();
                let rest = read(&gap, u);
                self.add(gap, k.stiffness_n_mm, rest)
            })
            .collect();
        self.clamps.push((clamp, springs));
    }
    /// A hold for every rigid motion that the clamps leave, where the frame now is.
    fn set_hold(&mut self, u: &[f64]) {
        for i in std::mem::take(&mut self.hold) {
            self.springs[i].k = 0.0;
        }
        let n = self.plain.middle[self.plain.datum];
        let scale = self.plain.at.iter().map(|p| p.distance(self.plain.at[n])).fold(1.0, f64::max);
        let mut basis: Vec<[f64; 6]> = vec![];
        for (clamp, _) in &self.clamps {
            let arm = self.clamp_place(*clamp).1 - self.plain.at[n];
            for h in &self.model.frame().clamps[*clamp].holds {
                let m = arm.cross(*h) / scale;
                basis.extend(beside(&[h.x, h.y, h.z, m.x, m.y, m.z], &basis));
            }
        }
        for q in 0..6 {
            let mut e = [0.0; 6];
            e[q] = 1.0;
            if let Some(v) = beside(&e, &basis) {
                basis.push(v);
                let gap: Row = (0..6).map(|q| (6 * n + q, v[q] * if q < 3 { 1.0 } else { scale })).collect();
                let rest = read(&gap, u);
                let i = self.add(gap, c::HOLD_N_MM, rest);
                self.hold.push(i);
            }
        }
    }

    fn values(&self) -> Vec<f64> {
        let mut v = self.base.clone();
        for s in self.springs.iter().filter(|s| s.k != 0.0) {
            s.entries.iter().for_each(|(at, ab)| v[*at] += s.k * ab);
        }
        v
    }
    fn factorise(&mut self) {
        if self.factor.is_none() {
            let values = self.values();
            let symbolic = SymbolicSparseColMat::new_checked(
                self.dofs,
                self.dofs,
                self.columns.clone(),
                None,
                self.rows.clone(),
            );
            let matrix = SparseColMat::new(symbolic, values);
            let llt = Llt::try_new_with_symbolic(self.symbolic.clone(), matrix.as_ref(), Side::Lower);
            self.factor = Some(llt.expect("a frame that is held"));
            self.factored += 1;
        }
    }
    /// All displacements now; `hot`: with the warmth of the moment.
    fn solve(&mut self, hot: bool) -> Vec<f64> {
        let mut r = self.load.clone();
        for s in &self.springs {
            for (i, a) in &s.gap {
                r[*i] += s.k * s.rest * a;
            }
        }
        if hot {
            let f = self.model.frame();
            for (i, beam) in self.plain.beams.iter().enumerate() {
                let m = &f.materials[f.sections[f.tubes[beam.tube].section].material];
                let pull = beam.axes[0] * (self.warm[beam.tube] * m.alpha_per_k * 0.5 * beam.length_mm);
                strain(&self.plain, &mut r, i, [-pull, DVec3::ZERO, pull, DVec3::ZERO]);
            }
        }
        self.factorise();
        let f = self.factor.as_ref().expect("just made");
        let mut x = Mat::from_fn(self.dofs, 1, |i, _| r[i]);
        f.solve_in_place(x.as_mut());
        let mut x: Vec<f64> = (0..self.dofs).map(|i| x[(i, 0)]).collect();
        for _ in 0..if self.exact { 2 } else { 0 } {
            let left = self.left(&x, &r);
            let mut d = Mat::from_fn(self.dofs, 1, |i, _| left[i]);
            f.solve_in_place(d.as_mut());
            x.iter_mut().enumerate().for_each(|(i, x)| *x += d[(i, 0)]);
        }
        x
    }
    /// r − K·x, beam by beam from how its ends move against each other and by statics: in the summed
    /// matrix short beams have lost the last digits of a rigid motion.
    fn left(&self, x: &[f64], r: &[f64]) -> Vec<f64> {
        let mut left = r.to_vec();
        let v3 = |i: usize| DVec3::new(x[i], x[i + 1], x[i + 2]);
        for b in &self.plain.beams {
            let [p, q] = b.nodes;
            let arm = self.plain.at[q] - self.plain.at[p];
            let turn = v3(6 * q + 3) - v3(6 * p + 3);
            let shift = v3(6 * q) - v3(6 * p) - v3(6 * p + 3).cross(arm);
            let own: Vec<f64> = shift.to_array().into_iter().chain(turn.to_array()).collect();
            let f: Vec<f64> = (6..12).map(|i| (0..6).map(|j| b.k[i][6 + j] * own[j]).sum()).collect();
            let (force, moment) = (DVec3::from_slice(&f[..3]), DVec3::from_slice(&f[3..]));
            let back = moment + arm.cross(force);
            for c in 0..3 {
                left[6 * q + c] -= force[c];
                left[6 * q + 3 + c] -= moment[c];
                left[6 * p + c] += force[c];
                left[6 * p + 3 + c] += back[c];
            }
        }
        for s in self.springs.iter().filter(|s| s.k != 0.0) {
            let pull = s.k * read(&s.gap, x);
            s.gap.iter().for_each(|(i, a)| left[*i] -= pull * a);
        }
        self.soft.iter().for_each(|(d, k)| left[*d] -= k * x[*d]);
        left
    }

    fn lay(&mut self, fibre: PlainFibre, rest: &[f64; 3]) {
        let springs = std::array::from_fn(|q| {
            let gap = self.gap(fibre.port, &fibre.springs[q].0);
            self.add(gap, fibre.springs[q].1, rest[q])
        });
        self.laid.push(Laid { fibre, springs });
    }
    /// Fibres laid at the same moment: melt, set, shrink.
    fn weld(&mut self, list: Vec<PlainFibre>) {
        if self.level == Level::Fine {
            let mut molten: Vec<(usize, f64)> = vec![];
            for l in &self.laid {
                let most = if l.fibre.tack { c::MELT_TACK.value } else { c::MELT_NEIGHBOUR.value };
                let near = (list.iter().filter(|f| f.seam == l.fibre.seam))
                    .map(|f| 1.0 - f.at.distance(l.fibre.at) / c::MELT_REACH.value)
                    .fold(0.0, f64::max);
                if near > 0.0 {
                    molten.extend(l.springs.map(|i| (i, most * near)));
                }
            }
            if !molten.is_empty() {
                let kept = self.factor.take();
                let stiff: Vec<f64> = molten.iter().map(|(i, _)| self.springs[*i].k).collect();
                for (i, part) in &molten {
                    self.springs[*i].k *= 1.0 - part;
                }
                let u = self.solve(false);
                for ((i, part), k) in molten.iter().zip(stiff) {
                    let s = &mut self.springs[*i];
                    s.k = k;
                    s.rest = (1.0 - part) * s.rest + part * read(&s.gap, &u);
                }
                self.factor = kept;
            }
        }
        let u = self.solve(true);
        for f in list {
            let mut rest = [0, 1, 2].map(|q| read(&self.gap(f.port, &f.springs[q].0), &u));
            rest[0] -= f.delta_mm;
            for (node, shift, turn) in &f.walls {
                let sides: Vec<usize> = (0..self.plain.beams.len())
                    .filter(|i| self.plain.beams[*i].nodes.contains(node))
                    .collect();
                let part = 1.0 / sides.len() as f64;
                for i in sides {
                    let z = DVec3::ZERO;
                    let ends = if self.plain.beams[i].nodes[1] == *node {
                        [z, z, *shift * part, *turn * part]
                    } else {
                        [*shift * -part, *turn * -part, z, z]
                    };
                    strain(&self.plain, &mut self.load, i, ends);
                }
            }
            self.lay(f, &rest);
        }
    }

    pub fn apply(&mut self, e: &Event) {
        match e {
            Event::Together(list) => self.welds(list),
            Event::Tack(_) | Event::Pass { .. } => self.welds(std::slice::from_ref(e)),
            Event::Warm(rise) => {
                self.warm.clone_from(rise);
                self.warm.resize(self.model.frame().tubes.len(), 0.0);
            }
            Event::Release { clamp } => self.release(*clamp),
            Event::Clamp { clamp, to_nominal } => {
                if self.clamps.iter().any(|k| k.0 == *clamp) {
                    return;
                }
                let u = self.solve(false);
                self.set_clamp(*clamp, &u);
                self.set_hold(&u);
                if *to_nominal {
                    for i in self.clamps.last().expect("just set").1.clone() {
                        self.springs[i].rest = 0.0;
                    }
                }
            }
            Event::Shift { clamp, direction, by_mm } => {
                if let Some(k) = self.clamps.iter().find(|k| k.0 == *clamp) {
                    let spring = k.1[*direction];
                    self.springs[spring].rest += by_mm;
                }
            }
            Event::Turn { setup } => {
                self.finish();
                for clamp in self.clamps_of(*setup) {
                    self.apply(&Event::Clamp { clamp, to_nominal: false });
                }
            }
        }
    }
    fn release(&mut self, clamp: usize) {
        let Some(at) = self.clamps.iter().position(|k| k.0 == clamp) else { return };
        let u = self.solve(false);
        let (_, springs) = self.clamps.remove(at);
        self.set_hold(&u);
        springs.iter().for_each(|i| self.springs[*i].k = 0.0);
        self.factor = None;
    }
    pub fn finish(&mut self) {
        for clamp in self.clamps.iter().map(|k| k.0).collect::<Vec<_>>() {
            self.release(clamp);
        }
    }
    fn welds(&mut self, list: &[Event]) {
        let runs: Vec<Vec<PlainFibre>> = (list.iter())
            .map(|e| match e {
                Event::Tack(t) => vec![self.model.plain_tack(t, self.level)],
                Event::Pass { pass, forward } => self.model.plain_pass(*pass, *forward, self.level),
                _ => panic!("no weld"),
            })
            .collect();
        for m in 0..runs.iter().map(Vec::len).max().expect("something is laid") {
            self.weld(runs.iter().filter_map(|r| r.get(m).cloned()).collect());
        }
        let passes = list.iter().filter(|e| matches!(e, Event::Pass { .. })).count();
        if passes == 0 {
            self.free_rest();
        }
        if passes > 0 {
            let now = self.controls();
            (0..passes).for_each(|_| self.path.push(now.clone()));
        }
    }
    pub fn controls(&mut self) -> Vec<f64> {
        let u = self.solve(false);
        self.plain.controls.iter().map(|row| read(row, &u)).collect()
    }
}

/// Load of a beam that would like its ends displaced like this.
fn strain(plain: &Plain, r: &mut [f64], beam: usize, ends: [DVec3; 4]) {
    let beam = &plain.beams[beam];
    let u: Vec<f64> = ends.iter().flat_map(|v| v.to_array()).collect();
    for i in 0..12 {
        r[6 * beam.nodes[i / 6] + i % 6] += (0..12).map(|j| beam.k[i][j] * u[j]).sum::<f64>();
    }
}

fn read(row: &Row, u: &[f64]) -> f64 {
    row.iter().map(|(i, v)| v * u[*i]).sum()
}

/// The part of a vector beside those of a basis, as a unit vector, if there is any.
fn beside(v: &[f64; 6], basis: &[[f64; 6]]) -> Option<[f64; 6]> {
    let mut w = *v;
    for _ in 0..2 {
        for b in basis {
            let d: f64 = w.iter().zip(b).map(|(x, y)| x * y).sum();
            w.iter_mut().zip(b).for_each(|(w, b)| *w -= d * b);
        }
    }
    let size = w.iter().map(|x| x * x).sum::<f64>().sqrt();
    (size > 1e-6).then(|| w.map(|x| x / size))
}
