//! The elimination in the order of welding: every event changes the frame's compliance at one port,
//! and moves everything else through it.

mod turned;

use super::block::Block;
use super::constants as c;
use super::model::{Model, Options, Start};
use super::ring::{Fibre, PortKind, Spring};
use super::structure::{Row, dense_solve, tidy};
use super::{Event, Level, Tack};
use crate::fault::Fault;
use crate::numbers::dense::Dense;
use glam::DVec3;
use std::ops::Range;

/// A fibre in place.
#[derive(Clone)]
struct Laid {
    fibre: Fibre,
    seam: usize,
    /// Unstressed gap of its three springs, `3 × cols`.
    rest: Vec<f64>,
    /// What the warmth of the moment added to its gaps when it set.
    tau: [f64; 3],
}

/// A spring that is no weld.
#[derive(Clone)]
struct Held {
    port: usize,
    spring: Spring,
    rest: Vec<f64>,
}

/// A frame in the middle of being welded.
#[derive(Clone)]
pub(super) struct State<'m> {
    model: &'m Model,
    level: Level,
    options: Options,
    cols: usize,
    off: Vec<Option<usize>>,
    n: usize,
    c: Dense,
    c_h: Dense,
    x: Dense,
    y: Dense,
    laid: Vec<Laid>,
    held: Vec<Held>,
    walls: Vec<f64>,
    warm: Vec<f64>,
    resting: Vec<usize>,
    clamped: Vec<usize>,
    setup: usize,
    /// Controls after each pass.
    pub path: Vec<Vec<f64>>,
    /// Change of the controls by each pass as it was laid: (pass, change).
    pub direct: Vec<(usize, Vec<f64>)>,
    /// What the warmth of the moment added to the gaps of each pass as it was laid, mm.
    pub tau: Vec<(usize, [f64; 3])>,
    /// Forces at each release: (clamp, force along each held direction), N.
    pub released: Vec<(usize, Vec<f64>)>,
    /// Things the reader must know.
    pub remarks: Vec<String>,
}

