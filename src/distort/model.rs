//! The model of one frame, built once: compliances between everything that can be pulled.
//!
//! Tubes stand alone in the structure; their rigid motions are kept apart exactly, so that nothing
//! is lost between a tube on rest springs of 0.001 N/mm and a joint of 100 000 N/mm.

use super::controls;
use super::default_tacks::default_tacks;
use super::grounding::{ground_ports, longest};
use super::port::{Parts, PortKind, Spring};
use super::ring::{self, Fibre, Ring};
use super::shrink;
use super::stations::stations;
use super::structure::{Row, Structure, dense_solve};
use super::{Level, Tack};
use crate::fault::Fault;
use crate::frame::Frame;
use crate::joint::Joints;
use crate::numbers::dense::{Dense, symmetric_eigen};
use crate::procedure::Passes;
use crate::seam::Seams;
use faer::Mat;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// The pull model of a frame.
pub struct Model {
    pub(super) frame: Frame,
    pub(super) joints: Joints,
    pub(super) seams: Seams,
    pub(super) passes: Passes,
    pub(super) structure: Structure,
    pub(super) parts: Parts,
    pub(super) rings: Vec<Ring>,
    /// Tube that carries the three-two-one hold.
    pub(super) datum: usize,
    pub(super) size: Sizes,
    /// Compliance without any joint, each tube held: rows ports, controls, heat, walls; columns ports.
    pub(super) c_el: Dense,
    /// Rows controls, columns heat then walls.
    pub(super) c_h: Dense,
    /// Rigid motions under ports and controls.
    pub(super) rigid: Vec<Vec<(usize, [f64; 6])>>,
    coarse: Vec<Vec<Fibre>>,
    fine: Vec<Vec<Fibre>>,
    /// Net heat with which the tacks of each seam are laid, J/mm.
    tack_q_j_mm: Vec<f64>,
    /// Factor on all joints' flexibility, and the re-melted fraction if it is not the usual one.
    pub(super) varied: (f64, Option<f64>),
    /// Shares of tacks worked out so far, by seam, heat and length: an order is judged many times, its
    /// tacks stay the same.
    shares: Mutex<BTreeMap<(usize, u64, u64), f64>>,
    /// Evenly tacked, coarse and fine: worked out once, when first asked for.
    even: [OnceLock<Option<Arc<Start>>>; 2],
}

/// How many rows of each sort.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sizes {
    /// Coordinates of all ports.
    pub ports: usize,
    /// Controls.
    pub controls: usize,
    /// Tubes that can be warm.
    pub heat: usize,
    /// Unit wall loads.
    pub walls: usize,
}

/// What an evaluation may vary.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Factor on the joints' flexibility.
    pub flex: f64,
    /// Factor on the clamps' stiffness.
    pub clamp: f64,
    /// True: contributions of joints and tubes are carried as well (slower).
    pub shares: bool,
}

impl Default for Options {
    fn default() -> Self {
        Options { flex: 1.0, clamp: 1.0, shares: false }
    }
}

/// Compliance of a frame in some state of joining: the start of an evaluation.
pub(super) struct Start {
    /// Where each port's coordinates are, if it is in use.
    pub off: Vec<Option<usize>>,
    /// Coordinates in use.
    pub n: usize,
    /// Rows: ports in use, controls, heat, walls; columns: ports in use.
    pub c: Dense,
    /// Rows controls; columns heat, walls.
    pub c_h: Dense,
}