impl<'m> State<'m> {
    /// The frame with these tacks in place at zero force, in the first setup's clamps.
    pub fn tacked(model: &'m Model, tacks: &[Tack], level: Level, options: &Options) -> Option<State<'m>> {
        let start = model.tacked_start(tacks, level, options)?;
        let mut s = State::begin(model, start, level, options);
        let cols = s.cols;
        for (p, port) in model.parts.ports.iter().enumerate() {
            s.held.extend(port.contact.iter().map(|k| Held { port: p, spring: *k, rest: vec![0.0; cols] }));
        }
        s.clamped = model.clamps_of(0);
        for clamp in s.clamped.clone() {
            let port = model.clamp_port(clamp);
            for spring in model.clamp_springs(clamp, options.clamp) {
                s.held.push(Held { port, spring, rest: vec![0.0; cols] });
            }
        }
        let hold = model.find(PortKind::Hold);
        for spring in model.hold_springs(&s.clamped) {
            s.held.push(Held { port: hold, spring, rest: vec![0.0; cols] });
        }
        for tack in tacks {
            let fibre = model.tack_fibre(tack, level);
            s.laid.push(Laid { fibre, seam: tack.seam, rest: vec![0.0; 3 * cols], tau: [0.0; 3] });
        }
        Some(s)
    }

    /// The loose structure: tubes in the first setup's clamps and on rest springs.
    pub fn loose(model: &'m Model, level: Level, options: &Options) -> State<'m> {
        let mut s = State::begin(model, model.loose(options), level, options);
        let cols = s.cols;
        s.resting = (0..model.frame.tubes.len()).collect();
        for tube in s.resting.clone() {
            let port = model.find(PortKind::Rest(tube));
            for spring in model.rest_springs(tube) {
                s.held.push(Held { port, spring, rest: vec![0.0; cols] });
            }
        }
        for (p, port) in model.parts.ports.iter().enumerate() {
            s.hold(p, &port.contact);
        }
        s.clamped = model.clamps_of(0);
        for clamp in s.clamped.clone() {
            s.hold(model.clamp_port(clamp), &model.clamp_springs(clamp, options.clamp));
        }
        s.hold(model.find(PortKind::Hold), &model.hold_springs(&s.clamped));
        s.check_rest();
        s
    }

    fn begin(model: &'m Model, start: Start, level: Level, options: &Options) -> State<'m> {
        let shares = model.joints.joints.len() + model.frame.tubes.len();
        let cols = if options.shares { 1 + shares } else { 1 };
        State {
            model,
            level,
            options: *options,
            cols,
            n: start.n,
            off: start.off,
            c: start.c,
            c_h: start.c_h,
            x: Dense::zeros(start.n, cols),
            y: Dense::zeros(model.size.controls, cols),
            laid: Vec::new(),
            held: Vec::new(),
            walls: vec![0.0; model.size.walls],
            warm: vec![0.0; model.frame.tubes.len()],
            resting: Vec::new(),
            clamped: Vec::new(),
            setup: 0,
            path: Vec::new(),
            direct: Vec::new(),
            tau: Vec::new(),
            released: Vec::new(),
            remarks: Vec::new(),
        }
    }

    /// Controls now, all columns added up.
    pub fn controls(&self) -> Vec<f64> {
        (0..self.y.rows).map(|r| self.total(self.y.row(r))).collect()
    }
    /// Share of each joint and of each tube in each control: `[control]` of (joints, tubes).
    pub fn shares(&self) -> Vec<(Vec<f64>, Vec<f64>)> {
        let j = self.model.joints.joints.len();
        (0..self.y.rows)
            .map(|r| {
                let row = self.y.row(r);
                if self.options.shares {
                    (row[1..1 + j].to_vec(), row[1 + j..].to_vec())
                } else {
                    Default::default()
                }
            })
            .collect()
    }
    fn total(&self, row: &[f64]) -> f64 {
        if self.options.shares { row[..1 + self.model.joints.joints.len()].iter().sum() } else { row[0] }
    }
    /// Rows of `c` that belong to ports, controls, heat, walls.
    fn rows(&self) -> [Range<usize>; 4] {
        let s = &self.model.size;
        let (a, b, d) = (self.n, self.n + s.controls, self.n + s.controls + s.heat);
        [0..a, a..b, b..d, d..d + s.walls]
    }

    /// Work on one port and let everything else follow.
    fn at_port<T>(&mut self, port: usize, work: impl FnOnce(&mut Block, &mut State) -> T) -> T {
        let at = self.off[port].expect("a port that is worked on is in use");
        let p = &self.model.parts.ports[port];
        let (n, cols) = (p.len, self.cols);
        let mut a = [[0.0; 6]; 6];
        let mut hot = [0.0; 6];
        let [_, _, heat, walls] = self.rows();
        let mut g0 = vec![0.0; n * p.loads.1];
        let mut x = Vec::with_capacity(n * cols);
        for i in 0..n {
            for j in 0..n {
                a[i][j] = self.c.at(at + i, at + j);
            }
            for (t, warm) in self.warm.iter().enumerate().filter(|(_, w)| **w != 0.0) {
                hot[i] += warm * self.c.at(heat.start + t, at + i);
            }
            for l in 0..p.loads.1 {
                g0[i * p.loads.1 + l] = self.c.at(walls.start + p.loads.0 + l, at + i);
            }
            x.extend_from_slice(self.x.row(at + i));
        }
        let mut block = Block::new(n, cols, a, x, hot, g0);
        let out = work(&mut block, self);
        if block.used {
            self.follow(port, at, &block);
        }
        out
    }

    /// Everything follows what was done at a port.
    fn follow(&mut self, port: usize, at: usize, block: &Block) {
        let (n, cols) = (block.n, block.cols);
        let loads = self.model.parts.ports[port].loads;
        let [ports, controls, heat, walls] = self.rows();
        let amounts: Vec<(usize, usize, f64)> = (0..loads.1)
            .flat_map(|l| (0..cols).map(move |j| (l, j)))
            .map(|(l, j)| (l, j, block.walls[l * cols + j]))
            .filter(|(_, _, v)| *v != 0.0)
            .collect();
        for i in ports.clone() {
            let u = &self.c.a[i * self.n + at..i * self.n + at + n];
            let x = &mut self.x.a[i * cols..(i + 1) * cols];
            for (k, u) in u.iter().enumerate() {
                if *u != 0.0 {
                    for (x, f) in x.iter_mut().zip(&block.phi[k * cols..(k + 1) * cols]) {
                        *x -= u * f;
                    }
                }
            }
            for (l, j, v) in &amounts {
                x[*j] += self.c.a[(walls.start + loads.0 + l) * self.n + i] * v;
            }
        }
        for r in 0..controls.len() {
            let u = &self.c.a[(controls.start + r) * self.n + at..(controls.start + r) * self.n + at + n];
            let y = &mut self.y.a[r * cols..(r + 1) * cols];
            for (k, u) in u.iter().enumerate() {
                for (y, f) in y.iter_mut().zip(&block.phi[k * cols..(k + 1) * cols]) {
                    *y -= u * f;
                }
            }
            for (l, j, v) in &amounts {
                y[*j] += self.c_h.at(r, heat.len() + loads.0 + l) * v;
            }
        }
        for l in 0..loads.1 {
            let row = &block.walls[l * cols..(l + 1) * cols];
            self.walls[loads.0 + l] += self.total(row);
        }
        // C −= U M Uᵀ, U the columns of this port.
        let rows = self.c.rows;
        let width = self.n;
        let mut u = vec![0.0; rows * 6];
        let mut um = vec![0.0; rows * 6];
        for i in 0..rows {
            for k in 0..n {
                u[6 * i + k] = self.c.a[i * width + at + k];
            }
            for k in 0..n {
                um[6 * i + k] = (0..n).map(|q| u[6 * i + q] * block.m[q][k]).sum();
            }
        }
        // Columns as six long rows, so that the inner loop runs straight through memory.
        let mut vt = vec![0.0; 6 * width];
        for j in 0..width {
            for k in 0..6 {
                vt[k * width + j] = u[6 * j + k];
            }
        }
        for i in 0..rows {
            let f: [f64; 6] = std::array::from_fn(|k| um[6 * i + k]);
            if f == [0.0; 6] {
                continue;
            }
            // The part between ports is symmetric: its lower half is enough.
            let w = if i < width { i + 1 } else { width };
            let row = &mut self.c.a[i * width..i * width + w];
            let (v0, v1, v2) = (&vt[..w], &vt[width..width + w], &vt[2 * width..2 * width + w]);
            let (v3, v4, v5) =
                (&vt[3 * width..3 * width + w], &vt[4 * width..4 * width + w], &vt[5 * width..5 * width + w]);
            for j in 0..w {
                row[j] -=
                    f[0] * v0[j] + f[1] * v1[j] + f[2] * v2[j] + f[3] * v3[j] + f[4] * v4[j] + f[5] * v5[j];
            }
        }
        for i in 0..width {
            for j in 0..i {
                self.c.a[j * width + i] = self.c.a[i * width + j];
            }
        }
        for r in 0..controls.len() {
            let f = &um[6 * (controls.start + r)..6 * (controls.start + r) + n];
            for (q, i) in heat.clone().chain(walls.clone()).enumerate() {
                *self.c_h.at_mut(r, q) -= (0..n).map(|k| f[k] * u[6 * i + k]).sum::<f64>();
            }
        }
    }

    /// Springs added at zero force where the frame now is.
    fn hold(&mut self, port: usize, springs: &[Spring]) {
        if springs.is_empty() {
            return;
        }
        let held = self.at_port(port, |block, _| {
            springs
                .iter()
                .map(|s| {
                    let rest = block.gap(&s.0);
                    block.stiffen(s);
                    Held { port, spring: *s, rest }
                })
                .collect::<Vec<_>>()
        });
        self.held.extend(held);
    }
    /// Springs of a port that are no weld, taken away with their force. Returns the forces.
    fn let_go(&mut self, port: usize) -> Result<Vec<f64>, Fault> {
        let (gone, kept): (Vec<Held>, Vec<Held>) =
            std::mem::take(&mut self.held).into_iter().partition(|h| h.port == port);
        self.held = kept;
        let forces = gone
            .iter()
            .map(|h| {
                let at = self.off[port].expect("a held port is in use");
                let mut e = -self.total(&h.rest);
                for i in 0..self.model.parts.ports[port].len {
                    e += h.spring.0[i] * self.total(self.x.row(at + i));
                }
                h.spring.1 * e
            })
            .collect();
        let ok = self.at_port(port, |block, _| {
            let list: Vec<(Spring, &[f64])> = gone.iter().map(|h| (h.spring, h.rest.as_slice())).collect();
            block.remove(&list)
        });
        if ok { Ok(forces) } else { Err(self.loose_fault(port)) }
    }
    fn loose_fault(&self, port: usize) -> Fault {
        let m = self.model;
        let tube = match m.parts.ports[port].kind {
            PortKind::Clamp(c) => m.frame.clamps[c].tube,
            PortKind::Rest(t) => t,
            PortKind::Hold => m.datum,
            PortKind::Seam(s) => m.joints.meets[s].branch.0,
        };
        let tube = &m.frame.tubes[tube];
        Fault::new(
            "E602",
            format!("`{}` would come loose: what is released was its last restraint", tube.name),
        )
        .at(tube.span.clone(), "this one")
        .help("tack it before releasing, or release it later")
    }

    /// Releases the rest springs of every tube that is now held in six ways.
    fn check_rest(&mut self) {
        for tube in self.resting.clone() {
            let port = self.model.find(PortKind::Rest(tube));
            let at = self.off[port].expect("a resting tube's port is in use");
            let springs = self.model.rest_springs(tube);
            let share: f64 = springs.iter().enumerate().map(|(i, s)| s.1 * self.c.at(at + i, at + i)).sum();
            if share < c::HELD && self.let_go(port).is_ok() {
                self.resting.retain(|t| *t != tube);
            }
        }
    }
    /// Drops the coordinates of rest springs once none is left, and works the compliance out afresh
    /// from the springs in place: coming down from rest springs of 0.001 N/mm costs digits.
    fn compact(&mut self) {
        let ports = &self.model.parts.ports;
        let rests =
            (0..ports.len()).any(|p| self.off[p].is_some() && matches!(ports[p].kind, PortKind::Rest(_)));
        if !self.resting.is_empty() || !rests {
            return;
        }
        let laid = self.laid.iter().flat_map(|l| l.fibre.springs.iter().map(|s| (l.fibre.port, *s)));
        let springs: Vec<(usize, Spring)> =
            laid.chain(self.held.iter().map(|h| (h.port, h.spring))).collect();
        let Some(start) = self.model.joined(&springs, &self.options) else { return };
        let mut x = Dense::zeros(start.n, self.cols);
        for (p, port) in ports.iter().enumerate() {
            if let (Some(new), Some(old)) = (start.off[p], self.off[p]) {
                for i in 0..port.len {
                    x.row_mut(new + i).copy_from_slice(self.x.row(old + i));
                }
            }
        }
        (self.off, self.n, self.c, self.c_h, self.x) = (start.off, start.n, start.c, start.c_h, x);
    }

    /// One event.
    ///
    /// # Errors
    /// `E602` if a release takes away a tube's last restraint.
    pub fn apply(&mut self, event: &Event) -> Result<(), Fault> {
        match event {
            Event::Tack(_) | Event::Pass { .. } => self.weld(std::slice::from_ref(event)),
            Event::Together(list) => self.weld(list),
            Event::Warm(rise) => {
                self.warm.clone_from(rise);
                self.warm.resize(self.model.frame.tubes.len(), 0.0);
                Ok(())
            }
            Event::Release { clamp } => self.release(*clamp),
            Event::Clamp { clamp, to_nominal } => self.clamp(*clamp, *to_nominal),
            Event::Turn { setup } => {
                for clamp in self.clamped.clone() {
                    self.release(clamp)?;
                }
                self.setup = *setup;
                for clamp in self.model.clamps_of(*setup) {
                    self.clamp(clamp, false)?;
                }
                Ok(())
            }
        }
    }
    /// All clamps off, cold.
    ///
    /// # Errors
    /// As [`State::apply`].
    pub fn finish(&mut self) -> Result<(), Fault> {
        for clamp in self.clamped.clone() {
            self.release(clamp)?;
        }
        for tube in &self.resting {
            let name = &self.model.frame.tubes[*tube].name;
            self.remarks.push(format!("`{name}` is not held in all directions by its tacks and welds"));
        }
        Ok(())
    }

    fn release(&mut self, clamp: usize) -> Result<(), Fault> {
        if !self.clamped.contains(&clamp) {
            return Ok(());
        }
        self.clamped.retain(|c| *c != clamp);
        // The hold takes over first what this clamp held alone.
        let hold = self.model.find(PortKind::Hold);
        let now: Vec<Spring> = self.held.iter().filter(|h| h.port == hold).map(|h| h.spring).collect();
        let need = self.model.hold_springs(&self.clamped);
        self.hold(hold, &missing(&need, &now, self.model.reach()));
        let forces = self.let_go(self.model.clamp_port(clamp))?;
        self.released.push((clamp, forces));
        Ok(())
    }
    fn clamp(&mut self, clamp: usize, to_nominal: bool) -> Result<(), Fault> {
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

    /// Tacks and passes laid at the same time: all fibres set, then all shrink.
    fn weld(&mut self, events: &[Event]) -> Result<(), Fault> {
        let mut runs: Vec<(usize, Vec<Fibre>)> = Vec::new();
        let mut passes = Vec::new();
        for e in events {
            match e {
                Event::Tack(t) => runs.push((t.seam, vec![self.model.tack_fibre(t, self.level)])),
                Event::Pass { pass, forward } => {
                    passes.push(*pass);
                    let seam = self.model.passes.passes[*pass].seam;
                    runs.push((seam, self.model.pass_fibres(*pass, *forward, self.level)));
                }
                other => self.apply(other)?,
            }
        }
        if !passes.is_empty() {
            self.compact();
        }
        let before = if passes.is_empty() { Vec::new() } else { self.controls() };
        let first = self.laid.len();
        let alone = runs.len() == 1 && self.model.rings[runs[0].0].ports.len() == 1;
        let ok = if alone {
            let (seam, fibres) = &runs[0];
            self.at_port(fibres[0].port, |block, state| {
                fibres.iter().all(|f| {
                    let touched = state.touched(&[(*seam, f)]);
                    let ok = state.melt_here(block, &touched);
                    state.lay(block, *seam, f);
                    state.shrink(block, state.laid.len() - 1);
                    ok
                })
            })
        } else {
            self.weld_apart(&runs)
        };
        if !ok {
            return Err(self.loose_fault(runs[0].1[0].port));
        }
        if passes.is_empty() {
            self.check_rest();
        } else {
            let after = self.controls();
            for pass in &passes {
                let change = after.iter().zip(&before).map(|(a, b)| (a - b) / passes.len() as f64).collect();
                self.direct.push((*pass, change));
                self.tau.push((*pass, self.tau_since(first, *pass)));
                self.path.push(after.clone());
            }
        }
        Ok(())
    }

    /// Several runs at once, or a run that changes from station to station.
    fn weld_apart(&mut self, runs: &[(usize, Vec<Fibre>)]) -> bool {
        let longest = runs.iter().map(|r| r.1.len()).max().unwrap_or(0);
        let mut ok = true;
        for m in 0..longest {
            let now: Vec<(usize, &Fibre)> =
                runs.iter().filter_map(|(s, f)| f.get(m).map(|f| (*s, f))).collect();
            let touched = self.touched(&now);
            ok &= self.melt_apart(&touched);
            // Gaps of the moment are read before any of them is closed.
            let hot: Vec<[f64; 3]> = now
                .iter()
                .map(|(_, f)| self.at_port(f.port, |block, _| f.springs.map(|s| block.hot_gap(&s.0))))
                .collect();
            let first = self.laid.len();
            for ((seam, f), hot) in now.iter().zip(hot) {
                self.at_port(f.port, |block, state| {
                    block.hot = [0.0; 6];
                    state.lay(block, *seam, f);
                });
                let last = self.laid.last_mut().expect("just laid");
                for (i, hot) in hot.iter().enumerate() {
                    last.rest[i * self.cols] += hot;
                }
                last.tau = hot;
            }
            for i in first..self.laid.len() {
                let port = self.laid[i].fibre.port;
                self.at_port(port, |block, state| state.shrink(block, i));
            }
        }
        ok
    }

    /// A fibre sets at the gap of the moment, with no force.
    fn lay(&mut self, block: &mut Block, seam: usize, f: &Fibre) {
        let tau = f.springs.map(|s| block.hot_gap(&s.0));
        let mut rest = Vec::with_capacity(3 * self.cols);
        for (s, tau) in f.springs.iter().zip(tau) {
            let mut gap = block.gap(&s.0);
            gap[0] += tau;
            rest.extend(gap);
        }
        for s in &f.springs {
            block.stiffen(s);
        }
        self.laid.push(Laid { fibre: f.clone(), seam, rest, tau });
    }
    /// What pools at the given fibres touch, their own tails too: (index of a laid fibre, part).
    fn touched(&self, pools: &[(usize, &Fibre)]) -> Vec<(usize, f64)> {
        if self.level == Level::Coarse {
            return Vec::new();
        }
        let mut out = Vec::new();
        for (i, laid) in self.laid.iter().enumerate() {
            let most = if laid.fibre.tack { c::MELT_TACK.value } else { c::MELT_NEIGHBOUR.value };
            let part = pools
                .iter()
                .filter(|(seam, _)| *seam == laid.seam)
                .map(|(_, f)| most * (1.0 - laid.fibre.at.distance(f.at) / c::MELT_REACH.value))
                .fold(0.0, f64::max);
            if part > 0.0 {
                out.push((i, part));
            }
        }
        out
    }
    /// Melting in the port that is being worked on.
    fn melt_here(&mut self, block: &mut Block, touched: &[(usize, f64)]) -> bool {
        let mut parts = Vec::with_capacity(touched.len());
        let mut next = touched.iter().peekable();
        for (i, laid) in self.laid.iter_mut().enumerate() {
            if let Some((_, part)) = next.next_if(|(k, _)| *k == i) {
                parts.push((&laid.fibre.springs[..], &mut laid.rest, *part));
            }
        }
        block.melt(&mut parts)
    }
    /// Melting in several ports at once.
    fn melt_apart(&mut self, touched: &[(usize, f64)]) -> bool {
        let mut ok = true;
        for (i, part) in touched {
            let port = self.laid[*i].fibre.port;
            ok &= self.at_port(port, |b, s| b.take(&s.laid[*i].fibre.springs, &s.laid[*i].rest, *part));
        }
        for (i, part) in touched {
            let port = self.laid[*i].fibre.port;
            self.at_port(port, |block, state| {
                let laid = &mut state.laid[*i];
                block.set_again(&laid.fibre.springs, &mut laid.rest, *part);
            });
        }
        for (i, part) in touched {
            let port = self.laid[*i].fibre.port;
            self.at_port(port, |block, state| {
                for (b, k) in state.laid[*i].fibre.springs {
                    block.stiffen(&(b, part * k));
                }
            });
        }
        ok
    }
    /// The fibre cools and shrinks, and so do the walls beside it.
    fn shrink(&mut self, block: &mut Block, index: usize) {
        let cols = self.cols;
        let laid = &mut self.laid[index];
        let meet = &self.model.joints.meets[laid.seam];
        let joints = self.model.joints.joints.len();
        let shares = self.options.shares;
        let columns = |tube: usize| {
            if shares { [Some(1 + meet.joint), Some(1 + joints + tube)] } else { [Some(0), None] }
        };
        for c in columns(meet.branch.0).into_iter().flatten() {
            laid.rest[c] -= laid.fibre.delta_mm;
        }
        for (i, s) in laid.fibre.springs.iter().enumerate() {
            let mut force = vec![0.0; cols];
            force[0] = -s.1 * laid.tau[i];
            if i == 0 {
                for c in columns(meet.branch.0).into_iter().flatten() {
                    force[c] += s.1 * laid.fibre.delta_mm;
                }
            }
            block.push(&s.0, &force);
        }
        for (load, amount, tube) in &laid.fibre.walls {
            let first = self.model.parts.ports[laid.fibre.port].loads.0;
            for c in columns(*tube).into_iter().flatten() {
                block.wall(load - first, *amount, c);
            }
        }
    }

    /// Displacement of every tube's axis points, mm, from the forces in all springs.
    ///
    /// Each tube bends under what pulls at it; how it lies is then found from the gaps, which are
    /// known.
    pub fn shape(&self) -> Vec<Vec<DVec3>> {
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
            let at = self.off[port].expect("a spring's port is in use");
            let len = m.parts.ports[port].len;
            let gap: f64 = (0..len).map(|i| b[i] * self.total(self.x.row(at + i))).sum();
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
            let at = self.off[p].expect("used");
            for i in 0..port.len {
                let mut gap = self.total(self.x.row(at + i)) - st.read(&m.parts.rows[port.first + i], &u, 0);
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
        m.frame
            .tubes
            .iter()
            .enumerate()
            .map(|(t, tube)| {
                let held = st.nodes[st.held[t]].at;
                let shift = DVec3::from_array(std::array::from_fn(|q| rigid.at(6 * t + q, 0)));
                let turn = DVec3::from_array(std::array::from_fn(|q| rigid.at(6 * t + 3 + q, 0)));
                tube.axis
                    .iter()
                    .zip(&tube.s)
                    .map(|(p, s)| {
                        let tie = st.tie(t, *s, *p);
                        let d = st.displacement(tie.node, &u, 0);
                        let own = DVec3::new(d[0], d[1], d[2]) + DVec3::new(d[3], d[4], d[5]).cross(tie.arm);
                        shift + turn.cross(*p - held) + own
                    })
                    .collect()
            })
            .collect()
    }

    /// Compliance between coordinates of the ports, of controls to ports, of wall loads to ports, and
    /// of controls to wall loads, for the coarse model of the search.
    pub fn compliance(&self, row: Rowed, port: usize, i: usize) -> f64 {
        let [_, controls, _, walls] = self.rows();
        let at = self.off[port].expect("a seam's port is in use") + i;
        match row {
            Rowed::Port(p, j) => self.c.at(self.off[p].expect("a seam's port is in use") + j, at),
            Rowed::Control(r) => self.c.at(controls.start + r, at),
            Rowed::Wall(g) => self.c.at(walls.start + g, at),
        }
    }
    /// Control moved by one degree in a tube.
    pub fn control_by_heat(&self, control: usize, tube: usize) -> f64 {
        self.c_h.at(control, tube)
    }
    /// Control moved by a unit wall load.
    pub fn control_by_wall(&self, control: usize, wall: usize) -> f64 {
        self.c_h.at(control, self.model.size.heat + wall)
    }
    /// Stiffness of the ring of a port as it stands, 6 × 6 row-major.
    pub fn ring_stiffness(&self, port: usize) -> [f64; 36] {
        let mut out = [0.0; 36];
        for l in self.laid.iter().filter(|l| l.fibre.port == port) {
            for (b, k) in &l.fibre.springs {
                for i in 0..6 {
                    for j in 0..6 {
                        out[6 * i + j] += k * b[i] * b[j];
                    }
                }
            }
        }
        out
    }
}

/// A row of the compliance matrix.
#[derive(Debug, Clone, Copy)]
pub(super) enum Rowed {
    /// A coordinate of a port.
    Port(usize, usize),
    /// A control.
    Control(usize),
    /// A unit wall load.
    Wall(usize),
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