impl Model {
    /// Build the model.
    ///
    /// # Errors
    /// `E601` for every tube that nothing holds once all joints are tacked and clamped.
    pub fn new(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Result<Model, Vec<Fault>> {
        let mut model = Model::bones(frame, joints, seams, passes);
        let (st, parts, size) = (&model.structure, &model.parts, model.size);
        let h = model.control_rows();
        let f = heat_rows(frame, st);
        let x = st.solve(&parts.rows);
        let rows = || parts.rows.iter().chain(&h).chain(&f).chain(&parts.loads);
        let c_el = read_all(st, rows(), &x, size.ports + size.controls + size.heat + size.walls, size.ports);
        let x = st.solve(&h);
        let c_h =
            read_all(st, f.iter().chain(&parts.loads), &x, size.heat + size.walls, size.controls).transpose();
        (model.c_el, model.c_h) = (c_el, c_h);
        let fine = model.lay(Level::Fine);
        model.fine = fine;
        model.held()?;
        Ok(model)
    }

    /// Everything but what grows with the square of the frame: no compliances, no fine fibres. Nothing can
    /// be evaluated with it; [`super::Wide`] takes it as its parts.
    pub(super) fn bones(frame: &Frame, joints: &Joints, seams: &Seams, passes: &Passes) -> Model {
        let mut stations = stations(frame, joints, seams);
        for clamp in &frame.clamps {
            stations[clamp.tube].at.push(clamp.at_mm);
        }
        for spot in frame.controls.iter().flat_map(|k| controls::spots(&k.kind)) {
            stations[spot.tube].at.push(spot.s_mm);
        }
        let st = Structure::new(frame, &stations);
        let mut parts = Parts::default();
        let rings: Vec<Ring> = joints
            .meets
            .iter()
            .zip(&seams.seams)
            .enumerate()
            .map(|(i, (meet, seam))| ring::ring(frame, meet, seam, i, &st, &mut parts))
            .collect();
        let datum = longest(frame);
        ground_ports(frame, &st, datum, &mut parts);

        let size = Sizes {
            ports: parts.rows.len(),
            controls: frame.controls.len(),
            heat: frame.tubes.len(),
            walls: parts.loads.len(),
        };
        let mut model = Model {
            frame: frame.clone(),
            joints: joints.clone(),
            seams: seams.clone(),
            passes: passes.clone(),
            structure: st,
            parts,
            rings,
            datum,
            size,
            c_el: Dense::zeros(0, 0),
            c_h: Dense::zeros(0, 0),
            rigid: Vec::new(),
            coarse: Vec::new(),
            fine: Vec::new(),
            tack_q_j_mm: tack_heat(seams, passes),
            varied: (1.0, None),
            shares: Mutex::default(),
            even: [OnceLock::new(), OnceLock::new()],
        };
        let coarse = model.lay(Level::Coarse);
        model.coarse = coarse;
        let h = model.control_rows();
        model.rigid = model.parts.rows.iter().chain(&h).map(|r| model.structure.rigid(r)).collect();
        model
    }

    /// The fibres of every pass.
    fn lay(&self, level: Level) -> Vec<Vec<Fibre>> {
        let Model { frame, joints, seams, passes, .. } = self;
        let of = |p: usize| {
            let s = passes.passes[p].seam;
            self.rings[s].pass(frame, &joints.meets[s], &seams.seams[s], &self.parts, passes, p, level)
        };
        (0..passes.passes.len()).map(of).collect()
    }

    /// The controls as functionals of the nodes' motion.
    pub(super) fn control_rows(&self) -> Vec<Row> {
        self.frame
            .controls
            .iter()
            .map(|k| controls::functional(&k.kind, &self.frame, &self.structure))
            .collect()
    }

    /// The fibres of a pass, in its direction of travel.
    pub(super) fn pass_fibres(&self, pass: usize, forward: bool, level: Level) -> Vec<Fibre> {
        let list = match level {
            Level::Coarse => &self.coarse[pass],
            Level::Fine => &self.fine[pass],
        };
        let mut out = list.clone();
        if !forward {
            out.reverse();
        }
        out
    }
    /// The fibre of a tack.
    pub(super) fn tack_fibre(&self, tack: &Tack, level: Level) -> Fibre {
        let s = tack.seam;
        let q = self.tack_q_j_mm[s];
        let tack = &Tack { pull: tack.pull * self.tack_share(s, q, tack.length_mm), ..*tack };
        self.rings[s].tack(
            &self.frame,
            &self.joints.meets[s],
            &self.seams.seams[s],
            &self.parts,
            tack,
            q,
            level,
        )
    }
    /// The same frame with joints so many times as flexible, and with another re-melted fraction (of
    /// tacks and neighbouring fibres alike): for asking how much hangs on numbers that nobody knows well.
    pub fn vary(&mut self, flexibility: f64, remelted: Option<f64>) {
        self.varied = (flexibility, remelted);
        self.even = [OnceLock::new(), OnceLock::new()];
    }
    /// The tacks were laid with this heat (net J/mm, by seam), whatever the passes are laid with.
    pub fn set_tack_heat(&mut self, q_j_mm: Vec<f64>) {
        self.tack_q_j_mm = q_j_mm;
    }
    /// Shrinkage of a tack per millimetre of its length against the passes of its seam (mean length).
    pub fn tack_share(&self, seam: usize, q_j_mm: f64, tack_mm: f64) -> f64 {
        let key = (seam, q_j_mm.to_bits(), tack_mm.to_bits());
        let kept = || self.shares.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(share) = kept().get(&key) {
            return *share;
        }
        let first = self.passes.passes.iter().filter(|p| p.seam == seam && p.layer == 0);
        let (n, sum) = first.fold((0, 0.0), |(n, sum), p| (n + 1, sum + p.length_mm));
        let branch = self.joints.meets[seam].branch.0;
        let material = &self.frame.materials[self.frame.sections[self.frame.tubes[branch].section].material];
        let [a, b] = self.seams.seams[seam].walls_mm;
        let share = shrink::tack_share(material, 0.5 * (a + b), q_j_mm, tack_mm, sum / f64::from(n.max(1)));
        kept().insert(key, share);
        share
    }
    /// Tacks laid evenly on every seam.
    pub fn default_tacks(&self) -> Vec<Tack> {
        self.seams.seams.iter().enumerate().flat_map(|(i, s)| default_tacks(s, i)).collect()
    }
    /// Compliance of the loose structure: every tube on its rest springs alone.
    pub(super) fn loose(&self, options: &Options) -> Start {
        let off: Vec<Option<usize>> = self.parts.ports.iter().map(|p| Some(p.first)).collect();
        let rest: Vec<Vec<Spring>> = (0..self.frame.tubes.len()).map(|t| self.rest_springs(t)).collect();
        let mut cm = self.c_el.clone();
        self.add_flex(&mut cm, &off, options.flex);
        for i in 0..self.size.ports + self.size.controls {
            for j in 0..self.size.ports {
                let mut sum = 0.0;
                for (t, a) in &self.rigid[i] {
                    for (u, b) in &self.rigid[j] {
                        if t == u {
                            sum += (0..6).map(|q| a[q] * b[q] / rest[*t][q].1).sum::<f64>();
                        }
                    }
                }
                *cm.at_mut(i, j) += sum;
            }
        }
        Start { off, n: self.size.ports, c: cm, c_h: self.c_h.clone() }
    }

    /// Compliance with the given springs (port, spring) in place from the start and no rest springs;
    /// `None` if something can still move.
    pub(super) fn joined(&self, springs: &[(usize, Spring)], options: &Options) -> Option<Start> {
        let mut off = Vec::new();
        let mut keep = Vec::new();
        for p in &self.parts.ports {
            let used = !matches!(p.kind, PortKind::Rest(_));
            off.push(used.then_some(keep.len()));
            if used {
                keep.extend(p.first..p.first + p.len);
            }
        }
        let n = keep.len();
        let Sizes { ports, controls, heat, walls } = self.size;
        let rows: Vec<usize> = keep.iter().copied().chain(ports..ports + controls + heat + walls).collect();
        let mut base = Dense::zeros(rows.len(), n);
        for (i, r) in rows.iter().enumerate() {
            for (j, s) in keep.iter().enumerate() {
                *base.at_mut(i, j) = self.c_el.at(*r, *s);
            }
        }
        self.add_flex(&mut base, &off, options.flex);
        let modes = self.modes(springs, &off);
        let (m, t6) = (modes.len(), 6 * self.frame.tubes.len());
        // q: each row's compliance to the modes, and minus its rigid motions.
        let mut q = Dense::zeros(rows.len(), m + t6);
        for (i, r) in rows.iter().enumerate() {
            for (k, (at, v, _)) in modes.iter().enumerate() {
                *q.at_mut(i, k) = v.iter().enumerate().map(|(d, v)| v * base.at(i, at + d)).sum();
            }
            if let Some(h) = self.rigid.get(*r) {
                for (t, h) in h {
                    for d in 0..6 {
                        *q.at_mut(i, m + 6 * t + d) = -h[d];
                    }
                }
            }
        }
        let mut s = Dense::zeros(m + t6, m + t6);
        for (k, (at, v, stiff)) in modes.iter().enumerate() {
            for col in 0..m + t6 {
                let value: f64 = v.iter().enumerate().map(|(d, v)| v * q.at(at + d, col)).sum();
                *s.at_mut(k, col) = value;
                if col >= m {
                    *s.at_mut(col, k) = value;
                }
            }
            *s.at_mut(k, k) += 1.0 / stiff;
        }
        let sources: Vec<usize> = (0..n + controls).collect();
        let mut rhs = Dense::zeros(m + t6, sources.len());
        for (j, i) in sources.iter().enumerate() {
            for k in 0..m + t6 {
                *rhs.at_mut(k, j) = q.at(*i, k);
            }
        }
        let sol = dense_solve(&s, &rhs)?;
        let drop = q.mul(&sol);
        let mut cm = base;
        for i in 0..rows.len() {
            for j in 0..n {
                *cm.at_mut(i, j) -= drop.at(i, j);
            }
        }
        for i in 0..n {
            for j in 0..i {
                let mean = 0.5 * (cm.at(i, j) + cm.at(j, i));
                *cm.at_mut(i, j) = mean;
                *cm.at_mut(j, i) = mean;
            }
        }
        let mut c_h = self.c_h.clone();
        for r in 0..controls {
            for k in 0..heat + walls {
                *c_h.at_mut(r, k) -= drop.at(n + controls + k, n + r);
            }
        }
        Some(Start { off, n, c: cm, c_h })
    }

    /// Compliance of the frame with these tacks, clamped in its first setup and held.
    pub(super) fn tacked_start(&self, tacks: &[Tack], level: Level, options: &Options) -> Option<Arc<Start>> {
        let work = || self.joined(&self.tacked_springs(tacks, level, options), options).map(Arc::new);
        let usual = options.flex == 1.0 && options.clamp == 1.0 && tacks == self.default_tacks();
        if usual { self.even[usize::from(level == Level::Fine)].get_or_init(work).clone() } else { work() }
    }

    fn add_flex(&self, cm: &mut Dense, off: &[Option<usize>], factor: f64) {
        for (p, port) in self.parts.ports.iter().enumerate() {
            if let (Some(at), false) = (off[p], port.flex.is_empty()) {
                for i in 0..6 {
                    for j in 0..6 {
                        *cm.at_mut(at + i, at + j) += factor * port.flex[6 * i + j];
                    }
                }
            }
        }
    }

    /// The springs of each port summed up to its principal springs: (offset, vector, stiffness).
    pub(super) fn modes(
        &self,
        springs: &[(usize, Spring)],
        off: &[Option<usize>],
    ) -> Vec<(usize, Vec<f64>, f64)> {
        const ARM_MM: f64 = 20.0;
        let mut out = Vec::new();
        for (p, port) in self.parts.ports.iter().enumerate() {
            let Some(at) = off[p] else { continue };
            let scale = |i: usize| if port.len == 6 && i >= 3 { 1.0 / ARM_MM } else { 1.0 };
            let mut k = Dense::zeros(port.len, port.len);
            let mut any = false;
            for (_, (b, stiff)) in springs.iter().filter(|(q, _)| *q == p) {
                any = true;
                for i in 0..port.len {
                    for j in 0..port.len {
                        *k.at_mut(i, j) += stiff * b[i] * scale(i) * b[j] * scale(j);
                    }
                }
            }
            if !any {
                continue;
            }
            let (values, vectors) = symmetric_eigen(&k);
            let most = values.iter().copied().fold(0.0, f64::max);
            for (m, value) in values.iter().enumerate() {
                if *value > 1e-11 * most {
                    let v = (0..port.len).map(|i| vectors.at(i, m) / scale(i)).collect();
                    out.push((at, v, *value));
                }
            }
        }
        out
    }

    /// Springs of the frame as tacked, with the clamps of a setup and the hold for what they leave.
    pub(super) fn tacked_springs(
        &self,
        tacks: &[Tack],
        level: Level,
        options: &Options,
    ) -> Vec<(usize, Spring)> {
        let mut out = Vec::new();
        for (p, port) in self.parts.ports.iter().enumerate() {
            out.extend(port.contact.iter().map(|s| (p, *s)));
        }
        let clamps = self.clamps_of(0);
        for clamp in &clamps {
            out.extend(
                self.clamp_springs(*clamp, options.clamp).into_iter().map(|s| (self.clamp_port(*clamp), s)),
            );
        }
        let hold = self.find(PortKind::Hold);
        out.extend(self.hold_springs(&clamps).into_iter().map(|s| (hold, s)));
        for tack in tacks {
            let f = self.tack_fibre(tack, level);
            out.extend(f.springs.iter().map(|s| (f.port, *s)));
        }
        out
    }
}

/// The net heat of each seam's first root pass, J/mm: its tacks are laid with it.
pub fn tack_heat(seams: &Seams, passes: &Passes) -> Vec<f64> {
    let root = |s: usize| passes.passes.iter().find(|p| p.seam == s && p.layer == 0);
    (0..seams.seams.len()).map(|s| root(s).map_or(0.0, |p| p.heat_input_j_per_mm)).collect()
}

/// Each tube 1 K warmer, as loads.
fn heat_rows(frame: &Frame, st: &Structure) -> Vec<Row> {
    let alpha = |t: usize| frame.materials[frame.sections[frame.tubes[t].section].material].alpha_per_k;
    (0..frame.tubes.len()).map(|t| st.stretch_load(t, alpha(t))).collect()
}

fn read_all<'a>(
    st: &Structure,
    rows: impl Iterator<Item = &'a Row>,
    x: &Mat<f64>,
    count: usize,
    columns: usize,
) -> Dense {
    let mut out = Dense::zeros(count, columns);
    for (i, row) in rows.enumerate() {
        for j in 0..columns {
            *out.at_mut(i, j) = st.read(row, x, j);
        }
    }
    out
}
